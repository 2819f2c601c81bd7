//! From the bytes of an uploaded text to text. Files come from many hands: UTF-8 with or without a
//! mark, UTF-16 with one, or the single-byte code page of old machines. Bytes that are no text at
//! all are refused here, with what they seem to be.

use encoding_rs::{Encoding, UTF_8, UTF_16BE, UTF_16LE, WINDOWS_1252};

/// A decoded text.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Decoded {
    pub text: String,
    /// How the bytes were read, for a sentence: `UTF-8`, `UTF-16` or `Windows-1252`.
    pub encoding: &'static str,
    /// What the reader had to assume, in words for the person who sent the file.
    pub warning: Option<String>,
}

/// The bytes are not text.
#[derive(Debug, Clone, PartialEq, Eq, thiserror::Error)]
pub enum TextError {
    #[error("the file is empty; export it again, or upload it again")]
    Empty,
    #[error("the file is {0}, not text; choose the text file itself")]
    Known(&'static str),
    #[error(
        "the file is not text: byte {offset} is {byte:#04x}, which no text holds; choose another file"
    )]
    Binary { offset: usize, byte: u8 },
    #[error("the file says that it is UTF-16 and then is not; save it again as UTF-8")]
    BrokenUtf16,
}

/// Decodes a whole file.
///
/// ```
/// let decoded = waybill_domain::textio::decode(b"* CAF\xc9").unwrap();
/// assert_eq!(decoded.text, "* CAFÉ");
/// assert!(decoded.warning.is_some());
/// ```
pub fn decode(bytes: &[u8]) -> Result<Decoded, TextError> {
    if bytes.is_empty() {
        return Err(TextError::Empty);
    }
    if let Some(kind) = binary_kind(bytes) {
        return Err(TextError::Known(kind));
    }
    if let Some((encoding, mark)) = Encoding::for_bom(bytes) {
        let body = bytes.get(mark..).unwrap_or_default();
        return decode_marked(body, encoding);
    }
    let control = |byte: u8| byte < 0x20 && !matches!(byte, b'\t' | b'\n' | b'\r' | 0x0c | 0x1a);
    if let Some((offset, &byte)) = bytes.iter().enumerate().find(|&(_, &b)| control(b)) {
        return Err(TextError::Binary { offset, byte });
    }
    match std::str::from_utf8(bytes) {
        Ok(text) => Ok(Decoded {
            text: text.to_owned(),
            encoding: "UTF-8",
            warning: None,
        }),
        Err(error) => Ok(windows_1252(bytes, error.valid_up_to())),
    }
}

fn decode_marked(body: &[u8], encoding: &'static Encoding) -> Result<Decoded, TextError> {
    debug_assert!([UTF_8, UTF_16LE, UTF_16BE].contains(&encoding));
    match encoding.decode_without_bom_handling_and_without_replacement(body) {
        Some(text) => Ok(Decoded {
            text: text.into_owned(),
            encoding: if encoding == UTF_8 { "UTF-8" } else { "UTF-16" },
            warning: None,
        }),
        None if encoding == UTF_8 => Ok(windows_1252(body, 0)),
        None => Err(TextError::BrokenUtf16),
    }
}

fn windows_1252(bytes: &[u8], first_bad: usize) -> Decoded {
    let line = 1 + bytes
        .iter()
        .take(first_bad)
        .filter(|&&b| b == b'\n')
        .count();
    let (text, _) = WINDOWS_1252.decode_without_bom_handling(bytes);
    Decoded {
        text: text.into_owned(),
        encoding: "Windows-1252",
        warning: Some(format!(
            "The text is not UTF-8 (line {line}); it was read as Windows-1252. \
             Check the accented letters in names."
        )),
    }
}

/// Signatures of what people upload by mistake, published with each format.
fn binary_kind(bytes: &[u8]) -> Option<&'static str> {
    let starts = [
        (b"%PDF-".as_slice(), "a PDF document"),
        (b"PK\x03\x04", "a ZIP archive or an office document"),
        (b"\x1f\x8b", "a gzip archive"),
        (b"\xff\xd8\xff", "a JPEG picture"),
        (b"\x89PNG", "a PNG picture"),
        (b"RIFF", "a sound or video file"),
        (b"\x06\x0e\x2b\x34", "an MXF media file"),
        (
            b"\xd0\xcf\x11\xe0",
            "an old office document or a binary project file",
        ),
    ];
    let known = starts.iter().find(|(start, _)| bytes.starts_with(start));
    known
        .map(|(_, kind)| *kind)
        .or_else(|| (bytes.get(4..8) == Some(b"ftyp")).then_some("a video file"))
}

#[cfg(test)]
mod tests {
    #![expect(clippy::unwrap_used, reason = "tests")]
    use super::*;

    #[test]
    fn marks_choose_the_encoding() {
        assert_eq!(decode(b"\xef\xbb\xbfTITLE").unwrap().text, "TITLE");
        assert_eq!(decode(b"\xff\xfeT\0").unwrap().encoding, "UTF-16");
        assert_eq!(decode(b"\xff\xfeT\0I\0").unwrap().text, "TI");
        assert_eq!(decode(b"\xfe\xff\0T\0I").unwrap().text, "TI");
        assert_eq!(decode(b"\xff\xfeT\0\0\xd8"), Err(TextError::BrokenUtf16));
    }

    #[test]
    fn single_bytes_are_read_with_a_warning_that_names_the_line() {
        let decoded = decode(b"TITLE: X\n* CAF\xc9").unwrap();
        assert_eq!(decoded.text, "TITLE: X\n* CAF\u{c9}");
        assert!(decoded.warning.unwrap().contains("line 2"));
    }

    #[test]
    fn what_is_not_text_is_named() {
        assert_eq!(decode(b""), Err(TextError::Empty));
        assert_eq!(decode(b"%PDF-1.7"), Err(TextError::Known("a PDF document")));
        let binary = decode(b"abc\0def");
        assert_eq!(binary, Err(TextError::Binary { offset: 3, byte: 0 }));
    }
}
