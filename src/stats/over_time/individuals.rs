//! The individuals and moving-range chart: is one point unlike the rest?
//!
//! Owns its limits and two signals. Refuses run rules ("eight on one side"): they cut the average
//! run between false alarms several times over, and slow drifts are the business of the EWMA and
//! CUSUM charts, whose false alarms are chosen.

use crate::stats::numeric::{
    checked_level, chi_squared_quantile, estimate, has_spread, mean, sd, t_factor, usable,
};
use crate::stats::{Caveat, Estimate, Sample, StatsError};

/// Fewest values that make limits. Chosen, because the handbook's worked chart has ten and fewer
/// leave the spread unknown to a factor of two.
pub const FEWEST: usize = 10;

/// Which rule a point breaks.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash)]
pub enum Rule {
    /// The value lies outside centre ± 3 σ: an odd point.
    BeyondLimit,
    /// The step from the point before exceeds the moving-range limit: a jump.
    Jump,
}

/// A point that breaks a rule.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash)]
pub struct Signal {
    /// Its place, from 1.
    pub at: usize,
    /// What it breaks.
    pub rule: Rule,
}

/// Limits of the chart, in the unit of the values.
///
/// With x₁ … xₙ in the order taken, MR̄ = Σ|xᵢ₊₁ − xᵢ|/(n − 1), d₂ = 2/√π (the mean range of two
/// standard normal values, exactly; tables round it to 1.128):
/// σ̂ = MR̄/d₂, limits x̄ ± 3 σ̂, moving-range limit (1 + 3 d₃/d₂) MR̄ with d₃ = √(2 − 4/π), which is
/// 3.2665 MR̄ (tables: 3.267).
///
/// σ̂'s interval: for normal values var σ̂/σ² = (.82646 n − 1.0821)/(n − 1)² (derived from the
/// correlation −½ of neighbouring steps; recomputed in a test), matched by a χ² with
/// ν = σ²/(2 var σ̂) degrees of freedom.
///
/// NIST/SEMATECH e-Handbook of Statistical Methods, 6.3.2.2: 49.6, 47.6, 49.9, 51.3, 47.8, 51.2,
/// 52.6, 52.4, 53.6, 52.1 has mean 50.81, MR̄ 1.8778, limits 55.8041 and 45.8159 with 1.128; with
/// the exact d₂ 55.802412 and 45.817588.
///
/// For steady independent normal values and known limits one point in 370 lies outside. Launches one
/// by one have long tails: of ex-Gaussian reactions (σ 20, τ 30 ms) one in 67 does, of medians of
/// twenty one in 250 (simulated; a smaller run is tested). So chart session medians.
#[derive(Debug, Clone, PartialEq)]
pub struct IndividualsLimits {
    /// The mean, with Student's interval.
    pub centre: Estimate,
    /// σ̂ from the moving range.
    pub sd: Estimate,
    /// Lower limit of a value.
    pub low: f64,
    /// Upper limit of a value.
    pub high: f64,
    /// Mean moving range.
    pub range_mean: f64,
    /// Upper limit of a moving range.
    pub range_high: f64,
    /// Doubts.
    pub caveats: Vec<Caveat>,
}

impl IndividualsLimits {
    /// Limits from a baseline of [`FEWEST`] or more values; `level` in 0.5..=0.999 is that of the
    /// intervals, not of the limits.
    ///
    /// ```
    /// use lastamber::stats::{Sample, over_time::individuals::IndividualsLimits};
    /// let flow = [49.6, 47.6, 49.9, 51.3, 47.8, 51.2, 52.6, 52.4, 53.6, 52.1];
    /// let limits = IndividualsLimits::from_baseline(&Sample::new(flow.to_vec())?, 0.9)?;
    /// assert!((limits.high - 55.802412).abs() < 1e-6);
    /// # Ok::<(), lastamber::stats::StatsError>(())
    /// ```
    ///
    /// # Errors
    /// [`StatsError::TooFew`], [`StatsError::NoSpread`], [`StatsError::OutOfDomain`] for the level
    /// or for values beyond ±1e100.
    pub fn from_baseline(baseline: &Sample, level: f64) -> Result<Self, StatsError> {
        let level = checked_level(level)?;
        let values = usable(baseline, FEWEST)?;
        if !has_spread(values) {
            return Err(StatsError::NoSpread);
        }
        let n = values.len();
        let centre = mean(values);
        let ranges: Vec<f64> = values.windows(2).map(|w| (w[1] - w[0]).abs()).collect();
        let range_mean = mean(&ranges);
        let sigma = range_mean / d2();
        let half = t_factor(level, n as f64 - 1.0) * sd(values) / (n as f64).sqrt();
        let freedom = 0.5 / relative_variance(n);
        let limit = |p: f64| sigma * (freedom / chi_squared_quantile(p, freedom)).sqrt();
        let tail = 0.5 * (1.0 - level);
        let d3 = (2.0 - 4.0 / std::f64::consts::PI).sqrt();
        let mut caveats = Vec::new();
        if n < super::in_control::CALM_BASELINE {
            caveats.push(Caveat::ShortBaseline { n });
        }
        Ok(Self {
            centre: estimate(centre, (centre - half, centre + half), level, n)?,
            sd: estimate(sigma, (limit(1.0 - tail), limit(tail)), level, n)?,
            low: centre - 3.0 * sigma,
            high: centre + 3.0 * sigma,
            range_mean,
            range_high: (1.0 + 3.0 * d3 / d2()) * range_mean,
            caveats,
        })
    }

