//! What the conditions of a paper take away from what it grants (R23): promotion, territories, days.

use chrono::NaiveDate;

use super::paper::{Context, Paper};
use super::question::{Element, Presence, Use};
use super::reason::{ReasonCode, Weight};
use super::words;
use crate::rights::days::{Days, next, previous};
use crate::rights::medium;
use crate::rights::release::Restriction;
use crate::rights::term::Holds;
use crate::rights::territory::TerritorySet;
use crate::wording::date_words;

impl Context<'_> {
    /// Promotion is not allowed: the promotion media go; a trailer fails whole.
    pub fn take_promotion(&self, paper: &mut Paper<'_>) {
        let promotion: Vec<bool> = self
            .asked
            .media
            .iter()
            .map(|name| medium::is_promotion(name))
            .collect();
        let touched = paper.grants.iter().any(|grant| {
            grant
                .nominal
                .media
                .iter()
                .zip(&promotion)
                .any(|(granted, promo)| *granted && *promo)
        });
        for grant in &mut paper.grants {
            for (granted, promo) in grant.allowed.media.iter_mut().zip(&promotion) {
                *granted &= !promo;
            }
        }
        let name = words::first_upper(&paper.name);
        let sentence = format!("{name} does not allow promotion.");
        if self.question.need.in_promotion && paper.form.is_none() {
            paper.find(
                ReasonCode::PromotionNotAllowed,
                "R23",
                Weight::Fails,
                sentence,
            );
        } else if touched && !paper.takes(ReasonCode::PromotionNotAllowed) {
            let media: Vec<String> = self
                .asked
                .media
                .iter()
                .filter(|name| medium::is_promotion(name))
                .cloned()
                .collect();
            let cells = self.cells(self.asked.territories, media, vec![]);
            paper.take(ReasonCode::PromotionNotAllowed, sentence, cells);
        }
    }

    /// A condition that takes territories or days away (R23).
    pub fn take_condition(
        &self,
        paper: &mut Paper<'_>,
        element: &Element,
        restriction: &Restriction,
    ) {
        match restriction {
            Restriction::NotIn { territories } => {
                let codes = territories.iter().map(String::as_str);
                match TerritorySet::parse(codes, &self.question.groups) {
                    Ok(forbidden) => self.take_territories(paper, forbidden),
                    Err(wrong) => {
                        let sentence = format!("A condition of {}: {wrong}.", paper.name);
                        let code = ReasonCode::TerritoryUnreadable;
                        paper.find(code, "R23", Weight::Unknown, sentence);
                    }
                }
            }
            Restriction::NotBefore { date } => self.take_days_before(paper, *date),
            Restriction::NotAfter { date } => self.take_days_after(paper, *date),
            Restriction::NotInMedia { media } => self.take_media(paper, media),
            Restriction::NotBeside { person } => self.beside(paper, element, person),
            Restriction::Approval {
                words: what,
                approved_on: None,
            } => {
                let sentence = format!(
                    "{} was signed on condition of an approval that is outstanding: {}.",
                    words::first_upper(&paper.name),
                    what.trim()
                );
                let code = ReasonCode::ApprovalOutstanding;
                paper.find(code, "R23", Weight::Unknown, sentence);
            }
            Restriction::Approval {
                words: what,
                approved_on,
            } => {
                let what = format!("the approval of {} ({})", paper.name, what.trim());
                let ahead = self.not_come(paper, "R23", (&what, "approved"), *approved_on);
                paper.findings.extend(ahead);
            }
            // Asked of each use, in `forms`.
            Restriction::BlurFace
            | Restriction::ChangeVoice
            | Restriction::NoName
            | Restriction::NamedAs { .. }
            | Restriction::NoPromotion
            | Restriction::Other { .. } => {}
        }
    }

    fn take_territories(&self, paper: &mut Paper<'_>, forbidden: TerritorySet) {
        for grant in &mut paper.grants {
            grant.allowed.territories = grant.allowed.territories.minus(forbidden);
        }
        let clash = forbidden.and(self.asked.territories);
        if !clash.is_empty() {
            let sentence = format!(
                "{} was signed on condition that it is not shown in {}; the delivery needs it \
                 there.",
                words::first_upper(&paper.name),
                clash.words()
            );
            let cells = self.cells(clash, self.asked.media.clone(), vec![]);
            paper.take(ReasonCode::TerritoryRestricted, sentence, cells);
        }
    }

    fn take_days_before(&self, paper: &mut Paper<'_>, date: NaiveDate) {
        for grant in &mut paper.grants {
            let (Holds::On(days) | Holds::Perhaps(days)) = &mut grant.allowed.holds;
            days.from = days.from.max(date);
        }
        let missing = Days::new(self.asked.days.from, previous(date)).and(self.asked.days);
        if !missing.is_empty() {
            let sentence = format!(
                "{} was signed on condition that it is not shown before {}; the delivery needs it \
                 from {} ({} missing).",
                words::first_upper(&paper.name),
                date_words(date),
                date_words(self.asked.days.from),
                words::days(missing.count())
            );
            let media = self.asked.media.clone();
            let cells = self.cells(self.asked.territories, media, vec![missing]);
            paper.take(ReasonCode::Embargo, sentence, cells);
        }
    }

    fn take_days_after(&self, paper: &mut Paper<'_>, date: NaiveDate) {
        for grant in &mut paper.grants {
            let (Holds::On(days) | Holds::Perhaps(days)) = &mut grant.allowed.holds;
            days.to = days.to.min(date);
        }
        let missing = Days::new(next(date), self.asked.days.to).and(self.asked.days);
        if !missing.is_empty() {
            let sentence = format!(
                "{} was signed on condition that it is not shown after {}; the delivery needs it \
                 until {} ({} missing).",
                words::first_upper(&paper.name),
                date_words(date),
                date_words(self.asked.days.to),
                words::days(missing.count())
            );
            let media = self.asked.media.clone();
            let cells = self.cells(self.asked.territories, media, vec![missing]);
            paper.take(ReasonCode::Embargo, sentence, cells);
        }
    }

    fn take_media(&self, paper: &mut Paper<'_>, forbidden: &[String]) {
        let hit: Vec<bool> = self
            .asked
            .media
            .iter()
            .map(|name| medium::any_includes(forbidden, name))
            .collect();
        for grant in &mut paper.grants {
            for (granted, hit) in grant.allowed.media.iter_mut().zip(&hit) {
                *granted &= !hit;
            }
        }
        let media: Vec<String> = (self.asked.media.iter().zip(&hit))
            .filter(|(_, hit)| **hit)
            .map(|(name, _)| name.clone())
            .collect();
        if !media.is_empty() {
            let sentence = format!(
                "{} was signed on condition that it is not shown in {}; the delivery needs that.",
                words::first_upper(&paper.name),
                medium::words(&media)
            );
            let cells = self.cells(self.asked.territories, media, vec![]);
            paper.take(ReasonCode::MediumRestricted, sentence, cells);
        }
    }

    /// "Not beside": in one picture with the other person, at the same time (R23).
    fn beside(&self, paper: &mut Paper<'_>, element: &Element, person: &str) {
        let others = &self.question.elements;
        let Some(other) = others.iter().find(|one| one.id == person) else {
            return; // not in this cut
        };
        let meets = |one: &Use| {
            other.uses.iter().any(|two| {
                seen(two) && one.record_in < two.record_out && two.record_in < one.record_out
            })
        };
        let events: Vec<u32> = element
            .uses
            .iter()
            .filter(|one| seen(one) && meets(one))
            .map(|one| one.event)
            .collect();
        if !events.is_empty() {
            let sentence = format!(
                "{} was promised not to be shown beside {}, and is.",
                words::first_upper(&element.label),
                other.label
            );
            paper.find(ReasonCode::ShownBeside, "R23", Weight::Fails, sentence);
            if let Some(reason) = paper.findings.last_mut() {
                reason.events = events;
            }
        }
    }
}

/// Whether somebody can be seen in a use.
fn seen(one: &Use) -> bool {
    matches!(
        one.presence,
        Presence::OnCamera | Presence::Background | Presence::InShot | Presence::None
    )
}
