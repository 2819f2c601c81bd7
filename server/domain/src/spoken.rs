//! Spoken words with their times: WebVTT (W3C, "WebVTT: The Web Video Text Tracks Format") and SubRip, which has no
//! standard and is read as it is commonly written. Times count from the file's first frame.

use serde::Serialize;

use crate::textio::{self, TextError};

/// The most lines that are taken of one transcript.
pub const MOST: usize = 20_000;

/// What was said in a stretch of time.
#[derive(Debug, Clone, PartialEq, Eq, Serialize)]
pub struct Spoken {
    /// Milliseconds.
    pub start: i64,
    /// Milliseconds, after `start`.
    pub end: i64,
    /// Who speaks, where the file says so.
    pub speaker: String,
    /// Without marks of format, on one line.
    pub text: String,
}

/// Why a transcript can't be read.
#[derive(Debug, Clone, PartialEq, Eq, thiserror::Error)]
pub enum SpokenError {
    #[error(transparent)]
    Text(#[from] TextError),
    #[error(
        "line {0} is no time line; it is written 00:01:02.500 --> 00:01:04.000, in SubRip with commas"
    )]
    NoTimes(usize),
    #[error("line {0}: it ends before it begins")]
    Backwards(usize),
    #[error("no line of it has times, so nothing would be found; it must be WebVTT or SubRip")]
    Nothing,
    #[error("it has more than {MOST} lines; split it")]
    TooMany,
}

/// Reads a transcript of either form.
///
/// # Errors
/// What is wrong, with the line.
///
/// ```
/// let srt = b"1\n00:00:01,000 --> 00:00:02,000\nWREN: The tide\nis out.\n";
/// let spoken = waybill_domain::spoken::read(srt).unwrap();
/// assert_eq!((spoken[0].speaker.as_str(), spoken[0].text.as_str()), ("WREN", "The tide is out."));
/// ```
pub fn read(bytes: &[u8]) -> Result<Vec<Spoken>, SpokenError> {
    let text = textio::decode(bytes)?.text;
    let text = text.trim_start_matches('\u{feff}');
    let lines: Vec<&str> = text.lines().map(str::trim_end).collect();
    let mut all = Vec::new();
    let mut at = 0;
    while at < lines.len() {
        let end = block(&lines, at);
        if let Some(spoken) = cue(lines.get(at..end).unwrap_or_default(), at)? {
            all.push(spoken);
        }
        if all.len() > MOST {
            return Err(SpokenError::TooMany);
        }
        at = end.saturating_add(1);
    }
    if all.is_empty() {
        return Err(SpokenError::Nothing);
    }
    Ok(all)
}

/// Where the block that begins at `from` ends: at the next empty line.
fn block(lines: &[&str], from: usize) -> usize {
    let rest = lines.get(from..).unwrap_or_default();
    let length = rest.iter().position(|line| line.trim().is_empty());
    from.saturating_add(length.unwrap_or(rest.len()))
}

fn cue(block: &[&str], at: usize) -> Result<Option<Spoken>, SpokenError> {
    let first = block.first().copied().unwrap_or_default();
    let told = |key: &str| {
        first == key
            || first
                .strip_prefix(key)
                .is_some_and(|rest| rest.starts_with([' ', '\t']))
    };
    if (at == 0 && told("WEBVTT")) || ["NOTE", "STYLE", "REGION"].iter().any(|key| told(key)) {
        return Ok(None);
    }
    let Some(place) = block.iter().take(2).position(|line| line.contains("-->")) else {
        // headers and stray lines hold nothing that was said
        return Ok(None);
    };
    let number = at.saturating_add(place).saturating_add(1);
    let line = block.get(place).copied().unwrap_or_default();
    let (start, rest) = line.split_once("-->").unwrap_or((line, ""));
    let end = rest.split_whitespace().next().unwrap_or_default();
    let (Some(start), Some(end)) = (milliseconds(start.trim()), milliseconds(end)) else {
        return Err(SpokenError::NoTimes(number));
    };
    if end <= start {
        return Err(SpokenError::Backwards(number));
    }
    let said = block
        .get(place.saturating_add(1)..)
        .unwrap_or_default()
        .join(" ");
    let (speaker, text) = speaker(&said);
    Ok(Some(Spoken {
        start,
        end,
        speaker,
        text,
    })
    .filter(|spoken| !spoken.text.is_empty()))
}

