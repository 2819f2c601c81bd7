//! Hash lists: what a folder held when it was listed, and whether it still does. Two forms: ASC MHL
//! (a history of generations beside the files) and the plain lists that `md5sum` and its kin write.
//!
//! Sources: [S] "ASC Media Hash List, Specification v1.0" (15 March 2022; the format is 2.0),
//! [G] its Implementation Guidelines v1.0, [X] its XML schemas. Nothing here reads or writes a file:
//! bytes come in through `Read`, text goes out, and hashing is a function that the caller hands in.
//!
//! A list that cannot be read, a hash type that is not known and a chain that is broken are findings of
//! their own: whoever asks "is all well?" must look at them beside the files (R41: unknown is no yes).

pub mod chain;
pub mod compare;
pub mod digest;
pub mod folder;
pub mod history;
pub mod ignore;
pub mod model;
pub mod names;
pub mod plain;
mod read;
pub mod renames;
pub mod report;
mod write;
mod xml;

#[cfg(test)]
mod tests;

pub use read::{ListError, read_manifest};
pub use write::{head_text, manifest_text, record_text, tail_text};

/// The folder of a history, directly in the folder that it describes [S 5.3.1].
pub const HISTORY_FOLDER: &str = "ascmhl";
/// The file that says which lists belong to a history [S 7.3].
pub const CHAIN_FILE: &str = "ascmhl_chain.xml";
/// The hash types of ASC MHL, in the order in which its schema wants them.
pub const LIST_KINDS: [crate::hashes::HashKind; 6] = [
    crate::hashes::HashKind::C4,
    crate::hashes::HashKind::Md5,
    crate::hashes::HashKind::Sha1,
    crate::hashes::HashKind::Xxh128,
    crate::hashes::HashKind::Xxh3,
    crate::hashes::HashKind::Xxh64,
];
