//! Named after the rule; each names its source.

use super::*;

fn day(text: &str) -> NaiveDate {
    text.parse().expect("a real date")
}

fn none() -> BTreeSet<NaiveDate> {
    BTreeSet::new()
}

/// Source: rulebook R32 [S4C-DATE] ★: a change request 20 working days before, reply within 4.
#[test]
fn r32_delivery_change_request() {
    let holidays = ["2026-12-25", "2026-12-28", "2027-01-01"].map(day).into();
    assert_eq!(
        working_days_from(day("2027-01-15"), -20, &none()),
        Some(day("2026-12-18"))
    );
    assert_eq!(
        working_days_from(day("2027-01-15"), -20, &holidays),
        Some(day("2026-12-15"))
    );
    assert_eq!(
        working_days_from(day("2026-12-15"), 4, &holidays),
        Some(day("2026-12-21"))
    );
}

/// Source: rulebook R31 ★: offsets back from a transmission on Thu 2026-11-05.
#[test]
fn r31_schedule_back_from_transmission() {
    let tx = day("2026-11-05");
    let at = |anchor, offset| due(anchor, offset, &none()).expect("in the calendar");
    let master = at(tx, Offset::Days(-28));
    assert_eq!(master, day("2026-10-08"));
    assert_eq!(at(master, Offset::Weeks(-4)), day("2026-09-10"));
    assert_eq!(at(tx, Offset::Weeks(-3)), day("2026-10-15"));
    assert_eq!(at(tx, Offset::Days(-9)), day("2026-10-27"));
    assert_eq!(at(tx, Offset::WorkingDays(-9)), day("2026-10-23"));
    // R17: filing two weeks and three months after transmission.
    assert_eq!(at(tx, Offset::Weeks(2)), day("2026-11-19"));
    assert_eq!(at(tx, Offset::Months(3)), day("2027-02-05"));
}

/// Source: rulebook R6 [DISC-RET] ★ and R25 [NLAN] ★, R7 (worked in the rulebook).
#[test]
fn r6_retention_r7_option_r25_child_licence() {
    let at = |anchor, offset| due(day(anchor), offset, &none()).expect("in the calendar");
    let destroy = at("2026-10-08", Offset::Months(48));
    assert_eq!(destroy, day("2030-10-08"));
    assert_eq!(at("2030-10-08", Offset::Months(-3)), day("2030-07-08"));
    assert_eq!(at("2029-01-09", Offset::Days(-90)), day("2028-10-11"));
    assert_eq!(at("2026-03-10", Offset::Days(-21)), day("2026-02-17"));
}

/// Source: rulebook R53 [ICO-SAR] ★: 3 Sep → 3 Oct; 31 Jan → 28 or 29 Feb; next working day.
#[test]
fn r53_one_month_for_a_subject_request() {
    let at = |anchor| due(day(anchor), Offset::Months(1), &none()).expect("in the calendar");
    assert_eq!(at("2026-09-03"), day("2026-10-03"));
    assert_eq!(at("2026-01-31"), day("2026-02-28"));
    assert_eq!(at("2028-01-31"), day("2028-02-29"));
    assert_eq!(
        working_day_on_or_after(day("2026-10-03"), &none()),
        day("2026-10-05")
    );
}

/// Hand-worked: due Mon 2029-01-08; 30 days before is Sat 9 Dec, moved to Fri 8 Dec; the day
/// before is Sun 7 Jan, moved to Fri 5 Jan.
#[test]
fn r6_thresholds_move_off_weekends_and_go_on_weekly() {
    let due = day("2029-01-08");
    let all = notices(due, day("2029-01-22"));
    let on = |threshold| all.iter().find(|n| n.threshold == threshold).map(|n| n.on);
    assert_eq!(on(Threshold::DaysBefore(180)), Some(day("2028-07-12")));
    assert_eq!(on(Threshold::DaysBefore(30)), Some(day("2028-12-08")));
    assert_eq!(on(Threshold::DaysBefore(1)), Some(day("2029-01-05")));
    assert_eq!(on(Threshold::WeeksOverdue(2)), Some(day("2029-01-22")));
    assert_eq!(all.len(), 9);
    assert!(all.is_sorted_by_key(|notice| notice.on));
    assert!(notices(due, day("2028-01-01")).is_empty());
}

/// Source: IANA time zone database: Lord Howe moves by half an hour at 02:00 on 3 Oct 2027.
#[test]
fn a_skipped_half_hour_is_read_with_the_offset_before() {
    let zone = zone("Australia/Lord_Howe").expect("a zone");
    let local = day("2027-10-03").and_hms_opt(2, 15, 0).expect("a time");
    assert_eq!(
        instant(zone, local).to_rfc3339(),
        "2027-10-02T15:45:00+00:00"
    );
    assert_eq!(
        reminder_instant(zone, day("2027-10-03")).to_rfc3339(),
        "2027-10-02T22:00:00+00:00"
    );
}
