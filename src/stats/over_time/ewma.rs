//! The exponentially weighted moving average chart: has the level drifted?
//!
//! Owns its average run length, the limit that gives a chosen one, and the chart. Refuses to guess
//! what is usual: that is [`InControl`]'s.

use super::in_control::{Direction, Drift, InControl};
use crate::stats::numeric::{gauss_legendre, normal_density, root, solve, usable, within};
use crate::stats::{Caveat, Sample, StatsError};

/// Nodes of the quadrature. Chosen, because half as many again change no run length by 1e-9 of it
/// (tested).
const NODES: usize = 80;

/// Weight and limits of the chart.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct EwmaDesign {
    weight: f64,
    limit_sds: f64,
}

impl EwmaDesign {
    /// A design given outright: `weight` λ of the newest value (.02–1) and the half-width L of the
    /// limits in standard deviations of the average (.1–8).
    ///
    /// # Errors
    /// [`StatsError::OutOfDomain`].
    pub fn given(weight: f64, limit_sds: f64) -> Result<Self, StatsError> {
        within("weight", weight, 0.02, 1.0, "0.02..=1")?;
        within("limit", limit_sds, 0.1, 8.0, "0.1..=8")?;
        Ok(Self { weight, limit_sds })
    }

    /// The design whose steady charts give a false alarm every `run_length` points on average
    /// (10–100 000).
    ///
    /// L solves [`EwmaDesign::run_length`] = `run_length` at shift 0 by a bracketed secant on its
    /// logarithm. For 370: λ = .2 → 2.858961, λ = .1 → 2.701046 (R package spc 0.6.7,
    /// `xewma.crit(.2, 370, sided = "two")`).
    ///
    /// ```
    /// use lastamber::stats::over_time::ewma::EwmaDesign;
    /// let design = EwmaDesign::for_run_length(0.2, 370.0)?;
    /// assert!((design.limit_sds() - 2.858961).abs() < 1e-6);
    /// # Ok::<(), lastamber::stats::StatsError>(())
    /// ```
    ///
    /// # Errors
    /// [`StatsError::OutOfDomain`]; [`StatsError::NoFit`] if no L reaches it.
    pub fn for_run_length(weight: f64, run_length: f64) -> Result<Self, StatsError> {
        within("weight", weight, 0.02, 1.0, "0.02..=1")?;
        within("run length", run_length, 10.0, 1e5, "10..=100000")?;
        let missing = |limit_sds: f64| {
            Self { weight, limit_sds }.run_length(0.0).map_or(f64::NAN, f64::ln) - run_length.ln()
        };
        let mut high = 0.5;
        while missing(high) < 0.0 && high < 8.0 {
            high *= 1.25;
        }
        let limit_sds = root(missing, 0.1, high)
            .ok_or(StatsError::NoFit("no limit gives this average run length"))?;
        Ok(Self { weight, limit_sds })
    }

    /// L, the half-width of the limits in standard deviations of the average.
    pub fn limit_sds(&self) -> f64 {
        self.limit_sds
    }

    /// Average number of points until the chart signals, for independent normal values whose level
    /// is `shift_sds` standard deviations off (0–10) from the first point on.
    ///
    /// ℓ(u), the run length from an average of u, solves Crowder's integral equation (1987, "A
    /// simple method for studying run-length distributions of exponentially weighted moving average
    /// charts", Technometrics 29, 401–407)
    /// ℓ(u) = 1 + (1/λ) ∫ ℓ(y) φ((y − (1 − λ)u)/λ − δ) dy over −h..h, h = L √(λ/(2 − λ)),
    /// with φ the standard normal density and δ the shift; solved on Gauss–Legendre nodes. It is the
    /// limit of Brook & Evans' Markov chain with ever finer states. The limits are those the chart
    /// draws: fixed from the first point.
    ///
    /// λ = .2, L = 2.962: 499.735, 41.7644, 10.5417, 3.7434 at shifts 0, .5, 1, 2 (R package spc
    /// 0.6.7, `xewma.arl(.2, 2.962, shift, sided = "two")`).
    ///
    /// # Errors
    /// [`StatsError::OutOfDomain`]; [`StatsError::NoFit`] if runs are too long to compute.
    pub fn run_length(&self, shift_sds: f64) -> Result<f64, StatsError> {
        self.run_length_on(NODES, within("shift", shift_sds.abs(), 0.0, 10.0, "-10..=10")?)
    }

    fn run_length_on(&self, count: usize, shift: f64) -> Result<f64, StatsError> {
        let half = self.limit_sds * (self.weight / (2.0 - self.weight)).sqrt();
        let nodes = gauss_legendre(count, -half, half);
        let kernel = |from: f64, to: f64| {
            normal_density((to - (1.0 - self.weight) * from) / self.weight - shift) / self.weight
        };
        let mut matrix: Vec<Vec<f64>> = nodes
            .iter()
            .map(|&(u, _)| nodes.iter().map(|&(y, w)| -w * kernel(u, y)).collect())
            .collect();
        for (i, row) in matrix.iter_mut().enumerate() {
            row[i] += 1.0;
        }
        let too_long = StatsError::NoFit("the average run is too long to compute");
        let runs = solve(matrix, vec![1.0; count]).ok_or(too_long.clone())?;
        let run: f64 = nodes.iter().zip(&runs).map(|(&(y, w), r)| w * kernel(0.0, y) * r).sum();
        // Beyond about 1e10 the system is singular to within rounding.
        if run.is_finite() && (0.0..1e10).contains(&run) { Ok(1.0 + run) } else { Err(too_long) }
    }

