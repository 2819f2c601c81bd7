//! Exact time for files that mix rates.
//!
//! Time is held in ticks of 1/705,600,000 s, a published unit (the flick) that divides the frame of
//! every usual rate, 1000/1001 rates and sound sample rates included, so adding times of different
//! rates rounds nothing. Only an unusual rate is rounded, to the nearest tick.

use serde_json::Value;

use crate::timecode::Rate;

const TICKS_PER_SECOND: i128 = 705_600_000;

/// The most frames and seconds believed; beyond them a file is damaged. With the bounds on rate and
/// speed they keep all sums and products of a file within 128 bits.
const MOST_FRAMES: f64 = 1e11;
const MOST_SECONDS: f64 = 1e10;

/// A time or a length, and the rate it was written at.
#[derive(Debug, Clone, Copy, PartialEq)]
pub(super) struct Time {
    pub ticks: i128,
    pub rate: f64,
}

/// A stretch of time.
#[derive(Debug, Clone, Copy, PartialEq)]
pub(super) struct Range {
    pub start: Time,
    pub duration: Time,
}

impl Range {
    pub fn end(self) -> i128 {
        self.start.ticks + self.duration.ticks
    }
}

impl Time {
    pub fn zero(rate: f64) -> Self {
        Self { ticks: 0, rate }
    }

    /// `value` frames at `rate`; `None` when either is no usable number.
    pub fn new(value: f64, rate: f64) -> Option<Self> {
        let usable = (0.1..=1e6).contains(&rate) && value.abs() <= MOST_FRAMES;
        if !usable || value.abs() / rate > MOST_SECONDS {
            return None;
        }
        let (num, den) = fraction(rate);
        // a whole number of frames stays exact; a part of one is kept to a millionth
        let millionths = whole(value.trunc()) * 1_000_000 + whole((value.fract() * 1e6).round());
        let unit = 1_000_000 * num;
        let ticks = (millionths * den * TICKS_PER_SECOND + unit / 2).div_euclid(unit);
        Some(Self { ticks, rate })
    }

    /// The sum, at the higher of the two rates.
    pub fn plus(self, other: Self) -> Self {
        Self {
            ticks: self.ticks + other.ticks,
            rate: self.rate.max(other.rate),
        }
    }
}

/// The rate as a fraction: a whole number, 1000/1001 of one when it is that near, or millionths.
fn fraction(rate: f64) -> (i128, i128) {
    let nominal = (rate * 1.001).round();
    if rate.fract() == 0.0 {
        (whole(rate), 1)
    } else if (rate * 1.001 - nominal).abs() < 0.005 {
        (whole(nominal) * 1000, 1001)
    } else {
        (whole((rate * 1e6).round()), 1_000_000)
    }
}

/// The rate as one that timecode can count at, if it is.
pub(super) fn timecode_rate(rate: f64) -> Option<Rate> {
    let (num, den) = fraction(rate);
    Rate::new(i64::try_from(num).ok()?, i64::try_from(den).ok()?, false).ok()
}

/// Ticks as frames of a rate: a whole number where it is one, else with its fraction.
pub(super) fn frames(ticks: i128, rate: f64) -> Value {
    let (num, den) = scaled(ticks, rate);
    let nearest = (num + den / 2).div_euclid(den);
    // the rounding of an unusual rate is far below a thousandth of a frame
    if (num - nearest * den).abs() * 1000 < den {
        return i64::try_from(nearest).map_or(Value::Null, Value::from);
    }
    Value::from(float(num) / float(den))
}

/// The frame that a range begins in.
pub(super) fn first_frame(ticks: i128, rate: f64) -> i64 {
    let (num, den) = scaled(ticks, rate);
    saturate((num + den / 1000).div_euclid(den))
}

/// The frame after the last that a range touches.
pub(super) fn end_frame(ticks: i128, rate: f64) -> i64 {
    let (num, den) = scaled(ticks, rate);
    saturate((num - den / 1000 + den - 1).div_euclid(den))
}

/// One frame, in ticks.
pub(super) fn frame_length(rate: f64) -> i128 {
    let (num, den) = fraction(rate);
    TICKS_PER_SECOND * den / num
}

/// A length played at `scalar` times its speed, never shorter than it was.
pub(super) fn stretched(ticks: i128, scalar: f64) -> i128 {
    let factor = scalar.abs().clamp(1.0, 1000.0);
    (ticks * whole((factor * 1e9).round()) + 999_999_999) / 1_000_000_000
}

fn scaled(ticks: i128, rate: f64) -> (i128, i128) {
    let (num, den) = fraction(rate);
    (ticks * num, den * TICKS_PER_SECOND)
}

fn saturate(frames: i128) -> i64 {
    i64::try_from(frames).unwrap_or(if frames < 0 { i64::MIN } else { i64::MAX })
}

#[expect(
    clippy::as_conversions,
    reason = "no other way; callers pass whole, bounded numbers"
)]
fn whole(value: f64) -> i128 {
    value as i128
}

#[expect(
    clippy::as_conversions,
    reason = "no other way; for display of fractions only"
)]
fn float(value: i128) -> f64 {
    value as f64
}

#[cfg(test)]
mod tests {
    #![expect(clippy::unwrap_used, reason = "tests")]
    use super::*;

    #[test]
    fn mixed_rates_add_without_rounding() {
        let ntsc = Time::new(1.0, 30000.0 / 1001.0).unwrap();
        let film = Time::new(1.0, 24.0).unwrap();
        let sound = Time::new(1.0, 48_000.0).unwrap();
        assert_eq!(ntsc.ticks * 30_000, TICKS_PER_SECOND * 1001);
        assert_eq!(film.ticks * 24, TICKS_PER_SECOND);
        assert_eq!(sound.ticks * 48_000, TICKS_PER_SECOND);
        assert_eq!(film.plus(sound).rate, 48_000.0);
    }

    #[test]
    fn a_part_of_a_frame_touches_the_frame() {
        let half = Time::new(10.5, 25.0).unwrap();
        assert_eq!(frames(half.ticks, 25.0), 10.5);
        assert_eq!(first_frame(half.ticks, 25.0), 10);
        assert_eq!(end_frame(half.ticks, 25.0), 11);
        let below_zero = Time::new(-7.0, 24.0).unwrap();
        assert_eq!(frames(below_zero.ticks, 24.0), -7);
    }

    #[test]
    fn numbers_that_are_no_time_are_refused() {
        assert_eq!(Time::new(f64::NAN, 24.0), None);
        assert_eq!(Time::new(1.0, 0.0), None);
        assert_eq!(Time::new(1e300, 24.0), None);
    }
}
