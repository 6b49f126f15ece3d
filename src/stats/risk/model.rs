//! What a driver part may be: an ex-Gaussian and, for the launch nothing explains, a small wide
//! part beside it.
//!
//! Owns the likelihood, the priors and the start of the search. Refuses the search itself and the
//! counts. Milliseconds inside.
//!
//! f(x) = (1 − ε) exG(x; μ, σ, τ) + ε N(x; c, 150²), with μ ~ N(c, 200²), ln σ ~ N(ln 25, 1),
//! ε ~ Beta(1, 20); c is the centre the prior is told. τ below 0 turns the ex-Gaussian over, for
//! those whose early launches scatter more than their late ones: τ = 5 sinh(s) ms, s ~ N(0.5, 2²),
//! two drivers in five that way; or, right tails only, ln τ ~ N(ln 25, 1.2²). All chosen: wide enough
//! to leave ten launches their say, narrow enough that the likelihood's infinite spikes (σ → 0)
//! weigh nothing.

use super::quick::{BLOCK, Block, ExGauss, in_block, normal_pdf};
use crate::stats::mills_table::MillsTable;

/// Where a point of the four-dimensional posterior lies: μ, ln σ, s (or ln τ), logit ε.
pub(super) type Point = [f64; 4];

/// SD of the wide part, ms.
pub(super) const WIDE_SD_MS: f64 = 150.0;
const MU_SD_MS: f64 = 200.0;
const LN_SCALE_MEAN: f64 = 3.218_875_824_868_201; // ln 25
const LN_SIGMA_SD: f64 = 1.0;
const LN_TAU_SD: f64 = 1.2;
const WIDE_SHARE_B: f64 = 20.0;
/// The wide part's density is never below this, 1/ms: one launch a second off costs as much as one
/// half a second off, so that a lapse does not bend the rest. Chosen: 1 in 1,000 over ten seconds.
const WIDE_FLOOR_PER_MS: f64 = 1e-7;
/// σ and τ below this are the clock's, ms.
const SCALE_FLOOR_MS: f64 = 0.02;

/// Which way the long tail may point.
#[derive(Debug, Clone, Copy, PartialEq)]
pub(super) enum Tail {
    Either,
    Right,
}

/// τ = this · sinh(s), ms: below it a tail hardly shows.
const TAU_UNIT_MS: f64 = 5.0;
const TAIL_MEAN: f64 = 0.5;
const TAIL_SD: f64 = 2.0;

impl Tail {
    fn tau(self, s: f64) -> f64 {
        match self {
            Tail::Either => {
                let tau = TAU_UNIT_MS * s.clamp(-12.0, 12.0).sinh();
                tau.abs().max(SCALE_FLOOR_MS).copysign(tau)
            }
            Tail::Right => s.exp(),
        }
    }

    fn at(self, tau: f64) -> f64 {
        match self {
            Tail::Either => (tau / TAU_UNIT_MS).asinh(),
            Tail::Right => tau.ln(),
        }
    }

    /// Standardised distance from the prior's mean.
    fn prior(self, s: f64) -> f64 {
        match self {
            Tail::Either => (s - TAIL_MEAN) / TAIL_SD,
            Tail::Right => (s - LN_SCALE_MEAN) / LN_TAU_SD,
        }
    }
}

/// One set of parameters a driver may have, ms.
#[derive(Debug, Clone, Copy, PartialEq)]
pub(super) struct Driver {
    pub mu: f64,
    pub sigma: f64,
    pub tau: f64,
    pub wide: f64,
}

impl Driver {
    pub fn at(point: &Point, tail: Tail) -> Self {
        Self {
            mu: point[0],
            sigma: point[1].exp(),
            tau: tail.tau(point[2]),
            wide: 1.0 / (1.0 + (-point[3]).exp()),
        }
    }
}

/// The posterior of one sample.
pub(super) struct Posterior {
    x: Vec<f64>,
    /// The values and the wide part's densities there, in blocks.
    blocks: Vec<(Block, Block)>,
    centre: f64,
    tail: Tail,
    /// Effective number of values over their number: the power the likelihood is raised to.
    power: f64,
    /// Variance the clock adds to each value, ms².
    clock_variance: f64,
}

impl Posterior {
    /// `x` sorted, so that the order of the launches cannot matter.
    pub fn new(x: Vec<f64>, centre: f64, tail: Tail, power: f64, clock_sd: f64) -> Self {
        let floor = |x: &f64| normal_pdf(*x, centre, WIDE_SD_MS).max(WIDE_FLOOR_PER_MS);
        let block = |x: &[f64]| (in_block(x.iter().copied()), in_block(x.iter().map(floor)));
        let blocks = x.chunks(BLOCK).map(block).collect();
        Self { x, blocks, centre, tail, power, clock_variance: clock_sd * clock_sd }
    }

