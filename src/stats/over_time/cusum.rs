//! The cumulative-sum chart: has the level shifted by a little for long?
//!
//! Owns its average run length, the decision limit that gives a chosen one, and the chart. Refuses
//! to guess what is usual: that is [`InControl`]'s.

use super::in_control::{Direction, Drift, InControl};
use crate::stats::numeric::{gauss_legendre, normal_density, root, solve, usable, within};
use crate::stats::special::normal_cdf;
use crate::stats::{Caveat, Sample, StatsError};

/// Nodes of the quadrature. Chosen, because half as many again change no run length by 1e-9 of it up
/// to a limit of 20 (tested).
const NODES: usize = 64;
/// Largest decision limit, in standard deviations.
const LARGEST_LIMIT: f64 = 40.0;

/// Slack and decision limit of the chart.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct CusumDesign {
    slack_sds: f64,
    limit_sds: f64,
}

impl CusumDesign {
    /// A design given outright: slack k (0–3) and decision limit h (0.01–40), both in standard
    /// deviations. A chart with slack k is quickest for shifts of 2 k.
    ///
    /// # Errors
    /// [`StatsError::OutOfDomain`].
    pub fn given(slack_sds: f64, limit_sds: f64) -> Result<Self, StatsError> {
        within("slack", slack_sds, 0.0, 3.0, "0..=3")?;
        within("limit", limit_sds, 0.01, LARGEST_LIMIT, "0.01..=40")?;
        Ok(Self { slack_sds, limit_sds })
    }

    /// The design whose steady charts give a false alarm every `run_length` points on average
    /// (10–100 000).
    ///
    /// h solves [`CusumDesign::run_length`] = `run_length` at shift 0. k = .5, 370 → 4.773834 (R
    /// package spc 0.6.7, `xcusum.crit(.5, 370, sided = "two")`).
    ///
    /// ```
    /// use lastamber::stats::over_time::cusum::CusumDesign;
    /// let design = CusumDesign::for_run_length(0.5, 370.0)?;
    /// assert!((design.limit_sds() - 4.773834).abs() < 1e-6);
    /// # Ok::<(), lastamber::stats::StatsError>(())
    /// ```
    ///
    /// # Errors
    /// [`StatsError::OutOfDomain`]; [`StatsError::NoFit`] if no h reaches it: with k near 3 even the
    /// smallest h alarms more rarely.
    pub fn for_run_length(slack_sds: f64, run_length: f64) -> Result<Self, StatsError> {
        within("slack", slack_sds, 0.0, 3.0, "0..=3")?;
        within("run length", run_length, 10.0, 1e5, "10..=100000")?;
        let missing = |limit_sds: f64| {
            Self { slack_sds, limit_sds }.run_length(0.0).map_or(f64::NAN, f64::ln)
                - run_length.ln()
        };
        let mut high = 0.1;
        while missing(high) < 0.0 && high < LARGEST_LIMIT {
            high = (high * 1.4).min(LARGEST_LIMIT);
        }
        let limit_sds = root(missing, 0.01, high)
            .ok_or(StatsError::NoFit("no limit gives this average run length"))?;
        Ok(Self { slack_sds, limit_sds })
    }

    /// k, the slack in standard deviations.
    pub fn slack_sds(&self) -> f64 {
        self.slack_sds
    }

    /// h, the decision limit in standard deviations.
    pub fn limit_sds(&self) -> f64 {
        self.limit_sds
    }

    /// Average number of points until either sum signals, for independent normal values whose level
    /// is `shift_sds` standard deviations off (0–10) from the first point on.
    ///
    /// One side: Page's integral equation (1954, "Continuous inspection schemes", Biometrika 41,
    /// 100–115) for the run length ℓ(s) from a sum of s,
    /// ℓ(s) = 1 + ℓ(0) Φ(k − s − δ) + ∫ ℓ(y) φ(y + k − s − δ) dy over 0..h, with φ, Φ the standard
    /// normal density and distribution and δ the shift; solved on Gauss–Legendre nodes. Both sides:
    /// 1/ℓ = 1/ℓ₊ + 1/ℓ₋, exact here because one sum is 0 whenever the other signals.
    ///
    /// k = .5, h = 5: 465.4435, 139.4937, 37.9961, 10.3760, 4.0089 at shifts 0, .25, .5, 1, 2 (R
    /// package spc 0.6.7, `xcusum.arl(.5, 5, shift, sided = "two")`).
    ///
    /// # Errors
    /// [`StatsError::OutOfDomain`]; [`StatsError::NoFit`] if runs are too long to compute.
    pub fn run_length(&self, shift_sds: f64) -> Result<f64, StatsError> {
        let shift = within("shift", shift_sds.abs(), 0.0, 10.0, "-10..=10")?;
        let towards = self.one_sided_run_length(shift)?;
        if shift == 0.0 {
            return Ok(0.5 * towards);
        }
        // Away from the shift runs may be too long to compute; then they never decide.
        match self.one_sided_run_length(-shift) {
            Ok(away) => Ok(1.0 / (1.0 / towards + 1.0 / away)),
            Err(_) => Ok(towards),
        }
    }

    /// Average run length of the upper sum alone; h = 4, k = .5, shift 0 → 335.3676 (R package spc
    /// 0.6.7, `xcusum.arl(.5, 4, 0)`).
    ///
    /// # Errors
    /// [`StatsError::NoFit`] if runs are too long to compute.
    pub fn one_sided_run_length(&self, shift_sds: f64) -> Result<f64, StatsError> {
        let lag = within("shift", self.slack_sds - shift_sds, -20.0, 20.0, "-10..=10")?;
        self.one_sided_on(NODES, lag)
    }

