//! Is there learning, of what shape, and where does it lead?
//!
//! Owns the question, the answer "none to see" included. Refuses to draw a curve through noise: that
//! there is a curve at all is tested before its shape is asked. The fits themselves are the
//! neighbour's, [`super::curves`].

use super::curves::{CurveFit, Series, Shape, fit_all, plateau_interval};
use super::in_control::Direction;
use crate::seed::Generator;
use crate::stats::dependence::doubt;
use crate::stats::numeric::{checked_level, estimate, standardised, usable, within};
use crate::stats::{Caveat, Estimate, Sample, StatsError};
use rand::seq::SliceRandom;
use std::fmt;

/// Fewest values for a curve of up to four parameters.
pub const FEWEST: usize = 10;
/// Longer series are averaged in blocks to at most this many. Chosen, because a curve is drawn
/// through 300 points as well as through more, and an answer should take less than a second.
const MOST_BLOCKS: usize = 300;
/// AICc above the smallest up to which a curve's plateau counts. Chosen, because with the preferred
/// curve alone 90 % intervals held the plateau in 71–92 % of simulated series, with 2 in 86–93 %,
/// with 4 in 92–96 % (exponential and power truths, 60 and 200 values).
const IN_RUNNING: f64 = 4.0;
/// Random orders the test makes. Chosen, because 199 put chances of .005 within reach.
const SHUFFLES: usize = 199;

/// What practice has done so far.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash)]
pub enum Learning {
    /// No curve stands out from the scatter. That is no proof of standing still.
    NoneToSee,
    /// A curve stands out.
    Seen {
        /// The shape preferred by AICc.
        shape: Shape,
        /// Down is falling times or spreads: learning. Up is the opposite.
        direction: Direction,
        /// Whether the level it heads for can be told.
        levels_off: bool,
    },
}

impl fmt::Display for Learning {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        match self {
            Learning::NoneToSee => f.write_str("no learning to see"),
            Learning::Seen { direction, levels_off: true, .. } => {
                write!(f, "going {direction} and levelling off")
            }
            Learning::Seen { direction, .. } => {
                write!(f, "going {direction}, not levelling off yet")
            }
        }
    }
}

/// The answer, in the unit of the values.
#[derive(Debug, Clone, PartialEq)]
pub struct LearningCurve {
    /// In words.
    pub outcome: Learning,
    /// Share of random orders, the order taken among them, through which a curve fits as well.
    pub chance: f64,
    /// The fits of every shape, the flat line first.
    pub fits: Vec<CurveFit>,
    /// The level the preferred curve heads for; `None` while it cannot be told or where there is no
    /// curve.
    pub plateau: Option<Estimate>,
    /// Doubts.
    pub caveats: Vec<Caveat>,
}

