//! How long a clearance takes: 100, 1,000 and 10,000 elements, and issue 4's figure of 800 with
//! 3,000 grants, each for 249 territories × 15 media × 20 years.
//!
//! Run with `cargo run --release -p waybill_domain --example clearance_speed`.

use std::time::Instant;

use chrono::NaiveDate;
use waybill_domain::clearance::{
    Backing, Element, ElementKind, EpisodeEvents, Licence, LicenceStatus, Need, Presence, Question,
    Side, Use, clear,
};
use waybill_domain::rights::coverage::Grant;
use waybill_domain::rights::release::{Face, HouseRules};
use waybill_domain::rights::term::{EventDate, Starts, Term};

fn day(year: i32) -> NaiveDate {
    NaiveDate::from_ymd_opt(year, 1, 1).expect("a first of January")
}

/// Grants of many shapes: regions, exceptions, media, ends; some fall short, some wait for a date.
fn grant(number: usize) -> Grant {
    let pick = |list: &[&str]| vec![list[number % list.len()].to_owned()];
    Grant {
        territories: pick(&["WORLD", "150", "019", "142", "GB", "WORLD", "002"]),
        territories_except: if number.is_multiple_of(5) {
            vec!["154".into()]
        } else {
            vec![]
        },
        media: pick(&["all", "television", "on_demand", "all", "online", "promo"]),
        media_except: if number.is_multiple_of(4) {
            vec!["cinema".into()]
        } else {
            vec![]
        },
        starts: Starts::On(day(2026)),
        term: match number % 9 {
            0 => None,
            1..=5 => Some(Term::Perpetuity),
            years => Some(Term::Months(12 * u32::try_from(years).unwrap_or(6))),
        },
        counting: None,
        long_stop: None,
        limits: Default::default(),
        options: vec![],
    }
}

fn element(number: usize, grants: usize) -> Element {
    let licence = Licence {
        id: format!("licence {number}"),
        licensor: format!("Archive {number}"),
        side: Side::Whole,
        status: LicenceStatus::Signed,
        signed: EventDate::default(),
        grants: (0..grants).map(|one| grant(number * 7 + one * 3)).collect(),
        allows_promotion: !number.is_multiple_of(3),
        terms: Default::default(),
    };
    let one_use = |place: u64| Use {
        event: u32::try_from(number).unwrap_or(u32::MAX),
        record_in: place * 50,
        record_out: place * 50 + 40,
        presence: Presence::InShot,
        face: Face::NotApplicable,
        name_on_screen: false,
        voice_changed: false,
        filmed_on: None,
    };
    Element {
        id: format!("element {number}"),
        kind: ElementKind::Asset {
            class: "archive".into(),
        },
        label: format!("Clip {number}"),
        uses: (0..4)
            .map(|n| one_use(n + 4 * u64::try_from(number).unwrap_or(0)))
            .collect(),
        captions: vec![],
        backing: Backing {
            licences: vec![licence],
            ..Default::default()
        },
    }
}

/// `elements` with `grants` between them.
fn question(elements: usize, grants: usize) -> Question {
    // The remainder goes to the first elements, one each.
    let share = |n: usize| grants / elements + usize::from(n < grants % elements);
    Question {
        need: Need {
            territories: vec!["WORLD".into()],
            territories_except: vec![],
            media: vec!["all".into()],
            media_except: vec![],
            from: day(2026),
            to: day(2046),
            overhang_months: 0,
            in_promotion: false,
            clean_covers: false,
            due: None,
            runs: None,
            episode: None,
            version: String::new(),
        },
        events: EpisodeEvents::default(),
        house: HouseRules {
            entity: "Slipway Films".into(),
            adult_at: 18,
            consideration_required: true,
        },
        groups: Default::default(),
        today: day(2026),
        rate: Some((25, 1)),
        showings: vec![],
        elements: (0..elements).map(|n| element(n, share(n))).collect(),
    }
}

#[expect(
    clippy::disallowed_methods,
    reason = "measuring time is what this program is for"
)]
fn main() {
    println!(
        "{:>9} {:>8} {:>12} {:>14}",
        "elements", "grants", "best of 5", "per element"
    );
    for (elements, grants) in [
        (100, 375),
        (800, 3_000),
        (1_000, 3_750),
        (10_000, 37_500),
        (1, 3_000),
    ] {
        let asked = question(elements, grants);
        let best = (0..5)
            .map(|_| {
                let start = Instant::now();
                let answer = clear(&asked).expect("a need that can be worked");
                assert_eq!(answer.elements.len(), elements);
                start.elapsed()
            })
            .min()
            .unwrap_or_default();
        let each = best / u32::try_from(elements).unwrap_or(1);
        println!("{elements:>9} {grants:>8} {best:>12.2?} {each:>14.2?}");
    }
}
