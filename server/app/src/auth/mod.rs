//! Who is calling: passwords, sessions, signed tokens, and the extractor that turns a request into an `Actor`.
//!
//! A browser's session is a random token in a cookie, kept hashed. What leaves the browser (the command's device
//! tokens, invitations) is a signed token with a row, so that it can be withdrawn.

pub mod actor;
pub mod passwords;
pub mod tokens;
