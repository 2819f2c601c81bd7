//! Named after the rule; each names its source.

use super::*;

fn person(id: &str, name: &str) -> Nameable {
    Nameable {
        id: id.into(),
        credited_name: name.into(),
        confirmed_by: "herself".into(),
        confirmed_on: NaiveDate::from_ymd_opt(2029, 1, 5),
        ..Default::default()
    }
}

fn caption(text: &str, person: Option<&str>) -> Caption {
    Caption {
        record_in: 100,
        record_out: 200,
        text: text.into(),
        person: person.map(str::to_owned),
        names_nobody: false,
    }
}

fn faults(caption: &Caption, people: &[Nameable]) -> Vec<CaptionFault> {
    let found = findings(caption, people, None);
    found.into_iter().map(|finding| finding.fault).collect()
}

/// Source: rulebook R36: "Muller" ≠ "Müller"; accents kept, case as given; NFC (Unicode Standard Annex 15: ü is
/// U+00FC or u with U+0308, the same letter).
#[test]
fn r36_a_caption_is_the_confirmed_name_letter_by_letter() {
    let people = [person("p", "Uta M\u{fc}ller")];
    let of = |text: &str| findings(&caption(text, Some("p")), &people, None);
    assert!(of("Uta M\u{fc}ller").is_empty());
    assert!(of("Uta Mu\u{308}ller\nHarbour master").is_empty());
    assert!(of("Uta M\u{fc}ller, harbour master").is_empty());
    assert!(of("Uta M\u{fc}ller – harbour master").is_empty());
    let how = |text: &str| {
        let found = of(text);
        assert_eq!(found[0].fault, CaptionFault::Differs, "{text}");
        found[0].sentence.clone()
    };
    assert_eq!(
        how("Uta Muller"),
        "The caption says “Uta Muller”; the name as credited is “Uta Müller” (accents differ)."
    );
    assert!(how("UTA M\u{dc}LLER").contains("(capitals differ)"));
    assert!(how("Uta muller").contains("(accents and capitals differ)"));
    assert!(how("Uta  M\u{fc}ller").contains("(spaces differ)"));
    assert!(how("Ute M\u{fc}ller").contains("(other letters differ)"));
    assert!(how("Uta M\u{fc}ller-Rudd").contains("(other letters differ)"));
}

/// Source: rulebook R36: confirmed by whom and when; two people of one name need an id.
#[test]
fn r36_who_confirmed_it_and_which_of_two() {
    let mut one = person("p", "Ada Quill");
    one.confirmed_on = None;
    assert_eq!(
        faults(&caption("Ada Quill", Some("p")), std::slice::from_ref(&one)),
        [CaptionFault::NotConfirmed]
    );
    one.confirmed_on = NaiveDate::from_ymd_opt(2029, 1, 5);
    let two = [one.clone(), person("q", "Ada Quill")];
    assert_eq!(
        faults(&caption("Ada Quill", Some("p")), &two),
        [CaptionFault::TwoOfThatName]
    );
    one.told_apart = true;
    assert!(faults(&caption("Ada Quill", Some("p")), &[one, two[1].clone()]).is_empty());
    assert_eq!(
        faults(&caption("Ada Quill", None), &two),
        [CaptionFault::PersonNotSaid]
    );
    assert_eq!(proposed("Ada Quill", &two), None);
}

/// Hand-worked from R23: a first name or an alias that was agreed takes the place of the confirmed name; who asked not
/// to be named is in no caption.
#[test]
fn r23_a_name_agreed_otherwise_and_no_name() {
    let mut one = person("p", "Ada Quill");
    one.only_as = vec!["Ada".into()];
    assert!(
        faults(
            &caption("Ada\nharbour master", Some("p")),
            std::slice::from_ref(&one)
        )
        .is_empty()
    );
    assert_eq!(
        faults(&caption("Ada Quill", Some("p")), std::slice::from_ref(&one)),
        [CaptionFault::OtherNameAgreed]
    );
    one.only_as.clear();
    one.unnamed = true;
    assert_eq!(
        faults(&caption("Ada Quill", Some("p")), &[one]),
        [CaptionFault::MustNotBeNamed]
    );
}

/// Hand-worked: a caption under somebody else's picture, and one beyond the end.
#[test]
fn a_caption_stands_under_its_person_and_in_the_cut() {
    let mut one = person("p", "Ada Quill");
    one.uses = Some(vec![(0, 100), (200, 300)]);
    let found = findings(
        &caption("Ada Quill", Some("p")),
        std::slice::from_ref(&one),
        Some((0, 150)),
    );
    let found: Vec<CaptionFault> = found.into_iter().map(|one| one.fault).collect();
    assert_eq!(found, [CaptionFault::NotThere, CaptionFault::OutsideTheCut]);
    one.uses = Some(vec![(199, 300)]);
    assert!(faults(&caption("Ada Quill", Some("p")), &[one]).is_empty());
    let nobody = Caption {
        names_nobody: true,
        ..caption("1934", None)
    };
    assert!(faults(&nobody, &[]).is_empty());
}

/// Hand-worked: what is near is proposed, what is ambiguous is not.
#[test]
fn the_person_of_a_text_is_proposed() {
    let people = [person("p", "Uta M\u{fc}ller"), person("q", "Tam Rudd")];
    let of = |text: &str| proposed(text, &people).map(|one| one.id.as_str());
    assert_eq!(of("uta muller, harbour master"), Some("p"));
    assert_eq!(of("Tam Rudd"), Some("q"));
    assert_eq!(of("Tam"), None);
    assert_eq!(of(""), None);
}

/// Hand-worked: lines of a spreadsheet and typed ones; what can't be read says where and what is expected.
#[test]
fn lines_are_read_or_named() {
    let rate: Rate = "25".parse().expect("a rate");
    let text = "10:00:00:00\t10:00:04:00\tAda Quill\tHarbour master\n\n10:00:10:00 | 10:00:12:00 | Tam Rudd\n\
                10:00:20:00 10:00:21:00 Harbour, 1934";
    let found = read_lines(text, rate).expect("three captions");
    let texts: Vec<&str> = found.iter().map(|one| one.text.as_str()).collect();
    assert_eq!(
        texts,
        ["Ada Quill\nHarbour master", "Tam Rudd", "Harbour, 1934"]
    );
    assert_eq!(
        (found[0].record_in, found[0].record_out),
        (900_000, 900_100)
    );
    let drop: Rate = "29.97df".parse().expect("a rate");
    let dropped = read_lines("01:00:00;00 01:00:01;00 Ada Quill", drop).expect("one caption");
    assert_eq!(dropped[0].record_in, 107_892);
    let faults = read_lines(
        "Ada Quill\n10:00:04:00\t10:00:00:00\tAda\n10:00:00:30\t10:00:01:00\tA",
        rate,
    )
    .expect_err("three faults");
    assert_eq!(
        faults.iter().map(|one| one.line).collect::<Vec<_>>(),
        [1, 2, 3]
    );
    assert!(
        faults[1]
            .to_string()
            .starts_with("line 2: the caption ends at 10:00:00:00"),
        "{faults:?}"
    );
}
