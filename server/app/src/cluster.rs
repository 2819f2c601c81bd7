//! The embedded default: a private PostgreSQL cluster that belongs to this server alone.
//!
//! With no `DATABASE_URL` the server makes the cluster once, runs `postgres` as its own child on a
//! Unix socket (never on the network), and stops it when it stops. Everything here is plain
//! blocking code over external programs (`initdb`, `postgres`, `setpriv`), so that it works the
//! same from the server, from a one-shot command and from the tests. Nothing here speaks SQL.

mod child;
mod error;
mod home;
mod programs;
mod stale;

use std::path::{Path, PathBuf};
use std::process::Command;
use std::time::{Duration, Instant};

pub use error::ClusterError;

use child::Child;
use home::Home;
use programs::Programs;

/// The name of the database and of its owner, inside the private cluster.
const NAME: &str = "waybill";
/// PostgreSQL may have to replay its log after a kill; that can take minutes on a slow disk.
const READY_WITHIN: Duration = Duration::from_secs(180);

/// How careful the cluster is with what it is told to keep.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Tuning {
    /// For people's data: every commit is on the disk before it is acknowledged.
    Product,
    /// For tests: nothing is flushed, so a crash of the machine may lose everything.
    Tests,
}

/// What to start, and where.
#[derive(Debug, Clone)]
pub struct ClusterConfig {
    /// The cluster's own folder (`var/pg`). Made when missing.
    pub folder: PathBuf,
    /// How careful to be.
    pub tuning: Tuning,
}

impl ClusterConfig {
    /// A cluster for people's data in `folder`.
    pub fn product(folder: impl Into<PathBuf>) -> Self {
        Self {
            folder: folder.into(),
            tuning: Tuning::Product,
        }
    }

    /// A fast, forgetful cluster for tests in `folder`.
    pub fn tests(folder: impl Into<PathBuf>) -> Self {
        Self {
            folder: folder.into(),
            tuning: Tuning::Tests,
        }
    }
}

/// A running cluster. Stop it with [`Cluster::stop`]; when it is merely dropped, or the process
/// dies, PostgreSQL is told to shut down but nobody waits for it.
#[derive(Debug)]
pub struct Cluster {
    home: Home,
    child: Child,
    programs: Programs,
}

impl Cluster {
    /// Makes the cluster if it does not exist yet, starts it, and returns once it takes
    /// connections. An orphan left by a killed server is stopped first.
    pub async fn start(config: ClusterConfig) -> Result<Self, ClusterError> {
        tokio::task::spawn_blocking(move || Self::start_blocking(&config))
            .await
            .map_err(|failure| ClusterError::Interrupted {
                detail: failure.to_string(),
            })?
    }

    /// The same for callers without a runtime.
    pub fn start_blocking(config: &ClusterConfig) -> Result<Self, ClusterError> {
        let home = Home::open(&config.folder)?;
        let programs = Programs::find(home.made_by()?)?;
        stale::clear(&home)?;
        if home.made_by()?.is_none() {
            make(&home, &programs, config.tuning)?;
        }
        let child = Child::spawn(&home, &programs, &settings(&home, config.tuning))?;
        let cluster = Self {
            home,
            child,
            programs,
        };
        cluster.wait_until_ready()?;
        tracing::info!(
            data = %cluster.data().display(),
            postgresql = cluster.version(),
            "the private database is ready"
        );
        if let Some(notice) = cluster.notice() {
            tracing::warn!("{notice}");
        }
        Ok(cluster)
    }

    /// The address of the database `waybill` in this cluster.
    pub fn url(&self) -> String {
        self.url_of(NAME)
    }

    /// The address of another database in this cluster (tests make one each).
    pub fn url_of(&self, database: &str) -> String {
        let host = percent_encode(self.home.socket());
        format!(
            "postgresql://{NAME}@{host}:{port}/{database}",
            port = home::PORT
        )
    }

    /// Where the data really is: `folder` itself, or a folder that the unprivileged user may enter.
    pub fn data(&self) -> PathBuf {
        self.home.data()
    }

    /// One line for the person at the terminal when the data is not under the folder asked for.
    pub fn notice(&self) -> Option<&str> {
        self.home.notice()
    }

    /// PostgreSQL's major version.
    pub fn version(&self) -> u32 {
        self.programs.major
    }

    /// The folder of PostgreSQL's programs that fit this cluster; `pg_dump` and `pg_restore` are
    /// there too on most systems.
    pub fn programs(&self) -> &Path {
        self.programs.folder()
    }

    /// The process id of the running `postgres`, while there is one.
    pub fn pid(&self) -> Option<u32> {
        self.child.pid()
    }

    /// Shuts the cluster down in order and waits until it is gone.
    pub async fn stop(self) -> Result<(), ClusterError> {
        tokio::task::spawn_blocking(move || self.stop_blocking())
            .await
            .map_err(|failure| ClusterError::Interrupted {
                detail: failure.to_string(),
            })?
    }

    /// The same for callers without a runtime.
    pub fn stop_blocking(self) -> Result<(), ClusterError> {
        self.child.stop()
    }

    fn wait_until_ready(&self) -> Result<(), ClusterError> {
        let started = Instant::now();
        loop {
            if let Some(pid) = self.child.pid()
                && stale::is_ready(&self.home.data(), pid)
            {
                return Ok(());
            }
            if let Some(reason) = self.child.gave_up() {
                let detail = format!("{reason}\n{}", self.home.log_tail());
                return Err(ClusterError::NotReady {
                    log: self.home.log(),
                    detail,
                });
            }
            if started.elapsed() > READY_WITHIN {
                let detail = format!("no answer in three minutes\n{}", self.home.log_tail());
                return Err(ClusterError::NotReady {
                    log: self.home.log(),
                    detail,
                });
            }
            std::thread::sleep(Duration::from_millis(20));
        }
    }
}

