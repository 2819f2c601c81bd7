//! Files as programs write them: encodings, separators, workbooks of LibreOffice 24.2 (`sheets/*.xlsx`, converted from
//! flat documents written by hand), dates as text and as numbers, ten thousand rows.

use serde_json::{Value, json};
use waybill_tests::app::TestApp;

use super::sheets::Lists;

const LISTS: &[u8] = include_bytes!("sheets/lists.xlsx");
const MAC: &[u8] = include_bytes!("sheets/mac.xlsx");

fn utf16(text: &str) -> Vec<u8> {
    let mut out = vec![0xff, 0xfe];
    out.extend(text.encode_utf16().flat_map(u16::to_le_bytes));
    out
}

#[tokio::test]
async fn encodings_and_separators_are_found_and_said() {
    let test = TestApp::start().await;
    let lists = Lists::new(&test).await;
    let windows = b"Name;Notes\r\nZo\xeb Quayle;caf\xe9\r\n".to_vec();
    let tabs = utf16("Name\tNotes\r\nZo\u{eb} Quayle\tcaf\u{e9}\r\n");
    let marked = "\u{feff}Name,Notes\nZo\u{eb} Quayle,caf\u{e9}\n"
        .as_bytes()
        .to_vec();
    for (content, encoding, separator) in [
        (windows, "Windows-1252", "semicolon"),
        (tabs, "UTF-16", "tab"),
        (marked, "UTF-8", "comma"),
    ] {
        let id = lists.send("people", content).await;
        let seen = lists.preview(&id, &json!({})).await;
        assert_eq!(
            (&seen["encoding"], &seen["separator"]),
            (&json!(encoding), &json!(separator))
        );
        assert_eq!(
            seen["warnings"].as_array().expect("warnings").len(),
            usize::from(encoding == "Windows-1252")
        );
        assert_eq!(seen["rows"][0]["title"], "Zo\u{eb} Quayle");
        // Another separator, when somebody says so.
        let seen = lists.preview(&id, &json!({ "separator": "bar" })).await;
        assert_eq!(seen["columns"].as_array().expect("columns").len(), 1);
    }
}

#[tokio::test]
async fn a_workbook_with_a_merged_title_blank_rows_and_formulas() {
    let test = TestApp::start().await;
    let lists = Lists::new(&test).await;
    let id = lists.send("people", LISTS).await;
    let seen = lists.preview(&id, &json!({})).await;
    assert_eq!(seen["sheets"], json!(["Notes", "People", "Music"]));
    assert_eq!(
        (&seen["sheet"], &seen["heading_row"]),
        (&json!("People"), &json!(3))
    );
    let rows: Vec<(&Value, &Value)> = seen["rows"]
        .as_array()
        .expect("rows")
        .iter()
        .map(|row| (&row["number"], &row["outcome"]))
        .collect();
    let (new, faulty) = (json!("new"), json!("faulty"));
    assert_eq!(
        rows,
        [(&json!(4), &new), (&json!(6), &new), (&json!(7), &faulty)]
    );
    assert!(
        seen["rows"][2]["faults"][0]["words"]
            .as_str()
            .expect("words")
            .contains("#DIV/0!")
    );
    lists
        .import(&id, &json!({}), &seen["fingerprint"], true)
        .await
        .expect(201);
    let people = lists.records("people").await;
    assert_eq!(
        (&people[0]["born"], &people[0]["notes"]),
        (&json!("1990-02-28"), &json!("bow seat"))
    );
    assert_eq!(people[1]["born"], "1988-12-31");
}

#[tokio::test]
async fn numbers_kept_as_text_keep_their_zeros() {
    let test = TestApp::start().await;
    let lists = Lists::new(&test).await;
    lists
        .all_at_once("music", LISTS, &json!({ "sheet": "Music" }))
        .await;
    let music = lists.records("music").await;
    assert_eq!(music[0]["catalogue_number"], "00123");
    assert_eq!(
        (&music[1]["title"], &music[1]["catalogue_number"]),
        (&json!("1999"), &json!("77"))
    );
    let wrong = lists.send("music", LISTS).await;
    let path = lists.path(&format!("sheets/{wrong}/preview"));
    let body = json!({ "ask": { "sheet": "Nope" } });
    lists
        .client
        .post(&path, &body)
        .await
        .problem(400, "bad_request");
}

