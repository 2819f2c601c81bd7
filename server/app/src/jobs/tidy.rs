//! After a scan: the counts of what lies where are folded together, names are counted, and after a large one the
//! planner learns how large the tables have become, before the database would look by itself.

use super::queue::Job;
use super::{JobError, id};
use crate::app::App;
use crate::ops::holdings;

/// See the module's head.
///
/// # Errors
/// The database's: then it is tried again.
pub async fn run(app: &App, job: &Job) -> Result<(), JobError> {
    let large = job
        .payload
        .get("large")
        .and_then(serde_json::Value::as_bool);
    holdings::fold(app, id(job, "series_id")?).await?;
    if large == Some(true) {
        holdings::learn(app).await?;
    }
    Ok(())
}
