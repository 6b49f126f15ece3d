//! The small arithmetic the files of this room share.
//!
//! Owns two-pass sums, quantiles, a bracketed root, a guarded minimum, Gauss–Legendre nodes and a
//! dense linear solver. Refuses statistics: nothing here knows what its numbers mean.

use super::special::FRAC_1_SQRT_2PI;
pub(super) use super::summary::mean_of as mean;
use super::{Estimate, Sample, StatsError};
use statrs::distribution::{ChiSquared, ContinuousCDF, FisherSnedecor, StudentsT};

/// Largest magnitude the room computes with: its square is far from the end of the doubles.
const LARGEST: f64 = 1e100;

/// Values that can be squared and summed.
pub(super) fn usable(sample: &Sample, need: usize) -> Result<&[f64], StatsError> {
    let values = sample.at_least(need)?.values();
    match values.iter().find(|v| v.abs() > LARGEST) {
        Some(&value) => {
            Err(StatsError::OutOfDomain { name: "value", value, domain: "-1e100..=1e100" })
        }
        None => Ok(values),
    }
}

/// A parameter inside its domain.
pub(super) fn within(
    name: &'static str,
    value: f64,
    low: f64,
    high: f64,
    domain: &'static str,
) -> Result<f64, StatsError> {
    if (low..=high).contains(&value) {
        Ok(value)
    } else {
        Err(StatsError::OutOfDomain { name, value, domain })
    }
}

/// A level for which a two-sided interval makes sense.
pub(super) fn checked_level(level: f64) -> Result<f64, StatsError> {
    within("level", level, 0.5, 0.999, "0.5..=0.999")
}

/// An estimate, or the error that keeps numbers that are none from leaving the room.
pub(super) fn estimate(
    value: f64,
    (low, high): (f64, f64),
    level: f64,
    n: usize,
) -> Result<Estimate, StatsError> {
    if value.is_finite() && low.is_finite() && high.is_finite() {
        Ok(Estimate { value, low, high, level, n })
    } else {
        Err(StatsError::NoFit("the interval has no end"))
    }
}

/// Sum of squared deviations from `centre`.
pub(super) fn squares_about(values: &[f64], centre: f64) -> f64 {
    values.iter().map(|v| (v - centre) * (v - centre)).sum()
}

/// Standard deviation, divisor n − 1.
pub(super) fn sd(values: &[f64]) -> f64 {
    (squares_about(values, mean(values)) / (values.len() as f64 - 1.0)).sqrt()
}

pub(super) fn median(values: &[f64]) -> f64 {
    let mut sorted = values.to_vec();
    sorted.sort_by(f64::total_cmp);
    let half = sorted.len() / 2;
    if sorted.len() % 2 == 1 { sorted[half] } else { 0.5 * sorted[half - 1] + 0.5 * sorted[half] }
}

/// Whether the values differ by more than the rounding of their own size.
pub(super) fn has_spread(values: &[f64]) -> bool {
    let low = values.iter().copied().fold(f64::INFINITY, f64::min);
    let high = values.iter().copied().fold(f64::NEG_INFINITY, f64::max);
    let floor = 1e-13 * low.abs().max(high.abs());
    high - low > floor && (high - low) * (high - low) > f64::MIN_POSITIVE
}

/// Values as deviations from their mean in units of their standard deviation, with both.
pub(super) fn standardised(values: &[f64]) -> Result<(Vec<f64>, f64, f64), StatsError> {
    if !has_spread(values) {
        return Err(StatsError::NoSpread);
    }
    let (centre, scale) = (mean(values), sd(values));
    Ok((values.iter().map(|v| (v - centre) / scale).collect(), centre, scale))
}

pub(super) fn normal_density(z: f64) -> f64 {
    FRAC_1_SQRT_2PI * (-0.5 * z * z).exp()
}

/// Half-width factor of a two-sided interval from Student's t with `freedom` ≥ 1.
pub(super) fn t_factor(level: f64, freedom: f64) -> f64 {
    StudentsT::new(0.0, 1.0, freedom.max(1.0))
        .expect("location 0, scale 1 and freedom of at least 1 are a Student's t")
        .inverse_cdf(0.5 + 0.5 * level)
}

/// Quantile of χ² with `freedom` > 0.
pub(super) fn chi_squared_quantile(p: f64, freedom: f64) -> f64 {
    ChiSquared::new(freedom.max(1e-3)).expect("a positive freedom is a chi-squared").inverse_cdf(p)
}

