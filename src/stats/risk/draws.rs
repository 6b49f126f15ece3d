//! The drivers one may be, and the risk each would have.
//!
//! Owns the making of the draws (this form, next session, at the track) and the answers that reuse
//! them. Refuses decisions: strategy takes the draws from here.
//!
//! For a line c each draw j has the model's chance pⱼ = P(X < c) and the counts k of n below c. A
//! Dirichlet process about the model with concentration α = 60 launches (Lyddon, Walker & Holmes
//! 2018, arXiv 1806.11544) gives the chance Beta(α pⱼ + k, α (1 − pⱼ) + n − k): with few launches
//! the model speaks, with many the counts do. Counts move in whole launches: the lower limit is a
//! quantile of the draws with s launches more that were not red, the upper with s launches more that
//! were, s = (n + 10)/(n + α). Where the counts are everything, s is 1 and the limits are those of
//! Clopper & Pearson (1934), which never hold the truth too seldom; the less the counts weigh beside
//! the model, the less there is to make up for. (The ten is chosen by coverage: the fewest launches
//! there is a model for.) The value shown is the mean of (α pⱼ + k)/(α + n).

use super::beta_draws::Chances;
use super::counts::{check_level, count_interval};
use super::curve::Curve;
use super::days::Days;
use super::model::{Driver, Posterior, Tail, WIDE_SD_MS};
use super::pool::{Pool, RedLine, grid_ms};
use super::sampler;
use super::subsample::{MOST_FOR_POSTERIOR, recent};
use super::track::HomeToTrack;
use crate::seed::{Generator, generator};
use crate::stats::dependence::{caveat, effective_share};
use crate::stats::{Caveat, Estimate, StatsError};
use rand_distr::{Distribution, Gamma, StandardNormal};

/// Launches below which only counts are given.
pub const LEAST_FOR_RISK: usize = 10;

/// The priors are centred this much later than the sample's median: what nothing explains is more
/// often a late launch than an early one. Chosen.
const CENTRE_LATER_MS: f64 = 50.0;

/// How the draws are made.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Settings {
    /// Seed of everything random.
    pub seed: u64,
    /// Draws kept, 100 and more.
    pub draws: usize,
    /// Whether launches that follow each other closely count for less.
    pub serial_correction: bool,
    /// Launches the model is worth, α.
    pub concentration: f64,
    /// Launches either limit has to spare, 0 to 1; by default (n + 10)/(n + α).
    pub spare_launch: Option<f64>,
    /// Whether the long tail may point to the early side as well.
    pub either_tail: bool,
    /// Centre of the priors, s; by default 50 ms after the sample's median.
    pub prior_centre_s: Option<f64>,
}

impl Settings {
    /// The settings every screen and report uses.
    pub fn new(seed: u64) -> Self {
        Self {
            seed,
            draws: 800,
            serial_correction: true,
            concentration: 60.0,
            spare_launch: None,
            either_tail: true,
            prior_centre_s: None,
        }
    }
}

/// One driver the launches allow, in seconds: (1 − wide) exG(mu, sigma, tau) + wide N(centre, 0.15²).
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct DriverDraw {
    /// Mean of the normal part.
    pub mu_s: f64,
    /// SD of the normal part.
    pub sigma_s: f64,
    /// Mean of the exponential part; below 0 the part is taken away instead of added.
    pub tau_s: f64,
    /// Share of the wide part.
    pub wide_share: f64,
    /// How much later this draw's launches are than the sample's: day and track.
    pub later_s: f64,
}

/// A risk with the counts it rests on.
#[derive(Debug, Clone, PartialEq)]
pub struct Risk {
    /// From model and counts together.
    pub estimate: Estimate,
    /// Launches below the line, those made before the tree included.
    pub reds: usize,
    /// Their share of all starts with its exact interval.
    pub counts: Estimate,
}

