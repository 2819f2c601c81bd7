//! Selects in a row, for an editing system to take in: as a plain-text list (the family of SMPTE ST 258) and as
//! OpenTimelineIO JSON. Both are read back by this module's own readers.

use serde_json::{Value, json};

use super::otio::as_float;
use crate::timecode::Rate;

/// A file, or a part of it.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Select {
    /// Empty when the header tells none.
    pub reel: String,
    /// The file's name.
    pub clip: String,
    /// Where a copy of it lies; empty when nobody knows.
    pub path: String,
    pub picture: bool,
    /// At which its labels count.
    pub rate: Rate,
    /// Label of its first used frame, as frames from 00:00:00:00…
    pub start: i64,
    /// …and of the first frame after.
    pub end: i64,
    /// Label of the file's first frame, and how many it has.
    pub available: (i64, i64),
    pub words: String,
}

/// One hour, where picture usually begins (common practice, no source).
fn first_frame(rate: Rate) -> i64 {
    rate.frame("01:00:00:00").unwrap_or_default()
}

/// Reels of the family have no blanks and are short; what has no reel goes by its clip's name.
fn reel(select: &Select) -> String {
    let name = match select.reel.trim() {
        "" => select
            .clip
            .rsplit_once('.')
            .map_or(&*select.clip, |(stem, _)| stem),
        reel => reel,
    };
    let plain = |c: char| {
        if c.is_ascii_alphanumeric() || "_-.".contains(c) {
            c
        } else {
            '_'
        }
    };
    let short: String = name.chars().map(plain).take(32).collect();
    match short.as_str() {
        "" | "BL" | "bl" => "AX".to_owned(),
        _ => short,
    }
}

/// One line, so that a name can't become another line.
fn line(text: &str) -> String {
    text.split(|c: char| c.is_control())
        .filter(|part| !part.is_empty())
        .collect::<Vec<_>>()
        .join(" ")
}

/// A list of the selects one after the other. A list counts at one rate: selects at another are named at its end as
/// comments, with their rate, and are no events.
pub fn edl(title: &str, rate: Rate, selects: &[Select]) -> String {
    let mode = if rate.drop() {
        "DROP FRAME"
    } else {
        "NON-DROP FRAME"
    };
    let mut out = format!("TITLE: {}\r\nFCM: {mode}\r\n", line(title));
    let mut at = first_frame(rate);
    let (here, others): (Vec<_>, Vec<_>) = selects
        .iter()
        .filter(|select| select.end > select.start)
        .partition(|select| select.rate == rate);
    for (number, select) in (1..).zip(here) {
        let end = at.saturating_add(rate.frames_between(select.start, select.end));
        let channel = if select.picture { "V" } else { "A" };
        out.push_str(&format!(
            "{number:03}  {:<8} {channel:<5} C        {} {} {} {}\r\n* FROM CLIP NAME: {}\r\n",
            reel(select),
            rate.label(select.start),
            rate.label(select.end),
            rate.label(at),
            rate.label(end),
            line(&select.clip),
        ));
        if !select.path.is_empty() {
            out.push_str(&format!("* SOURCE FILE: {}\r\n", line(&select.path)));
        }
        if !select.words.is_empty() {
            out.push_str(&format!("* {}\r\n", line(&select.words)));
        }
        at = end;
    }
    for select in others {
        out.push_str(&format!(
            "* NOT IN THIS LIST, WHICH COUNTS AT {}: {} COUNTS AT {}\r\n",
            rate.name(),
            line(&select.clip),
            select.rate.name()
        ));
    }
    out
}

/// A timeline of one track with the selects one after the other, each at its own rate.
pub fn otio(title: &str, rate: Rate, selects: &[Select]) -> Value {
    let clips: Vec<Value> = selects
        .iter()
        .filter(|select| select.end > select.start)
        .map(clip)
        .collect();
    let start = first_frame(rate);
    json!({
        "OTIO_SCHEMA": "Timeline.1",
        "metadata": {},
        "name": title,
        "global_start_time": time(start, rate),
        "tracks": {
            "OTIO_SCHEMA": "Stack.1",
            "metadata": {}, "name": "tracks", "source_range": null, "effects": [], "markers": [], "enabled": true,
            "children": [{
                "OTIO_SCHEMA": "Track.1",
                "metadata": {}, "name": "Selects", "kind": "Video", "source_range": null, "effects": [],
                "markers": [], "enabled": true, "children": clips,
            }],
        },
    })
}

