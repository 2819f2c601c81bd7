//! Whole tables: headings guessed, rows read and laid, and lists that come back as they went.
#![expect(clippy::unwrap_used, reason = "tests")]

mod any;

use std::collections::BTreeMap;

use proptest::prelude::*;
use serde_json::{Map, Value, json};
use uuid::Uuid;

use super::cell::{Cell, GridRow};
use super::dates::{DayOrder, Reading};
use super::kinds::{Holds, Named, SheetKind};
use super::mapping::{SameInAll, SheetMapping};
use super::row::{self, Columns, RowRead};
use super::value::{Context, Names};
use super::{delimited, headings, write};
use any::any_record;

fn grid(text: &str) -> Vec<GridRow> {
    let limits = delimited::Limits {
        rows: 1000,
        columns: 100,
    };
    delimited::read(text, delimited::detect(text), limits).unwrap()
}

fn guessed(kind: SheetKind, line: &str) -> Vec<Option<&'static str>> {
    let names: Vec<String> = line.split(',').map(str::to_owned).collect();
    headings::guess(kind, &names, &[])
}

/// Headings as such lists have them, made up after the trade's habits; no published source.
#[test]
fn headings_are_known() {
    assert_eq!(
        guessed(
            SheetKind::People,
            "Contributor Name,D.O.B.,E-mail,Mobile,Notes,Shirt size"
        ),
        [
            Some("credited_name"),
            Some("born"),
            Some("contact"),
            Some("contact"),
            Some("notes"),
            None
        ]
    );
    assert_eq!(
        guessed(
            SheetKind::People,
            "Surname,First name,Under 18?,Parent/Guardian,Parent phone"
        ),
        [
            Some("credited_name"),
            Some("credited_name"),
            None,
            Some("guardian_name"),
            Some("guardian_contact")
        ]
    );
    // A whole name is enough; its parts beside it are not joined to it.
    assert_eq!(
        guessed(SheetKind::People, "First name,Name"),
        [None, Some("credited_name")]
    );
    assert_eq!(
        guessed(
            SheetKind::Releases,
            "Contributor,Release Type,Signed,Date signed,Territory,Media,Expiry"
        ),
        [
            Some("person_id"),
            Some("kind"),
            Some("status"),
            Some("signed_on"),
            Some("grant.territories"),
            Some("grant.media"),
            Some("grant.term")
        ]
    );
    assert_eq!(
        guessed(
            SheetKind::Music,
            "Track,Artist,Composer(s),Cat No,ISRC,Publisher"
        ),
        [
            Some("title"),
            Some("performers"),
            Some("composers"),
            Some("catalogue_number"),
            Some("isrc"),
            Some("publishers")
        ]
    );
    assert_eq!(
        guessed(
            SheetKind::Drives,
            "Drive,Capacity (TB),Serial No.,Location,Who"
        ),
        [
            Some("label"),
            Some("capacity_bytes"),
            Some("serial"),
            Some("place"),
            Some("holder")
        ]
    );
    assert_eq!(
        headings::guess(
            SheetKind::Licences,
            &["Fee".into(), "Track".into()],
            &["fee_minor"]
        ),
        [None, Some("music_id")]
    );
}

/// Each heading of ours, and each that we list, means a field; no two fields list the same one.
#[test]
fn the_tables_of_headings_agree_with_themselves() {
    for kind in SheetKind::ALL {
        let labels: Vec<String> = kind
            .fields()
            .iter()
            .map(|field| field.label.to_owned())
            .collect();
        let keys: Vec<_> = kind.fields().iter().map(|field| Some(field.key)).collect();
        assert_eq!(headings::guess(kind, &labels, &[]), keys, "{kind:?}");
        for field in kind.fields() {
            for known in field.also.iter().chain(field.parts) {
                assert_eq!(super::fold(known), *known, "{kind:?} {}", field.key);
            }
            if let Holds::Choice(choices) = field.holds {
                for one in choices {
                    for word in [one.words, one.value].iter().chain(one.also) {
                        let found = super::value::known_word(field, word);
                        assert_eq!(
                            found.as_deref(),
                            Some(one.value),
                            "{kind:?} {} {word}",
                            field.key
                        );
                    }
                }
            }
        }
        assert!(kind.title().iter().all(|key| kind.field(key).is_some()));
        assert!(
            kind.same_by()
                .iter()
                .all(|(keys, _)| keys.iter().all(|key| kind.field(key).is_some()))
        );
    }
}

