//! Files that no outside sample holds.
