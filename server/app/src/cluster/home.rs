//! The cluster's folder: who owns it, which user runs PostgreSQL, where the socket goes.
//!
//! Layout: `lock` (held while a server runs), `postgres.log`, `data/`, `socket/`. Started as root,
//! the folder itself stays root's, and only `data` and `socket` are given to the unprivileged user.

use std::fs::{self, File, Permissions, TryLockError};
use std::os::unix::ffi::OsStrExt;
use std::os::unix::fs::{MetadataExt, PermissionsExt, chown};
use std::path::{Path, PathBuf};
use std::process::{Command, Stdio};

use super::ClusterError;
use super::error::file;

/// The port is only a part of the socket's file name.
pub(super) const PORT: u16 = 5432;
/// The kernel's limit for a socket's path is 108 bytes with the closing zero.
const SOCKET_PATH_MAX: usize = 107;
/// A log longer than this is put aside at the next start.
const LOG_MAX: u64 = 10 * 1024 * 1024;

/// A user and group by number.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(super) struct Account {
    uid: u32,
    gid: u32,
}

/// An opened and locked cluster folder.
#[derive(Debug)]
pub(super) struct Home {
    folder: PathBuf,
    socket: PathBuf,
    /// The user to change to; none when this process is not root.
    account: Option<Account>,
    /// Whether `setpriv` is there to tie the child's life to ours.
    setpriv: bool,
    notice: Option<String>,
    /// Held, not read: the lock goes when the file is closed.
    _lock: File,
}

impl Home {
    /// Opens, and if need be makes, the cluster's folder, and locks it against a second server.
    pub(super) fn open(asked: &Path) -> Result<Self, ClusterError> {
        fs::create_dir_all(asked).map_err(file("make the folder", asked))?;
        let asked = asked.canonicalize().map_err(file("find", asked))?;
        let us = own_uid()?;
        let setpriv = has_setpriv();
        if us == 0 && !setpriv {
            return Err(ClusterError::NoSetpriv);
        }
        let (folder, account, notice) = if us == 0 {
            Self::as_root(&asked)?
        } else {
            (settled(&asked), None, None)
        };
        let data = folder.join("data");
        if us != 0 && data.is_dir() {
            let owner = fs::metadata(&data).map_err(file("look at", &data))?.uid();
            if owner != us {
                return Err(ClusterError::NotOurs {
                    path: data,
                    owner,
                    us,
                });
            }
        }
        let lock = lock(&folder)?;
        let uid = account.map_or(us, |account| account.uid);
        let socket = socket_folder(&folder, uid);
        let home = Self {
            folder,
            socket,
            account,
            setpriv,
            notice,
            _lock: lock,
        };
        home.prepare_socket(uid)?;
        Ok(home)
    }

    /// Which folder and which user, when this process is root. Data that exists decides both.
    fn as_root(asked: &Path) -> Result<(PathBuf, Option<Account>, Option<String>), ClusterError> {
        let folder = settled(asked);
        if let Ok(found) = fs::metadata(folder.join("data")) {
            let account = Account {
                uid: found.uid(),
                gid: found.gid(),
            };
            let notice = (folder != asked).then(|| elsewhere(&folder));
            return Ok((folder, Some(account), notice));
        }
        let account = ["waybill", "postgres", "nobody"]
            .into_iter()
            .find_map(account_named)
            .ok_or(ClusterError::NoAccount)?;
        open_to_all(asked)?;
        if may_enter(account, asked) {
            return Ok((asked.to_owned(), Some(account), None));
        }
        let folder = PathBuf::from(format!("/var/lib/waybill-{}", short_hash(asked)));
        fs::create_dir_all(&folder).map_err(file("make the folder", &folder))?;
        open_to_all(&folder)?;
        let pointer = asked.join("location");
        fs::write(&pointer, folder.as_os_str().as_bytes()).map_err(file("write", &pointer))?;
        let notice = elsewhere(&folder);
        Ok((folder, Some(account), Some(notice)))
    }

