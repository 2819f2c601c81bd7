//! Tokens: random ones that are kept hashed, and signed ones (JWT, RFC 7519) with a purpose and a row each.

use chrono::{DateTime, TimeDelta, Utc};
use diesel::prelude::*;
use diesel_async::RunQueryDsl;
use jsonwebtoken::{Algorithm, DecodingKey, EncodingKey, Header, Validation, decode, encode};
use rand::RngExt;
use serde::{Deserialize, Serialize};
use sha2::{Digest, Sha256};
use uuid::Uuid;
pub use waybill_domain::hashes::hex;

use crate::db::Conn;
use crate::db::schema::server_facts;
use crate::error::OpError;

/// What a signed token is for; it is its audience, so that one can't be used as another.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Purpose {
    Device,
    Invitation,
}

impl Purpose {
    fn audience(self) -> &'static str {
        match self {
            Self::Device => "waybill:device",
            Self::Invitation => "waybill:invitation",
        }
    }
}

#[derive(Serialize, Deserialize)]
struct Claims {
    /// The row's id.
    sub: Uuid,
    aud: String,
    iat: i64,
    exp: i64,
}

/// The key that signs; made at the first start, kept in the database so that all copies of the server share it.
pub struct TokenKey {
    encoding: EncodingKey,
    decoding: DecodingKey,
}

impl TokenKey {
    /// Reads the key, or makes it.
    ///
    /// # Errors
    /// The database's.
    pub async fn load_or_make(conn: &mut Conn, now: DateTime<Utc>) -> Result<Self, OpError> {
        let fresh: [u8; 32] = rand::rng().random();
        diesel::insert_into(server_facts::table)
            .values((
                server_facts::name.eq("token_key"),
                server_facts::value.eq(fresh.as_slice()),
                server_facts::created_at.eq(now),
            ))
            .on_conflict_do_nothing()
            .execute(conn)
            .await?;
        let key: Vec<u8> = server_facts::table
            .find("token_key")
            .select(server_facts::value)
            .first(conn)
            .await?;
        Ok(Self {
            encoding: EncodingKey::from_secret(&key),
            decoding: DecodingKey::from_secret(&key),
        })
    }

    /// Signs a token for the row `id`.
    ///
    /// # Errors
    /// `Internal` when the library refuses, which it has no reason to.
    pub fn sign(
        &self,
        purpose: Purpose,
        id: Uuid,
        now: DateTime<Utc>,
        life: TimeDelta,
    ) -> Result<String, OpError> {
        let claims = Claims {
            sub: id,
            aud: purpose.audience().into(),
            iat: now.timestamp(),
            exp: (now + life).timestamp(),
        };
        encode(&Header::new(Algorithm::HS256), &claims, &self.encoding)
            .map_err(|error| OpError::Internal(format!("token: {error}")))
    }

    /// The row that a token speaks of; none when it is not ours, for something else, or over. The row is checked
    /// beside it, with the server's own clock.
    pub fn read(&self, purpose: Purpose, token: &str, now: DateTime<Utc>) -> Option<Uuid> {
        let mut validation = Validation::new(Algorithm::HS256);
        validation.set_audience(&[purpose.audience()]);
        // The library would ask the machine's clock; ours decides.
        validation.validate_exp = false;
        let claims = decode::<Claims>(token, &self.decoding, &validation)
            .ok()?
            .claims;
        (claims.exp > now.timestamp()).then_some(claims.sub)
    }
}

/// A random secret of 256 bits as 64 hexadecimal digits.
pub fn random() -> String {
    let bytes: [u8; 32] = rand::rng().random();
    hex(&bytes)
}

/// What is kept of a random secret.
pub fn digest(token: &str) -> Vec<u8> {
    Sha256::digest(token.as_bytes()).to_vec()
}
