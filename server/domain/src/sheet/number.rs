//! Numbers in cells: counts, amounts of money, sizes of drives.

use super::cell::{Cell, fold};
use crate::costs::currency_fault;

/// How many digits stand behind the point of a currency (ISO 4217, minor units; from memory). All
/// that are not named have two.
pub fn minor_digits(currency: &str) -> u32 {
    match currency {
        "BIF" | "CLP" | "DJF" | "GNF" | "ISK" | "JPY" | "KMF" | "KRW" | "PYG" | "RWF" | "UGX"
        | "UYI" | "VND" | "VUV" | "XAF" | "XOF" | "XPF" => 0,
        "BHD" | "IQD" | "JOD" | "KWD" | "LYD" | "OMR" | "TND" => 3,
        "CLF" | "UYW" => 4,
        _ => 2,
    }
}

/// A whole number.
///
/// # Errors
/// In words, when it is none.
pub fn whole(cell: &Cell) -> Result<i64, String> {
    let number = plain(cell)?;
    if number.fract() != 0.0 || number.abs() > 9e15 {
        return Err("A whole number is needed here.".into());
    }
    Ok(number as i64)
}

/// An amount in the smallest unit of its currency, with the currency where the cell says it.
/// `currency`: of the row, if known.
///
/// # Errors
/// In words, when it can't be read in exactly one way.
pub fn money(cell: &Cell, currency: Option<&str>) -> Result<(i64, Option<String>), String> {
    let text = cell.shown();
    let text = text.trim();
    let said = currency_in(text)?;
    if let (Some(said), Some(row)) = (&said, currency)
        && said != row
    {
        return Err(format!(
            "This says {said}, and the row's currency is {row}. Correct one of them."
        ));
    }
    let digits = minor_digits(said.as_deref().or(currency).unwrap_or("GBP"));
    if let Cell::Number(number) = cell {
        // The file says that it is a number, so its point is a point.
        let minor = number * 10_f64.powi(digits as i32);
        return if (minor - minor.round()).abs() > 1e-4 || minor.abs() > 9e15 {
            Err(format!(
                "At most {digits} digits behind the point fit this currency."
            ))
        } else {
            Ok((minor.round() as i64, None))
        };
    }
    let number: String = text
        .chars()
        .filter(|c| {
            c.is_ascii_digit() || matches!(c, '.' | ',' | '-' | '\'' | ' ' | '\u{a0}' | '\u{202f}')
        })
        .collect();
    let (units, part) = split(number.trim(), digits)?;
    if part.len() > digits as usize && part.trim_end_matches('0').len() > digits as usize {
        return Err(format!(
            "At most {digits} digits behind the point fit this currency."
        ));
    }
    let mut all = units;
    all.push_str(&format!("{part:0<width$}", width = digits as usize)[..digits as usize]);
    all.parse::<i64>()
        .map(|minor| (minor, said))
        .map_err(|error| format!("This is no amount ({error}). Write it as 1250.00."))
}

/// The currency that stands beside an amount.
fn currency_in(text: &str) -> Result<Option<String>, String> {
    let letters: String = text.chars().filter(char::is_ascii_alphabetic).collect();
    let code = letters.to_ascii_uppercase();
    let has_digits = text.bytes().any(|byte| byte.is_ascii_digit());
    if letters.len() == 3 && has_digits {
        return match currency_fault(&code) {
            None => Ok(Some(code)),
            Some(fault) => Err(fault),
        };
    }
    if !letters.is_empty() {
        return Err(
            "This is no amount. Write it as 1250.00, the currency in three letters.".into(),
        );
    }
    for (sign, code) in [('£', "GBP"), ('€', "EUR")] {
        if text.contains(sign) {
            return Ok(Some(code.into()));
        }
    }
    Ok(None)
}

/// Digits before and behind the point. A comma or point with exactly three digits after it, and
/// nothing else to tell, can be either and is refused.
fn split(text: &str, digits_behind: u32) -> Result<(String, String), String> {
    let (sign, text) = text
        .strip_prefix('-')
        .map_or(("", text), |rest| ("-", rest));
    let bare: String = text
        .chars()
        .filter(|c| !matches!(c, ' ' | '\'' | '\u{a0}' | '\u{202f}'))
        .collect();
    let digits = |part: &str| !part.is_empty() && part.bytes().all(|b| b.is_ascii_digit());
    let spaced = bare.len() != text.len();
    let marks: Vec<(usize, char)> = bare
        .char_indices()
        .filter(|(_, c)| matches!(c, '.' | ','))
        .collect();
    let point = match marks.as_slice() {
        [] => None,
        [(at, mark)] => {
            // A currency with three digits behind its point needs them all.
            let clear = spaced || (digits_behind == 3 && *mark == '.');
            if bare.len() - at - 1 == 3 && !clear {
                return Err(
                    "Is this mark a point or between thousands? Write the amount as 1250.00."
                        .into(),
                );
            }
            Some(*at)
        }
        [rest @ .., (at, mark)] => {
            let other = rest.iter().all(|(_, c)| c != mark);
            let same = rest.iter().all(|(_, c)| c == mark);
            match (other, same) {
                (true, _) => Some(*at),
                (_, true) => None,
                _ => return Err("This is no amount. Write it as 1250.00.".into()),
            }
        }
    };
    let (units, part) = match point {
        Some(at) => (&bare[..at], &bare[at + 1..]),
        None => (bare.as_str(), ""),
    };
    let units: String = units.chars().filter(|c| !matches!(c, '.' | ',')).collect();
    if !digits(&units) || !(part.is_empty() || digits(part)) {
        return Err("This is no amount. Write it as 1250.00.".into());
    }
    Ok((format!("{sign}{units}"), part.to_owned()))
}

