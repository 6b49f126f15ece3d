//! A time as a slip prints it, kept as whole ten-thousandths of a second.
//!
//! Owns reading, printing and exact comparison: 10.159 is quicker than 10.16 by .001 and not by a
//! crumb of binary fractions. Refuses measuring: what is measured is a `Span`.

use std::fmt;
use std::ops::{Add, Neg, Sub};
use std::str::FromStr;

use super::RulesError;
use crate::units::Span;

/// A time in ten-thousandths of a second.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord, Hash, Default)]
pub struct SlipTime(i64);

/// Ten-thousandths in a second.
const PER_SECOND: i64 = 10_000;
/// The longest time a slip could hold, s. Chosen.
const LONGEST_S: f64 = 1000.0;

impl SlipTime {
    /// No time.
    pub const ZERO: Self = Self(0);

    /// A time of so many ten-thousandths of a second.
    pub const fn from_ten_thousandths(n: i64) -> Self {
        Self(n)
    }

    /// Ten-thousandths of a second.
    pub const fn ten_thousandths(self) -> i64 {
        self.0
    }

    /// The time nearest to `seconds`; a negative one never becomes .0000, so that a red light stays
    /// one.
    ///
    /// # Errors
    /// [`RulesError::SlipTime`] for what is not a number within ±1000 s.
    pub fn from_seconds(seconds: f64) -> Result<Self, RulesError> {
        if seconds.is_nan() || seconds.abs() > LONGEST_S {
            return Err(RulesError::SlipTime { text: seconds.to_string() });
        }
        let exact = seconds * PER_SECOND as f64;
        let nearest = exact.round();
        // A crumb of a binary fraction is none of a second: −.0330 is not −.0331.
        let away = if exact < 0.0 && nearest == 0.0 { exact.floor() } else { nearest };
        Ok(Self(away as i64))
    }

    /// The time a measured span prints as: thousandths rounded towards minus infinity.
    pub fn printed(span: Span) -> Self {
        Self(span.floor_thousandths() * 10)
    }

    /// Seconds.
    pub fn seconds(self) -> f64 {
        self.0 as f64 / PER_SECOND as f64
    }

    /// The time as a span.
    pub const fn span(self) -> Span {
        Span::from_us(self.0 * 100)
    }
}

impl fmt::Display for SlipTime {
    /// `13.464`, `.012`, `-.0005`: thousandths, and the fourth figure where there is one.
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        let sign = if self.0 < 0 { "-" } else { "" };
        let size = self.0.unsigned_abs();
        let (whole, part) = (size / PER_SECOND as u64, size % PER_SECOND as u64);
        let whole = if whole == 0 { String::new() } else { whole.to_string() };
        if part % 10 == 0 {
            write!(f, "{sign}{whole}.{:03}", part / 10)
        } else {
            write!(f, "{sign}{whole}.{part:04}")
        }
    }
}

impl FromStr for SlipTime {
    type Err = RulesError;

    /// Reads `13.464`, `.012`, `-.033`, `+.050`, `13,464`, with or without an `s` behind it.
    ///
    /// # Errors
    /// [`RulesError::SlipTime`] for anything else, and for more than ±1000 s.
    fn from_str(text: &str) -> Result<Self, RulesError> {
        let refuse = || RulesError::SlipTime { text: text.trim().chars().take(40).collect() };
        let body = text.trim().trim_end_matches(['s', 'S']).trim_end();
        let plain = |c: char| c.is_ascii_digit() || matches!(c, '.' | ',' | '-' | '+' | '−');
        if body.is_empty() || !body.chars().all(plain) {
            return Err(refuse());
        }
        let number = body.replace(',', ".").replace('−', "-");
        Self::from_seconds(number.parse().map_err(|_| refuse())?).map_err(|_| refuse())
    }
}

impl Add for SlipTime {
    type Output = SlipTime;
    fn add(self, rhs: SlipTime) -> SlipTime {
        SlipTime(self.0.saturating_add(rhs.0))
    }
}

impl Sub for SlipTime {
    type Output = SlipTime;
    fn sub(self, rhs: SlipTime) -> SlipTime {
        SlipTime(self.0.saturating_sub(rhs.0))
    }
}

impl Neg for SlipTime {
    type Output = SlipTime;
    fn neg(self) -> SlipTime {
        SlipTime(self.0.saturating_neg())
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn times_read_back_as_they_print() {
        for (text, printed) in [
            ("13.464", "13.464"),
            (".012", ".012"),
            ("0.0120", ".012"),
            ("-.033", "-.033"),
            ("-0.0003", "-.0003"),
            ("+.050 s", ".050"),
            ("13,464", "13.464"),
            ("10", "10.000"),
            ("6.6219", "6.6219"),
            ("-.00001", "-.0001"),
        ] {
            assert_eq!(text.parse::<SlipTime>().unwrap().to_string(), printed, "{text}");
        }
    }

    #[test]
    fn what_is_no_time_is_refused_by_name() {
        for text in ["", "s", "abc", "1.2.3", "--1", "1e3", "inf", "NaN", "9999", "1 2"] {
            let refused = text.parse::<SlipTime>().unwrap_err().to_string();
            assert!(refused.contains("like 13.464"), "{text}: {refused}");
        }
        assert!(SlipTime::from_seconds(f64::NAN).is_err());
    }

    #[test]
    fn a_thousandth_is_a_thousandth_whatever_the_fractions() {
        let time = |text: &str| text.parse::<SlipTime>().unwrap();
        assert_eq!(time("10.16") - time("10.159"), time(".001"));
        assert_eq!(time("12.30") - time("12.29"), time(".01"));
        for n in -20_000..20_000 {
            let time = SlipTime::from_ten_thousandths(n);
            assert_eq!(SlipTime::from_seconds(time.seconds()).unwrap(), time);
        }
    }

    #[test]
    fn a_measured_red_prints_as_one() {
        assert_eq!(SlipTime::printed(Span::from_us(-300)).to_string(), "-.001");
        assert_eq!(SlipTime::printed(Span::from_us(12_999)).to_string(), ".012");
    }
}
