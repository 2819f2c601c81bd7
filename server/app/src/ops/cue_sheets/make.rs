//! A cue sheet from a cut: what is heard, put together into cues, with what the records and a person say of each.

use std::collections::HashMap;

use chrono::{DateTime, Utc};
use uuid::Uuid;
use waybill_domain::cut_uses::ElementKey;
use waybill_domain::identifiers::Scheme;
use waybill_domain::music::cues::{
    Cue, CueList, Heard, PrintedTotal, Rounding, cues, minutes, seconds, tenths_of_percent,
};
use waybill_domain::music::keep::{
    CueDetails, CueUsage, CueVocals, Kept, Taken, take_along, usage_doubts,
};
use waybill_domain::music::shares::{ShareConvention, ShareSide, findings};
use waybill_domain::music::sheet::{CueLine, CueSheet, CueSheetHead, rule_words};
use waybill_domain::timecode::Rate;

use super::CueEntry;
use crate::db::Conn;
use crate::db::cue_sheets::{self as db, CueSheetFields, DetailRow, UsageWord, VocalsWord};
use crate::db::episodes::Episode;
use crate::db::music::{Music, MusicOrigin, MusicShares};
use crate::error::OpError;
use crate::ops::access::Access;
use crate::ops::clearance::{Material, gather};
use crate::ops::cuts::Cut;

/// A sheet with what was written about each of its cues.
pub struct MadeSheet {
    pub sheet: CueSheet,
    pub entries: Vec<CueEntry>,
}

/// Makes the sheet of a cut.
pub async fn sheet(
    conn: &mut Conn,
    access: &Access,
    episode: Episode,
    cut: Cut,
    fields: &CueSheetFields,
    now: DateTime<Utc>,
) -> Result<MadeSheet, OpError> {
    let series = access.series.id;
    let rate: Rate = cut.head.rate.parse().map_err(|error| {
        OpError::UnsafeState(format!("The cut’s frame rate can’t be read: {error}."))
    })?;
    let details = db::details(conn, episode.id).await?;
    let episodes = db::episodes(conn, series).await?;
    let (material, _) = gather(conn, access, episode, cut).await?;
    let works: Vec<Uuid> = (material.records.music.values())
        .filter_map(|piece| piece.fields.same_work_id)
        .collect();
    let works: HashMap<Uuid, Music> = (db::pieces(conn, series, &works).await?.into_iter())
        .map(|piece| (piece.id, piece))
        .collect();
    let list = cues(rate, &heard(&material), fields.rule());
    let work = Work {
        material: &material,
        works,
        details,
        episodes,
        rate,
    };
    let (lines, entries) = work.lines(&list);
    let head = head(access, &material, fields, rate, now);
    Ok(MadeSheet {
        sheet: whole(&material, head, fields, list, lines),
        entries,
    })
}

/// Every piece of music in every event: cut in by itself, or logged as heard in footage that the cut uses.
fn heard(material: &Material) -> Vec<Heard> {
    let laid: HashMap<i32, Uuid> = (material.events.iter())
        .filter_map(|event| Some((event.position, event.music_id?)))
        .collect();
    let frame = |frame: u64| i64::try_from(frame).unwrap_or(i64::MAX);
    let mut all = Vec::new();
    for (key, uses) in &material.uses {
        let ElementKey::Music(id) = key else {
            continue;
        };
        for one in uses {
            let event = i32::try_from(one.event).unwrap_or(-1);
            all.push(Heard {
                music: *id,
                frames: (frame(one.record_in), frame(one.record_out)),
                event: one.event,
                in_scene: laid.get(&event) != Some(id),
            });
        }
    }
    all
}

fn head(
    access: &Access,
    material: &Material,
    fields: &CueSheetFields,
    rate: Rate,
    now: DateTime<Utc>,
) -> CueSheetHead {
    let (episode, cut) = (&material.episode.fields, &material.cut.head);
    let series = &access.series.fields;
    CueSheetHead {
        series: series.title.clone(),
        producer_entity: series.producer_entity.clone(),
        contact: fields.contact.clone(),
        episode_number: episode.number,
        episode_title: episode.title.clone(),
        also_known_as: fields.also_known_as.clone(),
        production_number: fields.production_number.clone(),
        country: fields.country.clone(),
        year: fields.year.clone(),
        director: fields.director.clone(),
        first_transmission: (episode.first_transmission).or(episode.first_transmission_planned),
        transmission_is_planned: episode.first_transmission.is_none()
            && episode.first_transmission_planned.is_some(),
        cut_id: cut.id,
        cut_name: cut.name.clone(),
        cut_date: cut.cut_date,
        cut_locked: cut.locked,
        frame_rate: rate.to_string(),
        programme_seconds: seconds(rate, cut.duration_frames, Rounding::Nearest),
        made_at: Some(now),
        time_zone: series.zone.clone(),
        made_by: access.actor.name.clone(),
    }
}

