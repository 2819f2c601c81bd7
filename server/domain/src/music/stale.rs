//! Whether a cue sheet that was sent out is still true, and what changed since (R16).

use std::collections::BTreeMap;

use serde::{Deserialize, Serialize};
use utoipa::ToSchema;
use uuid::Uuid;

use super::cues::minutes;
use super::sheet::{CueLine, CueSheet};
use crate::identifiers::Scheme;

/// What a sheet is compared with.
#[derive(Clone, Debug, Serialize, Deserialize, PartialEq, Eq, ToSchema)]
pub struct SheetAge {
    pub stale: bool,
    /// Why, each in a sentence.
    pub reasons: Vec<String>,
    /// What is different, cue by cue.
    pub changes: Vec<CueChange>,
}

/// A difference between two sheets.
#[derive(Clone, Debug, Serialize, Deserialize, PartialEq, Eq, ToSchema)]
pub struct CueChange {
    pub kind: CueChangeKind,
    pub title: String,
    /// Number on the sheet that was sent; null for a new cue.
    #[schema(required)]
    pub was: Option<u32>,
    /// Number now; null for a cue that is gone.
    #[schema(required)]
    pub is: Option<u32>,
    /// What of it changed, in words.
    pub words: String,
}

/// How a cue is different.
#[derive(Clone, Copy, Debug, Serialize, Deserialize, PartialEq, Eq, PartialOrd, Ord, ToSchema)]
#[serde(rename_all = "snake_case")]
pub enum CueChangeKind {
    Added,
    Removed,
    Changed,
}

/// Compares a sheet that was sent with the one that the current locked cut gives (R16).
///
/// `locked`: id and name of the current locked cut; none: nothing is locked, and the sheet can't be measured.
pub fn age(sent: &CueSheet, now: &CueSheet, locked: Option<(Uuid, &str)>) -> SheetAge {
    let mut reasons = Vec::new();
    match locked {
        Some((id, name)) if id != sent.head.cut_id => reasons.push(format!(
            "It was made from {}; locked now is {name}.",
            sent.head.cut_name
        )),
        Some(_) => {}
        None => reasons.push(format!(
            "No cut is locked now; it was made from {}.",
            sent.head.cut_name
        )),
    }
    let changes = changes(&sent.lines, &now.lines);
    match changes.len() {
        0 => {}
        1 => reasons.push("1 cue is different now.".into()),
        n => reasons.push(format!("{n} cues are different now.")),
    }
    if (sent.music_seconds, sent.rule) != (now.music_seconds, now.rule) {
        reasons.push(format!(
            "Total music was {} and is {} now.",
            minutes(sent.music_seconds),
            minutes(now.music_seconds)
        ));
    }
    let head = |sheet: &CueSheet| {
        let mut head = sheet.head.clone();
        // Which cut it is and who made the sheet is said above, or is no change.
        (head.cut_id, head.cut_locked, head.cut_date, head.made_at) =
            (Uuid::nil(), true, None, None);
        (head.cut_name, head.made_by) = (String::new(), String::new());
        head
    };
    if head(sent) != head(now) {
        reasons.push("Something in the head of the sheet changed.".into());
    }
    SheetAge {
        stale: !reasons.is_empty(),
        reasons,
        changes,
    }
}

