//! One line of an edit list, read by its words. Nothing here looks at another line.

use crate::timecode::{Label, TimecodeError};

/// What a line is.
#[derive(Debug, Clone, PartialEq, Eq)]
pub(super) enum Line {
    Blank,
    Title(String),
    /// Frame code mode: whether the labels from here on count drop-frame.
    Fcm {
        drop: bool,
    },
    Event(Box<EventLine>),
    /// Starts like an event, but does not have four timecodes in a row: perhaps only a comment that
    /// begins with a number, when it has none.
    DamagedEvent {
        event: String,
        timecodes: usize,
    },
    /// A timecode of an event is out of range.
    BadTimecode(TimecodeError),
    Speed(Speed),
    /// Further sound channels of the edit above.
    Channels(Vec<String>),
    Note(Note),
}

/// The fields of an event line, as written.
#[derive(Debug, Clone, PartialEq, Eq)]
pub(super) struct EventLine {
    pub event: String,
    pub reel: String,
    pub channels: String,
    /// `C`, `D`, `W001`, `K B`…
    pub transition: String,
    /// Frames of the transition.
    pub duration: Option<i64>,
    pub labels: Labels,
    /// Words after the fourth timecode, which no form of list has.
    pub rest: String,
}

/// The four timecodes of an event line.
#[derive(Debug, Clone, PartialEq, Eq)]
pub(super) struct Labels {
    pub source_in: Label,
    pub source_out: Label,
    pub record_in: Label,
    pub record_out: Label,
}

/// A speed line (`M2`).
#[derive(Debug, Clone, PartialEq, Eq)]
pub(super) struct Speed {
    pub reel: String,
    /// Source frames a second, as written.
    pub fps: String,
    /// The same in millionths, signed.
    pub millionths: i64,
    /// The source position, as written; empty when missing.
    pub at: String,
}

/// A comment, and what it is about.
#[derive(Debug, Clone, PartialEq, Eq)]
pub(super) enum Note {
    FromClip(String),
    ToClip(String),
    SourceFile(String),
    FromFile(String),
    Marker(String),
    /// Marked as a comment, or a line that names an effect.
    Text(String),
    /// Neither marked as a comment nor known.
    Unmarked(String),
}

pub(super) fn parse(text: &str) -> Line {
    let text = text.trim();
    let words: Vec<&str> = text.split_whitespace().collect();
    let Some(first) = words.first() else {
        return Line::Blank;
    };
    if let Some(title) = after_key(text, "TITLE") {
        return Line::Title(title.to_owned());
    }
    if let Some(mode) = after_key(text, "FCM") {
        let mode = mode.to_ascii_uppercase();
        if mode.contains("DROP") {
            let drop = !mode.contains("NON");
            return Line::Fcm { drop };
        }
    }
    if first.bytes().all(|b| b.is_ascii_digit()) {
        if let Some(line) = event(&words) {
            return line;
        }
    } else if first.eq_ignore_ascii_case("M2") {
        if let Some(speed) = speed(&words) {
            return Line::Speed(speed);
        }
    } else if first.eq_ignore_ascii_case("AUD") && words.len() > 1 {
        return Line::Channels(words.iter().skip(1).map(|&word| word.to_owned()).collect());
    }
    Line::Note(note(text))
}

/// The text after `KEY:`, whatever its case and however many blanks stand around the colon.
fn after_key<'a>(text: &'a str, key: &str) -> Option<&'a str> {
    let (before, after) = text.split_once(':')?;
    before
        .trim()
        .eq_ignore_ascii_case(key)
        .then(|| after.trim())
}

