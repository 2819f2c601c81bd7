//! Test support: PostgreSQL, a database for each test, the whole server on a port of its own, people with roles, a
//! plain HTTP client, and what would be mailed.
#![cfg(feature = "server")]

pub mod app;
pub mod cluster;
pub mod db;
pub mod http;
pub mod mail;
pub mod smtp;
pub mod users;
