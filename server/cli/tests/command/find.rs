//! Looking for files of the catalogue: what is asked of the server, and what is said when nothing is there.

use crate::server::Server;
use crate::support::{Ended, Scratch, ended};

fn find(scratch: &Scratch, server: &Server, more: &[&str]) -> Ended {
    let place = ["--to", &server.url, "--series", "Harbour Rowing"];
    let mut command = scratch.command(&[&["find"][..], &place, more].concat());
    command.env("WAYBILL_TOKEN", "sesame");
    ended(command.output().expect("it starts"))
}

#[test]
fn people_are_named_as_they_are_called() {
    let (scratch, server) = (Scratch::new(), Server::start());
    let together = [
        "--person",
        "ada q.",
        "--person",
        "Ben Sand",
        "--on",
        "2028-03-09",
    ];
    let found = find(&scratch, &server, &together);
    assert_eq!((found.code, found.err.trim()), (1, "No file fits."));
    let asked = server.scans.lock().expect("no panic").requests.join("\n");
    let files = asked
        .lines()
        .find(|line| line.contains("/files?"))
        .expect("a question");
    assert!(
        files.contains("person=p1%2Cp2") && files.contains("on=2028-03-09"),
        "{files}"
    );
    let nobody = find(&scratch, &server, &["--person", "Cleo"]);
    assert_eq!(nobody.code, 66, "{}", nobody.err);
    assert!(
        nobody.err.contains("There is no person \"Cleo\""),
        "{}",
        nobody.err
    );
}

#[test]
fn a_day_that_is_none_is_not_sent() {
    let (scratch, server) = (Scratch::new(), Server::start());
    for day in ["9 March", "2028-02-30"] {
        let refused = find(&scratch, &server, &["--on", day]);
        assert_eq!(refused.code, 64, "{}", refused.err);
        assert!(refused.err.contains("--on"), "{}", refused.err);
    }
    assert!(server.scans.lock().expect("no panic").requests.is_empty());
}

#[test]
fn a_digest_that_is_none_is_not_sent() {
    let (scratch, server) = (Scratch::new(), Server::start());
    for hash in ["", "A001", "d41d8cd98f00b204e9800998ecf8427", "c4abc"] {
        let refused = find(&scratch, &server, &["--hash", hash]);
        assert_eq!(refused.code, 64, "{}", refused.err);
        let said = ["--hash", "no digest", "32 (xxh128, md5)"];
        assert!(
            said.iter().all(|word| refused.err.contains(word)),
            "{}",
            refused.err
        );
    }
    assert!(server.scans.lock().expect("no panic").requests.is_empty());
}

#[test]
fn every_option_is_explained() {
    let scratch = Scratch::new();
    let commands: [&[&str]; 12] = [
        &["scan"],
        &["copy"],
        &["copy", "send"],
        &["verify"],
        &["list", "make"],
        &["list", "plain"],
        &["list", "gather"],
        &["list", "show"],
        &["find"],
        &["cut", "send"],
        &["report"],
        &["sign-in"],
    ];
    for command in commands {
        let help = scratch.run(&[command, &["-h"][..]].concat());
        assert_eq!(help.code, 0, "{}", help.err);
        for line in help.out.lines().filter(|line| line.trim().starts_with('-')) {
            let words = line.trim().split_once("  ").map_or("", |(_, words)| words);
            assert!(!words.trim().is_empty(), "{command:?}: {line}");
        }
    }
}
