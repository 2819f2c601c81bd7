//! Sending to a server that answers as the contract says, sometimes late, sometimes not at all.

use std::io::Write;

use serde_json::json;

use crate::server::{SERIES, Server};
use crate::support::{Ended, Scratch};

fn send(scratch: &Scratch, server: &Server, token: &str) -> Ended {
    let args = [
        "scan",
        "drive",
        "--drive",
        "H",
        "--to",
        &server.url,
        "--series",
        "harbour rowing",
    ];
    let mut command = scratch.command(&args);
    crate::support::ended(
        command
            .env("WAYBILL_TOKEN", token)
            .output()
            .expect("it starts"),
    )
}

#[test]
fn a_scan_arrives_in_chunks_and_again_in_none() {
    let (scratch, server) = (Scratch::new(), Server::start());
    for number in 0..2_500 {
        scratch.write(
            format!("A001_260314/{number:04}"),
            number.to_string().as_bytes(),
        );
    }
    let first = send(&scratch, &server, "sesame");
    assert_eq!(first.code, 0, "{}", first.err);
    assert!(
        first.out.contains("Sent: 2,500 new to the series"),
        "{}",
        first.out
    );
    {
        let scans = server.scans.lock().expect("no panic");
        assert_eq!(
            scans
                .chunks
                .values()
                .map(|(_, f)| f.len())
                .collect::<Vec<_>>(),
            [2_000, 500]
        );
        assert_eq!(
            (&scans.start["drive"], &scans.start["root"]),
            (&json!("H"), &json!("drive"))
        );
        let (_, files) = &scans.chunks[&1];
        assert_eq!(
            files[0].roll.as_ref().map(|roll| roll.card.as_str()),
            Some("A001")
        );
    }
    let sent = || {
        let scans = server.scans.lock().expect("no panic");
        let asked = scans.requests.iter();
        asked.filter(|asked| asked.starts_with("PUT")).count()
    };
    // the second is on its way beside the first; where it comes before it, it comes again
    let chunks = sent();
    assert!((2..=3).contains(&chunks), "{chunks}");
    let second = send(&scratch, &server, "sesame");
    assert!(
        second.out.contains("already has this scan"),
        "{}",
        second.out
    );
    assert_eq!(sent(), chunks);
}

#[test]
fn a_busy_server_is_asked_again_and_chunks_that_it_has_are_not_sent() {
    let (scratch, server) = (Scratch::new(), Server::start());
    for number in 0..2_001 {
        scratch.write(format!("{number:04}"), b"");
    }
    // a dropped connection, then two refusals, spread over the first requests
    server.trouble(&[503, 0]);
    let sent = send(&scratch, &server, "sesame");
    assert_eq!(sent.code, 0, "{}", sent.err);
    // what is waited for is said, and a wait that the server asks for is kept
    let dropped = sent.err.find("does not answer: ").expect("the first");
    let busy = "The server says: Too busy. It is asked again in 2 seconds.";
    assert!(
        sent.err.find(busy).is_some_and(|at| at > dropped),
        "{}",
        sent.err
    );
    assert!(
        sent.err[dropped..].contains("It is asked again in 1 second."),
        "{}",
        sent.err
    );
    // the server lost the second chunk before it was complete
    {
        let mut scans = server.scans.lock().expect("no panic");
        scans.complete = false;
        scans.chunks.remove(&1);
        scans.requests.clear();
    }
    assert_eq!(send(&scratch, &server, "sesame").code, 0);
    let scans = server.scans.lock().expect("no panic");
    let puts: Vec<_> = scans
        .requests
        .iter()
        .filter(|r| r.starts_with("PUT"))
        .collect();
    assert!(
        matches!(puts.as_slice(), [one] if one.contains("/chunks/1?")),
        "{puts:?}"
    );
}

#[test]
fn a_chunk_that_overtakes_the_one_before_is_sent_again_after_it() {
    let (scratch, server) = (Scratch::new(), Server::start());
    for number in 0..4_001 {
        scratch.write(format!("{number:04}"), number.to_string().as_bytes());
    }
    // the series is asked for twice, the scan begun, and then the first chunk refused once
    server.trouble(&[503, 1, 1, 1]);
    let sent = send(&scratch, &server, "sesame");
    assert_eq!(sent.code, 0, "{}", sent.err);
    let scans = server.scans.lock().expect("no panic");
    let counts = scans.chunks.values().map(|(_, files)| files.len());
    assert_eq!(counts.collect::<Vec<_>>(), [2_000, 2_000, 1]);
    let second = |request: &&String| request.contains("/chunks/1?");
    let (times, asked) = (
        scans.requests.iter().filter(second).count(),
        &scans.requests,
    );
    assert_eq!(times, 2, "{asked:?}");
    assert!(scans.complete);
}

