//! Names as a cut and a drive write them, brought to one form in which they can be compared.

use unicode_normalization::UnicodeNormalization;

/// The last part of a name, path or address: lower case, one Unicode form, `%20` of an address read.
///
/// ```
/// use waybill_domain::matching::name_of;
/// assert_eq!(name_of("file:///Volumes/D1/Slip%20way.MOV"), "slip way.mov");
/// assert_eq!(name_of(r"D:\rushes\A003C012.mxf"), "a003c012.mxf");
/// ```
pub fn name_of(text: &str) -> String {
    let text = text.trim();
    let decoded = match text.split_once("://") {
        Some(_) => percent_decoded(text),
        None => text.to_owned(),
    };
    let path = decoded.trim_end_matches(['/', '\\']);
    let last = path.rsplit(['/', '\\']).next().unwrap_or_default();
    last.trim().to_lowercase().nfc().collect()
}

/// A name without its extension. Up to five letters and digits with a letter among them count as
/// one, so that `take.2` stays whole.
///
/// ```
/// use waybill_domain::matching::stem_of;
/// assert_eq!(stem_of("a003c012.mov"), "a003c012");
/// assert_eq!(stem_of("take.2"), "take.2");
/// assert_eq!(stem_of(".mov"), ".mov");
/// ```
pub fn stem_of(name: &str) -> String {
    match name.rsplit_once('.') {
        Some((stem, extension))
            if !stem.is_empty()
                && (1..=5).contains(&extension.len())
                && extension.bytes().all(|b| b.is_ascii_alphanumeric())
                && extension.bytes().any(|b| b.is_ascii_alphabetic()) =>
        {
            stem.to_owned()
        }
        _ => name.to_owned(),
    }
}

/// Every form in which the stem of a catalogued file may have been kept, to ask a database with.
pub fn forms(text: &str) -> Vec<String> {
    let name = name_of(text);
    let cut = name.rsplit_once('.').map(|(stem, _)| stem.to_owned());
    let mut forms = vec![stem_of(&name)];
    forms.extend(cut);
    forms.push(name);
    let decomposed: Vec<String> = forms.iter().map(|form| form.nfd().collect()).collect();
    forms.extend(decomposed);
    forms.retain(|form| !form.is_empty());
    forms.sort_unstable();
    forms.dedup();
    forms
}

/// Reads `%20`; what is not two hexadecimal digits, or does not become text, stays as it is.
fn percent_decoded(text: &str) -> String {
    let bytes = text.as_bytes();
    let mut out = Vec::with_capacity(bytes.len());
    let mut at = 0;
    while let Some(&byte) = bytes.get(at) {
        let code = (byte == b'%')
            .then(|| text.get(at + 1..at + 3))
            .flatten()
            .filter(|digits| digits.bytes().all(|b| b.is_ascii_hexdigit()))
            .and_then(|digits| u8::from_str_radix(digits, 16).ok());
        out.push(code.unwrap_or(byte));
        at += if code.is_some() { 3 } else { 1 };
    }
    String::from_utf8(out).unwrap_or_else(|_| text.to_owned())
}
