//! Chain of title: who made what for the production and by which paper it owns it, and where a paper is missing.

use std::collections::BTreeSet;

use uuid::Uuid;
use waybill_domain::clearance::{Owner, Side, names_owner};
use waybill_domain::cut_uses::ElementKey;
use waybill_domain::music::shares::percent;
use waybill_domain::papers::{PaperSection, PrintedPaper};
use waybill_domain::wording::{and_list, date_words};

use super::third_party::counted;
use crate::app::App;
use crate::db::licences::{Licence, LicenceSide, LicenceState};
use crate::db::music::MusicOrigin;
use crate::db::papers as db;
use crate::db::releases::{Release, ReleaseKind, ReleaseState};
use crate::error::OpError;
use crate::ops::clearance::Worked;

const COLUMNS: [(&str, u32, bool); 5] = [
    ("What", 9, false),
    ("Whose", 8, false),
    ("Paper", 9, false),
    ("Signed", 5, false),
    ("Missing", 11, false),
];

/// Fills the paper.
pub async fn fill(app: &App, paper: &mut PrintedPaper, worked: &Worked) -> Result<(), OpError> {
    let series = worked.material.episode.series_id;
    let (crew, days) = {
        let conn = &mut *app.pool.get().await?;
        (
            db::crew_releases(conn, series).await?,
            db::crew_of_days(conn, series).await?,
        )
    };
    let mut sections = vec![
        crew_list(&crew, &days),
        materials(worked),
        commissioned(worked),
    ];
    let missing: Vec<(String, String)> = sections
        .iter()
        .flat_map(|section| section.rows.iter().map(|row| (section.title.clone(), row)))
        .filter(|(_, row)| row.open)
        .map(|(title, row)| {
            let cell = |at: usize| row.cells.get(at).cloned().unwrap_or_default();
            (title, format!("{}: {}", cell(0), cell(4)))
        })
        .collect();
    let mut gaps = PaperSection::new(
        "Gaps",
        "No gap is known.",
        &[("Where", 6, false), ("What is missing", 20, false)],
    );
    gaps.says_again = true;
    for (place, words) in &missing {
        gaps.push(true, [place.clone(), words.clone()]);
    }
    paper.verdict = match missing.len() {
        0 => "No gap is known in the papers that are entered.".into(),
        n => format!("{} in the chain.", counted(n, "gap")),
    };
    sections.push(gaps);
    paper.sections = sections;
    paper.cautions.push(
        "A contract is on this list only if it was entered here. Work by somebody of whom nothing was entered is a gap \
         that no list can show; compare it with the crew list."
            .into(),
    );
    paper.cautions.push(
        "Whether a paper makes the production the owner is for counsel and the law of the place to say.".into(),
    );
    Ok(())
}

fn crew_list(
    crew: &[(Release, Option<String>)],
    days: &[(chrono::NaiveDate, String)],
) -> PaperSection {
    let mut list = PaperSection::new(
        "Crew and work made for hire",
        "No crew contract is entered: who owns the footage is open.",
        &COLUMNS,
    );
    for (release, name) in crew {
        let fields = &release.fields;
        let mut missing = unsigned(release);
        if let (Some(signed), Some(began)) = (fields.signed_on, fields.filmed_from)
            && signed > began
        {
            missing.push(format!(
                "Signed after the work began ({}): ask counsel.",
                date_words(began)
            ));
        }
        list.push(
            !missing.is_empty(),
            [
                "Work on the production".into(),
                name.clone()
                    .unwrap_or_else(|| fields.signed_by_name.clone()),
                form_words(release),
                fields.signed_on.map(date_words).unwrap_or_default(),
                missing.join(" "),
            ],
        );
    }
    // Each of them makes part of the footage (rulebook 3.1): one contract settles nothing for the others.
    let unpapered = without_paper(crew, days);
    if crew.is_empty() && unpapered.is_empty() && !days.is_empty() {
        list.push(
            true,
            [
                "Work on shoot days".into(),
                String::new(),
                String::new(),
                String::new(),
                "No crew contract is entered at all.".into(),
            ],
        );
    }
    for (name, days) in unpapered {
        list.push(
            true,
            [
                format!("Work on {}", counted(days, "shoot day")),
                name.to_owned(),
                String::new(),
                String::new(),
                format!("No crew contract of {name} is entered."),
            ],
        );
    }
    for (words, days) in by_crew(days) {
        let said = match days.as_slice() {
            [day] => format!("Crew of {}", date_words(*day)),
            days => {
                let days: Vec<String> = days.iter().map(|day| date_words(*day)).collect();
                format!("Crew of {} days: {}", days.len(), days.join(", "))
            }
        };
        list.push(
            false,
            [
                said,
                words.to_owned(),
                "as noted on the shoot days; compare with the contracts above".into(),
            ],
        );
    }
    list
}

