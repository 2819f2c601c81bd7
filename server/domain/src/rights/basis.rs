//! Grounds other than a licence or a release, in plain form: how far each reaches (R54), the
//! fair-use ladder (R51), Creative Commons conditions (R55), crowd notices (R22), and public domain
//! by age (R9, an estimate).
//!
//! Nothing here decides the law; it applies what a lawyer or a paper said, and its limits.

use chrono::NaiveDate;
use serde::{Deserialize, Serialize};
use utoipa::ToSchema;

/// The ground on which an element may be shown.
#[derive(Clone, Debug, PartialEq, Eq, Serialize, Deserialize, ToSchema)]
#[serde(tag = "ground", rename_all = "snake_case")]
pub enum Ground {
    /// The production made it and owns it.
    OwnMaterial,
    /// Free of rights in these territories; always an estimate (R9).
    PublicDomain {
        /// Territories in which somebody found it free. Empty: nobody has said where.
        territories: Vec<String>,
        /// What the estimate by age rests on, as far as known.
        #[serde(default)]
        age: FreeByAge,
    },
    /// Fair dealing (UK): only there, not in promotion.
    FairDealing {
        /// Whether a lawyer's note is on file.
        lawyers_note: bool,
    },
    /// Incidental inclusion (UK): only there, not in promotion, never music put there on purpose.
    Incidental {
        /// Whether a lawyer's note is on file.
        lawyers_note: bool,
        /// Whether it was put there on purpose.
        deliberate: bool,
    },
    /// Fair use (US).
    FairUse(FairUse),
    /// A Creative Commons licence.
    CreativeCommons(CreativeCommons),
    /// A broadcaster's blanket licence for music: its country only, not promotion.
    BlanketMusic {
        /// The broadcaster's country.
        territory: String,
        /// Number of episodes in which the music is the theme.
        theme_episodes: u32,
    },
    /// A crowd notice: evidence only (R22).
    CrowdNotice(CrowdNotice),
}

/// How far fair use has come (R51).
#[derive(Clone, Debug, Default, PartialEq, Eq, Serialize, Deserialize, ToSchema)]
pub struct FairUse {
    /// Disclosed on the insurance application.
    pub disclosed: bool,
    /// The broadcaster approved this use in writing.
    pub approved: bool,
    /// Counsel's opinion letter is on file.
    pub opinion_letter: bool,
    /// The insurer has accepted it by endorsement.
    pub endorsed: bool,
    /// Territories beyond the US to which counsel extends it.
    #[serde(default)]
    pub counsel_extends_to: Vec<String>,
}

/// A step of the fair-use ladder, lowest first (R51).
#[derive(
    Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord, Hash, Serialize, Deserialize, ToSchema,
)]
#[serde(rename_all = "snake_case")]
pub enum FairUseStep {
    /// Disclosure on the insurance application.
    Disclosure,
    /// The broadcaster's approval in writing.
    Approval,
    /// Counsel's opinion letter.
    OpinionLetter,
    /// The insurer's endorsement.
    Endorsement,
}

impl FairUseStep {
    /// The step in words, after "still missing:".
    pub fn words(self) -> &'static str {
        match self {
            FairUseStep::Disclosure => "disclosure on the insurance application",
            FairUseStep::Approval => "the broadcaster's approval in writing",
            FairUseStep::OpinionLetter => "counsel's opinion letter",
            FairUseStep::Endorsement => "the insurer's endorsement",
        }
    }
}

impl FairUse {
    /// Every missing step, lowest first. The first is the status (R51); none missing is accepted.
    pub fn missing(&self) -> Vec<FairUseStep> {
        [
            (FairUseStep::Disclosure, self.disclosed),
            (FairUseStep::Approval, self.approved),
            (FairUseStep::OpinionLetter, self.opinion_letter),
            (FairUseStep::Endorsement, self.endorsed),
        ]
        .into_iter()
        .filter_map(|(step, done)| (!done).then_some(step))
        .collect()
    }
}

