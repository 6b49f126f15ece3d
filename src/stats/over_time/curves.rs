//! Learning curves through a series by guarded least squares.
//!
//! Owns the shapes, their fits and the plateau's profile. Refuses to say whether there is learning.
//! Works on standardised values; the level and the gain of a curve are solved exactly for every
//! rate, so that only rates are searched, on a grid that no data can lead astray.

use crate::stats::numeric::{mean, minimum, root_to, t_factor};

/// Steps of the grid of log rates.
const STEPS: usize = 40;
/// Curves of each shape in the test for any learning.
const TEST_CURVES: usize = 20;

/// The shape of a curve.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash)]
pub enum Shape {
    /// y = A.
    Flat,
    /// y = A + B exp(−a (N − 1)).
    Exponential,
    /// y = A + B N^−b.
    Power,
    /// y = A + B exp(−a (N − 1)) N^−b.
    Apex,
}

impl Shape {
    /// Parameters of the curve.
    fn parameters(self) -> f64 {
        match self {
            Shape::Flat => 1.0,
            Shape::Exponential | Shape::Power => 3.0,
            Shape::Apex => 4.0,
        }
    }
}

/// A fitted curve: A + B exp(−a (N − 1)) N^−b.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct CurveFit {
    /// Its shape.
    pub shape: Shape,
    /// A, in the unit of the values.
    pub plateau: f64,
    /// B, in the unit of the values: how far the first value lies above the plateau.
    pub gain: f64,
    /// a, per launch (or whatever is counted).
    pub exponential_rate: f64,
    /// b, without unit.
    pub power_rate: f64,
    /// Residual sum of squares over the values or blocks fitted, in the unit squared.
    pub rss: f64,
    /// Akaike's criterion, corrected for few values.
    pub aicc: f64,
    /// Whether a rate lies at the end of the range searched: a straight line or a single step.
    pub at_boundary: bool,
}

impl CurveFit {
    /// The curve at `position`, from 1.
    pub fn at(&self, position: f64) -> f64 {
        self.plateau + self.gain * decay(position, self.exponential_rate, self.power_rate)
    }

    /// The fit to standardised values, told in the unit of the values.
    pub(super) fn in_units(self, centre: f64, scale: f64, n: usize) -> Self {
        Self {
            plateau: centre + scale * self.plateau,
            gain: scale * self.gain,
            rss: scale * scale * self.rss,
            aicc: self.aicc + 2.0 * n as f64 * scale.ln(),
            ..self
        }
    }
}

/// Values at positions.
pub(super) struct Series {
    positions: Vec<f64>,
    /// ln N of each, which the search needs thousands of times.
    logs: Vec<f64>,
    values: Vec<f64>,
}

impl Series {
    /// The means of blocks of `size` values at the means of their positions.
    pub(super) fn in_blocks(values: &[f64], size: usize) -> Self {
        let starts = (0..).step_by(size);
        let blocks = values.chunks(size).zip(starts);
        let (positions, values): (Vec<f64>, Vec<f64>) = blocks
            .map(|(block, start)| {
                let middle = start as f64 + 0.5 * (block.len() as f64 + 1.0);
                (middle, mean(block))
            })
            .unzip();
        let logs = positions.iter().map(|p| p.ln()).collect();
        Self { positions, logs, values }
    }

