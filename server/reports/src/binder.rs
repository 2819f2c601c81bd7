//! The binder: contents, then each scan behind a page that says what it is, with its SHA-256; bookmarks for all of them.
//!
//! Scans are what people uploaded, so nothing in them is trusted: only their pages are taken over, without actions and
//! scripts, and one that is encrypted or can't be read is listed as such and stops nothing.

mod merge;

use std::panic::{AssertUnwindSafe, catch_unwind};

use lopdf::{Document, LoadOptions};
use serde_json::{Value, json};
use waybill_domain::papers::PrintedPaper;
use waybill_domain::wording::date_words;

use crate::ReportError;
use crate::pdf::{typeset, typeset_image};

const TEMPLATE: &str = include_str!("templates/binder.typ");
const SCAN: &str = include_str!("templates/scan.typ");

/// Most bytes that one packed part of a scan may unpack to.
const MOST_UNPACKED: usize = 256 << 20;

/// A paper of the binder.
#[derive(Clone, Debug)]
pub struct BinderItem {
    pub title: String,
    /// How far it has come, for the contents.
    pub state: String,
    /// What is known of it, as name and value.
    pub lines: Vec<(String, String)>,
    pub file_name: String,
    /// `application/pdf`, `image/jpeg`, `image/png`.
    pub media_type: String,
    /// 64 hexadecimal digits; empty without a scan.
    pub sha256: String,
    /// The scan; empty when there is none.
    pub bytes: Vec<u8>,
    /// Why there is no scan; empty when there is one.
    pub absent: String,
}

/// All of a binder.
#[derive(Clone, Debug)]
pub struct Binder {
    /// Title, facts and cautions of the first page; its sections are not used.
    pub head: PrintedPaper,
    pub items: Vec<BinderItem>,
    /// What the reader may not see, in sentences.
    pub left_out: Vec<String>,
}

/// Puts the binder together.
///
/// # Errors
/// A refusal of the typesetter, or of the writer of the whole.
pub fn render_binder(mut binder: Binder) -> Result<Vec<u8>, ReportError> {
    let mut scans: Vec<Option<Document>> = Vec::new();
    for item in &mut binder.items {
        let scan = if item.bytes.is_empty() {
            None
        } else {
            match scan(item) {
                Ok(scan) => Some(scan),
                Err(why) => {
                    item.absent = why;
                    None
                }
            }
        };
        // Held once, as pages, from here on.
        item.bytes = Vec::new();
        scans.push(scan);
    }
    let pages: Vec<usize> = scans
        .iter()
        .map(|scan| scan.as_ref().map_or(0, |scan| scan.get_pages().len()))
        .collect();
    let front = front(&binder, &pages)?;
    merge::whole(&binder, front, scans)
}

/// A scan as a document of whole pages; else why not.
fn scan(item: &BinderItem) -> Result<Document, String> {
    let name = &item.file_name;
    let unreadable = || {
        format!(
            "The scan “{name}” can’t be read, so its pages are not here. Open it from its record."
        )
    };
    let pdf = match item.media_type.as_str() {
        "application/pdf" => item.bytes.clone(),
        other => {
            let format = if other == "image/png" { "png" } else { "jpg" };
            let data = json!({ "title": item.title, "format": format });
            typeset_image(SCAN, data, item.bytes.clone()).map_err(|_error| unreadable())?
        }
    };
    let options = LoadOptions::with_max_decompressed_size(MOST_UNPACKED);
    // A reader of strangers' files may hit a state that its authors did not think of.
    let loaded = catch_unwind(AssertUnwindSafe(|| {
        Document::load_mem_with_options(&pdf, options)
    }));
    let encrypted = || {
        format!(
            "The scan “{name}” is encrypted, so its pages are not here. Open it from its record, or upload it without \
             a password."
        )
    };
    let mut document = match loaded {
        Ok(Ok(document)) => document,
        Ok(Err(lopdf::Error::Decryption(_) | lopdf::Error::InvalidPassword)) => {
            return Err(encrypted());
        }
        _ => return Err(unreadable()),
    };
    if document.is_encrypted() || document.was_encrypted() {
        return Err(encrypted());
    }
    let whole = catch_unwind(AssertUnwindSafe(|| merge::make_whole(&mut document)));
    match whole {
        Ok(Ok(())) if !document.get_pages().is_empty() => Ok(document),
        _ => Err(unreadable()),
    }
}

/// Contents and covers. How many pages the contents take is known only once they are set.
fn front(binder: &Binder, pages: &[usize]) -> Result<Document, ReportError> {
    let mut contents = 1;
    for _ in 0..3 {
        let bytes = typeset(TEMPLATE, view(binder, pages, contents))?;
        let front =
            Document::load_mem(&bytes).map_err(|error| ReportError::Typeset(error.to_string()))?;
        let taken = front.get_pages().len().saturating_sub(binder.items.len());
        if taken == contents {
            return Ok(front);
        }
        contents = taken;
    }
    Err(ReportError::Typeset(
        "the binder’s contents do not settle on a number of pages".into(),
    ))
}

