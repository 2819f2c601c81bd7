//! The script that renames roll folders, run by the shell of this machine.

use std::fs;
use std::path::Path;
use std::process::Command;

use waybill_domain::footage::sequence::{Renaming, script};

fn run(folder: &Path, args: &[&str]) -> (bool, String) {
    let shell = Command::new("sh")
        .arg("../rename-rolls.sh")
        .args(args)
        .current_dir(folder)
        .output();
    let shell = shell.expect("sh is everywhere");
    (
        shell.status.success(),
        String::from_utf8_lossy(&shell.stderr).into_owned(),
    )
}

fn names(folder: &Path) -> Vec<String> {
    let entries = fs::read_dir(folder).expect("a folder");
    let mut names: Vec<String> = entries
        .map(|entry| {
            entry
                .expect("an entry")
                .file_name()
                .into_string()
                .expect("text")
        })
        .collect();
    names.sort();
    names
}

#[test]
fn it_renames_goes_back_and_overwrites_nothing() {
    let place = tempfile::tempdir().expect("a temporary folder");
    let folder = place.path().join("drive");
    let odd = "-rf $(touch x) 'q' `y`";
    for name in [
        "20281403_A004_CAMA_QUAY",
        "20280315_a005_CAMA_QUAY",
        odd,
        "other",
    ] {
        fs::create_dir_all(folder.join(name)).expect("a folder");
        fs::write(folder.join(name).join("C1.mov"), name).expect("a file");
    }
    let change = |old: &str, new: &str| Renaming {
        old: old.into(),
        new: new.into(),
        why: String::new(),
    };
    let all = [
        change("20281403_A004_CAMA_QUAY", "20280314_A004_CAMA_QUAY"),
        change("20280315_a005_CAMA_QUAY", "20280315_A005_CAMA_QUAY"),
        change("not on this drive", "X"),
        change(odd, "ODD"),
    ];
    fs::write(place.path().join("rename-rolls.sh"), script(&all)).expect("a script");
    let before = names(&folder);
    let after = [
        "20280314_A004_CAMA_QUAY",
        "20280315_A005_CAMA_QUAY",
        "ODD",
        "other",
    ];
    for _ in 0..2 {
        assert_eq!(run(&folder, &[]), (true, String::new()));
        assert_eq!(names(&folder), after);
    }
    assert_eq!(
        fs::read_to_string(folder.join("ODD/C1.mov")).expect("there"),
        odd
    );
    assert!(run(&folder, &["back"]).0);
    assert_eq!(names(&folder), before);
    // a name that is taken stops it, and nothing lies inside what was there
    fs::create_dir(folder.join("20280314_A004_CAMA_QUAY")).expect("a folder");
    let (done, says) = run(&folder, &[]);
    assert!(!done && says.contains("There already"), "{says}");
    assert_eq!(names(&folder.join("20280314_A004_CAMA_QUAY")), [""; 0]);
}
