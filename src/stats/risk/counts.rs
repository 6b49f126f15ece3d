//! What the counts alone say of a chance.
//!
//! Owns the exact interval of Clopper and Pearson and the counting of launches below a line, with
//! scatter where there is some. Refuses models.

use super::quick::normal_cdf;
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
pub(super) struct Counts<'a> {
    sorted: &'a [f64],
    from: f64,
    per_step: f64,
    at: Cells,
}

/// What is known at evenly spaced lines.
enum Cells {
    /// Without scatter: the number below each, if so many lines will be asked that it is worth it.
    Hard(Vec<usize>),
    /// With normal scatter: the expected number, straight between.
    Soft(Vec<f64>),
}

/// A soft count looks at no more values than this many blocks of them.
const MOST_BLOCKS: usize = 1024;
/// Most cells.
const MOST_CELLS: usize = 2000;

impl<'a> Counts<'a> {
    /// Counts over `sorted` for about `lines` lines between `from` and `to`, with scatter `sd`.
    pub fn new(sorted: &'a [f64], sd: f64, (from, to): (f64, f64), lines: usize) -> Self {
        let finest = ((to - from) / MOST_CELLS as f64).max(f64::MIN_POSITIVE);
        let step = if sd > 0.0 { finest.max(sd / 4.0) } else { finest };
        let nodes =
            || (0..=((to - from) / step).ceil() as usize + 1).map(|i| from + i as f64 * step);
        let at = if sd > 0.0 {
            Cells::Soft(nodes().map(|line| soft_count(sorted, sd, line)).collect())
        } else if lines > 4 * MOST_CELLS && from < to {
            Cells::Hard(nodes().map(|line| hard_count(sorted, line)).collect())
        } else {
            Cells::Hard(Vec::new())
        };
        Self { sorted, from, per_step: 1.0 / step, at }
    }

    /// The number below `line`.
    pub fn below(&self, line: f64) -> f64 {
        let place = ((line - self.from) * self.per_step).max(0.0);
        match &self.at {
            Cells::Hard(at) if at.len() < 4 => hard_count(self.sorted, line) as f64,
            Cells::Hard(at) => {
                // A node to either side, for the rounding of the place.
                let cell = (place as usize).clamp(1, at.len() - 3);
                let (first, last) = (at[cell - 1], at[cell + 2]);
                (first + hard_count(&self.sorted[first..last], line)) as f64
            }
            Cells::Soft(at) => {
                let cell = (place as usize).min(at.len() - 2);
                let t = (place - cell as f64).min(1.0);
                at[cell] + t * (at[cell + 1] - at[cell])
            }
        }
    }
}

fn hard_count(sorted: &[f64], line: f64) -> usize {
    sorted.partition_point(|x| *x < line)
}

/// The expected number below `line` with scatter `sd`, of blocks of values at their middles.
fn soft_count(sorted: &[f64], sd: f64, line: f64) -> f64 {
    let size = sorted.len().div_ceil(MOST_BLOCKS);
    let reach = 8.0 * sd;
    let first = hard_count(sorted, line - reach) / size * size;
    let mut count = first as f64;
    for block in sorted[first..].chunks(size) {
        let middle = block[block.len() / 2];
        if middle > line + reach {
            break;
        }
        count += block.len() as f64 * normal_cdf((line - middle) / sd);
    }
    count
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
    fn quantiles_of_betas_are_those_of_jeffreys_limits() {
        // scipy 1.17.1: beta(k + ½, n − k + ½) at (1 ∓ level)/2.
        let rows = [
            (0, 10, 0.90, 0.170_773_108_2),
            (0, 10, 0.95, 0.217_196_267_5),
            (1, 10, 0.95, 0.381_314_771_1),
            (1, 20, 0.90, 0.179_555_420_0),
            (3, 50, 0.90, 0.134_416_429_4),
            (3, 50, 0.95, 0.151_532_563_0),
            (0, 50, 0.95, 0.048_758_459_4),
            (10, 200, 0.95, 0.086_875_088_1),
            (2, 200, 0.90, 0.027_398_477_8),
        ];
        for (k, n, level, high) in rows {
            let (a, b) = (f64::from(k) + 0.5, f64::from(n - k) + 0.5);
            let got = beta_quantile(a, b, 0.5 + 0.5 * level);
            assert!((got - high).abs() < 1e-10, "{k}/{n}: {got}");
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
        assert!(count_interval(1, 2, 1.0).is_err() && count_interval(1, 2, 0.0).is_err());
        assert!(count_interval(1, 2, f64::NAN).is_err());
    }

    #[test]
    fn soft_counts_are_the_expected_ones() {
        let sorted: Vec<f64> = (0..5000).map(|i| f64::from(i) * 0.02).collect();
        let soft = Counts::new(&sorted, 5.0, (-30.0, 130.0), 6);
        for line in [-30.0, -3.0, 0.4, 50.0, 99.0, 130.0] {
            let want: f64 = sorted.iter().map(|x| normal_cdf((line - x) / 5.0)).sum();
            assert!((soft.below(line) - want).abs() < 3.0, "{line}: {}", soft.below(line));
        }
    }

    #[test]
    fn hard_counts_are_exact_however_many_are_asked() {
        let sorted: Vec<f64> = (0..5000).map(|i| f64::from(i / 3) * 0.02).collect();
        for lines in [1, 100_000] {
            let counts = Counts::new(&sorted, 0.0, (-1.0, 40.0), lines);
            for i in -80..4200 {
                let line = f64::from(i) * 0.01;
                let want = sorted.iter().filter(|x| **x < line).count() as f64;
                assert_eq!(counts.below(line), want, "{line}");
            }
        }
        assert_eq!(Counts::new(&[0.5], 0.0, (0.0, 0.0), 1_000_000).below(0.7), 1.0);
    }
}
