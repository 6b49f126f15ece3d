//! The quantities every room speaks in: marks and spans of time, stamps with doubt, lengths.
//!
//! Owns their arithmetic and the one way a time is printed. Refuses clocks (a `Mark` is always
//! handed in), wall time and serialisation.

use std::fmt;
use std::iter::Sum;
use std::ops::{Add, AddAssign, Mul, Neg, Sub};

/// A moment on the monotonic clock, in nanoseconds. Only differences mean anything.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord, Hash, Default)]
pub struct Mark(i64);

impl Mark {
    /// The mark `ns` nanoseconds after the clock's own zero.
    pub const fn from_ns(ns: i64) -> Self {
        Self(ns)
    }

    /// Nanoseconds since the clock's own zero.
    pub const fn ns(self) -> i64 {
        self.0
    }
}

/// A signed length of time in nanoseconds.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord, Hash, Default)]
pub struct Span(i64);

impl Span {
    /// No time at all.
    pub const ZERO: Self = Self(0);

    /// A span of `ns` nanoseconds.
    pub const fn from_ns(ns: i64) -> Self {
        Self(ns)
    }

    /// A span of `us` microseconds.
    pub const fn from_us(us: i64) -> Self {
        Self(us * 1_000)
    }

    /// A span of `ms` milliseconds.
    pub const fn from_ms(ms: i64) -> Self {
        Self(ms * 1_000_000)
    }

    /// The span nearest to `secs` seconds. Not a number becomes zero; the ends saturate.
    pub fn from_secs_f64(secs: f64) -> Self {
        Self((secs * 1e9).round() as i64)
    }

    /// The span nearest to `ms` milliseconds. Not a number becomes zero; the ends saturate.
    pub fn from_ms_f64(ms: f64) -> Self {
        Self((ms * 1e6).round() as i64)
    }

    /// Nanoseconds.
    pub const fn ns(self) -> i64 {
        self.0
    }

    /// Seconds.
    pub fn as_secs_f64(self) -> f64 {
        self.0 as f64 / 1e9
    }

    /// Milliseconds.
    pub fn as_ms_f64(self) -> f64 {
        self.0 as f64 / 1e6
    }

    /// The span without its sign; the ends saturate.
    pub const fn abs(self) -> Self {
        Self(self.0.saturating_abs())
    }

    /// Half the span, rounded towards zero.
    pub const fn half(self) -> Self {
        Self(self.0 / 2)
    }

    /// The span as whole thousandths of a second, rounded towards minus infinity: a red light
    /// (any negative time) never prints as .000.
    pub const fn floor_thousandths(self) -> i64 {
        self.0.div_euclid(1_000_000)
    }
}

impl fmt::Display for Span {
    /// The trade's way of writing a time: `.012`, `1.500`, `-.001`; floored to thousandths.
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        let thousandths = self.floor_thousandths();
        let sign = if thousandths < 0 { "-" } else { "" };
        let magnitude = thousandths.unsigned_abs();
        let (whole, part) = (magnitude / 1000, magnitude % 1000);
        if whole == 0 {
            write!(f, "{sign}.{part:03}")
        } else {
            write!(f, "{sign}{whole}.{part:03}")
        }
    }
}

impl Add<Span> for Mark {
    type Output = Mark;
    fn add(self, rhs: Span) -> Mark {
        Mark(self.0.saturating_add(rhs.0))
    }
}

impl Sub<Span> for Mark {
    type Output = Mark;
    fn sub(self, rhs: Span) -> Mark {
        Mark(self.0.saturating_sub(rhs.0))
    }
}

impl Sub for Mark {
    type Output = Span;
    fn sub(self, rhs: Mark) -> Span {
        Span(self.0.saturating_sub(rhs.0))
    }
}

impl Add for Span {
    type Output = Span;
    fn add(self, rhs: Span) -> Span {
        Span(self.0.saturating_add(rhs.0))
    }
}

impl AddAssign for Span {
    fn add_assign(&mut self, rhs: Span) {
        *self = *self + rhs;
    }
}

impl Sub for Span {
    type Output = Span;
    fn sub(self, rhs: Span) -> Span {
        Span(self.0.saturating_sub(rhs.0))
    }
}

impl Neg for Span {
    type Output = Span;
    fn neg(self) -> Span {
        Span(self.0.saturating_neg())
    }
}

impl Mul<i64> for Span {
    type Output = Span;
    fn mul(self, rhs: i64) -> Span {
        Span(self.0.saturating_mul(rhs))
    }
}

impl Sum for Span {
    fn sum<I: Iterator<Item = Span>>(iter: I) -> Span {
        iter.fold(Span::ZERO, Add::add)
    }
}

/// A moment with its doubt: it happened no earlier than `earliest`, no later than `latest`, and
/// `best` is the one mark to compute with. Always `earliest ≤ best ≤ latest`.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash)]
pub struct Stamp {
    earliest: Mark,
    best: Mark,
    latest: Mark,
}