    /// Half-width after `points` points, in standard deviations of one value, if the limits followed
    /// the average's true spread from its start: L √(λ/(2 − λ) (1 − (1 − λ)^(2 points))). Fixed
    /// limits are its value for ever more points.
    pub fn half_width_sds(&self, points: u32) -> f64 {
        let settled = 1.0 - (1.0 - self.weight).powf(2.0 * f64::from(points));
        self.limit_sds * (self.weight / (2.0 - self.weight) * settled).sqrt()
    }

    /// Draws the chart of `watched`.
    ///
    /// z₀ = μ₀, zᵢ = λ xᵢ + (1 − λ) zᵢ₋₁; limits μ₀ ± L σ₀ √(λ/(2 − λ)), with μ₀, σ₀ the usual mean
    /// and standard deviation. A drift is taken to have begun where the average last left μ₀'s side.
    ///
    /// NIST/SEMATECH e-Handbook of Statistical Methods, 6.3.2.4: λ = .3, L = 3, μ₀ = 50, σ₀ = 2.0539
    /// over twenty values gives limits 52.5884 and 47.4115 and no signal.
    ///
    /// # Errors
    /// [`StatsError::OutOfDomain`] for values beyond ±1e100.
    pub fn chart(&self, usual: InControl, watched: &Sample) -> Result<EwmaChart, StatsError> {
        let values = usable(watched, 1)?;
        let half = self.limit_sds * (self.weight / (2.0 - self.weight)).sqrt() * usual.sd();
        let (low, high) = (usual.mean() - half, usual.mean() + half);
        let mut average = usual.mean();
        let mut points = Vec::with_capacity(values.len());
        for value in values {
            average += self.weight * (value - average);
            points.push(average);
        }
        let drift = match points.iter().position(|p| !(low..=high).contains(p)) {
            None => Drift::NoneToSee,
            Some(i) => {
                let direction = Direction::of(points[i] - usual.mean());
                let same_side = |p: &f64| Direction::of(*p - usual.mean()) == direction;
                let before = points[..i].iter().rposition(|p| !same_side(p));
                Drift::Seen { direction, at: i + 1, began: before.map_or(1, |b| b + 2) }
            }
        };
        Ok(EwmaChart { points, low, high, drift, caveats: usual.caveats() })
    }
}

/// A drawn chart, in the unit of the values.
#[derive(Debug, Clone, PartialEq)]
pub struct EwmaChart {
    /// The average after each value.
    pub points: Vec<f64>,
    /// Lower limit.
    pub low: f64,
    /// Upper limit.
    pub high: f64,
    /// What it says.
    pub drift: Drift,
    /// Doubts.
    pub caveats: Vec<Caveat>,
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_weight_of_one_is_a_chart_of_single_values() {
        // Run length 1/(2 Φ(−3)) = 370.3983473 for limits at three standard deviations.
        let run = EwmaDesign::given(1.0, 3.0).unwrap().run_length(0.0).unwrap();
        assert!((run - 370.398_347_345).abs() < 1e-5, "{run}");
    }

    #[test]
    fn more_nodes_change_nothing() {
        for (weight, limit) in [(0.02, 3.0), (0.05, 3.5), (0.2, 3.0), (1.0, 4.0)] {
            let design = EwmaDesign::given(weight, limit).unwrap();
            let [some, more] = [NODES, 120].map(|n| design.run_length_on(n, 0.5).unwrap());
            assert!((some / more - 1.0).abs() < 1e-9, "{weight}: {some} {more}");
        }
    }

    #[test]
    fn a_design_out_of_reach_is_refused() {
        assert!(EwmaDesign::for_run_length(0.2, 1.0).is_err());
        assert!(EwmaDesign::for_run_length(f64::NAN, 370.0).is_err());
        assert!(EwmaDesign::given(0.2, 8.0).unwrap().run_length(0.0).is_err());
    }

    #[test]
    fn a_step_is_seen_and_dated() {
        let mut values = vec![0.0, 0.3, -0.3, 0.2, -0.4, -0.1];
        values.extend([2.0; 6]);
        let design = EwmaDesign::for_run_length(0.2, 370.0).unwrap();
        let usual = InControl::known(0.0, 1.0).unwrap();
        let chart = design.chart(usual, &Sample::new(values).unwrap()).unwrap();
        // The averages from point 7 on are .348, .679, .943, 1.154; the limit is .953.
        assert_eq!(chart.drift, Drift::Seen { direction: Direction::Up, at: 10, began: 7 });
    }
}
