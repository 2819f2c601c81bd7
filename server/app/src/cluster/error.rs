//! What can go wrong with the private cluster, each with what to do about it. A failure here is
//! read at a terminal by the person who started the server, so the texts name folders and packages.

use std::io;
use std::path::PathBuf;

/// Why the private PostgreSQL could not be made, started or stopped.
#[derive(Debug, thiserror::Error)]
pub enum ClusterError {
    /// No usable `postgres` and `initdb` anywhere.
    #[error(
        "PostgreSQL's programs were not found (looked in {looked}). Install them \
         (Debian, Ubuntu: apt-get install postgresql; macOS: brew install postgresql@17), \
         or set WAYBILL_PG_BIN to the folder that holds `postgres` and `initdb`, \
         or set DATABASE_URL to use a PostgreSQL server that runs already"
    )]
    ProgramsMissing {
        /// The places that were tried.
        looked: String,
    },
    /// `WAYBILL_PG_BIN` points to a folder without the programs.
    #[error("WAYBILL_PG_BIN is {folder}, but there is no `postgres` and `initdb` in that folder")]
    WrongFolder {
        /// The value of the variable.
        folder: PathBuf,
    },
    /// Programs are there but too old.
    #[error("PostgreSQL {found} in {folder} is too old: Waybill needs {needed} or newer")]
    TooOld {
        /// The version found.
        found: u32,
        /// The oldest version that will do.
        needed: u32,
        /// Where it was found.
        folder: PathBuf,
    },
    /// The data was made by a major version that is no longer installed.
    #[error(
        "the data in the private database was made by PostgreSQL {made_by}, but only {found} is \
         installed. Install postgresql-{made_by} again (both may stay installed), or restore a \
         backup into a new folder"
    )]
    OtherVersion {
        /// Major version that made the data.
        made_by: u32,
        /// Major versions found.
        found: String,
    },
    /// Another server holds the folder.
    #[error(
        "another Waybill server is already using {folder}: stop it first, or give this one \
         another folder (WAYBILL_VAR)"
    )]
    InUse {
        /// The cluster's folder.
        folder: PathBuf,
    },
    /// Started as root, and there is nobody to run PostgreSQL as.
    #[error(
        "PostgreSQL refuses to run as root, and neither the user `waybill` nor `postgres` nor \
         `nobody` exists. Start the server as an ordinary user, or make one: \
         useradd --system waybill"
    )]
    NoAccount,
    /// Started as root on a machine without `setpriv`.
    #[error(
        "PostgreSQL refuses to run as root, and `setpriv` (package util-linux), which starts it as \
         another user, was not found. Start the server as an ordinary user"
    )]
    NoSetpriv,
    /// The data belongs to somebody else.
    #[error(
        "{path} belongs to the user with number {owner}, and this server runs as number {us}. \
         Start it as that user (or as root), or give the folder over: chown -R {us} {path}"
    )]
    NotOurs {
        /// The folder.
        path: PathBuf,
        /// Its owner.
        owner: u32,
        /// Our own number.
        us: u32,
    },
    /// A folder for the socket was prepared by somebody else.
    #[error(
        "{path}, the folder for the database's socket, is not ours alone: remove it and start \
         again"
    )]
    SocketFolder {
        /// The folder.
        path: PathBuf,
    },
    /// A helper program failed.
    #[error("{what} failed: {detail}")]
    Program {
        /// The program.
        what: String,
        /// Its exit status and words.
        detail: String,
    },
    /// `postgres` ended, or did not become ready.
    #[error("the private PostgreSQL did not start ({log}): {detail}")]
    NotReady {
        /// Its log file.
        log: PathBuf,
        /// The end of the log.
        detail: String,
    },
    /// A postgres left over by a killed server does not end.
    #[error(
        "a PostgreSQL left over from an earlier run (process {pid}) does not stop: end it by hand, \
         then start again"
    )]
    Orphan {
        /// Its process id.
        pid: u32,
    },
    /// `postgres` did not end within the time given.
    #[error(
        "PostgreSQL did not stop in order and was ended by force; it repairs itself at the next \
         start"
    )]
    Forced,
    /// A file operation failed.
    #[error("could not {what} {path}: {source}")]
    File {
        /// The verb.
        what: &'static str,
        /// The file.
        path: PathBuf,
        /// The system's reason.
        source: io::Error,
    },
    /// The runtime went away while the cluster was starting or stopping.
    #[error("interrupted while starting or stopping the private PostgreSQL: {detail}")]
    Interrupted {
        /// The runtime's words.
        detail: String,
    },
}

/// Turns an I/O error into ours: `.map_err(file("make", &path))`.
pub(super) fn file(
    what: &'static str,
    path: &std::path::Path,
) -> impl FnOnce(io::Error) -> ClusterError {
    let path = path.to_owned();
    move |source| ClusterError::File { what, path, source }
}
