//! Device tokens: from the environment, or from a file that only its owner can read. Never from the
//! command line, where every user of the machine could see them.

use std::collections::BTreeMap;
use std::fs::{self, OpenOptions};
use std::io::Write;
use std::path::{Path, PathBuf};

use url::Url;

use crate::exit::{Exit, Failure};

/// Environment variable that goes before the file.
pub const VARIABLE: &str = "WAYBILL_TOKEN";

/// The token for a server.
pub fn find(server: &Url, folder: &Path) -> Result<String, Failure> {
    if let Ok(token) = std::env::var(VARIABLE)
        && !token.trim().is_empty()
    {
        return Ok(token.trim().to_owned());
    }
    let path = file(folder);
    check_mode(&path)?;
    read(&path)?.remove(&key(server)).ok_or_else(|| {
        let message = format!(
            "You are not signed in to {}. Use `waybill sign-in --to {server}`, or set {VARIABLE}.",
            key(server)
        );
        Failure::new(Exit::NotAllowed, message)
    })
}

/// Keeps a token for a server.
pub fn keep(server: &Url, token: &str, folder: &Path) -> Result<PathBuf, Failure> {
    let path = file(folder);
    let failed = || Failure::writing(path.display());
    fs::create_dir_all(folder).map_err(failed())?;
    let mut tokens = read(&path)?;
    tokens.insert(key(server), token.to_owned());
    let text = serde_json::to_vec_pretty(&tokens)
        .map_err(std::io::Error::from)
        .map_err(failed())?;
    let temporary = path.with_extension("part");
    // left by a run that was killed; it may have another mode
    let _ = fs::remove_file(&temporary);
    let mut options = OpenOptions::new();
    options.write(true).create_new(true);
    #[cfg(unix)]
    std::os::unix::fs::OpenOptionsExt::mode(&mut options, 0o600);
    let mut output = options.open(&temporary).map_err(failed())?;
    output
        .write_all(&text)
        .and_then(|()| output.sync_all())
        .map_err(failed())?;
    fs::rename(&temporary, &path).map_err(failed())?;
    Ok(path)
}

fn file(folder: &Path) -> PathBuf {
    folder.join("tokens.json")
}

/// A token belongs to scheme, host and port.
fn key(server: &Url) -> String {
    server.origin().ascii_serialization()
}

fn read(path: &Path) -> Result<BTreeMap<String, String>, Failure> {
    match fs::read(path) {
        Ok(bytes) => serde_json::from_slice(&bytes).map_err(|error| {
            let message = format!("{} is damaged ({error}); sign in again.", path.display());
            Failure::new(Exit::BadData, message)
        }),
        Err(error) if error.kind() == std::io::ErrorKind::NotFound => Ok(BTreeMap::new()),
        Err(error) => Err(Failure::reading(path.display())(error)),
    }
}

#[cfg(unix)]
fn check_mode(path: &Path) -> Result<(), Failure> {
    use std::os::unix::fs::PermissionsExt;
    match fs::metadata(path) {
        Ok(metadata) if metadata.permissions().mode() & 0o077 != 0 => {
            let path = path.display();
            let message = format!("{path} can be read by others; use `chmod 600 {path}` first.");
            Err(Failure::new(Exit::NotAllowed, message))
        }
        _ => Ok(()),
    }
}

#[cfg(not(unix))]
fn check_mode(_: &Path) -> Result<(), Failure> {
    Ok(())
}
