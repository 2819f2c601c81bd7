//! Laws of labels at every usual rate. Compared with outside values in `tests/outside`.

use proptest::prelude::*;

use super::*;

const NAMES: [&str; 12] = [
    "23.976", "24", "25", "29.97", "29.97df", "30", "47.952", "48", "50", "59.94", "59.94df", "60",
];

fn rates() -> impl Strategy<Value = Rate> {
    proptest::sample::select(NAMES.to_vec()).prop_map(|name| name.parse().expect(name))
}

proptest! {
    #[test]
    fn a_frame_comes_back_from_its_label(rate in rates(), frame in 0_i64..6_000_000) {
        let frame = frame % rate.frames_per_day();
        prop_assert_eq!(rate.frame(&rate.label(frame)), Ok(frame));
    }

    #[test]
    fn labels_rise_with_frames(rate in rates(), frame in 0_i64..6_000_000) {
        let frame = frame % (rate.frames_per_day() - 1);
        prop_assert!(rate.label(frame) < rate.label(frame + 1));
    }

    #[test]
    fn a_frame_is_on_show_at_its_own_instant(rate in rates(), frame in 0_i64..1_000_000_000) {
        prop_assert_eq!(rate.frame_at(rate.seconds(frame).expect("small")), frame);
    }

    #[test]
    fn adding_and_taking_away_cancel(
        rate in rates(), frame in 0_i64..2_000_000, by in -9_000_000_i64..9_000_000,
    ) {
        let (there, days) = rate.add(frame, by);
        let (back, days_back) = rate.add(there, -by);
        prop_assert_eq!((back, days + days_back), (frame, 0));
    }

    #[test]
    fn no_text_makes_the_readers_panic(text in "\\PC{0,20}") {
        drop((text.parse::<Rate>(), text.parse::<Label>()));
    }
}

#[test]
fn a_rate_comes_back_from_its_name() {
    for name in NAMES {
        let rate: Rate = name.parse().expect(name);
        assert_eq!(rate.to_string(), name);
    }
}

#[test]
fn the_same_rate_has_many_names() {
    let same = [
        (
            "23.976",
            vec!["24000/1001", "23.98", "23.97", "23.9760", "23.97602398"],
        ),
        (
            "29.97",
            vec!["30000/1001", "29.97 NDF", "29.97ndf", "29.970", " 29.97 "],
        ),
        ("29.97df", vec!["29.97 DF", "29.97DF", "30000/1001df"]),
        ("25", vec!["25.0", "25.000", "25/1", "50/2"]),
    ];
    for (name, others) in same {
        for other in others {
            assert_eq!(other.parse::<Rate>(), name.parse(), "{other}");
        }
    }
}

#[test]
fn other_rates_are_refused() {
    for name in [
        "", "0", "-25", "24.5", "29.9", "29.98", "25df", "30/7", "fast", "1e3", "241",
    ] {
        assert!(name.parse::<Rate>().is_err(), "{name}");
    }
}

#[test]
fn a_colon_does_not_prove_non_drop() {
    let rate: Rate = "29.97df".parse().expect("a rate");
    assert_eq!(rate.frame("00:01:00:02"), rate.frame("00:01:00;02"));
    let rate = rate.with_drop(false);
    assert!(matches!(
        rate.frame("00:01:00;02"),
        Err(TimecodeError::MarkedAsDrop { .. })
    ));
}

/// Values worked by hand from the published table: labels in a day, and in ten minutes.
#[test]
fn a_day_has_its_frames() {
    let day = |name: &str| name.parse::<Rate>().map(Rate::frames_per_day);
    assert_eq!(day("29.97df"), Ok(2_589_408));
    assert_eq!(day("59.94df"), Ok(5_178_816));
    assert_eq!(day("23.976"), Ok(2_073_600));
    let ten_minutes = "29.97df"
        .parse::<Rate>()
        .and_then(|rate| rate.frame("00:10:00;00"));
    assert_eq!(ten_minutes, Ok(17_982));
}
