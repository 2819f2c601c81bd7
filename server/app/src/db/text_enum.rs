//! Closed sets of words in text columns. The words in SQL, in JSON and in the checks of the migrations are the same.

/// An enum whose variants are words: serde, OpenAPI and a text column agree on them.
/// The word is taken as a bare token: as a `literal` fragment utoipa would not see it and print the Rust names.
#[macro_export]
macro_rules! text_enum {
    ($(#[$meta:meta])* pub enum $name:ident { $($variant:ident = $word:tt),+ $(,)? }) => {
        $(#[$meta])*
        #[derive(
            Clone, Copy, Debug, PartialEq, Eq, Hash, serde::Serialize, serde::Deserialize, utoipa::ToSchema,
            diesel::expression::AsExpression, diesel::deserialize::FromSqlRow,
        )]
        #[diesel(sql_type = diesel::sql_types::Text)]
        pub enum $name { $(#[serde(rename = $word)] $variant),+ }

        impl $name {
            /// The word that stands in the database and in JSON.
            pub fn word(self) -> &'static str {
                match self { $(Self::$variant => $word),+ }
            }
        }

        impl diesel::deserialize::FromSql<diesel::sql_types::Text, diesel::pg::Pg> for $name {
            fn from_sql(bytes: diesel::pg::PgValue<'_>) -> diesel::deserialize::Result<Self> {
                match bytes.as_bytes() {
                    $(word if word == $word.as_bytes() => Ok(Self::$variant),)+
                    other => Err(format!(
                        "`{}` is not a word of {}", String::from_utf8_lossy(other), stringify!($name)
                    ).into()),
                }
            }
        }

        impl diesel::serialize::ToSql<diesel::sql_types::Text, diesel::pg::Pg> for $name {
            fn to_sql<'b>(
                &'b self, out: &mut diesel::serialize::Output<'b, '_, diesel::pg::Pg>,
            ) -> diesel::serialize::Result {
                use std::io::Write;
                out.write_all(self.word().as_bytes())?;
                Ok(diesel::serialize::IsNull::No)
            }
        }
    };
}
