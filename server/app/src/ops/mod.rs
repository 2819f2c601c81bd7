//! Every change, and every read that needs a decision. One function is one step of the business: it checks the right,
//! opens one transaction, leaves an audit line, and answers with what is now true. Nothing here knows of HTTP.

pub mod access;
pub mod after;
pub mod audit;
pub mod board;
pub mod captions;
pub mod cards;
pub mod care;
pub mod check;
pub mod child_licence;
mod chunks;
pub mod clearance;
pub mod copy_plan;
pub mod costs;
pub mod cue_sheets;
pub mod custody;
pub mod cuts;
pub mod demo;
pub mod documents;
pub mod files;
pub mod form;
pub mod holdings;
pub mod home;
pub mod issued;
pub mod keeping;
pub mod log;
pub mod mails;
pub mod matching;
pub mod outbox;
pub mod paper;
pub mod papers;
pub mod records;
pub mod reminders;
pub mod report;
pub mod roll_names;
pub mod scans;
pub mod sealed_notes;
pub mod series;
pub mod sheets;
pub mod sign_in;
pub mod team;
pub mod verifications;
pub mod what_if;

pub use crate::error::OpError;
