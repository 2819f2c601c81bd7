//! The program as a black box: scratch folders, exit codes, what it prints, what it leaves behind.

mod bad_input;
mod interrupted;
mod lists;
mod scan;
mod send;
mod support;
mod try_it;