    /// exp(−a (N − 1)) N^−b at every position.
    fn decays(&self, a: f64, b: f64) -> impl Iterator<Item = f64> + '_ {
        let pairs = self.positions.iter().zip(&self.logs);
        pairs.map(move |(position, log)| (-a * (position - 1.0) - b * log).exp())
    }

    pub(super) fn len(&self) -> usize {
        self.values.len()
    }

    pub(super) fn values(&self) -> &[f64] {
        &self.values
    }

    /// Values less the curve.
    pub(super) fn residuals(&self, fit: &CurveFit) -> Vec<f64> {
        self.positions.iter().zip(&self.values).map(|(p, y)| y - fit.at(*p)).collect()
    }

    /// Falling curves with mean 0 and length 1, exponential and power.
    pub(super) fn unit_curves(&self) -> Vec<Vec<f64>> {
        let unit = |(a, b): (f64, f64)| {
            let curve: Vec<f64> = self.decays(a, b).collect();
            let middle = mean(&curve);
            let length = curve.iter().map(|c| (c - middle).powi(2)).sum::<f64>().sqrt();
            curve.iter().map(|c| (c - middle) / length).collect()
        };
        let rate = |(low, high): (f64, f64), i: usize| {
            (low + (high - low) * i as f64 / (TEST_CURVES - 1) as f64).exp()
        };
        let exponential = (0..TEST_CURVES).map(|i| (rate(self.exponential_range(), i), 0.0));
        let power = (0..TEST_CURVES).map(|i| (0.0, rate(self.power_range(), i)));
        exponential.chain(power).map(unit).collect()
    }

    /// Log rates a from all but a straight line to a single step.
    fn exponential_range(&self) -> (f64, f64) {
        let span = self.positions[self.len() - 1] - self.positions[0];
        ((0.1 / span).ln(), (20.0 / (self.positions[1] - self.positions[0])).ln())
    }

    /// Log rates b from all but a logarithm to a single step.
    fn power_range(&self) -> (f64, f64) {
        (0.05_f64.ln(), (20.0 / (self.positions[1] / self.positions[0]).ln()).ln())
    }

    /// Whether the curve is as straight as the search allows.
    fn is_slowest(&self, shape: Shape, a: f64, b: f64) -> bool {
        let slow_a = a.ln() - self.exponential_range().0 < 1e-2;
        let slow_b = b.ln() - self.power_range().0 < 1e-2;
        match shape {
            Shape::Flat => false,
            Shape::Exponential => slow_a,
            Shape::Power => slow_b,
            Shape::Apex => slow_a && slow_b,
        }
    }

    /// Level, gain and squares left of the best curve with these rates.
    fn solved(&self, a: f64, b: f64) -> (f64, f64, f64) {
        let curve: Vec<f64> = self.decays(a, b).collect();
        let (middle, level) = (mean(&curve), mean(&self.values));
        let pairs = || curve.iter().zip(&self.values);
        let squares: f64 = curve.iter().map(|c| (c - middle).powi(2)).sum();
        let product: f64 = pairs().map(|(c, y)| (c - middle) * y).sum();
        let gain = product / squares;
        let left = pairs().map(|(c, y)| (y - level - gain * (c - middle)).powi(2)).sum();
        (level - gain * middle, gain, left)
    }

    /// Squares left of the best curve with these rates and this plateau.
    fn left_with_plateau(&self, plateau: f64, a: f64, b: f64) -> f64 {
        let (mut squares, mut product, mut total) = (0.0, 0.0, 0.0);
        for (curve, y) in self.decays(a, b).zip(&self.values) {
            let above = y - plateau;
            squares += curve * curve;
            product += curve * above;
            total += above * above;
        }
        total - product * product / squares
    }

    /// Rates at which `left` is smallest for the shape, and whether one is at the end of its range.
    fn best_rates(
        &self,
        shape: Shape,
        steps: usize,
        tolerance: f64,
        left: impl Fn(f64, f64) -> f64,
    ) -> (f64, f64, bool) {
        let (a_range, b_range) = (self.exponential_range(), self.power_range());
        let at_end = |log: f64, (low, high): (f64, f64)| log - low < 1e-3 || high - log < 1e-3;
        let best_b = |a: f64| minimum(|log_b| left(a, log_b.exp()), b_range, steps, tolerance);
        match shape {
            Shape::Flat => (0.0, 0.0, false),
            Shape::Exponential => {
                let (log_a, _) = minimum(|log_a| left(log_a.exp(), 0.0), a_range, steps, tolerance);
                (log_a.exp(), 0.0, at_end(log_a, a_range))
            }
            Shape::Power => {
                let (log_b, _) = best_b(0.0);
                (0.0, log_b.exp(), at_end(log_b, b_range))
            }
            Shape::Apex => {
                let (log_a, _) = minimum(|log_a| best_b(log_a.exp()).1, a_range, steps, tolerance);
                let (log_b, _) = best_b(log_a.exp());
                let end = at_end(log_a, a_range) || at_end(log_b, b_range);
                (log_a.exp(), log_b.exp(), end)
            }
        }
    }
}

