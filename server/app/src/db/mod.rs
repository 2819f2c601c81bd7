//! All SQL. Functions take a connection, never a pool, and know nothing of HTTP or permissions.
//! One file per aggregate; `schema` is a package of its own, made from the migrations.

pub mod approvals;
pub mod assets;
pub mod audit;
pub mod board;
pub mod card_states;
pub mod cards;
pub mod checks;
pub mod clearance;
pub mod clocks;
pub mod costs;
pub mod cue_sheets;
pub mod custody;
pub mod cuts;
pub mod deliverables;
pub mod documents;
pub mod drives;
pub mod episodes;
pub mod files;
pub mod holdings;
pub mod home;
pub mod ingest;
pub mod json;
pub mod kept;
pub mod licences;
pub mod log;
pub mod log_lines;
pub mod matching;
pub mod migrate;
pub mod music;
pub mod papers;
pub mod people;
pub mod places;
pub mod pool;
pub mod record;
pub mod releases;
pub mod reminders;
pub mod scan_end;
pub mod scans;
pub mod scenes;
#[rustfmt::skip]
pub use waybill_schema as schema;
pub mod sealed_notes;
pub mod series;
pub mod sheets;
pub mod shoot_days;
pub mod showings;
pub mod specifications;
pub mod territory_groups;
pub mod text_enum;
pub mod users;
pub mod wipe;

pub use diesel_async::AsyncPgConnection as Conn;
pub use json::Json;
pub use pool::Pool;
