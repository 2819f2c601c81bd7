//! The report's tables: a row for each element, a line for each of its uses.

use std::collections::{BTreeMap, HashMap};

use chrono::NaiveDate;
use uuid::Uuid;
use waybill_domain::clearance::{CellGroup, Element, ElementAnswer, End, State};
use waybill_domain::cut_uses::ElementKey;
use waybill_domain::report::{
    CellKind, DaySpan, FailingCells, Named, ReportReason, ReportRow, ReportSpecification,
    ReportState, ReportUse,
};
use waybill_domain::rights::coverage::CellState;
use waybill_domain::rights::days::Days;
use waybill_domain::rights::medium;
use waybill_domain::rights::territory::{self, Groups, TerritorySet};
use waybill_domain::timecode::Rate;
use waybill_domain::wording::date_words;

use super::super::clearance::{Worked, id_of};
use crate::db::assets::{Asset, AssetBasis};
use crate::db::cuts::EventRow;
use crate::db::licences::{Licence, LicenceSide};
use crate::db::releases::{Release, ReleaseSigner};
use crate::db::specifications::Specification;

/// Named one by one up to here; more are named as one place.
const MOST_NAMED: usize = 6;

/// Every row and every use, numbered alike.
pub fn all(worked: &Worked) -> (Vec<ReportRow>, Vec<ReportUse>) {
    let material = &worked.material;
    let elements: HashMap<&str, &Element> = (worked.question.elements.iter())
        .map(|element| (element.id.as_str(), element))
        .collect();
    let keys: HashMap<String, &ElementKey> =
        material.uses.keys().map(|key| (id_of(key), key)).collect();
    let events: HashMap<u32, &EventRow> = (material.events.iter())
        .map(|row| (u32::try_from(row.position).unwrap_or(0), row))
        .collect();
    let need = Need::of(worked);
    let (mut rows, mut uses) = (Vec::new(), Vec::new());
    for (answer, number) in worked.answer.elements.iter().zip(1_u32..) {
        let (Some(element), Some(key)) = (elements.get(answer.id.as_str()), keys.get(&answer.id))
        else {
            continue;
        };
        rows.push(row(worked, &need, answer, (element, key), number));
        let line = |one| use_line(worked, &events, number, one);
        uses.extend(element.uses.iter().map(line));
    }
    (rows, uses)
}

/// What is needed, opened, to say "all of it" where a group of cells is.
struct Need {
    territories: TerritorySet,
    media: Vec<String>,
}

impl Need {
    fn of(worked: &Worked) -> Self {
        let spec = &worked.specification.fields;
        Self {
            territories: set(&spec.territories, &worked.material.groups)
                .minus(set(&spec.territories_except, &worked.material.groups)),
            media: needed_media(&worked.specification),
        }
    }
}

fn set(codes: &[String], groups: &Groups) -> TerritorySet {
    // Codes were checked when they were saved; the clearance refuses what can't be read.
    TerritorySet::parse(codes.iter().map(String::as_str), groups).unwrap_or_default()
}

fn needed_media(specification: &Specification) -> Vec<String> {
    let spec = &specification.fields;
    let mut media = medium::leaves(&spec.media);
    media.retain(|name| !medium::any_includes(&spec.media_except, name));
    media
}

/// The head of the specification with its names.
pub fn specification(specification: &Specification, groups: &Groups) -> ReportSpecification {
    let spec = &specification.fields;
    let given = |text: &str| (!text.trim().is_empty()).then(|| text.to_owned());
    let territories = if spec.territories_except.is_empty() {
        spec.territories
            .iter()
            .map(|code| place(code, groups))
            .collect()
    } else {
        let left = set(&spec.territories, groups).minus(set(&spec.territories_except, groups));
        vec![Named {
            code: format!(
                "{} except {}",
                spec.territories.join(" "),
                spec.territories_except.join(" ")
            ),
            name: left.words(),
        }]
    };
    ReportSpecification {
        name: spec.name.clone(),
        version: given(&spec.edition),
        broadcaster: spec.broadcaster.clone(),
        territories,
        media: needed_media(specification)
            .iter()
            .map(|code| medium_named(code))
            .collect(),
        first_day: Some(spec.needed_from),
        last_day: Some(spec.needed_to),
    }
}

fn place(code: &str, groups: &Groups) -> Named {
    let name = match groups.contains_key(code) {
        true => format!("{code}: {}", set(&[code.to_owned()], groups).words()),
        false => territory::name(code)
            .map_or_else(|| set(&[code.to_owned()], groups).words(), str::to_owned),
    };
    Named {
        code: code.to_owned(),
        name,
    }
}

