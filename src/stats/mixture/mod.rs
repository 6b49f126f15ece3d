//! Two ways of launching in one column of times: anticipated and reacted.
//!
//! Owns the fit of w N(mean, sd²) + (1 − w) exG(mu, sigma, tau), each launch's chance of having been
//! a guess, the decision between one part and two, and the guess share of blank runs. Refuses to
//! read minds: the parts describe times, not intentions, and blank runs are never pooled with
//! ordinary ones.

mod decision;
mod density;
mod descent;

pub use decision::{PartsDecision, decide};

use crate::seed::generator;
use crate::stats::risk::count_interval;
use crate::stats::{Caveat, Estimate, Sample, StatsError};
use density::{normal_part, one_part, one_point, two_at, two_nll};
use descent::descend;
use rand::RngExt;

/// Values a two-part fit needs at least. Chosen: six parameters.
pub const LEAST_FOR_TWO_PARTS: usize = 30;
/// Launches a part needs before it is worth reading. Chosen.
const LEAST_IN_A_PART: f64 = 15.0;
/// Log-likelihoods of starts that found the same optimum are this close.
const AGREEMENT: f64 = 1e-4;
/// Seeded starts besides the four fixed ones.
const SEEDED_STARTS: usize = 4;

/// share · N(anticipate_mean, anticipate_sd²) + (1 − share) · (N(mu, sigma²) + Exp(mean tau)); s.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct AnticipateReact {
    /// Share of anticipated launches, 0–1.
    pub anticipate_share: f64,
    /// Mean of the anticipated launches.
    pub anticipate_mean_s: f64,
    /// SD of the anticipated launches.
    pub anticipate_sd_s: f64,
    /// Mean of the normal part of the reactions.
    pub mu_s: f64,
    /// SD of the normal part of the reactions.
    pub sigma_s: f64,
    /// Mean of the exponential part of the reactions.
    pub tau_s: f64,
}

impl AnticipateReact {
    /// ln f(x) per second.
    pub fn ln_pdf(&self, x_s: f64) -> f64 {
        self.at(x_s).0
    }

    /// The chance that a launch at `x_s` was anticipated: w N(x) / f(x).
    pub fn guess_probability(&self, x_s: f64) -> f64 {
        self.at(x_s).1
    }

    fn at(&self, x_s: f64) -> (f64, f64) {
        let anticipate = [self.anticipate_share, self.anticipate_mean_s, self.anticipate_sd_s];
        two_at(x_s, anticipate, [self.mu_s, self.sigma_s, self.tau_s])
    }
}

/// A two-part fit.
#[derive(Debug, Clone, PartialEq)]
pub struct MixtureFit {
    /// The parts.
    pub parts: AnticipateReact,
    /// ln L of the density per second.
    pub log_likelihood: f64,
    /// Values it rests on.
    pub n: usize,
    /// Starts that ended at this optimum.
    pub agreeing_starts: usize,
    /// Whether the optimum lies inside the domain: two starts agree, neither part is empty and
    /// neither spread sits on its floor.
    pub interior: bool,
    /// What to say beside it.
    pub caveats: Vec<Caveat>,
}

/// Values moved to median 0 and SD 1.
struct Standard {
    x: Vec<f64>,
    centre: f64,
    scale: f64,
}

impl Standard {
    fn new(sample: &Sample) -> Result<Self, StatsError> {
        sample.at_least(LEAST_FOR_TWO_PARTS)?;
        let sorted = sample.sorted();
        let n = sorted.len() as f64;
        let mean = sorted.iter().map(|x| x / n).sum::<f64>();
        let scale = (sorted.iter().map(|x| (x - mean).powi(2) / (n - 1.0)).sum::<f64>()).sqrt();
        if !scale.is_finite() {
            return Err(StatsError::NoFit("the values are too far apart"));
        }
        if sorted[0] == sorted[sorted.len() - 1] || scale == 0.0 {
            return Err(StatsError::NoSpread);
        }
        let centre = sorted[sorted.len() / 2];
        Ok(Self { x: sorted.iter().map(|x| (x - centre) / scale).collect(), centre, scale })
    }
}

/// Mean and SD of part of the standardised values.
fn moments(x: &[f64]) -> (f64, f64) {
    let n = x.len() as f64;
    let mean = x.iter().sum::<f64>() / n;
    let sd = (x.iter().map(|x| (x - mean).powi(2)).sum::<f64>() / n).sqrt();
    (mean, sd.max(0.1))
}