impl Stamp {
    /// A stamp from two limits in either order; `best` is pulled inside them.
    pub fn new(earliest: Mark, best: Mark, latest: Mark) -> Self {
        let (low, high) = (earliest.min(latest), earliest.max(latest));
        Self { earliest: low, best: best.clamp(low, high), latest: high }
    }

    /// A stamp without doubt.
    pub fn exact(mark: Mark) -> Self {
        Self { earliest: mark, best: mark, latest: mark }
    }

    /// A stamp known only to lie between two marks; `best` is the middle.
    pub fn between(earliest: Mark, latest: Mark) -> Self {
        Self::new(earliest, earliest + (latest - earliest).half(), latest)
    }

    /// A stamp `half_width` to either side of `best`.
    pub fn around(best: Mark, half_width: Span) -> Self {
        Self::new(best - half_width, best, best + half_width)
    }

    /// It happened no earlier than this.
    pub fn earliest(self) -> Mark {
        self.earliest
    }

    /// The mark to compute with.
    pub fn best(self) -> Mark {
        self.best
    }

    /// It happened no later than this.
    pub fn latest(self) -> Mark {
        self.latest
    }

    /// From the earliest to the latest mark.
    pub fn width(self) -> Span {
        self.latest - self.earliest
    }

    /// What both stamps allow, computing with `self.best` where it still fits; `None` where the
    /// two contradict each other.
    pub fn intersect(self, other: Stamp) -> Option<Stamp> {
        let earliest = self.earliest.max(other.earliest);
        let latest = self.latest.min(other.latest);
        (earliest <= latest).then(|| Stamp::new(earliest, self.best, latest))
    }
}

impl Add<Span> for Stamp {
    type Output = Stamp;
    fn add(self, rhs: Span) -> Stamp {
        Stamp { earliest: self.earliest + rhs, best: self.best + rhs, latest: self.latest + rhs }
    }
}

/// A value with its standard deviation, in the unit the holder's name ends in.
#[derive(Debug, Clone, Copy, PartialEq, Default)]
pub struct Measured {
    /// The value to compute with.
    pub value: f64,
    /// One standard deviation of doubt about it, ≥ 0.
    pub sd: f64,
}

impl Measured {
    /// A value and the doubt about it.
    pub const fn new(value: f64, sd: f64) -> Self {
        Self { value, sd }
    }
}

/// A length in inches, the unit the start line is measured in.
#[derive(Debug, Clone, Copy, PartialEq, PartialOrd, Default)]
pub struct Inches(pub f64);

impl Inches {
    /// Metres in one inch, exact by definition (international inch, 1959).
    pub const METRES: f64 = 0.0254;

    /// The length in metres.
    pub fn metres(self) -> f64 {
        self.0 * Self::METRES
    }

    /// The length in feet.
    pub fn feet(self) -> f64 {
        self.0 / 12.0
    }

    /// A length given in metres.
    pub fn from_metres(metres: f64) -> Self {
        Self(metres / Self::METRES)
    }
}

impl Add for Inches {
    type Output = Inches;
    fn add(self, rhs: Inches) -> Inches {
        Inches(self.0 + rhs.0)
    }
}

impl Sub for Inches {
    type Output = Inches;
    fn sub(self, rhs: Inches) -> Inches {
        Inches(self.0 - rhs.0)
    }
}

impl Neg for Inches {
    type Output = Inches;
    fn neg(self) -> Inches {
        Inches(-self.0)
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_red_light_of_any_size_never_prints_as_zero() {
        assert_eq!(Span::from_us(-400).to_string(), "-.001");
        assert_eq!(Span::from_ns(-1).to_string(), "-.001");
        assert_eq!(Span::ZERO.to_string(), ".000");
        assert_eq!(Span::from_ns(999_999).to_string(), ".000");
        assert_eq!(Span::from_ms(-33).to_string(), "-.033");
    }

    #[test]
    fn times_of_a_second_and_more_keep_their_whole_part() {
        assert_eq!(Span::from_ms(1500).to_string(), "1.500");
        assert_eq!(Span::from_us(-1_000_400).to_string(), "-1.001");
    }

    #[test]
    fn stamps_that_contradict_each_other_have_no_intersection() {
        let a = Stamp::between(Mark::from_ns(0), Mark::from_ns(10));
        let b = Stamp::between(Mark::from_ns(11), Mark::from_ns(20));
        assert_eq!(a.intersect(b), None);
        let c = Stamp::between(Mark::from_ns(8), Mark::from_ns(20));
        let both = a.intersect(c).expect("they overlap from 8 to 10");
        assert_eq!((both.earliest().ns(), both.best().ns(), both.latest().ns()), (8, 8, 10));
    }

    #[test]
    fn a_stamp_is_always_in_order() {
        let s = Stamp::new(Mark::from_ns(20), Mark::from_ns(30), Mark::from_ns(10));
        assert_eq!((s.earliest().ns(), s.best().ns(), s.latest().ns()), (10, 20, 20));
    }
}
