//! The program as a black box: scratch folders, exit codes, what it prints, what it leaves behind.

mod bad_input;
#[cfg(unix)]
mod copy;
#[cfg(unix)]
mod copy_faults;
#[cfg(unix)]
mod copy_interrupted;
#[cfg(target_os = "linux")]
mod copy_io_errors;
#[cfg(unix)]
mod copy_paper;
#[cfg(unix)]
mod copy_send;
#[cfg(target_os = "linux")]
mod faulty;
mod find;
mod interrupted;
mod lists;
mod pictures;
#[cfg(target_os = "linux")]
mod read_errors;
mod scan;
mod send;
mod server;
mod support;
mod try_it;
mod verify_drive;