/// exp(−a (N − 1)) N^−b.
fn decay(position: f64, a: f64, b: f64) -> f64 {
    (-a * (position - 1.0) - b * position.ln()).exp()
}

/// The least-squares fit of every shape to standardised values, the flat line first.
pub(super) fn fit_all(series: &Series) -> Vec<CurveFit> {
    let shapes = [Shape::Flat, Shape::Exponential, Shape::Power, Shape::Apex];
    shapes.into_iter().map(|shape| fit(series, shape)).collect()
}

fn fit(series: &Series, shape: Shape) -> CurveFit {
    // Two rates are searched one inside the other; a coarser search is enough there.
    let (steps, tolerance) = if shape == Shape::Apex { (STEPS / 2, 1e-5) } else { (STEPS, 1e-9) };
    let left = |a: f64, b: f64| series.solved(a, b).2;
    let (a, b, at_boundary) = series.best_rates(shape, steps, tolerance, left);
    let (plateau, gain, rss) = if shape == Shape::Flat {
        let level = mean(series.values());
        (level, 0.0, series.values.iter().map(|y| (y - level).powi(2)).sum())
    } else {
        series.solved(a, b)
    };
    let (n, p) = (series.len() as f64, shape.parameters() + 1.0);
    // A perfect curve leaves nothing; a floor keeps its logarithm finite.
    let variance = (rss / n).max(1e-24);
    let aicc = n * ((2.0 * std::f64::consts::PI * variance).ln() + 1.0)
        + 2.0 * p
        + 2.0 * p * (p + 1.0) / (n - p - 1.0);
    CurveFit { shape, plateau, gain, exponential_rate: a, power_rate: b, rss, aicc, at_boundary }
}

/// Profile limits of the plateau; `None` where there is no end to them: where a limit rests on the
/// slowest rate searched, a slower one would move it on.
pub(super) fn plateau_interval(series: &Series, fit: &CurveFit, level: f64) -> Option<(f64, f64)> {
    let freedom = series.len() as f64 - fit.shape.parameters();
    let t = t_factor(level, freedom);
    // The floor belongs to a perfect curve: its interval has a width all the same.
    let allowed = fit.rss.max(1e-18) * (1.0 + t * t / freedom);
    let (steps, tolerance) = if fit.shape == Shape::Apex { (10, 1e-3) } else { (STEPS, 1e-6) };
    let profile = |plateau: f64| {
        let left = |a: f64, b: f64| series.left_with_plateau(plateau, a, b);
        let (a, b, _) = series.best_rates(fit.shape, steps, tolerance, left);
        (left(a, b) - allowed, series.is_slowest(fit.shape, a, b))
    };
    let side = |sign: f64| {
        // Standardised values span a few units: a plateau 60 away is none.
        let mut inside = 0.0;
        let mut step = 0.05;
        while step < 60.0 {
            if profile(fit.plateau + sign * step).0 > 0.0 {
                let excess = |d: f64| profile(fit.plateau + sign * d).0;
                let limit = fit.plateau + sign * root_to(1e-5, excess, inside, step)?;
                return (!profile(limit).1).then_some(limit);
            }
            inside = step;
            step *= 2.0;
        }
        None
    };
    Some((side(-1.0)?, side(1.0)?))
}

#[cfg(test)]
mod tests {
    use super::*;

