//! Real server tests.
