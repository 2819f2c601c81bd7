//! Lists that no outside sample holds: bad input, keys, reverse, midnight, round trips. The samples
//! themselves are compared in `tests/outside`.
#![expect(clippy::unwrap_used, reason = "tests")]

use proptest::prelude::*;

use super::*;
use crate::timeline::{EventKind, Timeline};

fn rate(name: &str) -> Rate {
    name.parse().unwrap()
}

fn list(rate_name: &str, text: &str) -> List {
    read(text, rate(rate_name)).unwrap()
}

fn error(rate_name: &str, text: &str) -> TimelineError {
    read(text, rate(rate_name)).unwrap_err()
}

/// Start, end and reason of everything used.
fn used(list: &List) -> Vec<(i64, i64, String)> {
    let used = list.used().into_iter();
    used.map(|one| (one.start, one.end, one.why)).collect()
}

fn texts(cut: &Timeline) -> String {
    let lines = cut.warnings.iter().map(|w| format!("{}: {}", w.at, w.text));
    lines.collect::<Vec<_>>().join("\n")
}

const TWO: &str = "TITLE: T\n\
    001  A001 V C 01:00:00:00 01:00:02:00 10:00:00:00 10:00:02:00\n\
    002  A002 V C 02:00:00:00 02:00:01:00 10:00:02:00 10:00:03:00\n";

#[test]
fn what_is_no_list_is_refused_with_its_first_line() {
    let found = error("25", "\nDear all,\nthe cut is late.\n");
    let text = "Dear all,".to_owned();
    assert_eq!(found, TimelineError::NotAList { line: 2, text });
    assert_eq!(error("25", "TITLE: T\n\n"), TimelineError::NoEvents);
}

#[test]
fn a_list_that_breaks_off_is_refused() {
    let whole = TWO.trim_end();
    for cut in [1, 12, 36] {
        let short = whole.get(..whole.len() - cut).unwrap();
        let event = "002".to_owned();
        assert_eq!(
            error("25", short),
            TimelineError::CutShort { line: 3, event }
        );
    }
}

#[test]
fn a_damaged_event_is_never_dropped() {
    let text = TWO.replace("01:00:02:00 10:00:00:00", "01:00:02:00");
    assert!(matches!(
        error("25", &text),
        TimelineError::DamagedEvent { line: 2, .. }
    ));
    let text = TWO.replace("02:00:01:00", "02:00:61:00");
    assert!(matches!(
        error("25", &text),
        TimelineError::Timecode { line: 3, .. }
    ));
}

#[test]
fn a_frame_number_disproves_the_rate() {
    let text = TWO.replace("02:00:01:00", "02:00:01:27");
    let found = error("25", &text);
    let TimelineError::WrongRate { line: 3, fits, .. } = &found else {
        panic!("{found}");
    };
    assert_eq!(fits, "29.97 or 30");
    assert!(found.to_string().contains("02:00:01:27"));
    assert!(read(&text, rate("30")).is_ok());
}

#[test]
fn what_does_not_fit_together_is_reported() {
    let text = format!("FCM: DROP FRAME\n{TWO}").replace("V C 02:00:00:00", "V D 010 02:00:00:10");
    let cut = list(
        "25",
        &text.replace("10:00:02:00 10:00:03", "10:00:02:05 10:00:03"),
    )
    .timeline();
    let texts = texts(&cut);
    assert!(texts.contains("line 1: Written as drop-frame"), "{texts}");
    assert!(
        texts.contains("line 4: Source and record length differ (15 and 20 frames)"),
        "{texts}"
    );
    assert!(
        texts.contains("line 4: No event is found that this transition comes from"),
        "{texts}"
    );
}

#[test]
fn events_out_of_order_are_put_in_order_and_reported() {
    let mut lines: Vec<&str> = TWO.lines().collect();
    lines.swap(1, 2);
    let cut = list("25", &lines.join("\r")).timeline();
    let order: Vec<&str> = cut
        .events
        .iter()
        .map(|event| event.event.as_str())
        .collect();
    assert_eq!(order, ["001", "002"]);
    assert!(texts(&cut).contains("line 3: Events are not in record order"));
    assert_eq!((cut.start, cut.duration), (900_000, 75));
}

#[test]
fn lines_that_are_not_understood_are_kept_and_reported() {
    let text = format!("{TWO}SPLIT: AUDIO DELAY= 00:00:00:05\n12 of these are late\n\u{1a}");
    let list = list("25", &text);
    assert_eq!(list.not_understood.len(), 2);
    let comments = &list.edits.last().unwrap().comments;
    assert_eq!(
        comments,
        &["SPLIT: AUDIO DELAY= 00:00:00:05", "12 of these are late"]
    );
    assert!(texts(&list.timeline()).contains("line 4"));
}

#[test]
fn both_sides_of_a_key_are_used_for_the_whole_event() {
    let list = list(
        "25",
        "001  A001 V K B     01:00:00:00 01:00:04:00 10:00:00:00 10:00:04:00\n\
         * FROM CLIP NAME: harbour\n\
         001  A002 V K   000 02:00:00:00 02:00:04:00 10:00:00:00 10:00:04:00\n\
         * TO CLIP NAME: caption\n",
    );
    assert_eq!(
        used(&list),
        [
            (90_000, 90_100, "key background".to_owned()),
            (180_000, 180_100, "key foreground".to_owned())
        ]
    );
    let cut = list.timeline();
    let clips: Vec<&str> = cut.events.iter().map(|event| event.clip.as_str()).collect();
    assert_eq!(clips, ["harbour", "caption"]);
    assert!(cut.events.iter().all(|event| event.kind == EventKind::Key));
}

