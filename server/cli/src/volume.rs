//! Which volume a folder is, and what drive it lies on: the id that the file system carries, its room, and what the
//! kernel says of the device. Told only for the top folder of a mounted volume, but for what names the device, and only
//! where the system keeps these as files (Linux); elsewhere nothing is known, which is no fault.

use std::path::Path;

use waybill_domain::manifest::DriveSeen;

/// What is known of the volume mounted at a folder.
#[derive(Default)]
pub struct Volume {
    /// Its file system's id.
    pub id: Option<String>,
    pub seen: Option<DriveSeen>,
    /// What names the device that the folder lies on, the volume's top or not, and stays the same wherever it is
    /// connected: ids of the file system and of the disk. Empty where nothing of that kind is told, as of a network.
    pub devices: Vec<String>,
}

/// The volume mounted at `folder`.
#[cfg(target_os = "linux")]
pub fn of(folder: &Path) -> Volume {
    Volume {
        id: linux::id(folder),
        seen: linux::seen(folder),
        devices: linux::devices(folder),
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
        uuid(&block(folder)?)
    }

    /// Every name that is known, since one of them may be hidden elsewhere: in a container, behind another plug.
    pub fn devices(folder: &Path) -> Vec<String> {
        /// Of ext2 to ext4, whose `f_fsid` is made of their UUID; other systems make it of the device's number.
        const EXT: u64 = 0xef53;
        /// What standards bodies give out once only; else a disk's name may be that of its make.
        const UNIQUE: [&str; 3] = ["naa.", "eui.", "uuid."];
        let Some(block) = holder(folder) else {
            return Vec::new();
        };
        let system = rustix::fs::statfs(folder).ok();
        let is_ext = system.is_some_and(|system| system.f_type as u64 == EXT);
        let space = rustix::fs::statvfs(folder).ok().filter(|_| is_ext);
        let ext = space.map(|space| format!("ext:{:016x}", space.f_fsid));
        let disk = disk(&block).and_then(|disk| {
            let mut names = [disk.join("wwid"), disk.join("device/wwid")].into_iter();
            names.find_map(told)
        });
        let disk = disk.filter(|name| {
            name.len() <= 190 && UNIQUE.iter().any(|unique| name.starts_with(unique))
        });
        let disk = disk.map(|name| format!("disk:{name}"));
        [uuid(&block), ext, disk].into_iter().flatten().collect()
    }

    /// The device that a folder lies on; none of what lies in memory or in a network. Some file systems (btrfs) give
    /// numbers that are no device's, so the list of what is mounted is asked too.
    fn holder(folder: &Path) -> Option<PathBuf> {
        if let Some(block) = at(fs::metadata(folder).ok()?.dev()) {
            return Some(block);
        }
        let folder = fs::canonicalize(folder).ok()?;
        let mounts = fs::read_to_string("/proc/self/mountinfo").ok()?;
        let source = mount_source(&mounts, &folder)?;
        let device = fs::canonicalize(source).ok()?;
        let name = device.strip_prefix("/dev").ok()?.file_name()?;
        fs::canonicalize(Path::new("/sys/class/block").join(name)).ok()
    }

    /// What is mounted where a folder lies, of the lines of `proc_pid_mountinfo(5)`; the last is on top.
    pub fn mount_source(mounts: &str, folder: &Path) -> Option<String> {
        let lines = mounts.lines().filter_map(|line| {
            let (place, rest) = line.split_once(" - ")?;
            let at = place.split(' ').nth(4)?.replace("\\040", " ");
            let source = rest.split(' ').nth(1)?.to_owned();
            folder.starts_with(&at).then_some((at.len(), source))
        });
        let nearest = lines.reduce(|one, other| if other.0 >= one.0 { other } else { one });
        nearest.map(|(_, source)| source)
    }

    fn uuid(block: &Path) -> Option<String> {
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

    // lines as in proc_pid_mountinfo(5)
    #[test]
    fn the_nearest_and_last_mount_holds_a_folder() {
        let mounts = "27 1 0:25 /root / rw - btrfs /dev/sda2 rw\n\
            36 27 0:25 /home /home rw,noatime shared:1 - btrfs /dev/sda2 rw\n\
            40 36 8:17 / /home/ada/QUAY\\0401 rw - ext4 /dev/sdb1 rw\n\
            41 27 0:50 / /mnt/nas rw - nfs4 nas:/footage rw\n\
            42 41 0:51 / /mnt/nas rw - nfs4 nas:/other rw\n";
        for (folder, source) in [
            ("/home/ada/QUAY 1/card", "/dev/sdb1"),
            ("/home/ada/QUAY 10", "/dev/sda2"),
            ("/mnt/nas/one", "nas:/other"),
        ] {
            let found = super::linux::mount_source(mounts, Path::new(folder));
            assert_eq!(found.as_deref(), Some(source), "{folder}");
        }
    }

    #[test]
    fn what_is_in_memory_has_no_name_that_lasts() {
        assert!(of(Path::new("/proc")).devices.is_empty());
    }

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
