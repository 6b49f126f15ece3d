//! Warm-up and fatigue within a session, for the level and the spread apart.
//!
//! Owns both effects over any number of sessions. Refuses to pool them: practice can speed the mean
//! while fatigue widens the spread (Steinborn and others 2010, of long reaction tasks), so either
//! alone would mislead.

use super::regression::{Fit, Group, fit};
use crate::stats::numeric::{checked_level, estimate, mean, t_factor, usable, within};
use crate::stats::{Caveat, Estimate, Sample, StatsError};

/// Launches of a session that count as cold. Chosen, because three is what a day at the strip has
/// of them.
pub const COLD_LAUNCHES: usize = 3;
/// Launches over which fatigue is stated.
pub const FATIGUE_LAUNCHES: f64 = 10.0;
/// Fewest launches in all.
pub const FEWEST: usize = 20;

/// Whether an effect's interval leaves 0 out.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash)]
pub enum Trend {
    /// It contains 0.
    NoneToSee,
    /// More: later, or wider.
    More,
    /// Less: earlier, or tighter.
    Less,
}

impl Trend {
    fn of(effect: &Estimate) -> Self {
        if effect.low > 0.0 {
            Trend::More
        } else if effect.high < 0.0 {
            Trend::Less
        } else {
            Trend::NoneToSee
        }
    }
}

/// An effect and what it amounts to.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Effect {
    /// Its size.
    pub size: Estimate,
    /// In words.
    pub trend: Trend,
}

/// What a session does to a driver.
#[derive(Debug, Clone, PartialEq)]
pub struct WithinSession {
    /// Level of the cold launches less that of the first warm one, in the unit of the values.
    pub warm_up_level: Effect,
    /// Change of the level over [`FATIGUE_LAUNCHES`] warm launches, in the unit of the values.
    pub fatigue_level: Effect,
    /// Spread of the cold launches less that of the first warm one, as a share of the average
    /// spread: .3 is 30 % wider.
    pub warm_up_spread: Effect,
    /// Change of the spread over [`FATIGUE_LAUNCHES`] warm launches, as a share of the average
    /// spread.
    pub fatigue_spread: Effect,
    /// Doubts.
    pub caveats: Vec<Caveat>,
}

/// Measures warm-up and fatigue over sessions, each a [`Sample`] in the order of its launches.
///
/// Level: xₛⱼ = aₛ + b [j ≤ `cold`] + c max(0, j − `cold` − 1)/10 + error for launch j of session s,
/// by least squares, each session with its own level aₛ; HC3 standard errors (MacKinnon & White
/// 1985, Journal of Econometrics 29, 305–325) and Student's factor on launches − sessions − 2
/// degrees of freedom. Spread: the same for |e/√(1 − h)|, the distance of a launch from that fit
/// freed of its leverage h, divided by its average (a Glejser test, 1969, Journal of the American
/// Statistical Association 64, 316–323). Distances from a fit lean on long tails less than
/// squares. Of 5 000 steady drivers over four sessions of 25 launches 90 % intervals left 0 out for
/// 8.7, 9.5, 11.2 and 9.9 % (the four effects in order; simulated; a smaller run is tested).
///
/// # Errors
/// [`StatsError::TooFew`] below twenty launches, or seven more than sessions; [`StatsError::NoFit`]
/// if no session is longer than its cold launches by two; [`StatsError::NoSpread`] if the fit
/// leaves nothing; [`StatsError::OutOfDomain`] for `cold` outside 1..=50, a `level` outside
/// 0.5..=0.999 or values beyond ±1e100.
pub fn within_session(
    sessions: &[Sample],
    cold: usize,
    level: f64,
) -> Result<WithinSession, StatsError> {
    let level = checked_level(level)?;
    within("cold launches", cold as f64, 1.0, 50.0, "1..=50")?;
    let launches: usize = sessions.iter().map(Sample::n).sum();
    if launches < FEWEST {
        return Err(StatsError::TooFew { have: launches, need: FEWEST });
    }
    let mut groups = Vec::with_capacity(sessions.len());
    for session in sessions {
        let y = usable(session, 1)?.to_vec();
        groups.push(Group { x: places(y.len(), cold), y });
    }
    let levels = fit(&groups)?;
    let distances: Vec<Group<2>> = levels
        .residuals
        .iter()
        .map(|part| Group {
            y: part.iter().map(|e| e.abs()).collect(),
            x: places(part.len(), cold),
        })
        .collect();
    let all: Vec<f64> = distances.iter().flat_map(|g| g.y.iter().copied()).collect();
    let average = mean(&all);
    let largest = groups.iter().flat_map(|g| &g.y).fold(0.0_f64, |m, v| m.max(v.abs()));
    if average.is_nan() || average <= 1e-12 * largest {
        return Err(StatsError::NoSpread);
    }
    let shares: Vec<Group<2>> = distances
        .into_iter()
        .map(|g| Group { y: g.y.iter().map(|d| d / average).collect(), x: g.x })
        .collect();
    let spreads = fit(&shares)?;
    let effect = |found: &Fit<2>, k: usize| -> Result<Effect, StatsError> {
        let half = t_factor(level, found.freedom) * found.errors[k];
        let middle = found.coefficients[k];
        let size = estimate(middle, (middle - half, middle + half), level, launches)?;
        Ok(Effect { size, trend: Trend::of(&size) })
    };
    Ok(WithinSession {
        warm_up_level: effect(&levels, 0)?,
        fatigue_level: effect(&levels, 1)?,
        warm_up_spread: effect(&spreads, 0)?,
        fatigue_spread: effect(&spreads, 1)?,
        caveats: if launches < 40 { vec![Caveat::Rough { n: launches }] } else { Vec::new() },
    })
}