/// Who is noted as crew of shoot days and has no contract under that name, with the number of those days; in the order
/// in which they first came. Notes are free words: a duty before a colon or in brackets is no part of the name.
fn without_paper<'a>(
    crew: &[(Release, Option<String>)],
    days: &'a [(chrono::NaiveDate, String)],
) -> Vec<(&'a str, usize)> {
    let plain = |name: &str| {
        let words: Vec<&str> = name.split_whitespace().collect();
        words.join(" ").to_lowercase()
    };
    let papers: BTreeSet<String> = (crew.iter())
        .flat_map(|(release, name)| [Some(&release.fields.signed_by_name), name.as_ref()])
        .flatten()
        .map(|name| plain(name))
        .collect();
    let mut found: Vec<(&str, BTreeSet<chrono::NaiveDate>)> = Vec::new();
    for (day, words) in days {
        let names = (words.split([',', ';', '\n', '&', '/']))
            .flat_map(|part| part.split(" and "))
            .map(|part| part.rsplit(':').next().unwrap_or(part))
            .map(|part| part.split('(').next().unwrap_or(part).trim())
            .filter(|name| {
                // "two cameras" names nobody
                name.chars().any(|c| c.is_alphabetic() && !c.is_lowercase())
            });
        for name in names {
            if papers.contains(&plain(name)) {
                continue;
            }
            match found
                .iter_mut()
                .find(|(known, _)| plain(known) == plain(name))
            {
                Some((_, on)) => {
                    on.insert(*day);
                }
                None => found.push((name, BTreeSet::from([*day]))),
            }
        }
    }
    (found.into_iter())
        .map(|(name, on)| (name, on.len()))
        .collect()
}

/// The days on which the same people were there, in the order of the first of them.
fn by_crew(days: &[(chrono::NaiveDate, String)]) -> Vec<(&str, Vec<chrono::NaiveDate>)> {
    let mut grouped: Vec<(&str, Vec<chrono::NaiveDate>)> = Vec::new();
    for (day, words) in days {
        match grouped.iter_mut().find(|(crew, _)| crew == words) {
            Some((_, days)) => days.push(*day),
            None => grouped.push((words, vec![*day])),
        }
    }
    grouped
}

fn form_words(release: &Release) -> String {
    let version = release.fields.form_version.trim();
    let form = if version.is_empty() {
        "form, version not entered".to_owned()
    } else {
        format!("form, version {version}")
    };
    match release.fields.document_id {
        Some(_) => format!("{form}, scan kept"),
        None => format!("{form}, no scan"),
    }
}

fn unsigned(release: &Release) -> Vec<String> {
    let fields = &release.fields;
    let mut missing = Vec::new();
    match fields.status {
        ReleaseState::NotNeeded => return missing,
        ReleaseState::Problem => missing.push("The form has a problem.".into()),
        ReleaseState::WithdrawnBeingDecided => {
            missing.push("Its withdrawal is being decided.".into())
        }
        _ => {}
    }
    if fields.signed_on.is_none() {
        missing.push("Not signed, or no day of signature.".into());
    }
    if fields.document_id.is_none() {
        missing.push("No scan is kept.".into());
    }
    missing
}

/// Material that came from others by release or is called the production's own.
fn materials(worked: &Worked) -> PaperSection {
    let mut list = PaperSection::new(
        "Materials and artworks by release",
        "Nothing in the cut rests on a release of its owner.",
        &COLUMNS,
    );
    let records = &worked.material.records;
    for id in assets(worked) {
        let Some(asset) = records.assets.get(&id) else {
            continue;
        };
        let releases: Vec<&Release> = (records.releases.iter())
            .filter(|release| release.fields.asset_id == Some(id))
            .filter(|release| {
                matches!(
                    release.fields.kind,
                    ReleaseKind::Materials | ReleaseKind::Artwork
                )
            })
            .collect();
        let own = asset.fields.basis.word() == "own";
        if own || (releases.is_empty() && asset.fields.basis.word() == "released") {
            let missing = if own {
                String::new()
            } else {
                "It is called released, but no release is entered.".into()
            };
            list.push(
                !own,
                [
                    asset.fields.title.clone(),
                    if own {
                        "the production".into()
                    } else {
                        asset.fields.owner.clone()
                    },
                    if own {
                        "own material, as entered".into()
                    } else {
                        String::new()
                    },
                    String::new(),
                    missing,
                ],
            );
        }
        for release in releases {
            let missing = unsigned(release);
            list.push(
                !missing.is_empty(),
                [
                    asset.fields.title.clone(),
                    release.fields.signed_by_name.clone(),
                    form_words(release),
                    release.fields.signed_on.map(date_words).unwrap_or_default(),
                    missing.join(" "),
                ],
            );
        }
    }
    list
}

