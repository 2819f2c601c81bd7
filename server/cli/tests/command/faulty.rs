//! A drive that fails where a test says: a file system in memory behind FUSE, whose every request is first put to the
//! test. What it holds is looked at from inside, past every cache.

use std::collections::BTreeMap;
use std::ffi::{OsStr, OsString};
use std::path::Path;
use std::sync::{Arc, Mutex, MutexGuard};
use std::time::{Duration, SystemTime};

use fuser::{
    BackgroundSession, Config, Errno, FileAttr, FileHandle, FileType, Filesystem, FopenFlags,
    Generation, INodeNo, LockOwner, OpenFlags, RenameFlags, ReplyAttr, ReplyCreate, ReplyData,
    ReplyDirectory, ReplyEmpty, ReplyEntry, ReplyStatfs, ReplyWrite, Request, TimeOrNow,
    WriteFlags,
};

const ROOT: u64 = 1;
const BLOCK: u32 = 4096;
/// Blocks that it claims to have.
const BLOCKS: u64 = 1 << 20;
/// Nothing is kept by the system: every question comes here.
const TTL: Duration = Duration::ZERO;

/// What is asked of the drive. Names are those of the moment: a file under way has its own.
#[derive(Debug, Clone, PartialEq, Eq)]
pub enum Asked<'a> {
    /// A name is made, taken away or changed.
    Change(&'a str),
    /// With where in the file.
    Write(&'a str, u64),
    Read(&'a str, u64),
    /// A file is forced onto the medium.
    Force(&'a str),
    /// The names of a folder are.
    ForceNames(&'a str),
}

/// What becomes of it.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Done {
    Well,
    Refused(Errno),
    /// Written with one bit the other way round, without a word.
    Wrong,
}

type Test = Box<dyn FnMut(&Asked<'_>) -> Done + Send>;

struct Node {
    name: String,
    bytes: Vec<u8>,
    modified: SystemTime,
    /// Of a folder.
    names: Option<BTreeMap<OsString, u64>>,
}

struct Store {
    nodes: BTreeMap<u64, Node>,
    next: u64,
    test: Test,
}

/// The drive, as long as it is mounted.
pub struct Faulty {
    store: Arc<Mutex<Store>>,
    session: Option<BackgroundSession>,
}

impl Faulty {
    /// Mounts an empty drive, or says why this machine does not and gives nothing: that takes root, and a kernel with
    /// FUSE.
    pub fn mount(at: &Path) -> Option<Self> {
        std::fs::create_dir_all(at).expect("a folder");
        let root = Node::folder("");
        let store = Arc::new(Mutex::new(Store {
            nodes: BTreeMap::from([(ROOT, root)]),
            next: ROOT + 1,
            test: Box::new(|_| Done::Well),
        }));
        let drive = Drive(Arc::clone(&store));
        match fuser::spawn_mount(drive, at, &Config::default()) {
            Ok(session) => Some(Self {
                store,
                session: Some(session),
            }),
            Err(error) => {
                eprintln!(
                    "NOT TESTED on this machine: a FUSE file system cannot be mounted: {error}"
                );
                None
            }
        }
    }

    /// From now on every request is put to `test`.
    pub fn fails(&self, test: impl FnMut(&Asked<'_>) -> Done + Send + 'static) {
        self.lock().test = Box::new(test);
    }

    /// From now on all goes well.
    pub fn heals(&self) {
        self.fails(|_| Done::Well);
    }

    /// Every file on the medium by its path: content and date.
    pub fn files(&self) -> BTreeMap<String, (Vec<u8>, SystemTime)> {
        let store = self.lock();
        let mut files = BTreeMap::new();
        let mut folders = vec![(String::new(), ROOT)];
        while let Some((path, folder)) = folders.pop() {
            for (name, number) in store.nodes[&folder].names.iter().flatten() {
                let path = format!("{path}{}", name.to_string_lossy());
                let node = &store.nodes[number];
                match node.names {
                    Some(_) => folders.push((format!("{path}/"), *number)),
                    None => {
                        files.insert(path, (node.bytes.clone(), node.modified));
                    }
                }
            }
        }
        files
    }

    fn lock(&self) -> MutexGuard<'_, Store> {
        self.store.lock().expect("no request panics")
    }
}

impl Drop for Faulty {
    fn drop(&mut self) {
        if let Some(session) = self.session.take() {
            // a test that has failed says more than what cannot be unmounted after it
            let _ = session.umount_and_join();
        }
    }
}

impl Node {
    fn folder(name: &str) -> Self {
        Self {
            names: Some(BTreeMap::new()),
            ..Self::file(name)
        }
    }

    fn file(name: &str) -> Self {
        Self {
            name: name.to_owned(),
            bytes: Vec::new(),
            modified: SystemTime::now(),
            names: None,
        }
    }

    fn attributes(&self, number: u64) -> FileAttr {
        let is_folder = self.names.is_some();
        FileAttr {
            ino: INodeNo(number),
            size: self.bytes.len() as u64,
            blocks: self.bytes.len().div_ceil(512) as u64,
            atime: self.modified,
            mtime: self.modified,
            ctime: self.modified,
            crtime: self.modified,
            kind: match is_folder {
                true => FileType::Directory,
                false => FileType::RegularFile,
            },
            perm: if is_folder { 0o755 } else { 0o644 },
            nlink: 1,
            uid: 0,
            gid: 0,
            rdev: 0,
            blksize: BLOCK,
            flags: 0,
        }
    }
}

impl Store {
    fn is_well(&mut self, asked: &Asked<'_>) -> Result<(), Errno> {
        match (self.test)(asked) {
            Done::Refused(error) => Err(error),
            Done::Well | Done::Wrong => Ok(()),
        }
    }

    fn node(&mut self, number: INodeNo) -> Result<&mut Node, Errno> {
        self.nodes.get_mut(&number.0).ok_or(Errno::ENOENT)
    }

    fn names(&mut self, folder: INodeNo) -> Result<&mut BTreeMap<OsString, u64>, Errno> {
        self.node(folder)?.names.as_mut().ok_or(Errno::ENOTDIR)
    }

    fn find(&mut self, folder: INodeNo, name: &OsStr) -> Result<u64, Errno> {
        self.names(folder)?.get(name).copied().ok_or(Errno::ENOENT)
    }

    fn attributes(&mut self, number: u64) -> Result<FileAttr, Errno> {
        Ok(self.node(INodeNo(number))?.attributes(number))
    }

    fn make(
        &mut self,
        folder: INodeNo,
        name: &OsStr,
        node: fn(&str) -> Node,
    ) -> Result<FileAttr, Errno> {
        let shown = name.to_string_lossy();
        self.is_well(&Asked::Change(&shown))?;
        let number = self.next;
        if self.names(folder)?.contains_key(name) {
            return Err(Errno::EEXIST);
        }
        self.names(folder)?.insert(name.to_owned(), number);
        self.nodes.insert(number, node(&shown));
        self.next += 1;
        self.attributes(number)
    }

    fn remove(&mut self, folder: INodeNo, name: &OsStr) -> Result<(), Errno> {
        self.is_well(&Asked::Change(&name.to_string_lossy()))?;
        // what is open stays readable; nothing is ever so large that it matters
        let removed = self.names(folder)?.remove(name);
        removed.map(|_| ()).ok_or(Errno::ENOENT)
    }

    fn rename(
        &mut self,
        from: (INodeNo, &OsStr),
        to: (INodeNo, &OsStr),
        flags: RenameFlags,
    ) -> Result<(), Errno> {
        let shown = to.1.to_string_lossy().into_owned();
        self.is_well(&Asked::Change(&shown))?;
        let number = self.find(from.0, from.1)?;
        if flags.contains(RenameFlags::RENAME_NOREPLACE) && self.find(to.0, to.1).is_ok() {
            return Err(Errno::EEXIST);
        }
        self.names(from.0)?.remove(from.1);
        self.names(to.0)?.insert(to.1.to_owned(), number);
        self.node(INodeNo(number))?.name = shown;
        Ok(())
    }

    fn write(&mut self, number: INodeNo, at: u64, data: &[u8]) -> Result<u32, Errno> {
        let name = self.node(number)?.name.clone();
        let done = (self.test)(&Asked::Write(&name, at));
        if let Done::Refused(error) = done {
            return Err(error);
        }
        let node = self.node(number)?;
        let begin = usize::try_from(at).expect("small files");
        let end = begin + data.len();
        if node.bytes.len() < end {
            node.bytes.resize(end, 0);
        }
        node.bytes[begin..end].copy_from_slice(data);
        if done == Done::Wrong {
            node.bytes[begin + data.len() / 2] ^= 1;
        }
        node.modified = SystemTime::now();
        Ok(u32::try_from(data.len()).expect("a request is small"))
    }

    fn read(&mut self, number: INodeNo, at: u64, size: u32) -> Result<Vec<u8>, Errno> {
        let name = self.node(number)?.name.clone();
        self.is_well(&Asked::Read(&name, at))?;
        let bytes = &self.node(number)?.bytes;
        let begin = usize::try_from(at).expect("small files").min(bytes.len());
        let end = (begin + size as usize).min(bytes.len());
        Ok(bytes[begin..end].to_vec())
    }
}

struct Drive(Arc<Mutex<Store>>);

impl Drive {
    fn store(&self) -> MutexGuard<'_, Store> {
        self.0.lock().expect("no request panics")
    }

    fn entry(&self, reply: ReplyEntry, found: Result<FileAttr, Errno>) {
        match found {
            Ok(attributes) => reply.entry(&TTL, &attributes, Generation(0)),
            Err(error) => reply.error(error),
        }
    }

    fn attr(&self, reply: ReplyAttr, found: Result<FileAttr, Errno>) {
        match found {
            Ok(attributes) => reply.attr(&TTL, &attributes),
            Err(error) => reply.error(error),
        }
    }

    fn empty(&self, reply: ReplyEmpty, done: Result<(), Errno>) {
        match done {
            Ok(()) => reply.ok(),
            Err(error) => reply.error(error),
        }
    }
}

impl Filesystem for Drive {
    fn lookup(&self, _: &Request, parent: INodeNo, name: &OsStr, reply: ReplyEntry) {
        let mut store = self.store();
        let found = store.find(parent, name);
        let found = found.and_then(|number| store.attributes(number));
        self.entry(reply, found);
    }

    fn getattr(&self, _: &Request, ino: INodeNo, _: Option<FileHandle>, reply: ReplyAttr) {
        self.attr(reply, self.store().attributes(ino.0));
    }

    fn setattr(
        &self,
        _: &Request,
        ino: INodeNo,
        _: Option<u32>,
        _: Option<u32>,
        _: Option<u32>,
        size: Option<u64>,
        _: Option<TimeOrNow>,
        modified: Option<TimeOrNow>,
        _: Option<SystemTime>,
        _: Option<FileHandle>,
        _: Option<SystemTime>,
        _: Option<SystemTime>,
        _: Option<SystemTime>,
        _: Option<fuser::BsdFileFlags>,
        reply: ReplyAttr,
    ) {
        let mut store = self.store();
        let changed = store.node(ino).map(|node| {
            if let Some(size) = size {
                let size = usize::try_from(size).expect("small files");
                node.bytes.resize(size, 0);
            }
            match modified {
                Some(TimeOrNow::SpecificTime(time)) => node.modified = time,
                Some(TimeOrNow::Now) => node.modified = SystemTime::now(),
                None => {}
            }
            node.attributes(ino.0)
        });
        self.attr(reply, changed);
    }

    fn mkdir(&self, _: &Request, parent: INodeNo, name: &OsStr, _: u32, _: u32, reply: ReplyEntry) {
        self.entry(reply, self.store().make(parent, name, Node::folder));
    }

    fn create(
        &self,
        _: &Request,
        parent: INodeNo,
        name: &OsStr,
        _: u32,
        _: u32,
        _: i32,
        reply: ReplyCreate,
    ) {
        match self.store().make(parent, name, Node::file) {
            Ok(made) => reply.created(
                &TTL,
                &made,
                Generation(0),
                FileHandle(0),
                FopenFlags::empty(),
            ),
            Err(error) => reply.error(error),
        }
    }

    fn unlink(&self, _: &Request, parent: INodeNo, name: &OsStr, reply: ReplyEmpty) {
        self.empty(reply, self.store().remove(parent, name));
    }

    fn rmdir(&self, _: &Request, parent: INodeNo, name: &OsStr, reply: ReplyEmpty) {
        self.empty(reply, self.store().remove(parent, name));
    }

    fn rename(
        &self,
        _: &Request,
        parent: INodeNo,
        name: &OsStr,
        newparent: INodeNo,
        newname: &OsStr,
        flags: RenameFlags,
        reply: ReplyEmpty,
    ) {
        let renamed = self
            .store()
            .rename((parent, name), (newparent, newname), flags);
        self.empty(reply, renamed);
    }

    fn read(
        &self,
        _: &Request,
        ino: INodeNo,
        _: FileHandle,
        offset: u64,
        size: u32,
        _: OpenFlags,
        _: Option<LockOwner>,
        reply: ReplyData,
    ) {
        match self.store().read(ino, offset, size) {
            Ok(bytes) => reply.data(&bytes),
            Err(error) => reply.error(error),
        }
    }

    fn write(
        &self,
        _: &Request,
        ino: INodeNo,
        _: FileHandle,
        offset: u64,
        data: &[u8],
        _: WriteFlags,
        _: OpenFlags,
        _: Option<LockOwner>,
        reply: ReplyWrite,
    ) {
        match self.store().write(ino, offset, data) {
            Ok(length) => reply.written(length),
            Err(error) => reply.error(error),
        }
    }

    fn flush(&self, _: &Request, _: INodeNo, _: FileHandle, _: LockOwner, reply: ReplyEmpty) {
        reply.ok();
    }

    fn fsync(&self, _: &Request, ino: INodeNo, _: FileHandle, _: bool, reply: ReplyEmpty) {
        let mut store = self.store();
        let name = store.node(ino).map(|node| node.name.clone());
        let forced = name.and_then(|name| store.is_well(&Asked::Force(&name)));
        self.empty(reply, forced);
    }

    fn fsyncdir(&self, _: &Request, ino: INodeNo, _: FileHandle, _: bool, reply: ReplyEmpty) {
        let mut store = self.store();
        let name = store.node(ino).map(|node| node.name.clone());
        let forced = name.and_then(|name| store.is_well(&Asked::ForceNames(&name)));
        self.empty(reply, forced);
    }

    fn readdir(
        &self,
        _: &Request,
        ino: INodeNo,
        _: FileHandle,
        offset: u64,
        mut reply: ReplyDirectory,
    ) {
        let mut store = self.store();
        let names = match store.names(ino) {
            Ok(names) => names.clone(),
            Err(error) => return reply.error(error),
        };
        let after = usize::try_from(offset).expect("few names");
        for (place, (name, number)) in names.into_iter().enumerate().skip(after) {
            let is_folder = store.nodes[&number].names.is_some();
            let kind = match is_folder {
                true => FileType::Directory,
                false => FileType::RegularFile,
            };
            if reply.add(INodeNo(number), place as u64 + 1, kind, name) {
                break;
            }
        }
        reply.ok();
    }

    fn statfs(&self, _: &Request, _: INodeNo, reply: ReplyStatfs) {
        reply.statfs(BLOCKS, BLOCKS, BLOCKS, BLOCKS, BLOCKS, BLOCK, 255, BLOCK);
    }
}
