//! Unions by their laws, and the difference of small cuts.
#![expect(clippy::unwrap_used, reason = "tests")]

use proptest::prelude::*;

use super::*;
use crate::timeline::read;

fn cut(lines: &[&str]) -> Timeline {
    let text = lines.join("\n");
    read(text.as_bytes(), "cut.edl", "25".parse().ok()).unwrap()
}

const A: &str = "001  A001 V C 01:00:00:00 01:00:02:00 10:00:00:00 10:00:02:00";
const B: &str = "002  A002 V C 02:00:00:00 02:00:01:00 10:00:02:00 10:00:03:00";
const A_AGAIN: &str = "003  A001 V C 01:00:01:00 01:00:03:00 10:00:03:00 10:00:05:00";

#[test]
fn uses_of_one_source_are_joined() {
    let uses = sources(&cut(&[A, B, A_AGAIN]));
    let [a, b] = uses.as_slice() else {
        panic!("{uses:?}")
    };
    assert_eq!(
        (a.used.as_slice(), a.frames),
        ([(90_000, 90_075)].as_slice(), 75)
    );
    assert_eq!(a.events, [1, 3]);
    let on_screen = a.on_screen.as_ref().unwrap();
    assert_eq!((on_screen.first, on_screen.frames), (900_000, 100));
    assert_eq!(b.source.reel, "A002");
}

#[test]
fn an_element_seen_twice_at_once_counts_once() {
    let seen = on_screen([(100, 200), (150, 250), (300, 301)]).unwrap();
    assert_eq!((seen.first, seen.frames), (100, 151));
    assert_eq!(on_screen([(5, 5)]), None);
}

#[test]
fn a_cut_differs_from_the_next_by_what_was_done() {
    let moved = B.replace("10:00:02:00 10:00:03:00", "10:00:01:00 10:00:02:00");
    let shorter = A
        .replace("01:00:02:00", "01:00:01:00")
        .replace("10:00:02:00", "10:00:01:00");
    let new = "009  A009 V C 09:00:00:00 09:00:01:00 10:00:05:00 10:00:06:00";
    let found = difference(&cut(&[A, B, A_AGAIN]), &cut(&[&shorter, &moved, new]));
    let events = |events: &[Event]| events.iter().map(|e| e.event.clone()).collect::<Vec<_>>();
    assert_eq!(events(&found.added), ["009"]);
    assert_eq!(events(&found.removed), ["003"]);
    assert_eq!(
        (found.moved.len(), found.changed.len(), found.unchanged),
        (1, 1, 0)
    );
    assert_eq!(found.moved.first().unwrap().after.event, "002");
}

fn ranges() -> impl Strategy<Value = Vec<Frames>> {
    proptest::collection::vec(
        (0_i64..200, 0_i64..30).prop_map(|(at, n)| (at, at + n)),
        0..20,
    )
}

fn holds(ranges: &[Frames], frame: i64) -> bool {
    ranges
        .iter()
        .any(|(start, end)| (*start..*end).contains(&frame))
}

proptest! {
    #[test]
    fn a_union_holds_the_same_frames_once(ranges in ranges()) {
        let joined = union(ranges.clone());
        let frames = (0..230).filter(|frame| holds(&ranges, *frame)).count();
        prop_assert_eq!(usize::try_from(total(&joined)), Ok(frames));
        prop_assert!((0..230).all(|frame| holds(&ranges, frame) == holds(&joined, frame)));
        prop_assert!(joined.windows(2).all(|pair| pair[0].1 < pair[1].0));
        prop_assert_eq!(union(joined.clone()), joined);
    }

    #[test]
    fn a_cut_differs_from_itself_in_nothing(order in Just([A, B, A_AGAIN]).prop_shuffle()) {
        let (first, second) = (cut(&[A, B, A_AGAIN]), cut(&order));
        let found = difference(&first, &second);
        prop_assert_eq!(found.unchanged, 3);
        prop_assert!(found.added.is_empty() && found.removed.is_empty());
        prop_assert!(found.moved.is_empty() && found.changed.is_empty());
    }
}
