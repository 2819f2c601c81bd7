//! What cannot be done is said: what, where, and what to do; and the exit code tells which kind.

use std::fs;
use std::io::Write as _;
use std::process::{Command, Stdio};
use std::sync::atomic::{AtomicBool, Ordering};
use std::thread;

use crate::support::{Scratch, ended};

#[test]
fn an_empty_folder_a_missing_one_and_a_file_are_no_drive() {
    let scratch = Scratch::new();
    let empty = scratch.scan(&[]);
    assert_eq!(empty.code, 66);
    assert!(empty.err.contains("There is no file in"), "{}", empty.err);
    fs::create_dir(scratch.drive().join("folder")).expect("a new folder");
    scratch.write(".DS_Store", b"x");
    let empty = scratch.scan(&[]);
    assert!(empty.err.contains("(1 thing passed over)"), "{}", empty.err);
    assert!(!scratch.path("out.jsonl").exists());
    assert_eq!(
        scratch
            .run(&["scan", "nowhere", "--drive", "H", "--out", "o"])
            .code,
        66
    );
    scratch.write("file", b"x");
    let file = scratch.run(&["scan", "drive/file", "--drive", "H", "--out", "o"]);
    assert_eq!(file.code, 66);
    assert!(file.err.contains("not a folder"), "{}", file.err);
}

#[test]
fn what_an_address_lacks_in_front_is_said() {
    let scratch = Scratch::new();
    for (typed, said) in [
        ("localhost:8877", "did you mean http://localhost:8877?"),
        ("127.0.0.1:8877", "did you mean http://127.0.0.1:8877?"),
        (
            "waybill.example.org:8443",
            "did you mean https://waybill.example.org:8443?",
        ),
        (
            "waybill.example.org",
            "did you mean https://waybill.example.org?",
        ),
        ("192.168.1.20:80", "did you mean https://192.168.1.20:80?"),
        ("ftp://waybill.example.org", "not with ftp://"),
        ("http://", "no address of a server"),
        ("", "no address of a server"),
    ] {
        let refused = scratch.run(&["sign-in", "--to", typed]);
        assert_eq!(refused.code, 64, "{typed}: {}", refused.err);
        assert!(refused.err.contains(said), "{typed}: {}", refused.err);
    }
    let mut of_environment = scratch.command(&["verify", ".", "--drive", "H", "--series", "S"]);
    of_environment.env("WAYBILL_SERVER", "localhost:8877");
    let refused = ended(of_environment.output().expect("it starts"));
    assert_eq!(refused.code, 64, "{}", refused.err);
    assert!(
        refused
            .err
            .contains("WAYBILL_SERVER: http:// is missing in front"),
        "{}",
        refused.err
    );
}

#[test]
fn commands_that_make_no_sense_end_with_64() {
    let scratch = Scratch::new();
    scratch.write("a", b"a");
    let commands: [&[&str]; 8] = [
        &[],
        &["scan"],
        &["scan", "drive", "--drive", "H"],
        &["scan", "drive", "--drive", "", "--out", "o"],
        &[
            "scan", "drive", "--drive", "H", "--out", "o", "--hash", "crc32",
        ],
        &[
            "scan",
            "drive",
            "--drive",
            "H",
            "--out",
            "o",
            "--roll-pattern",
            "{reel}",
        ],
        &[
            "scan",
            "drive",
            "--drive",
            "H",
            "--to",
            "http://localhost:1",
        ],
        &["try", "tides", "drive/a"],
    ];
    for command in commands {
        let run = scratch.run(command);
        assert_eq!(run.code, 64, "{command:?}: {}", run.err);
        assert!(!run.err.is_empty(), "{command:?}");
    }
    assert_eq!(scratch.run(&["--help"]).code, 0);
    assert!(scratch.run(&["scan", "--help"]).out.contains("--drive"));
    assert!(scratch.run(&["--help"]).out.contains("Exit codes"));
}

#[cfg(target_os = "linux")]
#[test]
fn a_name_that_is_not_text_is_listed_and_the_rest_is_read() {
    use std::os::unix::ffi::OsStrExt;
    let scratch = Scratch::new();
    scratch.write(std::ffi::OsStr::from_bytes(b"bad\xff\n.mov"), b"x");
    scratch.write("good \u{fffd}.mov", b"x");
    let scan = scratch.scan(&[]);
    assert_eq!(scan.code, 2, "{}", scan.err);
    assert!(
        scan.err
            .contains("bad\\xff\\n.mov: the name is not Unicode text"),
        "{}",
        scan.err
    );
    let manifest = scratch.manifest();
    assert_eq!(
        manifest.files.keys().collect::<Vec<_>>(),
        ["good \u{fffd}.mov"]
    );
    assert_eq!(manifest.skipped[0]["reason"], "name");
}