#[test]
fn the_row_of_headings_is_found_below_a_title() {
    let rows =
        grid("People of the series;;\nas of today;;\n;;\nName;Date of birth;Notes\nAnn Lee;;x\n");
    assert_eq!(headings::heading_row(SheetKind::People, &rows), 2);
    assert_eq!(rows[2].number, 4);
}

#[test]
fn a_kept_mapping_finds_its_columns_again() {
    let names = |line: &str| -> Vec<String> { line.split(',').map(str::to_owned).collect() };
    let mut kept = SheetMapping::guess(SheetKind::People, &names("Who,Nickname,Born"), &[]);
    assert_eq!(kept.columns[1].field, None);
    kept.columns[1].field = Some("credited_name".into());
    let on = kept.on(SheetKind::People, &names("Born,NICKNAME,Name"), &[]);
    let fields: Vec<_> = on
        .columns
        .iter()
        .map(|column| column.field.as_deref())
        .collect();
    assert_eq!(fields, [Some("born"), Some("credited_name"), None]);
    assert_eq!(on.fault(SheetKind::People, &[]), None);
    assert!(
        on.fault(SheetKind::People, &["born"])
            .unwrap()
            .contains("Date of birth")
    );
    assert!(on.fault(SheetKind::Drives, &[]).is_some());
}

struct Bench {
    names: Names,
    words: BTreeMap<(String, String), String>,
    days: Reading,
}

impl Bench {
    fn new() -> Self {
        let mut names = Names::default();
        for (at, name) in ["Ann Lee", "Bo Ek", "Bo Ek"].iter().enumerate() {
            names.add(Named::People, Uuid::from_u128(at as u128 + 1), name, &[]);
        }
        names.add(Named::Music, Uuid::from_u128(9), "Low Water", &[]);
        names.add(Named::Assets, Uuid::from_u128(10), "Newsreel", &[]);
        names.add(Named::Episodes, Uuid::from_u128(11), "1", &["First Light"]);
        names.add_group("North and Low");
        Self {
            names,
            words: BTreeMap::new(),
            days: Reading {
                order: Some(DayOrder::DayFirst),
                serials: None,
            },
        }
    }

    fn context(&self) -> Context<'_> {
        Context {
            days: self.days,
            words: &self.words,
            names: &self.names,
            list_sign: None,
        }
    }

    fn read(&self, kind: SheetKind, text: &str, same: &[(&str, &str)]) -> (Columns, RowRead) {
        let rows = grid(text);
        let mut mapping = SheetMapping::guess(kind, &headings::texts(&rows[0]), &[]);
        mapping.same_in_all = same
            .iter()
            .map(|(field, text)| SameInAll {
                field: (*field).into(),
                text: (*text).into(),
            })
            .collect();
        let columns = Columns::new(kind, &mapping);
        let read = row::read(&columns, &rows[1], &self.context());
        (columns, read)
    }

    fn laid(
        &self,
        kind: SheetKind,
        text: &str,
        same: &[(&str, &str)],
    ) -> Result<Value, Vec<String>> {
        let (columns, read) = self.read(kind, text, same);
        let mut faults: Vec<String> = read
            .faults
            .iter()
            .map(|fault| fault.words.clone())
            .collect();
        let laid = row::lay(kind, &columns, &read, None, false);
        faults.extend(laid.faults.into_iter().map(|fault| fault.words));
        if faults.is_empty() {
            Ok(Value::Object(laid.fields))
        } else {
            Err(faults)
        }
    }
}

