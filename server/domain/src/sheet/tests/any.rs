//! Records as people might enter them, at random.
#![expect(clippy::unwrap_used, reason = "tests")]

use chrono::NaiveDate;
use proptest::prelude::*;
use serde_json::{Map, Value, json};
use uuid::Uuid;

use crate::music::shares::{Party, PartyRole};
use crate::rights::release::Restriction;
use crate::sheet::kinds::{Field, Holds, Named, SheetKind};

/// A value that a field can hold.
fn any_value(field: &'static Field) -> BoxedStrategy<Value> {
    let day = || {
        (1901_i32..2150, 1_u32..366)
            .prop_map(|(year, day)| json!(NaiveDate::from_yo_opt(year, day).unwrap()))
    };
    let line = "[^\\p{C}\\p{Z}][ -~\u{e0}-\u{ff}|;,\"'=+-]{0,12}[^\\p{C}\\p{Z}]";
    let code = || {
        prop::sample::select(vec![
            "GB",
            "IE",
            "US",
            "WORLD",
            "154",
            "TT",
            "North and Low",
        ])
    };
    let medium = || {
        prop::sample::select(vec![
            "all",
            "television",
            "television.free",
            "cinema",
            "promo",
        ])
    };
    let optional =
        |strategy: BoxedStrategy<Value>| prop_oneof![Just(Value::Null), strategy].boxed();
    match field.holds {
        Holds::Text if field.required => line.prop_map(|text| json!(text)).boxed(),
        Holds::Text => prop_oneof![
            Just(String::new()),
            line.prop_map(String::from),
            (line, line).prop_map(|(a, b)| format!("{a}\n{b}"))
        ]
        .prop_map(|text| json!(text))
        .boxed(),
        Holds::Texts => prop::collection::vec(line, 0..4)
            .prop_map(|texts| json!(texts))
            .boxed(),
        Holds::Day if field.required => day().boxed(),
        Holds::Day => optional(day().boxed()),
        Holds::YesNo => any::<bool>().prop_map(|yes| json!(yes)).boxed(),
        Holds::Choice(choices) => {
            let values: Vec<&str> = choices.iter().map(|one| one.value).collect();
            let some = prop::sample::select(values)
                .prop_map(|value| json!(value))
                .boxed();
            if field.required || field.default.is_some() {
                some
            } else {
                optional(some)
            }
        }
        Holds::Whole => (0_i64..500).prop_map(|n| json!(n)).boxed(),
        Holds::Money => optional((0_i64..1_000_000_000).prop_map(|n| json!(n)).boxed()),
        Holds::Currency => prop::sample::select(vec!["GBP", "JPY", "KWD"])
            .prop_map(|code| json!(code))
            .boxed(),
        Holds::Bytes => optional(
            (1_000_000_000_i64..9_000_000_000_000_000)
                .prop_map(|n| json!(n))
                .boxed(),
        ),
        Holds::Territories => prop::collection::btree_set(code(), 1..4)
            .prop_map(|codes| json!(codes))
            .boxed(),
        Holds::Media => prop::collection::btree_set(medium(), 1..4)
            .prop_map(|media| json!(media))
            .boxed(),
        Holds::Starts => prop_oneof![
            day().boxed(),
            Just(json!("first_use")),
            Just(json!("signature"))
        ]
        .boxed(),
        Holds::Term => optional(
            prop_oneof![
                day().prop_map(|day| json!({ "to": day })).boxed(),
                (1_u32..1200)
                    .prop_map(|months| json!({ "months": months }))
                    .boxed(),
                Just(json!("perpetuity"))
            ]
            .boxed(),
        ),
        Holds::One(Named::People) => prop::sample::select(vec![1_u128, 2, 3])
            .prop_map(|id| json!(Uuid::from_u128(id)))
            .boxed(),
        Holds::One(Named::Music) => Just(json!(Uuid::from_u128(9))).boxed(),
        Holds::One(Named::Assets) => Just(json!(Uuid::from_u128(10))).boxed(),
        Holds::One(Named::Episodes) => Just(json!(Uuid::from_u128(11))).boxed(),
        Holds::One(_) => Just(Value::Null).boxed(),
        Holds::Many(_) => Just(json!([])).boxed(),
        Holds::Restrictions => prop::collection::vec(any_restriction(), 0..4)
            .prop_map(|all| json!(all))
            .boxed(),
        Holds::Parties => prop::collection::vec(any_party(), 0..4)
            .prop_map(|all| json!(all))
            .boxed(),
    }
}

