//! Work that computes for a while.

use super::OpError;

/// Runs work that computes for a while where it does not hold up other requests.
///
/// # Errors
/// `Internal` when it panicked.
pub async fn blocking<T: Send + 'static>(
    work: impl FnOnce() -> T + Send + 'static,
) -> Result<T, OpError> {
    tokio::task::spawn_blocking(work)
        .await
        .map_err(|error| OpError::Internal(format!("blocking work: {error}")))
}

/// Lets go of something large, made of many small things, while nobody waits for it.
pub fn let_go<T: Send + 'static>(large: T) {
    drop(tokio::task::spawn_blocking(move || drop(large)));
}
