//! Finding files: keeping the folders and names that they are found by, and asking them.
//!
//! Words are looked for in folders and names, of which there are thousands where there are millions of files. What
//! comes of it is two sorted lists of numbers, by which files are then read in the order of hits: by folder key (newest
//! day first), then in the order of their coming.

pub mod ask;
pub mod facets;
pub mod keep;
pub mod sets;
mod sql;