fn clip(select: &Select) -> Value {
    let (first, frames) = select.available;
    let media = match select.path.as_str() {
        "" => json!({ "OTIO_SCHEMA": "MissingReference.1", "metadata": {}, "name": select.clip,
            "available_range": range(first, frames, select.rate) }),
        path => json!({ "OTIO_SCHEMA": "ExternalReference.1", "metadata": {}, "name": select.clip,
            "target_url": path, "available_range": range(first, frames, select.rate) }),
    };
    let mut metadata = json!({});
    if !select.reel.is_empty() {
        metadata["reel"] = json!(select.reel);
    }
    if !select.words.is_empty() {
        metadata["note"] = json!(select.words);
    }
    let frames = select.rate.frames_between(select.start, select.end);
    json!({
        "OTIO_SCHEMA": "Clip.1",
        "metadata": metadata, "name": select.clip, "effects": [], "markers": [], "enabled": true,
        "source_range": range(select.start, frames, select.rate),
        "media_reference": media,
    })
}

fn range(start: i64, frames: i64, rate: Rate) -> Value {
    json!({ "OTIO_SCHEMA": "TimeRange.1", "start_time": time(start, rate), "duration": time(frames, rate) })
}

fn time(frame: i64, rate: Rate) -> Value {
    json!({ "OTIO_SCHEMA": "RationalTime.1", "value": frame, "rate": as_float(rate) })
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::timeline::read;

    fn rate(name: &str) -> Rate {
        name.parse().expect("a rate")
    }

    fn select(clip: &str, rate_name: &str, from: &str, to: &str) -> Select {
        let rate = rate(rate_name);
        let at = |label: &str| rate.frame(label).expect("a label");
        Select {
            reel: "A001".into(),
            clip: clip.into(),
            path: format!("QUAY 1/{clip}"),
            picture: true,
            rate,
            start: at(from),
            end: at(to),
            available: (at(from), 500),
            words: "Wren laughs".into(),
        }
    }

    #[test]
    fn a_list_is_read_back_as_it_was_meant() {
        let all = [
            select("A001C001.mov", "25", "10:00:00:00", "10:00:02:00"),
            select("A001C002.mov", "25", "10:05:00:00", "10:05:00:10"),
            select("A001C003.mov", "50", "10:05:00:00", "10:05:00:10"),
        ];
        let text = edl("Selects", rate("25"), &all);
        let cut = read(text.as_bytes(), "selects.edl", Some(rate("25"))).expect("a list");
        assert_eq!((cut.title.as_str(), cut.duration), ("Selects", 60));
        let used: Vec<_> = cut
            .events
            .iter()
            .map(|event| {
                (
                    event.clip.as_str(),
                    event.source.map(|used| (used.start, used.end)),
                )
            })
            .collect();
        assert_eq!(
            used,
            [
                ("A001C001.mov", Some((900_000, 900_050))),
                ("A001C002.mov", Some((907_500, 907_510)))
            ]
        );
        assert!(text.contains("COUNTS AT 25: A001C003.mov COUNTS AT 50"));
    }

    /// SMPTE ST 12-1: labels ;00 and ;01 are left out at each minute but every tenth, at 29.97 drop-frame.
    #[test]
    fn drop_frame_lists_say_so_and_count_so() {
        let all = [select("B.mov", "29.97df", "10:00:59;29", "10:01:00;04")];
        let text = edl("Selects", rate("29.97df"), &all);
        assert!(text.contains("FCM: DROP FRAME"));
        let cut = read(text.as_bytes(), "selects.edl", Some(rate("29.97"))).expect("a list");
        assert_eq!(cut.duration, 3);
    }

    #[test]
    fn a_timeline_is_read_back_with_each_rate() {
        let all = [
            select("A001C001.mov", "25", "10:00:00:00", "10:00:02:00"),
            select("A001C003.mov", "50", "10:05:00:00", "10:05:00:10"),
        ];
        let text = otio("Selects", rate("25"), &all).to_string();
        let cut = read(text.as_bytes(), "selects.otio", None).expect("a timeline");
        assert_eq!(cut.events.len(), 2);
        assert_eq!(cut.duration, 55);
        let source = cut.events[1].source.expect("a source");
        assert_eq!(source.end - source.start, 10);
    }

    #[test]
    fn no_name_becomes_a_line_of_its_own() {
        let mut odd = select("a\r\n002  B V C.mov", "25", "10:00:00:00", "10:00:02:00");
        odd.reel = "A 1/é".into();
        let text = edl("T\nX", rate("25"), &[odd]);
        assert_eq!(
            text.lines().filter(|line| line.starts_with("00")).count(),
            1
        );
        assert!(text.contains("A_1__"));
    }
}
