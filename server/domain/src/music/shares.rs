//! Who has a share in a piece of music, and whether the shares add up (R12). Shares are whole hundredths of a percent:
//! 33.33 % is 3,333.

use serde::{Deserialize, Serialize};
use utoipa::ToSchema;

use crate::identifiers::Scheme;

/// What somebody is to a piece of music.
#[derive(
    Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord, Hash, Serialize, Deserialize, ToSchema,
)]
#[serde(rename_all = "snake_case")]
pub enum PartyRole {
    Composer,
    Author,
    ComposerAuthor,
    Arranger,
    Translator,
    Publisher,
    SubPublisher,
    Performer,
    /// Owner of the recording, mostly a label.
    RecordingOwner,
}

/// The side on which a share counts.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Hash)]
pub enum ShareSide {
    Writers,
    Publishers,
    Recording,
    /// Named, without a share of either side.
    None,
}

impl PartyRole {
    /// The side on which a share counts.
    pub fn side(self) -> ShareSide {
        match self {
            Self::Composer
            | Self::Author
            | Self::ComposerAuthor
            | Self::Arranger
            | Self::Translator => ShareSide::Writers,
            Self::Publisher | Self::SubPublisher => ShareSide::Publishers,
            Self::RecordingOwner => ShareSide::Recording,
            Self::Performer => ShareSide::None,
        }
    }

    /// In words, for paper.
    pub fn words(self) -> &'static str {
        match self {
            Self::Composer => "composer",
            Self::Author => "author",
            Self::ComposerAuthor => "composer and author",
            Self::Arranger => "arranger",
            Self::Translator => "translator",
            Self::Publisher => "publisher",
            Self::SubPublisher => "sub-publisher",
            Self::Performer => "performer",
            Self::RecordingOwner => "owner of the recording",
        }
    }
}

/// Somebody with a part in a piece of music.
#[derive(Clone, Debug, PartialEq, Eq, Serialize, Deserialize, ToSchema)]
#[serde(deny_unknown_fields)]
pub struct Party {
    pub name: String,
    pub role: PartyRole,
    /// Performing-right or collecting society.
    #[serde(default)]
    pub society: String,
    /// The society's number of the name (IPI), 11 digits.
    #[serde(default)]
    pub ipi: String,
    /// Hundredths of a percent of the side; null: not known.
    #[serde(default)]
    #[schema(required)]
    pub share: Option<u32>,
}

/// What the shares of a piece are parts of.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq, Hash, Serialize, Deserialize, ToSchema)]
#[serde(rename_all = "snake_case")]
pub enum ShareConvention {
    /// Writers are 100 %, and publishers are 100 %.
    #[default]
    EachSide,
    /// Writers and publishers together are 100 %.
    Together,
}

/// Something about the parties that a society would stumble over.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct ShareFinding {
    /// False: worth a look, but it passes.
    pub fails: bool,
    pub sentence: String,
}

const WHOLE: i64 = 10_000;

/// `33.33 %`, `50 %`.
///
/// ```
/// use waybill_domain::music::shares::percent;
/// assert_eq!((percent(3_333).as_str(), percent(5_000).as_str(), percent(1_250).as_str()), ("33.33 %", "50 %", "12.5 %"));
/// ```
pub fn percent(hundredths: u32) -> String {
    let (whole, rest) = (hundredths / 100, hundredths % 100);
    match rest {
        0 => format!("{whole} %"),
        rest if rest % 10 == 0 => format!("{whole}.{} %", rest / 10),
        rest => format!("{whole}.{rest:02} %"),
    }
}