/// A Creative Commons licence and what the production does with the work (R55).
#[derive(Clone, Debug, Default, PartialEq, Eq, Serialize, Deserialize, ToSchema)]
pub struct CreativeCommons {
    /// Non-commercial uses only.
    pub non_commercial: bool,
    /// No adaptations.
    pub no_derivatives: bool,
    /// Adaptations carry the same licence.
    pub share_alike: bool,
    /// Title of the work; empty: missing.
    pub title: String,
    /// Its author; empty: missing.
    pub author: String,
    /// Where it was found; empty: missing.
    pub source: String,
    /// Name and version of the licence; empty: missing.
    pub licence: String,
    /// Whether the programme is broadcast or paid for.
    pub paid_or_broadcast: bool,
    /// Whether the work is cropped, graded, cut, or synchronised with picture.
    pub altered: bool,
}

impl CreativeCommons {
    /// Whether its words name one of these licences and nothing else, so that their conditions can be read:
    /// `CC BY-SA 4.0`, `BY 4.0`, `CC0`, `Attribution-NonCommercial`, or its address. A word beside these may be a
    /// condition, so `CC BY 4.0, no commercial use` is not read.
    pub fn is_named(&self) -> bool {
        let words = words_of(&self.licence);
        let has = |word: &str| words.iter().any(|one| one == word);
        let all: String = words.concat();
        let of_the_family = has("CC") || all.contains("CREATIVECOMMONS");
        let numbered = words
            .get(1)
            .is_none_or(|next| next.starts_with(|c: char| c.is_ascii_digit()));
        let by = has("BY") || all.contains("ATTRIBUTION");
        let named = has("CC0")
            || (of_the_family && (by || has("ZERO")))
            || (numbered && words.first().is_some_and(|first| first == "BY"))
            || all.contains("ATTRIBUTION")
            || (by && (self.non_commercial || self.no_derivatives || self.share_alike));
        named && words.iter().all(|word| self.is_of_a_name(word))
    }

    /// Whether a word, in capitals, stands in names and addresses of these licences. That of a condition does where the
    /// condition was read.
    fn is_of_a_name(&self, word: &str) -> bool {
        // Figures of a version, letters of a country whose law a version was fitted to.
        let short = word.len() <= 2 && word != "NO";
        short
            || word.starts_with(|c: char| c.is_ascii_digit())
            || NAMES.contains(&word)
            || (self.non_commercial && matches!(word, "NON" | "COMMERCIAL" | "NONCOMMERCIAL"))
            || (self.no_derivatives && (word == "NO" || word.contains("DERIV")))
            || (self.share_alike && matches!(word, "SHARE" | "ALIKE" | "SHAREALIKE"))
    }

    /// What the credit lacks of title, author, source and licence.
    pub fn missing_credit(&self) -> Vec<&'static str> {
        [
            ("title", &self.title),
            ("author", &self.author),
            ("source", &self.source),
            ("licence", &self.licence),
        ]
        .into_iter()
        .filter_map(|(what, text)| text.trim().is_empty().then_some(what))
        .collect()
    }
}

/// Words of the names and addresses that creativecommons.org gives its licences, beside those of their conditions.
const NAMES: [&str; 24] = [
    "ATTRIBUTION",
    "CC0",
    "COMMONS",
    "CREATIVE",
    "CREATIVECOMMONS",
    "DEDICATION",
    "DEED",
    "DOMAIN",
    "GENERIC",
    "HTTP",
    "HTTPS",
    "IGO",
    "INTERNATIONAL",
    "LEGALCODE",
    "LICENCE",
    "LICENSE",
    "LICENSES",
    "ORG",
    "PUBLIC",
    "PUBLICDOMAIN",
    "UNIVERSAL",
    "UNPORTED",
    "WWW",
    "ZERO",
];

/// Words in capitals, parted by whatever is neither letter nor digit.
pub(super) fn words_of(text: &str) -> Vec<String> {
    text.split(|c: char| !c.is_ascii_alphanumeric())
        .filter(|word| !word.is_empty())
        .map(str::to_ascii_uppercase)
        .collect()
}