    fn prepare_socket(&self, uid: u32) -> Result<(), ClusterError> {
        let path = &self.socket;
        if !path.exists() {
            fs::create_dir(path).map_err(file("make the folder", path))?;
            fs::set_permissions(path, Permissions::from_mode(0o700))
                .map_err(file("protect", path))?;
            self.give(path)?;
        }
        let found = fs::symlink_metadata(path).map_err(file("look at", path))?;
        if !found.is_dir() || found.uid() != uid || found.mode() & 0o077 != 0 {
            return Err(ClusterError::SocketFolder { path: path.clone() });
        }
        Ok(())
    }

    /// The data folder; it exists only when it is complete.
    pub(super) fn data(&self) -> PathBuf {
        self.folder.join("data")
    }

    pub(super) fn socket(&self) -> &Path {
        &self.socket
    }

    pub(super) fn log(&self) -> PathBuf {
        self.folder.join("postgres.log")
    }

    pub(super) fn notice(&self) -> Option<&str> {
        self.notice.as_deref()
    }

    /// The major version that made the data; none when there is no data yet.
    pub(super) fn made_by(&self) -> Result<Option<u32>, ClusterError> {
        let data = self.data();
        if !data.exists() {
            return Ok(None);
        }
        let path = data.join("PG_VERSION");
        let text = fs::read_to_string(&path).map_err(file("read", &path))?;
        Ok(super::programs::major_version(&text))
    }

    /// An empty folder for `initdb`; what a killed one left is removed first.
    pub(super) fn fresh_data(&self) -> Result<PathBuf, ClusterError> {
        let path = self.folder.join("data.unfinished");
        if path.exists() {
            fs::remove_dir_all(&path).map_err(file("remove", &path))?;
        }
        fs::create_dir(&path).map_err(file("make the folder", &path))?;
        fs::set_permissions(&path, Permissions::from_mode(0o700))
            .map_err(file("protect", &path))?;
        self.give(&path)?;
        Ok(path)
    }

    /// Makes a finished data folder the real one, and sees to it that the new name is on the disk.
    pub(super) fn keep(&self, fresh: &Path) -> Result<(), ClusterError> {
        let data = self.data();
        fs::rename(fresh, &data).map_err(file("rename", fresh))?;
        File::open(&self.folder)
            .and_then(|folder| folder.sync_all())
            .map_err(file("write", &self.folder))
    }

    /// The log, opened for appending; a long one is put aside first.
    pub(super) fn open_log(&self) -> Result<File, ClusterError> {
        let path = self.log();
        if fs::metadata(&path).is_ok_and(|found| found.len() > LOG_MAX) {
            fs::rename(&path, path.with_extension("log.old")).map_err(file("rename", &path))?;
        }
        File::options()
            .create(true)
            .append(true)
            .open(&path)
            .map_err(file("open", &path))
    }

    /// The last lines of the log, for an error.
    pub(super) fn log_tail(&self) -> String {
        let bytes = fs::read(self.log()).unwrap_or_default();
        let text = String::from_utf8_lossy(&bytes);
        let lines: Vec<&str> = text.lines().collect();
        lines[lines.len().saturating_sub(5)..].join("\n")
    }

    /// A command that runs as the unprivileged user, in our folder, and sees none of our own
    /// environment: passwords and keys in it are no business of PostgreSQL's.
    pub(super) fn command(&self, program: &Path) -> Command {
        self.wrapped(program, &[])
    }

    /// The same, and the kernel asks it to shut down when we die without a word.
    pub(super) fn tied_command(&self, program: &Path) -> Command {
        self.wrapped(program, &["--pdeathsig", "INT"])
    }

    fn wrapped(&self, program: &Path, tie: &[&str]) -> Command {
        let mut command = match self.account {
            Some(account) => {
                let mut command = as_account(account);
                command.args(tie).arg(program);
                command
            }
            None if self.setpriv && !tie.is_empty() => {
                let mut command = Command::new("setpriv");
                command.args(tie).arg(program);
                command
            }
            None => Command::new(program),
        };
        command
            .env_clear()
            .env("LC_ALL", "C")
            .env("TZ", "UTC")
            .current_dir(&self.folder);
        for name in ["PATH", "LD_LIBRARY_PATH", "DYLD_LIBRARY_PATH"] {
            if let Some(value) = std::env::var_os(name) {
                command.env(name, value);
            }
        }
        command
    }

