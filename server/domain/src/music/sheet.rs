//! The cue sheet: its head (rulebook 3.3), a line for each cue, what is still open, and how it is printed.

use chrono::{DateTime, NaiveDate, Utc};
use serde::{Deserialize, Serialize};
use utoipa::ToSchema;
use uuid::Uuid;

use super::cues::{CueRule, Overlaps, PrintedTotal, Rounding, minutes};
use super::keep::{CueDetails, Taken};
use super::shares::{Party, PartyRole, ShareConvention, ShareSide, percent, source_beside};
use crate::papers::{NOT_ADVICE, PaperFact, PaperSection, PrintedPaper};
use crate::timecode::Rate;
use crate::wording::date_words;

/// A cue sheet, complete as it is printed.
#[derive(Clone, Debug, PartialEq, Eq, Serialize, Deserialize, ToSchema)]
pub struct CueSheet {
    pub head: CueSheetHead,
    pub rule: CueRule,
    pub lines: Vec<CueLine>,
    /// Frames with music in them, each counted once.
    pub music_frames: i64,
    /// The total that is printed, by the rule.
    pub music_seconds: i64,
    /// The other total, where it differs.
    #[schema(required)]
    pub other_seconds: Option<i64>,
    /// Tenths of a percent of the programme.
    #[schema(required)]
    pub music_part: Option<i64>,
    /// What a society would stumble over, of the sheet as a whole.
    pub open: Vec<String>,
    pub assumptions: Vec<String>,
}

/// The head of a cue sheet.
#[derive(Clone, Debug, Default, PartialEq, Eq, Serialize, Deserialize, ToSchema)]
pub struct CueSheetHead {
    pub series: String,
    pub producer_entity: String,
    pub contact: String,
    pub episode_number: i32,
    pub episode_title: String,
    pub also_known_as: String,
    pub production_number: String,
    pub country: String,
    pub year: String,
    pub director: String,
    #[schema(required)]
    pub first_transmission: Option<NaiveDate>,
    /// The day is planned, not known.
    pub transmission_is_planned: bool,
    pub cut_id: Uuid,
    pub cut_name: String,
    #[schema(required)]
    pub cut_date: Option<NaiveDate>,
    pub cut_locked: bool,
    pub frame_rate: String,
    pub programme_seconds: i64,
    /// Instant and author of this sheet.
    #[schema(required)]
    pub made_at: Option<DateTime<Utc>>,
    pub time_zone: String,
    pub made_by: String,
}

/// A cue on the sheet.
#[derive(Clone, Debug, PartialEq, Eq, Serialize, Deserialize, ToSchema)]
pub struct CueLine {
    pub number: u32,
    pub music_id: Uuid,
    pub title: String,
    /// Record timecode of the first frame, and of the first after the last.
    pub starts: String,
    pub ends: String,
    /// The same in frames counted from 00:00:00:00: the cue as it is heard.
    pub from_frame: i64,
    pub to_frame: i64,
    /// Frames of it that are counted.
    pub counted_frames: i64,
    pub seconds: i64,
    pub details: CueDetails,
    /// Heard in the footage itself.
    pub in_scene: bool,
    /// `commercial`, `production`, `commissioned`, `live`.
    pub origin: String,
    pub parties: Vec<Party>,
    pub convention: ShareConvention,
    /// Why there is no publisher.
    pub publisher_note: String,
    /// What was typed in before parties were entered one by one.
    pub writers_text: String,
    pub publishers_text: String,
    pub performers_text: String,
    pub label: String,
    pub catalogue_number: String,
    pub iswc: String,
    pub isrc: String,
    pub public_domain: bool,
    /// What a society would stumble over.
    pub open: Vec<String>,
    /// Worth a look; it passes.
    pub doubts: Vec<String>,
    /// Where what was said of it was taken from; null: nothing was said.
    #[schema(required)]
    pub taken: Option<Taken>,
}