    /// Every point of `watched` that breaks a rule, in order. `watched` may be the baseline itself.
    pub fn signals(&self, watched: &Sample) -> Vec<Signal> {
        let values = watched.values();
        let mut signals = Vec::new();
        for (i, value) in values.iter().enumerate() {
            if !(self.low..=self.high).contains(value) {
                signals.push(Signal { at: i + 1, rule: Rule::BeyondLimit });
            }
            if i > 0 && (value - values[i - 1]).abs() > self.range_high {
                signals.push(Signal { at: i + 1, rule: Rule::Jump });
            }
        }
        signals
    }
}

/// Mean range of two standard normal values.
fn d2() -> f64 {
    2.0 / std::f64::consts::PI.sqrt()
}

/// var σ̂/σ² for n normal values.
fn relative_variance(n: usize) -> f64 {
    // |Y₁| and |Y₂| with correlation ρ = −½ have covariance (2/π)(√(1 − ρ²) + ρ asin ρ − 1).
    let pi = std::f64::consts::PI;
    let variance = 2.0 * (1.0 - 2.0 / pi);
    let covariance = 2.0 * (2.0 / pi) * (0.75_f64.sqrt() + pi / 12.0 - 1.0);
    let steps = n as f64 - 1.0;
    (steps * variance + 2.0 * (steps - 1.0) * covariance) / (steps * d2()).powi(2)
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::seed;
    use crate::stats::numeric::median;
    use rand_distr::{Distribution, Exp1, StandardNormal};

    #[test]
    fn the_spread_of_the_moving_range_is_as_documented() {
        for n in [10_usize, 40, 200] {
            let closed = (0.82646 * n as f64 - 1.0821) / (n as f64 - 1.0).powi(2);
            assert!((relative_variance(n) / closed - 1.0).abs() < 2e-4, "{n}");
        }
    }

    #[test]
    fn single_launches_alarm_often_and_session_medians_seldom() {
        let mut generator = seed::generator(67);
        let mut outside = |size: usize| {
            let mut launch = |_| {
                let normal: f64 = StandardNormal.sample(&mut generator);
                let late: f64 = Exp1.sample(&mut generator);
                0.17 + 0.02 * normal + 0.03 * late
            };
            let mut session = |_| median(&(0..size).map(&mut launch).collect::<Vec<f64>>());
            let series = Sample::new((0..5000).map(&mut session).collect()).unwrap();
            let limits = IndividualsLimits::from_baseline(&series, 0.9).unwrap();
            let signals = limits.signals(&series);
            signals.iter().filter(|s| s.rule == Rule::BeyondLimit).count()
        };
        let (single, medians) = (outside(1), outside(20));
        println!("outside of 5000: {single} launches, {medians} medians of twenty");
        assert!((50..=105).contains(&single) && (5..=38).contains(&medians));
    }

    #[test]
    fn too_few_or_equal_values_make_no_limits() {
        let nine = Sample::new((0..9).map(f64::from).collect()).unwrap();
        let few = IndividualsLimits::from_baseline(&nine, 0.9);
        assert_eq!(few, Err(StatsError::TooFew { have: 9, need: 10 }));
        let flat = Sample::new(vec![0.1; 30]).unwrap();
        assert_eq!(IndividualsLimits::from_baseline(&flat, 0.9), Err(StatsError::NoSpread));
    }

    #[test]
    fn nine_intervals_of_ten_hold_a_normal_spread() {
        let mut generator = seed::generator(68);
        for n in [10, 40] {
            let mut held = 0;
            for _ in 0..1_000 {
                let draw = |_| StandardNormal.sample(&mut generator);
                let baseline = Sample::new((0..n).map(draw).collect()).unwrap();
                let sd = IndividualsLimits::from_baseline(&baseline, 0.9).unwrap().sd;
                held += i32::from((sd.low..=sd.high).contains(&1.0));
            }
            // Three standard errors.
            assert!((871..=929).contains(&held), "{n}: {held} of 1000");
        }
    }

    #[test]
    fn a_hundred_values_are_a_calm_baseline() {
        let limits = |n: usize| {
            let values = (0..n).map(|i| (i * 7 % 11) as f64).collect();
            IndividualsLimits::from_baseline(&Sample::new(values).unwrap(), 0.9).unwrap()
        };
        assert_eq!(limits(99).caveats, [Caveat::ShortBaseline { n: 99 }]);
        assert_eq!(limits(100).caveats, []);
    }
}
