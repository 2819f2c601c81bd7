//! Why a cut cannot be read: what, where, and what to do about it.

use crate::textio::TextError;
use crate::timecode::{Rate, TimecodeError};

/// Nothing of the file was taken.
#[derive(Debug, Clone, PartialEq, Eq, thiserror::Error)]
pub enum TimelineError {
    #[error(transparent)]
    NotText(#[from] TextError),
    #[error("the file holds only blank lines; export it again")]
    Blank,
    #[error(
        "this is an XML or HTML file, not an edit list; export the cut as an EDL or as OpenTimelineIO"
    )]
    Markup,
    #[error("the file does not say its frame rate; give one, such as 25 or 29.97df")]
    RateNeeded,
    #[error(
        "this is not an edit list: no line has an event number and four timecodes \
         (line {line} is \"{text}\"); choose an EDL or an OpenTimelineIO file"
    )]
    NotAList { line: u32, text: String },
    #[error("the list has a title but no events; export it again")]
    NoEvents,
    #[error("line {line}: {problem}; correct the line or export the list again")]
    Timecode { line: u32, problem: TimecodeError },
    #[error(
        "line {line}: \"{label}\" cannot be at {rate}, which counts frames 00 to {last:02}; \
         the list would fit {fits}"
    )]
    WrongRate {
        line: u32,
        label: String,
        rate: Rate,
        last: i64,
        fits: String,
    },
    #[error(
        "line {line} starts like event {event} but does not have four timecodes: \"{text}\"; \
         correct the line or export the list again"
    )]
    DamagedEvent {
        line: u32,
        event: String,
        text: String,
    },
    #[error(
        "the list breaks off in the middle of event {event} (line {line}); \
         export or upload it again, it is not complete"
    )]
    CutShort { line: u32, event: String },
    #[error("the file breaks off at line {line}; export or upload it again, it is not complete")]
    JsonCutShort { line: usize },
    #[error("line {line}, column {column}: not readable as JSON ({problem})")]
    Json {
        line: usize,
        column: usize,
        problem: String,
    },
    #[error(
        "the file is JSON but no OpenTimelineIO timeline ({found}); export the cut as OpenTimelineIO"
    )]
    NotATimeline { found: String },
}