/// What was done to tell people that they were being filmed (R22).
#[derive(Clone, Debug, Default, PartialEq, Eq, Serialize, Deserialize, ToSchema)]
pub struct CrowdNotice {
    /// A notice at each entrance is logged.
    pub at_every_entrance: bool,
    /// Which text was shown; empty: not recorded.
    pub text_version: String,
    /// Date and time are recorded.
    pub dated: bool,
    /// A photograph of the posted notice is kept.
    pub photographed: bool,
    /// For which days of filming it was posted is not entered.
    #[serde(default, skip_serializing_if = "std::ops::Not::not")]
    pub days_missing: bool,
}

/// A finding about a ground, from [`findings`].
#[derive(Clone, Debug, PartialEq, Eq)]
pub enum Finding {
    /// A lawyer's note is not on file; until then it is unknown whether the ground holds.
    NoLawyersNote,
    /// Put there on purpose: not incidental.
    Deliberate,
    /// Steps of the fair-use ladder still missing.
    FairUseIncomplete(Vec<FairUseStep>),
    /// NC and a paid or broadcast programme.
    NonCommercial,
    /// ND and an altered work: counsel must say.
    NoDerivatives,
    /// SA: the obligation carries over; shown.
    ShareAlike,
    /// Which of the licences it is cannot be read, so its conditions are not known: the words as entered.
    LicenceUnread(String),
    /// Parts of the credit missing.
    CreditIncomplete(Vec<&'static str>),
    /// Nobody has said in which territories it is free.
    PublicDomainWhere,
    /// Blanket music used as the theme of three or more episodes.
    BlanketTheme,
    /// Parts of the notice's record missing.
    NoticeIncomplete(Vec<&'static str>),
    /// The notice is relied on for somebody who is more than background.
    NotBackground,
}

/// What a finding does to the ground.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Effect {
    /// The ground does not hold.
    Fails,
    /// Whether it holds is unknown.
    Doubt,
    /// It holds; the finding is shown.
    Shown,
}

impl Finding {
    /// What this finding does to the ground.
    pub fn effect(&self) -> Effect {
        match self {
            Finding::Deliberate
            | Finding::NonCommercial
            | Finding::BlanketTheme
            | Finding::NotBackground => Effect::Fails,
            Finding::NoLawyersNote
            | Finding::FairUseIncomplete(_)
            | Finding::NoDerivatives
            | Finding::LicenceUnread(_)
            | Finding::PublicDomainWhere
            | Finding::NoticeIncomplete(_) => Effect::Doubt,
            Finding::ShareAlike | Finding::CreditIncomplete(_) => Effect::Shown,
        }
    }
}

/// Everything to be said about a ground. `background_only`: the element is never more than
/// background in this cut.
pub fn findings(ground: &Ground, background_only: bool) -> Vec<Finding> {
    let when = |fails: bool, finding: Finding| fails.then_some(finding);
    let list: Vec<Option<Finding>> = match ground {
        Ground::OwnMaterial => vec![],
        Ground::PublicDomain { territories, .. } => {
            vec![when(territories.is_empty(), Finding::PublicDomainWhere)]
        }
        Ground::FairDealing { lawyers_note } => vec![when(!lawyers_note, Finding::NoLawyersNote)],
        Ground::Incidental {
            lawyers_note,
            deliberate,
        } => vec![
            when(*deliberate, Finding::Deliberate),
            when(!lawyers_note, Finding::NoLawyersNote),
        ],
        Ground::FairUse(ladder) => {
            let missing = ladder.missing();
            vec![when(
                !missing.is_empty(),
                Finding::FairUseIncomplete(missing),
            )]
        }
        Ground::CreativeCommons(cc) => {
            let credit = cc.missing_credit();
            vec![
                when(
                    cc.non_commercial && cc.paid_or_broadcast,
                    Finding::NonCommercial,
                ),
                when(cc.no_derivatives && cc.altered, Finding::NoDerivatives),
                when(cc.share_alike, Finding::ShareAlike),
                when(
                    !cc.is_named(),
                    Finding::LicenceUnread(cc.licence.trim().to_owned()),
                ),
                when(!credit.is_empty(), Finding::CreditIncomplete(credit)),
            ]
        }
        Ground::BlanketMusic { theme_episodes, .. } => {
            vec![when(*theme_episodes >= 3, Finding::BlanketTheme)]
        }
        Ground::CrowdNotice(notice) => {
            let missing = notice.missing();
            vec![
                when(!background_only, Finding::NotBackground),
                when(!missing.is_empty(), Finding::NoticeIncomplete(missing)),
            ]
        }
    };
    list.into_iter().flatten().collect()
}

impl CrowdNotice {
    /// What the record of the notice lacks (R22).
    pub fn missing(&self) -> Vec<&'static str> {
        [
            ("a notice at each entrance", self.at_every_entrance),
            (
                "the version of its text",
                !self.text_version.trim().is_empty(),
            ),
            ("its date and time", self.dated),
            ("a photograph of it", self.photographed),
            (
                "the days of filming that it was posted for",
                !self.days_missing,
            ),
        ]
        .into_iter()
        .filter_map(|(what, there)| (!there).then_some(what))
        .collect()
    }
}

