//! The HTTP edge. A handler reads the request, calls one operation, and shapes the answer; nothing else.
//! `router.rs` lists every route once, which also puts it into the OpenAPI document.

pub mod account;
pub mod board;
pub mod captions;
pub mod cards;
mod chunk;
pub mod clearance;
pub mod cue_sheets;
pub mod cuts;
pub mod documents;
pub mod drives;
pub mod file_pictures;
pub mod files;
pub mod guard;
pub mod home;
pub mod issued;
pub mod log;
pub mod openapi;
pub mod papers;
pub mod records;
pub mod reminders;
pub mod report;
pub mod router;
pub mod saved_searches;
pub mod scans;
pub mod sealed_notes;
pub mod series;
pub mod sheets;
pub mod shots;
pub mod team;
pub mod transcripts;
pub mod types;
pub mod what_if;
