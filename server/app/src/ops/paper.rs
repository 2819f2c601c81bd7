//! What an uploaded paper says it is, and whether it is that: PDF, JPEG or PNG, whole, and nothing else besides.
//! Plain functions on bytes; nothing is opened or drawn.

use crate::error::OpError;

/// A kind of document that is taken.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Paper {
    Pdf,
    Jpeg,
    Png,
}

impl Paper {
    /// Its media type, as it is served.
    pub fn media_type(self) -> &'static str {
        match self {
            Self::Pdf => "application/pdf",
            Self::Jpeg => "image/jpeg",
            Self::Png => "image/png",
        }
    }

    fn of_extension(name: &str) -> Option<Self> {
        match name
            .trim()
            .rsplit_once('.')?
            .1
            .to_ascii_lowercase()
            .as_str()
        {
            "pdf" => Some(Self::Pdf),
            "jpg" | "jpeg" => Some(Self::Jpeg),
            "png" => Some(Self::Png),
            _ => None,
        }
    }

    fn of_media_type(media_type: &str) -> Option<Self> {
        [Self::Pdf, Self::Jpeg, Self::Png]
            .into_iter()
            .find(|paper| paper.media_type().eq_ignore_ascii_case(media_type.trim()))
    }

    fn magic(self) -> &'static [u8] {
        match self {
            Self::Pdf => b"%PDF-",
            Self::Jpeg => &[0xff, 0xd8, 0xff],
            Self::Png => b"\x89PNG\r\n\x1a\n",
        }
    }

    fn word(self) -> &'static str {
        match self {
            Self::Pdf => "PDF",
            Self::Jpeg => "JPEG",
            Self::Png => "PNG",
        }
    }
}

/// What the name's ending and the Content-Type say together.
///
/// # Errors
/// `UnsupportedType` when either is none of ours, or they disagree.
pub fn claimed(name: &str, media_type: &str) -> Result<Paper, OpError> {
    let by_name = Paper::of_extension(name).ok_or_else(|| {
        OpError::UnsupportedType(
            "the file's name must end in .pdf, .jpg, .jpeg or .png; other kinds are not taken"
                .into(),
        )
    })?;
    match Paper::of_media_type(media_type) {
        Some(by_type) if by_type == by_name => Ok(by_name),
        Some(by_type) => Err(OpError::UnsupportedType(format!(
            "the file's name says {}, but it was sent as {}",
            by_name.word(),
            by_type.word()
        ))),
        None => Err(OpError::UnsupportedType(
            "send a PDF, JPEG or PNG under its own Content-Type (application/pdf, image/jpeg, image/png)".into(),
        )),
    }
}

/// Whether the content is what was claimed.
///
/// # Errors
/// `UnsupportedType` when it is something else, or something else as well; `BadRequest` when its end is missing.
pub fn inspect(paper: Paper, content: &[u8]) -> Result<(), OpError> {
    let word = paper.word();
    if !content.starts_with(paper.magic()) {
        return Err(OpError::UnsupportedType(format!(
            "the file is called a {word}, but its content is not one; nothing was kept"
        )));
    }
    if let Some(other) = also(paper, content) {
        return Err(OpError::UnsupportedType(format!(
            "the file is a {word} and {other} at the same time; such files are not taken"
        )));
    }
    if !ended(paper, content) {
        return Err(OpError::BadRequest(format!(
            "the {word} does not end as one does: it is half-written, or something was added to it. Nothing was kept"
        )));
    }
    Ok(())
}

/// A second kind that the bytes would also pass for.
fn also(paper: Paper, content: &[u8]) -> Option<&'static str> {
    /// As far as readers search for the beginning of a page or a PDF.
    const HEAD: usize = 4096;
    let head = content.get(..HEAD.min(content.len()))?.to_ascii_lowercase();
    let holds = |words: &[u8]| head.windows(words.len()).any(|window| window == words);
    let page: [&[u8]; 5] = [b"<!doctype html", b"<html", b"<script", b"<body", b"<svg"];
    if page.into_iter().any(holds) {
        return Some("a web page");
    }
    if paper != Paper::Pdf && holds(b"%pdf-") {
        return Some("a PDF");
    }
    is_archive(content).then_some("an archive")
}

