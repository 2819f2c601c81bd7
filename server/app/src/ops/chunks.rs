//! What scans and verifications have in common: they come in numbered chunks, each of which is taken once.

use waybill_domain::manifest::{LineError, chunk_digest};

use crate::error::OpError;

/// A chunk as it came.
pub struct Chunk {
    pub number: i32,
    /// SHA-256 of the body.
    pub digest: String,
}

/// A chunk whose body came whole, with its entries as `read` reads them.
///
/// # Errors
/// `BadRequest` for a body that is not the one of `digest`, or naming the line that can't be taken; `TooLarge`.
pub fn open<T>(
    number: u32,
    digest: Option<&str>,
    body: &[u8],
    read: impl FnOnce(&[u8]) -> Result<T, LineError>,
) -> Result<(Chunk, T), OpError> {
    let number = i32::try_from(number)
        .map_err(|_too_large| OpError::BadRequest("there is no chunk of that number".into()))?;
    let made = chunk_digest(body);
    if digest.is_some_and(|given| !given.eq_ignore_ascii_case(&made)) {
        return Err(OpError::BadRequest(
            "the chunk was damaged on its way: its SHA-256 is not the one given. Send it again; nothing was saved"
                .into(),
        ));
    }
    let entries = read(body).map_err(|error| match error {
        LineError::TooMany => OpError::TooLarge(error.to_string()),
        other => OpError::BadRequest(other.to_string()),
    })?;
    let digest = made;
    Ok((Chunk { number, digest }, entries))
}

/// How far that which the chunk belongs to is.
pub struct Progress<'a> {
    /// What it is: `scan` or `verification`.
    pub what: &'a str,
    pub next: i32,
    pub complete: bool,
    /// The digest under which the chunk's number was received.
    pub received: Option<String>,
}

/// Whether the chunk is there already.
///
/// # Errors
/// `Conflict` when it can't be taken now.
pub fn is_known(chunk: &Chunk, progress: &Progress<'_>) -> Result<bool, OpError> {
    let Progress {
        what,
        next,
        complete,
        received,
    } = progress;
    let number = chunk.number;
    match received {
        Some(known) if *known == chunk.digest => Ok(true),
        Some(_) => Err(OpError::Conflict(format!(
            "Chunk {number} of this {what} was received with another content. Start a new {what}; nothing was saved."
        ))),
        None if *complete => Err(OpError::Conflict(format!(
            "This {what} is complete; nothing can be added to it. Start a new one."
        ))),
        None if number != *next => Err(OpError::Conflict(format!(
            "Chunk {number} came, but chunk {next} is next. Send the missing ones first."
        ))),
        None => Ok(false),
    }
}
