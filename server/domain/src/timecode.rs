//! Timecode: frame rates, labels and frame numbers, all exact.
//!
//! A label (`10:00:41:10`) is a name for a frame; a frame number counts from the label
//! `00:00:00:00`. Rates are ratios and never floats. Standard: SMPTE ST 12-1, and ST 12-3 above
//! 30 frames a second (their text was not at hand; the rules are the commonly published ones).
//! What a list or a file makes of its labels belongs in `timeline` and `media`.
#![deny(clippy::as_conversions)]

mod label;
#[cfg(test)]
mod tests;

use std::fmt;
use std::str::FromStr;

use serde::{Deserialize, Serialize};
use utoipa::ToSchema;

pub use label::Label;

/// What is wrong with a label or with the name of a rate.
#[derive(Debug, Clone, PartialEq, Eq, thiserror::Error)]
pub enum TimecodeError {
    #[error(
        "\"{0}\" is not a frame rate; write it like 25, 23.976, 29.97, 29.97df, 59.94df or 30000/1001"
    )]
    UnknownRate(String),
    #[error("drop-frame is defined for 29.97 and 59.94 only, not for \"{0}\"")]
    NoDropFrame(String),
    #[error("\"{0}\" is not a timecode; it is written HH:MM:SS:FF")]
    NotALabel(String),
    #[error("\"{label}\": hours are not below 24")]
    Hours { label: String },
    #[error("\"{label}\": minutes are not below 60")]
    Minutes { label: String },
    #[error("\"{label}\": seconds are not below 60")]
    Seconds { label: String },
    #[error("\"{label}\": the frame number is not below {nominal}, so the rate is not {rate}")]
    FrameNumber {
        label: String,
        nominal: i64,
        rate: Rate,
    },
    #[error("\"{label}\" does not exist at {rate}: drop-frame counting leaves this label out")]
    DroppedLabel { label: String, rate: Rate },
    #[error("\"{label}\" is written as drop-frame, but the rate is {rate} without drop-frame")]
    MarkedAsDrop { label: String, rate: Rate },
}

/// An exact fraction in lowest terms; the denominator is positive. Used for seconds.
///
/// ```
/// use waybill_domain::timecode::Ratio;
/// assert_eq!(Ratio::new(795, 25), Some(Ratio { num: 159, den: 5 }));
/// assert_eq!(Ratio { num: 159, den: 5 }.round_half_up(), 32); // 31.8 s, rulebook R14
/// ```
#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash, Serialize, Deserialize, ToSchema)]
pub struct Ratio {
    pub num: i64,
    pub den: i64,
}

impl Ratio {
    /// `num / den` in lowest terms; `None` when `den` is 0 or the result needs more than 64 bits.
    pub fn new(num: i64, den: i64) -> Option<Self> {
        Self::reduced(num.into(), den.into())
    }

    fn reduced(num: i128, den: i128) -> Option<Self> {
        let (mut a, mut b) = (num.unsigned_abs(), den.unsigned_abs());
        while b != 0 {
            (a, b) = (b, a % b);
        }
        let divisor = i128::try_from(a).ok().filter(|_| den != 0)? * den.signum();
        Some(Self {
            num: i64::try_from(num / divisor).ok()?,
            den: i64::try_from(den / divisor).ok()?,
        })
    }

    /// The nearest whole number, halves upwards: the rounding of R14, done once, at the end.
    pub fn round_half_up(self) -> i64 {
        let (num, den) = (i128::from(self.num), i128::from(self.den));
        saturate((2 * num + den).div_euclid(2 * den))
    }
}

/// A frame rate, exact, with the way its labels are counted.
///
/// Its text form is the one people say: `25`, `23.976`, `29.97`, `29.97df`.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash, Serialize, Deserialize)]
#[serde(try_from = "String", into = "String")]
pub struct Rate {
    num: i64,
    den: i64,
    drop: bool,
}

