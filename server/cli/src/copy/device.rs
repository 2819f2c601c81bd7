//! What a folder lies on: which device and disk, how much is free, and what kind of file system.

use std::fs::{self, File};
use std::io;
use std::os::unix::fs::MetadataExt;
use std::path::Path;

use serde::{Deserialize, Serialize};

/// Where a folder lies, as far as the system tells.
#[derive(Debug, Clone, Default, PartialEq, Eq, Serialize, Deserialize)]
pub struct Device {
    /// Major and minor number, `8:17`.
    pub number: String,
    /// The whole disk, where the device is a part of one: two parts of a disk are not two places.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub disk: Option<String>,
    /// The id that the file system carries, told for the top folder of a volume.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub volume: Option<String>,
    /// What names the device wherever it is connected, also told for a folder within a volume.
    #[serde(default, skip_serializing_if = "Vec::is_empty")]
    pub names: Vec<String>,
    #[serde(skip)]
    pub raw: u64,
}

impl Device {
    pub fn of(folder: &Path) -> io::Result<Self> {
        let raw = fs::metadata(folder)?.dev();
        let number = format!("{}:{}", rustix::fs::major(raw), rustix::fs::minor(raw));
        let volume = crate::volume::of(folder);
        Ok(Self {
            disk: disk(&number),
            volume: volume.id,
            names: volume.devices,
            number,
            raw,
        })
    }

    /// Whether what hits one of them hits the other.
    pub fn is_same(&self, other: &Self) -> bool {
        self.number == other.number
            || (self.disk.is_some() && self.disk == other.disk)
            || self.names.iter().any(|name| other.names.contains(name))
    }

    /// A device with a head that has to move: reading back while writing would make it go to and fro.
    pub fn is_spinning(&self) -> bool {
        let disk = self.disk.as_ref().unwrap_or(&self.number);
        let base = format!("/sys/dev/block/{disk}");
        let spins = fs::read_to_string(format!("{base}/queue/rotational"));
        // disks of virtual machines call themselves spinning, whatever is behind them
        let is_virtual =
            fs::canonicalize(base).is_ok_and(|path| path.to_string_lossy().contains("/virtio"));
        spins.is_ok_and(|spins| spins.trim() == "1") && !is_virtual
    }
}

/// The number of the disk that a device is, or is a part of. Only where the system keeps this as files (Linux).
fn disk(number: &str) -> Option<String> {
    let device = fs::canonicalize(format!("/sys/dev/block/{number}")).ok()?;
    let whole = match device.join("partition").exists() {
        true => device.parent()?.to_owned(),
        false => device,
    };
    let number = fs::read_to_string(whole.join("dev")).ok()?;
    Some(number.trim().to_owned())
}

/// Bytes that may still be written below a folder by this user, and the size in which they are given out.
pub fn free_space(folder: &Path) -> io::Result<(u64, u64)> {
    let space = rustix::fs::statvfs(folder)?;
    Ok((
        space.f_bavail.saturating_mul(space.f_frsize),
        space.f_frsize.max(1),
    ))
}

/// What kind of file system it is, where that changes what can be promised.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Kind {
    /// On a device of this computer.
    Local,
    /// FAT: no file of 4 GiB or more.
    Fat,
    /// In memory only.
    Memory,
    /// Behind another computer, or another program.
    Remote,
}

/// The numbers are from Linux' `statfs(2)`.
#[cfg(target_os = "linux")]
pub fn kind(folder: &File) -> Kind {
    const FAT: u64 = 0x4d44;
    const MEMORY: [u64; 2] = [0x0102_1994, 0x8584_58f6];
    const REMOTE: [u64; 6] = [
        0x6969,
        0x517b,
        0xff53_4d42,
        0xfe53_4d42,
        0x0102_1997,
        0x6573_5546,
    ];
    let Ok(system) = rustix::fs::fstatfs(folder) else {
        return Kind::Local;
    };
    // 32 bits everywhere; the type of the field differs by machine
    let number = system.f_type as u64 & 0xffff_ffff;
    match number {
        FAT => Kind::Fat,
        number if MEMORY.contains(&number) => Kind::Memory,
        number if REMOTE.contains(&number) => Kind::Remote,
        _ => Kind::Local,
    }
}

/// Not asked on this system.
#[cfg(not(target_os = "linux"))]
pub fn kind(_: &File) -> Kind {
    Kind::Local
}
