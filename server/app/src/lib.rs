//! The Waybill server.
