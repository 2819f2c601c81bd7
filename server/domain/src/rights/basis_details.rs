//! What a record keeps about the ground of an import, and the [`Ground`] that follows from it (R9, R51,
//! R54, R55). A blank is never a yes.

use chrono::NaiveDate;
use serde::{Deserialize, Serialize};
use utoipa::ToSchema;

use super::basis::{CreativeCommons, FairUse, FairUseStep, FreeByAge, Ground, words_of};

/// Facts about a ground. Which of them matter depends on the ground.
#[derive(Clone, Debug, Default, PartialEq, Eq, Serialize, Deserialize, ToSchema)]
#[serde(default, deny_unknown_fields)]
pub struct BasisDetails {
    /// Fair dealing, incidental inclusion: when the lawyer's note was written.
    #[schema(required)]
    pub lawyers_note_on: Option<NaiveDate>,
    /// Who wrote it.
    pub lawyers_note_by: String,
    /// Incidental inclusion: whether it was put there on purpose. None: nobody has said.
    #[schema(required)]
    pub on_purpose: Option<bool>,
    /// Public domain: year of first publication.
    #[schema(required)]
    pub published_in: Option<i32>,
    /// Public domain: year in which the author died; of several, the last.
    #[schema(required)]
    pub author_died: Option<i32>,
    /// Fair use: disclosed on the insurance application.
    #[schema(required)]
    pub disclosed_on: Option<NaiveDate>,
    /// Fair use: approved by the broadcaster in writing.
    #[schema(required)]
    pub approved_on: Option<NaiveDate>,
    /// Fair use: counsel's opinion letter.
    #[schema(required)]
    pub opinion_letter_on: Option<NaiveDate>,
    /// Fair use: accepted by the insurer's endorsement.
    #[schema(required)]
    pub endorsed_on: Option<NaiveDate>,
    /// Fair use: territories beyond the US to which counsel's letter extends it.
    pub extends_to: Vec<String>,
    /// Creative Commons: name and version of the licence, such as `CC BY-SA 4.0`.
    pub cc_licence: String,
    /// Creative Commons: shown whole, ungraded and without sound or picture laid to it.
    pub shown_unchanged: bool,
    /// Creative Commons: counsel found the programme to be non-commercial.
    pub non_commercial_programme: bool,
}

/// Something that a ground rests on, with its day.
#[derive(Clone, Debug, PartialEq, Eq, Serialize, Deserialize, ToSchema)]
pub struct DatedStep {
    /// Within a sentence, before "for": "the lawyer's note".
    pub what: String,
    /// Its day.
    pub on: NaiveDate,
}

impl BasisDetails {
    /// What a ground of this kind rests on, as far as it has a day.
    pub fn dated(&self, ground: &Ground) -> Vec<DatedStep> {
        use FairUseStep::{Approval, Disclosure, Endorsement, OpinionLetter};
        let steps = match ground {
            Ground::FairDealing { .. } | Ground::Incidental { .. } => {
                vec![("the lawyer's note", self.lawyers_note_on)]
            }
            Ground::FairUse(_) => vec![
                (Disclosure.words(), self.disclosed_on),
                (Approval.words(), self.approved_on),
                (OpinionLetter.words(), self.opinion_letter_on),
                (Endorsement.words(), self.endorsed_on),
            ],
            _ => vec![],
        };
        (steps.into_iter())
            .filter_map(|(what, on)| {
                let what = what.to_owned();
                on.map(|on| DatedStep { what, on })
            })
            .collect()
    }

    /// The years of an estimate.
    pub fn age(&self) -> FreeByAge {
        FreeByAge {
            published_in: self.published_in,
            author_died: self.author_died,
        }
    }

    /// How far fair use has come (R51): a step is done when it has a date.
    pub fn fair_use(&self) -> FairUse {
        FairUse {
            disclosed: self.disclosed_on.is_some(),
            approved: self.approved_on.is_some(),
            opinion_letter: self.opinion_letter_on.is_some(),
            endorsed: self.endorsed_on.is_some(),
            counsel_extends_to: self.extends_to.clone(),
        }
    }

    /// The conditions that the licence's name says (R55), and what the production does with the work.
    ///
    /// ```
    /// use waybill_domain::rights::basis_details::BasisDetails;
    /// let details = BasisDetails { cc_licence: "CC BY-NC-SA 4.0".into(), ..Default::default() };
    /// let cc = details.creative_commons("Quay at dawn", "Ada Quill", "her page", "");
    /// assert!(cc.non_commercial && cc.share_alike && !cc.no_derivatives && cc.altered);
    /// ```
    pub fn creative_commons(
        &self,
        title: &str,
        author: &str,
        source: &str,
        note: &str,
    ) -> CreativeCommons {
        let licence = if self.cc_licence.trim().is_empty() {
            note
        } else {
            &self.cc_licence
        };
        let words = words_of(licence);
        let all: String = words.concat();
        let has = |condition: &str, spelt: &str| {
            words.iter().any(|word| word == condition) || all.contains(spelt)
        };
        CreativeCommons {
            non_commercial: has("NC", "NONCOMMERCIAL"),
            no_derivatives: has("ND", "NODERIV"),
            share_alike: has("SA", "SHAREALIKE"),
            title: title.to_owned(),
            author: author.to_owned(),
            source: source.to_owned(),
            licence: licence.to_owned(),
            paid_or_broadcast: !self.non_commercial_programme,
            altered: !self.shown_unchanged,
        }
    }
}