/// `[HH:]MM:SS.mmm`, with a comma in SubRip.
fn milliseconds(text: &str) -> Option<i64> {
    let (clock, fraction) = text.rsplit_once(['.', ','])?;
    let plain = |part: &str, digits: usize| {
        (part.len() >= digits && part.len() <= 9 && part.bytes().all(|b| b.is_ascii_digit()))
            .then(|| part.parse::<i64>().ok())
            .flatten()
    };
    let parts: Vec<&str> = clock.split(':').collect();
    let (hours, minutes, seconds) = match parts.as_slice() {
        [minutes, seconds] => (0, plain(minutes, 2)?, plain(seconds, 2)?),
        [hours, minutes, seconds] => (plain(hours, 1)?, plain(minutes, 2)?, plain(seconds, 2)?),
        _ => return None,
    };
    if minutes > 59 || seconds > 59 || fraction.len() != 3 {
        return None;
    }
    let whole = hours
        .checked_mul(3600)?
        .checked_add(minutes * 60 + seconds)?;
    whole.checked_mul(1000)?.checked_add(plain(fraction, 3)?)
}

/// Who speaks, by a voice tag or a name in capitals before a colon, and what, without tags.
fn speaker(said: &str) -> (String, String) {
    let mut name = String::new();
    let mut text = String::new();
    let mut rest = said;
    while let Some((before, tag_on)) = rest.split_once('<') {
        text.push_str(before);
        let Some((tag, after)) = tag_on.split_once('>') else {
            text.push('<');
            rest = tag_on;
            continue;
        };
        if let Some((voice, who)) = tag.split_once(' ')
            && (voice == "v" || voice.starts_with("v."))
            && name.is_empty()
        {
            name = who.trim().to_owned();
        }
        rest = after;
    }
    text.push_str(rest);
    for (escaped, plain) in [
        ("&lt;", "<"),
        ("&gt;", ">"),
        ("&nbsp;", " "),
        ("&lrm;", ""),
        ("&rlm;", ""),
        ("&amp;", "&"),
    ] {
        text = text.replace(escaped, plain);
    }
    let text = text.split_whitespace().collect::<Vec<_>>().join(" ");
    match text.split_once(": ") {
        Some((who, what)) if name.is_empty() && capitals(who) => (who.to_owned(), what.to_owned()),
        _ => (name, text),
    }
}

fn capitals(who: &str) -> bool {
    let letters = || who.chars().filter(|c| c.is_alphabetic());
    who.chars().count() <= 40 && letters().count() > 1 && letters().all(char::is_uppercase)
}

#[cfg(test)]
mod tests {
    use super::*;

    fn times(text: &str) -> Vec<(i64, i64, String)> {
        let all = read(text.as_bytes()).expect("a transcript");
        all.into_iter()
            .map(|one| (one.start, one.end, one.text))
            .collect()
    }

    /// The first example of the W3C text, section 1.1, in its shape: cues with and without hours, a voice.
    #[test]
    fn cues_notes_and_voices_of_webvtt() {
        let text = "WEBVTT\n\nNOTE none of this\nis said --> here\n\n00:11.000 --> 00:13.000 align:start\n\
                    <v Wren Askew>We are in <i>New York</i> City\n\n01:00:13.000 --> 01:00:16.000\nLate &amp; low\n";
        let all = read(text.as_bytes()).expect("a transcript");
        assert_eq!(all[0].speaker, "Wren Askew");
        assert_eq!(
            times(text),
            [
                (11_000, 13_000, "We are in New York City".into()),
                (3_613_000, 3_616_000, "Late & low".into())
            ]
        );
    }

    #[test]
    fn faults_name_their_line() {
        for (text, fault) in [
            (
                "WEBVTT\n\n00:61.000 --> 00:62.000\nx\n",
                SpokenError::NoTimes(3),
            ),
            (
                "1\n00:00:02,000 --> 00:00:02,000\nx\n",
                SpokenError::Backwards(2),
            ),
            ("just words\n", SpokenError::Nothing),
        ] {
            assert_eq!(read(text.as_bytes()), Err(fault));
        }
    }

    #[test]
    fn what_is_odd_does_not_panic() {
        for text in [
            "-->",
            "WEBVTT",
            "1\n--> -->\n<<<>",
            "00:00.000 --> 99999999999:00:00.000\nx",
        ] {
            let _ = read(text.as_bytes());
        }
    }
}
