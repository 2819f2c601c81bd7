//! The Waybill server. Four layers and no more: `http` and `jobs` at the edge, `ops` for every change, `db` for SQL.
//!
//! What is absent on purpose: handlers with SQL in them, transactions outside `ops`, calls to the clock outside
//! `clock`, mail sent inside a request.

pub mod app;
pub mod auth;
pub mod blobs;
pub mod clock;
pub mod cluster;
pub mod config;
pub mod db;
pub mod demo;
pub mod error;
pub mod http;
pub mod jobs;
pub mod mail;
pub mod ops;
pub mod run;
pub mod web;
