//! The way down a likelihood with a known slope.
//!
//! Owns a small quasi-Newton descent (BFGS with backtracking). Refuses to know what it descends.

use crate::stats::matrix::Matrix;

/// No parameter moves further in one step; they are standardised.
const LONGEST_MOVE: f64 = 0.7;
/// A step that promises less than this share of the height is lost in rounding.
const ROUNDING: f64 = 1e-14;

/// How far a descent goes.
#[derive(Clone, Copy)]
pub(super) struct Limits {
    /// Most steps.
    pub(super) steps: usize,
    /// Two steps in a row that gain less than this end it.
    pub(super) least_gain: f64,
}

/// Where a descent ended.
pub(super) struct Bottom<const D: usize> {
    pub(super) at: [f64; D],
    pub(super) value: f64,
    /// What one more step would have gained, as far as can be told.
    pub(super) left: f64,
}

/// A local minimum of `f` (value and slope) from `start`. `metric` is about the inverse of the
/// curvature, if it is known.
pub(super) fn descend<const D: usize>(
    f: impl Fn(&[f64; D]) -> (f64, [f64; D]),
    start: [f64; D],
    metric: Option<Matrix<D>>,
    limits: Limits,
) -> Bottom<D> {
    let mut at = start;
    let (mut value, mut slope) = f(&at);
    let first = 0.2 / slope.iter().map(|g| g * g).sum::<f64>().sqrt().max(1e-9);
    let mut inverse = metric.unwrap_or(identity(first));
    let mut idle = 0;
    for _ in 0..limits.steps {
        let mut step: [f64; D] = std::array::from_fn(|i| -dot(&inverse[i], &slope));
        if dot(&step, &slope) >= 0.0 {
            inverse = identity(first);
            step = slope.map(|g| -first * g);
        }
        let longest = step.iter().fold(0.0_f64, |m, s| m.max(s.abs()));
        let mut length = (LONGEST_MOVE / longest.max(1e-300)).min(1.0);
        let along = dot(&step, &slope);
        if -along < ROUNDING * value.abs() {
            break;
        }
        let next = loop {
            let to: [f64; D] = std::array::from_fn(|i| at[i] + length * step[i]);
            let (v, g) = f(&to);
            if v.is_finite() && v <= value + 1e-4 * length * along {
                break Some((to, v, g));
            }
            length *= 0.4;
            if length < 1e-12 {
                break None;
            }
        };
        let Some((to, lower, new_slope)) = next else { break };
        let gain = value - lower;
        let s: [f64; D] = std::array::from_fn(|i| to[i] - at[i]);
        let y: [f64; D] = std::array::from_fn(|i| new_slope[i] - slope[i]);
        update(&mut inverse, &s, &y);
        (at, value, slope) = (to, lower, new_slope);
        idle = if gain < limits.least_gain { idle + 1 } else { 0 };
        if idle == 2 {
            break;
        }
    }
    let left = inverse.iter().zip(&slope).map(|(row, g)| 0.5 * g * dot(row, &slope)).sum();
    Bottom { at, value, left }
}

fn identity<const D: usize>(scale: f64) -> Matrix<D> {
    std::array::from_fn(|i| std::array::from_fn(|j| if i == j { scale } else { 0.0 }))
}

fn dot<const D: usize>(a: &[f64; D], b: &[f64; D]) -> f64 {
    a.iter().zip(b).map(|(a, b)| a * b).sum()
}

/// H ← (I − s yᵀ/sy) H (I − y sᵀ/sy) + s sᵀ/sy, where the curvature along s is positive.
fn update<const D: usize>(h: &mut Matrix<D>, s: &[f64; D], y: &[f64; D]) {
    let sy = dot(s, y);
    if sy <= 1e-14 {
        return;
    }
    let hy: [f64; D] = std::array::from_fn(|i| dot(&h[i], y));
    let factor = (1.0 + dot(y, &hy) / sy) / sy;
    for (i, row) in h.iter_mut().enumerate() {
        for (j, cell) in row.iter_mut().enumerate() {
            *cell += factor * s[i] * s[j] - (hy[i] * s[j] + s[i] * hy[j]) / sy;
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn the_descent_reaches_the_end_of_a_bent_valley() {
        // Rosenbrock's valley; its only minimum is 0 at (1, 1).
        let valley = |p: &[f64; 2]| {
            let (a, b) = (1.0 - p[0], p[1] - p[0] * p[0]);
            (a * a + 100.0 * b * b, [-2.0 * a - 400.0 * p[0] * b, 200.0 * b])
        };
        let limits = Limits { steps: 300, least_gain: 1e-11 };
        let Bottom { at, value, left } = descend(valley, [-1.2, 1.0], None, limits);
        assert!(value < 1e-8 && (at[0] - 1.0).abs() < 1e-3, "{at:?} {value}");
        assert!(left < 1e-8, "{left}");
        let limits = Limits { steps: 5, ..limits };
        assert!(descend(valley, [-1.2, 1.0], None, limits).left > 1e-3);
    }

    #[test]
    fn a_metric_that_points_uphill_is_given_up() {
        let bowl = |p: &[f64; 2]| {
            let (a, b) = (p[0] - 3.0, p[1] + 1.0);
            (a * a + 4.0 * b * b, [2.0 * a, 8.0 * b])
        };
        let limits = Limits { steps: 100, least_gain: 1e-12 };
        let Bottom { at, value, .. } = descend(bowl, [0.0, 0.0], Some(identity(-1.0)), limits);
        assert!(value < 1e-9 && (at[0] - 3.0).abs() < 1e-4, "{at:?} {value}");
    }
}