    fn one_sided_on(&self, count: usize, lag: f64) -> Result<f64, StatsError> {
        let nodes = gauss_legendre(count, 0.0, self.limit_sds);
        // Unknown 0 is ℓ(0), where the sum has an atom; the others are ℓ at the nodes.
        let starts = std::iter::once(0.0).chain(nodes.iter().map(|n| n.0));
        let mut matrix: Vec<Vec<f64>> = starts
            .map(|s| {
                let atom = -normal_cdf(lag - s);
                let inside = nodes.iter().map(|&(y, w)| -w * normal_density(y + lag - s));
                std::iter::once(atom).chain(inside).collect()
            })
            .collect();
        for (i, row) in matrix.iter_mut().enumerate() {
            row[i] += 1.0;
        }
        let too_long = StatsError::NoFit("the average run is too long to compute");
        let runs = solve(matrix, vec![1.0; count + 1]).ok_or(too_long.clone())?;
        // Beyond about 1e10 the system is singular to within rounding.
        if (1.0 - 1e-9..1e10).contains(&runs[0]) { Ok(runs[0]) } else { Err(too_long) }
    }

    /// Draws the chart of `watched`.
    ///
    /// S⁺ᵢ = max(0, S⁺ᵢ₋₁ + xᵢ − μ₀ − k σ₀), S⁻ᵢ = max(0, S⁻ᵢ₋₁ + μ₀ − k σ₀ − xᵢ), both from 0; a
    /// signal where either exceeds h σ₀, with μ₀, σ₀ the usual mean and standard deviation. The drift
    /// is taken to have begun after that sum was last 0.
    ///
    /// NIST/SEMATECH e-Handbook of Statistical Methods, 6.3.2.3: μ₀ = 325, slack .3175, limit 4.1959
    /// over twenty values first signals upward at the 14th, where the upper sum is 4.94.
    ///
    /// # Errors
    /// [`StatsError::OutOfDomain`] for values beyond ±1e100.
    pub fn chart(&self, usual: InControl, watched: &Sample) -> Result<CusumChart, StatsError> {
        let values = usable(watched, 1)?;
        let slack = self.slack_sds * usual.sd();
        let limit = self.limit_sds * usual.sd();
        let (mut up, mut down) = (0.0_f64, 0.0_f64);
        let mut upper = Vec::with_capacity(values.len());
        let mut lower = Vec::with_capacity(values.len());
        for value in values {
            up = (up + value - usual.mean() - slack).max(0.0);
            down = (down + usual.mean() - slack - value).max(0.0);
            upper.push(up);
            lower.push(down);
        }
        let first = |sums: &[f64]| sums.iter().position(|s| *s > limit).unwrap_or(usize::MAX);
        let seen = |sums: &[f64], i: usize, direction| {
            let zero = sums[..i].iter().rposition(|s| *s == 0.0);
            Drift::Seen { direction, at: i + 1, began: zero.map_or(1, |z| z + 2) }
        };
        let drift = match (first(&upper), first(&lower)) {
            (usize::MAX, usize::MAX) => Drift::NoneToSee,
            (i, j) if i <= j => seen(&upper, i, Direction::Up),
            (_, j) => seen(&lower, j, Direction::Down),
        };
        Ok(CusumChart { upper, lower, limit, drift, caveats: usual.caveats() })
    }
}

/// A drawn chart, in the unit of the values.
#[derive(Debug, Clone, PartialEq)]
pub struct CusumChart {
    /// The sum that grows when values are large, after each value.
    pub upper: Vec<f64>,
    /// The sum that grows when values are small, after each value.
    pub lower: Vec<f64>,
    /// Where either signals.
    pub limit: f64,
    /// What it says.
    pub drift: Drift,
    /// Doubts.
    pub caveats: Vec<Caveat>,
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn more_nodes_change_nothing() {
        for (slack, limit) in [(0.0, 20.0), (0.1, 12.0), (0.5, 5.0), (2.0, 1.0)] {
            let design = CusumDesign::given(slack, limit).unwrap();
            let [some, more] = [NODES, 100].map(|n| design.one_sided_on(n, slack).unwrap());
            assert!((some / more - 1.0).abs() < 1e-9, "{slack}: {some} {more}");
        }
    }

    #[test]
    fn a_design_out_of_reach_is_refused() {
        assert!(CusumDesign::for_run_length(3.0, 300.0).is_err());
        assert!(CusumDesign::for_run_length(0.5, f64::NAN).is_err());
        assert!(CusumDesign::given(-0.1, 4.0).is_err());
        assert!(CusumDesign::given(1.0, 40.0).unwrap().run_length(0.0).is_err());
    }

    #[test]
    fn a_fall_is_seen_and_dated() {
        let mut values = vec![0.2, -0.2, 0.4, 0.1];
        values.extend([-2.0; 5]);
        let design = CusumDesign::for_run_length(0.5, 370.0).unwrap();
        let usual = InControl::known(0.0, 1.0).unwrap();
        let chart = design.chart(usual, &Sample::new(values).unwrap()).unwrap();
        assert_eq!(chart.drift, Drift::Seen { direction: Direction::Down, at: 8, began: 5 });
    }
}
