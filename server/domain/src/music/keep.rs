//! What a person says of a cue, and how it is kept when the cut changes: a cue that is the same keeps it; one that moved
//! takes it along, marked, where there is no doubt which one it is; else nothing is taken (R15, R16).

use std::collections::BTreeMap;

use serde::{Deserialize, Serialize};
use utoipa::ToSchema;
use uuid::Uuid;

use super::cues::Cue;
use crate::usage::Frames;

/// How music is used in a programme.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Hash, Serialize, Deserialize, ToSchema)]
#[serde(rename_all = "snake_case")]
pub enum CueUsage {
    /// Underscore.
    Background,
    /// The performer is seen, or the music is what the scene is about.
    Featured,
    /// Signature, in several episodes.
    Theme,
    /// A company's ident.
    Logo,
}

impl CueUsage {
    /// In words, for paper.
    pub fn words(self) -> &'static str {
        match self {
            Self::Background => "background",
            Self::Featured => "featured (visual)",
            Self::Theme => "theme",
            Self::Logo => "logo",
        }
    }
}

/// Whether a voice sings.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Hash, Serialize, Deserialize, ToSchema)]
#[serde(rename_all = "snake_case")]
pub enum CueVocals {
    Vocal,
    Instrumental,
}

impl CueVocals {
    /// In words, for paper.
    pub fn words(self) -> &'static str {
        match self {
            Self::Vocal => "vocal",
            Self::Instrumental => "instrumental",
        }
    }
}

/// What a person says of a cue.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq, Serialize, Deserialize, ToSchema)]
pub struct CueDetails {
    #[schema(required)]
    pub usage: Option<CueUsage>,
    #[schema(required)]
    pub vocals: Option<CueVocals>,
    /// Whether the performer is seen.
    #[schema(required)]
    pub performer_visible: Option<bool>,
}

/// What is worth a second look in a usage (R15). `episodes`: how many the series has.
pub fn usage_doubts(details: CueDetails, episodes: i64) -> Vec<&'static str> {
    let mut doubts = Vec::new();
    if details.usage == Some(CueUsage::Theme) && episodes < 2 {
        doubts.push("A theme is used in several episodes, and this series has fewer than two; else it is featured or background.");
    }
    if details.usage == Some(CueUsage::Featured) && details.performer_visible != Some(true) {
        doubts.push(
            "Featured (visual) means that the performer is seen; that was not said of this cue.",
        );
    }
    doubts
}

/// What was said of a cue of some cut.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub struct Kept {
    pub cut: Uuid,
    pub music: Uuid,
    pub frames: Frames,
}

/// Why something that was said earlier is taken for a cue.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Serialize, Deserialize, ToSchema)]
#[serde(rename_all = "snake_case")]
pub enum Taken {
    /// It was said of this very cue.
    Same,
    /// The piece had as many cues before; this is the one at its place.
    SamePlace,
    /// The only cue of this piece that is as long.
    SameLength,
}

/// For each cue, which of `kept` stands for it; `kept` has the newest first. What was said of this cut counts before
/// what was said of another; of others only the newest cut that has the piece counts.
pub fn take_along(cues: &[Cue], cut: Uuid, kept: &[Kept]) -> Vec<Option<(usize, Taken)>> {
    let mut taken: Vec<Option<(usize, Taken)>> = cues
        .iter()
        .map(|cue| {
            let same =
                |one: &Kept| one.cut == cut && one.music == cue.music && one.frames == cue.frames;
            kept.iter().position(same).map(|at| (at, Taken::Same))
        })
        .collect();
    let mut open: BTreeMap<Uuid, Vec<usize>> = BTreeMap::new();
    for (at, cue) in cues.iter().enumerate() {
        open.entry(cue.music).or_default().push(at);
    }
    for (music, places) in open {
        if places.iter().any(|at| taken[*at].is_some()) {
            // This cut was worked on already: a cue that nobody spoke of is left blank.
            continue;
        }
        let Some(newest) = kept.iter().find(|one| one.music == music) else {
            continue;
        };
        let mut before: Vec<usize> = (0..kept.len())
            .filter(|at| kept[*at].music == music && kept[*at].cut == newest.cut)
            .collect();
        before.sort_by_key(|at| kept[*at].frames);
        if before.len() == places.len() {
            for (at, from) in places.iter().zip(&before) {
                taken[*at] = Some((*from, Taken::SamePlace));
            }
            continue;
        }
        let length = |frames: Frames| frames.1 - frames.0;
        for at in &places {
            let long = length(cues[*at].frames);
            let fits: Vec<&usize> = (before.iter())
                .filter(|from| length(kept[**from].frames) == long)
                .collect();
            let rivals = (places.iter())
                .filter(|other| length(cues[**other].frames) == long)
                .count();
            if let ([one], 1) = (fits.as_slice(), rivals) {
                taken[*at] = Some((**one, Taken::SameLength));
            }
        }
    }
    taken
}

#[cfg(test)]
mod tests {
    use super::*;

    fn cue(music: u128, frames: Frames) -> Cue {
        Cue {
            music: Uuid::from_u128(music),
            frames,
            counted: frames,
            seconds: 0,
            events: vec![],
            in_scene: false,
        }
    }

    fn kept(cut: u128, music: u128, frames: Frames) -> Kept {
        Kept {
            cut: Uuid::from_u128(cut),
            music: Uuid::from_u128(music),
            frames,
        }
    }

    /// Source: rulebook R15 [BMI].
    #[test]
    fn r15_theme_and_featured() {
        let details = |usage, performer_visible| CueDetails {
            usage: Some(usage),
            vocals: None,
            performer_visible,
        };
        assert_eq!(usage_doubts(details(CueUsage::Theme, None), 1).len(), 1);
        assert!(usage_doubts(details(CueUsage::Theme, None), 2).is_empty());
        assert_eq!(usage_doubts(details(CueUsage::Featured, None), 6).len(), 1);
        assert_eq!(
            usage_doubts(details(CueUsage::Featured, Some(false)), 6).len(),
            1
        );
        assert!(usage_doubts(details(CueUsage::Featured, Some(true)), 6).is_empty());
        assert!(usage_doubts(CueDetails::default(), 1).is_empty());
    }

    // By hand: same cue, same number of cues, one that is as long, and doubt that takes nothing.
    #[test]
    fn what_was_said_is_taken_only_without_doubt() {
        let (old, new) = (Uuid::from_u128(1), Uuid::from_u128(2));
        let said = [
            kept(1, 7, (0, 50)),
            kept(1, 7, (100, 180)),
            kept(1, 8, (0, 10)),
        ];
        let same = take_along(&[cue(7, (100, 180))], old, &said);
        assert_eq!(same, [Some((1, Taken::Same))]);
        let moved = take_along(&[cue(7, (20, 60)), cue(7, (110, 190))], new, &said);
        assert_eq!(
            moved,
            [Some((0, Taken::SamePlace)), Some((1, Taken::SamePlace))]
        );
        let fewer = take_along(&[cue(7, (300, 380))], new, &said);
        assert_eq!(fewer, [Some((1, Taken::SameLength))]);
        let doubt = take_along(
            &[cue(7, (0, 80)), cue(7, (90, 170)), cue(7, (200, 210))],
            new,
            &said,
        );
        assert_eq!(doubt, [None, None, None]);
        assert_eq!(take_along(&[cue(9, (0, 10))], new, &said), [None]);
    }
}
