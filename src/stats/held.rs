//! How well an aim was held: the deviations of a block of launches from it.
//!
//! Owns bias, spread, the share close to the aim and which of the two costs most. Refuses to say where
//! the aim should be.

use super::over_time::spread::spread;
use super::risk::count_interval;
use super::special::normal_quantile;
use super::summary::{mean_with_interval, sd};
use super::{Caveat, Estimate, Sample, StatsError};

/// Close to the aim, s, to either side. Chosen: ten milliseconds are what a good light is worth.
pub const CLOSE_S: f64 = 0.010;
/// Fewest launches of a block: what its spread needs.
pub const FEWEST: usize = super::over_time::spread::FEWEST;
/// Below this many the shape behind the intervals is a guess.
const ROUGH: usize = 40;

/// What keeps launches away from their aim most.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash)]
pub enum Costs {
    /// The average is off.
    Bias,
    /// They scatter.
    Spread,
    /// These launches do not tell.
    NotClear,
}

/// A block against its aim.
#[derive(Debug, Clone, PartialEq)]
pub struct Held {
    /// Mean deviation, s; above 0 is late.
    pub bias: Estimate,
    /// Standard deviation, s.
    pub spread: Estimate,
    /// Share within ±10 ms of the aim.
    pub close: Estimate,
    /// The bias in spreads, |bias|/spread.
    pub bias_in_spreads: Estimate,
    /// What costs most.
    pub costs: Costs,
    /// Doubts.
    pub caveats: Vec<Caveat>,
}

impl Held {
    /// Holds deviations from an aim, s, against it.
    ///
    /// The mean square of deviations is bias² + spread²: whichever is larger costs most. It is told
    /// where the interval of d = |bias|/spread leaves out 1, d ± z √(1/n + d²/(2 n)) with the standard
    /// error of a standardised mean (Hedges & Olkin 1985, "Statistical Methods for Meta-Analysis",
    /// chapter 5, for one group); one of ten such intervals leaves out its truth. Bias: Student's
    /// interval; spread: [`spread`]; share: the exact interval of counts.
    ///
    /// # Errors
    /// [`StatsError::TooFew`] below five, [`StatsError::NoSpread`] if all are the same,
    /// [`StatsError::OutOfDomain`] for a `level` outside 0.5..=0.999 or values beyond ±1e100.
    pub fn new(deviations_s: &Sample, level: f64) -> Result<Self, StatsError> {
        deviations_s.at_least(FEWEST)?;
        let spread = spread(deviations_s, level)?;
        let bias = mean_with_interval(deviations_s, level)?;
        let n = deviations_s.n();
        // A whole nanosecond more: a deviation of just ten is close.
        let is_close = |x: &&f64| x.abs() <= CLOSE_S + 1e-9;
        let close = deviations_s.values().iter().filter(is_close).count();
        let d = bias.value.abs() / sd(deviations_s)?;
        let z = normal_quantile(0.5 + 0.5 * level);
        let half = z * ((1.0 + 0.5 * d * d) / n as f64).sqrt();
        let bias_in_spreads =
            Estimate { value: d, low: (d - half).max(0.0), high: d + half, level, n };
        let costs = if bias_in_spreads.low > 1.0 {
            Costs::Bias
        } else if bias_in_spreads.high < 1.0 {
            Costs::Spread
        } else {
            Costs::NotClear
        };
        let close = count_interval(close, n, level)?;
        let caveats = if n < ROUGH { vec![Caveat::Rough { n }] } else { Vec::new() };
        Ok(Self { bias, spread, close, bias_in_spreads, costs, caveats })
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::seed;
    use rand_distr::{Distribution, Exp1, StandardNormal};

    fn held(deviations_ms: &[f64]) -> Held {
        let seconds = deviations_ms.iter().map(|ms| ms / 1000.0).collect();
        Held::new(&Sample::new(seconds).unwrap(), 0.9).unwrap()
    }

    #[test]
    fn ten_launches_by_hand() {
        // Mean 6, squares about it 0, 16, 4, 36, 100, 64, 16, 4, 16, 16: 272, over nine 30.22.
        let block = held(&[6.0, 10.0, 8.0, 12.0, 16.0, -2.0, 2.0, 4.0, 2.0, 2.0]);
        let near = |x: f64, wanted: f64| assert!((x - wanted).abs() < 1e-9, "{x} {wanted}");
        near(block.bias.value, 0.006);
        near(block.spread.value, (272.0_f64 / 9.0).sqrt() / 1000.0);
        // Student's t of nine at 95 %, 1.833113 (printed in any table): 6 ± 1.833113 · 5.497474/√10.
        assert!((block.bias.high - 0.009_186_78).abs() < 1e-6, "{:?}", block.bias);
        // Eight of ten; 10 itself is close. Clopper & Pearson at 90 %: .493 to .963.
        near(block.close.value, 0.8);
        assert!((block.close.low - 0.493).abs() < 5e-4 && (block.close.high - 0.963).abs() < 5e-4);
        near(block.bias_in_spreads.value, 6.0 / (272.0_f64 / 9.0).sqrt());
        assert_eq!(block.costs, Costs::NotClear);
    }

    #[test]
    fn a_steady_driver_who_is_off_is_told_of_the_bias_and_a_scattered_one_of_the_spread() {
        let steady: Vec<f64> = (0..20).map(|i| 14.0 + f64::from(i * 7 % 5) - 2.0).collect();
        assert_eq!(held(&steady).costs, Costs::Bias);
        let early: Vec<f64> = steady.iter().map(|ms| -ms).collect();
        assert_eq!(held(&early).costs, Costs::Bias);
        let scattered: Vec<f64> = (0..20).map(|i| 4.0 * f64::from(i * 7 % 20) - 36.0).collect();
        assert_eq!(held(&scattered).costs, Costs::Spread);
    }

    #[test]
    fn where_both_cost_the_same_one_block_in_ten_is_told_otherwise() {
        let mut random = seed::generator(5);
        // Bell, and a long tail to the late side: both have a bias of one spread.
        for (tail, n) in [(0.0, 10), (0.0, 20), (0.0, 40), (1.0, 20), (1.0, 40)] {
            let spread = (1.0_f64 + tail * tail).sqrt();
            let mut told = 0;
            for _ in 0..2_000 {
                let draw = |_| {
                    let normal: f64 = StandardNormal.sample(&mut random);
                    let late: f64 = Exp1.sample(&mut random);
                    0.01 * (normal + tail * (late - 1.0) + spread)
                };
                let block = Sample::new((0..n).map(draw).collect()).unwrap();
                told += i32::from(Held::new(&block, 0.9).unwrap().costs != Costs::NotClear);
            }
            println!("tail {tail} n {n}: {told} of 2000");
            assert!(told <= 260, "tail {tail} n {n}: {told} of 2000");
        }
    }

    #[test]
    fn four_launches_say_nothing_of_a_spread() {
        let four = Sample::new(vec![0.01, 0.02, 0.0, -0.01]).unwrap();
        assert_eq!(Held::new(&four, 0.9), Err(StatsError::TooFew { have: 4, need: 5 }));
    }
}
