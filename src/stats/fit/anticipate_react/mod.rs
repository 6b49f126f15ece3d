//! The two-part law's fit: several descents, of which two have to agree.
//!
//! Owns the starts, the choice among their ends and what kind of optimum it is. Refuses spikes: a part
//! that shrinks on one launch has a likelihood without end, so spreads have a floor, and an end that
//! sits on it is no optimum.

mod descent;
mod likelihood;

use super::bins::Bins;
use super::standard::Standardised;
use super::{Found, Status, ex_gaussian, normal};
use crate::stats::family::{AnticipateReact, Model};
use crate::stats::matrix::{Matrix, inverse};
use crate::stats::{Sample, StatsError};
use descent::{Bottom, Limits, descend};
use likelihood::{
    Point, SPREAD_FLOOR, minus_ln_likelihood, minus_ln_likelihood_of, parameters, point,
};

/// Values a two-part fit needs at least. Chosen: six parameters.
const LEAST: usize = 30;
/// Above this many values the starts look at a thinned sample; the last descent looks at all.
const THIN_ABOVE: usize = 4_000;
/// Values of the thinned sample.
const THIN_VALUES: usize = 2_000;
/// Shares of the earliest values that starts give to anticipation; two means choose one more.
const SHARES: [f64; 7] = [0.5, 0.75, 0.2, 0.08, 0.35, 0.62, 0.92];
/// The first so many of them, and the two means, decide whether a second part gains anything.
const SHARES_OF_A_GAIN: usize = 3;
/// Above this many values a gain is asked of bins: below they save little.
const BINNED_ABOVE: usize = 500;
/// Ends whose ln-likelihoods are this close are the same, and so are a small tail and none.
const AGREEMENT: f64 = 1e-4;
/// A tail narrower than this many times the reactions' normal part may be none.
const SMALL_TAIL: f64 = 2.0;
/// A descent to the last digits, and one that only asks how high it gets.
const LIMITS: Limits = Limits { steps: 300, least_gain: 1e-11 };
const ROUGH: Limits = Limits { steps: 300, least_gain: 1e-4 };
/// The coordinate of a tail held at its floor: e to this adds nothing to it.
const FLOOR: f64 = -40.0;
/// Half the step of the differences that make the curvature.
const HALF_STEP: f64 = 1e-4;

/// An end of the search.
#[derive(Clone, Copy)]
struct End {
    at: Point,
    minus_ln_likelihood: f64,
    /// What one more step would have gained.
    left: f64,
    /// Whether the exponential part is held at its floor.
    tailless: bool,
}

/// `None` if no two starts agree on an optimum with anticipation before reaction.
pub(super) fn fit(data: &Standardised) -> Result<Option<Found>, StatsError> {
    let n = data.values.len();
    if n < LEAST {
        return Ok(None);
    }
    let looked_at =
        sorted(if n > THIN_ABOVE { data.thinned(THIN_VALUES) } else { data.values.clone() });
    let ends = ends(&looked_at, &SHARES, LIMITS, |at| minus_ln_likelihood(&looked_at, at));
    let Some(best) = best(&ends) else {
        return Ok(None);
    };
    let agrees = |end: &&End| end.minus_ln_likelihood - best.minus_ln_likelihood < AGREEMENT;
    if ends.iter().filter(agrees).count() < 2 {
        return Ok(None);
    }
    let (mut end, mut curvature) = best.settled(&looked_at);
    if let Some(without) = end.without_small_tail(&looked_at) {
        (end, curvature) = without.settled(&looked_at);
    }
    let weight = n as f64 / looked_at.len() as f64;
    if weight > 1.0 {
        curvature = curvature.map(|row| row.map(|entry| weight * entry));
        // As many steps as ten million values leave time for.
        let limits = Limits { steps: (20_000_000 / n).clamp(4, LIMITS.steps), ..LIMITS };
        end = end.descended(&data.values, inverse(&curvature), limits);
    }
    end.found(data, &curvature)
}

/// The optimum next to `near`, of a sample like the one it was fitted to.
pub(super) fn fit_near(
    data: &Standardised,
    near: &AnticipateReact,
) -> Result<Option<Found>, StatsError> {
    let standard = Model::AnticipateReact(*near).moved(1.0 / data.sd, -data.mean / data.sd)?;
    let p: Vec<f64> = standard.parameters();
    let from = point(&std::array::from_fn(|i| p[i]));
    let end = End::from(|at| minus_ln_likelihood(&data.values, at), from, LIMITS);
    end.found(data, &[[0.0; 6]; 6])
}