/// Whether the shares add up, and what is missing of the parties (R12, and the reasons for which sheets come back in
/// rulebook 3.3). `publisher_note`: why there is no publisher, such as an unpublished work.
pub fn findings(
    parties: &[Party],
    convention: ShareConvention,
    public_domain: bool,
    publisher_note: &str,
) -> Vec<ShareFinding> {
    let of = |side: ShareSide| -> Vec<&Party> {
        (parties.iter())
            .filter(|party| party.role.side() == side)
            .collect()
    };
    let (writers, publishers) = (of(ShareSide::Writers), of(ShareSide::Publishers));
    let recording = of(ShareSide::Recording);
    let mut found = Vec::new();
    let mut fail = |sentence: String| {
        found.push(ShareFinding {
            fails: true,
            sentence,
        })
    };
    if writers.is_empty() && !public_domain {
        fail("No writer is named.".into());
    }
    let no_publisher = publishers.is_empty() && publisher_note.trim().is_empty();
    if no_publisher && !public_domain {
        fail("No publisher is named, nor why there is none (for instance unpublished).".into());
    }
    for writer in &writers {
        if writer.name.split_whitespace().count() < 2 {
            fail(format!(
                "“{}” needs a first and a last name; only a publisher may have one.",
                writer.name
            ));
        }
    }
    match convention {
        ShareConvention::EachSide => {
            found.extend(adds_up("Writers’ shares", &writers));
            found.extend(adds_up("Publishers’ shares", &publishers));
        }
        ShareConvention::Together => {
            let both: Vec<&Party> = writers.iter().chain(&publishers).copied().collect();
            found.extend(adds_up("Writers’ and publishers’ shares together", &both));
        }
    }
    // Owners of a recording are often named without shares; half of them is a slip.
    if recording.iter().any(|party| party.share.is_some()) {
        found.extend(adds_up("Shares in the recording", &recording));
    }
    for party in parties {
        if !party.ipi.is_empty()
            && let Err(error) = Scheme::IpiName.canonical(&party.ipi)
        {
            found.push(ShareFinding {
                fails: true,
                sentence: format!("IPI of {}: {error}.", party.name),
            });
        }
    }
    found
}

/// Whose permission the composition (`recording` false) or the recording needs, with their shares: publishers, or the
/// writers where it is said that there is none (R12). What shares leave of 100 % is owned by nobody named: "". Empty: no
/// owner is recorded.
pub fn owners(
    parties: &[Party],
    convention: ShareConvention,
    publisher_note: &str,
    recording: bool,
) -> Vec<(String, Option<u32>)> {
    let of = |side: ShareSide| -> Vec<&Party> {
        (parties.iter())
            .filter(|party| party.role.side() == side && party.share != Some(0))
            .collect()
    };
    let (writers, publishers) = (of(ShareSide::Writers), of(ShareSide::Publishers));
    let owners = match (recording, publishers.is_empty()) {
        (true, _) => of(ShareSide::Recording),
        (false, false) => publishers,
        (false, true) if publisher_note.trim().is_empty() => vec![],
        (false, true) => writers.clone(),
    };
    let together = convention == ShareConvention::Together
        && owners.first().map(|party| party.role.side()) == Some(ShareSide::Publishers);
    let counted: Vec<&Party> = if together {
        owners.iter().chain(&writers).copied().collect()
    } else {
        owners.clone()
    };
    let sum: Option<i64> = (counted.iter())
        .map(|party| party.share.map(i64::from))
        .sum();
    let left = match sum {
        Some(sum) if !owners.is_empty() => u32::try_from(WHOLE - sum).unwrap_or(0),
        _ => 0,
    };
    let named = owners
        .iter()
        .map(|party| (party.name.trim().to_owned(), party.share));
    // A hundredth is within rounding.
    let rest = (left > 1).then(|| (String::new(), Some(left)));
    named.chain(rest).collect()
}

/// Whose permission an arrangement or translation needs of a composition that is itself free of rights: it is a work of
/// its own (R9, R12). Its publishers, or where none is named whoever made it, with their shares. Empty: nobody made one.
pub fn owners_of_version(
    parties: &[Party],
    convention: ShareConvention,
) -> Vec<(String, Option<u32>)> {
    let made = |party: &&Party| {
        matches!(party.role, PartyRole::Arranger | PartyRole::Translator) && party.share != Some(0)
    };
    if !parties.iter().any(|party| made(&party)) {
        return vec![];
    }
    let published = owners(parties, convention, "", false);
    if !published.is_empty() {
        return published;
    }
    (parties.iter().filter(made))
        .map(|party| (party.name.trim().to_owned(), party.share))
        .collect()
}

