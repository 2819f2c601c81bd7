//! Order, numbers and counts of the report's rows (rulebook R50: worst first, counts by state).

use chrono::NaiveDate;

use super::{ReportRow, ReportState, ReportUse, count_states, sort_rows};

fn row(number: u32, state: ReportState, needed_by: Option<NaiveDate>) -> ReportRow {
    ReportRow {
        number,
        key: number.to_string(),
        kind: "Person".into(),
        label: format!("element {number}"),
        credited_as: None,
        credit_line: None,
        basis: None,
        papers: vec![],
        first_use: Some(format!("10:00:0{number}:00")),
        uses: number,
        total_frames: 0,
        state,
        failing: vec![],
        reasons: vec![],
        to_do: vec![],
        needed_by,
        ends_on: None,
    }
}

fn one_use(row: u32) -> ReportUse {
    ReportUse {
        row,
        event: "001".into(),
        track: None,
        record_in: "10:00:00:00".into(),
        record_out: "10:00:01:00".into(),
        frames: 25,
        source_file: None,
        reel: None,
        source_in: None,
    }
}

#[test]
fn rows_stand_worst_first_then_soonest_and_uses_follow() {
    let day = |d| NaiveDate::from_ymd_opt(2029, 1, d);
    let mut rows = vec![
        row(1, ReportState::Covered, None),
        row(2, ReportState::Gap, None),
        row(3, ReportState::Gap, day(9)),
        row(4, ReportState::NotLogged, day(1)),
        row(5, ReportState::Gap, day(2)),
    ];
    let mut uses: Vec<ReportUse> = [1, 2, 3, 4, 5, 99].map(one_use).into();
    sort_rows(&mut rows, &mut uses);
    let keys: Vec<&str> = rows.iter().map(|row| row.key.as_str()).collect();
    assert_eq!(keys, ["5", "3", "2", "4", "1"]);
    assert_eq!(
        rows.iter().map(|row| row.number).collect::<Vec<_>>(),
        [1, 2, 3, 4, 5]
    );
    let follow: Vec<u32> = uses.iter().map(|one| one.row).collect();
    assert_eq!(follow, [5, 3, 2, 4, 1, 99]);
}

#[test]
fn every_state_is_counted_even_with_nothing_in_it() {
    let rows = [
        row(1, ReportState::Gap, None),
        row(2, ReportState::Gap, None),
    ];
    let counts = count_states(&rows);
    assert_eq!(counts.len(), ReportState::WORST_FIRST.len());
    assert_eq!((counts[0].elements, counts[0].uses), (2, 3));
    assert!(
        counts[1..]
            .iter()
            .all(|count| count.elements == 0 && count.uses == 0)
    );
    let ranks: Vec<u8> = counts.iter().map(|count| count.state.rank()).collect();
    assert_eq!(ranks, [0, 1, 2, 3, 4, 5, 6, 7]);
}
