//! The API over real HTTP: what each route answers, to whom.

mod account;
mod board;
mod clearance;
mod copies;
mod cue_sheets;
mod cuts;
mod demo;
mod document;
mod documents;
mod edge;
mod files;
pub mod footage;
mod log;
mod matrix;
mod records;
mod report;
mod rights;
mod rules;
mod samples;
pub mod scans;
mod sealed;
mod season;
mod sheet_forms;
mod sheets;
mod team;
mod verify;
mod what_if;
