//! The credit list: people by the names that they confirmed, owners in their exact wording, music with its parties (R36).

use std::collections::BTreeMap;

use uuid::Uuid;
use waybill_domain::cut_uses::ElementKey;
use waybill_domain::music::shares::{PartyRole, ShareSide, source_beside};
use waybill_domain::papers::{PaperSection, PrintedPaper};
use waybill_domain::rights::release::Restriction;
use waybill_domain::wording::date_words;

use super::third_party::counted;
use crate::db::assets::AssetBasis;
use crate::db::releases::ReleaseState;
use crate::ops::clearance::Worked;

/// Fills the paper.
pub fn fill(paper: &mut PrintedPaper, worked: &Worked) {
    let people = people(worked);
    let owners = owners(worked);
    let music = music(worked);
    let captions = captions(worked);
    let open: usize = [&people, &captions, &owners, &music]
        .iter()
        .flat_map(|section| &section.rows)
        .filter(|row| row.open)
        .count();
    paper.verdict = match open {
        0 => "Every name is confirmed and every known credit line is here.".into(),
        n => format!(
            "{} to be settled before the roller is set.",
            counted(n, "line")
        ),
    };
    paper.sections = vec![people, captions, owners, music];
    paper.cautions.push(
        "Credit lines are given as the owners word them; do not shorten or correct them. Names are taken letter by \
         letter, accents and capitals as confirmed."
            .into(),
    );
}

fn people(worked: &Worked) -> PaperSection {
    let mut list = PaperSection::new(
        "People in the cut",
        "Nobody is logged in this cut.",
        &[
            ("Name as credited", 9, false),
            ("Confirmed", 9, false),
            ("First use", 5, false),
            ("Named on screen", 5, false),
            ("To settle", 10, false),
        ],
    );
    let rate = worked
        .material
        .cut
        .head
        .rate
        .parse::<waybill_domain::timecode::Rate>()
        .ok();
    let promised = promised(worked);
    let mut names: BTreeMap<String, usize> = BTreeMap::new();
    let mut rows = Vec::new();
    for (key, uses) in &worked.material.uses {
        let ElementKey::Person(id) = key else {
            continue;
        };
        let Some(person) = worked.material.records.people.get(id) else {
            continue;
        };
        let fields = &person.fields;
        let promise = promised.get(id);
        *names.entry(fields.credited_name.clone()).or_default() += 1;
        let first = uses.iter().map(|one| one.record_in).min().unwrap_or(0);
        let first = i64::try_from(first).unwrap_or(0);
        rows.push((
            fields,
            promise,
            rate.map_or_else(String::new, |rate| rate.label(first)),
            uses.iter().any(|one| one.name_on_screen),
        ));
    }
    rows.sort_by(|a, b| a.0.credited_name.cmp(&b.0.credited_name));
    for (fields, promise, first, named) in rows {
        if let Some(row) = promise.and_then(|promise| otherwise_named(promise, named)) {
            let [name, confirmed, settle] = row;
            let on_screen = if named { "yes" } else { "" };
            list.push(true, [name, confirmed, first, on_screen.into(), settle]);
            continue;
        }
        let by = fields.credited_name_confirmed_by.trim();
        let confirmed = match (by, fields.credited_name_confirmed_on) {
            ("", _) => String::new(),
            (by, Some(day)) => format!("by {by}, {}", date_words(day)),
            (by, None) => format!("by {by}"),
        };
        let mut settle = Vec::new();
        if confirmed.is_empty() {
            settle.push(if named {
                "Not confirmed, and it stands on screen: ask before the caption is set."
            } else {
                "Not confirmed: ask for the spelling."
            });
        }
        if names.get(&fields.credited_name).is_some_and(|n| *n > 1) {
            settle.push("Two people in this cut have this name: tell them apart.");
        }
        list.push(
            !settle.is_empty(),
            [
                fields.credited_name.clone(),
                if confirmed.is_empty() {
                    "not confirmed".into()
                } else {
                    confirmed
                },
                first,
                if named { "yes".into() } else { String::new() },
                settle.join(" "),
            ],
        );
    }
    list
}

/// How somebody may be named, by all of their releases.
#[derive(Default)]
struct Promise {
    unnamed: bool,
    only_as: Vec<String>,
}