/// How far a ground reaches (R54): territories (`["WORLD"]` for everywhere) and promotion.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Reach {
    /// Codes as in a grant.
    pub territories: Vec<String>,
    /// Whether it also carries promotion.
    pub promotion: bool,
}

/// How far the ground reaches (R54).
pub fn reach(ground: &Ground) -> Reach {
    let in_places = |codes: &[&str], promotion| Reach {
        territories: codes.iter().map(|code| (*code).to_owned()).collect(),
        promotion,
    };
    match ground {
        Ground::OwnMaterial | Ground::CreativeCommons(_) | Ground::CrowdNotice(_) => {
            in_places(&["WORLD"], true)
        }
        // Nobody has said where: perhaps anywhere, which the finding turns into unknown.
        Ground::PublicDomain { territories, .. } if territories.is_empty() => {
            in_places(&["WORLD"], true)
        }
        Ground::PublicDomain { territories, .. } => Reach {
            territories: territories.clone(),
            promotion: true,
        },
        Ground::FairDealing { .. } | Ground::Incidental { .. } => in_places(&["GB"], false),
        Ground::FairUse(ladder) => {
            let mut reach = in_places(&["US"], true);
            reach
                .territories
                .extend(ladder.counsel_extends_to.iter().cloned());
            reach
        }
        Ground::BlanketMusic { territory, .. } => in_places(&[territory], false),
    }
}

/// The years on which an estimate of public domain by age rests (R9).
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq, Serialize, Deserialize, ToSchema)]
#[serde(default)]
pub struct FreeByAge {
    /// Year of first publication.
    pub published_in: Option<i32>,
    /// Year in which the author died; of several, the last.
    pub author_died: Option<i32>,
}

impl FreeByAge {
    /// The day from which it is likely free in the US (R9), if a year is known.
    pub fn us(self) -> Option<NaiveDate> {
        us_free_from_publication(self.published_in?)
    }

    /// The day from which it is likely free where 70 years after death are protected (R9).
    pub fn life_and_seventy(self) -> Option<NaiveDate> {
        free_after_life_and_seventy(self.author_died?)
    }
}

/// First day on which a work published in `year` is likely free in the US: 1 January, 96 years on
/// (R9, 95-year works). An estimate: renewals, notice, foreign and unpublished works differ.
pub fn us_free_from_publication(year: i32) -> Option<NaiveDate> {
    NaiveDate::from_ymd_opt(year.checked_add(96)?, 1, 1)
}

/// First day on which a work is likely free where it is protected for 70 years after the author's
/// death (R9). An estimate.
pub fn free_after_life_and_seventy(died: i32) -> Option<NaiveDate> {
    NaiveDate::from_ymd_opt(died.checked_add(71)?, 1, 1)
}

#[cfg(test)]
mod tests;
