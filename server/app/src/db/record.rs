//! What all records of a series have in common, in SQL: an id, a version that is the ETag, a bin that can be emptied
//! back. `record_table!` writes the row type and its six statements for one table; a record's own file holds its
//! fields and rules.

use std::future::Future;

use chrono::{DateTime, NaiveDate, Utc};
use diesel::QueryResult;
use serde::Serialize;
use uuid::Uuid;

use super::Conn;
use crate::error::{FieldError, OpError};
use crate::ops::access::Access;

/// The fields of a record that people may write.
pub trait Fields: Serialize + Clone + Send + Sync + 'static {
    /// Everything in these fields that needs a change, across fields too; empty when all is well.
    fn faults(&self) -> Vec<FieldError>;

    /// What the day of the change speaks against. `old`: none for a new record; what stood there already is not asked
    /// again.
    fn faults_today(&self, old: Option<&Self>, today: NaiveDate) -> Vec<FieldError> {
        let _ = (old, today);
        Vec::new()
    }

    /// Other records of the same series that these fields point at: where, which table, which id.
    fn references(&self) -> Vec<Reference> {
        Vec::new()
    }

    /// Blanks what `access` may not see.
    fn hide(&mut self, access: &Access) {
        let _ = access;
    }

    /// Before a replacement by somebody who could not see all of `old`: what was hidden from them stays.
    fn keep_hidden(&mut self, old: &Self, access: &Access) {
        let _ = (old, access);
    }

    /// Brings what can be written in several ways into its one form. What is faulty stays as typed, for
    /// [`Fields::faults`].
    fn settle(&mut self) {}

    /// Notes who enters what and when, where these fields record it, and fills in what was left to that. `old`: none for
    /// a new record; `today`: in the series' zone.
    fn note_entering(&mut self, old: Option<&Self>, access: &Access, today: NaiveDate) {
        let _ = (old, access, today);
    }

    /// Stops a change that needs a right of its own, beyond changing such records. `old`: none for a new record.
    ///
    /// # Errors
    /// `NotAllowed`.
    fn allowed(&self, old: Option<&Self>, access: &Access) -> Result<(), OpError> {
        let _ = (old, access);
        Ok(())
    }

    /// What only the database can tell, in the transaction of the change and after [`Fields::faults`]. `old`: the
    /// record that is replaced; none for a new one.
    fn gate(
        conn: &mut Conn,
        series: Uuid,
        old: Option<(Uuid, &Self)>,
        new: &Self,
    ) -> impl Future<Output = Result<(), OpError>> + Send {
        let _ = (conn, series, old, new);
        std::future::ready(Ok(()))
    }
}

/// A pointer from one record to another of the same series.
pub struct Reference {
    /// JSON Pointer of the field.
    pub pointer: String,
    /// Table of the record that it points at.
    pub table: &'static str,
    pub id: Uuid,
}

impl Reference {
    /// A reference, when there is one.
    pub fn maybe(pointer: &str, table: &'static str, id: Option<Uuid>) -> Option<Self> {
        id.map(|id| Self {
            pointer: pointer.to_owned(),
            table,
            id,
        })
    }
}

/// Where else a record of a kind may be named: table (or a query with `deleted_at`), column (or `any(column)`), and
/// the words for it. All from the code, never from a request.
pub type Use = (&'static str, &'static str, &'static str);

/// A kind of record, as the generic operations in `ops::records` see it.
pub trait Record: Serialize + Clone + Send + Sync + 'static {
    type Fields: Fields;
    /// One word for the audit trail and the reminders: `person`.
    const KIND: &'static str;
    /// For sentences: `the person`.
    const NAME: &'static str;
    /// Live rows here keep the record from being deleted.
    const USED_BY: &'static [Use];

    fn id(&self) -> Uuid;
    fn version(&self) -> i32;
    fn deleted_at(&self) -> Option<DateTime<Utc>>;
    fn fields(&self) -> &Self::Fields;
    fn fields_mut(&mut self) -> &mut Self::Fields;

    /// The record, from the bin too.
    fn load(
        conn: &mut Conn,
        series: Uuid,
        id: Uuid,
    ) -> impl Future<Output = QueryResult<Option<Self>>> + Send;
    /// Live records in the order of their making, after the record `after`, whose searched words hold `q`.
    fn list(
        conn: &mut Conn,
        series: Uuid,
        q: Option<String>,
        after: Option<Uuid>,
        limit: i64,
    ) -> impl Future<Output = QueryResult<Vec<Self>>> + Send;
    fn insert(
        conn: &mut Conn,
        series: Uuid,
        id: Uuid,
        fields: Self::Fields,
        now: DateTime<Utc>,
    ) -> impl Future<Output = QueryResult<Self>> + Send;
    /// Replaces the fields where the version is still `version`; none when it is not.
    fn update(
        conn: &mut Conn,
        series: Uuid,
        id: Uuid,
        version: i32,
        fields: Self::Fields,
        now: DateTime<Utc>,
    ) -> impl Future<Output = QueryResult<Option<Self>>> + Send;
    /// Records of these ids, from the bin too, locked until the transaction ends.
    fn lock_all(
        conn: &mut Conn,
        series: Uuid,
        ids: &[Uuid],
    ) -> impl Future<Output = QueryResult<Vec<Self>>> + Send;
    /// As [`Record::insert`], of many in one statement: at most [`MOST_INSERTED`].
    fn insert_all(
        conn: &mut Conn,
        series: Uuid,
        new: Vec<(Uuid, Self::Fields)>,
        now: DateTime<Utc>,
    ) -> impl Future<Output = QueryResult<Vec<Self>>> + Send;
    /// Moves live records to the bin, whatever their version: it was looked at under [`Record::lock_all`].
    fn bin_all(
        conn: &mut Conn,
        series: Uuid,
        ids: &[Uuid],
        now: DateTime<Utc>,
    ) -> impl Future<Output = QueryResult<Vec<Self>>> + Send;
    /// Moves the record to the bin (`deleted_at` set) or back.
    fn set_deleted(
        conn: &mut Conn,
        series: Uuid,
        id: Uuid,
        version: i32,
        deleted_at: Option<DateTime<Utc>>,
        now: DateTime<Utc>,
    ) -> impl Future<Output = QueryResult<Option<Self>>> + Send;
}

