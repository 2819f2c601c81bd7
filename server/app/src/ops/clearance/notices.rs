//! Crowd notices as a ground for people in the background (R22): a notice is about a place on its days, and stands for
//! somebody only where every use was filmed there and then. One of the place that says no days may be of those: it is
//! taken, and what is to be entered is said.

use std::collections::{HashMap, HashSet};

use uuid::Uuid;
use waybill_domain::clearance::{Basis, Side, Use};
use waybill_domain::rights::basis::{CrowdNotice, Ground};

use crate::db::clearance::{FileRow, LogRow, Records};
use crate::db::cuts::EventRow;
use crate::db::releases::{Release, ReleaseKind, ReleaseState};

/// The notices of a series, and where each event of the cut was filmed.
pub struct Notices<'a> {
    notices: Vec<&'a Release>,
    places: HashMap<u32, HashSet<Uuid>>,
}

impl<'a> Notices<'a> {
    /// Gathers them. An event was filmed at the places of its file's shoot day, and at those that its log names.
    pub fn new(
        events: &[EventRow],
        files: &HashMap<Uuid, FileRow>,
        log: &[LogRow],
        records: &'a Records,
    ) -> Self {
        let notices: Vec<&Release> = (records.releases.iter())
            .filter(|one| one.fields.kind == ReleaseKind::CrowdNotice)
            .filter(|one| one.fields.status != ReleaseState::Problem)
            .collect();
        let mut places: HashMap<u32, HashSet<Uuid>> = HashMap::new();
        if !notices.is_empty() {
            let mut of_file: HashMap<Uuid, HashSet<Uuid>> = HashMap::new();
            for file in files.values() {
                of_file.entry(file.id).or_default().extend(&file.place_ids);
            }
            for line in log {
                of_file
                    .entry(line.file_id)
                    .or_default()
                    .extend(line.place_id);
            }
            for event in events {
                let here = event.file_id.and_then(|id| of_file.get(&id));
                places.insert(event.number(), here.cloned().unwrap_or_default());
            }
        }
        Self { notices, places }
    }

    /// The ground that the notices give somebody used like this; none where some use is of another place or day.
    pub fn for_uses(&self, uses: &[Use]) -> Option<Basis> {
        let mut all = CrowdNotice {
            at_every_entrance: true,
            text_version: String::new(),
            dated: true,
            photographed: true,
            days_missing: false,
        };
        let mut versions: Vec<&str> = Vec::new();
        let mut without_version = false;
        if uses.is_empty() {
            return None;
        }
        for one in uses {
            let notice = self
                .notices
                .iter()
                .filter_map(|notice| Some((self.reaches(notice, one)?, notice)))
                .min_by_key(|(days, _)| *days != Posted::ThatDay)?;
            let (days, notice) = notice;
            all.days_missing |= days == Posted::NobodySaid;
            let (fields, details) = (&notice.fields, &notice.fields.details.0);
            all.at_every_entrance &= details.at_every_entrance;
            all.dated &= !details.posted_at.trim().is_empty();
            all.photographed &= fields.document_id.is_some();
            match fields.form_version.trim() {
                "" => without_version = true,
                version if !versions.contains(&version) => versions.push(version),
                _ => {}
            }
        }
        if !without_version {
            all.text_version = versions.join(", ");
        }
        Some(Basis {
            side: Side::Whole,
            ground: Ground::CrowdNotice(all),
            dated: vec![],
        })
    }

    /// Whether the notice hung where a use was filmed, on its day or on days that nobody said.
    fn reaches(&self, notice: &Release, one: &Use) -> Option<Posted> {
        let fields = &notice.fields;
        if !self.places.get(&one.event)?.contains(&fields.place_id?) {
            return None;
        }
        let day = one.filmed_on?;
        let last = fields.filmed_to.or(fields.filmed_from);
        if fields.filmed_from.is_some_and(|from| day < from) || last.is_some_and(|to| to < day) {
            return None;
        }
        Some(match fields.filmed_from {
            Some(_) => Posted::ThatDay,
            None => Posted::NobodySaid,
        })
    }
}

/// What is known of the days of a notice.
#[derive(Clone, Copy, PartialEq, Eq)]
enum Posted {
    ThatDay,
    NobodySaid,
}
