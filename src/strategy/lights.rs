//! The lights a driver may have, as far as the launches tell.
//!
//! Owns the step from posterior draws of driver parts, a car and a tree to lights (RT), each draw
//! with its own day, track and doubt about the car; and the launches themselves on the same scale.
//! Refuses to estimate: draws come from `stats::risk`.

use crate::seed::{generator, seed_of_run};
use crate::stats::risk::{Pool, RedLine, RiskDraws};
use crate::stats::special::{mills, normal_cdf, normal_sf};
use rand_distr::{Distribution, StandardNormal};

/// Draws a density or a distribution of all of them together is taken from. Chosen.
const MOST_TOGETHER: usize = 120;
/// No day, track or doubt moves a light further, s: long before, all are red or all are lost. Chosen.
const FARTHEST_S: f64 = 3.0;
/// Draws end this many sigmas and taus out: 10⁻⁵ is left.
const SIGMAS: f64 = 4.3;
const TAUS: f64 = 11.5;

/// One driver the launches allow: (1 − wide) of the lights are N(mu, sigma²) with an exponential
/// tail of mean tau (early where it is below 0), s.
#[derive(Debug, Clone, Copy, PartialEq)]
pub(super) struct Driver {
    pub mu: f64,
    pub sigma: f64,
    pub tau: f64,
    pub wide: f64,
    /// How much later this draw's lights are than the launches': day, track, car. In mu already.
    pub later: f64,
    /// A standard normal of its own.
    pub chance: f64,
}

/// The lights a driver may have.
#[derive(Debug, Clone)]
pub struct Lights {
    pub(super) drivers: Vec<Driver>,
    /// Centre and SD of the wide part before `later`, s.
    pub(super) wide: (f64, f64),
    /// The launches' lights before `later`, sorted, s.
    pub(super) launched: Vec<f64>,
    /// Run-to-run scatter of the car, s; in every sigma already, not in the launches.
    pub(super) run_sd: f64,
    /// Launches the model is worth.
    pub(super) concentration: f64,
    /// What the launches are worth: all starts times their effective share.
    pub(super) weight: f64,
    /// Shares of starts: measured, left before the tree, never left.
    pub(super) shares: [f64; 3],
    n: usize,
}

impl Lights {
    /// Driver parts below `line` are red: RT = driver part − line, its doubt drawn once per draw,
    /// its run-to-run SD per launch. At the track the doubt is in the draws already.
    pub fn new(draws: &RiskDraws, pool: &Pool, line: &RedLine, seed: u64) -> Self {
        let rng = &mut generator(seed_of_run(seed, 5));
        let mut normal = || -> f64 { StandardNormal.sample(rng) };
        let doubt = if draws.line_doubt_included() { 0.0 } else { line.doubt_sd_s() };
        let (at, run_sd) = (line.at_s(), line.run_sd_s());
        let drivers = draws.draws().map(|d| {
            let later = (d.later_s - doubt * normal()).clamp(-FARTHEST_S, FARTHEST_S);
            Driver {
                mu: d.mu_s - at + later,
                sigma: d.sigma_s.hypot(run_sd),
                tau: d.tau_s,
                wide: d.wide_share,
                later,
                chance: normal(),
            }
        });
        let drivers = drivers.collect();
        let (centre, wide_sd) = draws.wide_part_s();
        let starts = pool.starts() as f64;
        let share = |count: usize| count as f64 / starts;
        Self {
            drivers,
            wide: (centre - at, wide_sd.hypot(run_sd)),
            launched: draws.counted_s().map(|x| x - at).collect(),
            run_sd,
            concentration: draws.concentration(),
            weight: draws.effective_share() * starts,
            shares: [share(draws.n()), share(pool.left_before_tree()), share(pool.lapses())],
            n: draws.n(),
        }
    }

    /// The same with chances of its own, for a comparison with others that share the doubts.
    pub(super) fn told_apart(mut self, seed: u64, stream: u64) -> Self {
        let rng = &mut generator(seed_of_run(seed, 200 + stream));
        for driver in &mut self.drivers {
            driver.chance = StandardNormal.sample(rng);
        }
        self
    }

    /// The same with the days, tracks and cars of other lights, draw by draw: what is compared is
    /// driven on the same day.
    pub(super) fn on_the_days_of(mut self, other: &Self) -> Self {
        for (driver, other) in self.drivers.iter_mut().zip(&other.drivers) {
            driver.mu += other.later - driver.later;
            driver.later = other.later;
        }
        self
    }

    /// Measured launches they rest on.
    pub fn n(&self) -> usize {
        self.n
    }

    /// The median of the launches' lights, s.
    pub(super) fn middle(&self) -> f64 {
        self.launched[self.launched.len() / 2]
    }

    /// The mean light without the wide part, the mean of all draws, s.
    pub fn mean(&self) -> f64 {
        self.average(Driver::mean)
    }

    /// The spread of lights, day, track and doubt included, s.
    pub fn sd(&self) -> f64 {
        let mean = self.mean();
        self.average(|d| d.sd().powi(2) + (d.mean() - mean).powi(2)).sqrt()
    }