/// Records that one statement inserts: PostgreSQL takes 65,535 values, and no table has more than 32 columns.
pub const MOST_INSERTED: usize = 1000;

/// Escapes what LIKE would read as a pattern, and allows any text around.
pub fn like(q: &str) -> String {
    let mut out = String::from("%");
    for c in q.chars() {
        if matches!(c, '%' | '_' | '\\') {
            out.push('\\');
        }
        out.push(c);
    }
    out.push('%');
    out
}

/// The statement that moves a row of a table to the bin or back where its version is still the one given, as its row
/// type; none where it is another.
#[macro_export]
macro_rules! set_deleted {
    ($table:ident, $Row:ty, $conn:expr, $id:expr, $version:expr, $deleted_at:expr, $now:expr $(, $series:expr)?) => {{
        use $crate::db::schema::$table::dsl;
        use diesel::prelude::*;
        let query = diesel::update(dsl::$table)
            .filter(dsl::id.eq($id))
            $(.filter(dsl::series_id.eq($series)))?
            .filter(dsl::version.eq($version))
            .set((
                dsl::deleted_at.eq($deleted_at),
                dsl::version.eq($version.wrapping_add(1)),
                dsl::updated_at.eq($now),
            ))
            .returning(<$Row>::as_returning());
        diesel_async::RunQueryDsl::get_result(query, $conn).await.optional()
    }};
}

