//! The Waybill server.

pub mod cluster;