fn medium_named(code: &str) -> Named {
    Named {
        code: code.to_owned(),
        name: medium::name(code),
    }
}

fn row(
    worked: &Worked,
    need: &Need,
    answer: &ElementAnswer,
    (element, key): (&Element, &ElementKey),
    number: u32,
) -> ReportRow {
    let papers = Papers::of(worked, element, key);
    let rate = &worked.material.cut.head.rate;
    let mut to_do: Vec<String> = Vec::new();
    for reason in &answer.reasons {
        if !reason.action.is_empty() && !to_do.contains(&reason.action) {
            to_do.push(reason.action.clone());
        }
    }
    ReportRow {
        number,
        key: answer.id.clone(),
        kind: kind_words(&answer.kind),
        label: answer.label.clone(),
        credited_as: papers.credited_as,
        credit_line: papers.credit_line,
        basis: papers.basis,
        papers: papers.listed,
        first_use: (answer.first_use).map(|first| label(rate, signed(first.record_in))),
        uses: answer.uses,
        total_frames: answer.total_frames,
        state: state(answer.state),
        failing: answer
            .cells
            .iter()
            .flat_map(|group| failing(need, group))
            .collect(),
        reasons: answer
            .reasons
            .iter()
            .map(|reason| ReportReason {
                rule: reason.rule.clone(),
                text: reason.sentence.clone(),
            })
            .collect(),
        to_do,
        needed_by: answer.state.blocks().then_some(worked.answer.needed_by),
        ends_on: match answer.end {
            End::On(day) => Some(day),
            _ => None,
        },
    }
}

fn state(state: State) -> ReportState {
    match state {
        State::Gap => ReportState::Gap,
        State::UnknownSource => ReportState::UnknownSource,
        State::Unknown => ReportState::Unknown,
        State::NotLogged => ReportState::NotLogged,
        State::EvidenceOnly => ReportState::EvidenceOnly,
        State::Restricted => ReportState::Restricted,
        State::EndsSoon => ReportState::EndsSoon,
        State::Covered => ReportState::Covered,
    }
}

/// A group of equal cells as the blocks that fail in it: days that are a gap, days that are unknown.
fn failing(need: &Need, group: &CellGroup) -> Vec<FailingCells> {
    let groups = Groups::new(); // an answer's codes are codes
    let here = set(&group.territories, &groups);
    let territories: Vec<Named> = if group.territories.len() > MOST_NAMED {
        vec![Named {
            code: group.territories.join(" "),
            name: group.place.clone(),
        }]
    } else {
        group
            .territories
            .iter()
            .map(|code| place(code, &groups))
            .collect()
    };
    let block = |kind, days: &[Days]| FailingCells {
        kind,
        territories: territories.clone(),
        all_territories: here == need.territories,
        media: group.media.iter().map(|code| medium_named(code)).collect(),
        all_media: group.media.len() == need.media.len(),
        other_media: (need.media.iter())
            .filter(|code| !group.media.contains(code))
            .map(|code| medium_named(code))
            .collect(),
        days: days
            .iter()
            .map(|days| DaySpan {
                from: days.from,
                to: days.to,
            })
            .collect(),
        because: String::new(),
    };
    let mut blocks = Vec::new();
    if group.state == CellState::None {
        blocks.push(block(CellKind::Gap, &[]));
    } else if !group.gaps.is_empty() {
        blocks.push(block(CellKind::Gap, &group.gaps));
    }
    if !group.unknown.is_empty() {
        blocks.push(block(CellKind::Unknown, &group.unknown));
    }
    blocks
}

/// What stands behind an element, in words.
#[derive(Default)]
struct Papers {
    credited_as: Option<String>,
    credit_line: Option<String>,
    basis: Option<String>,
    listed: Vec<String>,
}

impl Papers {
    fn of(worked: &Worked, element: &Element, key: &ElementKey) -> Self {
        let records = &worked.material.records;
        let mut papers = Self::default();
        match key {
            ElementKey::Person(id) => {
                let found = records.people.get(id);
                papers.credited_as = found.map(|person| person.fields.credited_name.clone());
            }
            ElementKey::Asset(id) => {
                if let Some(found) = records.assets.get(id) {
                    papers.of_asset(found);
                }
            }
            _ => {}
        }
        let backing = &element.backing;
        let has = |id: Uuid, ids: Vec<&str>| ids.contains(&id.to_string().as_str());
        for release in &records.releases {
            if has(
                release.id,
                backing.releases.iter().map(|one| one.id.as_str()).collect(),
            ) {
                papers.basis.get_or_insert_with(|| "released".into());
                papers.listed.push(release_words(release, worked.today));
            }
        }
        for licence in &records.licences {
            if has(
                licence.id,
                backing.licences.iter().map(|one| one.id.as_str()).collect(),
            ) {
                papers.basis.get_or_insert_with(|| "licensed".into());
                papers.listed.push(licence_words(licence, worked.today));
                papers.add_credit(&licence.fields.credit_line);
            }
        }
        if backing.not_needed.is_some() {
            papers.basis.get_or_insert_with(|| "not needed".into());
        }
        papers
    }