impl Rate {
    /// Exactly `num / den` frames a second: a whole number, or a multiple of 1000/1001.
    pub fn new(num: i64, den: i64, drop: bool) -> Result<Self, TimecodeError> {
        let unknown = || TimecodeError::UnknownRate(format!("{num}/{den}"));
        let reduced = Ratio::new(num, den).ok_or_else(unknown)?;
        let nominal = match reduced.den {
            1 => reduced.num,
            1001 if reduced.num % 1000 == 0 => reduced.num / 1000,
            _ => return Err(unknown()),
        };
        if !(1..=240).contains(&nominal) {
            return Err(unknown());
        }
        let rate = Self {
            num: reduced.num,
            den: reduced.den,
            drop,
        };
        if drop && !rate.may_drop() {
            return Err(TimecodeError::NoDropFrame(rate.name()));
        }
        Ok(rate)
    }

    /// Numerator of the frames in a second.
    pub fn num(self) -> i64 {
        self.num
    }

    /// Denominator of the frames in a second: 1 or 1001.
    pub fn den(self) -> i64 {
        self.den
    }

    /// How many frame numbers a second of labels has: 24 at 23.976, 30 at 29.97.
    pub fn nominal(self) -> i64 {
        if self.den == 1 {
            self.num
        } else {
            self.num / 1000
        }
    }

    /// Whether labels are counted drop-frame.
    pub fn drop(self) -> bool {
        self.drop
    }

    /// Whether drop-frame counting exists at this rate.
    pub fn may_drop(self) -> bool {
        self.den == 1001 && matches!(self.nominal(), 30 | 60)
    }

    /// The same rate with drop-frame counting on or off; rates that cannot drop stay as they are.
    pub fn with_drop(self, drop: bool) -> Self {
        Self {
            drop: drop && self.may_drop(),
            ..self
        }
    }

    /// The number people say, without the way of counting: `29.97` for 30000/1001.
    pub fn name(self) -> String {
        if self.den == 1 {
            return self.num.to_string();
        }
        let thousandths = Ratio::new(self.num * 1000, self.den).map_or(0, Ratio::round_half_up);
        let text = format!("{}.{:03}", thousandths / 1000, thousandths % 1000);
        text.trim_end_matches('0').to_owned()
    }

    /// Labels left out at the start of most minutes: 0, 2 or 4.
    fn dropped(self) -> i64 {
        if self.drop { self.nominal() / 15 } else { 0 }
    }

    /// Frames in 24 hours of labels, after which they begin again.
    pub fn frames_per_day(self) -> i64 {
        86_400 * self.nominal() - self.dropped() * (1440 - 144)
    }

    /// The frame number of a label; see [`Label::frame`].
    ///
    /// ```
    /// use waybill_domain::timecode::Rate;
    /// let rate: Rate = "29.97df".parse().unwrap();
    /// assert_eq!(rate.frame("01:00:00;00").unwrap(), 107_892);
    /// assert!(rate.frame("00:01:00;00").is_err());
    /// ```
    pub fn frame(self, label: &str) -> Result<i64, TimecodeError> {
        label.parse::<Label>()?.frame(self)
    }

    /// The label of a frame number, `;` before the frames in drop-frame; wraps at 24 hours.
    pub fn label(self, frame: i64) -> String {
        let (n, d) = (self.nominal(), self.dropped());
        let frame = frame.rem_euclid(self.frames_per_day());
        let (tens, rest) = (frame / (600 * n - 9 * d), frame % (600 * n - 9 * d));
        let mut count = frame + 9 * d * tens;
        if d > 0 && rest >= 60 * n {
            count += d * ((rest - 60 * n) / (60 * n - d) + 1);
        }
        let (seconds, frames) = (count / n, count % n);
        let mark = if self.drop { ';' } else { ':' };
        format!(
            "{:02}:{:02}:{:02}{mark}{frames:02}",
            seconds / 3600,
            seconds / 60 % 60,
            seconds % 60
        )
    }

    /// Frames from one frame number of a day to another; an end below the start is past midnight.
    pub fn frames_between(self, start: i64, end: i64) -> i64 {
        if end < start {
            end + self.frames_per_day() - start
        } else {
            end - start
        }
    }

