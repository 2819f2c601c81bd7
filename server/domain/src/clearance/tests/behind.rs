//! What an element rests on, by name.

use super::*;
use crate::rights::basis::Ground;

fn names(answer: &ElementAnswer) -> Vec<(&str, PaperKind, PaperHolds)> {
    let all = answer.behind.iter();
    all.map(|one| (one.name.as_str(), one.kind, one.holds))
        .collect()
}

/// Source: rulebook 3.2: "cleared" states the basis. Hand-worked: grounds and decisions are named as papers are.
#[test]
fn what_is_cleared_names_what_it_rests_on() {
    let form = only(&question(vec![adult(good_form())]));
    assert_eq!(
        names(&form),
        [(
            "The form for Ada Quill, signed on 1 May 2026",
            PaperKind::Release,
            PaperHolds::Yes
        )]
    );
    assert_eq!(form.behind[0].paper_id.as_deref(), Some("r1"));
    let ground = Backing {
        bases: vec![Basis {
            side: Side::Whole,
            ground: Ground::FairDealing { lawyers_note: true },
            dated: vec![],
        }],
        ..Default::default()
    };
    let mut mural = question(vec![element(ElementKind::Artwork, "The mural", ground)]);
    let answer = only(&mural);
    assert_eq!(
        names(&answer),
        [("Fair dealing", PaperKind::Ground, PaperHolds::Yes)]
    );
    mural.need.territories = texts(&["FR"]);
    assert_eq!(names(&only(&mural))[0].2, PaperHolds::NotHere);
    mural.elements[0].backing = Backing {
        not_needed: Some(NotNeeded {
            reason: "too small to read".into(),
            decided_by: String::new(),
            decided_on: None,
            kept_back: false,
        }),
        ..Default::default()
    };
    assert_eq!(
        names(&only(&mural)),
        [(
            "The decision that nothing is needed",
            PaperKind::Decision,
            PaperHolds::Unknown
        )]
    );
}

/// Hand-worked: each of several papers says for itself whether it holds; of music, for which side.
#[test]
fn each_paper_says_whether_it_holds() {
    let side = |id: &str, side, status| Licence {
        id: id.into(),
        side,
        status,
        ..good_licence()
    };
    let answer = only(&question(vec![song(vec![
        side("l1", Side::Composition, LicenceStatus::Quoted),
        side("l2", Side::Recording, LicenceStatus::Signed),
    ])]));
    assert_eq!(
        names(&answer),
        [
            (
                "The licence from Quay Archive for the composition",
                PaperKind::Licence,
                PaperHolds::No
            ),
            (
                "The licence from Quay Archive for the recording, signed on 10 Jan 2026",
                PaperKind::Licence,
                PaperHolds::Yes
            )
        ]
    );
    // A form for each shoot day: both hold, each for its own.
    let mut element = adult(good_form());
    let mut second = good_form();
    (second.filmed_from, second.filmed_to) = (Some(day("2026-05-20")), Some(day("2026-05-20")));
    second.signed_on = Some(day("2026-05-20"));
    element.backing.releases.push(Release {
        id: "r2".into(),
        form: second,
        standing: Standing::Checked,
        permission: None,
    });
    element.uses.push(Use {
        event: 9,
        filmed_on: Some(day("2026-05-20")),
        ..one_use()
    });
    let answer = only(&question(vec![element]));
    let (first, second) = (
        "The form for Ada Quill of 1 May 2026",
        "The form for Ada Quill of 20 May 2026",
    );
    assert_eq!(
        names(&answer),
        [
            (first, PaperKind::Release, PaperHolds::Yes),
            (second, PaperKind::Release, PaperHolds::Yes)
        ]
    );
}
