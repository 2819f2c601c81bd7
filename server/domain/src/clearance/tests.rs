//! Named after the rule; each names its source. Builders first: a delivery, a good form, a good
//! licence; a test breaks one thing.

mod ahead;
mod behind;
mod doubts;
mod faults;
mod promises;
mod worked;

use chrono::NaiveDate;

use super::*;
use crate::rights::coverage::{CellState, Grant};
use crate::rights::release::{Face, Form, HouseRules, Signer};
use crate::rights::term::{EventDate, Starts, Term};

pub(super) fn day(text: &str) -> NaiveDate {
    text.parse().expect("a real date")
}

fn texts(list: &[&str]) -> Vec<String> {
    list.iter().map(|text| (*text).to_owned()).collect()
}

fn known(text: &str) -> EventDate {
    EventDate {
        known: Some(day(text)),
        planned: None,
    }
}

/// Free television in the UK, 1 Oct 2026 to 30 Sep 2029 (the days of R2's example).
fn question(elements: Vec<Element>) -> Question {
    Question {
        need: Need {
            territories: texts(&["GB"]),
            territories_except: vec![],
            media: texts(&["television.free"]),
            media_except: vec![],
            from: day("2026-10-01"),
            to: day("2029-09-30"),
            overhang_months: 0,
            in_promotion: false,
            clean_covers: false,
            due: Some(day("2026-09-10")),
            runs: None,
            episode: Some(3),
            version: String::new(),
        },
        events: EpisodeEvents {
            first_transmission: known("2026-10-08"),
            ..Default::default()
        },
        house: HouseRules {
            entity: "Slipway Films".into(),
            adult_at: 18,
            consideration_required: true,
        },
        groups: Default::default(),
        today: day("2026-06-01"),
        rate: Some((25, 1)),
        showings: vec![],
        elements,
    }
}

fn grant(territories: &[&str], media: &[&str], from: &str, to: &str) -> Grant {
    Grant {
        territories: texts(territories),
        territories_except: vec![],
        media: texts(media),
        media_except: vec![],
        starts: Starts::On(day(from)),
        term: Some(Term::To(day(to))),
        counting: None,
        long_stop: None,
        limits: Default::default(),
        options: vec![],
    }
}

fn one_use() -> Use {
    Use {
        event: 4,
        record_in: 100,
        record_out: 200,
        presence: Presence::OnCamera,
        face: Face::Shown,
        name_on_screen: false,
        voice_changed: false,
        filmed_on: Some(day("2026-05-02")),
    }
}

fn element(kind: ElementKind, label: &str, backing: Backing) -> Element {
    Element {
        id: label.to_lowercase(),
        kind,
        label: label.into(),
        uses: vec![one_use()],
        captions: vec![],
        backing,
    }
}

pub(super) fn good_form() -> Form {
    Form {
        signed_on: Some(day("2026-05-01")),
        signed_by: Some(Signer::Person),
        filmed_from: Some(day("2026-05-01")),
        filmed_to: Some(day("2026-05-03")),
        entity: "Slipway Films".into(),
        consideration_stated: true,
        allows_editing: true,
        allows_promotion: true,
        grants: vec![Grant {
            term: Some(Term::Perpetuity),
            ..grant(&["WORLD"], &["all"], "2026-05-01", "2026-05-01")
        }],
        withdrawal: None,
        restrictions: vec![],
        facts: Default::default(),
    }
}

fn adult(form: Form) -> Element {
    let backing = Backing {
        releases: vec![Release {
            id: "r1".into(),
            form,
            standing: Standing::Checked,
            permission: None,
        }],
        ..Default::default()
    };
    let kind = ElementKind::Person {
        born: Some(day("1980-02-03")),
        age_band: None,
        died: None,
    };
    element(kind, "Ada Quill", backing)
}

fn good_licence() -> Licence {
    Licence {
        id: "l1".into(),
        licensor: "Quay Archive".into(),
        side: Side::Whole,
        status: LicenceStatus::Signed,
        signed: known("2026-01-10"),
        grants: vec![grant(&["GB"], &["television"], "2026-01-10", "2031-01-09")],
        allows_promotion: true,
        terms: Default::default(),
    }
}

fn newsreel(licences: Vec<Licence>) -> Element {
    let backing = Backing {
        licences,
        ..Default::default()
    };
    element(
        ElementKind::Asset {
            class: "archive".into(),
        },
        "The newsreel",
        backing,
    )
}

fn song(licences: Vec<Licence>) -> Element {
    let backing = Backing {
        licences,
        ..Default::default()
    };
    element(ElementKind::Music, "The Ebb", backing)
}

fn only(question: &Question) -> ElementAnswer {
    let mut answer = clear(question).expect("a need that can be worked");
    assert_eq!(answer.elements.len(), 1);
    answer.elements.remove(0)
}

fn codes(answer: &ElementAnswer) -> Vec<ReasonCode> {
    answer.reasons.iter().map(|reason| reason.code).collect()
}

pub(super) fn one_adult(form: Form) -> Element {
    adult(form)
}

pub(super) fn question_of(element: Element) -> Question {
    question(vec![element])
}
