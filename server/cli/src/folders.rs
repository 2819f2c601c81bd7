//! The user's own folders for settings and state.

use std::path::PathBuf;

use crate::exit::{Exit, Failure};

/// Where device tokens are kept.
pub fn config() -> Result<PathBuf, Failure> {
    user_folder("XDG_CONFIG_HOME", ".config")
}

/// Where journals of scans are kept.
pub fn scans() -> Result<PathBuf, Failure> {
    Ok(user_folder("XDG_STATE_HOME", ".local/state")?.join("scans"))
}

/// Where journals and receipts of copies are kept.
pub fn copies() -> Result<PathBuf, Failure> {
    Ok(user_folder("XDG_STATE_HOME", ".local/state")?.join("copies"))
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
