//! A number with its interval, level and count.
//!
//! Owns the only shape in which a statistic leaves the room. Refuses bare numbers.

/// An estimate and the interval about it.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Estimate {
    /// The value to show.
    pub value: f64,
    /// Lower limit.
    pub low: f64,
    /// Upper limit.
    pub high: f64,
    /// Chance, before the data were seen, that limits made this way hold the truth; 0–1.
    pub level: f64,
    /// Values it rests on.
    pub n: usize,
}
