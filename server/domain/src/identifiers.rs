//! Identifiers of works, recordings, programmes and people: their form and their check characters.
//!
//! A number that passes is well formed; whether it was ever assigned, and to whom, nobody can see
//! from the number.

use serde::{Deserialize, Serialize};
use utoipa::ToSchema;

/// A scheme of identifiers.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Hash, Serialize, Deserialize, ToSchema)]
#[serde(rename_all = "snake_case")]
pub enum Scheme {
    /// Musical work (ISO 15707).
    Iswc,
    /// Recording (ISO 3901). Has no check character.
    Isrc,
    /// Audiovisual work (ISO 15706).
    Isan,
    /// Audiovisual work, as a DOI.
    Eidr,
    /// Public identity of a person or body (ISO 27729).
    Isni,
    /// Societies' number of a name.
    IpiName,
    /// Societies' number of a person or body.
    IpiBase,
}

/// Why a text is not an identifier of its scheme.
#[derive(Clone, Copy, Debug, PartialEq, Eq, thiserror::Error)]
pub enum IdentifierError {
    /// Too long, too short, or a character that does not belong there.
    #[error("this does not have the form {0}")]
    Form(&'static str),
    /// The check character does not fit the rest: most likely a typing error.
    #[error("the check character does not fit; compare it with the paper, digit by digit")]
    Check,
}

impl Scheme {
    /// The canonical form of an identifier, or why it is none. Separators and prefixes that people
    /// write are accepted.
    ///
    /// ```
    /// use waybill_domain::identifiers::Scheme;
    /// assert_eq!(Scheme::Iswc.canonical("T0345246801").as_deref(), Ok("T-034.524.680-1"));
    /// ```
    pub fn canonical(self, text: &str) -> Result<String, IdentifierError> {
        let text = text.trim().to_ascii_uppercase();
        match self {
            Scheme::Iswc => {
                let digits = weighted(&text, 'T', self)?;
                let [a, b, c] = [0, 3, 6].map(|at| &digits[at..at + 3]);
                Ok(format!("T-{a}.{b}.{c}-{}", &digits[9..]))
            }
            Scheme::IpiBase => {
                let digits = weighted(&text, 'I', self)?;
                Ok(format!("I-{}-{}", &digits[..9], &digits[9..]))
            }
            Scheme::Isrc => isrc(&text),
            Scheme::Isan => isan(&text),
            Scheme::Eidr => eidr(&text),
            Scheme::Isni => isni(&text),
            Scheme::IpiName => ipi_name(&text),
        }
    }

    /// The canonical form, or the text as it stands where it is no identifier of this scheme.
    pub fn shown(self, text: &str) -> String {
        self.canonical(text).unwrap_or_else(|_| text.to_owned())
    }

    /// The form, for a reader.
    pub fn form(self) -> &'static str {
        match self {
            Scheme::Iswc => "T-123.456.789-C",
            Scheme::Isrc => "GB-ABC-26-12345",
            Scheme::Isan => "0123-4567-89AB-CDEF-C, perhaps with -0123-4567-C",
            Scheme::Eidr => "10.5240/0123-4567-89AB-CDEF-0123-C",
            Scheme::Isni => "0000 0001 2345 678C",
            Scheme::IpiName => "of 11 digits",
            Scheme::IpiBase => "I-123456789-C",
        }
    }

    fn wrong_form(self) -> IdentifierError {
        IdentifierError::Form(self.form())
    }
}

/// The text without separators.
fn compact(text: &str) -> String {
    text.chars()
        .filter(|c| !matches!(c, '-' | '.' | ' '))
        .collect()
}

fn checked(fits: bool) -> Result<(), IdentifierError> {
    if fits {
        Ok(())
    } else {
        Err(IdentifierError::Check)
    }
}

fn values(text: &str) -> Vec<u32> {
    text.chars().filter_map(|c| c.to_digit(36)).collect()
}

fn only_digits(text: &str) -> bool {
    text.bytes().all(|byte| byte.is_ascii_digit())
}

/// A letter, nine digits and a check digit, weighted 1 to 9 (ISO 15707; the same for IPI base
/// numbers, whose letter counts 2). Gives the ten digits.
fn weighted(text: &str, letter: char, scheme: Scheme) -> Result<String, IdentifierError> {
    let compact = compact(text);
    let digits = compact.strip_prefix(letter).ok_or(scheme.wrong_form())?;
    if digits.len() != 10 || !only_digits(digits) {
        return Err(scheme.wrong_form());
    }
    let start = if letter == 'T' { 1 } else { 2 };
    let digit = values(digits);
    let sum: u32 = start
        + digit
            .iter()
            .take(9)
            .zip(1..)
            .map(|(d, weight)| d * weight)
            .sum::<u32>();
    checked(digit.last() == Some(&((10 - sum % 10) % 10)))?;
    Ok(digits.to_owned())
}