    fn made(a: f64, b: f64) -> Series {
        let value = |n: u32| 1.0 + 3.0 * decay(f64::from(n), a, b);
        Series::in_blocks(&(1..=40).map(value).collect::<Vec<f64>>(), 1)
    }

    #[test]
    fn each_shape_finds_itself() {
        for (a, b, shape) in [(0.2, 0.0, Shape::Exponential), (0.0, 0.7, Shape::Power)] {
            let found = fit(&made(a, b), shape);
            assert!((found.plateau - 1.0).abs() < 1e-6, "{found:?}");
            assert!((found.gain - 3.0).abs() < 1e-6, "{found:?}");
            assert!((found.exponential_rate - a).abs() < 1e-6, "{found:?}");
            assert!((found.power_rate - b).abs() < 1e-6, "{found:?}");
            assert!(!found.at_boundary, "{found:?}");
        }
        let both = fit(&made(0.05, 0.5), Shape::Apex);
        assert!((both.plateau - 1.0).abs() < 1e-2 && both.rss < 1e-5, "{both:?}");
    }

    #[test]
    fn a_single_step_is_at_the_other_end_of_the_rates() {
        let step: Vec<f64> = (0..30).map(|i| if i == 0 { 1.0 } else { 0.0 }).collect();
        for shape in [Shape::Exponential, Shape::Power] {
            assert!(fit(&Series::in_blocks(&step, 1), shape).at_boundary, "{shape:?}");
        }
    }

    #[test]
    fn a_straight_line_has_no_plateau() {
        let line: Vec<f64> =
            (0..30).map(|i| -0.1 * f64::from(i) + 0.01 * f64::from(i % 3)).collect();
        let series = Series::in_blocks(&line, 1);
        let found = fit(&series, Shape::Exponential);
        assert!(found.at_boundary);
        assert_eq!(plateau_interval(&series, &found, 0.9), None);
    }

    #[test]
    fn what_a_curve_leaves_are_its_squares() {
        let values: Vec<f64> =
            (0..30).map(|i| 2.0 / f64::from(i + 1) + 0.1 * f64::from(i * 7 % 5)).collect();
        for size in [1, 3] {
            let series = Series::in_blocks(&values, size);
            for fit in fit_all(&series) {
                let left = series.residuals(&fit);
                assert_eq!(left.len(), series.len());
                let squares: f64 = left.iter().map(|r| r * r).sum();
                assert!((squares - fit.rss).abs() < 1e-9, "{fit:?}: {squares}");
            }
        }
    }

    #[test]
    fn the_curves_of_the_test_run_from_all_but_a_line_or_logarithm_to_a_single_step() {
        let series = made(0.2, 0.0);
        let curves = series.unit_curves();
        assert_eq!(curves.len(), 2 * TEST_CURVES);
        for curve in &curves {
            assert!(curve.iter().sum::<f64>().abs() < 1e-9);
            assert!((curve.iter().map(|c| c * c).sum::<f64>() - 1.0).abs() < 1e-9);
            assert!(curve.windows(2).all(|pair| pair[1] <= pair[0]));
        }
        // How much of the whole fall is still to come after the second value, and after the middle one.
        let left = |curve: &[f64], i: usize| (curve[i] - curve[39]) / (curve[0] - curve[39]);
        for (slowest, straight) in
            [(0, 19.0 / 39.0), (TEST_CURVES, 1.0 - 21_f64.ln() / 40_f64.ln())]
        {
            assert!((left(&curves[slowest], 20) - straight).abs() < 0.05, "{slowest}");
            let fastest = slowest + TEST_CURVES - 1;
            assert!(left(&curves[fastest], 1) < 1e-8, "{}", left(&curves[fastest], 1));
            // Between them each is a little faster than the one before.
            let middles = curves[slowest..=fastest].iter().map(|curve| left(curve, 1));
            assert!(middles.collect::<Vec<f64>>().windows(2).all(|pair| pair[1] < pair[0]));
        }
    }
}
