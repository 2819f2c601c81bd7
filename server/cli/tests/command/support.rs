//! A scratch place with a home of its own, the program in it, and readers of what it writes.

use std::collections::BTreeMap;
use std::fs;
use std::path::{Path, PathBuf};
use std::process::{Child, Command, Output, Stdio};

use serde_json::Value;
use tempfile::TempDir;

pub struct Scratch {
    pub folder: TempDir,
}

pub struct Ended {
    pub code: i32,
    pub out: String,
    pub err: String,
}

impl Scratch {
    /// An empty drive beside an empty home.
    pub fn new() -> Self {
        let folder = TempDir::new().expect("a scratch folder");
        fs::create_dir(folder.path().join("drive")).expect("a new folder");
        Self { folder }
    }

    pub fn path(&self, name: &str) -> PathBuf {
        self.folder.path().join(name)
    }

    pub fn drive(&self) -> PathBuf {
        self.path("drive")
    }

    /// Writes a file on the drive, with its folders.
    pub fn write(&self, name: impl AsRef<Path>, bytes: &[u8]) -> PathBuf {
        let path = self.drive().join(name);
        fs::create_dir_all(path.parent().expect("a folder")).expect("folders");
        fs::write(&path, bytes).expect("a file");
        path
    }

    /// Makes a file on the drive that is long and takes no room.
    pub fn write_sparse(&self, name: &str, length: u64) {
        let path = self.write(name, b"");
        fs::File::options()
            .write(true)
            .open(path)
            .and_then(|f| f.set_len(length))
            .expect("room");
    }

    pub fn command(&self, args: &[&str]) -> Command {
        let mut command = Command::new(env!("CARGO_BIN_EXE_waybill"));
        command
            .args(args)
            .current_dir(self.folder.path())
            .stdin(Stdio::null());
        for name in [
            "XDG_CONFIG_HOME",
            "XDG_STATE_HOME",
            "WAYBILL_TOKEN",
            "WAYBILL_STATE",
        ] {
            command.env_remove(name);
        }
        command
            .env_remove("WAYBILL_SERVER")
            .env_remove("WAYBILL_SERIES");
        command.env("HOME", self.folder.path());
        command
    }

    pub fn run(&self, args: &[&str]) -> Ended {
        ended(self.command(args).output().expect("the program starts"))
    }

    /// Scans the drive into `out.jsonl`.
    pub fn scan(&self, more: &[&str]) -> Ended {
        self.run(
            &[
                &[
                    "scan",
                    "drive",
                    "--drive",
                    "HARBOUR 1",
                    "--out",
                    "out.jsonl",
                ],
                more,
            ]
            .concat(),
        )
    }

    pub fn start_scan(&self, more: &[&str]) -> Child {
        let args = [
            &[
                "scan",
                "drive",
                "--drive",
                "HARBOUR 1",
                "--out",
                "out.jsonl",
            ],
            more,
        ]
        .concat();
        let mut command = self.command(&args);
        command.stdout(Stdio::piped()).stderr(Stdio::piped());
        command.spawn().expect("the program starts")
    }

    pub fn manifest(&self) -> Manifest {
        Manifest::read(&self.path("out.jsonl"))
    }
}

/// `waybill copy` of the folder `card` to these drives, with the receipt in `paper`.
pub fn copying<'a>(roll: &'a str, drives: &[&'a str]) -> Vec<&'a str> {
    let mut args = vec!["copy", "card", "--roll", roll, "--receipt", "paper"];
    args.extend(drives.iter().flat_map(|drive| ["--to", drive]));
    args
}

pub fn ended(output: Output) -> Ended {
    Ended {
        code: output.status.code().unwrap_or(-1),
        out: String::from_utf8(output.stdout).expect("text"),
        err: String::from_utf8(output.stderr).expect("text"),
    }
}

/// A manifest as written, by path.
pub struct Manifest {
    pub header: Value,
    pub files: BTreeMap<String, Value>,
    pub skipped: Vec<Value>,
    pub end: Value,
}

impl Manifest {
    pub fn read(path: &Path) -> Self {
        let text = fs::read_to_string(path).expect("a manifest");
        let mut lines = text
            .lines()
            .map(|line| serde_json::from_str::<Value>(line).expect("JSON"));
        let header = lines.next().expect("a header")["header"].take();
        let mut read = Self {
            header,
            files: BTreeMap::new(),
            skipped: vec![],
            end: Value::Null,
        };
        for mut line in lines {
            assert_eq!(read.end, Value::Null, "the end line is the last");
            if let Value::Object(_) = line["file"] {
                let parts = line["file"]["path"].as_array().expect("a path").iter();
                let path = parts
                    .map(|part| part.as_str().expect("text"))
                    .collect::<Vec<_>>();
                read.files.insert(path.join("/"), line["file"].take());
            } else if let Value::Object(_) = line["skipped"] {
                read.skipped.push(line["skipped"].take());
            } else {
                read.end = line["end"].take();
            }
        }
        read
    }

    /// The digests of one type by path.
    pub fn digests(&self, kind: &str) -> BTreeMap<String, String> {
        let digest = |file: &Value| file["hashes"][kind].as_str().expect("a digest").to_owned();
        self.files
            .iter()
            .map(|(path, file)| (path.clone(), digest(file)))
            .collect()
    }

    /// Everything but the times at which files were read.
    pub fn timeless(&self) -> BTreeMap<String, Value> {
        let mut files = self.files.clone();
        for file in files.values_mut() {
            file["read"] = Value::Null;
        }
        files
    }
}

/// Bytes that differ for each seed and do not repeat.
pub fn noise(seed: u64, length: usize) -> Vec<u8> {
    let mut state = seed.wrapping_mul(0x9e37_79b9_7f4a_7c15) | 1;
    let mut next = || {
        state ^= state << 13;
        state ^= state >> 7;
        state ^= state << 17;
        state.to_le_bytes()
    };
    let mut bytes: Vec<u8> = (0..length / 8 + 1).flat_map(|_| next()).collect();
    bytes.truncate(length);
    bytes
}

/// A sample of the outside tests.
pub fn sample(name: &str) -> PathBuf {
    Path::new(env!("CARGO_MANIFEST_DIR"))
        .join("../../tests/outside/data")
        .join(name)
}