/// Differences cue by cue. Cues of one piece are matched in their order, equal ones first.
pub fn changes(sent: &[CueLine], now: &[CueLine]) -> Vec<CueChange> {
    let mut before: BTreeMap<Uuid, Vec<&CueLine>> = BTreeMap::new();
    let mut after: BTreeMap<Uuid, Vec<&CueLine>> = BTreeMap::new();
    for line in sent {
        before.entry(line.music_id).or_default().push(line);
    }
    for line in now {
        let old = before.get_mut(&line.music_id);
        let same = old.and_then(|old| {
            let at = old
                .iter()
                .position(|old| difference(old, line).is_empty())?;
            Some(old.remove(at))
        });
        if same.is_none() {
            after.entry(line.music_id).or_default().push(line);
        }
    }
    let mut all = Vec::new();
    for (music, old) in before {
        let new = after.remove(&music).unwrap_or_default();
        for at in 0..old.len().max(new.len()) {
            all.push(match (old.get(at), new.get(at)) {
                (Some(old), Some(new)) => changed(old, new),
                (Some(old), None) => one(CueChangeKind::Removed, old),
                (None, Some(new)) => one(CueChangeKind::Added, new),
                (None, None) => continue,
            });
        }
    }
    all.extend((after.into_values().flatten()).map(|line| one(CueChangeKind::Added, line)));
    all.sort_by_key(|change| (change.is.or(change.was), change.kind));
    all
}

fn one(kind: CueChangeKind, line: &CueLine) -> CueChange {
    let place = format!(
        "{} to {}, {}",
        line.starts,
        line.ends,
        minutes(line.seconds)
    );
    let (was, is, words) = match kind {
        CueChangeKind::Added => (None, Some(line.number), format!("new at {place}")),
        _ => (
            Some(line.number),
            None,
            format!("no longer there; it was at {place}"),
        ),
    };
    CueChange {
        kind,
        title: line.title.clone(),
        was,
        is,
        words,
    }
}

fn changed(old: &CueLine, new: &CueLine) -> CueChange {
    CueChange {
        kind: CueChangeKind::Changed,
        title: new.title.clone(),
        was: Some(old.number),
        is: Some(new.number),
        words: difference(old, new).join("; "),
    }
}