/// P(F > `f`) for F with `above` and `below` degrees of freedom, both at least 1.
pub(super) fn f_upper_tail(f: f64, above: f64, below: f64) -> f64 {
    FisherSnedecor::new(above.max(1.0), below.max(1.0))
        .expect("degrees of freedom of at least 1 are an F")
        .sf(f.max(0.0))
}

/// A root of `f` between `a` and `b`, where it changes sign: regula falsi, Illinois variant, which
/// always keeps the bracket. `None` if there is no change of sign.
pub(super) fn root(f: impl FnMut(f64) -> f64, a: f64, b: f64) -> Option<f64> {
    root_to(1e-13, f, a, b)
}

/// The same to a relative `tolerance`, for functions that are dear to compute.
pub(super) fn root_to(
    tolerance: f64,
    mut f: impl FnMut(f64) -> f64,
    a: f64,
    b: f64,
) -> Option<f64> {
    let (mut a, mut b) = (a, b);
    let (mut fa, mut fb) = (f(a), f(b));
    // Signs, not products: those of small numbers vanish.
    let same = fa != 0.0 && fb != 0.0 && fa.signum() == fb.signum();
    if fa.is_nan() || fb.is_nan() || same {
        return None;
    }
    for round in 0..200 {
        if fa == 0.0 || fb == 0.0 || (b - a).abs() <= tolerance * (a.abs() + b.abs()) {
            break;
        }
        // Every fourth step halves, so that a flat side cannot stall the search.
        let c = if round % 4 == 3 { 0.5 * (a + b) } else { (a * fb - b * fa) / (fb - fa) };
        let c = if c.is_finite() { c } else { 0.5 * (a + b) };
        let fc = f(c);
        if fc.signum() != fb.signum() {
            (a, fa) = (b, fb);
        } else {
            fa *= 0.5;
        }
        (b, fb) = (c, fc);
    }
    Some(if fa == 0.0 { a } else { b })
}

/// Where `f` is smallest and what it is there: the best of `steps` + 1 points from `a` to `b`, then
/// golden sections between its neighbours down to `tolerance`. What is no number counts as infinite.
pub(super) fn minimum(
    mut f: impl FnMut(f64) -> f64,
    (a, b): (f64, f64),
    steps: usize,
    tolerance: f64,
) -> (f64, f64) {
    let mut guarded = |x: f64| {
        let y = f(x);
        if y.is_nan() { f64::INFINITY } else { y }
    };
    let at = |i: usize| a + (b - a) * i as f64 / steps as f64;
    let best = (0..=steps).map(|i| (i, guarded(at(i)))).min_by(|p, q| p.1.total_cmp(&q.1));
    let (i, value) = best.expect("a grid has at least one point");
    let on_grid = (at(i), value);
    let (mut low, mut high) = (at(i.saturating_sub(1)), at((i + 1).min(steps)));
    let section = 0.5 * (5_f64.sqrt() - 1.0);
    let mut left = high - section * (high - low);
    let mut right = low + section * (high - low);
    let (mut f_left, mut f_right) = (guarded(left), guarded(right));
    for _ in 0..60 {
        if high - low < tolerance {
            break;
        }
        if f_left < f_right {
            (high, right, f_right) = (right, left, f_left);
            left = high - section * (high - low);
            f_left = guarded(left);
        } else {
            (low, left, f_left) = (left, right, f_right);
            right = low + section * (high - low);
            f_right = guarded(right);
        }
    }
    let inside = if f_left < f_right { (left, f_left) } else { (right, f_right) };
    if inside.1 < on_grid.1 { inside } else { on_grid }
}

/// Nodes and weights that integrate polynomials of degree 2`n` − 1 over `a..b` exactly.
pub(super) fn gauss_legendre(n: usize, a: f64, b: f64) -> Vec<(f64, f64)> {
    let half = 0.5 * (b - a);
    let mut nodes = Vec::with_capacity(n);
    for i in 0..n {
        // Newton from the usual cosine guess; the recurrence gives value and slope.
        let mut x = (std::f64::consts::PI * (i as f64 + 0.75) / (n as f64 + 0.5)).cos();
        let mut slope = 1.0;
        for _ in 0..60 {
            let (mut before, mut here) = (1.0, x);
            for k in 2..=n {
                let k = k as f64;
                (before, here) = (here, ((2.0 * k - 1.0) * x * here - (k - 1.0) * before) / k);
            }
            slope = n as f64 * (x * here - before) / (x * x - 1.0);
            let step = here / slope;
            x -= step;
            if step.abs() < 1e-15 {
                break;
            }
        }
        nodes.push((a + half * (1.0 - x), half * 2.0 / ((1.0 - x * x) * slope * slope)));
    }
    nodes
}

