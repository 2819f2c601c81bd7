//! One paper or ground behind an element, measured against the need: what it grants on its face,
//! what its conditions take away, and what is wrong with it whatever the use.

use chrono::NaiveDate;

use super::question::{
    Basis, Element, Licence, LicenceStatus, NotNeeded, Question, Release, Side, Standing,
};
use super::reason::{Reason, ReasonCells, ReasonCode, Weight};
use super::{ground, terms, words};
use crate::rights::basis::Ground;
use crate::rights::coverage::{Asked, Grant, Granted};
use crate::rights::days::Days;
use crate::rights::medium;
use crate::rights::release::{Form, Restriction, Withdrawal};
use crate::rights::term::Holds;
use crate::rights::territory::TerritorySet;
use crate::wording::date_words;

/// The need, opened: what every paper is measured against.
pub(super) struct Context<'a> {
    pub question: &'a Question,
    pub asked: Asked,
    /// First screening outside the team, else first transmission, else first needed day (R19).
    pub first_shown_on: NaiveDate,
}

/// A grant of a paper.
#[derive(Clone)]
pub(super) struct PaperGrant<'a> {
    /// As written; None for grounds, which have no term, and for what cannot be read.
    pub written: Option<&'a Grant>,
    /// On its face.
    pub nominal: Granted,
    /// With the paper's conditions taken away.
    pub allowed: Granted,
}

/// What the conditions of a form do to whatever allows the uses (R23).
#[derive(Clone)]
pub(super) struct Condition {
    pub leaves: Granted,
    /// What they take from the needed cells.
    pub takings: Vec<Reason>,
}

/// A paper or ground behind an element.
#[derive(Clone)]
pub(super) struct Paper<'a> {
    pub id: Option<&'a str>,
    /// Within a sentence: "the licence from Quay Archive".
    pub name: String,
    pub side: Side,
    pub grants: Vec<PaperGrant<'a>>,
    /// The form, where it is a release.
    pub form: Option<&'a Form>,
    /// What is to be said of it whatever the use.
    pub findings: Vec<Reason>,
    /// What its conditions take from the needed cells.
    pub takings: Vec<Reason>,
    /// What its conditions leave of any right, its own or another paper's.
    pub condition: Option<Condition>,
    pub assumptions: Vec<String>,
    pub provisional: bool,
    /// Its own date of signature, as far as known.
    pub signed: Option<NaiveDate>,
    /// Whether it is evidence, not consent (R22).
    pub evidence_only: bool,
    /// Whether it is about the original only: that is free of rights, and a version of it may not be (R9).
    pub of_original: bool,
    /// Whether it is a decision that nothing is needed.
    pub is_decision: bool,
}

