//! The likelihood of two parts, its slope, and the coordinates a search moves in.
//!
//! Owns one pass over standardised values, or over bins of them. Refuses to search. Densities come from the table of the
//! Mills ratio; a value neither part would expect is asked of the family itself, in logarithms.

use super::super::bins::{Bin, Bins};
use crate::stats::family::{AnticipateReact, Distribution};
use crate::stats::mills_table::MillsTable;
use crate::stats::special::FRAC_1_SQRT_2PI;

/// Spreads stay above this share of the sample's: else a part could collapse on one launch and the
/// likelihood would have no end (Kiefer & Wolfowitz 1956). Chosen.
pub(super) const SPREAD_FLOOR: f64 = 0.05;
/// The exponential part may be as good as absent.
pub(super) const TAU_FLOOR: f64 = 1e-3;
/// Densities below this are left to logarithms: eight others multiply without leaving the range.
const SMALLEST: f64 = 1e-30;

/// Where a search is: logit of the share, mean, ln(sd − floor), mu, ln(sigma − floor),
/// ln(tau − floor).
pub(super) type Point = [f64; 6];

/// Parameters, in the family's order, at a point, and their derivatives in its coordinates.
pub(super) fn parameters(point: &Point) -> ([f64; 6], Point) {
    let [logit, mean, sd, mu, sigma, tau] = *point;
    let share = 1.0 / (1.0 + (-logit).exp());
    let slopes = [share * (1.0 - share), 1.0, sd.exp(), 1.0, sigma.exp(), tau.exp()];
    let above = |i: usize, floor: f64| floor + slopes[i];
    let (sd, sigma, tau) = (above(2, SPREAD_FLOOR), above(4, SPREAD_FLOOR), above(5, TAU_FLOOR));
    ([share, mean, sd, mu, sigma, tau], slopes)
}

/// The point of parameters; what lies at its floor is moved a little off it.
pub(super) fn point(p: &[f64; 6]) -> Point {
    let above = |value: f64, floor: f64| (value - floor).max(1e-3).ln();
    let logit = (p[0] / (1.0 - p[0])).ln();
    [
        logit,
        p[1],
        above(p[2], SPREAD_FLOOR),
        p[3],
        above(p[4], SPREAD_FLOOR),
        above(p[5], TAU_FLOOR),
    ]
}

/// Minus the ln-likelihood and its slope in the coordinates.
///
/// With c the chance that a value x came from the normal part, u = (x − mean)/sd, z = (x − mu)/sigma,
/// r = sigma/tau and h = 1/m(r − z), x adds c − share, c·u/sd, c·(u² − 1)/sd, and 1 − c times
/// (r − h)/sigma, (r² − h·(r + z))/sigma, (r·(z − r + h) − 1)/tau to the slopes of the ln-likelihood
/// in (logit of the share, mean, sd, mu, sigma, tau).
pub(super) fn minus_ln_likelihood(values: &[f64], at: &Point) -> (f64, Point) {
    let Some(parts) = Parts::new(at) else { return (f64::INFINITY, *at) };
    let (mut sum, mut slope) = (0.0, [0.0; 6]);
    for chunk in values.chunks(8) {
        let mut product = 1.0;
        for x in chunk {
            let term = parts.term(*x);
            match term.density {
                Some(density) => product *= density,
                None => sum += parts.law.ln_pdf(*x),
            }
            slope.iter_mut().zip(term.slope).for_each(|(slope, of_one)| *slope += of_one);
        }
        sum += product.ln();
    }
    parts.turned(sum, slope, values.len() as f64)
}

/// The same of sorted values that stand in bins: each counts as the mean of its bin.
pub(super) fn minus_ln_likelihood_of(bins: &Bins, at: &Point) -> (f64, Point) {
    let Some(parts) = Parts::new(at) else { return (f64::INFINITY, *at) };
    let (mut sum, mut slope) = (0.0, [0.0; 6]);
    for Bin { mean, count } in &bins.bins {
        let term = parts.term(*mean);
        sum += count * term.density.map_or_else(|| parts.law.ln_pdf(*mean), f64::ln);
        slope.iter_mut().zip(term.slope).for_each(|(slope, of_one)| *slope += count * of_one);
    }
    parts.turned(sum, slope, bins.values)
}

/// Two parts at a point, ready to be asked of values.
struct Parts {
    law: AnticipateReact,
    p: [f64; 6],
    chain: Point,
    table: &'static MillsTable,
    per_sd: f64,
    per_sigma: f64,
    /// sigma/tau.
    r: f64,
    /// The parts' densities are these times a bell, and times a bell and a Mills ratio.
    heights: (f64, f64),
}