/// Twice what a second part gains in ln-likelihood over the best single ex-Gaussian, and that law.
///
/// # Errors
/// As [`super::fit`].
pub(in crate::stats) fn gain_of_second_part(sample: &Sample) -> Result<(f64, Model), StatsError> {
    sample.at_least(LEAST)?;
    let data = Standardised::new(sample.values())?;
    let sorted = sorted(data.values.clone());
    let shares = &SHARES[..SHARES_OF_A_GAIN];
    let (one, ends) = if sorted.len() > BINNED_ABOVE {
        let bins = Bins::of(&sorted);
        let one = ex_gaussian::fit_of_bins(&bins, data.skewness)?;
        (one, ends(&sorted, shares, ROUGH, |at| minus_ln_likelihood_of(&bins, at)))
    } else {
        let one = ex_gaussian::fit(&data)?;
        (one, ends(&sorted, shares, ROUGH, |at| minus_ln_likelihood(&sorted, at)))
    };
    let of_one = one.log_likelihood;
    let of_two = best(&ends).map_or(of_one, |end| -end.minus_ln_likelihood);
    let gain = (2.0 * (of_two - of_one)).max(0.0);
    Ok((gain, one.model.moved(data.sd, data.mean)?))
}

fn sorted(mut values: Vec<f64>) -> Vec<f64> {
    values.sort_by(f64::total_cmp);
    values
}

/// Where descents of `height` end, spikes left out and those that put reaction before anticipation.
fn ends(
    sorted: &[f64],
    shares: &[f64],
    limits: Limits,
    height: impl Fn(&Point) -> (f64, Point),
) -> Vec<End> {
    let two_means = two_means(sorted);
    let shares = shares.iter().copied().chain([two_means]);
    let ends = shares.map(|share| End::from(&height, start(sorted, share), limits));
    ends.filter(|end| {
        let ([_, mean, _, mu, _, tau], _) = parameters(&end.at);
        !end.is_spike() && mean < mu + tau
    })
    .collect()
}

fn best(ends: &[End]) -> Option<End> {
    let height = |end: &End| -end.minus_ln_likelihood;
    ends.iter().copied().max_by(|a, b| height(a).total_cmp(&height(b)))
}

/// A start that gives the earliest `share` of sorted values to anticipation.
fn start(sorted: &[f64], share: f64) -> Point {
    let n = sorted.len();
    let split = ((n as f64 * share) as usize).clamp(3, n - 3);
    let ((mean, sd), (late, late_sd)) = (moments(&sorted[..split]), moments(&sorted[split..]));
    let spread = 0.7 * late_sd;
    point(&[share, mean, sd, late - spread, spread, spread])
}

/// The share that 2-means puts into the earlier of its two clusters.
fn two_means(sorted: &[f64]) -> f64 {
    let n = sorted.len();
    let mut split = n / 2;
    for _ in 0..50 {
        let middle = 0.5 * (moments(&sorted[..split]).0 + moments(&sorted[split..]).0);
        let next = sorted.partition_point(|v| *v < middle).clamp(3, n - 3);
        if next == split {
            break;
        }
        split = next;
    }
    split as f64 / n as f64
}

/// Mean and standard deviation, the latter kept off the floor.
fn moments(x: &[f64]) -> (f64, f64) {
    let n = x.len() as f64;
    let mean = x.iter().sum::<f64>() / n;
    let sd = (x.iter().map(|x| (x - mean).powi(2)).sum::<f64>() / n).sqrt();
    (mean, sd.max(2.0 * SPREAD_FLOOR))
}

impl End {
    fn from(height: impl Fn(&Point) -> (f64, Point), start: Point, limits: Limits) -> Self {
        let Bottom { at, value, left } = descend(height, start, None, limits);
        Self { at, minus_ln_likelihood: value, left, tailless: false }
    }

    /// Whether a part has shrunk as far as it may.
    fn is_spike(&self) -> bool {
        let ([_, _, sd, _, sigma, _], _) = parameters(&self.at);
        sd.min(sigma) < 1.02 * SPREAD_FLOOR || !self.minus_ln_likelihood.is_finite()
    }