/// Posterior draws of one pool: the part that takes time. Everything else reuses them.
#[derive(Debug, Clone)]
pub struct RiskDraws {
    pub(super) drivers: Vec<Driver>,
    pub(super) chances: Chances,
    /// How much later than the sample's launches the forecast ones are, ms, per draw.
    later_ms: Vec<f64>,
    /// Standard normals for what is not known about the line.
    doubts: Vec<f64>,
    /// Per draw: share of starts that left before the tree, and of those with a driver part.
    pub(super) shares: Vec<(f64, f64)>,
    /// What the counts of the model are taken from, sorted, ms.
    pub(super) counted_ms: Vec<f64>,
    /// The launches as they were, sorted, ms.
    launched_ms: Vec<f64>,
    pub(super) left: usize,
    pub(super) starts: usize,
    pub(super) effective_share: f64,
    pub(super) concentration: f64,
    spare_launch: Option<f64>,
    pub(super) centre_ms: f64,
    line_doubt_included: bool,
    effective_draws: f64,
    caveats: Vec<Caveat>,
}

impl RiskDraws {
    /// **This form**: the next launch, now, like the pool's.
    ///
    /// # Errors
    /// [`StatsError::TooFew`] below ten measured launches, [`StatsError::OutOfDomain`] for settings
    /// outside their domain.
    pub fn this_form(pool: &Pool, settings: &Settings) -> Result<Self, StatsError> {
        let x: Vec<f64> = pool.driver_parts().values().iter().map(|s| grid_ms(*s)).collect();
        Self::fit(pool, &x, x.clone(), settings, 1)
    }

    /// **Next session**: a launch on another day. The spread between days comes from the pool's
    /// days; below three of them 10 ms are assumed, and a caveat says so.
    ///
    /// # Errors
    /// As [`RiskDraws::this_form`].
    pub fn next_session(pool: &Pool, settings: &Settings) -> Result<Self, StatsError> {
        let x: Vec<f64> = pool.driver_parts().values().iter().map(|s| grid_ms(*s)).collect();
        let one_day = vec![0; x.len()];
        let days = Days::new(&x, pool.days().unwrap_or(&one_day));
        let mut draws = Self::fit(pool, &x, days.centred_ms.clone(), settings, 2)?;
        let rng = &mut generator(crate::seed::seed_of_run(settings.seed, 3));
        draws.later_ms = days.next_day_shifts(settings.draws, rng);
        if days.is_assumed() {
            draws.caveats.push(Caveat::DaySpreadAssumed { days: days.count });
        }
        Ok(draws)
    }

    /// **At the track in this car**: these draws with the home-to-track offset, which from here on
    /// stands for the doubt about the red line as well.
    pub fn at_the_track(mut self, offset: &HomeToTrack, seed: u64) -> Self {
        let rng = &mut generator(crate::seed::seed_of_run(seed, 4));
        for later in &mut self.later_ms {
            let z: f64 = StandardNormal.sample(rng);
            *later += 1000.0 * (offset.offset_s.value + offset.offset_s.sd * z);
        }
        self.line_doubt_included = true;
        if offset.slips == 0 {
            self.caveats.push(Caveat::TrackUnknown);
        }
        self
    }

