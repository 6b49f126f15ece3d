//! What the counts alone say of a chance.
//!
//! Owns the exact interval of Clopper and Pearson and the counting of launches below a line, with
//! scatter where there is some. Refuses models.

use super::mills::Mills;
use crate::stats::{Estimate, StatsError};
use statrs::function::beta::beta_reg;

/// `k` of `n` with the exact interval of Clopper & Pearson (1934): the limits are the chances under
/// which `k` or more (or `k` or fewer) would happen with probability (1 − level)/2, quantiles of
/// Beta(k, n − k + 1) and Beta(k + 1, n − k). It holds the truth at least as often as it says.
///
/// # Errors
/// [`StatsError::TooFew`] for `n` = 0, [`StatsError::OutOfDomain`] for `k` > `n` or a level outside
/// 0–1.
pub fn count_interval(k: usize, n: usize, level: f64) -> Result<Estimate, StatsError> {
    if n == 0 {
        return Err(StatsError::TooFew { have: 0, need: 1 });
    }
    if k > n {
        return Err(StatsError::OutOfDomain { name: "count", value: k as f64, domain: "0 to n" });
    }
    check_level(level)?;
    let tail = (1.0 - level) / 2.0;
    let (kf, rest) = (k as f64, (n - k) as f64);
    let low = if k == 0 { 0.0 } else { beta_quantile(kf, rest + 1.0, tail) };
    let high = if k == n { 1.0 } else { beta_quantile(kf + 1.0, rest, 1.0 - tail) };
    Ok(Estimate { value: kf / n as f64, low, high, level, n })
}

/// A level an interval can have.
pub(super) fn check_level(level: f64) -> Result<(), StatsError> {
    if level > 0.0 && level < 1.0 {
        Ok(())
    } else {
        Err(StatsError::OutOfDomain {
            name: "level",
            value: level,
            domain: "0 to 1, both excluded",
        })
    }
}

/// x with I_x(a, b) = q: regula falsi with the Illinois rule inside a shrinking bracket.
fn beta_quantile(a: f64, b: f64, q: f64) -> f64 {
    let (mut low, mut high) = (0.0_f64, 1.0_f64);
    let (mut below, mut above) = (-q, 1.0 - q);
    // Bisection first: a quantile near an end makes straight lines useless.
    for _ in 0..6 {
        let middle = 0.5 * (low + high);
        let at = beta_reg(a, b, middle) - q;
        if at < 0.0 { (low, below) = (middle, at) } else { (high, above) = (middle, at) }
    }
    let mut last_low = None;
    for _ in 0..200 {
        if high - low <= 1e-15 + 4e-16 * high {
            break;
        }
        let secant = low - below * (high - low) / (above - below);
        let x = if secant > low && secant < high { secant } else { 0.5 * (low + high) };
        let at = beta_reg(a, b, x) - q;
        if at == 0.0 {
            return x;
        }
        let is_low = at < 0.0;
        let repeated = last_low == Some(is_low);
        if is_low {
            (low, below) = (x, at);
            above *= if repeated { 0.5 } else { 1.0 };
        } else {
            (high, above) = (x, at);
            below *= if repeated { 0.5 } else { 1.0 };
        }
        last_low = Some(is_low);
    }
    0.5 * (low + high)
}

/// How many of the values lie below a line, as a function of the line.
pub(super) enum Counts<'a> {
    /// Without scatter.
    Hard(&'a [f64]),
    /// With normal scatter: the expected number, on a grid of lines, straight between.
    Soft { from: f64, per_step: f64, at: Vec<f64> },
}

/// A soft count looks at no more values than this many blocks of them.
const MOST_BLOCKS: usize = 1024;