impl CueSheet {
    /// How many points are open, of the sheet and of its cues.
    pub fn open_points(&self) -> usize {
        self.open.len() + self.lines.iter().map(|line| line.open.len()).sum::<usize>()
    }

    /// The sheet as it is printed.
    pub fn paper(&self) -> PrintedPaper {
        let head = &self.head;
        PrintedPaper {
            title: "Music cue sheet".into(),
            series: head.series.clone(),
            episode: format!("Episode {}, {}", head.episode_number, head.episode_title),
            cut: head.cut_name.clone(),
            verdict: self.verdict(),
            facts: self.facts(),
            sections: vec![self.list(), self.open_list()],
            assumptions: self.assumptions.clone(),
            cautions: vec![
                "Titles, writers, publishers and shares are as they were entered; the societies’ own records decide."
                    .into(),
                "A public-domain composition is an estimate and differs by country; a recording of it has rights of \
                 its own."
                    .into(),
                NOT_ADVICE.into(),
            ],
            landscape: true,
            made_at: head.made_at.unwrap_or_default(),
            time_zone: head.time_zone.clone(),
            made_by: head.made_by.clone(),
        }
    }

    fn verdict(&self) -> String {
        let cues = match self.lines.len() {
            1 => "1 cue".to_owned(),
            n => format!("{n} cues"),
        };
        let open = match self.open_points() {
            0 => "Nothing is open.".to_owned(),
            1 => "1 point is still open.".to_owned(),
            n => format!("{n} points are still open."),
        };
        let doubts = match self.lines.iter().map(|line| line.doubts.len()).sum() {
            0 => String::new(),
            1 => " 1 more is worth a look.".to_owned(),
            n => format!(" {n} more are worth a look."),
        };
        format!(
            "{cues}, {} of music. {open}{doubts}",
            minutes(self.music_seconds)
        )
    }

    fn facts(&self) -> Vec<PaperFact> {
        let head = &self.head;
        let transmission = head.first_transmission.map_or_else(String::new, |day| {
            let planned = if head.transmission_is_planned {
                " (planned)"
            } else {
                ""
            };
            format!("{}{planned}", date_words(day))
        });
        let music = self.total_words();
        let locked = if head.cut_locked {
            "locked"
        } else {
            "not locked, may still change"
        };
        [
            PaperFact::some("Series", head.series.clone()),
            PaperFact::some(
                "Episode",
                format!("{}. {}", head.episode_number, head.episode_title),
            ),
            PaperFact::some("Also known as", head.also_known_as.clone()),
            PaperFact::some("Production number", head.production_number.clone()),
            PaperFact::some("Production company", head.producer_entity.clone()),
            PaperFact::some("Contact", head.contact.clone()),
            PaperFact::some("Country", head.country.clone()),
            PaperFact::some("Year", head.year.clone()),
            PaperFact::some("Director", head.director.clone()),
            PaperFact::some("First transmission", transmission),
            PaperFact::some("Cut", format!("{}, {locked}", head.cut_name)),
            PaperFact::some("Frame rate", head.frame_rate.clone()),
            PaperFact::some("Programme duration", minutes(head.programme_seconds)),
            PaperFact::some("Total music", music),
        ]
        .into_iter()
        .flatten()
        .collect()
    }

    fn total_words(&self) -> String {
        let mut words = minutes(self.music_seconds);
        if let Some(part) = self.music_part {
            words.push_str(&format!(", {}.{} % of the programme", part / 10, part % 10));
        }
        words.push_str(match self.rule.total {
            PrintedTotal::OfFrames => "; all frames, rounded once",
            PrintedTotal::OfCues => "; sum of the cues’ whole seconds",
        });
        if let Some(other) = self.other_seconds {
            let how = match self.rule.total {
                PrintedTotal::OfFrames => "sum of the rounded cues",
                PrintedTotal::OfCues => "all frames rounded once",
            };
            words.push_str(&format!(" ({how}: {})", minutes(other)));
        }
        words
    }

