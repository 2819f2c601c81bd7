//! Connections to PostgreSQL: a bounded pool, TLS by rustls when the address asks for it, and time limits on the
//! server's side so that a stuck statement can't hold the house up.

use std::time::Duration;

use diesel::dsl::sql;
use diesel::sql_types::{Integer, Text};
use diesel::{ConnectionError, ConnectionResult, IntoSql, QueryResult};
use diesel_async::pooled_connection::deadpool::{BuildError, Hook, HookError, Pool as DeadPool};
use diesel_async::pooled_connection::{
    AsyncDieselConnectionManager, ManagerConfig, PoolError, RecyclingMethod,
};
use diesel_async::{AsyncPgConnection, RunQueryDsl, SimpleAsyncConnection};
use futures_util::FutureExt;
use futures_util::future::BoxFuture;
use tokio_postgres::config::SslMode;
use tokio_postgres::{Config, NoTls};

use crate::error::OpError;

/// diesel tells no SQLSTATE of a deadlock, so `error` reads PostgreSQL's own words, in English. A plain role may ask for
/// them where it was granted that (PostgreSQL 15 and newer), or the database's owner has set it.
const ENGLISH: &str = "select set_config('lc_messages', 'C', false) where has_parameter_privilege('lc_messages', 'set')";

/// A connection that was taken out of the pool within this time is not tried again first: its end would be known, since
/// the socket says so, unless a network swallowed it.
const TRUSTED: Duration = Duration::from_secs(5);

/// The process's pool.
pub type Pool = DeadPool<AsyncPgConnection>;

/// Opens a pool of at most `size` connections; none is made before it is asked for.
///
/// # Errors
/// When the pool's own settings don't fit together.
pub fn open(url: &str, size: usize) -> Result<Pool, BuildError> {
    let mut config = ManagerConfig::default();
    config.custom_setup = Box::new(|url| establish(url).boxed());
    config.recycling_method = RecyclingMethod::Fast;
    let manager = AsyncDieselConnectionManager::<AsyncPgConnection>::new_with_config(url, config);
    DeadPool::builder(manager)
        .max_size(size)
        .runtime(deadpool::Runtime::Tokio1)
        .pre_recycle(Hook::async_fn(|conn, metrics| {
            let idle = metrics.last_used();
            async move {
                if idle < TRUSTED {
                    return Ok(());
                }
                let tried = diesel::select(1_i32.into_sql::<Integer>());
                let tried: QueryResult<i32> = tried.get_result(conn).await;
                tried
                    .map(drop)
                    .map_err(|error| HookError::Backend(PoolError::QueryError(error)))
            }
            .boxed()
        }))
        .wait_timeout(Some(Duration::from_secs(10)))
        .create_timeout(Some(Duration::from_secs(5)))
        .recycle_timeout(Some(Duration::from_secs(5)))
        .build()
}

/// One connection outside any pool.
pub fn establish(url: &str) -> BoxFuture<'_, ConnectionResult<AsyncPgConnection>> {
    async move {
        let mut config: Config = url
            .parse()
            .map_err(|error: tokio_postgres::Error| ConnectionError::InvalidConnectionUrl(error.to_string()))?;
        config.application_name("waybill");
        let options = config.get_options().unwrap_or_default().to_owned();
        config.options(format!(
            "{options} -c statement_timeout=60s -c lock_timeout=10s -c idle_in_transaction_session_timeout=60s -c jit=off"
        ));
        let bad = |error: tokio_postgres::Error| ConnectionError::BadConnection(error.to_string());
        let mut conn = if config.get_ssl_mode() == SslMode::Require {
            let tls = tokio_postgres_rustls::MakeRustlsConnect::new(tls_config()?);
            let (client, connection) = config.connect(tls).await.map_err(bad)?;
            AsyncPgConnection::try_from_client_and_connection(client, connection).await?
        } else {
            let (client, connection) = config.connect(NoTls).await.map_err(bad)?;
            AsyncPgConnection::try_from_client_and_connection(client, connection).await?
        };
        conn.batch_execute(ENGLISH)
            .await
            .map_err(ConnectionError::CouldntSetupConfiguration)?;
        Ok(conn)
    }
    .boxed()
}

/// The locale of the database's messages to this role.
///
/// # Errors
/// The database's.
pub async fn language(pool: &Pool) -> Result<String, OpError> {
    let conn = &mut *pool.get().await?;
    let language = diesel::select(sql::<Text>("current_setting('lc_messages')"));
    Ok(language.get_result(conn).await?)
}

/// Whether messages of a locale are in English. An empty one is the machine's own, which nobody tells.
pub fn is_english(locale: &str) -> bool {
    let language = locale.split(['.', '_', '@']).next().unwrap_or_default();
    ["c", "posix", "en", "english"].contains(&language.to_ascii_lowercase().as_str())
}

fn tls_config() -> ConnectionResult<rustls::ClientConfig> {
    let mut roots = rustls::RootCertStore::empty();
    for certificate in rustls_native_certs::load_native_certs().certs {
        // A certificate that rustls can't read is left out; the handshake will say if it was needed.
        let _ = roots.add(certificate);
    }
    if roots.is_empty() {
        return Err(ConnectionError::BadConnection(
            "TLS was asked for, but this machine has no trusted certificates; install ca-certificates".into(),
        ));
    }
    Ok(rustls::ClientConfig::builder()
        .with_root_certificates(roots)
        .with_no_client_auth())
}

#[cfg(test)]
mod tests {
    use super::is_english;

    /// Names of locales as `locale -a` and, on Windows, `setlocale` write them; from memory.
    #[test]
    fn locales_of_english_messages() {
        for english in [
            "C",
            "C.UTF-8",
            "POSIX",
            "en_GB.UTF-8",
            "English_United Kingdom.1252",
        ] {
            assert!(is_english(english), "{english}");
        }
        for other in [
            "",
            "de_DE.UTF-8",
            "cs_CZ",
            "German_Germany.1252",
            "ca_ES@valencia",
        ] {
            assert!(!is_english(other), "{other}");
        }
    }
}