    /// The spread from launch to launch: the mean of the draws' own, s.
    pub fn launch_sd(&self) -> f64 {
        self.average(Driver::sd)
    }

    /// The spread from launch to launch in every draw, s.
    pub(super) fn launch_sds(&self) -> impl Iterator<Item = f64> + '_ {
        self.drivers.iter().map(Driver::sd)
    }

    /// Density of all draws together, per second.
    pub fn pdf(&self, x: f64) -> f64 {
        let (centre, sd) = self.wide;
        self.together(|d| {
            let z = (x - centre - d.later) / sd;
            let wide = (-0.5 * z * z).exp() / (sd * (2.0 * std::f64::consts::PI).sqrt());
            (1.0 - d.wide) * d.pdf(x) + d.wide * wide
        })
    }

    /// P(X < x) of all draws together.
    pub fn below(&self, x: f64) -> f64 {
        let (centre, sd) = self.wide;
        self.together(|d| {
            (1.0 - d.wide) * d.below(x) + d.wide * normal_cdf((x - centre - d.later) / sd)
        })
    }

    /// Where the distribution of all draws together is `p`, to a tenth of a millisecond, s.
    pub fn quantile(&self, p: f64) -> f64 {
        let (mut low, mut high) = self.range();
        while high - low > 1e-4 {
            let middle = 0.5 * (low + high);
            if self.below(middle) < p { low = middle } else { high = middle }
        }
        0.5 * (low + high)
    }

    /// The same driver with everything `factor` times as far from its own mean.
    pub fn spread_by(&self, factor: f64) -> Self {
        let mut out = self.clone();
        for d in &mut out.drivers {
            d.mu = d.mean() + factor * (d.mu - d.mean());
            (d.sigma, d.tau) = (factor * d.sigma, factor * d.tau);
        }
        let mean = self.launched.iter().sum::<f64>() / self.launched.len() as f64;
        for x in &mut out.launched {
            *x = mean + factor * (*x - mean);
        }
        out
    }

    /// From where to where there is anything to speak of, s.
    pub(super) fn range(&self) -> (f64, f64) {
        let ends = self.drivers.iter().map(|d| {
            let (low, high) = d.range();
            let wide = d.later + self.wide.0;
            (low.min(wide - 4.0 * self.wide.1), high.max(wide + 4.0 * self.wide.1))
        });
        ends.reduce(|a, b| (a.0.min(b.0), a.1.max(b.1))).unwrap_or((0.0, 0.0))
    }

    fn average(&self, of: impl Fn(&Driver) -> f64) -> f64 {
        self.drivers.iter().map(of).sum::<f64>() / self.drivers.len() as f64
    }

    fn together(&self, of: impl Fn(&Driver) -> f64) -> f64 {
        let every = self.drivers.len().div_ceil(MOST_TOGETHER);
        let some = self.drivers.iter().step_by(every);
        let n = some.len() as f64;
        some.map(of).sum::<f64>() / n
    }
}

impl Driver {
    pub fn mean(&self) -> f64 {
        self.mu + self.tau
    }

    pub fn sd(&self) -> f64 {
        self.sigma.hypot(self.tau)
    }

    /// Where the narrow part begins and ends, to 10⁻⁵.
    pub fn range(&self) -> (f64, f64) {
        let (normal, tail) = (SIGMAS * self.sigma, TAUS * self.tau);
        (self.mu - normal + tail.min(0.0), self.mu + normal + tail.max(0.0))
    }

    /// P(X < x) of the narrow part, to about 10⁻¹⁴.
    pub fn below(&self, x: f64) -> f64 {
        let r = self.sigma / self.tau.abs();
        let z = (x - self.mu) / self.sigma;
        if self.tau < 0.0 { 1.0 - tailed_below(-z, r) } else { tailed_below(z, r) }
    }

    /// Density of the narrow part.
    pub fn pdf(&self, x: f64) -> f64 {
        let r = self.sigma / self.tau.abs();
        let z = (x - self.mu) / self.sigma * self.tau.signum();
        let y = r - z;
        let phi = (-0.5 * z * z).exp() * INV_SQRT_2PI;
        let share =
            if y > -5.0 { phi * mills(y) } else { (r * (0.5 * r - z)).exp() * normal_sf(y) };
        share / self.tau.abs()
    }
}

const INV_SQRT_2PI: f64 = 0.398_942_280_401_432_7;

/// P(Z + E/r < z) for a standard normal Z and a standard exponential E, by Mills ratios: left of 0
/// φ(z) (m(−z) − m(r − z)), right of it one minus positive terms.
fn tailed_below(z: f64, r: f64) -> f64 {
    let y = r - z;
    let phi = (-0.5 * z * z).exp() * INV_SQRT_2PI;
    if z < 0.0 {
        phi * (mills(-z) - mills(y))
    } else if y > -5.0 {
        1.0 - phi * (mills(z) + mills(y))
    } else {
        1.0 - phi * mills(z) - (r * (0.5 * r - z)).exp() * normal_sf(y)
    }
}

