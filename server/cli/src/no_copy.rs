//! `waybill copy` on systems on which it cannot keep its promise: reading back past the page cache, and renaming
//! without replacing, are done with calls of Unix systems.

use crate::args::Copy;
use crate::exit::{Exit, Failure};
use crate::output::Output;
use crate::read::Signals;

/// Refuses.
pub fn run(_: &Copy, _: &Signals, _: &Output) -> Result<Exit, Failure> {
    let message = "waybill copy works on Linux and macOS only; nothing was copied.";
    Err(Failure::new(Exit::Usage, message))
}
