//! Where PostgreSQL's own programs are. Debian keeps them out of PATH, one folder per major
//! version; other systems differ. Only `postgres` and `initdb` are needed.

use std::collections::BTreeMap;
use std::env;
use std::path::{Path, PathBuf};
use std::process::Command;

use super::ClusterError;

/// The oldest major version the migrations are written for.
const OLDEST: u32 = 15;

/// One folder of programs.
#[derive(Debug, Clone)]
pub(super) struct Programs {
    folder: PathBuf,
    /// Major version.
    pub(super) major: u32,
}

impl Programs {
    /// Finds the programs. Data that exists already (`made_by`) decides the major version;
    /// otherwise the newest wins.
    pub(super) fn find(made_by: Option<u32>) -> Result<Self, ClusterError> {
        if let Some(folder) = env::var_os("WAYBILL_PG_BIN").filter(|value| !value.is_empty()) {
            let folder = PathBuf::from(folder);
            let found = Self::in_folder(&folder).ok_or(ClusterError::WrongFolder { folder })?;
            return Self::choose(vec![found], made_by);
        }
        let candidates = candidates();
        let found: Vec<Self> = candidates
            .iter()
            .filter_map(|folder| Self::in_folder(folder))
            .collect();
        if found.is_empty() {
            return Err(ClusterError::ProgramsMissing {
                looked: "pg_config, /usr/lib/postgresql, /usr/local, PATH".to_owned(),
            });
        }
        Self::choose(found, made_by)
    }

    /// The best of what was found.
    fn choose(found: Vec<Self>, made_by: Option<u32>) -> Result<Self, ClusterError> {
        // Earlier candidates win among equals.
        let mut by_major: BTreeMap<u32, Self> = BTreeMap::new();
        for programs in found {
            by_major.entry(programs.major).or_insert(programs);
        }
        if let Some(made_by) = made_by {
            let versions: Vec<String> = by_major.keys().map(u32::to_string).collect();
            return by_major
                .remove(&made_by)
                .ok_or_else(|| ClusterError::OtherVersion {
                    made_by,
                    found: versions.join(", "),
                });
        }
        match by_major.pop_last() {
            Some((major, programs)) if major >= OLDEST => Ok(programs),
            Some((found, programs)) => Err(ClusterError::TooOld {
                found,
                needed: OLDEST,
                folder: programs.folder,
            }),
            None => Err(ClusterError::ProgramsMissing {
                looked: String::new(),
            }),
        }
    }

    fn in_folder(folder: &Path) -> Option<Self> {
        let postgres = folder.join("postgres");
        if !postgres.is_file() || !folder.join("initdb").is_file() {
            return None;
        }
        let output = Command::new(&postgres).arg("--version").output().ok()?;
        let major = major_version(&String::from_utf8_lossy(&output.stdout))?;
        // `postgres` looks for its libraries relative to where it really is.
        let real = postgres.canonicalize().ok()?;
        Some(Self {
            folder: real.parent()?.to_owned(),
            major,
        })
    }

    pub(super) fn folder(&self) -> &Path {
        &self.folder
    }

    pub(super) fn postgres(&self) -> PathBuf {
        self.folder.join("postgres")
    }

    pub(super) fn initdb(&self) -> PathBuf {
        self.folder.join("initdb")
    }
}

/// `postgres (PostgreSQL) 15.18 (Debian …)` and `… 18beta1` → the major version.
pub(super) fn major_version(text: &str) -> Option<u32> {
    let number = text
        .split_whitespace()
        .find(|word| word.starts_with(|c: char| c.is_ascii_digit()))?;
    let digits: String = number.chars().take_while(char::is_ascii_digit).collect();
    digits.parse().ok()
}

/// Folders worth a look, best first.
fn candidates() -> Vec<PathBuf> {
    let mut folders = Vec::new();
    if let Ok(output) = Command::new("pg_config").arg("--bindir").output()
        && output.status.success()
    {
        folders.push(PathBuf::from(
            String::from_utf8_lossy(&output.stdout).trim(),
        ));
    }
    // Debian and Ubuntu; Red Hat; Homebrew on both kinds of Mac; the Mac's stand-alone package.
    folders.extend(versions_under("/usr/lib/postgresql", ""));
    folders.extend(versions_under("/usr", "pgsql-"));
    folders.push(PathBuf::from("/usr/local/pgsql/bin"));
    folders.extend(versions_under("/opt/homebrew/opt", "postgresql"));
    folders.extend(versions_under("/usr/local/opt", "postgresql"));
    folders.extend(versions_under("/Library/PostgreSQL", ""));
    if let Some(path) = env::var_os("PATH") {
        folders.extend(env::split_paths(&path));
    }
    folders
}

/// `FOLDER/PREFIX*/bin`.
fn versions_under(folder: &str, prefix: &str) -> Vec<PathBuf> {
    let Ok(entries) = std::fs::read_dir(folder) else {
        return Vec::new();
    };
    entries
        .flatten()
        .filter(|entry| entry.file_name().to_string_lossy().starts_with(prefix))
        .map(|entry| entry.path().join("bin"))
        .collect()
}
