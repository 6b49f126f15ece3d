//! The ex-Gaussian law's fit: Newton steps with the exact gradient and curvature.
//!
//! Owns the likelihood in (mu, ln sigma, ln tau), its starts and its edges. Refuses to leave the
//! box in which the likelihood can be trusted: sigma and tau between a hundredth and three times
//! the sample's spread. At its lower edges the sample asks for a simpler law: tau → 0 is the normal
//! law, as for about half of all normal samples of any size, and sigma → 0 an exponential one that
//! begins at the fastest value.

use super::bins::Bins;
use super::newton::{Symmetric, solve, standard_errors};
use super::standard::Standardised;
use super::{Found, Status, normal};
use crate::stats::StatsError;
use crate::stats::family::{ExGaussian, Model, Normal};
use crate::stats::mills_table::MillsTable;
use crate::stats::special::LN_SQRT_2PI;

/// Edges of the box, in standard units: ln 0.01 and ln 3.
const LOWEST: f64 = -4.605_170_185_988_091;
const HIGHEST: f64 = 1.098_612_288_668_109_8;
/// The longest step in any coordinate.
const LONGEST_STEP: f64 = 0.7;
/// A step that promises less ln-likelihood than this is the last: it squares the remaining error.
const GOOD_ENOUGH: f64 = 1e-9;
/// Above this many values the first climb is made on a thinned sample.
const THIN_ABOVE: usize = 4_000;
/// Values of the thinned sample.
const THIN_VALUES: usize = 1_500;
/// Peaks of the thinned sample this close in ln-likelihood are one.
const SAME_PEAK: f64 = 1e-6;
/// Skewnesses of the starts beside the measured one, and the limits of a measured one that can be
/// an ex-Gaussian's (which is never above 2).
const START_SKEWNESS: [f64; 2] = [0.3, 1.2];
const USABLE_SKEWNESS: (f64, f64) = (0.05, 1.8);
/// With fewer values or less skewness than this every start is climbed from.
const EASY: (f64, f64) = (200.0, 0.3);

/// A place on the likelihood: coordinates (mu, ln sigma, ln tau), height, slope, and minus the
/// curvature.
#[derive(Clone, Copy)]
struct Place {
    at: [f64; 3],
    value: f64,
    gradient: [f64; 3],
    information: Symmetric,
}

impl Place {
    /// The ln-likelihood of standardised values and its derivatives.
    ///
    /// With z = (x − mu)/sigma, r = sigma/tau, h = 1/m(r − z) and k = h·(h − (r − z)) = h′, a
    /// value adds −ln tau − z²/2 − ln √(2π) + ln m(r − z); its slopes are (r − h)/sigma,
    /// r² − h·(r + z) and −1 + r·(z − r + h).
    fn new<V: Values + ?Sized>(values: &V, at: [f64; 3]) -> Self {
        let [mu, ln_sigma, ln_tau] = at;
        let (sigma, tau) = (ln_sigma.exp(), ln_tau.exp());
        let r = sigma / tau;
        let s = values.sums(mu, 1.0 / sigma, r);
        let n = values.count();
        let value = s.ln_mills - 0.5 * s.zz - n * (LN_SQRT_2PI + ln_tau);
        let gradient =
            [(n * r - s.h) / sigma, n * r * r - r * s.h - s.hz, -n + r * (s.z - n * r + s.h)];
        let information = [
            s.k / (sigma * sigma),
            (r * s.k + s.kz - s.h) / sigma,
            r * (n - s.k) / sigma,
            r * r * s.k + 2.0 * r * s.kz + s.kzz + r * s.h - s.hz - 2.0 * n * r * r,
            2.0 * n * r * r - r * (r * s.k + s.kz) - r * s.h,
            r * s.z - 2.0 * n * r * r + r * s.h + r * r * s.k,
        ];
        Self { at, value, gradient, information }
    }

    /// The slope and curvature left free: a coordinate at an edge that the slope points out of is
    /// held.
    fn free(&self) -> ([f64; 3], Symmetric) {
        let (mut g, mut a) = (self.gradient, self.information);
        for (i, row) in [(1, [1, 3, 4]), (2, [2, 4, 5])] {
            if self.is_held(i) {
                g[i] = 0.0;
                for j in row {
                    a[j] = 0.0;
                }
                a[if i == 1 { 3 } else { 5 }] = 1.0;
            }
        }
        (g, a)
    }