    fn fit(
        pool: &Pool,
        raw: &[f64],
        ordered: Vec<f64>,
        settings: &Settings,
        stream: u64,
    ) -> Result<Self, StatsError> {
        check_settings(settings)?;
        pool.driver_parts().at_least(LEAST_FOR_RISK)?;
        let rng = &mut generator(crate::seed::seed_of_run(settings.seed, stream));
        let n = ordered.len();
        let share = if settings.serial_correction { effective_share(&ordered) } else { 1.0 };
        let mut caveats = Vec::from_iter(caveat(n, share));
        let mut counted_ms = ordered;
        let mut modelled = if n > MOST_FOR_POSTERIOR {
            caveats.push(Caveat::PosteriorSubsample { used: MOST_FOR_POSTERIOR, n });
            recent(&counted_ms, rng)
        } else {
            counted_ms.clone()
        };
        modelled.sort_by(f64::total_cmp);
        counted_ms.sort_by(f64::total_cmp);
        let mut launched_ms = raw.to_vec();
        launched_ms.sort_by(f64::total_cmp);
        let usual = modelled[modelled.len() / 2] + CENTRE_LATER_MS;
        let centre_ms = settings.prior_centre_s.map_or(usual, |s| 1000.0 * s);
        let tail = if settings.either_tail { Tail::Either } else { Tail::Right };
        let posterior =
            Posterior::new(modelled, centre_ms, tail, share, 1000.0 * pool.clock_sd_s());
        let (starts, scales) = (posterior.starts(), posterior.scales());
        let f = |p: &_| posterior.ln_density(p);
        let drawn = sampler::sample(f, &starts, &scales, settings.draws, rng);
        let points = drawn.points;
        let chances = Chances::draw(points.len(), rng);
        let doubts = points.iter().map(|_| StandardNormal.sample(rng)).collect();
        Ok(Self {
            drivers: points.iter().map(|p| Driver::at(p, tail)).collect(),
            chances,
            later_ms: vec![0.0; points.len()],
            doubts,
            shares: shares(pool, points.len(), rng),
            counted_ms,
            launched_ms,
            left: pool.left_before_tree(),
            starts: pool.starts(),
            effective_share: share,
            concentration: settings.concentration,
            spare_launch: settings.spare_launch,
            centre_ms,
            line_doubt_included: false,
            effective_draws: drawn.effective,
            caveats,
        })
    }

    /// What to say beside every answer.
    pub fn caveats(&self) -> &[Caveat] {
        &self.caveats
    }

    /// Measured launches the draws rest on.
    pub fn n(&self) -> usize {
        self.launched_ms.len()
    }

    /// Independent draws of the posterior these are worth, at most two and a half times as many as there are: the
    /// Monte-Carlo error of a mean is its SD over the root of this.
    pub fn effective_draws(&self) -> f64 {
        self.effective_draws
    }

    /// The draws, for decisions that need more of a driver than a risk.
    pub fn draws(&self) -> impl ExactSizeIterator<Item = DriverDraw> + '_ {
        self.drivers.iter().zip(&self.later_ms).map(|(d, later)| DriverDraw {
            mu_s: d.mu / 1000.0,
            sigma_s: d.sigma / 1000.0,
            tau_s: d.tau / 1000.0,
            wide_share: d.wide,
            later_s: later / 1000.0,
        })
    }

    /// The launches the model is pulled towards, sorted, s: as they were, or for another day centred
    /// on their days.
    pub fn counted_s(&self) -> impl ExactSizeIterator<Item = f64> + '_ {
        self.counted_ms.iter().map(|ms| ms / 1000.0)
    }

    /// Share of the launches that tell something new: 1 unless they follow each other closely.
    pub fn effective_share(&self) -> f64 {
        self.effective_share
    }

    /// Whether what is not known of the red line is in the draws already: so at the track.
    pub fn line_doubt_included(&self) -> bool {
        self.line_doubt_included
    }

    /// Launches the model is worth.
    pub fn concentration(&self) -> f64 {
        self.concentration
    }

    /// Launches either limit has to spare.
    pub(super) fn spare_launch(&self) -> f64 {
        let counted = self.effective_share * self.starts as f64;
        let grown = (counted + LEAST_FOR_RISK as f64) / (counted + self.concentration);
        self.spare_launch.unwrap_or(grown.min(1.0))
    }

    /// Centre and SD of the wide part, s.
    pub fn wide_part_s(&self) -> (f64, f64) {
        (self.centre_ms / 1000.0, WIDE_SD_MS / 1000.0)
    }

    /// The risk with everything moved earlier by `earlier_s` (0 as things are).
    ///
    /// # Errors
    /// [`StatsError::OutOfDomain`] for a level outside 0–1 or a shift that is not finite.
    pub fn risk(&self, line: &RedLine, earlier_s: f64, level: f64) -> Result<Risk, StatsError> {
        let estimate = self.curve(line, &[earlier_s], level)?[0];
        let at = grid_ms(line.at_s() + earlier_s);
        let reds = self.launched_ms.partition_point(|x| *x < at) + self.left;
        let counts = count_interval(reds, self.starts, level)?;
        Ok(Risk { estimate, reds, counts })
    }

    /// The risk at every shift of aim, from the same draws.
    ///
    /// # Errors
    /// As [`RiskDraws::risk`].
    pub fn curve(
        &self,
        line: &RedLine,
        earlier_s: &[f64],
        level: f64,
    ) -> Result<Vec<Estimate>, StatsError> {
        check_level(level)?;
        if let Some(value) = earlier_s.iter().copied().find(|e| e.is_nan() || e.abs() > 1e5) {
            return Err(StatsError::OutOfDomain { name: "shift", value, domain: "±100,000 s" });
        }
        let lines: Vec<f64> = earlier_s.iter().map(|e| grid_ms(line.at_s() + e)).collect();
        let doubt = if self.line_doubt_included { 0.0 } else { 1000.0 * line.doubt_sd_s() };
        let moves: Vec<f64> =
            self.later_ms.iter().zip(&self.doubts).map(|(l, z)| doubt * z - l).collect();
        let curve = Curve::new(self, 1000.0 * line.run_sd_s(), &moves, &lines, level);
        Ok(curve.estimates(&lines))
    }
}