/// The row type of a record and its statements.
#[macro_export]
macro_rules! record_table {
    (
        $(#[$meta:meta])*
        pub struct $Row:ident { fields: $Fields:ident }
        table: $table:ident, kind: $kind:literal, name: $name:literal,
        search: [$first:ident $(, $more:ident)*],
        used_by: $used_by:expr $(,)?
    ) => {
        $(#[$meta])*
        #[derive(
            Clone, Debug, diesel::prelude::Queryable, diesel::prelude::Selectable, serde::Serialize, utoipa::ToSchema,
        )]
        #[diesel(table_name = $crate::db::schema::$table)]
        pub struct $Row {
            pub id: uuid::Uuid,
            pub series_id: uuid::Uuid,
            /// Also the ETag; goes up with every change.
            pub version: i32,
            pub created_at: chrono::DateTime<chrono::Utc>,
            pub updated_at: chrono::DateTime<chrono::Utc>,
            /// When it was moved to the bin.
            #[schema(required)]
            pub deleted_at: Option<chrono::DateTime<chrono::Utc>>,
            #[diesel(embed)]
            #[serde(flatten)]
            pub fields: $Fields,
        }

        impl $crate::db::record::Record for $Row {
            type Fields = $Fields;
            const KIND: &'static str = $kind;
            const NAME: &'static str = $name;
            const USED_BY: &'static [$crate::db::record::Use] = $used_by;

            fn id(&self) -> uuid::Uuid {
                self.id
            }
            fn version(&self) -> i32 {
                self.version
            }
            fn deleted_at(&self) -> Option<chrono::DateTime<chrono::Utc>> {
                self.deleted_at
            }
            fn fields(&self) -> &$Fields {
                &self.fields
            }
            fn fields_mut(&mut self) -> &mut $Fields {
                &mut self.fields
            }

            async fn load(
                conn: &mut $crate::db::Conn, series: uuid::Uuid, id: uuid::Uuid,
            ) -> diesel::QueryResult<Option<Self>> {
                use $crate::db::schema::$table::dsl;
                use diesel::prelude::*;
                let query = dsl::$table
                    .filter(dsl::series_id.eq(series))
                    .filter(dsl::id.eq(id))
                    .select(Self::as_select());
                diesel_async::RunQueryDsl::first(query, conn).await.optional()
            }

            async fn list(
                conn: &mut $crate::db::Conn, series: uuid::Uuid, q: Option<String>, after: Option<uuid::Uuid>,
                limit: i64,
            ) -> diesel::QueryResult<Vec<Self>> {
                use $crate::db::schema::$table::dsl;
                use diesel::prelude::*;
                let mut query = dsl::$table
                    .filter(dsl::series_id.eq(series))
                    .filter(dsl::deleted_at.is_null())
                    .select(Self::as_select())
                    .order(dsl::id)
                    .limit(limit)
                    .into_boxed();
                if let Some(after) = after {
                    query = query.filter(dsl::id.gt(after));
                }
                if let Some(q) = q {
                    let pattern = $crate::db::record::like(&q);
                    query = query.filter(
                        dsl::$first.ilike(pattern.clone())$(.or(dsl::$more.ilike(pattern.clone())))*,
                    );
                }
                diesel_async::RunQueryDsl::load(query, conn).await
            }

            async fn insert(
                conn: &mut $crate::db::Conn, series: uuid::Uuid, id: uuid::Uuid, fields: $Fields,
                now: chrono::DateTime<chrono::Utc>,
            ) -> diesel::QueryResult<Self> {
                use $crate::db::schema::$table::dsl;
                use diesel::prelude::*;
                let query = diesel::insert_into(dsl::$table)
                    .values((
                        dsl::id.eq(id),
                        dsl::series_id.eq(series),
                        dsl::version.eq(1),
                        dsl::created_at.eq(now),
                        dsl::updated_at.eq(now),
                        fields,
                    ))
                    .returning(Self::as_returning());
                diesel_async::RunQueryDsl::get_result(query, conn).await
            }

            async fn update(
                conn: &mut $crate::db::Conn, series: uuid::Uuid, id: uuid::Uuid, version: i32, fields: $Fields,
                now: chrono::DateTime<chrono::Utc>,
            ) -> diesel::QueryResult<Option<Self>> {
                use $crate::db::schema::$table::dsl;
                use diesel::prelude::*;
                let query = diesel::update(dsl::$table)
                    .filter(dsl::series_id.eq(series))
                    .filter(dsl::id.eq(id))
                    .filter(dsl::version.eq(version))
                    .filter(dsl::deleted_at.is_null())
                    .set((fields, dsl::version.eq(version.wrapping_add(1)), dsl::updated_at.eq(now)))
                    .returning(Self::as_returning());
                diesel_async::RunQueryDsl::get_result(query, conn).await.optional()
            }

            async fn lock_all(
                conn: &mut $crate::db::Conn, series: uuid::Uuid, ids: &[uuid::Uuid],
            ) -> diesel::QueryResult<Vec<Self>> {
                use $crate::db::schema::$table::dsl;
                use diesel::prelude::*;
                let query = dsl::$table
                    .filter(dsl::series_id.eq(series))
                    .filter(dsl::id.eq_any(ids))
                    .order(dsl::id)
                    .select(Self::as_select())
                    .for_update();
                diesel_async::RunQueryDsl::load(query, conn).await
            }

            async fn insert_all(
                conn: &mut $crate::db::Conn, series: uuid::Uuid, new: Vec<(uuid::Uuid, $Fields)>,
                now: chrono::DateTime<chrono::Utc>,
            ) -> diesel::QueryResult<Vec<Self>> {
                use $crate::db::schema::$table::dsl;
                use diesel::prelude::*;
                let values = |(id, fields)| {
                    (
                        dsl::id.eq(id),
                        dsl::series_id.eq(series),
                        dsl::version.eq(1),
                        dsl::created_at.eq(now),
                        dsl::updated_at.eq(now),
                        fields,
                    )
                };
                let query = diesel::insert_into(dsl::$table)
                    .values(new.into_iter().map(values).collect::<Vec<_>>())
                    .returning(Self::as_returning());
                diesel_async::RunQueryDsl::get_results(query, conn).await
            }

            async fn bin_all(
                conn: &mut $crate::db::Conn, series: uuid::Uuid, ids: &[uuid::Uuid],
                now: chrono::DateTime<chrono::Utc>,
            ) -> diesel::QueryResult<Vec<Self>> {
                use $crate::db::schema::$table::dsl;
                use diesel::prelude::*;
                let query = diesel::update(dsl::$table)
                    .filter(dsl::series_id.eq(series))
                    .filter(dsl::id.eq_any(ids))
                    .filter(dsl::deleted_at.is_null())
                    .set((
                        dsl::deleted_at.eq(now),
                        dsl::version.eq(dsl::version + 1),
                        dsl::updated_at.eq(now),
                    ))
                    .returning(Self::as_returning());
                diesel_async::RunQueryDsl::get_results(query, conn).await
            }

            async fn set_deleted(
                conn: &mut $crate::db::Conn, series: uuid::Uuid, id: uuid::Uuid, version: i32,
                deleted_at: Option<chrono::DateTime<chrono::Utc>>, now: chrono::DateTime<chrono::Utc>,
            ) -> diesel::QueryResult<Option<Self>> {
                $crate::set_deleted!($table, Self, conn, id, version, deleted_at, now, series)
            }
        }
    };
}
