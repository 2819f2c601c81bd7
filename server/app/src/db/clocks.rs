//! How the frames of a file are counted and written: its rate, its first timecode, its length.

use diesel::prelude::*;
use diesel::sql_types::{Array, BigInt, Bool, Integer, Nullable, Text, Uuid as SqlUuid};
use diesel_async::RunQueryDsl;
use uuid::Uuid;
use waybill_domain::timecode::Rate;
use waybill_domain::usage::Frames;

use super::Conn;
use crate::error::FieldError;

/// What a range of a file's frames is checked and read against.
#[derive(Clone, Debug, QueryableByName)]
pub struct Clock {
    #[diesel(sql_type = SqlUuid)]
    pub id: Uuid,
    #[diesel(sql_type = Text)]
    pub name: String,
    #[diesel(sql_type = Nullable<Integer>)]
    pub rate_num: Option<i32>,
    #[diesel(sql_type = Nullable<Integer>)]
    pub rate_den: Option<i32>,
    #[diesel(sql_type = Nullable<Bool>)]
    pub drop_frame: Option<bool>,
    #[diesel(sql_type = Nullable<BigInt>)]
    pub start_frame: Option<i64>,
    #[diesel(sql_type = Nullable<BigInt>)]
    pub frame_count: Option<i64>,
}

impl Clock {
    /// The rate at which its labels count: its own, or `usual` where its header tells none.
    pub fn rate(&self, usual: Rate) -> Rate {
        let own = self.rate_num.zip(self.rate_den);
        own.and_then(|(num, den)| Rate::new(num.into(), den.into(), false).ok())
            .map_or(usual, |rate| {
                rate.with_drop(self.drop_frame.unwrap_or(false))
            })
    }

    /// The label of a frame of the file.
    pub fn label(&self, frame: i64, usual: Rate) -> String {
        self.rate(usual)
            .label(self.start_frame.unwrap_or(0).saturating_add(frame))
    }

    /// Whether the file has these frames. A length that nobody knows can't be checked.
    ///
    /// # Errors
    /// What is wrong with the range.
    pub fn holds(&self, range: Option<Frames>) -> Result<(), Vec<FieldError>> {
        match (range, self.frame_count) {
            (Some((_, to)), Some(count)) if to > count => Err(vec![FieldError::new(
                "/to",
                format!("{} has {count} frames; the range ends at {to}.", self.name),
            )]),
            _ => Ok(()),
        }
    }
}

/// The clocks of these files of the series.
///
/// # Errors
/// The database's.
pub async fn clocks(conn: &mut Conn, series: Uuid, ids: &[Uuid]) -> QueryResult<Vec<Clock>> {
    diesel::sql_query(
        "select id, name, rate_num, rate_den, drop_frame, start_frame, frame_count from files \
         where series_id = $1 and id = any($2)",
    )
    .bind::<SqlUuid, _>(series)
    .bind::<Array<SqlUuid>, _>(ids)
    .load(conn)
    .await
}