/// A start that gives the earliest `share` of sorted values to anticipation.
fn start(x: &[f64], share: f64) -> [f64; 6] {
    let split = ((x.len() as f64 * share) as usize).clamp(3, x.len() - 3);
    let ((mean, sd), (late, late_sd)) = (moments(&x[..split]), moments(&x[split..]));
    let tau = 0.7 * late_sd;
    let react = one_point(late - tau, (0.7 * late_sd).max(0.1), tau);
    let [_, u, _] = one_point(0.0, sd, 1.0);
    [(share / (1.0 - share)).ln(), mean, u, react[0], react[1], react[2]]
}

/// The share that 2-means puts into the earlier of its two clusters.
fn two_means(x: &[f64]) -> f64 {
    let mut split = x.len() / 2;
    for _ in 0..50 {
        let middle = 0.5 * (moments(&x[..split]).0 + moments(&x[split..]).0);
        let next = x.partition_point(|v| *v < middle).clamp(3, x.len() - 3);
        if next == split {
            break;
        }
        split = next;
    }
    split as f64 / x.len() as f64
}

/// The best of several descents over sorted standardised values whose parts are in order
/// (anticipation first), and how many of them ended there.
fn best(x: &[f64], shares: &[f64]) -> Option<([f64; 6], f64, usize)> {
    let ends: Vec<([f64; 6], f64)> = shares
        .iter()
        .map(|share| descend(|p| two_nll(x, p), start(x, *share)))
        .filter(|(p, nll)| {
            let ([mu, _, tau], _) = one_part(&p[3..]);
            nll.is_finite() && p[1] < mu + tau
        })
        .collect();
    let (point, nll) = *ends.iter().min_by(|a, b| a.1.total_cmp(&b.1))?;
    let agreeing = ends.iter().filter(|end| end.1 - nll < AGREEMENT).count();
    Some((point, nll, agreeing))
}

/// Fits the two parts by maximum likelihood from eight starts.
///
/// # Errors
/// [`StatsError::TooFew`] below 30 values, [`StatsError::NoSpread`] where all are the same,
/// [`StatsError::NoFit`] where no start ends with anticipation before reaction.
pub fn fit(sample: &Sample, seed: u64) -> Result<MixtureFit, StatsError> {
    let standard = Standard::new(sample)?;
    let mut rng = generator(seed);
    let mut shares = vec![0.5, 0.75, 0.2, two_means(&standard.x)];
    shares.extend((0..SEEDED_STARTS).map(|_| rng.random_range(0.08..0.92)));
    let found = best(&standard.x, &shares);
    let (point, nll, agreeing) =
        found.ok_or(StatsError::NoFit("no start puts anticipation before reaction"))?;
    let n = sample.n();
    let ([share, mean, sd], _) = normal_part(&point);
    let ([mu, sigma, tau], _) = one_part(&point[3..]);
    let (centre, scale) = (standard.centre, standard.scale);
    let parts = AnticipateReact {
        anticipate_share: share,
        anticipate_mean_s: centre + scale * mean,
        anticipate_sd_s: scale * sd,
        mu_s: centre + scale * mu,
        sigma_s: scale * sigma,
        tau_s: scale * tau,
    };
    let smaller = share.min(1.0 - share) * n as f64;
    let floor = 1.02 * density::SPREAD_FLOOR;
    let interior = agreeing >= 2 && smaller >= 1.0 && sd > floor && sigma > floor;
    let mut caveats = Vec::new();
    if smaller < LEAST_IN_A_PART {
        caveats.push(Caveat::SmallPart { launches: smaller.round() as usize });
    }
    let log_likelihood = -nll - n as f64 * scale.ln();
    Ok(MixtureFit { parts, log_likelihood, n, agreeing_starts: agreeing, interior, caveats })
}

/// The share of launches that were guesses, from blank runs: `guesses` of `blank_runs` left within
/// 120 ms after the due mark though no lamp lit. A lower bound: who guesses right on ordinary runs
/// may still stay on a blank one.
///
/// # Errors
/// As [`count_interval`].
pub fn guess_share(guesses: usize, blank_runs: usize, level: f64) -> Result<Estimate, StatsError> {
    count_interval(guesses, blank_runs, level)
}
