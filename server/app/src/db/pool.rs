//! Connections to PostgreSQL: a bounded pool, TLS by rustls when the address asks for it, and time limits on the
//! server's side so that a stuck statement can't hold the house up.

use std::time::Duration;

use diesel::{ConnectionError, ConnectionResult};
use diesel_async::AsyncPgConnection;
use diesel_async::pooled_connection::deadpool::{BuildError, Pool as DeadPool};
use diesel_async::pooled_connection::{
    AsyncDieselConnectionManager, ManagerConfig, RecyclingMethod,
};
use futures_util::FutureExt;
use futures_util::future::BoxFuture;
use tokio_postgres::config::SslMode;
use tokio_postgres::{Config, NoTls};

/// The process's pool.
pub type Pool = DeadPool<AsyncPgConnection>;

/// Opens a pool of at most `size` connections; none is made before it is asked for.
///
/// # Errors
/// When the pool's own settings don't fit together.
pub fn open(url: &str, size: usize) -> Result<Pool, BuildError> {
    let mut config = ManagerConfig::default();
    config.custom_setup = Box::new(|url| establish(url).boxed());
    config.recycling_method = RecyclingMethod::Verified;
    let manager = AsyncDieselConnectionManager::<AsyncPgConnection>::new_with_config(url, config);
    DeadPool::builder(manager)
        .max_size(size)
        .runtime(deadpool::Runtime::Tokio1)
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
        if config.get_ssl_mode() == SslMode::Require {
            let tls = tokio_postgres_rustls::MakeRustlsConnect::new(tls_config()?);
            let (client, connection) = config.connect(tls).await.map_err(bad)?;
            AsyncPgConnection::try_from_client_and_connection(client, connection).await
        } else {
            let (client, connection) = config.connect(NoTls).await.map_err(bad)?;
            AsyncPgConnection::try_from_client_and_connection(client, connection).await
        }
    }
    .boxed()
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