    fn of_asset(&mut self, asset: &Asset) {
        self.add_credit(&asset.fields.credit_line);
        self.basis = match asset.fields.basis {
            AssetBasis::Unknown => None,
            AssetBasis::Own => Some("own material".into()),
            other => Some(other.word().replace('_', " ")),
        };
    }

    fn add_credit(&mut self, line: &str) {
        let line = line.trim();
        if line.is_empty() {
            return;
        }
        match &mut self.credit_line {
            None => self.credit_line = Some(line.to_owned()),
            Some(lines) if !lines.split("; ").any(|one| one == line) => {
                lines.push_str("; ");
                lines.push_str(line);
            }
            Some(_) => {}
        }
    }
}

fn release_words(release: &Release, today: NaiveDate) -> String {
    let fields = &release.fields;
    let kind = fields.kind.word().replace('_', " ");
    let by = match fields.signed_by {
        Some(ReleaseSigner::Guardian) => " by a guardian",
        Some(ReleaseSigner::Owner) => " by the owner",
        Some(ReleaseSigner::Other) => " by somebody else",
        Some(ReleaseSigner::Person) | None => "",
    };
    match fields.signed_on {
        Some(day) if day > today => {
            format!("{kind} release, dated {} (still ahead)", date_words(day))
        }
        Some(day) => format!("{kind} release, signed{by} on {}", date_words(day)),
        None => format!("{kind} release, {}", fields.status.word().replace('_', " ")),
    }
}

fn licence_words(licence: &Licence, today: NaiveDate) -> String {
    let fields = &licence.fields;
    let side = match fields.side {
        LicenceSide::Whole => "",
        LicenceSide::Composition => ", composition",
        LicenceSide::Recording => ", recording",
        LicenceSide::Both => ", both sides",
    };
    let reference = match fields.reference.trim() {
        "" => String::new(),
        reference => format!(" {reference}"),
    };
    let stage = match fields.signed_on {
        Some(day) if day > today => format!("dated {} (still ahead)", date_words(day)),
        Some(day) => format!("signed on {}", date_words(day)),
        None => fields.status.word().replace('_', " "),
    };
    format!("licence{reference} from {}{side}, {stage}", fields.licensor)
}

fn use_line(
    worked: &Worked,
    events: &HashMap<u32, &EventRow>,
    row: u32,
    one: &waybill_domain::clearance::Use,
) -> ReportUse {
    let material = &worked.material;
    let rate = &material.cut.head.rate;
    let event = events.get(&one.event);
    let given = |text: &String| (!text.trim().is_empty()).then(|| text.clone());
    let file = event
        .and_then(|event| material.files.get(&event.file_id?))
        .map(|file| file.name.clone());
    ReportUse {
        row,
        event: event
            .and_then(|event| given(&event.event))
            .unwrap_or_else(|| one.event.to_string()),
        track: event.and_then(|event| given(&event.track)),
        record_in: label(rate, signed(one.record_in)),
        record_out: label(rate, signed(one.record_out)),
        frames: one.record_out.saturating_sub(one.record_in),
        source_file: file
            .or(event.and_then(|event| given(&event.source_name)))
            .or(event.and_then(|event| given(&event.clip))),
        reel: event.and_then(|event| given(&event.reel)),
        source_in: event.and_then(|event| Some(label(&event.rate, event.source_in?))),
    }
}

fn kind_words(kind: &str) -> String {
    let known: BTreeMap<&str, &str> = [
        ("archive", "Archive film"),
        ("web", "From the web"),
        ("made_by_machine", "Made by a machine"),
        ("other", "Imported"),
        ("unlogged_footage", "Own footage"),
    ]
    .into();
    if let Some(words) = known.get(kind) {
        return (*words).to_owned();
    }
    let words = kind.replace('_', " ");
    let mut chars = words.chars();
    let first = chars.next().map(|c| c.to_uppercase().to_string());
    first.unwrap_or_default() + chars.as_str()
}

fn signed(frame: u64) -> i64 {
    i64::try_from(frame).unwrap_or(i64::MAX)
}

fn label(rate: &str, frame: i64) -> String {
    rate.parse::<Rate>()
        .map_or_else(|_| frame.to_string(), |rate| rate.label(frame))
}
