//! All SQL. Functions take a connection, never a pool, and know nothing of HTTP or permissions.
//! `schema.rs` is made from the migrations; one file per aggregate.

pub mod audit;
pub mod json;
pub mod migrate;
pub mod people;
pub mod pool;
pub mod record;
pub mod reminders;
#[rustfmt::skip]
pub mod schema;
pub mod series;
pub mod text_enum;
pub mod users;

pub use diesel_async::AsyncPgConnection as Conn;
pub use json::Json;
pub use pool::Pool;
