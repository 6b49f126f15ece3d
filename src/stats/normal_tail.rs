//! The chance of a value below a line if the values were exactly normal.
//!
//! Owns the interval that is exact then, as a measure for intervals that do not lean on it. Refuses
//! to be a risk: real launches are not normal, and for them this is far too sure of itself.

use super::numeric::{gauss_legendre, root, within};
use super::special::normal_cdf;
use super::{Estimate, StatsError};
use statrs::distribution::{ContinuousCDF, StudentsT};
use statrs::function::gamma::ln_gamma;

/// Nodes of the integral over the unknown spread.
const NODES: usize = 200;
/// Standard deviations to either side that the integral reaches.
const REACH: f64 = 12.0;

/// P(X < c) of a normal law known from a sample.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct NormalTail {
    /// Φ((c − x̄)/s) with the exact interval.
    pub estimate: Estimate,
    /// The chance of the next value, T((c − x̄)/(s·√(1 + 1/n))) on n − 1 degrees of freedom: what is not
    /// known included.
    pub predictive: f64,
}

/// P(X < c) for `n` independent normal values with `mean` x̄ and standard deviation `sd` s (divisor
/// n − 1), all in one unit.
///
/// With k = (c − x̄)/s, W ~ χ² on n − 1 degrees of freedom and Z standard normal, the limits are Φ of the
/// quantiles of k·√(W/(n − 1)) + Z/√n: the interval from Student's noncentral law (and the posterior
/// under the prior 1/σ), which holds the truth exactly as often as it says.
///
/// x̄ .045, s .025, c 0, n 20 at 90 %: .0084814997 to .1184253102 (scipy 1.17.1, `nct`).
///
/// ```
/// let tail = lastamber::stats::normal_tail(20, 0.045, 0.025, 0.0, 0.90)?;
/// assert!((tail.estimate.low - 0.0084814997).abs() < 1e-10);
/// # Ok::<(), lastamber::stats::StatsError>(())
/// ```
///
/// # Errors
/// [`StatsError::TooFew`] below two values; [`StatsError::OutOfDomain`] for a level outside
/// 0.5..=0.999, an sd that is not positive, or a line further than 1 000 of them away.
pub fn normal_tail(
    n: usize,
    mean: f64,
    sd: f64,
    line: f64,
    level: f64,
) -> Result<NormalTail, StatsError> {
    if n < 2 {
        return Err(StatsError::TooFew { have: n, need: 2 });
    }
    let level = within("level", level, 0.5, 0.999, "0.5..=0.999")?;
    let sd = within("sd", sd, f64::MIN_POSITIVE, 1e100, "the positive numbers to 1e100")?;
    let k = within("line in sds", (line - mean) / sd, -1e3, 1e3, "-1000..=1000")?;
    let freedom = (n - 1) as f64;
    let root_n = (n as f64).sqrt();
    let spreads = spread_nodes(freedom);
    let below = |q: f64| -> f64 {
        spreads.iter().map(|(u, weight)| weight * normal_cdf(root_n * (q - k * u))).sum()
    };
    let reach = REACH * (1.0 / root_n + k.abs() / (2.0 * freedom).sqrt()) + k.abs();
    let limit = |tail: f64| {
        root(|q| below(q) - tail, -reach, reach).ok_or(StatsError::NoFit("the interval has no end"))
    };
    let tail = 0.5 * (1.0 - level);
    let (low, high) = (limit(tail)?, limit(1.0 - tail)?);
    let student = StudentsT::new(0.0, 1.0, freedom).map_err(|_| StatsError::NoSpread)?;
    let estimate =
        Estimate { value: normal_cdf(k), low: normal_cdf(low), high: normal_cdf(high), level, n };
    Ok(NormalTail { estimate, predictive: student.cdf(k / (1.0 + 1.0 / n as f64).sqrt()) })
}

/// Nodes u and weights of the law of √(W/ν), W ~ χ² on ν degrees of freedom: density
/// 2·(ν/2)^(ν/2)·u^(ν−1)·exp(−ν·u²/2)/Γ(ν/2).
fn spread_nodes(freedom: f64) -> Vec<(f64, f64)> {
    let half = 0.5 * freedom;
    let constant = std::f64::consts::LN_2 + half * half.ln() - ln_gamma(half);
    let spread = REACH / (2.0 * freedom).sqrt();
    let nodes = gauss_legendre(NODES, (1.0 - spread).max(0.0), 1.0 + spread);
    let density = |u: f64| (constant + (freedom - 1.0) * u.ln() - half * u * u).exp();
    nodes.into_iter().map(|(u, weight)| (u, weight * density(u))).collect()
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn the_exact_intervals_are_those_of_the_noncentral_t() {
        // scipy 1.17.1: x̄ .045, s .025, P(X < 0), two-sided 80, 90 and 95 %.
        let table = [
            (
                5,
                [
                    0.0036271193,
                    0.2307234218,
                    0.0014021227,
                    0.3113335491,
                    0.0005653473,
                    0.3872807661,
                ],
            ),
            (
                10,
                [
                    0.0075445969,
                    0.1387292111,
                    0.0042438180,
                    0.1818819691,
                    0.0024848986,
                    0.2246181110,
                ],
            ),
            (
                20,
                [
                    0.0122488690,
                    0.0950429615,
                    0.0084814997,
                    0.1184253102,
                    0.0060642333,
                    0.1415062040,
                ],
            ),
            (
                50,
                [
                    0.0184510823,
                    0.0671555832,
                    0.0149127775,
                    0.0784087750,
                    0.0123205771,
                    0.0892085599,
                ],
            ),
            (
                200,
                [
                    0.0258937628,
                    0.0493502843,
                    0.0234601973,
                    0.0536924709,
                    0.0215031461,
                    0.0576869298,
                ],
            ),
        ];
        let predictive = [0.0878465543, 0.0601267054, 0.0475439040, 0.0404512795, 0.0370443088];
        for ((n, limits), predictive) in table.into_iter().zip(predictive) {
            for (level, limits) in [0.8, 0.9, 0.95].into_iter().zip(limits.chunks(2)) {
                let found = normal_tail(n, 0.045, 0.025, 0.0, level).unwrap();
                for (got, want) in [
                    (found.estimate.low, limits[0]),
                    (found.estimate.high, limits[1]),
                    (found.estimate.value, 0.035_930_319_1),
                    (found.predictive, predictive),
                ] {
                    assert!((got - want).abs() < 1.1e-10, "n {n}, {level}: {got} is not {want}");
                }
            }
        }
    }

    #[test]
    fn both_sides_mirror_each_other() {
        let below = normal_tail(12, 0.2, 0.03, 0.17, 0.9).unwrap().estimate;
        let above = normal_tail(12, -0.2, 0.03, -0.17, 0.9).unwrap().estimate;
        assert!((below.low + above.high - 1.0).abs() < 1e-12);
        assert!((below.value + above.value - 1.0).abs() < 1e-12);
    }

    #[test]
    fn senseless_questions_are_refused() {
        assert!(normal_tail(1, 0.2, 0.03, 0.0, 0.9).is_err());
        for (sd, line, level) in [(0.0, 0.0, 0.9), (0.03, f64::NAN, 0.9), (0.03, 0.0, 1.0)] {
            assert!(normal_tail(9, 0.2, sd, line, level).is_err(), "{sd} {line} {level}");
        }
        let far = normal_tail(2, 0.0, 1e-3, 0.9, 0.999).unwrap();
        assert!(far.estimate.low <= far.estimate.high && far.predictive > 0.9);
    }
}