/// Two letters, three letters or digits, two digits of a year, five digits.
fn isrc(text: &str) -> Result<String, IdentifierError> {
    let compact = compact(text.strip_prefix("ISRC").unwrap_or(text));
    let form = |at: usize, byte: u8| match at {
        0..2 => byte.is_ascii_uppercase(),
        2..5 => byte.is_ascii_uppercase() || byte.is_ascii_digit(),
        _ => byte.is_ascii_digit(),
    };
    if compact.len() != 12 || !compact.bytes().enumerate().all(|(at, byte)| form(at, byte)) {
        return Err(Scheme::Isrc.wrong_form());
    }
    Ok([&compact[..2], &compact[2..5], &compact[5..7], &compact[7..]].join("-"))
}

/// The check character of ISO/IEC 7064 MOD 37,36.
fn mod_37_36(text: &str) -> Option<char> {
    let product = values(text).into_iter().fold(36, |product, value| {
        let sum = (product + value) % 36;
        (if sum == 0 { 36 } else { sum }) * 2 % 37
    });
    char::from_digit((37 - product) % 36, 36).map(|c| c.to_ascii_uppercase())
}

fn in_fours(text: &str) -> String {
    let fours: Vec<&str> = (0..text.len())
        .step_by(4)
        .map(|at| &text[at..at + 4])
        .collect();
    fours.join("-")
}

/// 16 hexadecimal digits and perhaps a check character; then perhaps 8 more, with a second check
/// character over all 24 digits. Without check characters the canonical form adds them.
fn isan(text: &str) -> Result<String, IdentifierError> {
    let compact = compact(text.strip_prefix("ISAN").unwrap_or(text));
    if !compact.is_ascii() {
        return Err(Scheme::Isan.wrong_form());
    }
    let (root, first, version, second) = match compact.len() {
        16 => (&compact[..], None, "", None),
        17 => (&compact[..16], compact.chars().nth(16), "", None),
        24 => (&compact[..16], None, &compact[16..], None),
        26 => (
            &compact[..16],
            compact.chars().nth(16),
            &compact[17..25],
            compact.chars().nth(25),
        ),
        _ => return Err(Scheme::Isan.wrong_form()),
    };
    let digits = format!("{root}{version}");
    if !digits.bytes().all(|byte| byte.is_ascii_hexdigit()) {
        return Err(Scheme::Isan.wrong_form());
    }
    let check = |of: &str| mod_37_36(of).ok_or(Scheme::Isan.wrong_form());
    let (root_check, all_check) = (check(root)?, check(&digits)?);
    checked(first.is_none_or(|given| given == root_check))?;
    checked(second.is_none_or(|given| given == all_check))?;
    let root = format!("{}-{root_check}", in_fours(root));
    Ok(if version.is_empty() {
        root
    } else {
        format!("{root}-{}-{all_check}", in_fours(version))
    })
}

/// 10.5240/ and 20 hexadecimal digits with a check character.
fn eidr(text: &str) -> Result<String, IdentifierError> {
    const PREFIX: &str = "10.5240/";
    let wrong = Scheme::Eidr.wrong_form();
    let bare = ["HTTPS://DOI.ORG/", "HTTP://DOI.ORG/", "DOI:"]
        .iter()
        .find_map(|start| text.strip_prefix(start))
        .unwrap_or(text);
    let compact = compact(bare.strip_prefix(PREFIX).ok_or(wrong)?);
    if compact.len() != 21 || !compact.bytes().all(|byte| byte.is_ascii_alphanumeric()) {
        return Err(wrong);
    }
    let (digits, check) = compact.split_at(20);
    if !digits.bytes().all(|byte| byte.is_ascii_hexdigit()) {
        return Err(wrong);
    }
    checked(mod_37_36(digits) == check.chars().next())?;
    Ok(format!("{PREFIX}{}-{check}", in_fours(digits)))
}

/// 15 digits and a check character, ISO/IEC 7064 MOD 11-2.
fn isni(text: &str) -> Result<String, IdentifierError> {
    let compact = compact(text.strip_prefix("ISNI").unwrap_or(text));
    let wrong = Scheme::Isni.wrong_form();
    if compact.len() != 16 || !compact.is_ascii() {
        return Err(wrong);
    }
    let (digits, check) = compact.split_at(15);
    if !only_digits(digits) || !(only_digits(check) || check == "X") {
        return Err(wrong);
    }
    let product = values(digits)
        .into_iter()
        .fold(0, |product, digit| (product + digit) * 2 % 11);
    let expected = match (12 - product) % 11 {
        10 => Some('X'),
        digit => char::from_digit(digit, 10),
    };
    checked(check.chars().next() == expected)?;
    Ok(in_fours(&compact).replace('-', " "))
}

/// Nine digits and two check digits, leading noughts often left out. A remainder of 1 would give a
/// check of 100, of which no source says what to do; such a number is refused.
fn ipi_name(text: &str) -> Result<String, IdentifierError> {
    let compact = compact(text);
    if compact.is_empty() || compact.len() > 11 || !only_digits(&compact) {
        return Err(Scheme::IpiName.wrong_form());
    }
    let padded = format!("{compact:0>11}");
    let (digits, check) = padded.split_at(9);
    let sum: u32 = values(digits)
        .into_iter()
        .zip((2..=10).rev())
        .map(|(d, weight)| d * weight)
        .sum();
    let expected = match sum % 101 {
        0 => 0,
        remainder => 101 - remainder,
    };
    checked(check.parse() == Ok(expected))?;
    Ok(padded)
}
