//! What was promised to people, against the cut: blur, level of disguise, names (R23, R36).

use super::*;
use crate::rights::release::{Disguise, HiddenFrom, Restriction};

/// Hand-worked: a promised blur that is kept restricts; a clean cover undoes it (R23).
#[test]
fn r23_a_kept_blur_restricts_and_a_clean_cover_blocks() {
    let mut form = good_form();
    form.restrictions = vec![Restriction::BlurFace];
    form.facts.disguise = agreed(HiddenFrom::Public);
    let mut element = adult(form);
    element.uses[0].face = Face::Blurred;
    let mut asked = question(vec![element]);
    let answer = only(&asked);
    assert_eq!(
        (answer.state, codes(&answer)),
        (State::Restricted, vec![ReasonCode::RestrictionKept])
    );
    asked.need.clean_covers = true;
    let answer = only(&asked);
    assert_eq!(answer.state, State::Gap);
    assert!(codes(&answer).contains(&ReasonCode::CleanCoverUndoesBlur));
}

fn agreed(from: HiddenFrom) -> Disguise {
    Disguise {
        from: Some(from),
        how: "blur over head and shoulders".into(),
        agreed_on: Some(day("2026-05-01")),
        agreed_with: "Ada Quill, by the producer".into(),
    }
}

/// Source: rulebook 3.1 [C4-CONSENT]: the level of disguise is not assumed but agreed and recorded. Hand-worked: who is
/// to be hidden from people who know them is neither only turned away, nor heard, nor named.
#[test]
fn r23_the_level_of_disguise_is_agreed_and_kept() {
    let mut form = good_form();
    form.restrictions = vec![Restriction::BlurFace];
    let mut element = adult(form);
    element.uses[0].face = Face::Blurred;
    let answer = |element: &Element| only(&question(vec![element.clone()]));
    let unknown = answer(&element);
    assert_eq!(
        (unknown.state, unknown.reasons[0].code),
        (State::Unknown, ReasonCode::DisguiseNotAgreed)
    );
    assert_eq!(
        unknown.reasons[0].sentence,
        "Ada Quill was promised a disguise; it is not recorded from whom, how, agreed with whom and when."
    );
    let known = &mut element.backing.releases[0].form.facts.disguise;
    *known = agreed(HiddenFrom::PeopleWhoKnowThem);
    let heard = answer(&element);
    assert_eq!(
        (heard.state, heard.reasons[0].code),
        (State::Gap, ReasonCode::DisguiseTooWeak)
    );
    assert_eq!(
        heard.reasons[0].sentence,
        "Ada Quill was promised on 1 May 2026 to be hidden from people who know them (blur over head and shoulders), \
         and the voice is heard unchanged."
    );
    element.uses[0].voice_changed = true;
    assert_eq!(answer(&element).state, State::Restricted);
    element.uses[0].face = Face::Hidden;
    assert_eq!(
        answer(&element).reasons[0].code,
        ReasonCode::DisguiseTooWeak
    );
    element.backing.releases[0].form.facts.disguise = agreed(HiddenFrom::Public);
    assert_eq!(answer(&element).state, State::Restricted);
    element.uses[0].name_on_screen = true;
    assert_eq!(
        answer(&element).reasons[0].code,
        ReasonCode::DisguiseTooWeak
    );
}

/// Hand-worked from R23 and R36: a first name that was agreed is the only one in captions; a caption that is not entered
/// is unknown; a wrong spelling is said and takes nothing away.
#[test]
fn r36_captions_keep_to_the_name_agreed() {
    let mut form = good_form();
    form.restrictions = vec![Restriction::NamedAs { name: "Ada".into() }];
    let mut element = adult(form);
    element.uses[0].name_on_screen = true;
    let answer = |element: &Element| only(&question(vec![element.clone()]));
    assert_eq!(answer(&element).state, State::Unknown);
    let caption = |text: &str| Captioned {
        record_in: 120,
        record_out: 180,
        text: text.into(),
        faults: vec![],
    };
    element.captions = vec![caption("Ada\nHarbour master")];
    assert_eq!(answer(&element).state, State::Restricted);
    element.captions.push(caption("Ada Quill"));
    let otherwise = answer(&element);
    assert_eq!(
        (otherwise.state, otherwise.reasons[0].code),
        (State::Gap, ReasonCode::NamedOtherwise)
    );
    assert_eq!(
        otherwise.reasons[0].sentence,
        "Ada Quill agreed to be named only as “Ada”, and a caption names them otherwise."
    );
    assert_eq!(otherwise.reasons[0].events, [4]);
    let mut misspelt = adult(good_form());
    misspelt.captions = vec![Captioned {
        faults: vec!["The caption says “Ada Qill”.".into()],
        ..caption("Ada Qill")
    }];
    let said = answer(&misspelt);
    assert_eq!(
        (said.state, codes(&said)),
        (State::Covered, vec![ReasonCode::CaptionDiffers])
    );
}

/// Source: UN M.49, whose names are said instead of codes; that a note's own full stop is not doubled is hand-worked.
#[test]
fn r23_conditions_name_places_and_a_decision_ends_once() {
    let mut form = good_form();
    let places = ["DE", "150", "Nordic five"].map(str::to_owned);
    form.restrictions = vec![Restriction::NotIn {
        territories: places.into(),
    }];
    let mut asked = question(vec![adult(form)]);
    let nordic = ["DK", "FI", "IS", "NO", "SE"].map(str::to_owned);
    asked.groups.insert("Nordic five".into(), nordic.into());
    let told = |asked: &Question| -> Vec<String> {
        let reasons = only(asked).reasons.into_iter();
        reasons.map(|reason| reason.sentence).collect()
    };
    let kept = told(&asked).join(" ");
    assert!(
        kept.contains("not in Germany, Europe and Nordic five"),
        "{kept}"
    );
    let backing = &mut asked.elements[0].backing;
    backing.releases.clear();
    backing.not_needed = Some(NotNeeded {
        reason: "Seen from behind.".into(),
        decided_by: "Counsel".into(),
        decided_on: Some(day("2026-05-05")),
        kept_back: false,
    });
    let told = told(&asked).join(" ");
    assert!(
        told.contains("Seen from behind (decided by Counsel on"),
        "{told}"
    );
}