fn assets(worked: &Worked) -> Vec<Uuid> {
    (worked.material.uses.keys())
        .filter_map(|key| match key {
            ElementKey::Asset(id) => Some(*id),
            _ => None,
        })
        .collect()
}

fn is_signed(licence: &Licence) -> bool {
    let fields = &licence.fields;
    let said = matches!(fields.status, LicenceState::Signed | LicenceState::Paid);
    said && fields.signed_on.is_some()
}

/// The owners of a side who signed nothing for it, though somebody did (R12: every owner of a share gives it). What the
/// production owns itself came to it by any of the papers.
fn unsigned_owners(owners: &[&Owner], signed: &[&str], producer: &str, side: &str) -> Vec<String> {
    let is_owner = |licensor: &str| owners.iter().any(|one| names_owner(licensor, &one.name));
    let strangers: Vec<String> = (signed.iter())
        .filter(|licensor| !is_owner(licensor))
        .map(|licensor| (*licensor).to_owned())
        .collect();
    let lacks = |owner: &&&Owner| {
        let own = !producer.trim().is_empty() && names_owner(producer, &owner.name);
        !own && !signed
            .iter()
            .any(|licensor| names_owner(licensor, &owner.name))
    };
    let words = |owner: &&Owner| {
        let share = owner
            .share
            .map_or_else(|| "a share, not entered,".to_owned(), percent);
        let by = match owner.name.as_str() {
            "" => "nobody who is named",
            name => name,
        };
        let perhaps = if strangers.is_empty() {
            String::new()
        } else {
            let strangers = and_list(&strangers);
            format!("; that {strangers} gave it too is not on record")
        };
        format!("No signed agreement for {share} of the {side}, held by {by}{perhaps}.")
    };
    owners.iter().filter(lacks).map(words).collect()
}

/// Music that was made for the production: both sides must be its own by a signed paper.
fn commissioned(worked: &Worked) -> PaperSection {
    let mut list = PaperSection::new(
        "Commissioned and recorded music",
        "No music in the cut was commissioned or recorded by the production.",
        &COLUMNS,
    );
    let records = &worked.material.records;
    for key in worked.material.uses.keys() {
        let ElementKey::Music(id) = key else {
            continue;
        };
        let Some(piece) = records.music.get(id) else {
            continue;
        };
        if !matches!(
            piece.fields.origin,
            MusicOrigin::Commissioned | MusicOrigin::Live
        ) {
            continue;
        }
        let papers: Vec<&Licence> = (records.licences.iter())
            .filter(|licence| licence.fields.music_id == Some(*id))
            .collect();
        let element = (worked.question.elements.iter()).find(|one| one.id == id.to_string());
        let owners = element.map_or(&[][..], |one| one.backing.owners.as_slice());
        let mut missing = Vec::new();
        for (side, of, words) in [
            (Side::Composition, LicenceSide::Composition, "composition"),
            (Side::Recording, LicenceSide::Recording, "recording"),
        ] {
            if side == Side::Composition && piece.fields.composition_public_domain {
                continue;
            }
            let signed: Vec<&str> = (papers.iter())
                .filter(|licence| {
                    licence.fields.side == of || licence.fields.side == LicenceSide::Both
                })
                .filter(|licence| is_signed(licence))
                .map(|licence| licence.fields.licensor.as_str())
                .collect();
            let owners: Vec<&Owner> = owners.iter().filter(|owner| owner.side == side).collect();
            if signed.is_empty() {
                missing.push(format!("No signed agreement for the {words}."));
                continue;
            }
            let producer = &worked.question.house.entity;
            missing.extend(unsigned_owners(&owners, &signed, producer, words));
        }
        let words: Vec<String> = (papers.iter())
            .map(|licence| {
                format!(
                    "{} ({})",
                    licence.fields.licensor,
                    licence.fields.side.word()
                )
            })
            .collect();
        let last = papers
            .iter()
            .filter_map(|licence| licence.fields.signed_on)
            .max();
        list.push(
            !missing.is_empty(),
            [
                piece.fields.title.clone(),
                piece.fields.composers.clone(),
                words.join("; "),
                last.map(date_words).unwrap_or_default(),
                missing.join(" "),
            ],
        );
    }
    list
}
