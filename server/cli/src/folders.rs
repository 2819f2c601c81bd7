//! The user's own folders for settings and state.

use std::fs::{self, File};
use std::path::{Path, PathBuf};

use crate::exit::{Exit, Failure};

/// Where device tokens are kept.
pub fn config() -> Result<PathBuf, Failure> {
    user_folder("XDG_CONFIG_HOME", ".config")
}

/// Where journals of scans and readings of verifications are kept.
pub fn scans() -> Result<PathBuf, Failure> {
    Ok(user_folder("XDG_STATE_HOME", ".local/state")?.join("scans"))
}

/// Where journals and receipts of copies are kept.
pub fn copies() -> Result<PathBuf, Failure> {
    Ok(user_folder("XDG_STATE_HOME", ".local/state")?.join("copies"))
}

/// Takes a lock in a folder of state, which is made if need be, for as long as the answer lives.
pub fn lock(folder: &Path, name: &str) -> Result<File, Failure> {
    let failed = || Failure::writing(folder.display());
    fs::create_dir_all(folder).map_err(failed())?;
    let lock = File::create(folder.join(format!("{name}.lock"))).map_err(failed())?;
    match lock.try_lock() {
        Ok(()) => Ok(lock),
        Err(fs::TryLockError::WouldBlock) => {
            let message = "This folder is being read by another run; wait for it or stop it.";
            Err(Failure::new(Exit::BadData, message))
        }
        Err(fs::TryLockError::Error(error)) => Err(failed()(error)),
    }
}

/// XDG Base Directory Specification; macOS and Windows keep both in one place.
fn user_folder(variable: &str, below_home: &str) -> Result<PathBuf, Failure> {
    let set = |name: &str| {
        std::env::var_os(name)
            .map(PathBuf::from)
            .filter(|p| p.is_absolute())
    };
    let base = set(variable).or_else(|| {
        if cfg!(windows) {
            set("APPDATA")
        } else if cfg!(target_os = "macos") {
            Some(set("HOME")?.join("Library/Application Support"))
        } else {
            Some(set("HOME")?.join(below_home))
        }
    });
    base.map(|base| base.join("waybill")).ok_or_else(|| {
        let message = "There is no home folder; set HOME, or --state for a scan or a copy.";
        Failure::new(Exit::Usage, message)
    })
}
