//! Where the time comes from. Everything that stamps or compares time takes it from here, so that a test can set it.

use std::sync::Mutex;

use chrono::{DateTime, TimeDelta, Utc};

/// The one way to ask what time it is.
pub trait Clock: Send + Sync + 'static {
    /// The present instant, UTC.
    fn now(&self) -> DateTime<Utc>;
}

/// The machine's clock.
pub struct SystemClock;

impl Clock for SystemClock {
    #[expect(
        clippy::disallowed_methods,
        reason = "the one place that asks the machine"
    )]
    fn now(&self) -> DateTime<Utc> {
        Utc::now()
    }
}

/// A clock that stands still until it is told to move; for tests.
pub struct FixedClock(Mutex<DateTime<Utc>>);

impl FixedClock {
    /// A clock that shows `now`.
    pub fn new(now: DateTime<Utc>) -> Self {
        Self(Mutex::new(now))
    }

    /// Moves the clock by `by`, which may be negative.
    pub fn advance(&self, by: TimeDelta) {
        let mut now = self
            .0
            .lock()
            .unwrap_or_else(std::sync::PoisonError::into_inner);
        *now += by;
    }

    /// Sets the clock to `to`.
    pub fn set(&self, to: DateTime<Utc>) {
        *self
            .0
            .lock()
            .unwrap_or_else(std::sync::PoisonError::into_inner) = to;
    }
}

impl Clock for FixedClock {
    fn now(&self) -> DateTime<Utc> {
        *self
            .0
            .lock()
            .unwrap_or_else(std::sync::PoisonError::into_inner)
    }
}
