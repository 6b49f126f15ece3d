//! A payoff of a light, as cell means on a grid.
//!
//! Owns means and mean squares per cell, and the level ends. Refuses lights.

/// Means of a payoff over the cells i·step … (i + 1)·step.
pub(in crate::strategy) struct Payoff {
    pub step: f64,
    first: i64,
    mean: Vec<f32>,
    square: Vec<f32>,
    /// Of a start before the tree, and of a light without end.
    pub before: f64,
    pub after: f64,
}

/// A stretch of cells, level ends filled in.
pub(super) struct Stretch {
    pub first: i64,
    pub mean: Vec<f32>,
    pub square: Vec<f32>,
}

impl Payoff {
    /// A payoff that is smooth except at 0, level outside `low`…`high`: two points of Gauss per cell.
    pub fn smooth(step: f64, (low, high): (f64, f64), h: impl Fn(f64) -> f64) -> Self {
        let half = 0.5 / 3.0_f64.sqrt();
        Self::of(step, (low, high), |from| {
            let pair = [0.5 - half, 0.5 + half].map(|t| h(from + t * step));
            (0.5 * (pair[0] + pair[1]), 0.5 * (pair[0].powi(2) + pair[1].powi(2)))
        })
    }

    /// 1 for lights from `low` to `high`, else 0.
    pub fn between(step: f64, low: f64, high: f64) -> Self {
        let far = high.min(low + 1e4 * step);
        let mut out = Self::of(step, (low, far), |from| {
            let share = ((high.min(from + step) - low.max(from)) / step).clamp(0.0, 1.0);
            (share, share)
        });
        out.after = if high == f64::INFINITY { 1.0 } else { 0.0 };
        out
    }

    /// The light itself where it is 0 or later, else 0; level from `high` on.
    pub fn green_light(step: f64, high: f64) -> Self {
        Self::of(step, (0.0, high), |from| {
            if from < 0.0 {
                return (0.0, 0.0);
            }
            let middle = from + 0.5 * step;
            (middle, middle * middle + step * step / 12.0)
        })
    }

    fn of(step: f64, (low, high): (f64, f64), cell: impl Fn(f64) -> (f64, f64)) -> Self {
        let (first, last) = ((low / step).floor() as i64 - 1, (high / step).ceil() as i64 + 1);
        let cells = (first..last).map(|i| cell(i as f64 * step));
        let (mean, square): (Vec<f32>, Vec<f32>) = cells.map(|(m, s)| (m as f32, s as f32)).unzip();
        let before = f64::from(mean[0]);
        let after = f64::from(mean[mean.len() - 1]);
        Self { step, first, mean, square, before, after }
    }

    /// The cells `from`…`to`, the latter excluded.
    pub(super) fn stretch(&self, from: i64, to: i64) -> Stretch {
        let fill = |cells: &[f32], before: f64, after: f64| {
            let at = |i: i64| {
                if i < self.first {
                    before as f32
                } else {
                    *cells.get((i - self.first) as usize).unwrap_or(&(after as f32))
                }
            };
            (from..to).map(at).collect()
        };
        let square = |end: f64| end * end;
        Stretch {
            first: from,
            mean: fill(&self.mean, self.before, self.after),
            square: fill(&self.square, square(self.before), square(self.after)),
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn cells_hold_their_means_and_the_ends_stay_level() {
        let payoff = Payoff::between(0.01, 0.0, 0.025);
        assert_eq!(payoff.stretch(-2, 5).mean, [0.0, 0.0, 1.0, 1.0, 0.5, 0.0, 0.0]);
        let forever = Payoff::between(0.01, 0.0, f64::INFINITY);
        assert_eq!(forever.stretch(-1, 1).mean, [0.0, 1.0]);
        assert_eq!(forever.stretch(1_000_000, 1_000_001).mean, [1.0]);
        let square = Payoff::smooth(0.1, (0.0, 1.0), |x| x * x);
        let got = square.stretch(3, 4).mean[0];
        // The mean of x² over .3….4.
        assert!((got - (0.4_f32.powi(3) - 0.3_f32.powi(3)) / 0.3).abs() < 1e-6);
        // The mean of (x)² over .3….4, which two points of Gauss have exactly.
        let line = Payoff::smooth(0.1, (0.0, 1.0), |x| x).stretch(3, 4);
        assert!((line.mean[0] - 0.35).abs() < 1e-6 && (line.square[0] - got).abs() < 1e-6);
        let light = Payoff::green_light(0.01, 1.0).stretch(-1, 2);
        assert_eq!(light.mean, [0.0, 0.005, 0.015]);
    }
}
