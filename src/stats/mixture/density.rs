//! The two-part density, its logarithm and the logarithm's slope.
//!
//! Owns the standardised parameters a search moves in. Refuses to search.

use crate::stats::risk::mills::Mills;

/// ln √(2π).
const LN_SQRT_2PI: f64 = 0.918_938_533_204_672_8;
/// Spreads stay above this share of the sample's SD: else a part could collapse on one launch and
/// the likelihood would have no end. Chosen.
pub(super) const SPREAD_FLOOR: f64 = 0.05;
/// The exponential part may be as good as absent.
const TAU_FLOOR: f64 = 1e-3;

/// Parameters of a search over standardised values.
pub(super) type Point<const D: usize> = [f64; D];

/// ln f and its slopes in (mu, ln sigma, ln tau) of an ex-Gaussian: with z = (x − mu)/sigma,
/// r = sigma/tau, y = r − z and h = 1/m(y): (r − h)/sigma, r² − h (r + z), −1 + r (z − r + h).
fn ex_gauss(mills: Mills, x: f64, mu: f64, sigma: f64, tau: f64) -> (f64, [f64; 3]) {
    let (z, r) = ((x - mu) / sigma, sigma / tau);
    let y = r - z;
    let (ln_f, h) = if y > -5.0 {
        let m = mills.ratio(y);
        (-tau.ln() - 0.5 * z * z - LN_SQRT_2PI + m.ln(), 1.0 / m)
    } else {
        let below = mills.normal_cdf(-y);
        let phi = (-0.5 * y * y - LN_SQRT_2PI).exp();
        (-tau.ln() + r * (0.5 * r - z) + below.ln(), phi / below)
    };
    (ln_f, [(r - h) / sigma, r * r - h * (r + z), -1.0 + r * (z - r + h)])
}

fn normal(x: f64, mean: f64, sd: f64) -> (f64, [f64; 2]) {
    let z = (x - mean) / sd;
    (-0.5 * z * z - sd.ln() - LN_SQRT_2PI, [z / sd, z * z - 1.0])
}

/// mu, sigma, tau of a point (mu, u, v) with sigma = floor + eᵘ, tau = floor + eᵛ, and d ln sigma/du,
/// d ln tau/dv.
pub(super) fn one_part(p: &[f64]) -> ([f64; 3], [f64; 2]) {
    let (a, b) = (p[1].exp(), p[2].exp());
    let (sigma, tau) = (SPREAD_FLOOR + a, TAU_FLOOR + b);
    ([p[0], sigma, tau], [a / sigma, b / tau])
}

/// The point of (mu, sigma, tau).
pub(super) fn one_point(mu: f64, sigma: f64, tau: f64) -> Point<3> {
    [mu, (sigma - SPREAD_FLOOR).max(1e-3).ln(), (tau - TAU_FLOOR).max(1e-3).ln()]
}

/// Minus the log-likelihood of one ex-Gaussian and its gradient.
pub(super) fn one_nll(x: &[f64], p: &Point<3>) -> (f64, Point<3>) {
    let mills = Mills::get();
    let ([mu, sigma, tau], chain) = one_part(p);
    let (mut nll, mut slope) = (0.0, [0.0; 3]);
    for x in x {
        let (ln_f, [a, b, c]) = ex_gauss(mills, *x, mu, sigma, tau);
        nll -= ln_f;
        slope = [slope[0] - a, slope[1] - b * chain[0], slope[2] - c * chain[1]];
    }
    (nll, slope)
}

/// Share, mean and SD of the normal part of a point (logit w, mean, u, mu, v, t).
pub(super) fn normal_part(p: &Point<6>) -> ([f64; 3], f64) {
    let a = p[2].exp();
    ([1.0 / (1.0 + (-p[0]).exp()), p[1], SPREAD_FLOOR + a], a / (SPREAD_FLOOR + a))
}

/// ln of the two-part density, the chance of the normal part, and the slopes of either part.
fn two_terms(
    mills: Mills,
    x: f64,
    [share, mean, sd]: [f64; 3],
    [mu, sigma, tau]: [f64; 3],
) -> (f64, f64, [f64; 2], [f64; 3]) {
    let (ln_a, slope_a) = normal(x, mean, sd);
    let (ln_b, slope_b) = ex_gauss(mills, x, mu, sigma, tau);
    let (a, b) = (share.ln() + ln_a, (1.0 - share).ln() + ln_b);
    let top = a.max(b);
    let other = (a.min(b) - top).exp();
    let chance = if a >= b { 1.0 } else { other } / (1.0 + other);
    (top + other.ln_1p(), chance, slope_a, slope_b)
}

/// Minus the log-likelihood of the two parts and its gradient.
pub(super) fn two_nll(x: &[f64], p: &Point<6>) -> (f64, Point<6>) {
    let mills = Mills::get();
    let (anticipate, chain_a) = normal_part(p);
    let (react, chain_b) = one_part(&p[3..]);
    let (mut nll, mut slope) = (0.0, [0.0; 6]);
    for x in x {
        let (ln_f, chance, a, b) = two_terms(mills, *x, anticipate, react);
        nll -= ln_f;
        let rest = 1.0 - chance;
        slope[0] -= chance - anticipate[0];
        slope[1] -= chance * a[0];
        slope[2] -= chance * a[1] * chain_a;
        slope[3] -= rest * b[0];
        slope[4] -= rest * b[1] * chain_b[0];
        slope[5] -= rest * b[2] * chain_b[1];
    }
    (nll, slope)
}

/// ln of the two-part density at `x` and the chance that it came from the normal part.
pub(super) fn two_at(x: f64, anticipate: [f64; 3], react: [f64; 3]) -> (f64, f64) {
    let (ln_f, chance, ..) = two_terms(Mills::get(), x, anticipate, react);
    (ln_f, chance)
}

#[cfg(test)]
mod tests {
    use super::*;

    fn twenty() -> Vec<f64> {
        let text = include_str!("../../../tests/data/rt20_example.csv");
        text.lines().map(|line| line.trim().parse().unwrap()).collect()
    }

    #[test]
    fn the_likelihood_of_twenty_numbers_is_the_high_precision_one() {
        // mpmath: nll at (30, 18, 15) and its slope in (mu, ln sigma, ln tau).
        let x = twenty();
        let (nll, slope) = one_nll(&x, &one_point(30.0, 18.0, 15.0));
        let (_, chain) = one_part(&one_point(30.0, 18.0, 15.0));
        assert!((nll - 87.701_403_619_330_59).abs() < 1e-6, "{nll}");
        let want = [-0.022_403_776_561_050_3, 3.868_348_429_699_91, 1.563_921_573_718_69];
        for (i, factor) in [1.0, chain[0], chain[1]].iter().enumerate() {
            assert!((slope[i] / factor - want[i]).abs() < 1e-5, "{slope:?}");
        }
    }

    #[test]
    fn the_slope_is_the_slope() {
        let x: Vec<f64> = twenty().iter().map(|x| (x - 44.0) / 19.0).collect();
        let p = [0.3, -0.8, -0.5, 0.4, -0.9, -0.3];
        let (_, slope) = two_nll(&x, &p);
        for d in 0..6 {
            let moved = |h: f64| {
                let mut q = p;
                q[d] += h;
                two_nll(&x, &q).0
            };
            let difference = (moved(1e-4) - moved(-1e-4)) / 2e-4;
            assert!((difference - slope[d]).abs() < 1e-3, "{d}: {difference} {}", slope[d]);
        }
    }
}