/// Root may read everything, so the program is run as nobody then; where that cannot be, nothing is tested.
#[cfg(unix)]
#[test]
fn unreadable_files_and_folders_are_listed_and_do_not_stop_the_run() {
    use std::os::unix::fs::PermissionsExt;
    let scratch = Scratch::new();
    let set = |path: &std::path::Path, mode| {
        fs::set_permissions(path, fs::Permissions::from_mode(mode)).expect("ours");
    };
    set(&scratch.write("b.mov", b"x"), 0o000);
    scratch.write("a.mov", b"x");
    scratch.write("z.mov", b"x");
    scratch.write("locked/c.mov", b"x");
    set(&scratch.drive().join("locked"), 0o000);
    set(scratch.folder.path(), 0o777);
    let args = ["scan", "drive", "--drive", "H", "--out", "out.jsonl"];
    let is_root = fs::read(scratch.drive().join("b.mov")).is_ok();
    let mut command = scratch.command(&args);
    if is_root {
        let program = command.get_program().to_owned();
        command = Command::new("setpriv");
        command
            .args(["--reuid=65534", "--regid=65534", "--clear-groups"])
            .arg(program)
            .args(args);
        command
            .current_dir(scratch.folder.path())
            .env("HOME", scratch.folder.path());
    }
    let Ok(output) = command.output() else { return };
    let scan = ended(output);
    if scan.code == 127 || scan.err.starts_with("setpriv:") {
        return;
    }
    assert_eq!(scan.code, 2, "{}", scan.err);
    assert!(
        scan.err.contains("b.mov: Permission denied"),
        "{}",
        scan.err
    );
    assert!(scan.err.contains("locked: "), "{}", scan.err);
    assert!(
        scan.out.contains("2 things could not be read"),
        "{}",
        scan.out
    );
    assert_eq!(
        scratch.manifest().files.keys().collect::<Vec<_>>(),
        ["a.mov", "z.mov"]
    );
    set(&scratch.drive().join("locked"), 0o700);
}

#[test]
fn a_file_that_keeps_changing_is_not_taken() {
    let scratch = Scratch::new();
    scratch.write_sparse("growing", 300 << 20);
    let path = scratch.drive().join("growing");
    let done = AtomicBool::new(false);
    thread::scope(|scope| {
        scope.spawn(|| {
            let mut file = fs::File::options()
                .append(true)
                .open(&path)
                .expect("it is there");
            while !done.load(Ordering::Relaxed) {
                file.write_all(b"more").expect("room");
                thread::sleep(std::time::Duration::from_millis(1));
            }
        });
        let scan = scratch.scan(&[]);
        done.store(true, Ordering::Relaxed);
        assert_eq!(scan.code, 2, "{}", scan.err);
        assert!(scan.err.contains("kept changing"), "{}", scan.err);
    });
    assert_eq!(scratch.manifest().skipped[0]["reason"], "unstable");
}

#[test]
fn output_that_cannot_be_written_leaves_nothing_behind() {
    let scratch = Scratch::new();
    scratch.write("a", b"a");
    let run = scratch.run(&[
        "scan",
        "drive",
        "--drive",
        "H",
        "--out",
        "no/such/folder/out",
    ]);
    assert_eq!(run.code, 73, "{}", run.err);
    assert_eq!(
        fs::read_dir(scratch.drive()).expect("it is there").count(),
        1
    );
}

#[test]
fn a_reader_that_goes_away_is_a_quiet_end() {
    let scratch = Scratch::new();
    let file = crate::support::sample("media/clip_2997_df.mov");
    let mut command = scratch.command(&["try", "media", file.to_str().expect("text")]);
    let mut child = command
        .stdout(Stdio::piped())
        .stderr(Stdio::piped())
        .spawn()
        .expect("it starts");
    drop(child.stdout.take());
    let run = ended(child.wait_with_output().expect("it was started"));
    assert_eq!(run.err, "");
}