/// Text in a line, that of several lines, and what our own words mean.
fn any_words() -> BoxedStrategy<String> {
    let line = "[^\\p{C}\\p{Z}][ -~\u{e0}-\u{ff}|;,\"'=+-]{0,12}[^\\p{C}\\p{Z}]";
    prop_oneof![
        line.prop_map(String::from),
        (line, line).prop_map(|(a, b)| format!("{a}\n{b}")),
        Just("no name".to_owned()),
        Just("composer".to_owned()),
    ]
    .boxed()
}

fn any_restriction() -> BoxedStrategy<Restriction> {
    let day =
        || (1901_i32..2150, 1_u32..366).prop_map(|(y, d)| NaiveDate::from_yo_opt(y, d).unwrap());
    prop_oneof![
        prop::sample::select(vec![
            Restriction::BlurFace,
            Restriction::ChangeVoice,
            Restriction::NoName,
            Restriction::NoPromotion,
            Restriction::NotIn {
                territories: vec!["GB".into(), "154".into(), "North and Low".into()],
            },
            Restriction::NotInMedia {
                media: vec!["cinema".into(), "television.free".into()],
            },
            Restriction::NotBeside {
                person: Uuid::from_u128(2).to_string(),
            },
            Restriction::NotBeside {
                person: Uuid::from_u128(404).to_string(),
            },
        ]),
        day().prop_map(|date| Restriction::NotBefore { date }),
        day().prop_map(|date| Restriction::NotAfter { date }),
        any_words().prop_map(|name| Restriction::NamedAs { name }),
        any_words().prop_map(|words| Restriction::Other { words }),
        (any_words(), proptest::option::of(day()))
            .prop_map(|(words, approved_on)| Restriction::Approval { words, approved_on }),
    ]
    .boxed()
}

fn any_party() -> BoxedStrategy<Party> {
    let role = prop::sample::select(vec![
        PartyRole::Composer,
        PartyRole::ComposerAuthor,
        PartyRole::SubPublisher,
        PartyRole::Performer,
        PartyRole::RecordingOwner,
    ]);
    let society = prop_oneof![Just(String::new()), any_words()];
    let ipi = prop::sample::select(vec!["", "00012345678"]);
    let share = proptest::option::of(0_u32..=10_000);
    (any_words(), role, society, ipi, share)
        .prop_map(|(name, role, society, ipi, share)| Party {
            name,
            role,
            society,
            ipi: ipi.into(),
            share,
        })
        .boxed()
}

pub(super) fn any_record(kind: SheetKind) -> BoxedStrategy<Map<String, Value>> {
    let of_grant = |field: &&Field| field.of_grant().is_some();
    let (granted, own): (Vec<&Field>, Vec<&Field>) = kind.fields().iter().partition(of_grant);
    let record = |fields: &[&'static Field]| {
        let values: Vec<_> = fields.iter().map(|field| any_value(field)).collect();
        let keys: Vec<&str> = fields
            .iter()
            .map(|one| one.of_grant().unwrap_or(one.key))
            .collect();
        values.prop_map(move |values| -> Map<String, Value> {
            let keys = keys.iter().map(|key| (*key).to_owned());
            keys.zip(values).collect()
        })
    };
    (record(&own), prop::collection::vec(record(&granted), 1..4))
        .prop_map(move |(mut out, grants)| {
            if kind.field("grant.media").is_some() {
                out.insert("grants".into(), json!(grants));
            }
            out
        })
        .boxed()
}
