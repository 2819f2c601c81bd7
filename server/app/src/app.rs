//! The one value that every handler and job gets: pool, clock, settings, file store, keys.

use std::sync::Arc;

use tokio::sync::Semaphore;

use crate::auth::tokens::TokenKey;
use crate::blobs::Blobs;
use crate::clock::Clock;
use crate::config::Config;
use crate::db::Pool;
use crate::mail::carrier::Carrier;

/// Cheap to clone; made once per process, outside the workers' factory.
#[derive(Clone)]
pub struct App {
    pub config: Arc<Config>,
    pub pool: Pool,
    pub clock: Arc<dyn Clock>,
    pub blobs: Blobs,
    pub carrier: Carrier,
    pub token_key: Arc<TokenKey>,
    /// Argon2 needs 19 MiB a run: two at a time, a short queue behind (trust before speed).
    pub hashing: Arc<Semaphore>,
    /// Places in the queue in front of the hashing.
    pub hashing_queue: Arc<Semaphore>,
    /// The typesetter uses a core and much memory: one report at a time.
    pub typesetting: Arc<Semaphore>,
    /// In the demonstration, whose drives are folders of one machine, labels stand for devices. Never set by a setting.
    pub drives_by_label: bool,
}

/// How many sign-ins may wait for a hash before the next is told to come back.
const HASHING_QUEUE: usize = 20;

impl App {
    /// Builds the value from its parts and reads the signing key (made at the first start) from the database.
    ///
    /// # Errors
    /// When the database can't be reached.
    pub async fn new(
        config: Config,
        pool: Pool,
        clock: Arc<dyn Clock>,
        blobs: Blobs,
        carrier: Carrier,
    ) -> Result<Self, crate::error::OpError> {
        let token_key = TokenKey::load_or_make(&mut *pool.get().await?, clock.now()).await?;
        Ok(Self {
            config: Arc::new(config),
            pool,
            clock,
            blobs,
            carrier,
            token_key: Arc::new(token_key),
            hashing: Arc::new(Semaphore::new(2)),
            hashing_queue: Arc::new(Semaphore::new(HASHING_QUEUE)),
            typesetting: Arc::new(Semaphore::new(1)),
            drives_by_label: false,
        })
    }

    /// The present instant.
    pub fn now(&self) -> chrono::DateTime<chrono::Utc> {
        self.clock.now()
    }
}