#[test]
fn a_row_becomes_fields() {
    let bench = Bench::new();
    assert_eq!(
        bench
            .laid(
                SheetKind::People,
                "Surname;First name;DOB\nLee;Ann;01/02/1999\n",
                &[]
            )
            .unwrap(),
        json!({ "credited_name": "Ann Lee", "born": "1999-02-01" })
    );
    assert_eq!(
        bench
            .laid(
                SheetKind::Licences,
                "Track;Side;Licensor;Territory;Media;Term;Fee;Status\nLow Water;Sync;Tide Songs;UK, Ireland;All media;5 years;£1,250.00;Quoted\n",
                &[("grant.starts", "first transmission")],
            )
            .unwrap(),
        json!({
            "music_id": Uuid::from_u128(9), "side": "composition", "licensor": "Tide Songs", "status": "quoted",
            "fee_minor": 125_000, "currency": "GBP",
            "grants": [{ "territories": ["GB", "IE"], "media": ["all"], "starts": "first_transmission", "term": { "months": 60 } }],
        })
    );
}

/// Three forms that teams use for several grants; what each means is our own reading of them.
#[test]
fn several_grants_of_one_record() {
    let bench = Bench::new();
    let grants = json!([
        { "territories": ["GB", "IE"], "media": ["television"], "starts": "2029-01-01", "term": { "months": 60 } },
        { "territories": ["US"], "media": ["television"], "starts": "2029-01-01" },
    ]);
    let kind = SheetKind::Licences;
    let lines = "Track;Side;Licensor;Territory;Media;Start;Term\n\
        Low Water;Sync;Tide Songs;\"(1) UK, Ireland\n(2) USA\";TV;2029-01-01;(1) 5 years\n";
    assert_eq!(bench.laid(kind, lines, &[]).unwrap()["grants"], grants);
    let columns = "Track;Side;Licensor;Territory 1;Territory 2;Media;Start;Term\n\
        Low Water;Sync;Tide Songs;UK, Ireland;USA;TV;2029-01-01;(1) 5 years\n";
    assert_eq!(bench.laid(kind, columns, &[]).unwrap()["grants"], grants);
    for below in [";;;USA;;;", "Low Water;Sync;Tide Songs;USA;TV;2029-01-01;"] {
        let text = format!(
            "Track;Side;Licensor;Territory;Media;Start;Term\n\
             Low Water;Sync;Tide Songs;UK, Ireland;TV;2029-01-01;5 years\n{below}\nLow Water;Master;Reel;;;;\n"
        );
        let rows = grid(&text);
        let mapping = SheetMapping::guess(kind, &headings::texts(&rows[0]), &[]);
        let columns = Columns::new(kind, &mapping);
        let (together, away) = super::rows::together(&columns, &rows[1..]);
        assert_eq!((together.len(), away), (2, vec![3]), "{below}");
        let read = row::read(&columns, &together[0], &bench.context());
        let laid = row::lay(kind, &columns, &read, None, false);
        assert!(laid.faults.is_empty(), "{:?}", laid.faults);
        assert_eq!(laid.fields["grants"], grants, "{below}");
    }
    let open = "Track;Side;Licensor;Territory;Media;Start\n\
        Low Water;Sync;Tide Songs;\"(1) UK\n(2) USA\";(1) TV;2029-01-01\n";
    assert!(
        bench
            .laid(kind, open, &[])
            .unwrap_err()
            .join(" ")
            .contains("“Media” in grant (2)")
    );
    let (columns, read) = bench.read(kind, "Licensor;Territory\nTide Songs;FR\n", &[]);
    let old = json!({ "grants": grants }).as_object().unwrap().clone();
    let faults = row::lay(kind, &columns, &read, Some(&old), false).faults;
    assert!(faults[0].words.contains("has 2 grants"));
}

