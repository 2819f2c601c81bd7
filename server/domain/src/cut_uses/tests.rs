//! Hand-worked after rulebook 1 and 7.13: unknown is never a yes.

use super::*;

/// Uses in a cut whose imports have nothing inside them.
fn uses(events: &[UsedEvent], files: &HashMap<Uuid, UsedFile>) -> BTreeMap<ElementKey, Vec<Use>> {
    super::uses(events, files, &Contents::new())
}

fn id(n: u128) -> Uuid {
    Uuid::from_u128(n)
}

fn file_event(position: u32, record: Frames, frames: Option<Frames>) -> UsedEvent {
    UsedEvent {
        position,
        record,
        picture: true,
        sound: true,
        source: UsedSource::File { id: id(1), frames },
        plain_speed: true,
    }
}

fn line(range: Option<Frames>, element: Option<ElementKey>, presence: Presence) -> LogLine {
    LogLine {
        range,
        element,
        presence,
        face: Face::Shown,
        name_on_screen: true,
        voice_changed: false,
    }
}

fn person(n: u128) -> Option<ElementKey> {
    Some(ElementKey::Person(id(n)))
}

fn files(log: Vec<LogLine>) -> HashMap<Uuid, UsedFile> {
    let file = UsedFile {
        frames: Some(500),
        filmed_on: NaiveDate::from_ymd_opt(2026, 3, 14),
        log,
    };
    HashMap::from([(id(1), file)])
}

#[test]
fn a_person_is_used_only_where_the_ranges_overlap() {
    let files = files(vec![
        line(Some((100, 200)), person(7), Presence::OnCamera),
        line(Some((0, 100)), person(8), Presence::OnCamera),
        line(Some((200, 500)), None, Presence::None),
    ]);
    let all = uses(&[file_event(3, (1000, 1250), Some((150, 400)))], &files);
    assert_eq!(all.keys().collect::<Vec<_>>(), [&ElementKey::Person(id(7))]);
    let one = &all[&ElementKey::Person(id(7))][0];
    assert_eq!((one.event, one.record_in, one.record_out), (3, 1000, 1050));
    assert_eq!(one.filmed_on, NaiveDate::from_ymd_opt(2026, 3, 14));
}

#[test]
fn frames_that_nobody_logged_are_an_element() {
    let files = files(vec![line(Some((0, 100)), person(7), Presence::OnCamera)]);
    let unlogged = ElementKey::Unlogged(id(1));
    let inside = uses(&[file_event(1, (0, 50), Some((50, 100)))], &files);
    assert!(!inside.contains_key(&unlogged));
    let beyond = uses(&[file_event(1, (0, 51), Some((50, 101)))], &files);
    assert!(beyond.contains_key(&unlogged));
    let nobody_knows_which = uses(&[file_event(1, (0, 50), None)], &files);
    assert!(nobody_knows_which.contains_key(&unlogged));
    assert!(nobody_knows_which.contains_key(&ElementKey::Person(id(7))));
}

#[test]
fn somebody_who_looked_and_found_nothing_has_logged_the_file() {
    let files = files(vec![line(None, None, Presence::None)]);
    assert!(uses(&[file_event(1, (0, 50), None)], &files).is_empty());
}

#[test]
fn picture_and_sound_are_used_apart() {
    let files = files(vec![
        line(None, person(7), Presence::OnCamera),
        line(None, person(8), Presence::Voice),
        line(None, Some(ElementKey::Music(id(9))), Presence::Heard),
        line(None, Some(ElementKey::Place(id(5))), Presence::InShot),
    ]);
    let mut seen = file_event(1, (0, 50), Some((0, 50)));
    seen.sound = false;
    let mut heard = file_event(2, (50, 100), Some((100, 150)));
    heard.picture = false;
    let all = uses(&[seen.clone(), heard], &files);
    let on_screen = &all[&ElementKey::Person(id(7))];
    assert_eq!(on_screen[0].presence, Presence::OnCamera);
    assert!(
        on_screen[0].voice_changed,
        "the picture alone gives no voice away"
    );
    assert_eq!(on_screen[1].presence, Presence::Voice);
    assert_eq!(on_screen[1].face, Face::NotApplicable);
    assert!(!on_screen[1].name_on_screen);
    let only_events = |key: &ElementKey| all[key].iter().map(|u| u.event).collect::<Vec<_>>();
    assert_eq!(only_events(&ElementKey::Person(id(8))), [2]);
    assert_eq!(only_events(&ElementKey::Music(id(9))), [2]);
    assert_eq!(only_events(&ElementKey::Place(id(5))), [1]);
    // a list that was exported without any sound hides none
    assert_eq!(uses(&[seen], &files).len(), 4);
}

#[test]
fn imports_bring_what_is_logged_in_their_file() {
    let files = files(vec![line(None, person(7), Presence::OnCamera)]);
    let newsreel = ElementKey::Asset(id(20));
    let mut event = file_event(1, (0, 50), None);
    event.source = UsedSource::Item {
        element: newsreel.clone(),
        file: Some((id(1), Some((0, 50)))),
        part: None,
    };
    let all = uses(&[event], &files);
    assert_eq!(all[&newsreel][0].presence, Presence::InShot);
    assert!(all.contains_key(&ElementKey::Person(id(7))));
    assert_eq!(all.len(), 2, "an import needs no log of its own");
}