/// What one value adds.
struct Term {
    /// f(x); `None` where only its logarithm is within reach.
    density: Option<f64>,
    /// The slopes, before the scales of [`Parts::turned`].
    slope: Point,
}

impl Parts {
    fn new(at: &Point) -> Option<Self> {
        let (p, chain) = parameters(at);
        let law = AnticipateReact::from_parameters(&p).ok()?;
        let [share, _, sd, _, sigma, tau] = p;
        let (per_sd, per_sigma, r) = (1.0 / sd, 1.0 / sigma, sigma / tau);
        let heights = (share * per_sd * FRAC_1_SQRT_2PI, (1.0 - share) / tau);
        Some(Self { law, p, chain, table: MillsTable::get(), per_sd, per_sigma, r, heights })
    }

    #[inline(always)]
    fn term(&self, x: f64) -> Term {
        let [_, mean, _, mu, _, _] = self.p;
        let ((high_a, high_b), r) = (self.heights, self.r);
        let (u, z) = ((x - mean) * self.per_sd, (x - mu) * self.per_sigma);
        let y = r - z;
        let a = high_a * (-0.5 * u * u).exp();
        let (b, h) = if y > -5.0 {
            let m = self.table.mills(y);
            (high_b * FRAC_1_SQRT_2PI * (-0.5 * z * z).exp() * m, 1.0 / m)
        } else {
            // φ(z)·m(y) = exp(r²/2 − r·z)·Φ(−y): here both factors are tame.
            let (below, hazard) = self.table.far_left(y);
            (high_b * (r * (0.5 * r - z)).exp() * below, hazard)
        };
        let both = a + b;
        let density = (both > SMALLEST).then_some(both);
        let chance = density.map_or_else(|| self.law.guess_probability(x), |both| a / both);
        let rest = 1.0 - chance;
        let slope = [
            chance,
            chance * u,
            chance * (u * u - 1.0),
            rest * (r - h),
            rest * (r * r - h * (r + z)),
            rest * (r * (z - r + h) - 1.0),
        ];
        Term { density, slope }
    }

    /// The sums of `n` values' terms, as height and slope of what is to be small.
    fn turned(&self, sum: f64, mut slope: Point, n: f64) -> (f64, Point) {
        let (per_sd, per_sigma, chain) = (self.per_sd, self.per_sigma, &self.chain);
        slope[0] -= self.p[0] * n;
        let per_tau = 1.0 / self.p[5];
        let scales =
            [1.0, per_sd, chain[2] * per_sd, per_sigma, chain[4] * per_sigma, chain[5] * per_tau];
        (-sum, std::array::from_fn(|i| -slope[i] * scales[i]))
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    const VALUES: [f64; 10] = [-1.3, -1.1, -0.6, -0.4, -0.1, 0.0, 0.4, 0.9, 2.2, 60.0];
    const AT: Point = [0.3, -0.8, -0.5, 0.4, -0.9, -0.3];

    #[test]
    fn the_height_is_the_sum_of_log_densities() {
        let law = AnticipateReact::from_parameters(&parameters(&AT).0).unwrap();
        let sum: f64 = VALUES.iter().map(|x| law.ln_pdf(*x)).sum();
        assert!((minus_ln_likelihood(&VALUES, &AT).0 + sum).abs() < 1e-11);
    }

    #[test]
    fn bins_of_one_value_each_are_the_values() {
        let bins = Bins::new(&VALUES, 0.0);
        let (height, slope) = minus_ln_likelihood(&VALUES, &AT);
        let (same, also) = minus_ln_likelihood_of(&bins, &AT);
        assert!((height - same).abs() < 1e-11, "{height} {same}");
        assert!(slope.iter().zip(also).all(|(a, b)| (a - b).abs() < 1e-11), "{slope:?} {also:?}");
    }

    #[test]
    fn the_slope_is_the_slope() {
        let (_, slope) = minus_ln_likelihood(&VALUES, &AT);
        for d in 0..6 {
            let moved = |h: f64| {
                let mut at = AT;
                at[d] += h;
                minus_ln_likelihood(&VALUES, &at).0
            };
            let difference = (moved(1e-5) - moved(-1e-5)) / 2e-5;
            assert!((difference - slope[d]).abs() < 1e-6 * (1.0 + slope[d].abs()), "{d}");
        }
    }

    #[test]
    fn a_point_and_its_parameters_fit_together() {
        let (p, _) = parameters(&AT);
        for (back, at) in point(&p).iter().zip(AT) {
            assert!((back - at).abs() < 1e-12);
        }
    }
}
