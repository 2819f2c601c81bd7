//! Test support.
#![cfg(feature = "server")]
