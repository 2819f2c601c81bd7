//! Checks against published sources.