/// Reads an event from the right: fixed columns fail on real lists, and a reel may hold blanks.
fn event(words: &[&str]) -> Option<Line> {
    let is_timecode = |word: &&str| word.parse::<Label>() != Err(not_a_label(word));
    let (&event, _) = words.split_first()?;
    let Some(at) = words
        .windows(4)
        .position(|four| four.iter().all(is_timecode))
    else {
        let timecodes = words.iter().filter(|word| is_timecode(word)).count();
        let event = event.to_owned();
        return (event.len() >= 3).then_some(Line::DamagedEvent { event, timecodes });
    };
    let (mut fields, timecodes) = words.split_at(at);
    fields = fields.get(1..)?;
    let (four, rest) = timecodes.split_at(4);
    let labels = match labels(four) {
        Ok(labels) => labels?,
        Err(problem) => return Some(Line::BadTimecode(problem)),
    };
    let mut duration = None;
    if let [before @ .., last] = fields
        && before.len() >= 2
        && last.len() <= 4
        && last.bytes().all(|b| b.is_ascii_digit())
    {
        duration = last.parse().ok();
        fields = before;
    }
    let transition = take_transition(&mut fields);
    let channels = fields.split_last().map_or("", |(last, before)| {
        fields = before;
        last
    });
    Some(Line::Event(Box::new(EventLine {
        event: event.to_owned(),
        reel: fields.join(" "),
        channels: channels.to_owned(),
        transition,
        duration,
        labels,
        rest: rest.join(" "),
    })))
}

fn not_a_label(word: &str) -> TimecodeError {
    TimecodeError::NotALabel(word.to_owned())
}

fn labels(four: &[&str]) -> Result<Option<Labels>, TimecodeError> {
    let [source_in, source_out, record_in, record_out] = four else {
        return Ok(None);
    };
    Ok(Some(Labels {
        source_in: source_in.parse()?,
        source_out: source_out.parse()?,
        record_in: record_in.parse()?,
        record_out: record_out.parse()?,
    }))
}

/// Takes the transition off the end: one word, or the two words `K B`.
fn take_transition(fields: &mut &[&str]) -> String {
    match *fields {
        [before @ .., key, back]
            if before.len() >= 2 && matches!((*key, *back), ("K" | "k", "B" | "b")) =>
        {
            *fields = before;
            format!("{key} {back}")
        }
        [before @ .., last] => {
            *fields = before;
            (*last).to_owned()
        }
        [] => String::new(),
    }
}

/// `M2 REEL fps timecode`, from the right: the reel may hold blanks or be missing.
fn speed(words: &[&str]) -> Option<Speed> {
    let (last, before) = words.get(1..)?.split_last()?;
    let (at, before) = match last.parse::<Label>() {
        Ok(_) => (*last, before),
        Err(_) => ("", words.get(1..)?),
    };
    let (fps, reel) = before.split_last()?;
    Some(Speed {
        reel: reel.join(" "),
        fps: (*fps).to_owned(),
        millionths: millionths(fps)?,
        at: at.to_owned(),
    })
}

fn millionths(decimal: &str) -> Option<i64> {
    let (sign, digits) = match decimal.strip_prefix('-') {
        Some(digits) => (-1, digits),
        None => (1, decimal.strip_prefix('+').unwrap_or(decimal)),
    };
    let (whole, fraction) = digits.split_once('.').unwrap_or((digits, ""));
    let plain = |s: &str| s.len() <= 6 && s.bytes().all(|b| b.is_ascii_digit());
    if whole.is_empty() || !plain(whole) || !plain(fraction) {
        return None;
    }
    let value: i64 = format!("{whole}{fraction:0<6}").parse().ok()?;
    Some(sign * value)
}

fn note(text: &str) -> Note {
    let (marked, body) = match text.strip_prefix('*') {
        Some(body) => (true, body.trim()),
        None => (false, text),
    };
    let value = |key: &str| after_key(body, key).map(str::to_owned);
    let known = None
        .or_else(|| value("FROM CLIP NAME").map(Note::FromClip))
        .or_else(|| value("TO CLIP NAME").map(Note::ToClip))
        .or_else(|| value("SOURCE FILE").map(Note::SourceFile))
        .or_else(|| value("FROM CLIP").map(Note::FromFile))
        .or_else(|| value("FROM FILE").map(Note::FromFile))
        .or_else(|| value("LOC").map(Note::Marker));
    if let Some(note) = known {
        return note;
    }
    let body = body.to_owned();
    if marked || body.to_ascii_uppercase().starts_with("EFFECTS NAME IS") {
        Note::Text(body)
    } else {
        Note::Unmarked(body)
    }
}
