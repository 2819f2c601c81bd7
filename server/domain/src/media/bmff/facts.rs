//! What follows from a movie's boxes: rate, count, exact length, and the timecode of the first picture.

use chrono::{NaiveDate, NaiveDateTime, TimeDelta};

use super::super::bytes::four_cc_text;
use super::super::{Audio, Container, MediaFacts, Ratio, StartTimecode, known_rate, ratio_of};
use super::{Movie, TimecodeEntry, Track};

impl Movie {
    /// The first picture track.
    fn picture(&self) -> Option<&Track> {
        self.tracks.iter().find(|track| &track.handler == b"vide")
    }

    /// The timecode track that the picture (or else any track) refers to, or else the only one.
    fn timecode(&self) -> Option<(&Track, &TimecodeEntry)> {
        let referring = self.picture().into_iter().chain(&self.tracks);
        let named = referring
            .flat_map(|track| &track.references)
            .filter(|(kind, _)| kind == b"tmcd")
            .flat_map(|(_, ids)| ids)
            .find_map(|id| self.tracks.iter().find(|track| track.id == *id));
        let track = named.or_else(|| self.tracks.iter().find(|track| &track.handler == b"tmcd"))?;
        Some((track, track.entry.timecode.as_ref()?))
    }

    /// The facts; a contradiction is a warning.
    pub fn facts(&self) -> MediaFacts {
        let mut facts = MediaFacts {
            container: match self.brand.as_ref() {
                None | Some(b"qt  ") => Container::QuickTime,
                Some(_) => Container::Mp4,
            },
            recorded: self.recorded(),
            audio: self.audio(),
            ..MediaFacts::default()
        };
        match self.picture() {
            Some(picture) => picture_facts(picture, self.header.timescale, &mut facts),
            None => facts.duration = self.sound_duration(),
        }
        if self.fragmented {
            self.fragmented_facts(&mut facts);
        }
        self.timecode_facts(&mut facts);
        facts
    }

    fn sound_duration(&self) -> Option<Ratio> {
        let sound = self.tracks.iter().find(|track| &track.handler == b"soun")?;
        seconds(sound.media_duration?, sound.timescale)
    }

    /// Lengths stand in the fragments, but for a total that may be given.
    fn fragmented_facts(&self, facts: &mut MediaFacts) {
        if facts.frame_count == Some(0) {
            facts.frame_count = None;
            facts.duration = self
                .fragments_duration
                .and_then(|total| seconds(total, self.header.timescale));
        }
        facts.warnings.push(
            "The file is written in fragments; number of pictures, rate and length may be missing."
                .to_owned(),
        );
    }

    /// When the file was begun. The count is of seconds since 1904, by intent in UTC.
    fn recorded(&self) -> Option<NaiveDateTime> {
        let since_1904 = TimeDelta::try_seconds(i64::try_from(self.header.created).ok()?)?;
        let epoch = NaiveDate::from_ymd_opt(1904, 1, 1)?.and_hms_opt(0, 0, 0)?;
        epoch
            .checked_add_signed(since_1904)
            .filter(|_| self.header.created > 0)
    }

    fn audio(&self) -> Option<Audio> {
        let mut sounds = self
            .tracks
            .iter()
            .filter_map(|track| track.entry.audio.as_ref());
        let mut all = sounds.next()?.clone();
        for more in sounds {
            all.channels = all.channels.saturating_add(more.channels);
        }
        Some(all)
    }

    fn timecode_facts(&self, facts: &mut MediaFacts) {
        let Some((track, entry)) = self.timecode() else {
            return;
        };
        facts.reel.clone_from(&entry.reel);
        let rate = known_rate(
            entry.timescale.into(),
            entry.frame_duration.into(),
            entry.is_drop(),
        );
        let (Some(rate), false) = (rate, entry.is_counter()) else {
            facts
                .warnings
                .push("The timecode track does not count hours to frames.".to_owned());
            return;
        };
        if i64::from(entry.frames_per_second) != rate.nominal() {
            facts.warnings.push(format!(
                "The timecode track counts {} frames a second by name but {} by duration; \
                 the duration was taken.",
                entry.frames_per_second,
                rate.nominal()
            ));
        }
        if entry.is_drop() && !rate.drop() {
            facts.warnings.push(format!(
                "The timecode is marked drop-frame, which does not exist at {rate}."
            ));
        }
        if facts.rate.is_some_and(|picture| picture != ratio_of(rate)) {
            facts
                .warnings
                .push("The timecode counts at another rate than the picture.".to_owned());
        }
        let shift = self.start_shift(track, rate.with_drop(false));
        let frame = track
            .first_frame
            .map(i64::from)
            .and_then(|first| first.checked_add(shift));
        match frame {
            Some(frame) if frame >= 0 => facts.start = Some(StartTimecode::new(rate, frame)),
            Some(_) => facts
                .warnings
                .push("The timecode is negative; it was left out.".to_owned()),
            None => facts
                .warnings
                .push("The timecode track has no sample.".to_owned()),
        }
    }

