//! One private PostgreSQL for a whole test run: socket only, nothing flushed, gone with the process.
//!
//! `WAYBILL_TEST_DATABASE_URL` names another server instead, as a role that may create databases.

use std::env;
use std::fs::{self, File, Permissions};
use std::os::unix::fs::PermissionsExt;
use std::path::{Path, PathBuf};
use std::process::Command;
use std::sync::OnceLock;

use waybill_server::cluster::{Cluster, ClusterConfig};

/// Folders of earlier runs carry this name, and are recognised by it.
const PREFIX: &str = "waybill-tests-";

static SERVER: OnceLock<Server> = OnceLock::new();

/// Where the tests' databases live.
pub enum Server {
    /// Ours; PostgreSQL ends when this process does.
    Private(Cluster),
    /// Somebody else's, by its address.
    Given(String),
}

/// The run's server; the first caller starts it, the others wait.
pub fn server() -> &'static Server {
    SERVER.get_or_init(|| match env::var("WAYBILL_TEST_DATABASE_URL") {
        Ok(url) if !url.is_empty() => Server::Given(url),
        _ => Server::Private(start()),
    })
}

impl Server {
    /// The address of one database on this server.
    pub fn url_of(&self, database: &str) -> String {
        match self {
            Self::Private(cluster) => cluster.url_of(database),
            Self::Given(url) => {
                let mut url =
                    url::Url::parse(url).expect("WAYBILL_TEST_DATABASE_URL is an address");
                url.set_path(database);
                url.into()
            }
        }
    }

    /// One of PostgreSQL's client programs.
    pub fn program(&self, name: &str) -> Command {
        match self {
            Self::Private(cluster) => Command::new(cluster.programs().join(name)),
            Self::Given(_) => Command::new(name),
        }
    }
}

fn start() -> Cluster {
    sweep(&env::temp_dir());
    let folder = tempfile::Builder::new()
        .prefix(PREFIX)
        .permissions(Permissions::from_mode(0o711))
        .tempdir()
        .expect("a temporary folder")
        .keep();
    Cluster::start_blocking(&ClusterConfig::tests(folder.join("pg")))
        .unwrap_or_else(|error| panic!("the tests' private PostgreSQL: {error}"))
}

/// Removes what earlier runs left: PostgreSQL ends with its run, its files stay. A run that is
/// still going holds its folder's lock.
fn sweep(parent: &Path) {
    let left: Vec<PathBuf> = fs::read_dir(parent)
        .into_iter()
        .flatten()
        .flatten()
        .filter(|entry| entry.file_name().to_string_lossy().starts_with(PREFIX))
        .map(|entry| entry.path())
        .collect();
    for folder in left {
        let free = File::open(folder.join("pg/lock")).is_ok_and(|lock| lock.try_lock().is_ok());
        if free {
            // A folder of another user stays; it is not ours to clear.
            let _ = fs::remove_dir_all(&folder);
        }
    }
}
