//! Named after the rule; each names its source.

use super::*;

/// Source: rulebook R9 [PD-US] ★: 1929 → 2025, 1930 → 2026, 1977 → 2073; died 2002 → 2073.
#[test]
fn r9_us_public_domain_by_age() {
    let first_of = |year| NaiveDate::from_ymd_opt(year, 1, 1);
    assert_eq!(us_free_from_publication(1929), first_of(2025));
    assert_eq!(us_free_from_publication(1930), first_of(2026));
    assert_eq!(us_free_from_publication(1977), first_of(2073));
    assert_eq!(free_after_life_and_seventy(2002), first_of(2073));
}

/// Source: rulebook R51 [DISC-FU]: the status is the first missing step; only the last accepts.
#[test]
fn r51_the_first_missing_step_is_the_status() {
    let mut ladder = FairUse {
        approved: true,
        endorsed: true,
        ..Default::default()
    };
    assert_eq!(
        ladder.missing(),
        [FairUseStep::Disclosure, FairUseStep::OpinionLetter]
    );
    (ladder.disclosed, ladder.opinion_letter) = (true, true);
    assert!(ladder.missing().is_empty());
}

/// Source: rulebook R54 [C4-FD][BLANKET1]: fair dealing only in GB and not in promotion; fair
/// use only in the US unless counsel extends it.
#[test]
fn r54_how_far_each_ground_reaches() {
    let fair_dealing = reach(&Ground::FairDealing { lawyers_note: true });
    assert_eq!(
        (fair_dealing.territories, fair_dealing.promotion),
        (vec!["GB".into()], false)
    );
    let ladder = FairUse {
        counsel_extends_to: vec!["CA".into()],
        ..Default::default()
    };
    assert_eq!(reach(&Ground::FairUse(ladder)).territories, ["US", "CA"]);
}

/// Source: rulebook R55: each condition has its own finding.
#[test]
fn r55_every_condition_is_found() {
    let all = CreativeCommons {
        non_commercial: true,
        no_derivatives: true,
        share_alike: true,
        paid_or_broadcast: true,
        altered: true,
        licence: "CC".into(),
        ..Default::default()
    };
    let found = findings(&Ground::CreativeCommons(all), false);
    assert_eq!(
        found,
        [
            Finding::NonCommercial,
            Finding::NoDerivatives,
            Finding::ShareAlike,
            Finding::LicenceUnread("CC".into()),
            Finding::CreditIncomplete(vec!["title", "author", "source"]),
        ]
    );
}

/// Source: the names and addresses that Creative Commons gives its licences (creativecommons.org, "About CC licenses").
/// What names none of them says nothing of conditions, so it is not taken for a licence without any.
#[test]
fn creative_commons_licences_are_read_by_their_names() {
    use crate::rights::basis_details::BasisDetails;
    let read = |name: &str| {
        let details = BasisDetails {
            cc_licence: name.into(),
            ..Default::default()
        };
        let cc = details.creative_commons("Quay at dawn", "Ada Quill", "her page", "");
        let conditions = (cc.non_commercial, cc.share_alike, cc.no_derivatives);
        cc.is_named().then_some(conditions)
    };
    for (name, conditions) in [
        ("CC BY 4.0", (false, false, false)),
        ("by 4.0", (false, false, false)),
        ("CC0", (false, false, false)),
        ("CC BY-SA 4.0", (false, true, false)),
        ("CC BY-ND 4.0", (false, false, true)),
        ("BY-NC-ND", (true, false, true)),
        ("Attribution 4.0 International", (false, false, false)),
        (
            "Attribution-NonCommercial-ShareAlike 4.0 International",
            (true, true, false),
        ),
        (
            "Attribution-NonCommercial-NoDerivatives 4.0 International",
            (true, false, true),
        ),
        (
            "Creative Commons Attribution-NoDerivs 3.0",
            (false, false, true),
        ),
        (
            "https://creativecommons.org/licenses/by-nc/4.0/",
            (true, false, false),
        ),
        (
            "https://creativecommons.org/publicdomain/zero/1.0/",
            (false, false, false),
        ),
    ] {
        assert_eq!(read(name), Some(conditions), "{name}");
    }
    for name in [
        "",
        "GPL 3",
        "free to use",
        "by permission of the owner",
        "CC",
    ] {
        assert_eq!(read(name), None, "{name}");
    }
}
