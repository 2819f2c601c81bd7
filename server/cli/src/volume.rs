//! Which volume a folder is: the id that the file system carries. Told only for the top folder of a mounted volume,
//! and only where the system keeps the ids as files (Linux); elsewhere nothing is known, which is no fault.

use std::path::Path;

/// The id of the volume mounted at `folder`.
#[cfg(target_os = "linux")]
pub fn id(folder: &Path) -> Option<String> {
    use std::fs;
    use std::os::unix::fs::MetadataExt;

    let device = fs::metadata(folder).ok()?.dev();
    if fs::metadata(folder.parent()?).ok()?.dev() == device {
        return None;
    }
    let (major, minor) = numbers(device);
    let block = fs::canonicalize(format!("/sys/dev/block/{major}:{minor}")).ok()?;
    let ids = fs::read_dir("/dev/disk/by-uuid")
        .ok()?
        .filter_map(Result::ok);
    let mut ids = ids.filter(|entry| {
        fs::canonicalize(entry.path()).is_ok_and(|target| target.file_name() == block.file_name())
    });
    let id = ids.next()?.file_name().into_string().ok()?;
    (id.len() <= 200).then_some(id)
}

/// Not told by this system.
#[cfg(not(target_os = "linux"))]
pub fn id(_: &Path) -> Option<String> {
    None
}

/// Major and minor number in a `dev_t`, as glibc's `gnu_dev_major` and `gnu_dev_minor` take it apart.
#[cfg(target_os = "linux")]
const fn numbers(device: u64) -> (u64, u64) {
    (
        ((device >> 8) & 0xfff) | ((device >> 32) & 0xffff_f000),
        (device & 0xff) | ((device >> 12) & 0xffff_ff00),
    )
}

#[cfg(all(test, target_os = "linux"))]
mod tests {
    use super::*;

    #[test]
    fn a_folder_inside_a_volume_tells_nothing() {
        let folder = tempfile::tempdir().expect("a temporary folder");
        assert_eq!(id(folder.path()), None);
        assert_eq!(id(Path::new("/proc")), None, "mounted, but no disk");
        assert_eq!(
            id(Path::new("/")),
            None,
            "a system's own disk is no drive of footage"
        );
    }

    // makedev(3): 8:17 is the first partition of the second disk, 259:65536 needs the upper bits
    #[test]
    fn device_numbers_are_taken_apart() {
        assert_eq!(numbers(0x811), (8, 17));
        assert_eq!(numbers((259 << 8) | (0x10000 << 12)), (259, 65_536));
    }
}