/// Looks for learning in values taken in order (launches, or session medians or spreads).
///
/// First, is there any? The best of 40 falling or rising curves, exponential and power, is compared
/// with the best through 199 random orders of the same values; there is learning if at
/// most a share `false_alarm` (0.005–0.5) of the orders fits as well and a curve has a smaller AICc
/// than the flat line. For exchangeable values that bounds the chance of seeing learning where there
/// is none, whatever curve the values follow: 4.8 % of 4 000 exponential series of 30 values at .05
/// (simulated; a smaller run is tested).
///
/// Then, of what shape? y = A + B exp(−a (N − 1)) N^−b, N = 1, 2, …: exponential (b = 0), power
/// (a = 0) and APEX (both; Heathcote, Brown & Mewhort 2000, "The power law repealed", Psychonomic
/// Bulletin & Review 7, 185–207, who found the exponential better than the power law in every set of
/// unaveraged data) by least squares; the smallest AICc = n (ln(2π RSS/n) + 1) + 2p +
/// 2p(p + 1)/(n − p − 1) is preferred, p counting the spread.
///
/// The plateau A: for one curve every A at which its RSS(A) ≤ RSS (1 + t²/(n − q)), t the two-sided
/// Student's factor on n − q degrees of freedom, q = 3 or 4 parameters (profile likelihood). The
/// shape is hardly ever known, so the interval holds those of all curves whose AICc is within 4 of
/// the smallest; where one of them has no end there is none.
///
/// C. S. Peirce's day means 1–24 (1872): exponential A 225.340299, B 250.376964, a 2.920377, RSS
/// 20282.09093; power 225.577386, 250.179803, b 5.066611, RSS 20382.6874 (R `nls`).
///
/// ```
/// use lastamber::{seed, stats::{Sample, over_time::learning::{Learning, learning_curve}}};
/// let level = Sample::new((0..30).map(|i| 0.2 + 0.001 * f64::from(i * 7 % 13)).collect())?;
/// let found = learning_curve(&level, 0.9, 0.05, &mut seed::generator(1))?;
/// assert_eq!(found.outcome, Learning::NoneToSee);
/// # Ok::<(), lastamber::stats::StatsError>(())
/// ```
///
/// # Errors
/// [`StatsError::TooFew`] below ten values, [`StatsError::NoSpread`], [`StatsError::OutOfDomain`].
pub fn learning_curve(
    series: &Sample,
    level: f64,
    false_alarm: f64,
    generator: &mut Generator,
) -> Result<LearningCurve, StatsError> {
    let level = checked_level(level)?;
    within("false alarm", false_alarm, 0.005, 0.5, "0.005..=0.5")?;
    let (standard, centre, scale) = standardised(usable(series, FEWEST)?)?;
    let size = standard.len().div_ceil(MOST_BLOCKS);
    let curve = Series::in_blocks(&standard, size);
    let fits = fit_all(&curve);
    let chance = chance_of_curve(&curve, generator);
    let preferred = fits
        .iter()
        .min_by(|a, b| a.aicc.total_cmp(&b.aicc))
        .copied()
        .expect("there is a fit of every shape");
    let mut caveats = Vec::new();
    if size > 1 {
        caveats.push(Caveat::Blocks { size });
    }
    let mut plateau = None;
    let mut outcome = Learning::NoneToSee;
    if chance <= false_alarm && preferred.shape != Shape::Flat {
        if let Some((low, high)) = plateau_limits(&curve, &fits, preferred.aicc, level) {
            let limits = (centre + scale * low, centre + scale * high);
            let value = centre + scale * preferred.plateau;
            plateau = Some(estimate(value, limits, level, series.n())?);
        } else {
            caveats.push(Caveat::PlateauNotReached);
        }
        outcome = Learning::Seen {
            shape: preferred.shape,
            direction: Direction::of(-preferred.gain),
            levels_off: plateau.is_some(),
        };
    }
    // Left-over waves count only where there is something left over.
    let left = curve.residuals(&preferred);
    if left.iter().any(|r| r.abs() > 1e-9) {
        caveats.extend(doubt(&left));
    }
    let fits = fits.into_iter().map(|f| f.in_units(centre, scale, curve.len())).collect();
    Ok(LearningCurve { outcome, chance, fits, plateau, caveats })
}

/// Limits that hold the plateau of every curve in the running; `None` if one of them has no end.
fn plateau_limits(
    curve: &Series,
    fits: &[CurveFit],
    smallest: f64,
    level: f64,
) -> Option<(f64, f64)> {
    let in_the_running = |f: &&CurveFit| f.shape != Shape::Flat && f.aicc <= smallest + IN_RUNNING;
    let mut limits = (f64::INFINITY, f64::NEG_INFINITY);
    for fit in fits.iter().filter(in_the_running) {
        let (low, high) = plateau_interval(curve, fit, level)?;
        limits = (limits.0.min(low), limits.1.max(high));
    }
    Some(limits)
}

