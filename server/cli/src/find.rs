//! `waybill find`: files of the catalogue by words and more, and where each copy of them lies.

use std::sync::atomic::AtomicBool;

use serde_json::{Value, json};

use crate::api::{Api, find_id};
use crate::args::Find;
use crate::commands::{series_id, signed_in};
use crate::exit::{Exit, Failure};
use crate::output::{Output, count_text, grouped};

/// Counts of the server stop here.
const COUNTED: u64 = 1001;

/// Looks for files; ends with 1 when none fits.
pub fn find(args: &Find, stop: &AtomicBool, output: &Output) -> Result<Exit, Failure> {
    let api = signed_in(&args.place.to, stop, output)?;
    let series = series_id(&api, &args.place.series)?;
    let words = args.words.join(" ");
    let (limit, rank, on) = (
        args.limit.to_string(),
        args.rank.map(|rank| rank.to_string()),
        args.on.map(|day| day.to_string()),
    );
    let ids = |kind: &str, what, names: &[&str], wanted: &[String]| {
        let ids = wanted
            .iter()
            .map(|one| named(&api, &series, (kind, what), names, one));
        let ids: Vec<String> = ids.collect::<Result<_, _>>()?;
        Ok::<_, Failure>((!ids.is_empty()).then(|| ids.join(",")))
    };
    let people = ids(
        "people",
        "person",
        &["id", "legal_name", "credited_name"],
        &args.person,
    )?;
    let place = ids("places", "place", &["id", "name"], args.at.as_slice())?;
    let given = [
        ("q", (!words.is_empty()).then_some(words.as_str())),
        ("roll", args.roll.as_deref()),
        ("camera", args.camera.as_deref()),
        ("person", people.as_deref()),
        ("place", place.as_deref()),
        ("spoken", args.said.as_deref()),
        ("on", on.as_deref()),
        ("timecode", args.timecode.as_deref()),
        ("hash", args.hash.as_deref()),
        ("rank", rank.as_deref()),
        ("limit", Some(limit.as_str())),
    ];
    let query: Vec<(&str, &str)> = given
        .iter()
        .filter_map(|(name, value)| Some((*name, (*value)?)))
        .collect();
    if query.len() == 1 {
        let message = "What is to be found? Give words, or one of --roll, --camera, --person, --place, --said, --on, --timecode, \
                       --hash, --rank.";
        return Err(Failure::new(Exit::Usage, message));
    }
    let page: Value = api.get(&["series", &series, "files"], &query)?.json()?;
    let items = page["items"].as_array().map_or(&[][..], Vec::as_slice);
    for read in page["read_as"].as_array().into_iter().flatten() {
        let typed = read["typed"].as_str().unwrap_or_default();
        let words: Vec<&str> = read["words"]
            .as_array()
            .into_iter()
            .flatten()
            .filter_map(Value::as_str)
            .collect();
        let text = format!(
            "\"{typed}\" stands nowhere; these have {}.",
            words.join(" or ")
        );
        output.say(&text);
    }
    for item in items {
        let value = json!({ "event": "file", "file": item });
        output.result(&told(item), &value)?;
    }
    let total = page["total"].as_u64().unwrap_or_default();
    let shown = u64::try_from(items.len()).unwrap_or_default();
    let count = if total >= COUNTED {
        format!("{} of more than 1,000 files.", grouped(shown))
    } else if total > shown {
        format!("{} of {} files.", grouped(shown), grouped(total))
    } else if shown == 0 {
        "No file fits.".to_owned()
    } else {
        format!("{}.", count_text(shown, "file", "files"))
    };
    output.say(&count);
    Ok(if items.is_empty() {
        Exit::Differences
    } else {
        Exit::Fine
    })
}

/// The id of a record that a person names: asked for by its words, then by its whole name.
fn named(
    api: &Api<'_>,
    series: &str,
    (kind, what): (&str, &str),
    names: &[&str],
    wanted: &str,
) -> Result<String, Failure> {
    let known = api.get(
        &["series", series, kind],
        &[("q", wanted), ("limit", "500")],
    )?;
    find_id(&known, wanted, what, names)
}

/// A file and its copies, as lines: the path stands alone at a line's end, to be taken and pasted.
fn told(item: &Value) -> String {
    let text = |value: &Value| value.as_str().unwrap_or_default().to_owned();
    let facts = [
        text(&item["card"]),
        text(&item["shot_on"]),
        text(&item["start"]),
    ];
    let facts: Vec<String> = facts.into_iter().filter(|fact| !fact.is_empty()).collect();
    let mut out = [vec![text(&item["name"])], facts].concat().join("  ");
    let copies = item["copies"].as_array().map_or(&[][..], Vec::as_slice);
    if copies.is_empty() {
        out.push_str("\n  no drive holds it any more");
    }
    for copy in copies {
        let mut place = vec![text(&copy["drive"])];
        place.extend(
            [text(&copy["place"])]
                .into_iter()
                .filter(|place| !place.is_empty()),
        );
        let holder = text(&copy["holder"]);
        if !holder.is_empty() {
            place.push(format!("with {holder}"));
        }
        let read = text(&copy["checked_at"]);
        let day = read.split('T').next().unwrap_or_default();
        place.push(format!("{} {day}", text(&copy["state"])));
        out.push_str(&format!(
            "\n  {}\n    {}",
            place.join(", "),
            text(&copy["full_path"])
        ));
    }
    out
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_file_says_where_each_copy_lies() {
        let item = json!({ "name": "A001C001.mov", "card": "A001", "shot_on": "2028-03-09", "start": null,
            "copies": [{ "drive": "QUAY 1", "place": "office", "holder": "Tam", "state": "verified",
                "checked_at": "2028-03-09T18:00:00Z", "path": "footage/A001/A001C001.mov",
                "full_path": "QUAY 1/footage/A001/A001C001.mov" }] });
        assert_eq!(
            told(&item),
            "A001C001.mov  A001  2028-03-09\n  QUAY 1, office, with Tam, verified 2028-03-09\n    QUAY 1/footage/A001/A001C001.mov"
        );
        assert!(told(&json!({ "name": "x", "copies": [] })).contains("no drive"));
    }
}
