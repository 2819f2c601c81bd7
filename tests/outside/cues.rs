//! How long a piece of music is heard (R14, R46).

use uuid::Uuid;
use waybill_domain::music::cues::{CueRule, Heard, cues};
use waybill_domain::timecode::Rate;

use crate::cases::{all_agree, read};

/// Source: data/cases/cue-durations.json, brute force frame by frame.
#[test]
fn cue_duration_cases_agree() {
    all_agree("cue-durations");
}

/// Source: the same cases; the cues that a sheet makes of these uses have the same frames and seconds.
#[test]
fn cues_of_a_sheet_agree_with_the_cases() {
    let cases = read("cases/cue-durations.json");
    for case in cases.as_array().expect("a list") {
        let part = |at: usize| case["rate"][at].as_i64().expect("a number");
        let drop = case["drop_frame"].as_bool().expect("yes or no");
        let rate = Rate::new(part(0), part(1), drop).expect("a rate");
        let frame = |label: &serde_json::Value| {
            rate.frame(label.as_str().expect("a label"))
                .expect("a frame")
        };
        let heard: Vec<Heard> = (1_u32..)
            .zip(case["uses"].as_array().expect("uses"))
            .map(|(event, one)| Heard {
                music: Uuid::from_u128(1),
                frames: (frame(&one[0]), frame(&one[1])),
                event,
                in_scene: false,
            })
            .collect();
        let list = cues(rate, &heard, CueRule::default());
        let expected = &case["expected"];
        assert_eq!(
            expected["frames_heard_once"], list.frames,
            "case {}",
            case["id"]
        );
        assert_eq!(
            expected["seconds_heard_once_half_up"], list.seconds_of_frames,
            "case {}",
            case["id"]
        );
    }
}