#[test]
fn other_speeds_count_the_whole_event() {
    let files = files(vec![
        line(Some((0, 20)), person(7), Presence::OnCamera),
        line(Some((20, 500)), None, Presence::None),
    ]);
    let mut event = file_event(1, (0, 100), Some((0, 50)));
    event.plain_speed = false;
    let all = uses(&[event], &files);
    assert_eq!(all[&ElementKey::Person(id(7))][0].record_out, 100);
}

#[test]
fn black_uses_nothing_and_unknown_sources_stay() {
    let mut black = file_event(1, (0, 50), None);
    black.source = UsedSource::Nothing;
    let unknown = |position, record| UsedEvent {
        source: UsedSource::Unknown {
            key: "ax|phone".into(),
        },
        ..file_event(position, record, None)
    };
    let all = uses(
        &[black, unknown(2, (50, 60)), unknown(3, (60, 70))],
        &HashMap::new(),
    );
    assert_eq!(all.len(), 1);
    assert_eq!(all[&ElementKey::Unknown("ax|phone".into())].len(), 2);
}

/// Hand-worked: the song on a newsreel and the painting in a still within it come with the clip; a
/// silent use of it brings no song; a still that holds itself ends.
#[test]
fn what_is_inside_an_import_comes_with_it() {
    let content = |asset: Option<u128>, music: Option<u128>, presence| Content {
        person_id: None,
        asset_id: asset.map(id),
        music_id: music.map(id),
        presence,
        face: Face::NotApplicable,
        from_seconds: None,
        to_seconds: None,
        note: String::new(),
    };
    let contents = Contents::from([
        (
            id(20),
            vec![
                content(None, Some(30), Presence::Heard),
                content(Some(21), None, Presence::InShot),
            ],
        ),
        (id(21), vec![content(Some(20), None, Presence::InShot)]),
    ]);
    let clip = |position, sound| UsedEvent {
        position,
        record: (i64::from(position) * 100, i64::from(position) * 100 + 50),
        picture: true,
        sound,
        source: UsedSource::Item {
            element: ElementKey::Asset(id(20)),
            file: None,
            part: None,
        },
        plain_speed: true,
    };
    let all = super::uses(&[clip(1, true), clip(2, false)], &HashMap::new(), &contents);
    let count = |key| all.get(&key).map_or(0, Vec::len);
    assert_eq!(count(ElementKey::Asset(id(20))), 2);
    assert_eq!(count(ElementKey::Asset(id(21))), 2);
    assert_eq!(count(ElementKey::Music(id(30))), 1);
    assert_eq!(all[&ElementKey::Music(id(30))][0].event, 1);
}

/// Source: issue 4, item 5 (the cue sheet comes from the cut), rulebook R14 (out later than in); sums by hand. The song
/// runs from 0:20 to 0:40 of the clip; the event uses 0:10 to 0:30 of it at 25 frames, so it is heard in the second half.
#[test]
fn what_is_inside_an_import_counts_from_its_in_to_its_out() {
    let song = |from_seconds, to_seconds| Content {
        person_id: None,
        asset_id: None,
        music_id: Some(id(30)),
        presence: Presence::Heard,
        face: Face::NotApplicable,
        from_seconds,
        to_seconds,
        note: String::new(),
    };
    let heard = |content: Content, part: Option<Frames>, plain_speed| -> Vec<(u64, u64)> {
        let rate = Rate::new(25, 1, false).expect("a rate");
        let clip = UsedEvent {
            position: 1,
            record: (1_000, 1_500),
            picture: true,
            sound: true,
            source: UsedSource::Item {
                element: ElementKey::Asset(id(20)),
                file: None,
                part: part.map(|frames| ItemPart { frames, rate }),
            },
            plain_speed,
        };
        let contents = Contents::from([(id(20), vec![content])]);
        let all = super::uses(&[clip], &HashMap::new(), &contents);
        let found = all.get(&ElementKey::Music(id(30)));
        let ranges = found.into_iter().flatten();
        ranges.map(|one| (one.record_in, one.record_out)).collect()
    };
    let used = Some((250, 750));
    let whole = [(1_000, 1_500)];
    assert_eq!(
        heard(song(Some(20), Some(40)), used, true),
        [(1_250, 1_500)]
    );
    assert_eq!(heard(song(None, Some(12)), used, true), [(1_000, 1_050)]);
    assert_eq!(heard(song(Some(28), None), used, true), [(1_450, 1_500)]);
    assert!(heard(song(Some(30), Some(40)), used, true).is_empty());
    // what is not known is not cut off
    assert_eq!(heard(song(None, None), used, true), whole);
    assert_eq!(heard(song(Some(20), Some(40)), None, true), whole);
    assert_eq!(heard(song(Some(20), Some(40)), used, false), whole);
    // what was stored before has neither
    let old =
        r#"{"music_id": null, "presence": "heard", "face": "not_applicable", "note": "From 0:20"}"#;
    let old: Content = serde_json::from_str(old).expect("as it was stored");
    assert!(!old.is_placed());
}

/// A changed voice is a fact of the log.
#[test]
fn a_voice_that_was_changed_is_so_in_the_cut() {
    let changed = LogLine {
        voice_changed: true,
        ..line(None, person(7), Presence::OnCamera)
    };
    let all = uses(
        &[file_event(1, (0, 50), Some((0, 50)))],
        &files(vec![changed]),
    );
    assert!(all[&ElementKey::Person(id(7))][0].voice_changed);
}
