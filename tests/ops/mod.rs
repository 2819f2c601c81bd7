//! Operations under pressure: races and breaks between steps.

mod holdings;
mod language;
mod scans;