#[test]
fn what_a_row_lacks_is_named() {
    let bench = Bench::new();
    let faults = |kind, text| bench.laid(kind, text, &[]).unwrap_err().join(" / ");
    assert!(faults(SheetKind::People, "DOB;Notes\n;x\n").contains("“Name as credited” is needed"));
    assert!(
        faults(SheetKind::Releases, "Kind;Person\nappearance;Bo Ek\n")
            .contains("There are 2 records called “Bo Ek”")
    );
    assert!(
        faults(SheetKind::Releases, "Kind;Person\nappearance;Cy Ode\n")
            .contains("no person called “Cy Ode”")
    );
    assert!(
        faults(
            SheetKind::Releases,
            "Kind;Person;Signed\nappearance;Ann Lee;perhaps\n"
        )
        .contains("“perhaps” is not known")
    );
    assert!(
        faults(
            SheetKind::Releases,
            "Kind;Person;Territory\nappearance;Ann Lee;UK\n"
        )
        .contains("“Media”")
    );
}

#[test]
fn an_imported_asset_needs_no_side() {
    let bench = Bench::new();
    let laid = bench
        .laid(
            SheetKind::Licences,
            "Imported asset;Licensor\nNewsreel;Reel House\n",
            &[],
        )
        .unwrap();
    assert_eq!(laid["side"], "whole");
}

proptest! {
    #![proptest_config(ProptestConfig::with_cases(64))]

    /// A list that we wrote, read as a new one and laid over the records themselves, changes nothing.
    #[test]
    fn a_list_comes_back_as_it_went(
        (kind, record) in prop::sample::select(SheetKind::ALL.to_vec())
            .prop_flat_map(|kind| (Just(kind), any_record(kind)))
    ) {
        let bench = Bench::new();
        let names: Vec<String> = write::headings(kind, &[]).into_iter().map(str::to_owned).collect();
        let id = Uuid::from_u128(77).to_string();
        let cells = write::row(kind, &id, &record, &bench.names, &[]);
        // As a text file has it: every cell as its words.
        let cells = cells.iter().map(|cell| Cell::text(cell.shown())).collect();
        let mapping = SheetMapping::guess(kind, &names, &[]);
        let columns = Columns::new(kind, &mapping);
        let read = row::read(&columns, &GridRow { number: 2, cells }, &bench.context());
        prop_assert_eq!(&read.faults, &Vec::new());
        prop_assert_eq!(read.id, Some(Uuid::from_u128(77)));
        let laid = row::lay(kind, &columns, &read, Some(&record), false);
        prop_assert_eq!(&laid.faults, &Vec::new());
        prop_assert_eq!(&laid.fields, &record);
        // With nothing below, all that is not empty is there again.
        let kept = read.said.values().any(|said| *said == super::value::Said::Kept);
        let new = row::lay(kind, &columns, &read, None, false);
        // What a list can't show has to be typed.
        prop_assert_eq!(kept, !new.faults.is_empty());
        let new = if kept { Map::new() } else { new.fields };
        for field in kind.fields() {
            let (was, is) = (write::cell(field, &record, &bench.names), write::cell(field, &new, &bench.names));
            let default = field.default.is_some() && was.is_empty();
            let kept = was == Cell::text(super::value::KEPT);
            let said = !was.is_empty() && !kept && was != Cell::text("no") && was != Cell::text("0");
            if said && !default && !new.is_empty() {
                prop_assert_eq!(was, is, "{}", field.key);
            }
        }
    }

    /// Reading never panics, whatever stands in the file.
    #[test]
    fn any_text_is_read_or_refused(text in "\\PC{0,40}", kind in prop::sample::select(SheetKind::ALL.to_vec())) {
        let bench = Bench::new();
        for field in kind.fields() {
            drop(super::value::read(field, &Cell::text(text.clone()), &text, None, &bench.context()));
        }
        let limits = delimited::Limits { rows: 10, columns: 10 };
        drop(delimited::read(&text, delimited::detect(&text), limits));
    }
}

/// Hand-made: a licence of an import is for the whole of it; a list without a column for the side finds it again.
#[test]
fn a_licence_is_found_again_without_its_side() {
    let fields = |side: Value| json!({"asset_id": "0190a6c8-0000-7000-8000-000000000001", "licensor": "Quay Archive", "side": side});
    let keys = |fields: Value| row::keys(SheetKind::Licences, fields.as_object().expect("fields"));
    let known = keys(fields(json!("whole")));
    assert_eq!(keys(fields(Value::Null)), known);
    assert_eq!(known.len(), 1, "{known:?}");
}