/// What is different between two lines of the same piece, apart from their numbers.
fn difference(old: &CueLine, new: &CueLine) -> Vec<String> {
    let mut words = Vec::new();
    if (&old.starts, &old.ends) != (&new.starts, &new.ends) {
        words.push(format!(
            "was at {} to {}, is at {} to {}",
            old.starts, old.ends, new.starts, new.ends
        ));
    }
    if old.seconds != new.seconds {
        words.push(format!(
            "length was {}, is {}",
            minutes(old.seconds),
            minutes(new.seconds)
        ));
    }
    if old.details != new.details || old.in_scene != new.in_scene {
        words.push("usage was edited".into());
    }
    if old.title != new.title {
        words.push(format!("title was “{}”", old.title));
    }
    let parties = |line: &CueLine| {
        let mut named = line.parties.clone();
        for party in &mut named {
            party.ipi = Scheme::IpiName.shown(&party.ipi);
        }
        (
            named,
            line.convention,
            line.publisher_note.clone(),
            [
                &line.writers_text,
                &line.publishers_text,
                &line.performers_text,
            ]
            .map(String::clone),
        )
    };
    if parties(old) != parties(new) {
        words.push("writers, publishers, performers or shares were edited".into());
    }
    let recording = |line: &CueLine| {
        [
            line.origin.clone(),
            line.label.clone(),
            line.catalogue_number.clone(),
            // a sheet that was sent may carry them as they were typed
            Scheme::Iswc.shown(&line.iswc),
            Scheme::Isrc.shown(&line.isrc),
        ]
    };
    if recording(old) != recording(new) || old.public_domain != new.public_domain {
        words.push("origin, label or numbers were edited".into());
    }
    words
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::music::cues::CueRule;
    use crate::music::keep::CueDetails;
    use crate::music::sheet::CueSheetHead;

    fn line(number: u32, music: u128, starts: &str, seconds: i64) -> CueLine {
        CueLine {
            number,
            music_id: Uuid::from_u128(music),
            title: format!("Piece {music}"),
            starts: starts.into(),
            ends: "end".into(),
            from_frame: 0,
            to_frame: 0,
            counted_frames: 0,
            seconds,
            details: CueDetails::default(),
            in_scene: false,
            origin: "commercial".into(),
            parties: vec![],
            convention: Default::default(),
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
            doubts: vec![],
            taken: None,
        }
    }

    fn sheet(cut: u128, name: &str, lines: Vec<CueLine>) -> CueSheet {
        CueSheet {
            head: CueSheetHead {
                cut_id: Uuid::from_u128(cut),
                cut_name: name.into(),
                ..CueSheetHead::default()
            },
            rule: CueRule::default(),
            music_frames: 0,
            music_seconds: lines.iter().map(|line| line.seconds).sum(),
            lines,
            other_seconds: None,
            music_part: None,
            open: vec![],
            assumptions: vec![],
        }
    }

    /// By hand, after R14 (the second begins where the first ends): heard 13 s, of which 12 s under another piece. Ends
    /// and length of the printed line would contradict each other without the place from where it counts.
    #[test]
    fn r14_a_line_says_from_where_it_counts() {
        let mut overlapped = line(2, 2, "10:11:34:02", 1);
        let ends = 917_177;
        (overlapped.from_frame, overlapped.to_frame) = (ends - 325, ends);
        overlapped.counted_frames = 25;
        overlapped.doubts = vec!["Please confirm.".into()];
        let mut sheet = sheet(1, "EP01", vec![line(1, 1, "10:10:28:02", 78), overlapped]);
        sheet.head.frame_rate = "25".into();
        let paper = sheet.paper();
        let usage = |row: usize| paper.sections[0].rows[row].cells[6].clone();
        assert_eq!(usage(0), "not entered");
        assert_eq!(usage(1), "not entered, counted from 10:11:26:02");
        assert!(
            paper
                .verdict
                .ends_with("Nothing is open. 1 more is worth a look."),
            "{}",
            paper.verdict
        );
    }

    /// Source: rulebook R16: sheet from `EP03_CUT_260714`; the lock `EP03_CUT_260716` replaced cue 7.
    #[test]
    fn r16_a_replaced_cue_makes_the_sheet_stale() {
        let lines = |seventh| -> Vec<CueLine> {
            (1..=8)
                .map(|n| {
                    line(
                        n,
                        if n == 7 { seventh } else { u128::from(n) },
                        &format!("10:0{n}"),
                        10,
                    )
                })
                .collect()
        };
        let sent = sheet(1, "EP03_CUT_260714", lines(7));
        let now = sheet(2, "EP03_CUT_260716", lines(70));
        let found = age(&sent, &now, Some((Uuid::from_u128(2), "EP03_CUT_260716")));
        assert!(found.stale);
        assert_eq!(
            found.reasons[0],
            "It was made from EP03_CUT_260714; locked now is EP03_CUT_260716."
        );
        let kinds: Vec<_> = (found.changes.iter())
            .map(|change| (change.kind, change.was, change.is))
            .collect();
        assert_eq!(
            kinds,
            [
                (CueChangeKind::Added, None, Some(7)),
                (CueChangeKind::Removed, Some(7), None)
            ]
        );
        let same = age(&sent, &sent, Some((Uuid::from_u128(1), "EP03_CUT_260714")));
        assert!(!same.stale && same.changes.is_empty());
    }

    /// Source: rulebook R16: any music cue edited later than the sheet's date.
    #[test]
    fn r16_an_edited_cue_makes_the_sheet_stale() {
        let sent = sheet(
            1,
            "EP03_CUT_260714",
            vec![line(1, 1, "10:00", 10), line(2, 1, "10:05", 20)],
        );
        let mut now = sent.clone();
        now.lines[1].details.performer_visible = Some(true);
        let found = age(&sent, &now, Some((Uuid::from_u128(1), "EP03_CUT_260714")));
        assert!(found.stale);
        assert_eq!(found.changes.len(), 1);
        assert_eq!(found.changes[0].words, "usage was edited");
        assert!(age(&sent, &sent, None).stale, "nothing is locked any more");
    }
}