fn whole(
    material: &Material,
    head: CueSheetHead,
    fields: &CueSheetFields,
    list: CueList,
    lines: Vec<CueLine>,
) -> CueSheet {
    let rule = fields.rule();
    let printed = list.printed(rule.total);
    let other = list.printed(match rule.total {
        PrintedTotal::OfFrames => PrintedTotal::OfCues,
        PrintedTotal::OfCues => PrintedTotal::OfFrames,
    });
    let mut assumptions = rule_words(rule);
    assumptions.extend(material.assumptions.iter().cloned());
    CueSheet {
        open: open(material, &head, printed),
        music_part: tenths_of_percent(printed, head.programme_seconds),
        head,
        rule,
        lines,
        music_frames: list.frames,
        music_seconds: printed,
        other_seconds: (other != printed).then_some(other),
        assumptions,
    }
}

/// What is open about the sheet as a whole: what nobody knows of the cut may hold music.
fn open(material: &Material, head: &CueSheetHead, printed: i64) -> Vec<String> {
    let count = |unlogged: bool| {
        material
            .uses
            .keys()
            .filter(|key| match key {
                ElementKey::Unlogged(_) => unlogged,
                ElementKey::Unknown(_) => !unlogged,
                _ => false,
            })
            .count()
    };
    let mut open = Vec::new();
    match count(false) {
        0 => {}
        n => open.push(format!(
            "{n} {} of the cut {} unknown: music in it is not on this sheet.",
            if n == 1 { "source" } else { "sources" },
            if n == 1 { "is" } else { "are" }
        )),
    }
    match count(true) {
        0 => {}
        n => open.push(format!(
            "{n} {} not logged whole: music heard in it is not on this sheet.",
            if n == 1 {
                "used file is"
            } else {
                "used files are"
            }
        )),
    }
    if printed > head.programme_seconds {
        open.push(format!(
            "Music ({}) is longer than the programme ({}).",
            minutes(printed),
            minutes(head.programme_seconds)
        ));
    }
    if head.first_transmission.is_none() {
        open.push("The episode has no day of first transmission.".into());
    }
    if head.producer_entity.trim().is_empty() {
        open.push("The series names no production company.".into());
    }
    if !head.cut_locked {
        open.push("The cut is not locked and may still change.".into());
    }
    open
}

/// What the lines are made from.
struct Work<'a> {
    material: &'a Material,
    works: HashMap<Uuid, Music>,
    details: Vec<DetailRow>,
    episodes: i64,
    rate: Rate,
}

impl Work<'_> {
    fn lines(&self, list: &CueList) -> (Vec<CueLine>, Vec<CueEntry>) {
        let kept: Vec<Kept> = (self.details.iter())
            .map(|row| Kept {
                cut: row.cut_id,
                music: row.music_id,
                frames: (row.record_in, row.record_out),
            })
            .collect();
        let taken = take_along(&list.cues, self.material.cut.head.id, &kept);
        let mut lines = Vec::new();
        let mut entries = Vec::new();
        for ((number, cue), taken) in (1_u32..).zip(&list.cues).zip(taken) {
            let row = taken.and_then(|(at, how)| Some((self.details.get(at)?, how)));
            let own = row.filter(|(_, how)| *how == Taken::Same);
            entries.push(CueEntry {
                number,
                version: own.map_or(0, |(row, _)| row.version),
                note: row.map(|(row, _)| row.note.clone()).unwrap_or_default(),
            });
            lines.push(self.line(number, cue, row));
        }
        (lines, entries)
    }

    fn line(&self, number: u32, cue: &Cue, row: Option<(&DetailRow, Taken)>) -> CueLine {
        let piece = self.material.records.music.get(&cue.music);
        let details = row.map(|(row, _)| said(row)).unwrap_or_default();
        let mut line = CueLine {
            number,
            music_id: cue.music,
            title: piece.map_or_else(
                || "music that was deleted".into(),
                |piece| piece.fields.title.clone(),
            ),
            starts: self.rate.label(cue.frames.0),
            ends: self.rate.label(cue.frames.1),
            from_frame: cue.frames.0,
            to_frame: cue.frames.1,
            counted_frames: cue.counted.1 - cue.counted.0,
            seconds: cue.seconds,
            details,
            in_scene: cue.in_scene,
            origin: String::new(),
            parties: vec![],
            convention: ShareConvention::EachSide,
            publisher_note: String::new(),
            writers_text: String::new(),
            publishers_text: String::new(),
            performers_text: String::new(),
            label: String::new(),
            catalogue_number: String::new(),
            iswc: String::new(),
            isrc: String::new(),
            public_domain: false,
            open: vec![],
            doubts: usage_doubts(details, self.episodes)
                .into_iter()
                .map(str::to_owned)
                .collect(),
            taken: row.map(|(_, how)| how),
        };
        match piece {
            Some(piece) => {
                self.describe(&mut line, piece);
                say_open(&mut line, piece);
            }
            None => line.open.push("The piece of music was deleted.".into()),
        }
        say_doubts(&mut line, cue, row);
        line
    }

    /// The recording's own facts, and the composition's from the recording that holds the work.
    fn describe(&self, line: &mut CueLine, piece: &Music) {
        let own = &piece.fields;
        let work = own
            .same_work_id
            .and_then(|id| self.works.get(&id))
            .map_or(own, |work| &work.fields);
        line.parties = (own.parties.0.iter())
            .filter(|party| !is_of_the_work(party) || own.same_work_id.is_none())
            .cloned()
            .collect();
        if own.same_work_id.is_some() {
            let of_work = work.parties.0.iter().filter(|party| is_of_the_work(party));
            line.parties.extend(of_work.cloned());
        }
        for party in &mut line.parties {
            party.ipi = Scheme::IpiName.shown(&party.ipi);
        }
        line.convention = match work.share_convention {
            MusicShares::EachSide => ShareConvention::EachSide,
            MusicShares::Together => ShareConvention::Together,
        };
        line.publisher_note.clone_from(&work.publisher_note);
        line.writers_text.clone_from(&work.composers);
        line.publishers_text.clone_from(&work.publishers);
        line.iswc = Scheme::Iswc.shown(&work.iswc);
        line.public_domain = work.composition_public_domain;
        line.performers_text.clone_from(&own.performers);
        line.label.clone_from(&own.label);
        line.catalogue_number.clone_from(&own.catalogue_number);
        line.isrc = Scheme::Isrc.shown(&own.isrc);
        line.origin = own.origin.word().into();
    }
}