/// Share of orders, the given one among them, through which the best of a set of curves explains as
/// much.
fn chance_of_curve(curve: &Series, generator: &mut Generator) -> f64 {
    let shapes = curve.unit_curves();
    let explained = |y: &[f64]| {
        let share = |u: &Vec<f64>| u.iter().zip(y).map(|(u, y)| u * y).sum::<f64>().abs();
        shapes.iter().map(share).fold(0.0, f64::max)
    };
    // The curves have mean 0: a level the values have adds nothing.
    let mut y = curve.values().to_vec();
    let taken = explained(&y);
    let mut as_good = 1;
    for _ in 0..SHUFFLES {
        y.shuffle(generator);
        as_good += usize::from(explained(&y) >= taken * (1.0 - 1e-9));
    }
    as_good as f64 / (SHUFFLES + 1) as f64
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::seed;
    use rand_distr::{Distribution, Exp1, StandardNormal};

    #[test]
    fn one_driver_in_twenty_without_learning_seems_to_learn() {
        let mut generator = seed::generator(11);
        let mut alarms = 0;
        for _ in 0..400 {
            let values = (0..30).map(|_| Exp1.sample(&mut generator)).collect();
            let series = Sample::new(values).unwrap();
            let found = learning_curve(&series, 0.9, 0.05, &mut generator).unwrap();
            alarms += i32::from(found.outcome != Learning::NoneToSee);
        }
        println!("{alarms} false alarms of 400");
        assert!((6..=33).contains(&alarms), "{alarms} false alarms of 400");
    }

    #[test]
    fn nine_intervals_of_ten_hold_the_plateau_whatever_the_shape() {
        for (rate, power, n) in [(0.15, 0.0, 60), (0.0, 0.8, 60)] {
            let mut generator = seed::generator(12);
            let (mut held, mut told) = (0, 0);
            for _ in 0..40 {
                let value = |i: u32| {
                    let z: f64 = StandardNormal.sample(&mut generator);
                    let i = f64::from(i);
                    0.2 + 0.1 * (-rate * i).exp() * (i + 1.0).powf(-power) + 0.02 * z
                };
                let series = Sample::new((0..n).map(value).collect()).unwrap();
                let found = learning_curve(&series, 0.9, 0.05, &mut generator).unwrap();
                if let Some(plateau) = found.plateau {
                    told += 1;
                    held += i32::from((plateau.low..=plateau.high).contains(&0.2));
                }
            }
            println!("rate {rate} power {power} n {n}: {held} of {told} plateaus held");
            let enough = told >= 20 && f64::from(held) >= 0.82 * f64::from(told);
            assert!(enough, "rate {rate} power {power} n {n}: {held} of {told}");
        }
    }

    #[test]
    fn a_curve_that_fits_best_is_seen_only_where_chance_does_not_explain_it() {
        let mut generator = seed::generator(13);
        let mut best_by_chance = 0;
        for i in 0..120 {
            let fall = if i % 3 == 0 { 2.0 } else { 0.0 };
            let value = |j: i32| {
                let z: f64 = StandardNormal.sample(&mut generator);
                z + fall * (-0.4 * f64::from(j)).exp()
            };
            let series = Sample::new((0..25).map(value).collect()).unwrap();
            let found = learning_curve(&series, 0.9, 0.05, &mut generator).unwrap();
            let best = found.fits.iter().min_by(|a, b| a.aicc.total_cmp(&b.aicc)).unwrap();
            let (a_curve, clear) = (best.shape != Shape::Flat, found.chance <= 0.05);
            assert_eq!(found.outcome != Learning::NoneToSee, a_curve && clear, "{found:?}");
            best_by_chance += i32::from(a_curve && !clear);
        }
        assert!(best_by_chance > 0);
    }

    #[test]
    fn a_wave_that_no_curve_explains_is_doubted() {
        let wave = |noise: f64| {
            let value = |i: i32| (f64::from(i) / 3.0).sin() + noise * f64::from(i * 7 % 11);
            let series = Sample::new((0..60).map(value).collect()).unwrap();
            learning_curve(&series, 0.9, 0.05, &mut seed::generator(1)).unwrap().caveats
        };
        let doubted = |c: &[Caveat]| c.iter().any(|c| matches!(c, Caveat::Dependent { .. }));
        assert!(doubted(&wave(0.01)));
        assert!(!doubted(&wave(3.0)));
    }
}