#[test]
fn reverse_counts_both_directions() {
    let list = list(
        "25",
        "001  A001 V C 01:00:01:00 01:00:02:00 10:00:00:00 10:00:01:00\n\
         M2   A001       -025.0                01:00:01:00\n",
    );
    let [(start, end, why)] = used(&list).try_into().unwrap();
    assert_eq!((start, end), (90_001, 90_050));
    assert!(why.starts_with("speed -025.0 frames/s"));
    let speed = list.timeline().events.first().unwrap().speed.clone();
    assert_eq!(speed.as_deref(), Some("-100 %"));
}

#[test]
fn speed_lines_of_a_pair_find_their_sides() {
    let list = list(
        "25",
        "001  A001 V C     01:00:00:00 01:00:00:00 10:00:00:00 10:00:00:00\n\
         001  A002 V D 010 02:00:00:00 02:00:01:00 10:00:00:00 10:00:01:00\n\
         M2   A001  050.0 01:00:00:00\n\
         M2   A002  025.0 02:00:00:00\n",
    );
    let lengths: Vec<i64> = list.used().iter().map(|one| one.frames).collect();
    assert_eq!(lengths, [20, 25]);
}

#[test]
fn a_lone_dissolve_takes_its_outgoing_side_from_the_edit_before() {
    let list = list(
        "25",
        "001  A001 V C     01:00:00:00 01:00:02:00 10:00:00:00 10:00:02:00\n\
         002  A002 V D 010 02:00:00:00 02:00:01:00 10:00:02:00 10:00:03:00\n",
    );
    let ends: Vec<i64> = list.used().iter().map(|one| one.end).collect();
    assert_eq!(ends, [90_060, 180_025]);
}

#[test]
fn a_fade_from_black_names_its_only_clip() {
    let list = list(
        "25",
        "001  BL   V C     00:00:00:00 00:00:00:00 10:00:00:00 10:00:00:00\n\
         001  A002 V D 012 02:00:00:00 02:00:01:00 10:00:00:00 10:00:01:00\n\
         * FROM CLIP NAME: dawn\n",
    );
    let clips: Vec<_> = list.used().into_iter().map(|one| one.clip).collect();
    assert_eq!(clips, [Some("dawn".to_owned())]);
}

#[test]
fn a_list_may_pass_midnight() {
    let cut = list(
        "25",
        "001  A001 V C 23:59:59:00 00:00:01:00 23:59:59:00 00:00:01:00\n\
         002  A002 V C 02:00:00:00 02:00:01:00 00:00:01:00 00:00:02:00\n",
    )
    .timeline();
    assert_eq!(cut.duration, 75);
    let positions: Vec<&str> = cut
        .events
        .iter()
        .map(|event| event.event.as_str())
        .collect();
    assert_eq!(positions, ["001", "002"]);
}

#[test]
fn contradictions_about_drop_frame_are_reported() {
    let cut = list(
        "29.97",
        "FCM: NON-DROP FRAME\n\
         001  A001 V C 01:00:00;00 01:00:01;00 01:00:00;00 01:00:01;00\n\
         FCM: DROP FRAME\n\
         002  A002 V C 00:01:00:00 00:01:01:00 01:00:01:00 01:00:02:00\n",
    )
    .timeline();
    let texts = texts(&cut);
    assert!(texts.contains("line 2: The list says non-drop"), "{texts}");
    assert!(
        texts.contains("line 4: \"00:01:00:00\" does not exist"),
        "{texts}"
    );
    // 00:01:00;00 was read as ;02, which is frame 1800
    let second = cut.events.last().unwrap().source.unwrap();
    assert_eq!((second.start, second.rate), (1800, rate("29.97df")));
}

/// Reel, source in, length and record in of one edit.
fn edits() -> impl Strategy<Value = Vec<(String, i64, i64, i64)>> {
    let reel = "[A-Z][A-Z0-9_. ]{0,30}[A-Z0-9]";
    let edit = (reel, 0_i64..2_000_000, 1_i64..5_000, 0_i64..2_000_000);
    proptest::collection::vec(edit, 1..20)
}

fn rate_names() -> impl Strategy<Value = &'static str> {
    proptest::sample::select(vec!["24", "25", "29.97df", "50", "59.94df"])
}

proptest! {
    #[test]
    fn a_written_list_is_read_back(edits in edits(), name in rate_names()) {
        let rate = rate(name);
        let line = |(number, (reel, source, length, record)): (usize, &(String, i64, i64, i64))| {
            let ends = [*source, source + length, *record, record + length];
            let ends = ends.map(|frame| rate.label(frame)).join(" ");
            format!("{number:03}  {reel}  V     C        {ends}\n")
        };
        let text: String = (1..).zip(&edits).map(line).collect();
        let list = read(&text, rate).unwrap();
        prop_assert_eq!(list.edits.len(), edits.len());
        for (read, (reel, source, length, record)) in list.edits.iter().zip(&edits) {
            let words: Vec<&str> = reel.split_whitespace().collect();
            prop_assert_eq!(&read.fields.reel, &words.join(" "));
            let frames = read.frames;
            prop_assert_eq!(frames.source_in, source % rate.frames_per_day());
            prop_assert_eq!((frames.source_len(), frames.record_len()), (*length, *length));
            prop_assert_eq!(frames.record_in, record % rate.frames_per_day());
        }
    }

    #[test]
    fn no_text_makes_the_reader_panic(
        text in "(([0-9]{1,3}|M2|AUD|FCM:|\\*|K|B|D|C|-?[0-9.]{1,4}|0[0-9]:0[0-9]:0[0-9][:;]0[0-9]|\\PC)[ \n]){0,60}"
    ) {
        if let Ok(list) = read(&text, rate("29.97")) {
            prop_assert_eq!(list.timeline().events.len(), list.edits.len());
            drop(list.model());
        }
    }
}