/// What the template reads; `contents` is the number of pages before the first cover.
fn view(binder: &Binder, pages: &[usize], contents: usize) -> Value {
    use chrono::{Datelike, Timelike};
    let head = &binder.head;
    let at = head.made_local();
    let made = format!(
        "{} {} ({}), by {}",
        date_words(at.date()),
        at.format("%H:%M"),
        head.time_zone,
        head.made_by
    );
    let mut page = contents + 1;
    let items: Vec<Value> = (binder.items.iter().zip(pages).enumerate())
        .map(|(at, (item, pages))| {
            let here = page;
            page += 1 + pages;
            let short: String = item.title.chars().take(200).collect();
            let lines: Vec<[String; 2]> = (item.lines.iter())
                .map(|(name, value)| [name.clone(), value.chars().take(300).collect()])
                .collect();
            json!({
                "number": at + 1, "title": short, "state": item.state, "lines": lines, "file": item.file_name, "sha256": item.sha256,
                "pages": pages, "page": here, "absent": item.absent,
            })
        })
        .collect();
    let facts: Vec<[&str; 2]> = (head.facts.iter())
        .map(|fact| [fact.name.as_str(), fact.value.as_str()])
        .chain([["Made", made.as_str()]])
        .collect();
    json!({
        "title": head.title, "document": head.whole_title(), "series": head.series, "subtitle": head.episode, "author": head.made_by,
        "date": [at.year(), at.month(), at.day(), at.hour(), at.minute(), at.second()],
        "verdict": head.verdict, "facts": facts, "items": items, "left_out": binder.left_out,
        "cautions": head.cautions,
    })
}

#[cfg(test)]
mod tests {
    use chrono::{TimeZone, Utc};

    use super::*;

    fn head() -> PrintedPaper {
        PrintedPaper {
            title: "Release and licence binder".into(),
            series: "A Season at Tallow Quay".into(),
            episode: "Episode 1, First Light".into(),
            cut: "EP01_CUT".into(),
            verdict: "4 papers".into(),
            facts: vec![],
            sections: vec![],
            assumptions: vec![],
            cautions: vec!["Not legal advice.".into()],
            landscape: false,
            made_at: Utc.with_ymd_and_hms(2029, 1, 9, 10, 0, 0).unwrap(),
            time_zone: "Europe/London".into(),
            made_by: "Jem Strakewell".into(),
        }
    }

    fn item(title: &str, media_type: &str, bytes: Vec<u8>) -> BinderItem {
        BinderItem {
            title: title.into(),
            state: "signed".into(),
            lines: vec![("Signed".into(), "9 Jan 2029".into())],
            file_name: "scan.pdf".into(),
            media_type: media_type.into(),
            sha256: "ab".repeat(32),
            bytes,
            absent: String::new(),
        }
    }

    /// A paper of ours stands for a scan: it is a PDF with pages.
    fn pages() -> Vec<u8> {
        let mut paper = head();
        paper.sections = vec![];
        crate::render_paper(&paper, crate::PaperForm::Pdf).expect("made")
    }

    /// The smallest grey PNG, made by hand after ISO/IEC 15948 with stored (not packed) data.
    const PNG: [u8; 69] = [
        0x89, b'P', b'N', b'G', 13, 10, 26, 10, 0, 0, 0, 13, b'I', b'H', b'D', b'R', 0, 0, 0, 1, 0,
        0, 0, 1, 8, 0, 0, 0, 0, 0x3a, 0x7e, 0x9b, 0x55, 0, 0, 0, 13, b'I', b'D', b'A', b'T', 0x78,
        0x01, 0x01, 2, 0, 0xfd, 0xff, 0, 0, 0, 2, 0, 1, 0, 0, 0, 0, 0, 0, 0, 0, 0, 0, 0, 0, 0, 0,
        0,
    ];

    #[test]
    fn bad_scans_are_listed_and_stop_nothing() {
        let binder = Binder {
            head: head(),
            items: vec![
                item("Release: Wren Tallow", "application/pdf", pages()),
                item(
                    "Release: Rollo",
                    "application/pdf",
                    b"%PDF-1.7 nothing".to_vec(),
                ),
                item("Licence: Newsreel", "image/png", PNG.to_vec()),
                item("Licence: none", "application/pdf", vec![]),
            ],
            left_out: vec!["Something.".into()],
        };
        let made = render_binder(binder).expect("a binder");
        let read = Document::load_mem(&made).expect("a PDF");
        let scan = Document::load_mem(&pages())
            .expect("a PDF")
            .get_pages()
            .len();
        // One page of contents, four covers, the pages of the one good scan; the broken picture is only listed.
        assert_eq!(read.get_pages().len(), 1 + 4 + scan);
        let toc = read.get_toc().expect("bookmarks").toc;
        let names: Vec<(String, usize)> =
            toc.into_iter().map(|one| (one.title, one.page)).collect();
        assert_eq!(names[0], ("Contents".to_owned(), 1));
        assert_eq!(names[1], ("1. Release: Wren Tallow".to_owned(), 2));
        assert_eq!(names[2].1, 3 + scan);
        assert_eq!(names.len(), 5);
    }

    #[test]
    fn an_encrypted_scan_is_said_to_be_so() {
        use lopdf::{EncryptionState, EncryptionVersion, Permissions};
        let mut document = Document::load_mem(&pages()).expect("a PDF");
        document.trailer.set(
            "ID",
            vec![
                lopdf::Object::string_literal("a"),
                lopdf::Object::string_literal("a"),
            ],
        );
        let version = EncryptionVersion::V1 {
            document: &document,
            owner_password: "owner",
            user_password: "user",
            permissions: Permissions::all(),
        };
        let state = EncryptionState::try_from(version).expect("a state");
        document.encrypt(&state).expect("encrypted");
        let mut bytes = Vec::new();
        document.save_to(&mut bytes).expect("saved");
        let why = scan(&item("Release", "application/pdf", bytes)).expect_err("not taken");
        assert!(why.contains("encrypted"), "{why}");
    }
}