/// Makes a cluster in a folder beside the final one and renames it when it is complete, so that a
/// kill half-way leaves nothing that looks finished.
fn make(home: &Home, programs: &Programs, tuning: Tuning) -> Result<(), ClusterError> {
    tracing::info!(data = %home.data().display(), "making the private database (once)");
    let fresh = home.fresh_data()?;
    let mut initdb = home.command(&programs.initdb());
    initdb
        .arg("-D")
        .arg(&fresh)
        .args(["-U", NAME, "-E", "UTF8", "--data-checksums"]);
    initdb.args(["--auth-local=trust", "--auth-host=reject"]);
    if cfg!(target_os = "macos") {
        initdb.args(["--lc-collate=C", "--lc-ctype=UTF-8", "--lc-messages=C"]);
    } else {
        initdb.args(["--locale=C.UTF-8", "--lc-messages=C"]);
    }
    if tuning == Tuning::Tests {
        initdb.arg("--no-sync");
    }
    run(&mut initdb, "initdb", None)?;

    // Single-user mode needs neither a socket nor a client program.
    let mut single = home.command(&programs.postgres());
    single
        .arg("--single")
        .arg("-D")
        .arg(&fresh)
        .args(["-c", "exit_on_error=on"]);
    if tuning == Tuning::Tests {
        single.args(["-c", "fsync=off"]);
    }
    single.arg("postgres");
    run(
        &mut single,
        "postgres --single",
        Some(&format!("CREATE DATABASE {NAME};\n")),
    )?;
    home.keep(&fresh)
}

/// Settings are given on the command line, not in `postgresql.conf`: an upgrade of the server
/// brings its own, and a cluster made by an older one follows.
fn settings(home: &Home, tuning: Tuning) -> Vec<String> {
    let mut settings = vec![
        "listen_addresses=".to_owned(),
        format!("port={}", home::PORT),
        format!("unix_socket_directories={}", home.socket().display()),
        "unix_socket_permissions=0700".to_owned(),
        "timezone=UTC".to_owned(),
        "log_timezone=UTC".to_owned(),
        "log_checkpoints=off".to_owned(),
        "logging_collector=off".to_owned(),
        "log_destination=stderr".to_owned(),
    ];
    let more: &[&str] = match tuning {
        // Plans are made for a catalogue that is in memory or on flash; compiling them costs more than it saves.
        Tuning::Product => &[
            "max_connections=100",
            "jit=off",
            "random_page_cost=1.1",
            "work_mem=16MB",
            "max_wal_size=4GB",
            "wal_compression=on",
        ],
        Tuning::Tests => &[
            "max_connections=200",
            "fsync=off",
            "synchronous_commit=off",
            "full_page_writes=off",
            "autovacuum=off",
            "jit=off",
            "wal_level=minimal",
            "max_wal_senders=0",
        ],
    };
    settings.extend(more.iter().map(|&setting| setting.to_owned()));
    if let (Tuning::Product, Some(memory)) = (tuning, memory()) {
        // The server shares the machine with Waybill and with whatever else runs there.
        let part = |of: u64, least: u64, most: u64| (memory / of).clamp(least, most);
        settings.push(format!("shared_buffers={}MB", part(8, 128, 2048)));
        settings.push(format!("effective_cache_size={}MB", part(2, 512, 65_536)));
        settings.push(format!("maintenance_work_mem={}MB", part(32, 64, 512)));
    }
    settings
}

/// The machine's memory in MiB, where the system tells it.
fn memory() -> Option<u64> {
    let text = std::fs::read_to_string("/proc/meminfo").ok()?;
    let line = text.lines().find(|line| line.starts_with("MemTotal:"))?;
    let kib: u64 = line.split_whitespace().nth(1)?.parse().ok()?;
    Some(kib / 1024)
}

/// Runs a helper program to its end; its own words are in the error.
fn run(command: &mut Command, what: &str, input: Option<&str>) -> Result<(), ClusterError> {
    use std::io::Write;
    use std::process::Stdio;

    let failed = |detail: String| ClusterError::Program {
        what: what.to_owned(),
        detail,
    };
    command.stdin(if input.is_some() {
        Stdio::piped()
    } else {
        Stdio::null()
    });
    command.stdout(Stdio::piped()).stderr(Stdio::piped());
    let mut child = command.spawn().map_err(|error| failed(error.to_string()))?;
    if let (Some(text), Some(mut stdin)) = (input, child.stdin.take()) {
        // A program that ends early breaks the pipe; its exit status and words tell more.
        let _ = stdin.write_all(text.as_bytes());
    }
    let output = child
        .wait_with_output()
        .map_err(|error| failed(error.to_string()))?;
    if output.status.success() {
        return Ok(());
    }
    let words = String::from_utf8_lossy(&output.stderr);
    Err(failed(format!("{}: {}", output.status, words.trim())))
}

/// A path as the host part of a URL: everything but letters, digits and `-._~` is escaped.
fn percent_encode(path: &Path) -> String {
    use std::fmt::Write;
    use std::os::unix::ffi::OsStrExt;

    let mut text = String::new();
    for &byte in path.as_os_str().as_bytes() {
        if byte.is_ascii_alphanumeric() || b"-._~".contains(&byte) {
            text.push(char::from(byte));
        } else {
            // Writing to a String cannot fail.
            let _ = write!(text, "%{byte:02X}");
        }
    }
    text
}

#[cfg(test)]
mod tests;