/// Dirichlet draws of the shares of starts; without unmeasured ones exactly (0, 1).
fn shares(pool: &Pool, draws: usize, rng: &mut Generator) -> Vec<(f64, f64)> {
    let (left, lapses) = (pool.left_before_tree(), pool.lapses());
    if left + lapses == 0 {
        return vec![(0.0, 1.0); draws];
    }
    let gamma = |count: usize| Gamma::new(count.max(1) as f64, 1.0).expect("shapes are positive");
    let (g_left, g_lapse, g_n) = (gamma(left), gamma(lapses), gamma(pool.driver_parts().n()));
    let mut part = |count: usize, g: &Gamma<f64>| if count == 0 { 0.0 } else { g.sample(rng) };
    (0..draws)
        .map(|_| {
            let (l, m) = (part(left, &g_left), part(lapses, &g_lapse));
            let n = part(pool.driver_parts().n(), &g_n);
            (l / (l + m + n), n / (l + m + n))
        })
        .collect()
}

fn check_settings(settings: &Settings) -> Result<(), StatsError> {
    let draws = settings.draws as f64;
    let refuse = |name, value, domain| Err(StatsError::OutOfDomain { name, value, domain });
    if !(100.0..=1e6).contains(&draws) {
        return refuse("number of draws", draws, "100 to 1,000,000");
    }
    if !(0.0..=1e6).contains(&settings.concentration) {
        return refuse("weight of the model", settings.concentration, "0 to 1,000,000 launches");
    }
    if let Some(spare) = settings.spare_launch.filter(|s| !(0.0..=1.0).contains(s)) {
        return refuse("spare launch", spare, "0 to 1");
    }
    match settings.prior_centre_s {
        Some(s) if s.is_nan() || s.abs() > 1e5 => refuse("prior's centre", s, "±100,000 s"),
        _ => Ok(()),
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::stats::Sample;

    #[test]
    fn shares_of_starts_are_those_of_dirichlets_law() {
        // Means are the counts' shares; of 100 starts the variance of a share p is p(1 − p)/101.
        let launches = Sample::new((0..10).map(|i| 0.2 + 0.01 * f64::from(i)).collect()).unwrap();
        let pool = Pool::new(launches).with_unmeasured(30, 60);
        let drawn = shares(&pool, 20_000, &mut generator(2));
        assert!(drawn.iter().all(|(left, n)| *left > 0.0 && *n > 0.0 && left + n < 1.0));
        for (part, p) in [
            (drawn.iter().map(|s| s.0).collect::<Vec<f64>>(), 0.3),
            (drawn.iter().map(|s| s.1).collect(), 0.1),
        ] {
            let mean = part.iter().sum::<f64>() / 2e4;
            let variance = part.iter().map(|s| (s - p).powi(2)).sum::<f64>() / 2e4;
            assert!((mean - p).abs() < 0.002, "{mean}");
            assert!((variance / (p * (1.0 - p) / 101.0) - 1.0).abs() < 0.05, "{variance}");
        }
    }
}