impl<'a> Counts<'a> {
    /// Counts over `sorted` for lines between `from` and `to`, with scatter `sd`.
    pub fn new(sorted: &'a [f64], sd: f64, from: f64, to: f64) -> Self {
        if sd <= 0.0 {
            return Self::Hard(sorted);
        }
        let size = sorted.len().div_ceil(MOST_BLOCKS);
        let step = (sd / 4.0).max((to - from) / 2000.0);
        let cells = ((to - from) / step).ceil() as usize + 1;
        let mills = Mills::get();
        let at = (0..=cells).map(|i| {
            let line = from + i as f64 * step;
            let reach = 8.0 * sd;
            let first = sorted.partition_point(|x| *x < line - reach) / size * size;
            let mut count = first as f64;
            for block in sorted[first..].chunks(size) {
                let middle = block[block.len() / 2];
                if middle > line + reach {
                    break;
                }
                count += block.len() as f64 * mills.normal_cdf((line - middle) / sd);
            }
            count
        });
        Self::Soft { from, per_step: 1.0 / step, at: at.collect() }
    }

    /// The number below `line`.
    pub fn below(&self, line: f64) -> f64 {
        match self {
            Self::Hard(sorted) => sorted.partition_point(|x| *x < line) as f64,
            Self::Soft { from, per_step, at } => {
                let place = ((line - from) * per_step).max(0.0);
                let cell = (place as usize).min(at.len() - 2);
                let t = (place - cell as f64).min(1.0);
                at[cell] + t * (at[cell + 1] - at[cell])
            }
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn the_exact_intervals_are_the_published_ones() {
        // Clopper–Pearson by scipy 1.17.1 (beta.ppf): k, n, level, low, high.
        let rows = [
            (0, 10, 0.90, 0.0, 0.258_865_550_9),
            (0, 10, 0.95, 0.0, 0.308_497_107_8),
            (1, 10, 0.95, 0.002_528_578_5, 0.445_016_117_0),
            (1, 20, 0.90, 0.002_561_378_8, 0.216_106_164_2),
            (3, 50, 0.90, 0.016_551_859_2, 0.147_837_176_4),
            (3, 50, 0.95, 0.012_548_587_8, 0.165_481_946_6),
            (0, 50, 0.95, 0.0, 0.071_121_736_5),
            (10, 200, 0.95, 0.024_234_165_5, 0.090_027_537_7),
            (2, 200, 0.90, 0.001_779_681_4, 0.031_142_599_4),
        ];
        for (k, n, level, low, high) in rows {
            let got = count_interval(k, n, level).unwrap();
            assert!((got.low - low).abs() < 1e-10, "{k}/{n}: {}", got.low);
            assert!((got.high - high).abs() < 1e-10, "{k}/{n}: {}", got.high);
        }
    }

    #[test]
    fn all_and_none_mirror_each_other() {
        for n in [1, 7, 300, 1_000_000] {
            let (none, all) =
                (count_interval(0, n, 0.9).unwrap(), count_interval(n, n, 0.9).unwrap());
            assert!((none.high - (1.0 - all.low)).abs() < 1e-12);
            // 1 − (1 − p)ⁿ = .95 at the upper limit of none.
            assert!((none.high - (1.0 - 0.05_f64.powf(1.0 / n as f64))).abs() < 1e-12);
        }
    }

    #[test]
    fn senseless_questions_are_refused() {
        assert!(count_interval(0, 0, 0.9).is_err());
        assert!(count_interval(3, 2, 0.9).is_err());
        assert!(count_interval(1, 2, 1.0).is_err());
        assert!(count_interval(1, 2, f64::NAN).is_err());
    }

    #[test]
    fn soft_counts_are_the_expected_ones() {
        let sorted: Vec<f64> = (0..5000).map(|i| f64::from(i) * 0.02).collect();
        let soft = Counts::new(&sorted, 5.0, -30.0, 130.0);
        let mills = Mills::get();
        for line in [-30.0, -3.0, 0.4, 50.0, 99.0, 130.0] {
            let want: f64 = sorted.iter().map(|x| mills.normal_cdf((line - x) / 5.0)).sum();
            assert!((soft.below(line) - want).abs() < 3.0, "{line}: {}", soft.below(line));
        }
        assert_eq!(Counts::new(&sorted, 0.0, 0.0, 1.0).below(0.02), 1.0);
    }
}