    fn list(&self) -> PaperSection {
        let mut list = PaperSection::new(
            "Cues",
            "No music was found in this cut. Music that nobody logged is not on the sheet.",
            &[
                ("No.", 2, true),
                ("Title", 9, false),
                ("Writers", 9, false),
                ("Publishers", 8, false),
                ("Performers, recording", 8, false),
                ("Origin", 5, false),
                ("Usage", 6, false),
                ("In", 5, false),
                ("Out", 5, false),
                ("Length", 3, true),
                ("ISWC, ISRC", 7, false),
            ],
        );
        let rate = self.head.frame_rate.parse().ok();
        for line in &self.lines {
            list.push(!line.open.is_empty(), line.cells(rate));
        }
        list
    }

    fn open_list(&self) -> PaperSection {
        let mut list = PaperSection::new(
            "Still open or worth a look",
            "Nothing is open.",
            &[("Cue", 2, true), ("What", 20, false)],
        );
        list.says_again = true;
        for point in &self.open {
            list.push(true, [String::new(), point.clone()]);
        }
        for line in &self.lines {
            for point in &line.open {
                list.push(
                    true,
                    [line.number.to_string(), format!("{}: {point}", line.title)],
                );
            }
            for doubt in &line.doubts {
                list.push(
                    false,
                    [line.number.to_string(), format!("{}: {doubt}", line.title)],
                );
            }
        }
        list
    }
}

impl CueLine {
    /// Where the counting begins, for a cue that is heard under another one at first: its ends and its length would
    /// contradict each other without it.
    fn counted_from(&self, rate: Rate) -> Option<String> {
        let (heard, counted) = (self.to_frame - self.from_frame, self.counted_frames);
        let from = self.to_frame - counted;
        (counted > 0 && counted < heard).then(|| format!("counted from {}", rate.label(from)))
    }

    fn cells(&self, rate: Option<Rate>) -> [String; 11] {
        let counted = rate
            .and_then(|rate| self.counted_from(rate))
            .unwrap_or_default();
        let usage = [
            self.details
                .usage
                .map_or("not entered", |usage| usage.words()),
            self.details.vocals.map_or("", |vocals| vocals.words()),
            if self.in_scene {
                "heard in the scene"
            } else {
                ""
            },
            counted.as_str(),
        ];
        let numbers = [&self.iswc, &self.isrc].map(String::as_str);
        let recording = [
            self.side(ShareSide::Recording, &self.label),
            self.catalogue_number.clone(),
        ];
        [
            self.number.to_string(),
            self.title.clone(),
            self.writers(),
            self.publishers(),
            joined([
                self.performers().as_str(),
                joined(recording.each_ref().map(String::as_str)).as_str(),
            ]),
            match self.origin.as_str() {
                "production" => "production (library)".into(),
                other => other.into(),
            },
            joined(usage),
            self.starts.clone(),
            self.ends.clone(),
            minutes(self.seconds),
            joined(numbers),
        ]
    }

    fn writers(&self) -> String {
        let free = if self.public_domain {
            "public domain (estimate)"
        } else {
            ""
        };
        let parties = self.side(ShareSide::Writers, &self.writers_text);
        let writers = match source_beside(&self.parties, &self.writers_text) {
            Some(source) => format!("{source}; {parties}"),
            None => parties,
        };
        joined([writers.as_str(), free])
    }

    fn publishers(&self) -> String {
        match self.side(ShareSide::Publishers, &self.publishers_text) {
            none if none.is_empty() => self.publisher_note.clone(),
            some => some,
        }
    }

    fn performers(&self) -> String {
        let names: Vec<&str> = (self.parties.iter())
            .filter(|party| party.role == PartyRole::Performer)
            .map(|party| party.name.as_str())
            .collect();
        match names.as_slice() {
            [] => self.performers_text.clone(),
            names => names.join(", "),
        }
    }

