//! A file that somebody sends as a cut: read, or refused with what is wrong, where, and what to do.

use bytes::Bytes;
use waybill_domain::cut_name;
use waybill_domain::timecode::Rate;
use waybill_domain::timeline::{self, Timeline, TimelineError, Warning};
use waybill_domain::wording::grouped;

use super::super::{check, matching};
use crate::db::cuts::{CutFormat, EpisodeHead};
use crate::error::OpError;

/// More events than any programme has; keeps one upload from filling the database.
const MOST_EVENTS: usize = 20_000;

/// A file that somebody sends as a cut.
pub struct Upload {
    /// Name of the cut; the file's name without its extension where none is given.
    pub name: Option<String>,
    /// Name of the file.
    pub file: Option<String>,
    /// As in `25` or `29.97df`; the series' usual rate where none is given and the file says none.
    pub rate: Option<String>,
    /// Where the content does not say which.
    pub format: Option<CutFormat>,
    pub body: Bytes,
}

/// Name of the cut that an upload becomes.
pub fn name_of(upload: &Upload) -> Result<String, OpError> {
    let given = upload.name.as_deref().map(str::trim).unwrap_or_default();
    let file = upload.file.as_deref().map(str::trim).unwrap_or_default();
    let name = match (given, file.rsplit_once('.')) {
        ("", Some((stem, _))) if !stem.is_empty() => stem,
        ("", _) => file,
        (given, _) => given,
    };
    let mut faults = Vec::new();
    check::required(&mut faults, "/name", name, 200);
    check::text(&mut faults, "/file", file, 255);
    if faults.is_empty() {
        Ok(name.to_owned())
    } else {
        Err(OpError::Invalid(faults))
    }
}

/// Reads an upload; `usual` is the series' frame rate.
pub fn parse(upload: &Upload, usual: &str) -> Result<Timeline, OpError> {
    let rate = match upload.rate.as_deref().filter(|rate| !rate.is_empty()) {
        Some(text) => Some(
            text.parse::<Rate>()
                .map_err(|error| OpError::field("/rate", format!("{error}.")))?,
        ),
        None => None,
    };
    if upload.body.is_empty() {
        return Err(OpError::field("", "The file is empty; export it again."));
    }
    let name = match (upload.format, &upload.file) {
        (Some(format), _) => format!("cut.{}", format.word()),
        (None, Some(file)) => file.clone(),
        (None, None) => String::new(),
    };
    let cut = match timeline::read(&upload.body, &name, rate) {
        // A list never says its rate; the series does.
        Err(TimelineError::RateNeeded) => {
            timeline::read(&upload.body, &name, usual.parse::<Rate>().ok())
        }
        read => read,
    }
    .map_err(unreadable)?;
    if cut.events.len() > MOST_EVENTS {
        return Err(OpError::field(
            "",
            format!(
                "The cut has {} events; at most {} are taken. Send one episode at a time.",
                grouped(cut.events.len() as u64),
                grouped(MOST_EVENTS as u64)
            ),
        ));
    }
    if cut.events.is_empty() {
        return Err(OpError::field(
            "",
            "The cut has no events; export it again.",
        ));
    }
    Ok(cut)
}

/// What is no list at all is another kind of file; the rest is a fault in the list or of the rate.
fn unreadable(error: TimelineError) -> OpError {
    use TimelineError as E;
    let words = {
        let mut text = error.to_string();
        if let Some(first) = text.get(..1).map(str::to_uppercase) {
            text.replace_range(..1, &first);
        }
        text + "."
    };
    match error {
        E::NotText(_) | E::Markup | E::NotAList { .. } | E::NotATimeline { .. } => {
            OpError::UnsupportedType(words)
        }
        E::WrongRate { .. } | E::RateNeeded => OpError::field("/rate", words),
        _ => OpError::field("", words),
    }
}

/// What the name of a cut leaves open or gets wrong.
pub fn warn_about_name(cut: &mut Timeline, name: &str, episode: &EpisodeHead) {
    let said = cut_name::read(name);
    let mut warn = |text: String| {
        let at = String::new();
        cut.warnings.push(Warning { at, text });
    };
    if said.date.is_none() {
        warn(format!(
            "The name “{name}” has no date such as 260714 in it; cuts with a date count as later."
        ));
    }
    if let Some(other) = said.episode.filter(|number| *number != episode.number) {
        warn(format!(
            "The name says episode {other}; this is episode {}.",
            episode.number
        ));
    }
}

/// A warning as the database takes it.
pub fn clean_warning(warning: &Warning) -> Warning {
    Warning {
        at: matching::clean(&warning.at),
        text: matching::clean(&warning.text),
    }
}