#[test]
fn a_server_that_stays_busy_loses_nothing() {
    let (scratch, server) = (Scratch::new(), Server::start());
    scratch.write("a", b"a");
    // the series is told twice, and then everything is refused: six tries
    server.trouble(&[503, 503, 503, 503, 503, 503, 1, 1]);
    let refused = send(&scratch, &server, "sesame");
    assert_eq!(refused.code, 69, "{}", refused.err);
    let last = refused.err.trim_end().lines().last().expect("a line");
    assert_eq!(
        last,
        "waybill: The server says: Too busy. What was read is kept; the same command sends it."
    );
    assert!(server.scans.lock().expect("no panic").chunks.is_empty());
    let sent = send(&scratch, &server, "sesame");
    assert_eq!(sent.code, 0, "{}", sent.err);
    assert!(sent.out.contains("Sent: 1 new"), "{}", sent.out);
    assert_eq!(server.scans.lock().expect("no panic").chunks.len(), 1);
}

#[test]
fn a_refusal_is_a_sentence_and_an_exit_code() {
    let (scratch, server) = (Scratch::new(), Server::start());
    scratch.write("a", b"a");
    let refused = send(&scratch, &server, "wrong");
    assert_eq!(refused.code, 77);
    assert_eq!(refused.err, "waybill: The server says: Sign in first.\n");
    let args = [
        "scan",
        "drive",
        "--drive",
        "H",
        "--to",
        &server.url,
        "--series",
        "x",
    ];
    let not_signed_in = scratch.run(&args);
    assert_eq!(not_signed_in.code, 77);
    assert!(
        not_signed_in.err.contains("waybill sign-in --to"),
        "{}",
        not_signed_in.err
    );
    let unknown = crate::support::ended(
        scratch
            .command(&args)
            .env("WAYBILL_TOKEN", "sesame")
            .output()
            .expect("it starts"),
    );
    assert_eq!(
        (unknown.code, unknown.err.as_str()),
        (66, "waybill: There is no series \"x\".\n")
    );
}

#[test]
fn cuts_are_sent_and_reports_are_fetched() {
    let (scratch, server) = (Scratch::new(), Server::start());
    std::fs::write(scratch.path("rough.edl"), "TITLE: X\n").expect("room");
    let place = ["--to", &server.url, "--series", SERIES];
    let run = |args: &[&str]| {
        let mut command = scratch.command(&[args, &place[..]].concat());
        crate::support::ended(
            command
                .env("WAYBILL_TOKEN", "sesame")
                .output()
                .expect("it starts"),
        )
    };
    let cut = run(&["cut", "send", "rough.edl", "--episode", "2"]);
    assert_eq!(cut.code, 0, "{}", cut.err);
    assert_eq!(
        (cut.out.as_str(), cut.err.as_str()),
        (
            "Cut \"rough\" is on the server: unknown 1.\n",
            "Mixed counts\n",
        )
    );
    let report = run(&["report", "ebb", "--format", "csv", "--out", "report.csv"]);
    assert_eq!(report.code, 0, "{}", report.err);
    assert_eq!(
        std::fs::read_to_string(scratch.path("report.csv")).expect("it is there"),
        "\"a,b\""
    );
}

#[cfg(unix)]
#[test]
fn a_kept_token_can_be_read_by_its_owner_only() {
    use std::os::unix::fs::PermissionsExt;
    use std::process::Stdio;
    let (scratch, server) = (Scratch::new(), Server::start());
    let file = scratch.path(".config/waybill/tokens.json");
    let sign_in = |more: &[&str], typed: &str| {
        let mut command = scratch.command(&[&["sign-in", "--to", &server.url], more].concat());
        command
            .stdin(Stdio::piped())
            .stdout(Stdio::piped())
            .stderr(Stdio::piped());
        let mut child = command.spawn().expect("it starts");
        child
            .stdin
            .take()
            .expect("piped")
            .write_all(typed.as_bytes())
            .expect("it reads");
        crate::support::ended(child.wait_with_output().expect("it was started"))
    };
    let refused = sign_in(&["--token-stdin"], "guess\n");
    assert_eq!(refused.code, 77, "{}", refused.err);
    let wrong = sign_in(&[], "ada@example.org\noars and tide\n");
    assert_eq!(wrong.code, 77, "{}", wrong.err);
    assert!(wrong.err.contains("the password is wrong"), "{}", wrong.err);
    assert!(!file.exists(), "a token that does not work is not kept");
    let signed_in = sign_in(
        &["--label", "Ada's laptop"],
        "ada@example.org\noars and tides\n",
    );
    assert_eq!(signed_in.code, 0, "{}", signed_in.err);
    assert!(
        signed_in.out.starts_with("Signed in as Ada Wren."),
        "{}",
        signed_in.out
    );
    let mode = std::fs::metadata(&file)
        .expect("it is kept")
        .permissions()
        .mode();
    assert_eq!(mode & 0o777, 0o600);
    std::fs::set_permissions(&file, PermissionsExt::from_mode(0o644)).expect("ours");
    scratch.write("a", b"a");
    let args = [
        "scan",
        "drive",
        "--drive",
        "H",
        "--to",
        &server.url,
        "--series",
        SERIES,
    ];
    let open = scratch.run(&args);
    assert_eq!(open.code, 77);
    assert!(open.err.contains("chmod 600"), "{}", open.err);
    std::fs::set_permissions(&file, PermissionsExt::from_mode(0o600)).expect("ours");
    assert_eq!(scratch.run(&args).code, 0);
}
