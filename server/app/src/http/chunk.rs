//! Bodies of chunks, for whatever comes in chunks.

use actix_web::web::{Bytes, Payload};
use serde::Deserialize;
use utoipa::IntoParams;

use crate::error::OpError;

/// The most bytes in one chunk.
const LIMIT: usize = 8 * 1024 * 1024;

#[derive(Deserialize, IntoParams)]
#[serde(deny_unknown_fields)]
#[into_params(parameter_in = Query)]
pub struct ChunkQuery {
    /// SHA-256 of the body, hex: tells whether it came whole.
    pub digest: Option<String>,
}

/// The whole body.
///
/// # Errors
/// `TooLarge`; `BadRequest` when it breaks off.
pub async fn body(payload: Payload) -> Result<Bytes, OpError> {
    payload
        .to_bytes_limited(LIMIT)
        .await
        .map_err(|_broken| OpError::TooLarge("at most 8 MiB are taken in one chunk".into()))?
        .map_err(|error| OpError::BadRequest(format!("the chunk did not come whole: {error}")))
}
