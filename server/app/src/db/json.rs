//! A typed value in a `jsonb` column: read and written through serde, so that a list inside a record has one shape.

use std::io::Write;

use diesel::deserialize::{self, FromSql, FromSqlRow};
use diesel::expression::AsExpression;
use diesel::pg::{Pg, PgValue};
use diesel::serialize::{self, IsNull, Output, ToSql};
use diesel::sql_types::Jsonb;
use serde::de::DeserializeOwned;
use serde::{Deserialize, Serialize};

/// `T` as a `jsonb` column.
#[derive(Clone, Debug, Default, PartialEq, Serialize, Deserialize, AsExpression, FromSqlRow)]
#[diesel(sql_type = Jsonb)]
#[serde(transparent)]
pub struct Json<T>(pub T);

impl<T: DeserializeOwned> FromSql<Jsonb, Pg> for Json<T> {
    fn from_sql(bytes: PgValue<'_>) -> deserialize::Result<Self> {
        match bytes.as_bytes() {
            // the version of the format on the wire, then the text
            [1, text @ ..] => Ok(Self(serde_json::from_slice(text)?)),
            _ => Err("a jsonb value of a version that is not known".into()),
        }
    }
}

impl<T: Serialize + std::fmt::Debug> ToSql<Jsonb, Pg> for Json<T> {
    fn to_sql<'b>(&'b self, out: &mut Output<'b, '_, Pg>) -> serialize::Result {
        out.write_all(&[1])?;
        serde_json::to_writer(out, &self.0)?;
        Ok(IsNull::No)
    }
}