    /// The end of a descent from here.
    fn descended(self, values: &[f64], metric: Option<Matrix<6>>, limits: Limits) -> Self {
        let held = |at: &Point| {
            let (value, mut slope) = minus_ln_likelihood(values, at);
            if self.tailless {
                slope[5] = 0.0;
            }
            (value, slope)
        };
        let Bottom { at, value, left } = descend(held, self.at, metric, limits);
        Self { at, minus_ln_likelihood: value, left, ..self }
    }

    /// The same to the last digits, and the curvature about it: with that a few steps do.
    fn settled(self, values: &[f64]) -> (Self, Matrix<6>) {
        let end = self.descended(values, inverse(&self.curvature(values)), LIMITS);
        (end, end.curvature(values))
    }

    /// The end without an exponential part, if that was small and gained nothing.
    fn without_small_tail(self, values: &[f64]) -> Option<Self> {
        let ([.., sigma, tau], _) = parameters(&self.at);
        if tau > SMALL_TAIL * sigma {
            return None;
        }
        let mut at = self.at;
        at[5] = FLOOR;
        let without = Self { at, tailless: true, ..self }.descended(values, None, LIMITS);
        let lost = without.minus_ln_likelihood - self.minus_ln_likelihood;
        (lost < AGREEMENT).then_some(without)
    }

    /// Second derivatives of minus the ln-likelihood, by differences of its slope; a held coordinate
    /// is left out.
    fn curvature(&self, values: &[f64]) -> Matrix<6> {
        let slope = |d: usize, step: f64| {
            let mut at = self.at;
            at[d] += step;
            minus_ln_likelihood(values, &at).1
        };
        let free = if self.tailless { 5 } else { 6 };
        let mut out = [[0.0; 6]; 6];
        for (d, row) in out.iter_mut().enumerate().take(free) {
            let (up, down) = (slope(d, HALF_STEP), slope(d, -HALF_STEP));
            for i in 0..free {
                row[i] = (up[i] - down[i]) / (2.0 * HALF_STEP);
            }
        }
        // Symmetric to the last digit, as the inverse takes it to be.
        let mean = |i: usize, j: usize| 0.5 * (out[i][j] + out[j][i]);
        let mut even: Matrix<6> = std::array::from_fn(|i| std::array::from_fn(|j| mean(i, j)));
        if self.tailless {
            even[5][5] = 1.0;
        }
        even
    }

