//! The API over real HTTP: what each route answers, to whom.

mod account;
mod board;
mod copies;
mod demo;
mod document;
mod documents;
mod edge;
mod files;
pub mod footage;
mod log;
mod matrix;
mod records;
mod rules;
mod samples;
pub mod scans;
mod team;
