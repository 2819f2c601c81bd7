//! The command for drives: what it does, apart from reading its arguments. `main` is thin.

mod api;
mod args;
mod commands;
#[cfg(unix)]
mod copy;
#[cfg(not(unix))]
#[path = "no_copy.rs"]
mod copy;
mod exit;
mod find;
mod folders;
pub mod hashing;
mod lists;
mod machine;
mod output;
mod pictures;
mod read;
mod run;
mod scan;
mod send;
mod token;
mod volume;
mod walk;

pub use run::run;