    /// `frame + frames` within the day, and how many midnights were passed.
    pub fn add(self, frame: i64, frames: i64) -> (i64, i64) {
        let (sum, day) = (frame.saturating_add(frames), self.frames_per_day());
        (sum.rem_euclid(day), sum.div_euclid(day))
    }

    /// How long `frames` frames last, in seconds. `None` only beyond 64 bits.
    pub fn seconds(self, frames: i64) -> Option<Ratio> {
        Ratio::reduced(i128::from(frames) * i128::from(self.den), self.num.into())
    }

    /// The frame on show at an instant, in seconds after frame 0: floor(seconds x rate).
    pub fn frame_at(self, seconds: Ratio) -> i64 {
        let frames = i128::from(seconds.num) * i128::from(self.num);
        let unit = i128::from(seconds.den) * i128::from(self.den);
        saturate(frames.div_euclid(unit))
    }
}

fn saturate(value: i128) -> i64 {
    i64::try_from(value).unwrap_or(if value < 0 { i64::MIN } else { i64::MAX })
}

impl fmt::Display for Rate {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        f.write_str(&self.name())?;
        f.write_str(if self.drop { "df" } else { "" })
    }
}

impl FromStr for Rate {
    type Err = TimecodeError;

    /// Reads `25`, `25.0`, `23.976`, `23.98`, `29.97`, `29.97df`, `29.97 DF`, `29.97 NDF`,
    /// `30000/1001`; anything else is refused.
    fn from_str(text: &str) -> Result<Self, TimecodeError> {
        let unknown = || TimecodeError::UnknownRate(text.trim().to_owned());
        let lower = text.trim().to_ascii_lowercase();
        let (number, drop) = match lower.strip_suffix("df") {
            Some(rest) => match rest.strip_suffix('n') {
                Some(rest) => (rest, false),
                None => (rest, true),
            },
            None => (lower.as_str(), false),
        };
        let number = number.trim_end();
        if let Some((num, den)) = number.split_once('/') {
            let part = |s: &str| s.parse::<i64>().ok().filter(|n| *n > 0);
            let (num, den) = part(num).zip(part(den)).ok_or_else(unknown)?;
            return Self::new(num, den, drop);
        }
        let (whole, decimals) = number.split_once('.').unwrap_or((number, ""));
        let digits = |s: &str| s.bytes().all(|b| b.is_ascii_digit());
        if whole.is_empty() || !digits(whole) || !digits(decimals) {
            return Err(unknown());
        }
        let whole: i64 = whole.parse().ok().ok_or_else(unknown)?;
        let decimals = decimals.trim_end_matches('0');
        if decimals.is_empty() {
            return Self::new(whole, 1, drop);
        }
        // A rate below a whole one means 1000/1001 of it, if the decimals agree.
        let num = whole.checked_add(1).and_then(|n| n.checked_mul(1000));
        let rate = Self::new(num.ok_or_else(unknown)?, 1001, drop)?;
        if rate.is_written(whole, decimals) {
            Ok(rate)
        } else {
            Err(unknown())
        }
    }
}

impl Rate {
    /// Whether `whole.decimals` is this rate, cut or rounded to at least two places.
    fn is_written(self, whole: i64, decimals: &str) -> bool {
        let decimals: String = decimals.chars().take(9).collect();
        let written: Option<i128> = format!("{whole}{decimals}").parse().ok();
        let scale = decimals.chars().fold(1_i128, |scale, _| scale * 10);
        let den = i128::from(self.den);
        let too_low = written.map(|written| i128::from(self.num) * scale - written * den);
        decimals.len() >= 2 && too_low.is_some_and(|by| by < den && -2 * by <= den)
    }
}

impl From<Rate> for String {
    fn from(rate: Rate) -> Self {
        rate.to_string()
    }
}

impl TryFrom<String> for Rate {
    type Error = TimecodeError;

    fn try_from(text: String) -> Result<Self, TimecodeError> {
        text.parse()
    }
}

impl utoipa::PartialSchema for Rate {
    fn schema() -> utoipa::openapi::RefOr<utoipa::openapi::schema::Schema> {
        String::schema()
    }
}

impl ToSchema for Rate {}
