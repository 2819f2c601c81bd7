//! Brings the database up to this program. An advisory lock lets several copies start at once; a database that is
//! newer than the program is refused.

use diesel_async::{AsyncMigrationHarness, AsyncPgConnection, RunQueryDsl};
use diesel_migrations::{EmbeddedMigrations, MigrationHarness, embed_migrations};

const MIGRATIONS: EmbeddedMigrations = embed_migrations!("../../migrations");
/// Any fixed number; all copies of the server use the same.
const LOCK: i64 = 0x5741_5942_494c_4c01;

/// Why the database can't be used.
#[derive(Debug, thiserror::Error)]
pub enum MigrateError {
    #[error("the database can't be reached: {0}")]
    Connect(#[from] diesel::ConnectionError),
    #[error("the database refused: {0}")]
    Query(#[from] diesel::result::Error),
    #[error("a migration failed, nothing of it was kept: {0}")]
    Migration(String),
    #[error(
        "the database was made by a newer Waybill (it has step {0}, which this program doesn't know); start the newer program"
    )]
    Newer(String),
}

/// Applies what is missing and returns the names of the steps taken. Needs a multi-threaded tokio runtime.
///
/// # Errors
/// See [`MigrateError`]; a failed step is rolled back whole.
pub async fn up(url: &str) -> Result<Vec<String>, MigrateError> {
    let mut conn = super::pool::establish(url).await?;
    lock(&mut conn).await?;
    let mut harness = AsyncMigrationHarness::new(conn);
    let known: Vec<String> = names()?;
    let text = |error: Box<dyn std::error::Error + Send + Sync>| {
        MigrateError::Migration(error.to_string())
    };
    for applied in harness.applied_migrations().map_err(text)? {
        let applied = applied.to_string();
        if !known
            .iter()
            .any(|name| name.split('_').next() == Some(applied.as_str()))
        {
            return Err(MigrateError::Newer(applied));
        }
    }
    let done = harness.run_pending_migrations(MIGRATIONS).map_err(text)?;
    Ok(done.iter().map(ToString::to_string).collect())
}

/// Takes every step back; for the test that up, down, up leaves the same schema.
///
/// # Errors
/// As [`up`].
pub async fn down(url: &str) -> Result<(), MigrateError> {
    let mut conn = super::pool::establish(url).await?;
    lock(&mut conn).await?;
    AsyncMigrationHarness::new(conn)
        .revert_all_migrations(MIGRATIONS)
        .map_err(|error| MigrateError::Migration(error.to_string()))?;
    Ok(())
}

/// The lock belongs to the session and goes with the connection.
async fn lock(conn: &mut AsyncPgConnection) -> Result<(), MigrateError> {
    diesel::sql_query("set lock_timeout = 0")
        .execute(conn)
        .await?;
    diesel::sql_query("set statement_timeout = 0")
        .execute(conn)
        .await?;
    diesel::sql_query(format!("select pg_advisory_lock({LOCK})"))
        .execute(conn)
        .await?;
    Ok(())
}

fn names() -> Result<Vec<String>, MigrateError> {
    use diesel::migration::{Migration, MigrationSource};
    let all: Vec<Box<dyn Migration<diesel::pg::Pg>>> = MIGRATIONS
        .migrations()
        .map_err(|error| MigrateError::Migration(error.to_string()))?;
    Ok(all.iter().map(|one| one.name().to_string()).collect())
}