impl Context<'_> {
    /// Every paper and ground behind the element, except licences that were replaced.
    pub fn papers<'a>(&'a self, element: &'a Element) -> Vec<Paper<'a>> {
        let backing = &element.backing;
        let several = backing.releases.len() > 1;
        let releases = backing
            .releases
            .iter()
            .map(|one| self.release(element, one, several));
        let current = |licence: &&Licence| licence.status != LicenceStatus::Replaced;
        let licences = backing
            .licences
            .iter()
            .filter(current)
            .map(|one| self.licence(element, one));
        let bases = backing.bases.iter().map(|one| self.basis(element, one));
        let decision = backing
            .not_needed
            .iter()
            .map(|one| self.not_needed(element.label.clone(), Side::Both, one));
        let beside = backing.beside_not_needed.iter().map(|one| {
            let what = format!(
                "{} permission for {}",
                one.permission.words(),
                element.label
            );
            self.not_needed(what, Side::Beside(one.permission), &one.decision)
        });
        releases
            .chain(licences)
            .chain(bases)
            .chain(decision)
            .chain(beside)
            .collect()
    }

    fn release<'a>(&'a self, element: &Element, release: &'a Release, several: bool) -> Paper<'a> {
        let form = &release.form;
        let mut name = format!("the form for {}", element.label);
        if let (true, Some(signed)) = (several, form.signed_on) {
            name = format!("{name} of {}", date_words(signed));
        }
        if let Some(permission) = release.permission {
            name = format!("{} permission for {}", permission.words(), element.label);
        }
        let side = release.permission.map_or(Side::Both, Side::Beside);
        let mut paper = Paper::new(Some(&release.id), name, side);
        paper.form = Some(form);
        let ahead = self.ahead(form.signed_on);
        self.add_grants(&mut paper, &form.grants, form.signed_on, ahead.is_some());
        let not_signed = self.not_come(&paper, "R19", (&paper.name, "signed"), ahead);
        paper.findings.extend(not_signed);
        if !form.allows_promotion || form.restrictions.contains(&Restriction::NoPromotion) {
            self.take_promotion(&mut paper);
        }
        for restriction in &form.restrictions {
            self.take_condition(&mut paper, element, restriction);
        }
        paper.condition = self.condition(element, &paper, form);
        let standing = match release.standing {
            Standing::Checked => None,
            Standing::NotChecked if form.signed_on.is_none() => None, // not signed is said already
            Standing::NotChecked => {
                let words = "is signed, but nobody has checked it";
                Some((ReasonCode::NotChecked, Weight::Unknown, words))
            }
            Standing::Problem => {
                let words = "is marked as a problem";
                Some((ReasonCode::MarkedAsProblem, Weight::Fails, words))
            }
        };
        if let Some((code, weight, said)) = standing {
            let sentence = format!("{} {said}.", words::first_upper(&paper.name));
            paper.find(code, "R19", weight, sentence);
        }
        if form.withdrawal == Some(Withdrawal::Requested) {
            let sentence = format!(
                "{} has asked to withdraw; nothing is decided yet.",
                words::first_upper(&element.label)
            );
            paper.find(
                ReasonCode::WithdrawalRequested,
                "R19",
                Weight::Shown,
                sentence,
            );
        }
        paper
    }

    /// The form's conditions on all rights that there could be. None: it has none.
    fn condition(&self, element: &Element, paper: &Paper<'_>, form: &Form) -> Option<Condition> {
        if form.restrictions.is_empty() {
            return None;
        }
        let mut all = Paper::new(paper.id, paper.name.clone(), paper.side);
        self.add_ground(&mut all, TerritorySet::world(), true);
        if form.restrictions.contains(&Restriction::NoPromotion) {
            self.take_promotion(&mut all);
        }
        for restriction in &form.restrictions {
            self.take_condition(&mut all, element, restriction);
        }
        let leaves = all.grants.pop()?.allowed;
        Some(Condition {
            leaves,
            takings: all.takings,
        })
    }

    fn licence<'a>(&'a self, element: &Element, licence: &'a Licence) -> Paper<'a> {
        let name = format!("the licence from {}", licence.licensor);
        let mut paper = Paper::new(Some(&licence.id), name, licence.side);
        let signed = licence.signed;
        self.add_grants(
            &mut paper,
            &licence.grants,
            signed.date(),
            signed.is_provisional() || self.ahead(signed.known).is_some(),
        );
        if !licence.allows_promotion {
            self.take_promotion(&mut paper);
        }
        let stage = match licence.status {
            LicenceStatus::Signed | LicenceStatus::Paid | LicenceStatus::Replaced => None,
            LicenceStatus::Temp => {
                Some("not asked for; the piece is in the cut for the time being")
            }
            LicenceStatus::Asking => Some("asked for, not agreed"),
            LicenceStatus::Quoted => Some("quoted, not agreed"),
            LicenceStatus::AgreedUnsigned => Some("agreed, not signed"),
        };
        if let Some(stage) = stage {
            let sentence = format!("{} is {stage}.", words::first_upper(&paper.name));
            paper.find(ReasonCode::LicenceUnsigned, "R3", Weight::Fails, sentence);
        }
        // Of one that is not signed, the day is the one that is planned.
        if stage.is_none() {
            let not_signed = self.not_come(&paper, "R3", (&paper.name, "signed"), signed.date());
            paper.findings.extend(not_signed);
        }
        terms::say(self, element, licence, &mut paper);
        paper
    }

    fn basis<'a>(&'a self, element: &Element, basis: &'a Basis) -> Paper<'a> {
        let mut paper = Paper::new(None, ground::name(&basis.ground).into(), basis.side);
        paper.of_original = matches!(basis.ground, Ground::PublicDomain { .. });
        ground::measure(self, element, &basis.ground, &mut paper);
        for step in &basis.dated {
            let what = format!("{} for {}", step.what, element.label);
            let ahead = self.not_come(
                &paper,
                ground::rule(&basis.ground),
                (&what, "done"),
                Some(step.on),
            );
            paper.findings.extend(ahead);
        }
        paper
    }

    /// `what`: the element, or the permission that it could need.
    fn not_needed<'a>(&self, what: String, side: Side, decision: &NotNeeded) -> Paper<'a> {
        let name = "the decision that nothing is needed".to_owned();
        let mut paper = Paper::new(None, name, side);
        paper.is_decision = true;
        self.add_ground(&mut paper, TerritorySet::world(), true);
        let blank = |text: &str| text.trim().is_empty();
        let (for_it, for_it_too) = match side {
            Side::Beside(_) => (
                format!("{} is not needed", words::first_upper(&what)),
                format!("{what} is not needed"),
            ),
            _ => (
                format!("Nothing is needed for {what}"),
                format!("nothing is needed for {what}"),
            ),
        };
        match decision.decided_on {
            Some(day) if !blank(&decision.reason) && !blank(&decision.decided_by) => {
                let decided = format!("the decision that {for_it_too}");
                let dated = (decided.as_str(), "decided");
                if let Some(reason) = self.not_come(&paper, "", dated, Some(day)) {
                    paper.findings.push(reason);
                    return paper;
                }
                let sentence = format!(
                    "{for_it}: {} (decided by {} on {}).",
                    decision.told().trim_end_matches('.'),
                    decision.decided_by.trim(),
                    date_words(day)
                );
                paper.find(ReasonCode::NotNeeded, "", Weight::Shown, sentence);
            }
            _ => {
                let sentence = format!(
                    "Somebody noted that {for_it_too}, without saying why, who decided it and when."
                );
                paper.find(
                    ReasonCode::DecisionIncomplete,
                    "",
                    Weight::Unknown,
                    sentence,
                );
            }
        }
        paper
    }

    /// A ground has no term: it holds as long as it holds.
    pub fn add_ground(&self, paper: &mut Paper<'_>, territories: TerritorySet, promotion: bool) {
        let carries = |name: &String| promotion || !medium::is_promotion(name);
        let granted = Granted {
            territories,
            media: self.asked.media.iter().map(carries).collect(),
            holds: Holds::On(Days::ALWAYS),
        };
        paper.grants.push(PaperGrant {
            written: None,
            nominal: granted.clone(),
            allowed: granted,
        });
        if !promotion && self.question.need.in_promotion {
            let sentence = format!(
                "{} does not carry promotion.",
                words::first_upper(&paper.name)
            );
            paper.find(
                ReasonCode::PromotionNotAllowed,
                "R54",
                Weight::Fails,
                sentence,
            );
        }
    }

    pub fn cells(
        &self,
        territories: TerritorySet,
        media: Vec<String>,
        days: Vec<Days>,
    ) -> ReasonCells {
        ReasonCells {
            territories: words::codes(territories),
            media,
            days,
        }
    }
}