    /// Gives a file to the unprivileged user.
    fn give(&self, path: &Path) -> Result<(), ClusterError> {
        match self.account {
            Some(Account { uid, gid }) => {
                chown(path, Some(uid), Some(gid)).map_err(file("hand over", path))
            }
            None => Ok(()),
        }
    }
}

/// Follows the note that an earlier start as root left when it had to put the data elsewhere.
fn settled(asked: &Path) -> PathBuf {
    match fs::read(asked.join("location")) {
        Ok(bytes) if !bytes.is_empty() => PathBuf::from(std::ffi::OsStr::from_bytes(&bytes)),
        _ => asked.to_owned(),
    }
}

fn elsewhere(folder: &Path) -> String {
    format!(
        "The database is kept in {}: PostgreSQL does not run as root, and its own user may not \
         enter this folder.",
        folder.display()
    )
}

fn lock(folder: &Path) -> Result<File, ClusterError> {
    let path = folder.join("lock");
    let lock = File::options()
        .create(true)
        .truncate(false)
        .write(true)
        .open(&path)
        .map_err(file("open", &path))?;
    match lock.try_lock() {
        Ok(()) => Ok(lock),
        Err(TryLockError::WouldBlock) => Err(ClusterError::InUse {
            folder: folder.to_owned(),
        }),
        Err(TryLockError::Error(source)) => Err(ClusterError::File {
            what: "lock",
            path,
            source,
        }),
    }
}

/// Beside the data if the path is short enough, else in the system's folder for such things.
fn socket_folder(folder: &Path, uid: u32) -> PathBuf {
    let near = folder.join("socket");
    let socket = near.join(format!(".s.PGSQL.{PORT}"));
    // PostgreSQL splits the setting at commas and reads quotes in it.
    let plain = !near
        .as_os_str()
        .as_bytes()
        .iter()
        .any(|byte| b",\"'\\".contains(byte));
    if plain && socket.as_os_str().len() <= SOCKET_PATH_MAX && near.to_str().is_some() {
        return near;
    }
    let name = format!("waybill-{}-{uid}", short_hash(folder));
    let run = Path::new("/run");
    let writable = own_uid().is_ok_and(|us| us == 0) && run.is_dir();
    if writable {
        run.join(name)
    } else {
        Path::new("/tmp").join(name)
    }
}

/// Everybody may pass through (not list) the folder; what is inside protects itself.
fn open_to_all(folder: &Path) -> Result<(), ClusterError> {
    fs::set_permissions(folder, Permissions::from_mode(0o711)).map_err(file("open", folder))
}

/// Asks the system itself, so that groups, access lists and mount options all count.
fn may_enter(account: Account, folder: &Path) -> bool {
    as_account(account)
        .args(["test", "-x"])
        .arg(folder)
        .stdin(Stdio::null())
        .current_dir("/")
        .status()
        .is_ok_and(|status| status.success())
}

fn as_account(account: Account) -> Command {
    let mut command = Command::new("setpriv");
    command.arg(format!("--reuid={}", account.uid));
    command.arg(format!("--regid={}", account.gid));
    command.args(["--clear-groups", "--no-new-privs"]);
    command
}

fn has_setpriv() -> bool {
    cfg!(target_os = "linux")
        && Command::new("setpriv")
            .arg("--version")
            .output()
            .is_ok_and(|output| output.status.success())
}

fn account_named(name: &str) -> Option<Account> {
    Some(Account {
        uid: id(&["-u", name])?,
        gid: id(&["-g", name])?,
    })
}

fn own_uid() -> Result<u32, ClusterError> {
    id(&["-u"]).ok_or_else(|| ClusterError::Program {
        what: "id -u".to_owned(),
        detail: "it did not print a number".to_owned(),
    })
}

fn id(arguments: &[&str]) -> Option<u32> {
    let output = Command::new("id").args(arguments).output().ok()?;
    String::from_utf8(output.stdout).ok()?.trim().parse().ok()
}

/// FNV-1a, 64 bits: the same folder has the same name for ever, whatever compiled us.
fn short_hash(path: &Path) -> String {
    let hash = path
        .as_os_str()
        .as_bytes()
        .iter()
        .fold(0xcbf2_9ce4_8422_2325_u64, |hash, &byte| {
            (hash ^ u64::from(byte)).wrapping_mul(0x0100_0000_01b3)
        });
    format!("{hash:016x}")
}