/// ECMA-376 part 1, 18.17.4.1: the workbook says that it counts from 1904.
#[tokio::test]
async fn a_workbook_that_counts_from_1904() {
    let test = TestApp::start().await;
    let lists = Lists::new(&test).await;
    lists.all_at_once("shoot_days", MAC, &json!({})).await;
    let days = lists.records("shoot-days").await;
    assert_eq!(
        (&days[0]["day"], &days[0]["cards_expected"]),
        (&json!("2029-01-09"), &json!(4))
    );
    assert_eq!(days[1]["day"], "1904-01-02");
}

#[tokio::test]
async fn ambiguous_dates_wait_for_a_decision() {
    let test = TestApp::start().await;
    let lists = Lists::new(&test).await;
    let id = lists
        .send("shoot_days", "Date,Title\n03/04/2029,Quay\n5/6/2029,Race\n")
        .await;
    let seen = lists.preview(&id, &json!({})).await;
    assert_eq!(
        (&seen["days"]["asks_order"], &seen["counts"]["faulty"]),
        (&json!(true), &json!(2))
    );
    let mut mapping = seen["mapping"].clone();
    for (order, day) in [("day_first", "2029-04-03"), ("month_first", "2029-03-04")] {
        mapping["day_order"] = json!(order);
        let seen = lists.preview(&id, &json!({ "mapping": mapping })).await;
        assert_eq!(
            (&seen["days"]["asks_order"], &seen["counts"]["faulty"]),
            (&json!(false), &json!(0))
        );
        assert_eq!(seen["rows"][0]["title"], format!("{day}, Quay"));
    }
    // Numbers in a text file may count from either year.
    let id = lists.send("shoot_days", "Date,Title\n47126,Quay\n").await;
    let seen = lists.preview(&id, &json!({})).await;
    assert_eq!(seen["days"]["asks_serials"], true);
    mapping["serials"] = json!("from_1900");
    let seen = lists.preview(&id, &json!({ "mapping": mapping })).await;
    assert_eq!(seen["rows"][0]["title"], "2029-01-08, Quay");
}

#[tokio::test]
async fn files_that_are_no_lists_are_refused_in_words() {
    let test = TestApp::start().await;
    let lists = Lists::new(&test).await;
    let send = async |content: &[u8]| lists.send_raw("people", "x.csv", content).await;
    send(b"").await.problem(400, "bad_request");
    send(b"%PDF-1.7\n").await.problem(415, "unsupported_type");
    send(b"\xd0\xcf\x11\xe0old")
        .await
        .problem(415, "unsupported_type");
    send(b"PK\x03\x04broken").await.problem(400, "bad_request");
    let open = send(b"Name\n\"Ann").await;
    assert!(
        open.text().contains("Line 2 opens a quotation mark"),
        "{}",
        open.text()
    );
    send(&"a\n".repeat(20_002).into_bytes())
        .await
        .problem(413, "too_large");
    send(&vec![b'a'; 10 * 1024 * 1024 + 1])
        .await
        .problem(413, "too_large");
}

/// Ten thousand rows are looked at, brought in and taken back.
#[tokio::test]
async fn ten_thousand_rows() {
    let test = TestApp::start().await;
    let lists = Lists::new(&test).await;
    let mut csv = String::from("Name,Date of birth,Language\n");
    for n in 0..10_000 {
        csv.push_str(&format!(
            "Person {n},19{:02}-01-0{},en\n",
            n % 90 + 10,
            n % 9 + 1
        ));
    }
    let id = lists.send("people", &csv).await;
    let seen = lists.preview(&id, &json!({})).await;
    assert_eq!(
        (&seen["counts"]["new"], &seen["counts"]["rows"]),
        (&json!(10_000), &json!(10_000))
    );
    assert_eq!(seen["rows"].as_array().expect("rows").len(), 500);
    let made = lists
        .import(&id, &json!({}), &seen["fingerprint"], false)
        .await
        .expect(201)
        .value();
    assert_eq!(made["made"], 10_000);
    let undone = lists.undo(&made).await.expect(200).value();
    assert_eq!(undone["kept"], json!([]));
    assert!(lists.records("people").await.is_empty());
}
