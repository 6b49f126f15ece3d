//! What came, held against what was expected.
//!
//! Owns the score of one forecast and the board over many. Refuses forecasts that were made after
//! their first launch.
//!
//! With k reds in n starts and a rate known as Beta(a, b), k follows the beta-binomial law
//! C(n, k) B(k + a, n − k + b)/B(a, b); a **hit** is a k between its 5 % and 95 % points. The **Brier
//! score** (Brier 1950) is the mean of (p − red)² over starts, 0 at best.

use super::forecast::{Forecast, Occasion};
use crate::stats::Estimate;
use crate::stats::risk::count_interval;
use crate::strategy::StrategyError;
use crate::trial::Id;
use statrs::function::beta::ln_beta;
use statrs::function::factorial::ln_binomial;

/// Share of the beta-binomial law outside a hit, at either end.
const TAIL: f64 = 0.05;
/// Level of the board's intervals.
const LEVEL: f64 = 0.90;
/// Bands of forecast risk.
const BANDS: [(f64, f64); 5] =
    [(0.0, 0.02), (0.02, 0.05), (0.05, 0.10), (0.10, 0.20), (0.20, 1.01)];

/// What came of the launches that were forecast.
#[derive(Debug, Clone, PartialEq)]
pub struct Came<'a> {
    /// Id of the first launch, ordered by time.
    pub first_id: Id,
    /// Lights of all starts that had one, s.
    pub lights_s: &'a [f64],
    /// Starts before the tree came down: red.
    pub left_before_tree: usize,
    /// Starts without a launch.
    pub lapses: usize,
}

/// The score of one forecast.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Score {
    /// Home or track.
    pub occasion: Occasion,
    /// The risk that was forecast.
    pub forecast: f64,
    /// Starts.
    pub starts: usize,
    /// Reds among them.
    pub reds: usize,
    /// Reds that would have been a hit, from and to.
    pub expected_reds: (usize, usize),
    /// Whether they were.
    pub hit: bool,
    /// Brier score of the risk.
    pub brier: f64,
    /// Lights that fell into the forecast interval, and lights.
    pub inside: (usize, usize),
}

/// The score of a forecast; `None` while nothing came.
///
/// # Errors
/// [`StrategyError::MadeTooLate`] for a forecast that is not older than the first launch.
pub fn score(forecast: &Forecast, came: &Came) -> Result<Option<Score>, StrategyError> {
    let own_id = Id::from(forecast.declared.id.as_str());
    if own_id >= came.first_id {
        return Err(StrategyError::MadeTooLate { id: forecast.declared.id.clone() });
    }
    let starts = came.lights_s.len() + came.left_before_tree + came.lapses;
    if starts == 0 {
        return Ok(None);
    }
    let red = came.lights_s.iter().filter(|x| **x < 0.0).count();
    let reds = red + came.left_before_tree;
    let expected_reds = central_counts(starts, forecast.red.beta);
    let p = forecast.red.estimate.value;
    let (k, n) = (reds as f64, starts as f64);
    let (low, high) = forecast.lights_s;
    let inside = came.lights_s.iter().filter(|x| (low..=high).contains(*x)).count();
    Ok(Some(Score {
        occasion: forecast.declared.occasion,
        forecast: p,
        starts,
        reds,
        expected_reds,
        hit: (expected_reds.0..=expected_reds.1).contains(&reds),
        brier: (k * (1.0 - p).powi(2) + (n - k) * p * p) / n,
        inside: (inside, came.lights_s.len()),
    }))
}

/// The counts between the 5 % and the 95 % point of the beta-binomial law.
fn central_counts(n: usize, (a, b): (f64, f64)) -> (usize, usize) {
    let ln_share = |k: usize| {
        let (kf, rest) = (k as f64, (n - k) as f64);
        ln_binomial(n as u64, k as u64) + ln_beta(kf + a, rest + b) - ln_beta(a, b)
    };
    let (mut sum, mut low, mut high) = (0.0, None, n);
    for k in 0..=n {
        sum += ln_share(k).exp();
        if low.is_none() && sum > TAIL {
            low = Some(k);
        }
        if sum >= 1.0 - TAIL {
            high = k;
            break;
        }
    }
    (low.unwrap_or(0), high)
}

/// Forecasts of one band of risk together.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Band {
    /// From this risk,
    pub from: f64,
    /// to this.
    pub to: f64,
    /// The mean risk forecast, weighted by starts.
    pub forecast: f64,
    /// What came, with the interval of the counts.
    pub came: Estimate,
}

/// Many scores together.
#[derive(Debug, Clone, PartialEq)]
pub struct Board {
    /// The newest track night, which is shown first, else the newest session.
    pub first: Score,
    /// Forecasts that hit, with the interval of the counts; nine in ten should.
    pub hits: Estimate,
    /// Mean Brier score, weighted by starts.
    pub brier: f64,
    /// Calibration of the risk by bands that have starts.
    pub bands: Vec<Band>,
    /// Lights inside their forecast intervals; nine in ten should be. `None` without lights.
    pub coverage: Option<Estimate>,
}

/// The board over scores in the order of time; `None` without any.
pub fn board(scores: &[Score]) -> Option<Board> {
    let night = scores.iter().rev().find(|s| s.occasion == Occasion::TrackNight);
    let first = *night.or(scores.last())?;
    let hits = scores.iter().filter(|s| s.hit).count();
    let starts: usize = scores.iter().map(|s| s.starts).sum();
    let brier = scores.iter().map(|s| s.brier * s.starts as f64).sum::<f64>() / starts as f64;
    let (inside, lights) =
        scores.iter().fold((0, 0), |sum, s| (sum.0 + s.inside.0, sum.1 + s.inside.1));
    let band = |(from, to): (f64, f64)| {
        let inside = scores.iter().filter(|s| s.forecast >= from && s.forecast < to);
        let (starts, reds, sum) = inside.fold((0, 0, 0.0), |(n, k, sum), s| {
            (n + s.starts, k + s.reds, sum + s.forecast * s.starts as f64)
        });
        let came = count_interval(reds, starts, LEVEL).ok()?;
        Some(Band { from, to: to.min(1.0), forecast: sum / starts as f64, came })
    };
    Some(Board {
        first,
        hits: count_interval(hits, scores.len(), LEVEL).ok()?,
        brier,
        bands: BANDS.into_iter().filter_map(band).collect(),
        coverage: count_interval(inside, lights, LEVEL).ok(),
    })
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn counts_follow_the_beta_binomial_law() {
        // Beta(1, 1): every count of 0…9 is as likely, so 0 to 9 with nothing cut at .10 each.
        assert_eq!(central_counts(9, (1.0, 1.0)), (0, 9));
        // In exact fractions P(K ≤ 0) = .117 and P(K ≤ 7) = .951, P(K ≤ 6) = .915.
        assert_eq!(central_counts(50, (3.0, 47.0)), (0, 7));
        // Almost binomial(20, ½), in exact fractions P(K ≤ 5) = .021, P(K ≤ 6) = .058, P(K ≤ 14) = .979.
        assert_eq!(central_counts(20, (5e5, 5e5)), (6, 14));
    }
}