    /// Logarithm of the posterior density of a point, without its constant.
    pub fn ln_density(&self, point: &Point) -> f64 {
        let [mu, ln_sigma, tail, logit] = *point;
        let driver = Driver::at(point, self.tail);
        let floor = SCALE_FLOOR_MS;
        let inside = |v: f64| v >= floor && v < 1e6;
        if !(inside(driver.sigma) && inside(driver.tau.abs())) {
            return f64::NEG_INFINITY;
        }
        let square = |v: f64| v * v;
        // ε ~ Beta(1, b): density (1 − ε)^(b−1), times ε(1 − ε) for the logit scale.
        let (ln_wide, ln_rest) = (-ln_1p_exp(-logit), -ln_1p_exp(logit));
        let prior = -0.5
            * (square((mu - self.centre) / MU_SD_MS)
                + square((ln_sigma - LN_SCALE_MEAN) / LN_SIGMA_SD)
                + square(self.tail.prior(tail)))
            + ln_wide
            + WIDE_SHARE_B * ln_rest;
        prior + self.power * self.ln_likelihood(&driver)
    }

    fn ln_likelihood(&self, driver: &Driver) -> f64 {
        let sigma = (driver.sigma * driver.sigma + self.clock_variance).sqrt();
        let narrow = ExGauss::new(driver.mu, sigma, driver.tau);
        let (rest, wide) = (1.0 - driver.wide, driver.wide);
        let table = MillsTable::get();
        let mut sum = 0.0;
        let mut left = self.x.len();
        for (x, w) in &self.blocks {
            let pdfs = narrow.pdfs(table, x);
            let terms: Block = std::array::from_fn(|j| rest * pdfs[j] + wide * w[j]);
            // Every term is at least ε·10⁻⁷, so eight fit a double; one logarithm for the eight.
            for eight in terms[..left.min(BLOCK)].chunks(8) {
                sum += eight.iter().product::<f64>().ln();
            }
            left = left.saturating_sub(BLOCK);
        }
        sum
    }

    /// Moment estimates, a third and a half of the spread to τ, and a small wide part.
    pub fn starts(&self) -> [Point; 2] {
        let n = self.x.len();
        let (low, middle, high) = (self.x[n / 6], self.x[n / 2], self.x[n - 1 - n / 6]);
        // The middle two thirds of a normal span 1.94 SD.
        let sd = ((high - low) / 1.94).clamp(0.5, 500.0);
        let with = |share: f64| {
            let tau = sd * share;
            [middle - 0.7 * tau, (sd * (1.0 - share * share).sqrt()).ln(), self.tail.at(tau), -3.5]
        };
        [with(0.4), with(0.85)]
    }

    /// About how wide the posterior is in each direction, for the first steps of a search.
    pub fn scales(&self) -> Point {
        let n = (self.x.len() as f64 * self.power).max(2.0);
        let sd = self.starts()[0][1].exp();
        [1.5 * sd / n.sqrt(), (1.0 / n.sqrt()).min(0.5), (2.5 / n.sqrt()).min(1.0), 0.8]
    }
}

/// ln(1 + eˣ) without overflow.
fn ln_1p_exp(x: f64) -> f64 {
    if x > 30.0 { x } else { x.exp().ln_1p() }
}

#[cfg(test)]
mod tests {
    use super::*;
    use statrs::distribution::{Beta, Continuous, Normal};

    #[test]
    fn without_launches_the_density_is_that_of_the_priors() {
        let normal = |x: f64, mean: f64, sd: f64| Normal::new(mean, sd).unwrap().ln_pdf(x);
        for (tail, mean, sd) in [(Tail::Either, 0.5, 2.0), (Tail::Right, 25_f64.ln(), 1.2)] {
            // A power of 0 takes the launches' say away.
            let posterior = Posterior::new(vec![200.0; 10], 210.0, tail, 0.0, 0.0);
            let prior = |p: &Point| {
                let wide = 1.0 / (1.0 + (-p[3]).exp());
                normal(p[0], 210.0, 200.0)
                    + normal(p[1], 25_f64.ln(), 1.0)
                    + normal(p[2], mean, sd)
                    // The share's law in its logit.
                    + Beta::new(1.0, 20.0).unwrap().ln_pdf(wide)
                    + (wide * (1.0 - wide)).ln()
            };
            let origin = [210.0, 3.0, 1.0, -3.0];
            let constant = posterior.ln_density(&origin) - prior(&origin);
            for point in [
                [-90.0, 3.0, 1.0, -3.0],
                [260.0, 1.0, 0.3, -6.0],
                [210.0, 4.5, 3.7, 1.0],
                [150.0, 2.0, 5.1, 0.0],
            ] {
                let off = posterior.ln_density(&point) - prior(&point) - constant;
                assert!(off.abs() < 1e-9, "{tail:?} {point:?}: {off}");
            }
        }
    }

    #[test]
    fn a_tail_below_the_clocks_resolution_has_no_density() {
        let posterior = Posterior::new(vec![200.0; 10], 210.0, Tail::Right, 1.0, 0.0);
        let at =
            |ln_sigma: f64, ln_tau: f64| posterior.ln_density(&[200.0, ln_sigma, ln_tau, -3.0]);
        assert!(at(3.0, 3.0).is_finite() && at(0.03_f64.ln(), 0.03_f64.ln()).is_finite());
        assert_eq!(at(0.01_f64.ln(), 3.0), f64::NEG_INFINITY);
        assert_eq!(at(3.0, 0.01_f64.ln()), f64::NEG_INFINITY);
        assert_eq!(at(3.0, 1e7_f64.ln()), f64::NEG_INFINITY);
    }
}
