//! Mails: their words here, their sending in `jobs`. No sensitive data ever stands in one.

pub mod text;
