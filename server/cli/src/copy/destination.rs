//! One destination of a copy. Everything below the roll folder is named from that folder as it was opened, so that a
//! drive that goes away takes its names with it, and nothing lands in the empty folder that it was mounted on.

use std::collections::HashSet;
use std::fs::{self, File};
use std::io;
use std::os::fd::OwnedFd;
use std::path::{Path, PathBuf};
use std::sync::atomic::{AtomicBool, AtomicU64};

use rustix::fs::{AtFlags, Mode, OFlags};
use rustix::io::Errno;
use waybill_domain::hashes::HashKind;

use super::device::{Device, Kind, kind};
use crate::exit::{Exit, Failure};
use crate::scan::Root;

/// What stands before and after the digest in the name of a file that is being written.
const PART: (&str, &str) = (".waybill-", ".part");

/// A drive, or a folder on one, that takes a copy.
pub struct Destination {
    pub root: Root,
    /// As it was typed.
    pub shown: String,
    pub device: Device,
    /// Its label on the server.
    pub label: Option<String>,
    pub progress: Progress,
}

/// Bytes done, counted while threads work.
#[derive(Default)]
pub struct Progress {
    pub written: AtomicU64,
    pub verified: AtomicU64,
    /// Nothing more comes of it in this run.
    pub failed: AtomicBool,
}

impl Destination {
    pub fn open(folder: &Path, label: Option<String>) -> Result<Self, Failure> {
        let root = Root::open(folder)?;
        let device = Device::of(&root.path).map_err(Failure::reading(folder.display()))?;
        Ok(Self {
            shown: folder.display().to_string(),
            root,
            device,
            label,
            progress: Progress::default(),
        })
    }

    /// The folder that takes the roll.
    pub fn roll_path(&self, roll: &str) -> PathBuf {
        self.root.path.join(roll)
    }

    /// Makes the roll's folder where it is not there, and holds it for this run.
    pub fn enter(&self, roll: &str) -> Result<RollFolder, Failure> {
        let path = self.roll_path(roll);
        let writing = || Failure::writing(path.display());
        match fs::create_dir(&path) {
            Ok(()) => File::open(&self.root.path)
                .and_then(|folder| folder.sync_all())
                .map_err(writing())?,
            Err(error) if error.kind() == io::ErrorKind::AlreadyExists => {}
            Err(error) => return Err(writing()(error)),
        }
        let folder = File::open(&path).map_err(writing())?;
        let lock = match folder.try_lock() {
            Err(fs::TryLockError::WouldBlock) => {
                let message = format!(
                    "Another run is copying into {}; wait for it or stop it.",
                    path.display()
                );
                return Err(Failure::new(Exit::BadData, message));
            }
            // some file systems have no locks; the names of what is being written are still its own
            Err(fs::TryLockError::Error(_)) | Ok(()) => folder,
        };
        Ok(RollFolder {
            kind: kind(&lock),
            folder: lock,
            path,
        })
    }
}

/// The roll's folder on a destination, open and held.
pub struct RollFolder {
    pub folder: File,
    pub path: PathBuf,
    pub kind: Kind,
}

impl RollFolder {
    /// Opens a file below the folder.
    pub fn open(&self, path: &str, flags: OFlags) -> io::Result<File> {
        let flags = flags | OFlags::CLOEXEC | OFlags::NOFOLLOW;
        let mode = Mode::from_raw_mode(0o666);
        let file: OwnedFd = rustix::fs::openat(&self.folder, path, flags, mode)?;
        Ok(file.into())
    }

    pub fn make_folder(&self, path: &str) -> io::Result<()> {
        match rustix::fs::mkdirat(&self.folder, path, Mode::from_raw_mode(0o777)) {
            Ok(()) | Err(Errno::EXIST) => Ok(()),
            Err(error) => Err(error.into()),
        }
    }

    pub fn remove(&self, path: &str) -> io::Result<()> {
        Ok(rustix::fs::unlinkat(&self.folder, path, AtFlags::empty())?)
    }

