//! The algebra against a plain count: every territory, every medium, every day, one by one.

use chrono::Days as Count;
use proptest::prelude::*;

use super::*;

const CODES: [&str; 5] = ["DE", "FR", "GB", "IE", "US"];
const MEDIA: [&str; 4] = [
    "television.free",
    "television.pay",
    "cinema",
    "promo.in_context",
];
const GRANTED: [&str; 6] = [
    "all",
    "television",
    "television.free",
    "television.pay",
    "cinema",
    "promo",
];
const SPAN: u64 = 60;

fn day(number: u64) -> NaiveDate {
    NaiveDate::from_ymd_opt(2028, 2, 1)
        .and_then(|first| first.checked_add_days(Count::new(number)))
        .expect("a date of 2028")
}

fn some(of: &'static [&'static str], least: usize) -> impl Strategy<Value = Vec<String>> {
    prop::sample::subsequence(of, least..=of.len())
        .prop_map(|list| list.into_iter().map(str::to_owned).collect())
}

fn a_grant() -> impl Strategy<Value = Grant> {
    let starts = prop_oneof![
        (0..SPAN).prop_map(|n| Starts::On(day(n))),
        Just(Starts::At(Event::Delivery)),
        Just(Starts::At(Event::FirstUse)),
    ];
    let term = prop_oneof![
        Just(None),
        Just(Some(Term::Perpetuity)),
        (0..SPAN).prop_map(|n| Some(Term::To(day(n)))),
        (0..3_u32).prop_map(|n| Some(Term::Months(n))),
    ];
    let stop = prop::option::of((0..SPAN).prop_map(day));
    let world = prop_oneof![Just(vec!["WORLD".to_owned()]), some(&CODES, 0)];
    (
        world,
        some(&CODES, 0),
        some(&GRANTED, 0),
        some(&GRANTED, 0),
        starts,
        term,
        stop,
    )
        .prop_map(
            |(territories, territories_except, media, media_except, starts, term, long_stop)| {
                Grant {
                    territories,
                    territories_except,
                    media,
                    media_except,
                    starts,
                    term,
                    counting: None,
                    long_stop,
                    limits: Default::default(),
                    options: vec![],
                }
            },
        )
}

/// The date of an event: delivery is known, first use is not.
fn date_of(event: Event) -> Option<NaiveDate> {
    (event == Event::Delivery).then(|| day(12))
}

/// What one grant says of one day: covered, perhaps, or no. Written without intervals.
fn says(grant: &Grant, code: &str, medium: &str, on: NaiveDate) -> Holds {
    let names = |list: &[String]| list.iter().any(|one| one == "WORLD" || one == code);
    let has = |list: &[String]| {
        list.iter()
            .any(|one| one == "all" || one == medium || medium.starts_with(&format!("{one}.")))
    };
    let never = Holds::On(Days::new(day(1), day(0)));
    let in_scope = names(&grant.territories)
        && !names(&grant.territories_except)
        && has(&grant.media)
        && !has(&grant.media_except);
    if !in_scope || grant.long_stop.is_some_and(|stop| on > stop) {
        return never;
    }
    let one_day = Days::new(on, on);
    let start = match grant.starts {
        Starts::On(date) => Some(date),
        Starts::At(event) => date_of(event),
    };
    let after_end = match (grant.term, start) {
        (Some(Term::To(end)), _) => on > end,
        (Some(Term::Months(n)), Some(start)) => {
            crate::rights::term::last_day(start, n, None).is_some_and(|end| on > end)
        }
        _ => false,
    };
    match start {
        Some(start) if on < start => never,
        _ if after_end => never,
        Some(_) if grant.term.is_some() => Holds::On(one_day),
        _ => Holds::Perhaps(one_day),
    }
}

proptest! {
    /// Every day of every cell: the groups say what counting day by day says, and every asked cell
    /// is in exactly one group.
    #[test]
    fn groups_agree_with_a_day_by_day_count(
        requirements in prop::collection::vec(prop::collection::vec(a_grant(), 0..5), 1..3),
        (first, length) in (0..SPAN, 0..SPAN),
    ) {
        let none = Groups::new();
        let days = Days::new(day(first), day(first + length));
        let asked = Asked {
            territories: TerritorySet::parse(CODES, &none).expect("known codes"),
            media: MEDIA.map(str::to_owned).to_vec(),
            days,
        };
        let measure = |grant: &Grant| grant.measure(&asked, &none, NaiveDate::MAX, date_of).expect("known codes");
        let measured: Vec<Vec<Granted>> =
            requirements.iter().map(|list| list.iter().map(measure).collect()).collect();
        let found = groups(&asked, &measured);
        for code in CODES {
            let here = TerritorySet::parse([code], &none).expect("a known code");
            for (place, medium) in MEDIA.iter().enumerate() {
                let of = |g: &&Group| {
                    !g.territories.and(here).is_empty() && g.media.contains(&place)
                };
                let in_groups: Vec<&Group> = found.iter().filter(of).collect();
                prop_assert_eq!(in_groups.len(), 1);
                let lack = &in_groups[0].lack;
                for on in (first..=first + length).map(day) {
                    let counted = requirements.iter().map(|list| {
                        let all: Vec<Holds> =
                            list.iter().map(|grant| says(grant, code, medium, on)).collect();
                        if all.contains(&Holds::On(Days::new(on, on))) {
                            0
                        } else if all.contains(&Holds::Perhaps(Days::new(on, on))) {
                            1
                        } else {
                            2
                        }
                    }).max().expect("a requirement");
                    let within = |set: &DaySet| !set.within(Days::new(on, on)).is_empty();
                    let said = if within(&lack.gaps) { 2 } else { i32::from(within(&lack.unknown)) };
                    prop_assert_eq!(said, counted, "{} {} {}", code, medium, on);
                }
            }
        }
    }
}

/// Source: rulebook R3: adjoining grants join only where no day is missing.
#[test]
fn r3_adjoining_terms_join_only_without_a_missing_day() {
    let asked = Days::new(day(0), day(40));
    let holds = |from, to| Holds::On(Days::new(day(from), day(to)));
    assert!(
        Lack::of(asked, [holds(0, 10), holds(11, 40)])
            .gaps
            .is_empty()
    );
    let lack = Lack::of(asked, [holds(0, 10), holds(12, 40)]);
    assert_eq!(lack.gaps.ranges(), [Days::new(day(11), day(11))]);
    assert_eq!(lack.state(asked), CellState::Partial);
}
