//! Made by hand after the order of evidence in the module's head and rulebook 1 and 7.13: unknown
//! is never a yes. Reels that many clips share: notes on published lists (`screening_example`).

use super::*;

fn id(n: u128) -> Uuid {
    Uuid::from_u128(n)
}

fn tc(start: &str, frames: i64) -> Option<FileTimecode> {
    let rate = "25".parse::<crate::timecode::Rate>().expect("a rate");
    let start = rate.frame(start).expect("a label");
    Some(FileTimecode {
        rate,
        start,
        frames,
    })
}

fn file(n: u128, name: &str, reel: &str, timecode: Option<FileTimecode>) -> CataloguedFile {
    CataloguedFile {
        id: id(n),
        name: name.into(),
        card: format!("card {n}"),
        reels: vec![reel.into()],
        picture: !name.ends_with(".wav"),
        timecode,
    }
}

fn event(reel: &str, clip: &str, from: &str, frames: i64) -> Sought {
    let rate = "25".parse::<crate::timecode::Rate>().expect("a rate");
    let start = rate.frame(from).expect("a label");
    let end = start + frames;
    Sought {
        kind: EventKind::Cut,
        enabled: true,
        picture: true,
        reel: reel.into(),
        clip: clip.into(),
        source_name: String::new(),
        source: Some(SourceRange { start, end, rate }),
    }
}

fn catalogue() -> Catalogue {
    let files = vec![
        file(1, "A003C001.mov", "A003", tc("10:00:00:00", 500)),
        file(2, "A003C002.mov", "A003", tc("10:05:00:00", 500)),
        file(3, "C0001.MP4", "", tc("09:00:00:00", 250)),
        file(4, "C0001.MP4", "", tc("14:00:00:00", 250)),
        file(5, "phone.mov", "", None),
        file(6, "newsreel.mov", "", None),
        file(7, "S01T02.wav", "A003", tc("10:00:00:00", 500)),
    ];
    let items = vec![
        CataloguedItem {
            item: Item::Asset(id(20)),
            title: "Harbour newsreel".into(),
            names: vec!["Newsreel.MOV".into()],
        },
        CataloguedItem {
            item: Item::Music(id(21)),
            title: "Slack Water".into(),
            names: vec!["GBXXX2900001".into()],
        },
    ];
    Catalogue::new(files, items, HashMap::new())
}

#[test]
fn reel_and_timecode_find_the_file_and_its_frames() {
    let found = catalogue().find(&event("a003", "", "10:00:02:00", 100));
    assert_eq!(found.uses, Uses::File(id(1)));
    assert_eq!(found.frames, Some((50, 150)));
    assert_eq!(found.how, "reel a003 and source timecode");
}

#[test]
fn a_picture_is_never_taken_from_a_sound_file() {
    let mut sought = event("A003", "", "10:00:02:00", 100);
    assert_eq!(catalogue().find(&sought).uses, Uses::File(id(1)));
    sought.picture = false;
    let found = catalogue().find(&sought);
    assert_eq!(found.uses, Uses::Unknown, "both fit a sound event");
    sought.clip = "S01T02".into();
    assert_eq!(catalogue().find(&sought).uses, Uses::File(id(7)));
}

#[test]
fn evidence_against_itself_is_unknown() {
    let found = catalogue().find(&event("A003", "phone.mov", "10:00:02:00", 100));
    assert_eq!(found.uses, Uses::Unknown);
    assert!(found.how.contains("A003C001.mov") && found.how.contains("phone.mov"));
    let late = catalogue().find(&event("A003", "A003C002", "18:00:00:00", 10));
    assert_eq!(late.uses, Uses::Unknown, "{}", late.how);
    assert!(late.how.contains("not this timecode"), "{}", late.how);
}

#[test]
fn names_that_several_files_have_need_the_timecode() {
    let found = catalogue().find(&event("AX", "c0001.mp4", "14:00:01:00", 50));
    assert_eq!(
        (found.uses, found.frames),
        (Uses::File(id(4)), Some((25, 75)))
    );
    let found = catalogue().find(&event("AX", "C0001", "20:00:00:00", 50));
    assert_eq!(found.uses, Uses::Unknown);
    assert_eq!(
        found.how,
        "Several files fit: C0001.MP4 on card card 3 and C0001.MP4 on card card 4; choose one."
    );
}

#[test]
fn a_file_without_timecode_counts_whole() {
    let mut sought = event("AX", "", "00:00:10:00", 50);
    sought.source_name = "file:///Volumes/D1/Phone.MOV".into();
    let found = catalogue().find(&sought);
    assert_eq!((found.uses, found.frames), (Uses::File(id(5)), None));
    assert!(found.how.contains("all of it counts"));
}

#[test]
fn imports_and_music_are_found_by_their_names() {
    let all = catalogue();
    let newsreel = all.find(&event("AX", "newsreel", "00:00:00:00", 50));
    assert_eq!(newsreel.uses, Uses::Item(Item::Asset(id(20)), Some(id(6))));
    for name in ["slack water", "gbxxx2900001.wav"] {
        let song = all.find(&event("AX", name, "00:00:00:00", 50));
        assert_eq!(song.uses, Uses::Item(Item::Music(id(21)), None), "{name}");
    }
}

#[test]
fn a_choice_by_hand_is_met_again_and_comes_first() {
    let mut all = catalogue();
    let sought = event("A003", "Wide of the slip", "10:00:02:00", 100);
    let key = key(&sought).expect("a key");
    assert_eq!(key, "a003|wide of the slip");
    all.remembered.insert(key, Target::File(id(2)));
    let found = all.find(&sought);
    assert_eq!(found.uses, Uses::File(id(2)));
    assert!(found.how.starts_with("chosen by hand"));
    assert_eq!(found.frames, None, "its timecode does not hold the range");
}

#[test]
fn keys_never_rest_on_a_shared_reel_alone() {
    let mut sought = event("AX", "", "10:00:02:00", 100);
    assert_eq!(key(&sought).as_deref(), Some("ax|@900050"));
    sought.source = None;
    assert_eq!(key(&sought), None);
}

#[test]
fn black_and_what_is_switched_off_use_nothing() {
    let all = catalogue();
    assert_eq!(
        all.find(&event("BL", "", "00:00:00:00", 9)).uses,
        Uses::Nothing
    );
    let mut off = event("A003", "", "10:00:02:00", 100);
    off.enabled = false;
    assert_eq!(all.find(&off).how, "switched off in the cut");
}

#[test]
fn nothing_that_fits_is_said_with_what_was_looked_for() {
    let found = catalogue().find(&event("B007", "B007C001", "01:00:00:00", 9));
    assert_eq!(found.uses, Uses::Unknown);
    assert_eq!(
        found.how,
        "Nothing in the catalogue fits reel B007, “B007C001” and timecode 01:00:00:00."
    );
}

/// Labels, not frame numbers, are compared where the rates differ; SMPTE ST 12-1 counting.
#[test]
fn a_list_at_another_rate_finds_the_same_label() {
    let file = tc("10:00:00:00", 500).expect("one");
    let rate = "50".parse::<crate::timecode::Rate>().expect("a rate");
    let start = rate.frame("10:00:02:10").expect("a label");
    let end = rate.frame("10:00:04:01").expect("a label");
    assert_eq!(
        file.place_of(SourceRange { start, end, rate }),
        Some((55, 101))
    );
}

#[test]
fn a_file_may_run_past_midnight() {
    let file = tc("23:59:58:00", 100).expect("one");
    let source = event("", "", "00:00:00:00", 20).source.expect("a range");
    assert_eq!(file.place_of(source), Some((50, 70)));
}
