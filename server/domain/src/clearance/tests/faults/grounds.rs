//! Grounds other than a licence, each with its fault (R22, R51, R54, R55).

use super::*;
use crate::rights::basis::{CreativeCommons, CrowdNotice, FairUse, FreeByAge, Ground};

/// Hand-worked: every finding about a ground (R22, R51, R54, R55).
#[test]
fn each_fault_of_a_ground_is_named() {
    use ReasonCode as R;
    let cc = CreativeCommons {
        title: "Quay at dawn".into(),
        author: "Ada Quill".into(),
        source: "the author's page".into(),
        licence: "CC BY 4.0".into(),
        paid_or_broadcast: true,
        altered: true,
        ..Default::default()
    };
    let ladder = FairUse {
        disclosed: true,
        ..Default::default()
    };
    let cases = [
        (Ground::OwnMaterial, None, State::Covered),
        (
            Ground::PublicDomain {
                territories: vec![],
                age: Default::default(),
            },
            Some(R::PublicDomainWhere),
            State::Unknown,
        ),
        (
            Ground::PublicDomain {
                territories: texts(&["GB"]),
                age: Default::default(),
            },
            Some(R::PublicDomainEstimate),
            State::Covered,
        ),
        (
            Ground::PublicDomain {
                territories: texts(&["US"]),
                age: Default::default(),
            },
            Some(R::GroundDoesNotReach),
            State::Gap,
        ),
        (
            Ground::FairDealing { lawyers_note: true },
            None,
            State::Covered,
        ),
        (
            // Rulebook R9: d. 2002 → 1 Jan 2073 (life + 70).
            Ground::PublicDomain {
                territories: texts(&["GB"]),
                age: FreeByAge {
                    author_died: Some(2002),
                    published_in: Some(1960),
                },
            },
            Some(R::PublicDomainTooYoung),
            State::Unknown,
        ),
        (
            // Rulebook R9: life + 70 has passed; the year of publication counts in the US only.
            Ground::PublicDomain {
                territories: texts(&["GB"]),
                age: FreeByAge {
                    author_died: Some(1950),
                    published_in: Some(1960),
                },
            },
            Some(R::PublicDomainEstimate),
            State::Covered,
        ),
        (
            Ground::FairDealing {
                lawyers_note: false,
            },
            Some(R::NoLawyersNote),
            State::Unknown,
        ),
        (
            Ground::Incidental {
                lawyers_note: true,
                deliberate: true,
            },
            Some(R::NotIncidental),
            State::Gap,
        ),
        (
            Ground::FairUse(ladder),
            Some(R::FairUseIncomplete),
            State::Gap,
        ),
        (Ground::CreativeCommons(cc.clone()), None, State::Covered),
        (
            Ground::CreativeCommons(CreativeCommons {
                non_commercial: true,
                ..cc.clone()
            }),
            Some(R::NonCommercialOnly),
            State::Gap,
        ),
        (
            Ground::CreativeCommons(CreativeCommons {
                no_derivatives: true,
                ..cc.clone()
            }),
            Some(R::NoDerivatives),
            State::Unknown,
        ),
        (
            Ground::CreativeCommons(CreativeCommons {
                licence: "GPL 3".into(),
                ..cc.clone()
            }),
            Some(R::LicenceUnread),
            State::Unknown,
        ),
        (
            Ground::CreativeCommons(CreativeCommons {
                licence: "CC BY 4.0, no commercial use".into(),
                ..cc.clone()
            }),
            Some(R::LicenceUnread),
            State::Unknown,
        ),
        (
            Ground::CreativeCommons(CreativeCommons {
                author: " ".into(),
                ..cc
            }),
            Some(R::CreditIncomplete),
            State::Covered,
        ),
        (
            Ground::BlanketMusic {
                territory: "GB".into(),
                theme_episodes: 3,
            },
            Some(R::BlanketTheme),
            State::Gap,
        ),
        (
            Ground::CrowdNotice(CrowdNotice::default()),
            Some(R::NoticeNotEnough),
            State::Gap,
        ),
    ];
    for (ground, code, state) in cases {
        let bases = vec![Basis {
            side: Side::Whole,
            ground: ground.clone(),
            dated: vec![],
        }];
        let backing = Backing {
            bases,
            ..Default::default()
        };
        let answer = only(&question(vec![element(
            ElementKind::Artwork,
            "The mural",
            backing,
        )]));
        assert_eq!(answer.state, state, "{ground:?}: {:?}", answer.reasons);
        assert!(
            code.is_none_or(|code| codes(&answer).contains(&code)),
            "{:?}",
            answer.reasons
        );
    }
}

/// Hand-worked: fair dealing holds in the UK and not in promotion (R54).
#[test]
fn r54_fair_dealing_reaches_neither_abroad_nor_into_promotion() {
    let bases = vec![Basis {
        side: Side::Whole,
        ground: Ground::FairDealing { lawyers_note: true },
        dated: vec![],
    }];
    let backing = Backing {
        bases,
        ..Default::default()
    };
    let mut asked = question(vec![element(ElementKind::Artwork, "The mural", backing)]);
    asked.need.territories = texts(&["GB", "US"]);
    asked.need.media = texts(&["television.free", "promo.in_context"]);
    let answer = only(&asked);
    let covered: Vec<_> = answer
        .cells
        .iter()
        .filter(|cell| cell.state == CellState::Covered)
        .collect();
    assert_eq!(covered.len(), 1);
    assert_eq!(covered[0].territories, ["GB"]);
    assert_eq!(covered[0].media, ["television.free"]);
}

/// Hand-worked: a decision without who or when is unknown; with both it stands.
#[test]
fn not_needed_says_why_who_and_when() {
    let decision = |decided_by: &str, decided_on| Backing {
        not_needed: Some(NotNeeded {
            reason: "too small to read".into(),
            decided_by: decided_by.into(),
            decided_on,
            kept_back: false,
        }),
        ..Default::default()
    };
    let state = |backing| {
        only(&question(vec![element(
            ElementKind::Brand,
            "The logo",
            backing,
        )]))
        .state
    };
    assert_eq!(
        state(decision("Counsel", Some(day("2026-05-05")))),
        State::Covered
    );
    assert_eq!(state(decision("", Some(day("2026-05-05")))), State::Unknown);
    assert_eq!(state(decision("Counsel", None)), State::Unknown);
}
