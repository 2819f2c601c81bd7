//! All of Waybill's computation. Nothing here opens a file, asks the clock or knows of a database.

pub mod age;
pub mod clearance;
pub mod costs;
pub mod cut_name;
pub mod cut_uses;
pub mod footage;
pub mod hash_list;
pub mod hashes;
pub mod identifiers;
pub mod manifest;
pub mod matching;
pub mod media;
pub mod music;
pub mod papers;
pub mod perms;
pub mod repeat;
pub mod report;
pub mod rights;
pub mod schedule;
pub mod sheet;
pub mod textio;
pub mod timecode;
pub mod timeline;
pub mod try_rule;
pub mod usage;
pub mod verification;