    fn is_held(&self, i: usize) -> bool {
        (self.at[i] <= LOWEST && self.gradient[i] < 0.0)
            || (self.at[i] >= HIGHEST && self.gradient[i] > 0.0)
    }

    fn is_interior(&self) -> bool {
        !self.is_held(1) && !self.is_held(2)
    }

    /// A step uphill and the height it promises: Newton's where the likelihood is a hilltop, else
    /// bent towards the slope.
    fn step(&self, damping: f64) -> ([f64; 3], f64) {
        let (g, mut a) = self.free();
        let scale = (a[0].abs() + a[3].abs() + a[5].abs()) / 3.0;
        let mut extra = damping * scale;
        for i in [0, 3, 5] {
            a[i] += extra;
        }
        let mut step = None;
        while step.is_none() && extra < 1e9 * scale {
            step = solve(&a, g);
            let more = (extra * 3.0).max(1e-3 * scale);
            for i in [0, 3, 5] {
                a[i] += more;
            }
            extra += more;
        }
        let mut step = step.unwrap_or([0.0; 3]);
        let longest = step.iter().fold(0.0, |far: f64, x| far.max(x.abs()));
        let shrink = if longest > LONGEST_STEP { LONGEST_STEP / longest } else { 1.0 };
        step.iter_mut().for_each(|x| *x *= shrink);
        let promise = step.iter().zip(g).map(|(step, slope)| step * slope).sum();
        (step, promise)
    }

    fn moved(&self, step: [f64; 3]) -> [f64; 3] {
        let clamped = |i: usize| (self.at[i] + step[i]).clamp(LOWEST, HIGHEST);
        [self.at[0] + step[0], clamped(1), clamped(2)]
    }
}

/// Standardised values, or bins of them.
trait Values {
    /// How many there are.
    fn count(&self) -> f64;
    /// The sums that the likelihood is made of.
    fn sums(&self, mu: f64, inverse_sigma: f64, r: f64) -> Sums;
}

impl Values for [f64] {
    fn count(&self) -> f64 {
        self.len() as f64
    }

    fn sums(&self, mu: f64, inverse_sigma: f64, r: f64) -> Sums {
        let table = MillsTable::get();
        let mut s = Sums::default();
        // One logarithm for eight values: ratios between 1e-6 and 1e6 cannot leave the range.
        for chunk in self.chunks(8) {
            let mut product = 1.0;
            for u in chunk {
                product *= s.add(table, (u - mu) * inverse_sigma, r, 1.0);
            }
            s.ln_mills += product.ln();
        }
        s
    }
}

impl Values for Bins {
    fn count(&self) -> f64 {
        self.values
    }

    fn sums(&self, mu: f64, inverse_sigma: f64, r: f64) -> Sums {
        let table = MillsTable::get();
        let mut s = Sums::default();
        for bin in &self.bins {
            let factor = s.add(table, (bin.mean - mu) * inverse_sigma, r, bin.count);
            s.ln_mills += bin.count * factor.ln();
        }
        s
    }
}

/// Sums over the values that the likelihood and its derivatives are made of.
#[derive(Default)]
struct Sums {
    ln_mills: f64,
    z: f64,
    zz: f64,
    h: f64,
    hz: f64,
    k: f64,
    kz: f64,
    kzz: f64,
}

impl Sums {
    /// Adds what `weight` values at z add, but for a factor whose logarithm is still to be added so often.
    #[inline(always)]
    fn add(&mut self, table: &MillsTable, z: f64, r: f64, weight: f64) -> f64 {
        let y = r - z;
        let (factor, h) = if y > -5.0 {
            let ratio = table.mills(y);
            (ratio, 1.0 / ratio)
        } else {
            // ln m(y) = ln Φ(−y) − ln φ(y).
            self.ln_mills += weight * (LN_SQRT_2PI + 0.5 * y * y);
            table.far_left(y)
        };
        let k = h * (h - y);
        self.z += weight * z;
        self.zz += weight * (z * z);
        self.h += weight * h;
        self.hz += weight * (h * z);
        self.k += weight * k;
        self.kz += weight * (k * z);
        self.kzz += weight * (k * z * z);
        factor
    }
}