fn promised(worked: &Worked) -> BTreeMap<Uuid, Promise> {
    let mut all: BTreeMap<Uuid, Promise> = BTreeMap::new();
    for release in &worked.material.records.releases {
        let fields = &release.fields;
        let Some(person) = fields
            .person_id
            .filter(|_| fields.status != ReleaseState::NotNeeded)
        else {
            continue;
        };
        for restriction in &fields.restrictions.0 {
            match restriction {
                Restriction::NoName => all.entry(person).or_default().unnamed = true,
                Restriction::NamedAs { name } => {
                    once(&mut all.entry(person).or_default().only_as, name.clone());
                }
                _ => {}
            }
        }
    }
    all
}

/// Name, confirmation and what to settle of somebody whose release says how they may be named. This list goes to the
/// broadcaster: a name that was promised away does not stand on it.
fn otherwise_named(promise: &Promise, on_screen: bool) -> Option<[String; 3]> {
    if promise.unnamed {
        let settle = if on_screen {
            "Asked not to be named, and a name is on screen: take it out, and leave them out of the roller."
        } else {
            "Asked not to be named: leave them out of the roller."
        };
        return Some(["not to be named", "by the release", settle].map(Into::into));
    }
    let (agreed, others) = promise.only_as.split_first()?;
    let settle = if others.is_empty() {
        "Agreed to be named so and not otherwise: the roller and the caption say this.".to_owned()
    } else {
        let others = others.join("”, “");
        format!("The releases agree on other names too (“{others}”): ask which one holds.")
    };
    Some([agreed.clone(), "by the release".into(), settle])
}

/// Captions against the names that people confirmed, and against what they asked for.
fn captions(worked: &Worked) -> PaperSection {
    let mut list = PaperSection::new(
        "Captions",
        "No caption of this cut is entered; those that name people are checked once they are.",
        &[
            ("In", 5, false),
            ("Out", 5, false),
            ("On screen", 10, false),
            ("Names", 8, false),
            ("To settle", 12, false),
        ],
    );
    let material = &worked.material;
    let Ok(rate) = material
        .cut
        .head
        .rate
        .parse::<waybill_domain::timecode::Rate>()
    else {
        return list;
    };
    for (caption, findings) in material.captions.checked(material) {
        let named = (material.captions.people.iter())
            .find(|one| Some(&one.id) == caption.person.as_ref())
            .map(|one| one.credited_name.clone());
        let nobody = if caption.names_nobody {
            "nobody"
        } else {
            "not said"
        };
        let settle: Vec<String> = findings.into_iter().map(|one| one.sentence).collect();
        list.push(
            !settle.is_empty(),
            [
                rate.label(caption.record_in),
                rate.label(caption.record_out),
                caption.text.clone(),
                named.unwrap_or_else(|| nobody.into()),
                settle.join(" "),
            ],
        );
    }
    list
}

fn owners(worked: &Worked) -> PaperSection {
    let mut list = PaperSection::new(
        "Owners’ credit lines",
        "No imported material is in this cut.",
        &[
            ("Credit line, exactly", 12, false),
            ("For", 8, false),
            ("From", 8, false),
            ("To settle", 8, false),
        ],
    );
    let records = &worked.material.records;
    let mut credited: BTreeMap<String, (Vec<String>, Vec<String>)> = BTreeMap::new();
    let mut open = Vec::new();
    for key in worked.material.uses.keys() {
        let (asset, piece) = match key {
            ElementKey::Asset(id) => (records.assets.get(id), None),
            ElementKey::Music(id) => (None, records.music.get(id)),
            _ => continue,
        };
        let title = (asset.map(|asset| &asset.fields.title))
            .or(piece.map(|piece| &piece.fields.title))
            .cloned()
            .unwrap_or_default();
        let mut lines: Vec<(String, String)> = Vec::new();
        let own = asset
            .map(|asset| asset.fields.credit_line.trim())
            .unwrap_or_default();
        if !own.is_empty() {
            lines.push((own.to_owned(), "the import’s record".into()));
        }
        for licence in &records.licences {
            let about = (asset.is_some_and(|asset| licence.fields.asset_id == Some(asset.id)))
                || piece.is_some_and(|piece| licence.fields.music_id == Some(piece.id));
            let line = licence.fields.credit_line.trim();
            if about && !line.is_empty() {
                lines.push((
                    line.to_owned(),
                    format!("licence of {}", licence.fields.licensor),
                ));
            }
        }
        let differ = lines.windows(2).any(|two| two[0].0 != two[1].0);
        if lines.is_empty()
            && let Some(settle) = owed(asset.map(|asset| asset.fields.basis))
        {
            open.push([
                "none entered".into(),
                title.clone(),
                String::new(),
                settle.to_owned(),
            ]);
        }
        for (line, from) in lines {
            if differ {
                let settle = "The records differ: which wording holds?";
                open.push([line, title.clone(), from, settle.into()]);
                continue;
            }
            let (titles, sources) = credited.entry(line).or_default();
            once(titles, title.clone());
            once(sources, from);
        }
    }
    // One line of the roller is one line here, for whatever it is owed.
    for (line, (titles, sources)) in credited {
        let cells = [line, titles.join("; "), sources.join("; "), String::new()];
        list.push(false, cells);
    }
    for cells in open {
        list.push(true, cells);
    }
    list
}

