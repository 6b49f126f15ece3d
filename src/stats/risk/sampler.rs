//! Draws from a posterior.
//!
//! Owns adaptive importance sampling: a t-shaped proposal at the top, two rounds that fit it to the
//! posterior's weighted moments, one large round, and a systematic resampling to equal weights. It
//! takes a third of the density evaluations of a random walk and gives draws that do not depend on
//! each other. Refuses to know the posterior.

use super::model::Point;
use super::search::{climb, curvature};
use crate::seed::Generator;
use crate::stats::matrix::{cholesky, inverse};
use rand::RngExt;
use rand_distr::{ChiSquared, Distribution, StandardNormal};

/// Degrees of freedom of the proposal: tails heavier than any of the posterior's. Chosen.
const FREEDOM: f64 = 5.0;
const FIRST_ROUNDS: [usize; 2] = [400, 600];
/// Proposals per draw kept in the last round. Chosen: about six in ten of them count.
const PROPOSALS_PER_DRAW: f64 = 2.5;
/// The last round is repeated from better moments while its effective size is below this share.
const LEAST_EFFECTIVE: f64 = 0.25;
const MOST_REPEATS: usize = 3;

/// The draws, and how many independent ones they are worth.
pub(super) struct Drawn {
    pub points: Vec<Point>,
    pub effective: f64,
}

/// A multivariate t.
struct Proposal {
    mean: Point,
    root: [Point; 4],
}

/// Proposed points with their weights; the largest weight is 1.
struct Round {
    points: Vec<Point>,
    weights: Vec<f64>,
}

/// About `draws` points from `f`, the logarithm of a density.
pub(super) fn sample(
    f: impl Fn(&Point) -> f64,
    starts: &[Point],
    scales: &Point,
    draws: usize,
    rng: &mut Generator,
) -> Drawn {
    let (top, height) = starts
        .iter()
        .map(|start| climb(&f, *start, scales))
        .max_by(|a, b| a.1.total_cmp(&b.1))
        .expect("the model gives two starts");
    let half: Point = scales.map(|s| 0.5 * s);
    let fallback = scales.map(|s| s * s);
    let covariance =
        inverse(&curvature(&f, &top, height, &half)).unwrap_or_else(|| diagonal(&fallback));
    let mut proposal = Proposal::new(top, &covariance, 1.7, scales);
    for n in FIRST_ROUNDS {
        proposal = proposal.round(&f, n, rng).tempered(60.0).proposal(1.15, scales);
    }
    let n = (draws as f64 * PROPOSALS_PER_DRAW) as usize;
    let mut round = proposal.round(&f, n, rng);
    for _ in 0..MOST_REPEATS {
        if round.effective() >= LEAST_EFFECTIVE * n as f64 {
            break;
        }
        let next = round.tempered(0.1 * n as f64).proposal(1.15, scales).round(&f, n, rng);
        if next.effective() > round.effective() {
            round = next;
        }
    }
    Drawn { effective: round.effective(), points: round.resampled(draws, rng) }
}

fn diagonal(variances: &Point) -> [Point; 4] {
    let mut m = [[0.0; 4]; 4];
    for d in 0..4 {
        m[d][d] = variances[d];
    }
    m
}

impl Proposal {
    fn new(mean: Point, covariance: &[Point; 4], inflate: f64, scales: &Point) -> Self {
        let fallback = scales.map(|s| s * s);
        let root = cholesky(covariance)
            .or_else(|| cholesky(&diagonal(&fallback)))
            .expect("a diagonal of squares is positive definite");
        let inflate = inflate.sqrt();
        Self { mean, root: root.map(|row| row.map(|v| v * inflate)) }
    }