/// The coordinates whose first three moments are 0, 1 and `skewness`.
fn start(skewness: f64) -> [f64; 3] {
    let tau = (0.5 * skewness).cbrt();
    let sigma = (1.0 - tau * tau).max(0.01).sqrt();
    [-tau, sigma.ln(), tau.ln()]
}

/// Walks uphill from `from` to a place where no step promises more.
fn climb<V: Values + ?Sized>(values: &V, from: Place) -> Place {
    let mut here = from;
    let mut damping = 0.0;
    for _ in 0..100 {
        let (step, promise) = here.step(damping);
        let next = Place::new(values, here.moved(step));
        // Heights are sums of n rounded numbers: the last digits may fall on the way up.
        let rounding = 1e-13 * here.value.abs();
        if next.value.is_finite() && next.value >= here.value - rounding {
            here = next;
            damping = if damping < 1e-6 { 0.0 } else { 0.1 * damping };
            if promise < GOOD_ENOUGH {
                break;
            }
        } else if promise < GOOD_ENOUGH || damping > 1e6 {
            break;
        } else {
            damping = (damping * 10.0).max(1e-3);
        }
    }
    here
}

/// The best places reached from the starts.
fn peaks<V: Values + ?Sized>(values: &V, skewness: f64) -> Vec<Place> {
    let measured = skewness.clamp(USABLE_SKEWNESS.0, USABLE_SKEWNESS.1);
    let mut starts: Vec<Place> = [measured, START_SKEWNESS[0], START_SKEWNESS[1]]
        .into_iter()
        .map(|skewness| Place::new(values, start(skewness)))
        .collect();
    starts.sort_by(|a, b| b.value.total_cmp(&a.value));
    let easy = values.count() >= EASY.0 && skewness >= EASY.1;
    let mut peaks: Vec<Place> = Vec::with_capacity(3);
    for from in starts {
        peaks.push(climb(values, from));
        if easy && peaks[0].is_interior() {
            break;
        }
    }
    peaks
}

pub(super) fn fit(data: &Standardised) -> Result<Found, StatsError> {
    let values = data.values.as_slice();
    let peaks = if values.len() > THIN_ABOVE {
        let mut thin = peaks(data.thinned(THIN_VALUES).as_slice(), data.skewness);
        thin.sort_by(|a, b| b.value.total_cmp(&a.value));
        thin.dedup_by(|a, b| (a.value - b.value).abs() < SAME_PEAK);
        thin.into_iter().map(|peak| climb(values, Place::new(values, peak.at))).collect()
    } else {
        peaks(values, data.skewness)
    };
    match best(peaks) {
        Some(peak) if peak.value > normal::log_likelihood(values.len()) => found(&peak),
        _ => normal::as_limit(data),
    }
}

/// The same of standardised values in bins, heights as the bins have them.
pub(super) fn fit_of_bins(bins: &Bins, skewness: f64) -> Result<Found, StatsError> {
    let squares: f64 = bins.bins.iter().map(|bin| bin.count * bin.mean * bin.mean).sum();
    let of_normal = -0.5 * squares - bins.values * LN_SQRT_2PI;
    match best(peaks(bins, skewness)) {
        Some(peak) if peak.value > of_normal => found(&peak),
        _ => Ok(Found {
            status: Status::Boundary,
            model: Model::Normal(Normal::new(0.0, 1.0)?),
            standard_errors: None,
            log_likelihood: of_normal,
        }),
    }
}

/// The highest place that is no normal law's.
fn best(peaks: Vec<Place>) -> Option<Place> {
    let peaks = peaks.into_iter().filter(|peak| !peak.is_held(2));
    peaks.reduce(|best, peak| if peak.value > best.value { peak } else { best })
}

