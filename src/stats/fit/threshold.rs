//! Where a law's threshold lies: a one-dimensional search on the slope of the profile likelihood.
//!
//! Owns the search over the distance D from threshold to mean, in standard units, and what follows
//! from its outcome. Refuses the ends: a threshold at the fastest value is no optimum, one far away is
//! the normal limit.

use super::newton::{Symmetric, standard_errors};
use super::standard::Standardised;
use super::{Found, Status, normal};
use crate::stats::StatsError;
use crate::stats::family::Model;

/// The nearest threshold looked at, below the fastest value.
const NEAREST: f64 = 1e-6;
/// The farthest: there the laws differ from the normal one by less than their skewness, 3e-4.
const FARTHEST: f64 = 1e4;
/// Steps of the scan, evenly spaced in ln of the distance below the fastest value.
const STEPS: usize = 48;
/// Above this many values the scan looks at a thinned sample; the polish looks at all.
const SCAN_VALUES: usize = 4_000;

/// What a law with a threshold has to say of standardised values when the threshold lies the distance
/// D below their mean and the other parameters are the best for that.
pub(super) trait Profile {
    /// The ln-likelihood.
    fn value(values: &[f64], distance: f64) -> f64;
    /// Its derivative in D.
    fn slope(values: &[f64], distance: f64) -> f64;
    /// The law, and minus the second derivatives of the ln-likelihood in its parameters.
    fn at(values: &[f64], distance: f64) -> Result<(Model, Symmetric), StatsError>;
}

/// The fit of such a law. `None` if there is no optimum but at a threshold at the fastest value.
pub(super) fn fit<P: Profile>(data: &Standardised) -> Result<Option<Found>, StatsError> {
    let distance = match search(data, P::value, P::slope) {
        Threshold::At(distance) => distance,
        Threshold::NormalLimit => return normal::as_limit(data).map(Some),
        Threshold::None => return Ok(None),
    };
    let (model, information) = P::at(&data.values, distance)?;
    Ok(Some(Found {
        status: Status::Interior,
        model,
        standard_errors: standard_errors(&information),
        log_likelihood: P::value(&data.values, distance),
    }))
}

/// The outcome of a search.
#[derive(Debug, Clone, Copy, PartialEq)]
enum Threshold {
    /// The distance from mean to threshold at the best interior optimum.
    At(f64),
    /// The likelihood rises all the way to the normal limit.
    NormalLimit,
    /// There is no optimum but at the ends.
    None,
}

/// Finds the best interior optimum of a profile likelihood, given with its slope.
fn search(
    data: &Standardised,
    value: impl Fn(&[f64], f64) -> f64,
    slope: impl Fn(&[f64], f64) -> f64,
) -> Threshold {
    let nearest = -data.min;
    let gap_of = |step: usize| NEAREST * (FARTHEST / NEAREST).powf(step as f64 / STEPS as f64);
    let thin;
    let scanned = if data.values.len() > SCAN_VALUES {
        thin = data.thinned((data.values.len() / 100).max(SCAN_VALUES / 2));
        &thin
    } else {
        &data.values
    };
    let slopes: Vec<f64> = (0..=STEPS).map(|step| slope(scanned, nearest + gap_of(step))).collect();
    let mut best: Option<(f64, f64)> = None;
    for step in 0..STEPS {
        if slopes[step] > 0.0 && slopes[step + 1] <= 0.0 {
            let ends = [step, step + 1].map(|step| (gap_of(step), slopes[step]));
            let mut gap = root(ends, |gap| slope(scanned, nearest + gap));
            if data.values.len() > SCAN_VALUES {
                // The whole sample's optimum lies near the thinned one's, on either side.
                let slope = |gap: f64| slope(&data.values, nearest + gap);
                let low = widen(0.95 * gap, 0.8, |slope| slope > 0.0, slope);
                let high = widen(1.05 * gap, 1.25, |slope| slope <= 0.0, slope);
                let (Some(low), Some(high)) = (low, high) else {
                    continue;
                };
                gap = root([low, high], slope);
            }
            let height = value(&data.values, nearest + gap);
            if best.is_none_or(|(_, top)| height > top) {
                best = Some((nearest + gap, height));
            }
        }
    }
    match best {
        Some((distance, _)) => Threshold::At(distance),
        None if slopes[STEPS] > 0.0 => Threshold::NormalLimit,
        None => Threshold::None,
    }
}

/// Moves `gap` by `factor`, in growing strides, until its slope is right; `None` if the range of the search is left.
fn widen(
    gap: f64,
    factor: f64,
    is_right: impl Fn(f64) -> bool,
    slope: impl Fn(f64) -> f64,
) -> Option<(f64, f64)> {
    let (mut gap, mut factor) = (gap, factor);
    while (NEAREST..=2.0 * FARTHEST).contains(&gap) {
        let here = slope(gap);
        if is_right(here) {
            return Some((gap, here));
        }
        gap *= factor;
        factor *= factor;
    }
    None
}