/// An amount as it is written in a cell: `125000` of GBP as `1250.00`.
pub fn amount(minor: i64, currency: &str) -> String {
    let digits = minor_digits(currency) as usize;
    let sign = if minor < 0 { "-" } else { "" };
    let all = format!("{:0>width$}", minor.unsigned_abs(), width = digits + 1);
    let (units, part) = all.split_at(all.len() - digits);
    if part.is_empty() {
        format!("{sign}{units}")
    } else {
        format!("{sign}{units}.{part}")
    }
}

/// A number of bytes: `4 TB`, `500 GB`, or a plain number in the unit that the heading names. Units
/// are powers of 1000, as drives are sold; `TiB` are powers of 1024.
///
/// # Errors
/// In words, when there is no unit to be found.
pub fn bytes(cell: &Cell, heading: &str) -> Result<i64, String> {
    const HOW: &str = "Write the size with its unit, for instance 4 TB.";
    let text = cell.shown();
    let text = text.trim();
    let at = text.find(|c: char| c.is_alphabetic()).unwrap_or(text.len());
    let (number, unit) = text.split_at(at);
    let number: f64 = number
        .trim()
        .replace(' ', "")
        .parse()
        .ok()
        .ok_or_else(|| format!("This is no size that can be read. {HOW}"))?;
    let unit = if unit.trim().is_empty() {
        fold(heading).split(' ').find_map(unit_of)
    } else {
        Some(unit_of(&fold(unit)).ok_or_else(|| HOW.to_owned())?)
    };
    let unit = match unit {
        Some(unit) => unit,
        None if number >= 1e9 => 1.0,
        None => return Err(HOW.into()),
    };
    let all = (number * unit).round();
    if !(0.0..=9e15).contains(&all) {
        return Err("This can't be the size of a drive.".into());
    }
    Ok(all as i64)
}

fn unit_of(word: &str) -> Option<f64> {
    Some(match word {
        "b" | "byte" | "bytes" => 1.0,
        "kb" => 1e3,
        "mb" => 1e6,
        "gb" | "g" => 1e9,
        "tb" | "t" => 1e12,
        "pb" => 1e15,
        "gib" => 1_073_741_824.0,
        "tib" => 1_099_511_627_776.0,
        _ => return None,
    })
}

fn plain(cell: &Cell) -> Result<f64, String> {
    match cell {
        Cell::Number(number) => Ok(*number),
        Cell::Text(text) => text
            .trim()
            .parse()
            .ok()
            .filter(|number: &f64| number.is_finite())
            .ok_or_else(|| "This is no number.".to_owned()),
        _ => Err("This is no number.".into()),
    }
}

#[cfg(test)]
mod tests {
    #![expect(clippy::unwrap_used, reason = "tests")]
    use super::*;

    fn of(text: &str, currency: Option<&str>) -> Result<(i64, Option<String>), String> {
        money(&Cell::text(text), currency)
    }

    /// Worked by hand; minor units after ISO 4217.
    #[test]
    fn amounts() {
        let gbp = Some("GBP");
        for (text, minor) in [
            ("1250", 125_000),
            ("1,250.00", 125_000),
            ("1.250,00", 125_000),
            ("1 250,5", 125_050),
            ("1,250,000", 125_000_000),
            ("0.05", 5),
            ("12,50", 1250),
        ] {
            assert_eq!(of(text, gbp).unwrap(), (minor, None), "{text}");
        }
        assert_eq!(of("£12", None).unwrap(), (1200, Some("GBP".into())));
        assert_eq!(of("JPY 5000", None).unwrap(), (5000, Some("JPY".into())));
        assert_eq!(of("1.5 kwd", None).unwrap(), (1500, Some("KWD".into())));
        assert_eq!(money(&Cell::Number(1250.5), gbp).unwrap().0, 125_050);
        assert!(of("1,250", gbp).unwrap_err().contains("between thousands"));
        assert!(of("EUR 3", gbp).unwrap_err().contains("says EUR"));
        assert!(of("ten pounds", gbp).is_err() && of("1.2.3,4,5", gbp).is_err());
        assert!(of("1.234567", gbp).unwrap_err().contains("At most 2"));
        for (minor, currency, text) in [
            (5, "GBP", "0.05"),
            (-125_050, "EUR", "-1250.50"),
            (7, "JPY", "7"),
        ] {
            assert_eq!(amount(minor, currency), text);
            assert_eq!(of(text, Some(currency)).unwrap().0, minor);
        }
    }

    /// Source: ISO 4217, which has no ABC.
    #[test]
    fn three_letters_are_a_currency_only_beside_an_amount() {
        let of = |text: &str| money(&Cell::text(text), Some("GBP")).unwrap_err();
        assert!(of("abc").starts_with("This is no amount."));
        assert!(of("1250 ABC").starts_with("ABC is no currency"));
        assert!(of("1250 EUR").contains("the row's currency is GBP"));
    }

    #[test]
    fn sizes() {
        assert_eq!(bytes(&Cell::text("4 TB"), "").unwrap(), 4_000_000_000_000);
        assert_eq!(
            bytes(&Cell::Number(4.0), "Capacity (TB)").unwrap(),
            4_000_000_000_000
        );
        assert_eq!(bytes(&Cell::text("1.5TiB"), "").unwrap(), 1_649_267_441_664);
        assert_eq!(
            bytes(&Cell::text("4000000000000"), "Capacity").unwrap(),
            4_000_000_000_000
        );
        assert!(
            bytes(&Cell::Number(4.0), "Capacity")
                .unwrap_err()
                .contains("unit")
        );
        let fault = bytes(&Cell::text("big"), "Size (TB)").unwrap_err();
        assert_eq!(
            fault,
            "This is no size that can be read. Write the size with its unit, for instance 4 TB."
        );
    }
}
