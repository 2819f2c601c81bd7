//! What the threads of a copy tell the one that keeps the account.

use std::time::SystemTime;

use chrono::{DateTime, Utc};
use waybill_domain::hashes::{HashKind, Hashes};

use super::medium::Way;

/// A piece of news.
pub enum Event {
    /// A file of the card was read to its end; the quick hashes.
    Read { file: usize, hashes: Hashes },
    /// A slower hash of it.
    Hashed {
        file: usize,
        kind: HashKind,
        digest: String,
    },
    /// A file of the card gave nothing that could be used.
    Unread { file: usize, reason: String },
    /// The copy was read back, is the card's content, and stands under its name.
    Verified {
        destination: usize,
        file: usize,
        at: DateTime<Utc>,
        way: Way,
    },
    /// One copy came to nothing; the destination goes on.
    Fault {
        destination: usize,
        file: usize,
        reason: String,
    },
    /// A destination is given up.
    Failed { destination: usize, reason: String },
}

/// A modification time as files take it.
pub fn file_time(time: DateTime<Utc>) -> SystemTime {
    time.into()
}
