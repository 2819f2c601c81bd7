//! How long a copy takes (R47): an estimate before it begins, then the measured rate and the time left. Reading back is
//! part of both. What was measured is kept, so that the next estimate for the same drive is better.

use std::cell::Cell;
use std::collections::BTreeMap;
use std::fs;
use std::path::Path;
use std::sync::atomic::{AtomicU64, Ordering};
use std::time::{Duration, Instant};

use serde_json::json;
use waybill_domain::footage::odds::copy_time;
use waybill_domain::manifest::Totals;

use super::destination::Destination;
use super::device::Device;
use crate::output::{Output, Progress, bytes_text, duration_text};

/// Bytes a second of a drive that was never measured: what a single disk does.
const UNKNOWN_RATE: f64 = 150e6;
/// Where measured rates are kept.
const RATES: &str = "rates.json";

/// Rates of drives that were measured, in bytes a second.
#[derive(Default)]
pub struct Rates(BTreeMap<String, f64>);

impl Rates {
    /// What is known; nothing, where nothing can be read.
    pub fn read(state: &Path) -> Self {
        let text = fs::read(state.join(RATES)).unwrap_or_default();
        Self(serde_json::from_slice(&text).unwrap_or_default())
    }

    fn of(&self, device: &Device) -> Option<f64> {
        let rate = self.0.get(key(device)).copied();
        rate.filter(|rate| rate.is_finite() && *rate >= 1.0)
    }

    /// Keeps what was measured. An estimate is a courtesy; what cannot be kept is not missed.
    pub fn keep(mut self, state: &Path, device: &Device, rate: f64) {
        self.0.insert(key(device).to_owned(), rate.round());
        if let Ok(text) = serde_json::to_vec(&self.0) {
            let _ = fs::write(state.join(RATES), text);
        }
    }

    /// The estimate as a sentence.
    pub fn estimate(&self, bytes: u64, destinations: &[Destination]) -> String {
        let known = destinations.iter().map(|one| self.of(&one.device));
        let (rate, is_measured) = known
            .map(|rate| (rate.unwrap_or(UNKNOWN_RATE), rate.is_some()))
            .min_by(|one, other| one.0.total_cmp(&other.0))
            .unwrap_or((UNKNOWN_RATE, false));
        let time = copy_time(bytes, rate, rate);
        if time.with_verify_seconds < 1.0 {
            return "This takes a second or two.".to_owned();
        }
        let from = match is_measured {
            true => "as the slowest of these drives did last time",
            false => "taken as the rate of a drive that was not measured yet",
        };
        format!(
            "At {}/s, {from}, writing takes about {}, with reading back {}.",
            bytes_text(rate as u64),
            text_of(time.copy_seconds),
            text_of(time.with_verify_seconds),
        )
    }
}

fn key(device: &Device) -> &str {
    device.volume.as_ref().unwrap_or(&device.number)
}

fn text_of(seconds: f64) -> String {
    let duration = Duration::try_from_secs_f64(seconds).unwrap_or(Duration::MAX);
    duration_text(duration)
}

/// The running copy's progress.
pub struct Pace<'a> {
    progress: Progress<'a>,
    destinations: &'a [Destination],
    /// Bytes to write and to read back, by destination.
    work: Vec<(u64, u64)>,
    totals: Totals,
    began: Cell<Instant>,
}

impl<'a> Pace<'a> {
    pub fn new(output: &'a Output, destinations: &'a [Destination], totals: Totals) -> Self {
        Self {
            progress: Progress::new(output, Some(totals)),
            work: vec![(0, 0); destinations.len()],
            destinations,
            totals,
            began: Cell::new(Instant::now()),
        }
    }

    /// What lies ahead of one destination.
    pub fn expect(&mut self, destination: usize, to_write: u64, to_verify: u64) {
        self.work[destination] = (to_write, to_verify);
    }

    /// From now on the rate is measured.
    pub fn begin(&self) {
        self.began.set(Instant::now());
    }

    pub fn seconds(&self) -> f64 {
        self.began.get().elapsed().as_secs_f64().max(0.001)
    }

    pub fn clear(&self) {
        self.progress.clear();
    }

    pub fn note(&self, about: &str, text: &str) {
        self.progress.note(about, text);
    }

    /// Shows where the copy is, when it is time to. The slowest destination sets the pace.
    pub fn tick(&self) {
        if !self.progress.is_due() {
            return;
        }
        let count = |number: &AtomicU64| number.load(Ordering::Relaxed);
        let running = self.destinations.iter().zip(&self.work);
        let running = running.filter(|(one, _)| !one.progress.failed.load(Ordering::Relaxed));
        let states = running.map(|(one, (to_write, to_verify))| {
            let (written, verified) = (count(&one.progress.written), count(&one.progress.verified));
            let left = (to_write + to_verify).saturating_sub(written + verified);
            (left, written, verified, *to_write, *to_verify)
        });
        let Some((left, written, verified, to_write, to_verify)) = states.max() else {
            return;
        };
        let seconds = self.seconds();
        let rate = (written + verified) as f64 / seconds;
        let time_left = Duration::try_from_secs_f64(left as f64 / rate)
            .ok()
            .filter(|_| seconds > 1.0);
        let event = json!({
            "event": "progress",
            "of_files": self.totals.files,
            "bytes_written": written,
            "of_bytes_to_write": to_write,
            "bytes_verified": verified,
            "of_bytes_to_verify": to_verify,
            "bytes_per_second": rate.round(),
            "seconds_left": time_left.map(|left| left.as_secs()),
        });
        let line = format!(
            "{} of {} written, {} of {} read back, {}/s in both{}",
            bytes_text(written),
            bytes_text(to_write),
            bytes_text(verified),
            bytes_text(to_verify),
            bytes_text(rate as u64),
            time_left.map_or_else(String::new, |left| format!(
                ", {} left",
                duration_text(left)
            )),
        );
        self.progress.show(&line, &event);
    }
}