#[cfg(test)]
pub(super) mod tests {
    use super::*;
    use crate::stats::Sample;
    use crate::stats::risk::{CarPart, Settings};
    use crate::strategy::law::RtLaw;

    fn lights(car: CarPart) -> Lights {
        lights_in(60, car)
    }

    fn lights_in(n: u32, car: CarPart) -> Lights {
        let spread = 0.0011 * 60.0 / f64::from(n);
        let parts: Vec<f64> = (0..n).map(|i| 0.28 + spread * f64::from(i * 7 % n)).collect();
        let pool = Pool::new(Sample::new(parts).unwrap()).with_unmeasured(2, 1);
        let draws = RiskDraws::this_form(&pool, &Settings::new(3)).unwrap();
        Lights::new(&draws, &pool, &RedLine::of_car(car, 0.5).unwrap(), 3)
    }

    /// So many launches about 20 ms, two that left before the tree and one that never did, in a car known
    /// to this.
    pub fn lights_of(n: u32, car_doubt_s: f64) -> Lights {
        lights_in(n, CarPart { mean_s: 0.21, doubt_sd_s: car_doubt_s, run_sd_s: 0.0 })
    }

    #[test]
    fn drawn_parts_follow_the_law_with_the_same_numbers() {
        for tau in [0.02, -0.02] {
            let driver = Driver { mu: 0.03, sigma: 0.012, tau, wide: 0.0, later: 0.0, chance: 0.0 };
            let law = RtLaw::ex_gaussian(0.03, 0.012, tau).unwrap();
            for i in -20..40 {
                let x = f64::from(i) * 0.01;
                assert!((driver.below(x) - law.below(x)).abs() < 1e-13, "{tau} {x}");
                assert!((driver.pdf(x) - law.pdf(x)).abs() < 1e-11, "{tau} {x}");
            }
            let (low, high) = driver.range();
            assert!(law.below(low) < 2e-5 && law.below(high) > 1.0 - 2e-5);
        }
    }

    #[test]
    fn a_light_is_driver_and_car_less_the_interval() {
        let known = lights(CarPart { mean_s: 0.21, doubt_sd_s: 0.0, run_sd_s: 0.0 });
        assert!((known.mean() - (0.28 + 0.0011 * 29.5 + 0.21 - 0.5)).abs() < 0.006);
        let doubtful = lights(CarPart { mean_s: 0.21, doubt_sd_s: 0.03, run_sd_s: 0.01 });
        assert!((doubtful.launch_sd() - known.launch_sd().hypot(0.01)).abs() < 5e-4);
        let wider = (doubtful.sd().powi(2) - doubtful.launch_sd().powi(2)).sqrt();
        assert!((wider - 0.03).abs() < 0.004, "{wider}");
        assert_eq!(known.shares, [60.0 / 63.0, 2.0 / 63.0, 1.0 / 63.0]);
        assert!((known.below(known.mean()) - 0.5).abs() < 0.1);
    }

    #[test]
    fn another_day_moves_a_draw_by_as_much_as_it_differs() {
        let (one, other) = (lights_of(60, 0.03), lights_of(30, 0.02));
        let moved = one.clone().on_the_days_of(&other);
        for ((moved, one), other) in moved.drivers.iter().zip(&one.drivers).zip(&other.drivers) {
            assert_eq!(moved.later, other.later);
            assert!((moved.mean() - moved.later - (one.mean() - one.later)).abs() < 1e-14);
        }
    }

    #[test]
    fn half_of_the_launches_lie_below_the_middle() {
        let lights = lights_of(60, 0.0);
        let below = lights.launched.iter().filter(|light| **light < lights.middle()).count();
        assert_eq!(below, 30);
    }

    #[test]
    fn density_and_distribution_of_all_draws_fit_together_and_the_range_holds_them() {
        let mut lights = lights_of(60, 0.03);
        lights.wide = (0.5, 0.05);
        lights.drivers.iter_mut().for_each(|driver| driver.wide = 0.5);
        for i in -20..80 {
            let (x, step) = (f64::from(i) * 0.01 + 0.0004, 1e-5);
            let slope = (lights.below(x + step) - lights.below(x - step)) / (2.0 * step);
            assert!((slope - lights.pdf(x)).abs() < 1e-3 * (1.0 + slope), "{x} {slope}");
        }
        // Far out where the latest draw's wide part ends, and no further.
        let latest = lights.drivers.iter().map(|d| d.later).fold(f64::NEG_INFINITY, f64::max);
        let (low, high) = lights.range();
        assert!((high - (0.5 + latest + 4.0 * 0.05)).abs() < 1e-12, "{high}");
        assert!(lights.below(high) > 1.0 - 5e-5 && lights.below(low) < 5e-5);
    }

    #[test]
    fn drawn_together_about_its_mean_a_driver_keeps_the_mean() {
        let car = CarPart { mean_s: 0.21, doubt_sd_s: 0.0, run_sd_s: 0.0 };
        let (whole, half) = (lights(car), lights(car).spread_by(0.5));
        assert!((whole.mean() - half.mean()).abs() < 1e-12);
        assert!((half.launch_sd() - 0.5 * whole.launch_sd()).abs() < 1e-12);
    }
}