    /// `n` points and how much likelier each is under `f` than here.
    fn round(&self, f: &impl Fn(&Point) -> f64, n: usize, rng: &mut Generator) -> Round {
        let chi = ChiSquared::new(FREEDOM).expect("the degrees of freedom are positive");
        let mut points = Vec::with_capacity(n);
        let mut weights = Vec::with_capacity(n);
        for _ in 0..n {
            let u: Point = std::array::from_fn(|_| StandardNormal.sample(rng));
            let stretch = FREEDOM / chi.sample(rng);
            let distance = u.iter().map(|v| v * v).sum::<f64>() * stretch;
            let stretch = stretch.sqrt();
            let point: Point = std::array::from_fn(|i| {
                let step: f64 = (0..=i).map(|k| self.root[i][k] * u[k]).sum();
                self.mean[i] + step * stretch
            });
            weights.push(f(&point) + 0.5 * (FREEDOM + 4.0) * (distance / FREEDOM).ln_1p());
            points.push(point);
        }
        let most = weights.iter().copied().fold(f64::NEG_INFINITY, f64::max);
        for w in &mut weights {
            *w = if most.is_finite() { (*w - most).exp() } else { 1.0 };
        }
        Round { points, weights }
    }
}

impl Round {
    /// Kish's effective sample size, (Σw)² / Σw².
    fn effective(&self) -> f64 {
        let sum: f64 = self.weights.iter().sum();
        sum * sum / self.weights.iter().map(|w| w * w).sum::<f64>()
    }

    /// The same points with weights flattened until at least `least` of them count.
    fn tempered(&self, least: f64) -> Self {
        let mut out = Self { points: self.points.clone(), weights: self.weights.clone() };
        for _ in 0..12 {
            if out.effective() >= least {
                break;
            }
            out.weights.iter_mut().for_each(|w| *w = w.sqrt());
        }
        out
    }

    /// A proposal with the weighted mean and covariance.
    fn proposal(&self, inflate: f64, scales: &Point) -> Proposal {
        let sum: f64 = self.weights.iter().sum();
        let weighted = || self.points.iter().zip(&self.weights);
        let mean: Point =
            std::array::from_fn(|d| weighted().map(|(p, w)| p[d] * w).sum::<f64>() / sum);
        let covariance: [Point; 4] = std::array::from_fn(|i| {
            std::array::from_fn(|j| {
                let product = |(p, w): (&Point, &f64)| (p[i] - mean[i]) * (p[j] - mean[j]) * w;
                weighted().map(product).sum::<f64>() / sum
            })
        });
        // A t with ν degrees of freedom has ν/(ν − 2) times its matrix as covariance.
        Proposal::new(mean, &covariance, inflate * (FREEDOM - 2.0) / FREEDOM, scales)
    }

    /// Systematic resampling: `draws` evenly spaced places along the summed weights.
    fn resampled(&self, draws: usize, rng: &mut Generator) -> Vec<Point> {
        let step = self.weights.iter().sum::<f64>() / draws as f64;
        let mut at = step * rng.random::<f64>();
        let mut passed = 0.0;
        let mut out = Vec::with_capacity(draws);
        for (point, w) in self.points.iter().zip(&self.weights) {
            passed += w;
            while at < passed && out.len() < draws {
                out.push(*point);
                at += step;
            }
        }
        while out.len() < draws {
            out.push(*self.points.last().expect("a round has points"));
        }
        out
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::seed::generator;

    #[test]
    fn a_skewed_density_is_drawn_with_its_moments() {
        // Independent: two normals, the logarithm of an exponential, a logistic one.
        let f = |p: &Point| {
            -0.5 * ((p[0] - 5.0) / 2.0).powi(2) - 0.5 * p[1] * p[1] + p[2] - p[2].exp()
                + (-p[3]).exp().ln_1p().mul_add(-2.0, -p[3])
        };
        let drawn = sample(f, &[[0.0; 4], [1.0; 4]], &[1.0; 4], 20_000, &mut generator(3));
        let mean = |g: &dyn Fn(&Point) -> f64| {
            drawn.points.iter().map(g).sum::<f64>() / drawn.points.len() as f64
        };
        assert!(drawn.effective > 10_000.0, "{}", drawn.effective);
        assert!((mean(&|p| p[0]) - 5.0).abs() < 0.06);
        assert!((mean(&|p| (p[0] - 5.0).powi(2)) - 4.0).abs() < 0.15);
        // E ln X = −γ for an exponential; the logistic has variance π²/3.
        assert!((mean(&|p| p[2]) + 0.577_215_664_9).abs() < 0.04);
        let variance = std::f64::consts::PI.powi(2) / 3.0;
        assert!((mean(&|p| p[3] * p[3]) - variance).abs() < 0.15);
    }
}