/// Who is typed in as the writer, where parties who wrote are entered and none of them composed: of a traditional tune the
/// parties with a share may be the arranger alone, and its source is named, too. None: the parties say it all, or none of
/// them wrote.
pub fn source_beside<'a>(parties: &[Party], typed: &'a str) -> Option<&'a str> {
    let typed = typed.trim();
    let mut writers = (parties.iter()).filter(|party| party.role.side() == ShareSide::Writers);
    let wrote = writers.clone().next().is_some();
    let composed = writers.any(|party| {
        matches!(
            party.role,
            PartyRole::Composer | PartyRole::Author | PartyRole::ComposerAuthor
        )
    });
    (wrote && !composed && !typed.is_empty()).then_some(typed)
}

/// R12: fails when a share is missing or the sum is more than 0.01 off 100; warns at 0.01.
fn adds_up(whose: &str, parties: &[&Party]) -> Option<ShareFinding> {
    if parties.is_empty() {
        return None;
    }
    let missing: Vec<String> = (parties.iter())
        .filter(|party| party.share.is_none())
        .map(|party| party.name.clone())
        .collect();
    if !missing.is_empty() {
        return Some(ShareFinding {
            fails: true,
            sentence: format!("{whose}: no share is entered for {}.", missing.join(", ")),
        });
    }
    let sum: i64 = parties
        .iter()
        .map(|party| i64::from(party.share.unwrap_or(0)))
        .sum();
    let off = (sum - WHOLE).abs();
    let total = percent(u32::try_from(sum).unwrap_or(u32::MAX));
    (off > 0).then(|| ShareFinding {
        fails: off > 1,
        sentence: if off > 1 {
            format!("{whose} come to {total}, not 100 %.")
        } else {
            format!("{whose} come to {total}: within rounding, but look again.")
        },
    })
}

#[cfg(test)]
mod tests {
    use super::*;

    fn party(name: &str, role: PartyRole, share: u32) -> Party {
        Party {
            name: name.into(),
            role,
            society: String::new(),
            ipi: String::new(),
            share: Some(share),
        }
    }

    fn both_sides(writers: &[u32], publishers: &[u32]) -> Vec<Party> {
        let one = |(at, share): (usize, &u32), role| party(&format!("Wren Nr{at}"), role, *share);
        let w = writers
            .iter()
            .enumerate()
            .map(|pair| one(pair, PartyRole::Composer));
        let p = publishers
            .iter()
            .enumerate()
            .map(|pair| one(pair, PartyRole::Publisher));
        w.chain(p).collect()
    }

    fn fails(parties: &[Party], convention: ShareConvention) -> Vec<bool> {
        findings(parties, convention, false, "")
            .iter()
            .map(|found| found.fails)
            .collect()
    }

    /// Source: rulebook R12 [RFTV] ★: cue 1 W 50+50, P 50+50; cue 2 W 50+25+25, P 50+25+25: both pass.
    #[test]
    fn r12_published_examples_pass() {
        let one = both_sides(&[5_000, 5_000], &[5_000, 5_000]);
        let two = both_sides(&[5_000, 2_500, 2_500], &[5_000, 2_500, 2_500]);
        assert!(fails(&one, ShareConvention::EachSide).is_empty());
        assert!(fails(&two, ShareConvention::EachSide).is_empty());
        // The same numbers under the other convention come to 200.
        assert_eq!(fails(&one, ShareConvention::Together), [true]);
        let together = both_sides(&[2_500, 2_500], &[2_500, 2_500]);
        assert!(fails(&together, ShareConvention::Together).is_empty());
        assert_eq!(fails(&together, ShareConvention::EachSide), [true, true]);
    }

    /// Source: rulebook R12 (public-domain cue: no writers, arranger only if the arrangement is protected). Hand-worked: a
    /// version belongs to its publishers, else to whoever made it; a share of nought is none.
    #[test]
    fn r12_whose_the_version_of_a_free_work_is() {
        let of = |parties: &[Party]| owners_of_version(parties, ShareConvention::EachSide);
        let composer = party("Wren Trad", PartyRole::Composer, 5_000);
        let arranger = party("Ines Corrowby", PartyRole::Arranger, 5_000);
        assert_eq!(of(std::slice::from_ref(&composer)), []);
        let both = [composer, arranger.clone()];
        assert_eq!(of(&both), [("Ines Corrowby".into(), Some(5_000))]);
        let published = [arranger, party("Second Pub", PartyRole::Publisher, 10_000)];
        assert_eq!(of(&published), [("Second Pub".into(), Some(10_000))]);
        let mut translator = party("Ines Corrowby", PartyRole::Translator, 0);
        assert_eq!(of(std::slice::from_ref(&translator)), []);
        translator.share = None;
        assert_eq!(of(&[translator]), [("Ines Corrowby".into(), None)]);
    }