/// The gap where `slope` falls through 0, between two gaps given with their slopes, the first
/// positive and the second not: the Illinois variant of regula falsi in ln(gap), with a bisection
/// every eighth round.
fn root(ends: [(f64, f64); 2], slope: impl Fn(f64) -> f64) -> f64 {
    let [(low, slope_low), (high, slope_high)] = ends;
    let (mut a, mut b) = (low.ln(), high.ln());
    // Multiplied by the gap: the slope in ln(gap), which varies less.
    let at = |t: f64| slope(t.exp()) * t.exp();
    let (mut fa, mut fb) = (slope_low * low, slope_high * high);
    let (mut last_side, mut last) = (0, f64::INFINITY);
    for round in 0..80 {
        let width = b - a;
        if width < 1e-13 * a.abs().max(1.0) {
            break;
        }
        let secant = (a * fb - b * fa) / (fb - fa);
        let t = if round % 8 == 7 || !(secant > a && secant < b) { 0.5 * (a + b) } else { secant };
        // Steps shrink faster than linearly: after one this small the place is exact.
        if (t - last).abs() < 1e-9 {
            return t.exp();
        }
        last = t;
        let f = at(t);
        if f == 0.0 {
            return t.exp();
        }
        if f > 0.0 {
            (a, fa) = (t, f);
            fb *= if last_side == 1 { 0.5 } else { 1.0 };
            last_side = 1;
        } else {
            (b, fb) = (t, f);
            fa *= if last_side == -1 { 0.5 } else { 1.0 };
            last_side = -1;
        }
    }
    (0.5 * (a + b)).exp()
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::seed::generator;
    use crate::stats::family::{Distribution, ShiftedLognormal, ShiftedWald};

    fn data() -> Standardised {
        Standardised::new(&[0.0, 1.0, 2.0, 3.0, 5.0]).unwrap()
    }

    fn assert_slope_is_the_derivative<P: Profile>() {
        let values = Standardised::new(&[0.1, 0.13, 0.15, 0.2, 0.22, 0.4]).unwrap().values;
        for distance in [1.5, 3.0, 40.0] {
            let step = 1e-5 * distance;
            let rise = P::value(&values, distance + step) - P::value(&values, distance - step);
            let slope = P::slope(&values, distance);
            assert!((rise / (2.0 * step) - slope).abs() < 1e-5 * slope.abs().max(1e-2));
        }
    }

    #[test]
    fn the_slopes_of_both_profiles_are_their_derivatives() {
        assert_slope_is_the_derivative::<ShiftedLognormal>();
        assert_slope_is_the_derivative::<ShiftedWald>();
    }

    #[test]
    fn the_root_of_a_smooth_slope_is_found_to_the_last_digits() {
        let slope = |gap: f64| 1.0 / (gap * gap) - 1.0 / 2.0;
        let gap = root([0.1, 10.0].map(|gap| (gap, slope(gap))), slope);
        assert!((gap - 2f64.sqrt()).abs() < 1e-12, "{gap}");
    }

    /// Where the search ends in a sample so large that it scans a part, the slope of the whole is 0.
    fn assert_the_whole_is_searched<P: Profile>(law: &Model) {
        for seed in 0..8 {
            let rng = &mut generator(seed);
            let values: Vec<f64> = (0..2 * SCAN_VALUES).map(|_| law.sample(rng)).collect();
            let data = Standardised::new(&values).unwrap();
            let Threshold::At(distance) = search(&data, P::value, P::slope) else {
                panic!("seed {seed}: there is an optimum")
            };
            let nearest = -data.min;
            let near =
                |factor: f64| P::slope(&data.values, nearest + factor * (distance - nearest));
            assert!(near(0.99) > 0.0 && near(1.01) < 0.0, "seed {seed}");
            let steepest = near(0.99).max(-near(1.01));
            assert!(near(1.0).abs() < 1e-6 * steepest, "seed {seed}: {}", near(1.0));
        }
    }

    #[test]
    fn of_a_large_sample_a_part_is_scanned_and_the_optimum_is_the_wholes() {
        let lognormal = ShiftedLognormal::new(0.15, -2.5, 0.6).unwrap();
        assert_the_whole_is_searched::<ShiftedLognormal>(&Model::ShiftedLognormal(lognormal));
        let wald = ShiftedWald::new(0.15, 0.1, 0.3).unwrap();
        assert_the_whole_is_searched::<ShiftedWald>(&Model::ShiftedWald(wald));
    }

    #[test]
    fn the_ends_are_no_optimum() {
        assert_eq!(search(&data(), |_, d| d, |_, _| 1.0), Threshold::NormalLimit);
        assert_eq!(search(&data(), |_, d| -d, |_, _| -1.0), Threshold::None);
    }

    #[test]
    fn the_better_of_two_humps_wins() {
        let nearest = -data().min;
        // Slope with falling zeros at gaps 1e-3 and 10 and a rising one at 0.1.
        let (p, q, r) = (1e-3f64.ln(), 0.1f64.ln(), 10f64.ln());
        let height = |_: &[f64], d: f64| if (d - nearest).ln() < q { 1.0 } else { 2.0 };
        let slope = |_: &[f64], d: f64| {
            let t = (d - nearest).ln();
            -(t - p) * (t - q) * (t - r)
        };
        let Threshold::At(d) = search(&data(), height, slope) else {
            panic!("there is an optimum")
        };
        assert!((d - nearest - 10.0).abs() < 1e-9);
    }
}
