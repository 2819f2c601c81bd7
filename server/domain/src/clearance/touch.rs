//! What an approval covers of an element, as a short text that changes when anything changes that the
//! approval was about, and with nothing else.

use serde::Serialize;
use serde_json::json;
use sha2::{Digest, Sha256};

use super::answer::ElementAnswer;
use super::question::Element;
use super::reason::{Reason, ReasonCode};
use crate::hashes::hex;

/// The fingerprint of an element and its answer: 64 hexadecimal digits.
///
/// It covers how and how long the element is used, the papers behind it, the cells and the reasons.
/// It does not cover where in the cut it stands (an insert before it changes nothing about it), its
/// name, nor what only the passing of time changes.
pub fn fingerprint(element: &Element, answer: &ElementAnswer) -> String {
    let mut uses: Vec<serde_json::Value> = element
        .uses
        .iter()
        .map(|one| {
            json!([
                one.record_out.saturating_sub(one.record_in),
                one.presence,
                one.face,
                one.name_on_screen,
                one.voice_changed,
                one.filmed_on
            ])
        })
        .collect();
    uses.sort_by_key(ToString::to_string);
    let mut reasons: Vec<serde_json::Value> = answer
        .reasons
        .iter()
        .filter(|reason| stays(reason))
        .map(|reason| json!([reason.code, reason.weight, reason.paper_id, reason.cells]))
        .collect();
    reasons.sort_by_key(ToString::to_string);
    let all = json!([element.kind, uses, element.backing, answer.cells, reasons]);
    hex(&Sha256::digest(all.to_string().as_bytes()))
}

/// What [`fingerprint`] covers, as it stands: to be written for many elements at once, which is quicker.
pub fn touched<'a>(element: &'a Element, answer: &'a ElementAnswer) -> impl Serialize + use<'a> {
    let uses: Vec<_> = (element.uses.iter())
        .map(|one| {
            let length = one.record_out.saturating_sub(one.record_in);
            let seen = (&one.presence, &one.face, &one.name_on_screen);
            (length, seen, &one.voice_changed, &one.filmed_on)
        })
        .collect();
    let reasons: Vec<_> = (answer.reasons.iter())
        .filter(|reason| stays(reason))
        .map(|reason| {
            (
                &reason.code,
                &reason.weight,
                &reason.paper_id,
                &reason.cells,
            )
        })
        .collect();
    (
        &element.kind,
        uses,
        &element.backing,
        &answer.cells,
        reasons,
    )
}

/// Whether a reason is about more than the passing of time.
fn stays(reason: &Reason) -> bool {
    !matches!(
        reason.code,
        ReasonCode::EndsSoon
            | ReasonCode::OptionOpen
            | ReasonCode::OptionMissed
            | ReasonCode::OptionTakenUp
    )
}

#[cfg(test)]
mod tests {
    use super::super::tests::{day, good_form, one_adult, question_of};
    use super::super::{NotNeeded, Question, clear};
    use super::*;

    fn of(question: &Question) -> String {
        let answer = clear(question).expect("a need that can be worked");
        fingerprint(&question.elements[0], &answer.elements[0])
    }

    /// Hand-worked: a place further on in the cut, another name and a later day change nothing; a
    /// longer use, a paper and the need do.
    #[test]
    fn only_what_an_approval_was_about_changes_it() {
        let first = question_of(one_adult(good_form()));
        let known = of(&first);
        let mut moved = first.clone();
        moved.elements[0].uses[0].record_in += 500;
        moved.elements[0].uses[0].record_out += 500;
        moved.elements[0].uses[0].event = 9;
        moved.elements[0].label = "A. Quill".into();
        moved.today = day("2026-07-01");
        assert_eq!(of(&moved), known);
        // What is kept back from one reader is approved for all.
        let mut decided = first.clone();
        decided.elements[0].backing.not_needed = Some(NotNeeded {
            reason: "seen from behind".into(),
            decided_by: "Counsel".into(),
            decided_on: Some(day("2026-05-05")),
            kept_back: false,
        });
        let mut kept_back = decided.clone();
        let decision = kept_back.elements[0].backing.not_needed.as_mut();
        decision.expect("a decision").kept_back = true;
        assert_eq!(of(&kept_back), of(&decided));
        let mut longer = first.clone();
        longer.elements[0].uses[0].record_out += 1;
        let mut other_form = first.clone();
        other_form.elements[0].backing.releases[0]
            .form
            .allows_promotion = false;
        let mut wider = first.clone();
        wider.need.territories.push("IE".into());
        for changed in [longer, other_form, wider] {
            assert_ne!(of(&changed), known);
        }
    }
}