fn once(words: &mut Vec<String>, one: String) {
    if !words.contains(&one) {
        words.push(one);
    }
}

/// What to ask where no credit line is entered; none where none is owed. Music has no ground of its own.
fn owed(basis: Option<AssetBasis>) -> Option<&'static str> {
    match basis {
        // Nobody else to credit, or used without anybody's leave being needed (common practice, no source).
        Some(
            AssetBasis::Own
            | AssetBasis::NotNeeded
            | AssetBasis::Incidental
            | AssetBasis::PublicDomain,
        ) => None,
        Some(AssetBasis::CreativeCommons) => {
            Some("This licence asks for title, author, source and licence: none is entered.")
        }
        // UK Copyright, Designs and Patents Act 1988, sections 30 and 178: author and title, by name.
        Some(AssetBasis::FairDealing) => Some(
            "No acknowledgement is entered: fair dealing asks for title and author, save where that is impossible.",
        ),
        _ => Some("No credit line is entered: ask whether one is owed."),
    }
}

fn music(worked: &Worked) -> PaperSection {
    let mut list = PaperSection::new(
        "Music",
        "No music is known in this cut.",
        &[
            ("Title", 8, false),
            ("Writers", 9, false),
            ("Publishers", 8, false),
            ("Performed by", 8, false),
            ("Recording", 7, false),
        ],
    );
    for piece in sorted(worked) {
        let fields = &piece.fields;
        let side = |side: ShareSide, otherwise: &str| -> String {
            let names: Vec<String> = (fields.parties.0.iter())
                .filter(|party| party.role.side() == side)
                .filter(|party| side != ShareSide::None || party.role == PartyRole::Performer)
                .map(|party| match (side, party.role) {
                    // Who wrote and who arranged or translated are credited apart.
                    (ShareSide::Writers, role) => format!("{} ({})", party.name, role.words()),
                    _ => party.name.clone(),
                })
                .collect();
            if names.is_empty() {
                otherwise.to_owned()
            } else {
                names.join(", ")
            }
        };
        let mut writers = side(ShareSide::Writers, &fields.composers);
        if let Some(source) = source_beside(&fields.parties.0, &fields.composers) {
            writers = format!("{source}; {writers}");
        }
        let open = writers.trim().is_empty() && !fields.composition_public_domain;
        list.push(
            open,
            [
                fields.title.clone(),
                if open { "not entered".into() } else { writers },
                side(ShareSide::Publishers, &fields.publishers),
                side(ShareSide::None, &fields.performers),
                side(ShareSide::Recording, &fields.label),
            ],
        );
    }
    list
}

/// Pieces of music that the cut uses, by title.
fn sorted(worked: &Worked) -> Vec<&crate::db::music::Music> {
    let mut all: Vec<_> = (worked.material.uses.keys())
        .filter_map(|key| match key {
            ElementKey::Music(id) => worked.material.records.music.get(id),
            _ => None,
        })
        .collect();
    all.sort_by(|a, b| a.fields.title.cmp(&b.fields.title));
    all
}
