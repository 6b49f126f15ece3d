//! A curve over aims, a row for every millisecond.
//!
//! Owns the aims a slider may stand at and the look-up between them. Refuses to compute rows.

use crate::stats::Estimate;
use crate::strategy::aim::AimRow;

/// The earliest and the latest aim a slider may stand at, s.
pub const AIMS_S: (f64, f64) = (-0.060, 0.060);
/// Aims.
const COUNT: usize = 121;

/// Every aim there is a row for, s: from 60 ms later to 60 ms earlier by 1 ms.
pub fn aims_s() -> Vec<f64> {
    (0..COUNT).map(|i| (i as f64 - 60.0) * 0.001).collect()
}

/// Rows over the aims of [`aims_s`].
#[derive(Debug, Clone, PartialEq)]
pub struct Curve {
    rows: Vec<AimRow>,
    win: Option<Vec<Estimate>>,
}

impl Curve {
    /// `rows` and `win` have an entry for every aim.
    pub(super) fn new(rows: Vec<AimRow>, win: Option<Vec<Estimate>>) -> Self {
        Self { rows, win }
    }

    /// A row per aim.
    pub fn rows(&self) -> &[AimRow] {
        &self.rows
    }

    /// P(win) per aim; `None` on a test-and-tune.
    pub fn wins(&self) -> Option<&[Estimate]> {
        self.win.as_deref()
    }

    /// P(red) at an aim, s; between two milliseconds on the line that joins them, beyond the last aim
    /// as there.
    pub fn red(&self, earlier_s: f64) -> Estimate {
        self.at(earlier_s, |i| self.rows[i].red)
    }

    /// The expected light where it is green, s.
    pub fn green_light_s(&self, earlier_s: f64) -> Estimate {
        self.at(earlier_s, |i| self.rows[i].green_light_s)
    }

    /// The chance of a good light.
    pub fn better(&self, earlier_s: f64) -> Estimate {
        self.at(earlier_s, |i| self.rows[i].better)
    }

    /// P(win); `None` on a test-and-tune.
    pub fn win(&self, earlier_s: f64) -> Option<Estimate> {
        let win = self.win.as_ref()?;
        Some(self.at(earlier_s, |i| win[i]))
    }

    fn at(&self, earlier_s: f64, of: impl Fn(usize) -> Estimate) -> Estimate {
        let place = (earlier_s / 0.001 + 60.0).clamp(0.0, (COUNT - 1) as f64);
        // Not a number: as things are.
        let place = if place.is_finite() { place } else { 60.0 };
        let below = (place.floor() as usize).min(COUNT - 2);
        let share = place - below as f64;
        let (a, b) = (of(below), of(below + 1));
        let mix = |a: f64, b: f64| a + share * (b - a);
        let (value, low, high) =
            (mix(a.value, b.value), mix(a.low, b.low), mix(a.high, b.high));
        Estimate { value, low, high, ..a }
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    fn rising() -> Curve {
        let chance = |i: usize| {
            let value = i as f64 / 120.0;
            Estimate { value, low: 0.5 * value, high: value, level: 0.9, n: 20 }
        };
        let row = |(i, earlier_s)| AimRow {
            earlier_s,
            red: chance(i),
            green_light_s: chance(120 - i),
            better: chance(i),
        };
        Curve::new(aims_s().into_iter().enumerate().map(row).collect(), None)
    }

    #[test]
    fn between_two_milliseconds_a_curve_is_straight() {
        let curve = rising();
        assert!((curve.red(0.0).value - 0.5).abs() < 1e-12);
        assert!((curve.red(0.0145).value - 74.5 / 120.0).abs() < 1e-12);
        assert!((curve.red(0.0145).low - 37.25 / 120.0).abs() < 1e-12);
        assert!((curve.green_light_s(-0.06).value - 1.0).abs() < 1e-12);
        assert!(curve.win(0.0).is_none());
    }

    #[test]
    fn beyond_its_ends_a_curve_stays_and_no_number_is_now() {
        let curve = rising();
        assert_eq!(curve.red(0.3), curve.red(0.06));
        assert_eq!(curve.red(-9.0), curve.red(-0.06));
        assert_eq!(curve.red(f64::NAN), curve.red(0.0));
    }
}