fn found(peak: &Place) -> Result<Found, StatsError> {
    let [mu, ln_sigma, ln_tau] = peak.at;
    let (sigma, tau) = (ln_sigma.exp(), ln_tau.exp());
    let interior = peak.is_interior();
    let errors = if interior { standard_errors(&peak.information) } else { None };
    Ok(Found {
        status: if interior { Status::Interior } else { Status::Boundary },
        model: Model::ExGaussian(ExGaussian::new(mu, sigma, tau)?),
        standard_errors: errors.map(|e| vec![e[0], e[1] * sigma, e[2] * tau]),
        log_likelihood: peak.value,
    })
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::stats::family::{Distribution, Family};

    const VALUES: [f64; 9] = [-1.3, -1.1, -0.6, -0.4, -0.1, 0.0, 0.4, 0.9, 2.2];

    #[test]
    fn the_height_is_the_sum_of_log_densities() {
        let law = ExGaussian::new(-0.4, 0.7, 0.5).unwrap();
        let sum: f64 = VALUES.iter().map(|x| law.ln_pdf(*x)).sum();
        let place = Place::new(VALUES.as_slice(), [-0.4, 0.7f64.ln(), 0.5f64.ln()]);
        assert!((place.value - sum).abs() < 1e-12);
    }

    #[test]
    fn twenty_values_have_the_height_and_slope_of_high_precision() {
        // mpmath 1.4.1: −ln L at (30, 18, 15) and its slope in (mu, ln sigma, ln tau).
        let text = include_str!("../../../tests/data/rt20_example.csv");
        let twenty: Vec<f64> = text.lines().map(|line| line.parse().unwrap()).collect();
        let place = Place::new(twenty.as_slice(), [30.0, 18f64.ln(), 15f64.ln()]);
        assert!((place.value + 87.701_403_619_330_59).abs() < 1e-12, "{}", place.value);
        let slope = [-0.022_403_776_561_050_3, 3.868_348_429_699_91, 1.563_921_573_718_69];
        for (got, want) in place.gradient.iter().zip(slope) {
            assert!((got + want).abs() < 1e-12, "{got} is not {want}");
        }
    }

    #[test]
    fn slope_and_curvature_are_derivatives() {
        let at = [-0.4, -0.5, -0.8];
        let place = Place::new(VALUES.as_slice(), at);
        let index = [[0, 1, 2], [1, 3, 4], [2, 4, 5]];
        for i in 0..3 {
            let (mut up, mut down) = (at, at);
            up[i] += 1e-5;
            down[i] -= 1e-5;
            let (up, down) =
                (Place::new(VALUES.as_slice(), up), Place::new(VALUES.as_slice(), down));
            let slope = (up.value - down.value) / 2e-5;
            assert!((slope - place.gradient[i]).abs() < 1e-7, "slope {i}");
            for (j, place_in) in index[i].into_iter().enumerate() {
                let bend = -(up.gradient[j] - down.gradient[j]) / 2e-5;
                let want = place.information[place_in];
                assert!((bend - want).abs() < 1e-6, "curvature {i} {j}: {bend} {want}");
            }
        }
    }

    #[test]
    fn no_climb_ends_below_its_start_and_all_that_end_inside_end_on_a_top() {
        let mut inside = 0;
        for (mu, ln_sigma, ln_tau) in (0..343).map(|i| (i % 7, i / 7 % 7, i / 49)) {
            let place = |i: i32| -4.5 + 0.9 * f64::from(i);
            let from = [f64::from(mu) - 3.0, place(ln_sigma), place(ln_tau)];
            let from = Place::new(VALUES.as_slice(), from);
            let end = climb(VALUES.as_slice(), from);
            assert!(end.value >= from.value - 1e-9, "{:?}: {}", from.at, end.value);
            if end.is_interior() {
                inside += 1;
                assert!(end.gradient.iter().all(|g| g.abs() < 1e-3), "{:?}", end.gradient);
            }
        }
        assert!(inside > 0, "{inside}");
    }

    #[test]
    fn of_bins_the_height_is_that_of_the_law_at_their_means() {
        // A bell, whose best fit is the normal law, and a long tail.
        let bell = |p: f64| crate::stats::special::normal_quantile(p);
        let tail = |p: f64| -(1.0 - p).ln();
        for (of, status) in
            [(&bell as &dyn Fn(f64) -> f64, Status::Boundary), (&tail, Status::Interior)]
        {
            let values: Vec<f64> = (1..600).map(|i| of(f64::from(i) / 600.0)).collect();
            let data = Standardised::new(&values).unwrap();
            let bins = Bins::of(&data.values);
            assert!(bins.bins.len() < 300);
            let found = fit_of_bins(&bins, data.skewness).unwrap();
            let terms = bins.bins.iter().map(|bin| bin.count * found.model.ln_pdf(bin.mean));
            let height: f64 = terms.sum();
            assert!((found.log_likelihood - height).abs() < 1e-8, "{height}");
            assert_eq!(found.model.family() == Family::Normal, status == Status::Boundary);
        }
    }
}
