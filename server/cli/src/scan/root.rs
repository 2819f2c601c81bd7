//! The folder that is scanned: opened once, and watched, because a drive can be pulled out.

use std::fs;
use std::path::{Path, PathBuf};

use crate::exit::{Exit, Failure};

/// The scanned folder, and how to know that it is still the same one.
pub struct Root {
    pub path: PathBuf,
    identity: (u64, u64),
}

impl Root {
    pub fn open(folder: &Path) -> Result<Self, Failure> {
        let path = fs::canonicalize(folder).map_err(|error| match error.kind() {
            std::io::ErrorKind::NotFound => {
                let message = format!(
                    "{} is not there. Is the name right, and is the drive or card mounted?",
                    folder.display()
                );
                Failure::new(Exit::NoInput, message)
            }
            _ => Failure::reading(folder.display())(error),
        })?;
        let metadata = fs::metadata(&path).map_err(Failure::reading(folder.display()))?;
        if !metadata.is_dir() {
            let message = format!("{} is not a folder; give one.", folder.display());
            return Err(Failure::new(Exit::NoInput, message));
        }
        Ok(Self {
            path,
            identity: identity(&metadata),
        })
    }

    pub fn name(&self) -> String {
        let name = self.path.file_name().unwrap_or(self.path.as_os_str());
        crate::walk::shown(name)
    }

    /// False once the drive is gone: its folder is not there, or an empty mount point took its place.
    pub fn is_there(&self) -> bool {
        fs::metadata(&self.path).is_ok_and(|metadata| identity(&metadata) == self.identity)
    }
}

#[cfg(unix)]
fn identity(metadata: &fs::Metadata) -> (u64, u64) {
    use std::os::unix::fs::MetadataExt;
    (metadata.dev(), metadata.ino())
}

#[cfg(not(unix))]
fn identity(_: &fs::Metadata) -> (u64, u64) {
    (0, 0)
}