    /// What kind of optimum this is; `None` for a spike, or a slope that
    /// the descent did not get down.
    fn found(
        &self,
        data: &Standardised,
        curvature: &Matrix<6>,
    ) -> Result<Option<Found>, StatsError> {
        let (p, slopes) = parameters(&self.at);
        let share = p[0];
        let n = data.values.len() as f64;
        if share * n < 1.0 {
            return Ok(Some(Found {
                status: Status::Boundary,
                standard_errors: None,
                ..ex_gaussian::fit(data)?
            }));
        }
        if (1.0 - share) * n < 1.0 {
            return normal::as_limit(data).map(Some);
        }
        if self.is_spike() || self.left > AGREEMENT {
            return Ok(None);
        }
        let errors = inverse(curvature).filter(|_| !self.tailless);
        let error = |i: usize, c: &Matrix<6>| c[i][i].sqrt() * slopes[i];
        Ok(Some(Found {
            status: if self.tailless { Status::Boundary } else { Status::Interior },
            model: Model::AnticipateReact(AnticipateReact::from_parameters(&p)?),
            standard_errors: errors.map(|c| (0..6).map(|i| error(i, &c)).collect()),
            log_likelihood: -self.minus_ln_likelihood,
        }))
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::seed::generator;
    use crate::stats::family::{Distribution, ExGaussian};

    /// Bins are an economy, not another question.
    #[test]
    fn bins_find_the_gain_that_all_values_find() {
        let one = Model::ExGaussian(ExGaussian::new(0.19, 0.02, 0.035).unwrap());
        let p = [0.1, 0.15, 0.02, 0.19, 0.02, 0.035];
        let two = Model::AnticipateReact(AnticipateReact::from_parameters(&p).unwrap());
        for seed in 0..12 {
            let mut random = generator(seed);
            let law = if seed % 2 == 0 { one } else { two };
            let sample = Sample::new((0..2000).map(|_| law.sample(&mut random)).collect()).unwrap();
            let data = Standardised::new(sample.values()).unwrap();
            let sorted = sorted(data.values.clone());
            let of_all = |at: &Point| minus_ln_likelihood(&sorted, at);
            let ends = ends(&sorted, &SHARES[..SHARES_OF_A_GAIN], ROUGH, of_all);
            let of_one = ex_gaussian::fit(&data).unwrap().log_likelihood;
            let of_two = best(&ends).map_or(of_one, |end| -end.minus_ln_likelihood);
            let exact = (2.0 * (of_two - of_one)).max(0.0);
            let off = gain_of_second_part(&sample).unwrap().0 - exact;
            println!("seed {seed}: {exact:.4}, by bins {off:+.5}");
            assert!(off.abs() < (0.001 * exact).max(0.01), "{exact} {off}");
        }
    }

    /// scipy 1.17.1, two normals: share .62760926, 29.280244 ± 20.413084 and 163.265197 ± 29.878132,
    /// ln-likelihood −1255.378147.
    #[test]
    fn without_a_tail_the_parts_are_the_two_normals_of_the_reference() {
        let text = include_str!("../../../../tests/data/synthetic_mixture_240.csv");
        let ms = text.lines().skip(1).map(|line| line.split(',').nth(1).unwrap().parse().unwrap());
        let data = Standardised::new(&ms.collect::<Vec<f64>>()).unwrap();
        let values = sorted(data.values.clone());
        let mut at = start(&values, 0.6);
        at[5] = FLOOR;
        let (none, left) = (f64::INFINITY, f64::INFINITY);
        let from = End { at, minus_ln_likelihood: none, left, tailless: true };
        let (end, _) = from.descended(&values, None, LIMITS).settled(&values);
        let found = end.found(&data, &[[0.0; 6]; 6]).unwrap().unwrap();
        assert_eq!(found.status, Status::Boundary);
        let p = found.model.moved(data.sd, data.mean).unwrap().parameters();
        let got = [p[0], p[1], p[2], p[3] + p[5], p[4].hypot(p[5])];
        for (got, want) in got.iter().zip([0.62760926, 29.280244, 20.413084, 163.265197, 29.878132])
        {
            assert!((got / want - 1.0).abs() < 1e-6, "{got} is not {want}");
        }
        let height = found.log_likelihood - 240.0 * data.sd.ln();
        assert!((height + 1_255.378_147).abs() < 2e-6, "{height}");
    }

    #[test]
    fn with_one_part_empty_the_law_of_the_other_is_left() {
        let values: Vec<f64> = (1..40).map(|i| -(1.0 - f64::from(i) / 40.0).ln()).collect();
        let data = Standardised::new(&values).unwrap();
        let found = |logit: f64| {
            let at = [logit, -0.8, -0.5, 0.4, -0.9, -0.3];
            let end = End { at, minus_ln_likelihood: 50.0, left: 0.0, tailless: false };
            end.found(&data, &[[0.0; 6]; 6]).unwrap().unwrap()
        };
        let (none_early, none_late) = (found(-40.0), found(40.0));
        assert_eq!((none_early.status, none_late.status), (Status::Boundary, Status::Boundary));
        assert_eq!(none_early.model, ex_gaussian::fit(&data).unwrap().model);
        assert_eq!(none_late.model, normal::as_limit(&data).unwrap().model);
        // One launch in forty is no empty part.
        assert!(matches!(found(-3.0).model, Model::AnticipateReact(_)));
        assert!(matches!(found(3.0).model, Model::AnticipateReact(_)));
    }

    #[test]
    fn a_fit_near_another_takes_one_value_more_than_parameters() {
        let p = [0.1, 0.15, 0.02, 0.19, 0.02, 0.035];
        let near = Model::AnticipateReact(AnticipateReact::from_parameters(&p).unwrap());
        let six = Sample::new(vec![0.1, 0.2, 0.15, 0.3, 0.12, 0.22]).unwrap();
        let refused = super::super::refit(near.family(), &near, &six).unwrap_err();
        assert_eq!(refused, StatsError::TooFew { have: 6, need: 7 });
    }
}