/// The end record of a ZIP whose comment reaches exactly to the end (APPNOTE 4.3.16, from memory).
fn is_archive(content: &[u8]) -> bool {
    const RECORD: usize = 22;
    let from = content.len().saturating_sub(RECORD + usize::from(u16::MAX));
    let tail = content.get(from..).unwrap_or_default();
    tail.windows(RECORD).enumerate().any(|(at, record)| {
        let comment = usize::from(u16::from_le_bytes([record[20], record[21]]));
        record.starts_with(b"PK\x05\x06") && at + RECORD + comment == tail.len()
    })
}

/// Whether the end of the content is the end of its kind; zero bytes and line ends after it do no harm.
fn ended(paper: Paper, content: &[u8]) -> bool {
    let end = content
        .iter()
        .rposition(|byte| !matches!(byte, 0 | b'\n' | b'\r' | b' '))
        .map_or(0, |at| at + 1);
    let body = content.get(..end).unwrap_or_default();
    match paper {
        // Readers search the last 1024 bytes (ISO 32000-1, annex H, from memory).
        Paper::Pdf => body
            .get(body.len().saturating_sub(1024)..)
            .is_some_and(|tail| tail.windows(5).any(|window| window == b"%%EOF")),
        Paper::Jpeg => body.ends_with(&[0xff, 0xd9]),
        Paper::Png => body.ends_with(b"IEND\xae\x42\x60\x82"),
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    fn fault(paper: Paper, content: &[u8]) -> String {
        inspect(paper, content).expect_err("refused").to_string()
    }

    #[test]
    fn name_and_type_must_agree() {
        assert!(matches!(
            claimed("a.PDF", "application/pdf"),
            Ok(Paper::Pdf)
        ));
        assert!(matches!(claimed("a.b.jpeg", "image/JPEG"), Ok(Paper::Jpeg)));
        for (name, kind) in [
            ("a.pdf", "image/png"),
            ("a.html", "text/html"),
            ("a", "application/pdf"),
            ("a.pdf", "application/octet-stream"),
            ("pdf", "application/pdf"),
        ] {
            assert!(claimed(name, kind).is_err(), "{name} {kind}");
        }
    }

    #[test]
    fn whole_papers_are_taken() {
        inspect(Paper::Pdf, b"%PDF-1.7\n1 0 obj\nendobj\n%%EOF\r\n").expect("a PDF");
        inspect(Paper::Jpeg, b"\xff\xd8\xff\xe0\0\x10JFIF\0 \xff\xd9\0\0").expect("a JPEG");
        inspect(Paper::Png, b"\x89PNG\r\n\x1a\n\0\0\0\0IEND\xae\x42\x60\x82").expect("a PNG");
    }

    #[test]
    fn others_halves_and_doubles_are_not() {
        assert!(fault(Paper::Pdf, b"<html>").contains("is not one"));
        assert!(fault(Paper::Pdf, b" %PDF-1.7 %%EOF").contains("is not one"));
        assert!(fault(Paper::Pdf, b"%PDF-1.7\n1 0 obj").contains("half-written"));
        assert!(fault(Paper::Jpeg, b"\xff\xd8\xff\xe0JFIF").contains("half-written"));
        assert!(fault(Paper::Jpeg, b"\xff\xd8\xff\xfe<HTML>\xff\xd9").contains("web page"));
        assert!(fault(Paper::Jpeg, b"\xff\xd8\xff\xfe%PDF-1.4\xff\xd9").contains("a PDF"));
        let mut zip = b"%PDF-1.7\n%%EOF".to_vec();
        zip.extend(b"PK\x05\x06\0\0\0\0\0\0\0\0\0\0\0\0\0\0\0\0\x02\0!!");
        assert!(fault(Paper::Pdf, &zip).contains("an archive"));
    }
}