fn is_of_the_work(party: &waybill_domain::music::shares::Party) -> bool {
    matches!(
        party.role.side(),
        ShareSide::Writers | ShareSide::Publishers
    )
}

fn said(row: &DetailRow) -> CueDetails {
    CueDetails {
        usage: row.usage.map(|usage| match usage {
            UsageWord::Background => CueUsage::Background,
            UsageWord::Featured => CueUsage::Featured,
            UsageWord::Theme => CueUsage::Theme,
            UsageWord::Logo => CueUsage::Logo,
        }),
        vocals: row.vocals.map(|vocals| match vocals {
            VocalsWord::Vocal => CueVocals::Vocal,
            VocalsWord::Instrumental => CueVocals::Instrumental,
        }),
        performer_visible: row.performer_visible,
    }
}

/// What a society would send the sheet back for (rulebook 3.3).
fn say_open(line: &mut CueLine, piece: &Music) {
    if line.details.usage.is_none() {
        line.open.push("Usage is not entered.".into());
    }
    if line.details.vocals.is_none() {
        line.open
            .push("Vocal or instrumental is not entered.".into());
    }
    let has_sides = line.parties.iter().any(is_of_the_work);
    if !has_sides && !line.public_domain && !line.writers_text.trim().is_empty() {
        line.open.push(
            "Writers and publishers are not entered one by one, so their shares can’t be checked."
                .into(),
        );
    } else {
        for found in findings(
            &line.parties,
            line.convention,
            line.public_domain,
            &line.publisher_note,
        ) {
            if found.fails {
                line.open.push(found.sentence);
            } else {
                line.doubts.push(found.sentence);
            }
        }
    }
    let unknown = |name: &str| {
        let name = name.trim().to_lowercase();
        ["unknown", "not known", "tbc", "tba", "?"].contains(&name.as_str())
    };
    if unknown(&line.writers_text) || line.parties.iter().any(|party| unknown(&party.name)) {
        line.open
            .push("A writer is called unknown; societies send that back.".into());
    }
    if piece.fields.origin == MusicOrigin::Production
        && (line.label.trim().is_empty() || line.catalogue_number.trim().is_empty())
    {
        line.open
            .push("Library music needs its label, catalogue and track number.".into());
    }
}

fn say_doubts(line: &mut CueLine, cue: &Cue, row: Option<(&DetailRow, Taken)>) {
    if cue.counted.0 == cue.counted.1 {
        line.doubts
            .push("Another piece is heard all the time, so nothing of this one is counted.".into());
    }
    if line.origin == "production" && line.details.usage == Some(CueUsage::Theme) {
        line.doubts.push(
            "A broadcaster’s blanket licence may not cover library music as a theme of three or more episodes.".into(),
        );
    }
    match row.map(|(_, how)| how) {
        Some(Taken::SamePlace) => line.doubts.push(
            "What is said of it was taken from an earlier cut, from the cue at its place; please confirm.".into(),
        ),
        Some(Taken::SameLength) => line.doubts.push(
            "What is said of it was taken from an earlier cut, from the only cue as long; please confirm.".into(),
        ),
        Some(Taken::Same) | None => {}
    }
}