    /// The parties of a side with role, society, number and share; what was typed in where there are none.
    fn side(&self, side: ShareSide, otherwise: &str) -> String {
        let all: Vec<String> = (self.parties.iter())
            .filter(|party| party.role.side() == side)
            .map(party_words)
            .collect();
        match all.as_slice() {
            [] => otherwise.into(),
            all => all.join("; "),
        }
    }
}

fn party_words(party: &Party) -> String {
    let role = match party.role {
        PartyRole::Publisher | PartyRole::RecordingOwner => String::new(),
        other => format!(" ({})", other.words()),
    };
    let ipi = match party.ipi.as_str() {
        "" => String::new(),
        ipi => format!(", IPI {ipi}"),
    };
    let society = match party.society.as_str() {
        "" => String::new(),
        society => format!(", {society}"),
    };
    let share = party
        .share
        .map_or_else(String::new, |share| format!(", {}", percent(share)));
    format!("{}{role}{share}{society}{ipi}", party.name)
}

fn joined<const N: usize>(parts: [&str; N]) -> String {
    let parts: Vec<&str> = parts.into_iter().filter(|part| !part.is_empty()).collect();
    parts.join(", ")
}

/// What a rule of counting assumes, in sentences that are printed.
pub fn rule_words(rule: CueRule) -> Vec<String> {
    let mut words = vec![
        match rule.rounding {
            Rounding::Nearest => {
                "Seconds are made of frames at the end, to the nearest, half up; no published rule says how (R14)."
            }
            Rounding::Up => "Seconds are made of frames at the end; one that is begun counts (R14).",
        }
        .to_owned(),
        match rule.overlaps {
            Overlaps::SecondBeginsAfter => {
                "Where two pieces are heard at once, the second counts from where the first ends (R14)."
            }
            Overlaps::AsHeard => {
                "Each cue counts as long as it is heard; the total of frames counts every moment once."
            }
        }
        .to_owned(),
        "Pieces of the same music that touch or overlap, on any track, are one cue.".to_owned(),
    ];
    if rule.gap_frames > 0 {
        words.push(format!(
            "A gap of up to {} frames between two pieces of the same music does not start a new cue, and is counted.",
            rule.gap_frames
        ));
    }
    words
}

#[cfg(test)]
mod tests {
    use super::*;

    fn line(parties: Vec<Party>, writers_text: &str) -> CueLine {
        CueLine {
            number: 1,
            music_id: Uuid::nil(),
            title: "The Slack Water".into(),
            starts: "10:00:00:00".into(),
            ends: "10:00:20:00".into(),
            from_frame: 0,
            to_frame: 500,
            counted_frames: 500,
            seconds: 20,
            details: CueDetails::default(),
            in_scene: true,
            origin: "live".into(),
            parties,
            convention: ShareConvention::EachSide,
            publisher_note: String::new(),
            writers_text: writers_text.into(),
            publishers_text: String::new(),
            performers_text: String::new(),
            label: String::new(),
            catalogue_number: String::new(),
            iswc: String::new(),
            isrc: String::new(),
            public_domain: true,
            open: vec![],
            doubts: vec![],
            taken: None,
        }
    }

    /// Source: rulebook R12 (public domain: no writers, an arranger only if the arrangement is protected); the sheet names
    /// whom the credit list names.
    #[test]
    fn traditional_stands_on_the_sheet_beside_its_arranger() {
        let arranger = Party {
            name: "Ines Corrow".into(),
            role: PartyRole::Arranger,
            society: String::new(),
            ipi: String::new(),
            share: Some(10_000),
        };
        let writers = |parties, text| line(parties, text).cells(None)[2].clone();
        assert_eq!(
            writers(vec![arranger], "Traditional"),
            "Traditional; Ines Corrow (arranger), 100 %, public domain (estimate)"
        );
        assert_eq!(
            writers(vec![], "Traditional"),
            "Traditional, public domain (estimate)"
        );
    }
}