    /// Gives a file its name, if nothing has that name yet.
    ///
    /// # Errors
    /// `AlreadyExists` when something has; the file then keeps the name it has.
    pub fn rename_new(&self, from: &str, to: &str) -> io::Result<()> {
        match self.rename_exclusively(from, to) {
            // the file system cannot do it in one step
            Err(Errno::INVAL | Errno::NOSYS | Errno::OPNOTSUPP) => {}
            result => return Ok(result?),
        }
        match rustix::fs::linkat(&self.folder, from, &self.folder, to, AtFlags::empty()) {
            Ok(()) => return self.remove(from),
            Err(Errno::EXIST) => return Err(Errno::EXIST.into()),
            // nor has it second names (FAT): look, then rename; the folder is held by this run
            Err(_) => {}
        }
        match rustix::fs::statat(&self.folder, to, AtFlags::SYMLINK_NOFOLLOW) {
            Err(Errno::NOENT) => Ok(rustix::fs::renameat(&self.folder, from, &self.folder, to)?),
            Ok(_) => Err(Errno::EXIST.into()),
            Err(error) => Err(error.into()),
        }
    }

    #[cfg(any(target_os = "linux", target_os = "android", target_vendor = "apple"))]
    fn rename_exclusively(&self, from: &str, to: &str) -> rustix::io::Result<()> {
        let flags = rustix::fs::RenameFlags::NOREPLACE;
        rustix::fs::renameat_with(&self.folder, from, &self.folder, to, flags)
    }

    #[cfg(not(any(target_os = "linux", target_os = "android", target_vendor = "apple")))]
    fn rename_exclusively(&self, _: &str, _: &str) -> rustix::io::Result<()> {
        Err(Errno::NOSYS)
    }

    /// Forces the names in a folder onto the disk.
    pub fn sync_folder(&self, path: &str) -> io::Result<()> {
        let path = if path.is_empty() { "." } else { path };
        self.open(path, OFlags::RDONLY | OFlags::DIRECTORY)?
            .sync_all()
    }

    /// Makes the card's folders, each on the disk before anything is in it.
    pub fn make_folders(&self, folders: &[String]) -> io::Result<()> {
        let mut above = HashSet::new();
        for folder in folders {
            self.make_folder(folder)?;
            above.insert(parent(folder));
        }
        above.iter().try_for_each(|folder| self.sync_folder(folder))
    }
}

/// The folder part of a path, empty at the top.
pub fn parent(path: &str) -> &str {
    path.rsplit_once('/').map_or("", |(folder, _)| folder)
}

/// The name under which a file is written, in the folder where it will stand. Its own name may be as long as names can
/// be, so it is not part of it.
pub fn part_name(path: &str) -> String {
    let digest = crate::hashing::digest(HashKind::Xxh64, path.as_bytes());
    let (begin, end) = PART;
    match parent(path) {
        "" => format!("{begin}{digest}{end}"),
        folder => format!("{folder}/{begin}{digest}{end}"),
    }
}

/// Whether a path is that of a file under way, as a killed run leaves it.
pub fn is_part(path: &str) -> bool {
    let name = path.rsplit('/').next().unwrap_or(path);
    let (begin, end) = PART;
    let digest = name
        .strip_prefix(begin)
        .and_then(|rest| rest.strip_suffix(end));
    digest.is_some_and(|digest| {
        digest.len() == 16 && digest.bytes().all(|digit| digit.is_ascii_hexdigit())
    })
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn files_under_way_stand_where_they_will_be_and_are_known_again() {
        let part = part_name("CLIPS/C0001.MOV");
        assert_eq!(parent(&part), "CLIPS");
        assert!(is_part(&part) && is_part(&part_name("C0001.MOV")));
        assert_ne!(part, part_name("CLIPS/C0002.MOV"));
        for name in [
            "a",
            ".waybill-.part",
            ".waybill-records.part",
            ".waybill-0123456789abcdeg.part",
        ] {
            assert!(!is_part(name), "{name}");
        }
    }

    #[test]
    fn nothing_is_renamed_over_something() {
        let scratch = tempfile::tempdir().expect("a temporary folder");
        let destination = Destination::open(scratch.path(), None).expect("a folder");
        let roll = destination.enter("R").expect("a new folder");
        fs::write(roll.path.join("new"), b"new").expect("room");
        fs::write(roll.path.join("old"), b"old").expect("room");
        let refused = roll.rename_new("new", "old").expect_err("it is taken");
        assert_eq!(refused.kind(), io::ErrorKind::AlreadyExists);
        assert_eq!(fs::read(roll.path.join("old")).expect("there"), b"old");
        roll.rename_new("new", "free").expect("a free name");
        assert_eq!(fs::read(roll.path.join("free")).expect("there"), b"new");
        assert!(!roll.path.join("new").exists());
    }
}
