//! Stand-ins for scanned papers: one typed page each, so that there is something to open.

use anyhow::{Context, Result};
use bytes::Bytes;
use futures_util::stream;
use uuid::Uuid;

use crate::app::App;
use crate::ops::access::Actor;
use crate::ops::documents::{Upload, receive};

/// Said on every page.
const HEAD: &str = "A Season at Tallow Quay, Ninth Oar Pictures Ltd";
const FOOT: &str = "A stand-in for a scanned paper. All names on it are invented.";

/// Uploads a page with these lines, the first its title; its id. The same page twice is one document.
pub async fn upload(app: &App, actor: &Actor, series: Uuid, lines: &[String]) -> Result<String> {
    let title = lines.first().context("a paper without lines")?;
    let lines = lines.iter().map(String::as_str);
    let page: Vec<&str> = [HEAD, ""]
        .into_iter()
        .chain(lines)
        .chain(["", FOOT])
        .collect();
    let content = pdf(&page);
    let upload = Upload {
        name: format!("{title}.pdf"),
        media_type: "application/pdf".into(),
        length: u64::try_from(content.len()).ok(),
    };
    let body = stream::iter([Ok::<_, std::convert::Infallible>(Bytes::from(content))]);
    Ok(receive(app, actor, series, upload, body).await?.id)
}

/// A PDF (ISO 32000-1) of one A4 page in Helvetica, which every reader has.
fn pdf(lines: &[&str]) -> Vec<u8> {
    let shown: Vec<String> = lines
        .iter()
        .map(|line| format!("({}) Tj T*", escaped(line)))
        .collect();
    let text = format!("BT /F1 12 Tf 18 TL 72 770 Td {} ET", shown.join("\n"));
    let objects = [
        "<< /Type /Catalog /Pages 2 0 R >>".to_owned(),
        "<< /Type /Pages /Kids [3 0 R] /Count 1 >>".to_owned(),
        "<< /Type /Page /Parent 2 0 R /MediaBox [0 0 595 842] /Contents 4 0 R /Resources << /Font << /F1 5 0 R >> >> >>"
            .to_owned(),
        format!("<< /Length {} >>\nstream\n{text}\nendstream", text.len()),
        "<< /Type /Font /Subtype /Type1 /BaseFont /Helvetica /Encoding /WinAnsiEncoding >>".to_owned(),
    ];
    let mut out = String::from("%PDF-1.4\n");
    let mut places = String::new();
    for (number, object) in (1..).zip(&objects) {
        places.push_str(&format!("{:010} 00000 n \n", out.len()));
        out.push_str(&format!("{number} 0 obj\n{object}\nendobj\n"));
    }
    let (count, at) = (objects.len() + 1, out.len());
    out.push_str(&format!(
        "xref\n0 {count}\n0000000000 65535 f \n{places}trailer\n<< /Size {count} /Root 1 0 R >>\nstartxref\n{at}\n%%EOF\n"
    ));
    out.into_bytes()
}

/// A text within brackets: what lies beyond ASCII as its number in Latin 1, or a question mark.
fn escaped(text: &str) -> String {
    text.chars()
        .map(|c| match c {
            '(' | ')' | '\\' => format!("\\{c}"),
            ' '..='~' => c.to_string(),
            '\u{a1}'..='\u{ff}' => format!("\\{:03o}", u32::from(c)),
            _ => "?".to_owned(),
        })
        .collect()
}
