//! The log of third-party material: every use of everything that the team did not film, second by second, with its
//! owner and the rights that stand behind it. What nobody knows is on it, too.

use std::collections::{BTreeMap, HashMap};

use waybill_domain::cut_uses::ElementKey;
use waybill_domain::music::shares::ShareSide;
use waybill_domain::papers::{PaperSection, PrintedPaper};
use waybill_domain::report::{ReportRow, ReportState};
use waybill_domain::wording;

use crate::db::music::MusicFields;
use crate::ops::clearance::{Worked, id_of};
use crate::ops::report::rows;

/// Fills the paper.
pub fn fill(paper: &mut PrintedPaper, worked: &Worked) {
    let (rows, uses) = rows::all(worked);
    let keys: HashMap<String, &ElementKey> = (worked.material.uses.keys())
        .map(|key| (id_of(key), key))
        .collect();
    let third: BTreeMap<u32, (&ReportRow, &ElementKey)> = (rows.iter())
        .filter_map(|row| Some((row.number, (row, *keys.get(&row.key)?))))
        .filter(|(_, (_, key))| {
            matches!(
                key,
                ElementKey::Asset(_) | ElementKey::Music(_) | ElementKey::Unknown(_)
            )
        })
        .collect();
    let mut uses: Vec<_> = uses
        .iter()
        .filter(|one| third.contains_key(&one.row))
        .collect();
    uses.sort_by(|a, b| (&a.record_in, a.row).cmp(&(&b.record_in, b.row)));
    let rate = worked.material.cut.head.rate.parse().ok();
    let mut log = PaperSection::new(
        "Every use, in the order of the cut",
        "This cut uses nothing that the team did not make itself, as far as it is known.",
        &[
            ("In", 5, false),
            ("Out", 5, false),
            ("Seconds", 3, true),
            ("What", 8, false),
            ("Kind", 5, false),
            ("Owner", 6, false),
            ("Source", 7, false),
            ("Rights", 10, false),
            ("State", 4, false),
        ],
    );
    log.lead = "Out is the first frame after the use. Seconds are rounded half up.".into();
    for one in &uses {
        let Some((row, key)) = third.get(&one.row) else {
            continue;
        };
        let (owner, source) = owner_and_source(worked, key);
        let frames = i64::try_from(one.frames).unwrap_or(0);
        let seconds = rate.map_or_else(String::new, |rate| {
            waybill_domain::music::cue::whole_seconds(rate, frames).to_string()
        });
        log.push(
            is_open(row.state),
            [
                one.record_in.clone(),
                one.record_out.clone(),
                seconds,
                row.label.clone(),
                row.kind.clone(),
                owner,
                source,
                rights(row),
                row.state.word().to_owned(),
            ],
        );
    }
    let open = third.values().filter(|(row, _)| is_open(row.state)).count();
    paper.verdict = format!(
        "{} of third-party material in {}; {} not cleared for this delivery.",
        counted(third.len(), "element"),
        counted(uses.len(), "use"),
        counted(open, "element")
    );
    paper.sections = vec![log, papers(&third)];
    let listed = |one: &&String| {
        (third.values()).any(|(row, _)| one.starts_with(&format!("{}: ", row.label)))
    };
    let of_others =
        |one: &&String| (rows.iter()).any(|row| one.starts_with(&format!("{}: ", row.label)));
    paper
        .assumptions
        .retain(|one| listed(&one) || !of_others(&one));
    paper.landscape = true;
    paper.cautions.push(
        "Music, artworks and people inside a supplied clip have rights of their own; the licence of the clip rarely \
         covers them."
            .into(),
    );
    if worked
        .material
        .uses
        .keys()
        .any(|key| matches!(key, ElementKey::Unlogged(_)))
    {
        paper.assumptions.push(
            "Some footage was not logged; third-party material that is only seen or heard in it is not on this list."
                .into(),
        );
    }
}

fn is_open(state: ReportState) -> bool {
    !matches!(state, ReportState::Covered | ReportState::EndsSoon)
}

/// `1 element`, `3 elements`.
pub fn counted(n: usize, what: &str) -> String {
    wording::counted(n as u64, what, &format!("{what}s"))
}

fn rights(row: &ReportRow) -> String {
    let mut words: Vec<&str> = row.basis.iter().map(String::as_str).collect();
    words.extend(row.papers.iter().map(String::as_str));
    if words.is_empty() {
        return "none known".into();
    }
    words.join("; ")
}

fn owner_and_source(worked: &Worked, key: &ElementKey) -> (String, String) {
    let records = &worked.material.records;
    match key {
        ElementKey::Asset(id) => records
            .assets
            .get(id)
            .map_or_else(Default::default, |asset| {
                (asset.fields.owner.clone(), asset.fields.source.clone())
            }),
        ElementKey::Music(id) => records
            .music
            .get(id)
            .map_or_else(Default::default, |piece| {
                let fields = &piece.fields;
                (owners(fields), fields.catalogue_number.clone())
            }),
        _ => ("not known".into(), "not known".into()),
    }
}

/// Who owns the two sides of a piece, each once: the parties that were entered one by one, else what was typed. An
/// unpublished piece is its writers'; a composition in the public domain is nobody's.
fn owners(fields: &MusicFields) -> String {
    let of = |side: ShareSide| -> Vec<&str> {
        (fields.parties.0.iter())
            .filter(|party| party.role.side() == side)
            .map(|party| party.name.as_str())
            .collect()
    };
    let first = |sides: &[ShareSide], typed| {
        let found = sides
            .iter()
            .map(|side| of(*side))
            .find(|names| !names.is_empty());
        found.unwrap_or_else(|| vec![typed])
    };
    let composition: &[ShareSide] = if fields.composition_public_domain {
        &[ShareSide::Publishers]
    } else {
        &[ShareSide::Publishers, ShareSide::Writers]
    };
    let mut names: Vec<&str> = Vec::new();
    for name in (first(composition, fields.publishers.trim()).into_iter())
        .chain(first(&[ShareSide::Recording], fields.label.trim()))
    {
        if !name.is_empty() && !names.contains(&name) {
            names.push(name);
        }
    }
    names.join("; ")
}

/// Element by element: what the papers ask for and what is inside.
fn papers(third: &BTreeMap<u32, (&ReportRow, &ElementKey)>) -> PaperSection {
    let mut list = PaperSection::new(
        "Elements, with what is to be done",
        "There are none.",
        &[
            ("No.", 2, true),
            ("What", 8, false),
            ("State", 4, false),
            ("First use", 5, false),
            ("Uses", 2, true),
            ("Credit line", 8, false),
            ("To do", 12, false),
        ],
    );
    for (number, (row, _)) in third {
        list.push(
            is_open(row.state),
            [
                number.to_string(),
                row.label.clone(),
                row.state.word().to_owned(),
                row.first_use.clone().unwrap_or_default(),
                row.uses.to_string(),
                row.credit_line.clone().unwrap_or_default(),
                row.to_do.join(" "),
            ],
        );
    }
    list
}