impl<'a> Paper<'a> {
    fn new(id: Option<&'a str>, name: String, side: Side) -> Self {
        Paper {
            id,
            name,
            side,
            grants: vec![],
            form: None,
            findings: vec![],
            takings: vec![],
            condition: None,
            assumptions: vec![],
            provisional: false,
            signed: None,
            evidence_only: false,
            of_original: false,
            is_decision: false,
        }
    }

    /// Whether it is about this side of the element.
    pub fn is_about(&self, side: Side) -> bool {
        match (side, self.side) {
            (Side::Beside(wanted), Side::Beside(own)) => wanted == own,
            (Side::Beside(_), _) | (_, Side::Beside(_)) => false,
            (Side::Whole, _) | (_, Side::Both | Side::Whole) => true,
            (side, own) => side == own,
        }
    }

    /// Whether it holds only under conditions that the cut must keep.
    pub fn is_restricted(&self) -> bool {
        self.form.is_some_and(|form| !form.restrictions.is_empty())
    }

    /// Adds a finding about the whole paper.
    pub fn find(&mut self, code: ReasonCode, rule: &str, weight: Weight, sentence: String) {
        self.findings
            .push(self.reason(code, rule, weight, sentence));
    }

    pub fn take(&mut self, code: ReasonCode, sentence: String, cells: ReasonCells) {
        let mut reason = self.reason(code, "R23", Weight::Fails, sentence);
        reason.cells = Some(cells);
        self.takings.push(reason);
    }

    pub fn takes(&self, code: ReasonCode) -> bool {
        self.takings.iter().any(|reason| reason.code == code)
    }

    /// A reason about this paper, with what to do about its kind.
    pub fn reason(&self, code: ReasonCode, rule: &str, weight: Weight, sentence: String) -> Reason {
        Reason {
            action: words::action(code).into(),
            code,
            rule: rule.into(),
            weight,
            sentence,
            cells: None,
            paper_id: self.id.map(str::to_owned),
            events: vec![],
        }
    }
}