/// Solves `matrix` · x = `right` by elimination with row exchange; `None` if it is singular.
pub(super) fn solve(mut matrix: Vec<Vec<f64>>, mut right: Vec<f64>) -> Option<Vec<f64>> {
    let n = right.len();
    for column in 0..n {
        let pivot = (column..n)
            .max_by(|&i, &j| matrix[i][column].abs().total_cmp(&matrix[j][column].abs()))?;
        let size = matrix[pivot][column].abs();
        if size == 0.0 || size.is_nan() {
            return None;
        }
        matrix.swap(column, pivot);
        right.swap(column, pivot);
        let (above, below) = matrix.split_at_mut(column + 1);
        let top = &above[column];
        for (i, row) in below.iter_mut().enumerate() {
            let factor = row[column] / top[column];
            for (entry, over) in row[column..].iter_mut().zip(&top[column..]) {
                *entry -= factor * over;
            }
            right[column + 1 + i] -= factor * right[column];
        }
    }
    for i in (0..n).rev() {
        let known: f64 = (i + 1..n).map(|j| matrix[i][j] * right[j]).sum();
        right[i] = (right[i] - known) / matrix[i][i];
    }
    right.iter().all(|x| x.is_finite()).then_some(right)
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn nodes_integrate_a_power_and_a_bell_exactly() {
        let nodes = gauss_legendre(20, -1.0, 3.0);
        let power: f64 = nodes.iter().map(|(x, w)| w * x.powi(7)).sum();
        assert!((power - (3_f64.powi(8) - 1.0) / 8.0).abs() < 1e-10);
        let bell: f64 =
            gauss_legendre(60, -9.0, 9.0).iter().map(|(x, w)| w * normal_density(*x)).sum();
        assert!((bell - 1.0).abs() < 1e-13);
    }

    #[test]
    fn a_linear_system_is_solved_and_a_singular_one_refused() {
        let x = solve(vec![vec![0.0, 2.0], vec![3.0, 1.0]], vec![4.0, 5.0]).unwrap();
        assert!((x[0] - 1.0).abs() < 1e-15 && (x[1] - 2.0).abs() < 1e-15);
        assert!(solve(vec![vec![1.0, 2.0], vec![2.0, 4.0]], vec![1.0, 1.0]).is_none());
    }

    #[test]
    fn roots_and_minima_are_found_to_many_digits() {
        let cube = root(|x| x * x * x - 2.0, 0.0, 5.0).unwrap();
        assert!((cube - 2_f64.cbrt()).abs() < 1e-12);
        assert!(root(|x| x * x + 1.0, -1.0, 1.0).is_none());
        let (place, _) = minimum(|x| (x - 0.3).powi(2), (-4.0, 9.0), 13, 1e-9);
        assert!((place - 0.3).abs() < 1e-7);
    }

    #[test]
    fn mean_and_spread_are_those_of_nist_numacc1() {
        // NIST StRD NumAcc1: 10000001, 10000003, 10000002 → mean 10000002, SD 1 exactly.
        let values = [10_000_001.0, 10_000_003.0, 10_000_002.0];
        assert_eq!((mean(&values), sd(&values)), (10_000_002.0, 1.0));
    }

    #[test]
    fn a_root_has_as_many_digits_whatever_its_size() {
        for size in [1e-9, 1.0, 1e9] {
            let cube = |x: f64| (x / size).powi(3) - 2.0;
            let found = root(cube, 0.0, 5.0 * size).unwrap() / size;
            assert!((found - 2_f64.cbrt()).abs() < 1e-12, "{size}: {found}");
        }
    }

    #[test]
    fn a_median_is_the_middle_value_or_the_middle_of_two() {
        assert_eq!(median(&[8.0, 1.0, 4.0]), 4.0);
        assert_eq!(median(&[8.0, 1.0, 4.0, 2.0]), 3.0);
        assert_eq!(median(&[3.0, 9.0]), 6.0);
    }
}
