//! Mails: their words and their carriers. Only `jobs` sends. No sensitive data ever stands in a mail.

pub mod carrier;
pub mod text;
