//! Test support: PostgreSQL, a database for each test.
#![cfg(feature = "server")]

pub mod cluster;
pub mod db;
