//! Which volume a folder is, and what drive it lies on: the id that the file system carries, its room, and what the
//! kernel says of the device. Told only for the top folder of a mounted volume, and only where the system keeps these
//! as files (Linux); elsewhere nothing is known, which is no fault.

use std::path::Path;

use waybill_domain::manifest::DriveSeen;

/// What is known of the volume mounted at a folder.
#[derive(Default)]
pub struct Volume {
    /// Its file system's id.
    pub id: Option<String>,
    pub seen: Option<DriveSeen>,
}

/// The volume mounted at `folder`.
#[cfg(target_os = "linux")]
pub fn of(folder: &Path) -> Volume {
    Volume {
        id: linux::id(folder),
        seen: linux::seen(folder),
    }
}

/// Not told by this system.
#[cfg(not(target_os = "linux"))]
pub fn of(_: &Path) -> Volume {
    Volume::default()
}

/// Whether the system says that `folder` lies on a drive without moving parts.
#[cfg(target_os = "linux")]
pub fn is_solid_state(folder: &Path) -> bool {
    linux::is_solid_state(folder)
}

/// Not told by this system.
#[cfg(not(target_os = "linux"))]
pub fn is_solid_state(_: &Path) -> bool {
    false
}

#[cfg(target_os = "linux")]
mod linux {
    use std::fs;
    use std::os::unix::fs::MetadataExt;
    use std::path::{Path, PathBuf};

    use waybill_domain::manifest::{DriveSeen, SeenKind};

    /// The device of the volume whose top `folder` is; none of a folder inside one, nor of the system's own.
    fn block(folder: &Path) -> Option<PathBuf> {
        let device = fs::metadata(folder).ok()?.dev();
        if fs::metadata(folder.parent()?).ok()?.dev() == device {
            return None;
        }
        at(device)
    }

    fn at(device: u64) -> Option<PathBuf> {
        let (major, minor) = numbers(device);
        fs::canonicalize(format!("/sys/dev/block/{major}:{minor}")).ok()
    }

    pub fn is_solid_state(folder: &Path) -> bool {
        let block = fs::metadata(folder)
            .ok()
            .and_then(|folder| at(folder.dev()));
        block.and_then(|block| kind(&block)) == Some(SeenKind::Ssd)
    }

    fn told(path: PathBuf) -> Option<String> {
        Some(fs::read_to_string(path).ok()?.trim().to_owned())
    }

    /// The disk of a device: a partition's folder lies in its disk's.
    fn disk(block: &Path) -> Option<&Path> {
        match block.join("partition").exists() {
            true => block.parent(),
            false => Some(block),
        }
    }

    fn kind(block: &Path) -> Option<SeenKind> {
        match told(disk(block)?.join("queue/rotational")).as_deref() {
            Some("1") => Some(SeenKind::Hdd),
            Some("0") => Some(SeenKind::Ssd),
            _ => None,
        }
    }

    pub fn id(folder: &Path) -> Option<String> {
        let block = block(folder)?;
        let ids = fs::read_dir("/dev/disk/by-uuid")
            .ok()?
            .filter_map(Result::ok);
        let mut ids = ids.filter(|entry| {
            fs::canonicalize(entry.path())
                .is_ok_and(|target| target.file_name() == block.file_name())
        });
        let id = ids.next()?.file_name().into_string().ok()?;
        (id.len() <= 200).then_some(id)
    }

    pub fn seen(folder: &Path) -> Option<DriveSeen> {
        let block = block(folder)?;
        let room = rustix::fs::statvfs(folder).ok()?;
        let disk = disk(&block)?;
        // nearest first: the disk's own, or that of the case around it; a hub's would be its address, with colons
        let serials = disk
            .ancestors()
            .flat_map(|at| [at.join("serial"), at.join("device/serial")]);
        let mut serials = serials.filter_map(told);
        let serial = serials.next().filter(|serial| {
            (1..=200).contains(&serial.len())
                && !serial.contains(|c: char| c == ':' || c.is_control())
        });
        Some(DriveSeen {
            capacity_bytes: room.f_blocks.checked_mul(room.f_frsize)?,
            free_bytes: room.f_bavail.checked_mul(room.f_frsize)?,
            kind: kind(&block),
            serial,
            at: crate::scan::now(),
        })
    }

    /// Major and minor number in a `dev_t`, as glibc's `gnu_dev_major` and `gnu_dev_minor` take it apart.
    pub const fn numbers(device: u64) -> (u64, u64) {
        (
            ((device >> 8) & 0xfff) | ((device >> 32) & 0xffff_f000),
            (device & 0xff) | ((device >> 12) & 0xffff_ff00),
        )
    }
}

#[cfg(all(test, target_os = "linux"))]
mod tests {
    use super::linux::numbers;
    use super::*;

    fn is_told(folder: &str) -> bool {
        let volume = of(Path::new(folder));
        volume.id.is_some() || volume.seen.is_some()
    }

    #[test]
    fn a_folder_inside_a_volume_tells_nothing() {
        let folder = tempfile::tempdir().expect("a temporary folder");
        assert!(!is_told(&folder.path().display().to_string()));
        assert!(!is_told("/proc"), "mounted, but no disk");
        assert!(!is_told("/"), "a system's own disk is no drive of footage");
    }

    // makedev(3): 8:17 is the first partition of the second disk, 259:65536 needs the upper bits
    #[test]
    fn device_numbers_are_taken_apart() {
        assert_eq!(numbers(0x811), (8, 17));
        assert_eq!(numbers((259 << 8) | (0x10000 << 12)), (259, 65_536));
    }
}