/// Regressors of each launch of a session: cold or not, and how far past the first warm one.
fn places(n: usize, cold: usize) -> Vec<[f64; 2]> {
    let row = |i: usize| {
        let is_cold = if i < cold { 1.0 } else { 0.0 };
        [is_cold, i.saturating_sub(cold) as f64 / FATIGUE_LAUNCHES]
    };
    (0..n).map(row).collect()
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::seed;
    use rand_distr::{Distribution, StandardNormal};

    /// Sessions of `n` launches with a cold start 20 ms late and spreads that grow by 2 % a launch,
    /// or steady ones.
    fn sessions(
        generator: &mut seed::Generator,
        count: usize,
        n: usize,
        tired: bool,
    ) -> Vec<Sample> {
        let mut session = |_| {
            let value = |j: usize| {
                let z: f64 = StandardNormal.sample(generator);
                let late = if tired && j < 3 { 0.02 } else { 0.0 };
                let wide = if tired { 1.0 + 0.02 * j as f64 } else { 1.0 };
                0.2 + late + 0.02 * wide * z
            };
            Sample::new((0..n).map(value).collect()).unwrap()
        };
        (0..count).map(&mut session).collect()
    }

    #[test]
    fn the_effects_are_those_of_statsmodels() {
        // statsmodels 0.15.0: OLS on session dummies, first three or not, later launches / 10;
        // cov_type="HC3", Student's factor on 55 degrees of freedom; the spread's by the same from
        // |e|/√(1 − h) over its mean.
        let text = include_str!("../../../tests/data/rt20_example.csv");
        let twenty: Vec<f64> = text.lines().map(|line| line.parse().unwrap()).collect();
        let begun_at = |k: usize| {
            let mut values = twenty.clone();
            values.rotate_left(k);
            Sample::new(values).unwrap()
        };
        let found = within_session(&[begun_at(0), begun_at(7), begun_at(14)], 3, 0.9).unwrap();
        for (effect, [value, low, high]) in [
            (found.warm_up_level, [-5.550_980_392, -19.927_216_04, 8.825_255_26]),
            (found.fatigue_level, [-0.499_183_006_5, -10.630_822_52, 9.632_456_505]),
            (found.warm_up_spread, [-0.014_444_600_84, -0.651_894_594_2, 0.623_005_392_5]),
            (found.fatigue_spread, [0.066_488_598_12, -0.381_053_262_7, 0.514_030_459]),
        ] {
            let e = effect.size;
            for (got, want) in [(e.value, value), (e.low, low), (e.high, high)] {
                assert!((got - want).abs() < 2e-8 * (1.0 + want.abs()), "{got} is not {want}");
            }
        }
    }

    #[test]
    fn one_steady_driver_in_ten_seems_to_change() {
        let mut generator = seed::generator(77);
        let mut alarms = [0; 4];
        for _ in 0..500 {
            let found = within_session(&sessions(&mut generator, 4, 25, false), 3, 0.9).unwrap();
            let effects = [
                found.warm_up_level,
                found.fatigue_level,
                found.warm_up_spread,
                found.fatigue_spread,
            ];
            for (alarm, effect) in alarms.iter_mut().zip(effects) {
                *alarm += i32::from(effect.trend != Trend::NoneToSee);
            }
        }
        println!("false alarms of 500: {alarms:?}");
        assert!(alarms.iter().all(|a| (20..=90).contains(a)), "{alarms:?} of 500");
    }

    #[test]
    fn a_cold_start_and_a_tiring_hand_are_told_apart() {
        let mut generator = seed::generator(78);
        let found = within_session(&sessions(&mut generator, 20, 40, true), 3, 0.9).unwrap();
        assert_eq!(found.warm_up_level.trend, Trend::More);
        assert_eq!(found.fatigue_spread.trend, Trend::More);
        assert!((0.01..0.03).contains(&found.warm_up_level.size.value));
        assert_eq!(found.caveats, []);
    }

    #[test]
    fn whatever_the_unit_a_spread_is_one_and_the_last_bit_is_none() {
        let all = sessions(&mut seed::generator(79), 4, 25, true);
        let told = |factor: f64| {
            let scaled = |s: &Sample| Sample::new(s.values().iter().map(|x| factor * x).collect());
            let scaled: Vec<Sample> = all.iter().map(|s| scaled(s).unwrap()).collect();
            let found = within_session(&scaled, 3, 0.9).unwrap();
            [found.warm_up_level.size.value / factor, found.fatigue_spread.size.value]
        };
        for factor in [1e-12, 1e12] {
            for (got, want) in told(factor).iter().zip(told(1.0)) {
                assert!((got / want - 1.0).abs() < 1e-9, "{factor}: {got} is not {want}");
            }
        }
        for value in [0.2_f64, 2e9] {
            let bits = (0..30).map(|i| if i * 7 % 3 == 0 { value.next_up() } else { value });
            let flat = [Sample::new(bits.collect()).unwrap()];
            assert_eq!(within_session(&flat, 3, 0.9), Err(StatsError::NoSpread), "{value}");
        }
    }

    #[test]
    fn short_or_flat_sessions_give_no_answer() {
        let short = vec![Sample::new(vec![0.1, 0.2, 0.15]).unwrap(); 10];
        assert!(within_session(&short, 3, 0.9).is_err());
        let flat = [Sample::new(vec![0.2; 30]).unwrap()];
        assert_eq!(within_session(&flat, 3, 0.9), Err(StatsError::NoSpread));
    }
}
