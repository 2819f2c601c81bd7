//! What a licence says besides its grants, in words: the waiver's order (R52), sub-licensing, most
//! favoured nations (R11), minimum billing (R10).

use super::paper::{Context, Paper};
use super::question::{Element, Licence};
use super::reason::{ReasonCode, Weight};
use super::words;
use crate::rights::fees::{
    BilledPer, FavouredScope, MinimumBilling, billed_seconds, used_thousandths,
};
use crate::rights::licence_terms::{WaiverBreach, waiver_breaches};
use crate::wording::date_words;

/// Adds what the terms say to the licence's findings.
pub(super) fn say(cx: &Context<'_>, element: &Element, licence: &Licence, paper: &mut Paper<'_>) {
    waiver(cx, element, licence, paper);
    sublicence(cx, licence, paper);
    let name = words::first_upper(&paper.name);
    if let Some(scope) = licence.terms.most_favoured {
        let whom = match scope {
            FavouredScope::SamePiece => "any other party to the same piece",
            FavouredScope::WholeProgramme => "any other licensor of the programme",
        };
        let except = match licence.terms.most_favoured_except.trim() {
            "" => String::new(),
            parties => format!(", {parties} left out"),
        };
        let sentence =
            format!("{name} asks for equal terms: to be paid no less than {whom}{except}.");
        paper.find(
            ReasonCode::MostFavouredNations,
            "R11",
            Weight::Shown,
            sentence,
        );
    }
    if let Some(minimum) = licence.terms.minimum_billing {
        billing(cx, element, minimum, paper);
    }
}

fn waiver(cx: &Context<'_>, element: &Element, licence: &Licence, paper: &mut Paper<'_>) {
    let terms = &licence.terms;
    let (signed, included) = (cx.come(licence.signed.known), element.backing.included_on);
    let what = format!("the buyer's waiver for {}", element.label);
    let ahead = cx.not_come(paper, "R52", (&what, "approved"), terms.waiver_approved_on);
    if let Some(reason) = ahead {
        paper.findings.push(reason);
        return;
    }
    let name = words::first_upper(&paper.name);
    let approved = terms
        .waiver_approved_on
        .map_or_else(String::new, date_words);
    // What is asked about stands in a cut, by today at the latest.
    let included = included.or(Some(cx.question.today));
    for breach in waiver_breaches(
        terms.waiver_asked_on,
        terms.waiver_approved_on,
        signed,
        included,
    ) {
        // Approved too late is a breach to be told; not approved, the buyer has not accepted the fewer rights.
        let (code, weight) = match breach {
            WaiverBreach::NotApproved => (ReasonCode::WaiverNotApproved, Weight::Unknown),
            _ => (ReasonCode::WaiverLate, Weight::Shown),
        };
        let sentence = match breach {
            WaiverBreach::SignedEarly(days) => format!(
                "{name} was signed on {}, {} before the buyer's waiver was approved on {approved}.",
                signed.map_or_else(String::new, date_words),
                words::days(days)
            ),
            WaiverBreach::IncludedEarly(days) => format!(
                "{} was put into a cut on {}, {} before the buyer's waiver was approved on {approved}.",
                words::first_upper(&element.label),
                included.map_or_else(String::new, date_words),
                words::days(days)
            ),
            WaiverBreach::NotApproved => format!(
                "The buyer was asked for a waiver for {} and has not approved it.",
                element.label
            ),
        };
        paper.find(code, "R52", weight, sentence);
    }
}

/// A distribution with sub-licences needs the right to grant them (R8).
fn sublicence(cx: &Context<'_>, licence: &Licence, paper: &mut Paper<'_>) {
    if cx.question.need.overhang_months == 0 {
        return;
    }
    let name = words::first_upper(&paper.name);
    match licence.terms.sublicence {
        Some(true) => {}
        Some(false) => paper.find(
            ReasonCode::SublicenceForbidden,
            "R8",
            Weight::Fails,
            format!("{name} may not be passed on, and the delivery is sub-licensed."),
        ),
        None => paper.find(
            ReasonCode::SublicenceNotStated,
            "R8",
            Weight::Unknown,
            format!(
                "{name} does not say whether it may be passed on; the delivery is sub-licensed."
            ),
        ),
    }
}

fn billing(cx: &Context<'_>, element: &Element, minimum: MinimumBilling, paper: &mut Paper<'_>) {
    let Some(rate) = cx.question.rate.filter(|(frames, _)| *frames > 0) else {
        return;
    };
    let ranges: Vec<(u64, u64)> = (element.uses.iter())
        .map(|one| (one.record_in, one.record_out))
        .collect();
    let uses = used_thousandths(&ranges, rate);
    let plain = billed_seconds(&uses, None);
    let least = match minimum.per {
        BilledPer::Cut => "for each cut",
        BilledPer::Project => "for the project",
    };
    let sentence = format!(
        "{}: {plain} s used in {}, at least {} s billed {least}: {} s.",
        words::first_upper(&paper.name),
        words::number(u32::try_from(uses.len()).unwrap_or(u32::MAX), "use"),
        minimum.seconds,
        billed_seconds(&uses, Some(minimum))
    );
    paper.find(ReasonCode::MinimumBilling, "R10", Weight::Shown, sentence);
}