    /// Source: rulebook 3.3 (both sides, each to 100 %), R12 (either convention; unpublished, with a reason).
    #[test]
    fn r12_who_has_to_give_a_side() {
        let owned = |parties: &[Party], convention, note: &str| {
            let found = owners(parties, convention, note, false);
            found
                .into_iter()
                .map(|(_, share)| share)
                .collect::<Vec<_>>()
        };
        let each = ShareConvention::EachSide;
        let two = both_sides(&[10_000], &[6_000, 4_000]);
        assert_eq!(owned(&two, each, ""), [Some(6_000), Some(4_000)]);
        let rest = both_sides(&[10_000], &[6_000]);
        assert_eq!(
            owners(&rest, each, "", false)[1],
            (String::new(), Some(4_000))
        );
        let thirds = both_sides(&[10_000], &[3_333; 3]);
        assert_eq!(owned(&thirds, each, "").len(), 3);
        let together = both_sides(&[5_000], &[5_000]);
        assert_eq!(
            owned(&together, ShareConvention::Together, ""),
            [Some(5_000)]
        );
        let writer = both_sides(&[10_000], &[]);
        assert_eq!(owned(&writer, each, "Unpublished"), [Some(10_000)]);
        assert!(owned(&writer, each, "").is_empty());
    }

    /// Source: rulebook R12: 33.33 × 3 = 99.99 warns, within rounding; more than 0.01 off fails.
    #[test]
    fn r12_thirds_warn_and_more_fails() {
        let thirds = both_sides(&[3_333; 3], &[10_000]);
        assert_eq!(fails(&thirds, ShareConvention::EachSide), [false]);
        let off = both_sides(&[3_333, 3_333, 3_332], &[10_000]);
        assert_eq!(fails(&off, ShareConvention::EachSide), [true]);
    }

    /// Source: rulebook R12: a public-domain cue has no writers; an unpublished one a reason in place of a publisher.
    #[test]
    fn r12_public_domain_and_unpublished() {
        assert!(findings(&[], ShareConvention::EachSide, true, "").is_empty());
        let arranged = [party("Ines Corrow", PartyRole::Arranger, 10_000)];
        assert!(findings(&arranged, ShareConvention::EachSide, true, "").is_empty());
        let unpublished = [party("Perran Loxtarn", PartyRole::Composer, 10_000)];
        assert!(
            findings(
                &unpublished,
                ShareConvention::EachSide,
                false,
                "Unpublished"
            )
            .is_empty()
        );
        assert_eq!(fails(&unpublished, ShareConvention::EachSide), [true]);
        assert_eq!(fails(&[], ShareConvention::EachSide), [true, true]);
    }

    /// Source: rulebook 3.3 [S4C-CUE]: first and last name unless a publisher. A share that nobody knows is no share.
    #[test]
    fn names_and_unknown_shares_fail() {
        let mut parties = both_sides(&[10_000], &[10_000]);
        parties[0].name = "Madrigal".into();
        parties[1].name = "Foxglove".into();
        assert_eq!(fails(&parties, ShareConvention::EachSide), [true]);
        parties[0].name = "Vesna Tarrow".into();
        parties[0].share = None;
        assert_eq!(fails(&parties, ShareConvention::EachSide), [true]);
    }

    /// Source: rulebook R12 (a public-domain cue has no writers, an arranger only if the arrangement is protected); that
    /// its source is named beside the arranger, common practice, no source.
    #[test]
    fn a_traditional_tune_keeps_its_source_beside_the_arranger() {
        let arranged = [party("Ines Corrow", PartyRole::Arranger, 10_000)];
        assert_eq!(
            source_beside(&arranged, " Traditional "),
            Some("Traditional")
        );
        assert_eq!(source_beside(&arranged, " "), None);
        let composed = both_sides(&[10_000], &[10_000]);
        assert_eq!(source_beside(&composed, "Traditional"), None);
        // typed text alone stands for itself
        assert_eq!(source_beside(&[], "Traditional"), None);
    }
}
