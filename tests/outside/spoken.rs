//! Transcripts against samples in the two open forms: WebVTT as the W3C describes it, SubRip as it is commonly written.

use waybill_domain::spoken::{Spoken, read};

fn spoken(start: i64, end: i64, speaker: &str, text: &str) -> Spoken {
    Spoken {
        start,
        end,
        speaker: speaker.into(),
        text: text.into(),
    }
}

#[test]
fn the_samples_say_what_they_say() {
    let vtt = read(include_bytes!("data/spoken/sample.vtt")).expect("WebVTT");
    assert_eq!(
        vtt,
        [
            spoken(500, 2000, "Anna", "Hello & welcome"),
            spoken(3_600_000, 3_601_000, "", "later")
        ]
    );
    let srt = read(include_bytes!("data/spoken/sample.srt")).expect("SubRip");
    assert_eq!(
        srt,
        [
            spoken(500, 2000, "", "Hello & welcome"),
            spoken(3_600_000, 3_601_000, "", "later second line")
        ]
    );
}
