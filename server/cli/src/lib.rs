//! The command for drives.
