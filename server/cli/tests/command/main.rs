//! The program as a black box: scratch folders, exit codes, what it prints, what it leaves behind.

mod bad_input;
#[cfg(unix)]
mod copy;
#[cfg(unix)]
mod copy_faults;
#[cfg(unix)]
mod copy_interrupted;
#[cfg(unix)]
mod copy_send;
mod interrupted;
mod lists;
mod pictures;
mod scan;
mod send;
mod server;
mod support;
mod try_it;
mod verify_drive;
