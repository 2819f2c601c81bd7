//! What an earlier run left behind. We hold the folder's lock here, so a PostgreSQL that still runs
//! on our data is an orphan: its server was killed. It is stopped, not adopted, because only a
//! child of ours ends with us.

use std::fs;
use std::path::{Path, PathBuf};
use std::process::{Command, Stdio};
use std::time::{Duration, Instant};

use super::ClusterError;
use super::error::file;
use super::home::{Home, PORT};

/// Time for an orphan to end, per signal.
const PATIENCE: Duration = Duration::from_secs(20);

/// Stops an orphan and removes lock files that would keep a new PostgreSQL from starting.
pub(super) fn clear(home: &Home) -> Result<(), ClusterError> {
    let data = home.data();
    let pid_file = data.join("postmaster.pid");
    if let Some(pid) = pid_in(&pid_file) {
        if serves(pid, &data) {
            end(pid, &data)?;
        } else if is_alive(pid) {
            // The number now belongs to another program. PostgreSQL would take it for itself and
            // refuse to start. (A dead number it handles better than we could: it also looks for
            // back ends that outlived their parent.)
            remove(&pid_file)?;
        }
    }
    remove(&home.socket().join(format!(".s.PGSQL.{PORT}")))?;
    remove(&home.socket().join(format!(".s.PGSQL.{PORT}.lock")))
}

/// Whether the PostgreSQL with this process id says that it takes connections.
pub(super) fn is_ready(data: &Path, pid: u32) -> bool {
    let Ok(text) = fs::read_to_string(data.join("postmaster.pid")) else {
        return false;
    };
    let mut lines = text.lines();
    let same = lines.next().and_then(|line| line.trim().parse().ok()) == Some(pid);
    // Line 8 is the status (PostgreSQL's miscadmin.h, LOCK_FILE_LINE_PM_STATUS).
    same && lines.nth(6).is_some_and(|status| status.trim() == "ready")
}

/// Sends a signal by the shell's own `kill`: a minimal system may lack the program.
pub(super) fn signal(pid: u32, name: &str) -> bool {
    Command::new("sh")
        .args(["-c", "kill -\"$1\" \"$2\"", "sh", name, &pid.to_string()])
        .stdin(Stdio::null())
        .stderr(Stdio::null())
        .status()
        .is_ok_and(|status| status.success())
}

/// Fast shutdown, then immediate, then by force; each is safe for the data.
fn end(pid: u32, data: &Path) -> Result<(), ClusterError> {
    tracing::warn!(pid, "stopping a PostgreSQL left over from an earlier run");
    for name in ["INT", "QUIT", "KILL"] {
        signal(pid, name);
        let asked = Instant::now();
        while asked.elapsed() < PATIENCE {
            if !serves(pid, data) {
                return Ok(());
            }
            std::thread::sleep(Duration::from_millis(50));
        }
    }
    Err(ClusterError::Orphan { pid })
}

fn pid_in(pid_file: &Path) -> Option<u32> {
    fs::read_to_string(pid_file)
        .ok()?
        .lines()
        .next()?
        .trim()
        .parse()
        .ok()
}

/// `postgres` works inside its data folder, which tells ours from any other.
fn serves(pid: u32, data: &Path) -> bool {
    let link = PathBuf::from(format!("/proc/{pid}/cwd"));
    if Path::new("/proc/self").exists() {
        return fs::read_link(link).is_ok_and(|folder| folder == data);
    }
    let asked = Command::new("ps")
        .args(["-o", "command=", "-p", &pid.to_string()])
        .output();
    asked.is_ok_and(|output| {
        let words = String::from_utf8_lossy(&output.stdout).into_owned();
        words.contains("postgres") && words.contains(&*data.to_string_lossy())
    })
}

fn is_alive(pid: u32) -> bool {
    if Path::new("/proc/self").exists() {
        Path::new(&format!("/proc/{pid}")).exists()
    } else {
        signal(pid, "0")
    }
}

fn remove(path: &Path) -> Result<(), ClusterError> {
    match fs::remove_file(path) {
        Err(error) if error.kind() != std::io::ErrorKind::NotFound => {
            Err(file("remove", path)(error))
        }
        _ => Ok(()),
    }
}