    /// Frames from the timecode's first sample to the first picture on show. Both tracks lie on the movie's
    /// line through their edit lists: a leading empty edit delays, a media time leaves out a beginning.
    fn start_shift(&self, timecode: &Track, rate: crate::timecode::Rate) -> i64 {
        let movie_frames = |track: &Track| {
            Some(rate.frame_at(seconds(track.leading_gap(), self.header.timescale)?))
        };
        let picture_delay = self.picture().and_then(movie_frames).unwrap_or(0);
        let timecode_delay = movie_frames(timecode).unwrap_or(0);
        let left_out = u64::try_from(timecode.media_start()).ok();
        let left_out = left_out.and_then(|units| seconds(units, timecode.timescale));
        let left_out = left_out.map_or(0, |seconds| rate.frame_at(seconds));
        picture_delay
            .saturating_sub(timecode_delay)
            .saturating_add(left_out)
    }
}

impl Track {
    /// Length of the empty edits at the beginning, in the movie's timescale.
    fn leading_gap(&self) -> u64 {
        let empty = self.edits.iter().take_while(|edit| edit.media_time < 0);
        empty.fold(0, |sum, edit| sum.saturating_add(edit.duration))
    }

    /// Where in the media the first edit begins, after the decoder's own delay.
    fn media_start(&self) -> i64 {
        let first = self.edits.iter().find(|edit| edit.media_time >= 0);
        first.map_or(0, |edit| edit.media_time.saturating_sub(self.first_offset))
    }

    /// Samples in the file.
    pub fn sample_count(&self) -> u64 {
        self.times
            .iter()
            .fold(0, |sum, (count, _)| sum.saturating_add((*count).into()))
    }
}

fn seconds(units: u64, timescale: u32) -> Option<Ratio> {
    Ratio::new(i64::try_from(units).ok()?, timescale.into())
}

fn picture_facts(picture: &Track, movie_scale: u32, facts: &mut MediaFacts) {
    facts.width = picture.entry.size.map(|(width, _)| width);
    facts.height = picture.entry.size.map(|(_, height)| height);
    facts.codec = Some(four_cc_text(picture.entry.kind)).filter(|code| !code.is_empty());
    facts.frame_count = Some(picture.sample_count());
    facts.duration = picture
        .media_duration
        .and_then(|units| seconds(units, picture.timescale));
    facts.rate = picture_rate(picture, &mut facts.warnings);
    if picture.media_start() >= i64::from(one_sample(picture)) || shows_part(picture, movie_scale) {
        facts.warnings.push(
            "The edit list shows only a part of the pictures; the count is of all in the file."
                .to_owned(),
        );
    }
    if picture
        .edits
        .iter()
        .any(|edit| edit.rate != 1 << 16 && edit.media_time >= 0)
    {
        facts
            .warnings
            .push("The edit list changes the speed; it was not applied.".to_owned());
    }
}

/// Whether the edits are shorter than the media by more than a picture (their time is coarser).
fn shows_part(picture: &Track, movie_scale: u32) -> bool {
    let shown = picture.edits.iter().filter(|edit| edit.media_time >= 0);
    let shown = shown.fold(0_u64, |sum, edit| sum.saturating_add(edit.duration));
    let media = picture
        .media_duration
        .unwrap_or(0)
        .saturating_sub(one_sample(picture).into());
    let (shown, scale) = (u128::from(shown), u128::from(picture.timescale));
    shown > 0 && shown.saturating_mul(scale) < u128::from(media).saturating_mul(movie_scale.into())
}

/// Duration of the first sample, at least 1.
fn one_sample(track: &Track) -> u32 {
    track
        .times
        .first()
        .map_or(1, |(_, duration)| (*duration).max(1))
}

/// The rate, when all samples last equally long. The last alone may differ: some writers end it early.
fn picture_rate(picture: &Track, warnings: &mut Vec<String>) -> Option<Ratio> {
    let (_, first) = picture.times.first()?;
    let differing: Vec<_> = picture
        .times
        .iter()
        .filter(|(_, length)| length != first)
        .collect();
    match differing.as_slice() {
        [] => {}
        [only @ (1, _)] if picture.times.last() == Some(*only) => {
            warnings.push("The last picture is not as long as the others.".to_owned());
        }
        _ => {
            warnings.push("The frame rate is variable; the file has no one rate.".to_owned());
            return None;
        }
    }
    match known_rate(picture.timescale.into(), (*first).into(), false) {
        Some(rate) => Some(ratio_of(rate)),
        None => Ratio::new(picture.timescale.into(), (*first).into()).filter(|r| r.num > 0),
    }
}
