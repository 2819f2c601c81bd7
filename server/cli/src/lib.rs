//! The command for drives: what it does, apart from reading its arguments. `main` is thin.

pub mod hashing;
