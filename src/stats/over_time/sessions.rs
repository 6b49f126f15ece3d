//! Sessions in a row: has the level or the spread of a driver changed, and since when?
//!
//! Owns the trend of one number a session: limits, odd sessions, and one change told with its size.
//! Refuses launches one by one: days differ, so sessions are what can be shuffled. Refuses a drift
//! that no stretch of sessions shows.

use super::change_point::ChangeSearch;
use super::in_control::Direction;
use super::individuals::{IndividualsLimits, Rule};
use super::spread::spread;
use crate::seed::Generator;
use crate::stats::numeric::{mean, median, t_factor};
use crate::stats::summary::quantile_with_interval;
use crate::stats::{Estimate, Sample, StatsError};
use rand::seq::SliceRandom;
use std::ops::Range;

/// Launches a session needs to stand in a trend. Chosen: fewer leave its spread unknown to a factor
/// of two.
pub const LEAST_LAUNCHES: usize = 8;
/// Sessions from which a change can be told.
pub const LEAST_SESSIONS: usize = SHORTEST + LEAST_BEFORE;
/// Sessions in the shortest stretch that makes a change. Chosen: two odd evenings are no change.
const SHORTEST: usize = 3;
/// Sessions in the longest newest stretch that is held against all before it. Chosen: every further
/// length asks for a larger difference, and a change that is older is found by the other search.
const LONGEST_NEWEST: usize = 4;
/// Power of the distances from a session's median whose mean is sought for changes. Chosen: squares are
/// upset by long tails, distances alone waste some of a bell; of 400 drivers each whose spread fell from
/// 40 to 30 ms 374 and 329 (bell, long tail) were told within four sessions, with distances alone 356 and
/// 317 (simulated).
const DISTANCE_POWER: f64 = 1.5;
/// Sessions before it. Chosen: fewer do not say what is usual.
const LEAST_BEFORE: usize = 5;
/// Chance of a change of the newest sessions seen in the level where there is none. Chosen, so that
/// with the same for the spread, for older changes and for a learning curve fewer than one history in
/// twenty claims anything: .008 + .020 + 2 × .005 + .005.
const NEWEST_LEVEL_FALSE_ALARM: f64 = 0.008;
/// The same for the spread, the larger part: that is what the page is asked.
const NEWEST_SPREAD_FALSE_ALARM: f64 = 0.020;
/// The same for older changes, of either.
const OLDER_FALSE_ALARM: f64 = 0.005;
/// Chance of a learning curve seen among sessions where there is none.
pub const LEARNING_FALSE_ALARM: f64 = 0.005;
/// Orders compared with the one that was driven.
const SHUFFLES: usize = 999;

/// One number a session, over sessions.
#[derive(Debug, Clone, PartialEq)]
pub struct SessionTrend {
    /// The number of every session, in order, in the unit of the launches.
    pub points: Vec<Estimate>,
    /// Limits within which a steady driver's sessions lie; `None` below ten.
    pub limits: Option<IndividualsLimits>,
    /// Sessions outside the limits, places from 0. Not a change: single sessions are odd now and then.
    pub odd: Vec<usize>,
    /// Stretches between changes, of places; one or none where there is no change to see.
    pub stretches: Vec<Range<usize>>,
    /// The newest change.
    pub changed: Option<Changed>,
}

/// A change from one stretch of sessions to the last.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Changed {
    /// Up is later, or less steady.
    pub direction: Direction,
    /// The first session of the last stretch, from 0.
    pub since: usize,
    /// Sessions in the last stretch.
    pub sessions: usize,
    /// Sessions in the stretch before it.
    pub before: usize,
    /// Now less before, in the unit of the launches.
    pub by: Estimate,
    /// Share of random orders that show as much as the one driven.
    pub chance: f64,
}

impl SessionTrend {
    /// The medians of sessions: is the driver earlier or later than before?
    ///
    /// The difference is that of the mean session medians of both stretches with Welch's interval
    /// (1947, Biometrika 34, 28–35): days differ, so a session counts once.
    ///
    /// # Errors
    /// [`StatsError::TooFew`] for a session below [`LEAST_LAUNCHES`], [`StatsError::OutOfDomain`].
    pub fn of_level(
        sessions: &[Sample],
        level: f64,
        random: &mut Generator,
    ) -> Result<Self, StatsError> {
        let median_of =
            |s: &Sample| quantile_with_interval(s.at_least(LEAST_LAUNCHES)?, 0.5, level);
        let points = sessions.iter().map(median_of).collect::<Result<Vec<_>, _>>()?;
        let charted: Vec<f64> = points.iter().map(|p| p.value).collect();
        let asked = (level, NEWEST_LEVEL_FALSE_ALARM);
        Self::of_points(points, &charted, asked, random, |was, now| {
            welch(&charted[was], &charted[now], level)
        })
    }

    /// The spreads of sessions: is the driver steadier than before?
    ///
    /// Sought in the logarithm of the mean of |x − median|^1.5, which long tails upset less than
    /// squares; told as the standard deviation about session medians, which is what
    /// pages say. The difference of the two standard deviations has the interval of Zou & Donner
    /// (2008, "Construction of confidence limits about effect measures", Statistics in Medicine 27,
    /// 1693–1702) from the interval of each ([`spread`]).
    ///
    /// # Errors
    /// As [`SessionTrend::of_level`], and [`StatsError::NoSpread`] for a session of equal launches.
    pub fn of_spread(
        sessions: &[Sample],
        level: f64,
        random: &mut Generator,
    ) -> Result<Self, StatsError> {
        let spread_of = |s: &Sample| spread(s.at_least(LEAST_LAUNCHES)?, level);
        let points = sessions.iter().map(spread_of).collect::<Result<Vec<_>, _>>()?;
        let mut charted = Vec::with_capacity(sessions.len());
        let mut residuals = Vec::with_capacity(sessions.len());
        for session in sessions {
            let middle = median(session.values());
            let from: Vec<f64> = session.values().iter().map(|x| x - middle).collect();
            let far: Vec<f64> = from.iter().map(|x| x.abs().powf(DISTANCE_POWER)).collect();
            let n = far.len() as f64;
            charted.push(mean(&far).ln() / DISTANCE_POWER + 0.5 * (n / (n - 1.0)).ln());
            residuals.push(from);
        }
        let asked = (level, NEWEST_SPREAD_FALSE_ALARM);
        Self::of_points(points, &charted, asked, random, |was, now| {
            let all = |range: Range<usize>| spread(&Sample::new(residuals[range].concat())?, level);
            Ok(difference(&all(now)?, &all(was)?))
        })
    }

    /// Any one number a session; `charted` is what is compared, on whatever scale, with the level of
    /// intervals and the chance of a false change of the newest sessions.
    ///
    /// Two questions, each against 999 random orders of the sessions, which bounds the chance of a
    /// false answer whatever the numbers follow, as long as their order means nothing: do the newest 3
    /// or 4 sessions differ from all before (the largest k(n − k)/n (x̄ₖ − x̄₍ₙ₋ₖ₎)²)? And is there a
    /// change anywhere ([`ChangeSearch::of_level`])? Where both say so, the second one's places are told.
    ///
    /// # Errors
    /// [`StatsError::OutOfDomain`] for numbers beyond ±1e100, and those of `by`.
    pub fn of_points(
        points: Vec<Estimate>,
        charted: &[f64],
        (level, newest_false_alarm): (f64, f64),
        random: &mut Generator,
        by: impl Fn(Range<usize>, Range<usize>) -> Result<Estimate, StatsError>,
    ) -> Result<Self, StatsError> {
        let limits = limits_of(&points, level)?;
        let odd = limits.as_ref().map(|limits| odd_sessions(limits, &points)).unwrap_or_default();
        let (mut stretches, mut chance) = older_changes(charted, level, random)?;
        if stretches.len() < 2
            && let Some((cut, of_newest)) = newest_change(charted, random)
            && of_newest <= newest_false_alarm
        {
            (stretches, chance) = (vec![0..cut, cut..charted.len()], of_newest);
        }
        let changed = match stretches.as_slice() {
            [.., was, now] => Some(Changed {
                direction: Direction::of(mean(&charted[now.clone()]) - mean(&charted[was.clone()])),
                since: now.start,
                sessions: now.len(),
                before: was.len(),
                by: by(was.clone(), now.clone())?,
                chance,
            }),
            _ => None,
        };
        Ok(Self { points, limits, odd, stretches, changed })
    }
}

/// Stretches between changes anywhere, and the chance of the first.
fn older_changes(
    charted: &[f64],
    level: f64,
    random: &mut Generator,
) -> Result<(Vec<Range<usize>>, f64), StatsError> {
    let false_alarm = OLDER_FALSE_ALARM;
    let search = ChangeSearch { shortest: SHORTEST, false_alarm, shuffles: SHUFFLES, level };
    let found = Sample::new(charted.to_vec()).and_then(|series| search.of_level(&series, random));
    match found {
        Ok(found) => {
            let stretches = found.segments.iter().map(|s| s.first - 1..s.last).collect();
            Ok((stretches, found.chance))
        }
        Err(StatsError::TooFew { .. } | StatsError::NoSpread) => Ok((Vec::new(), 1.0)),
        Err(error) => Err(error),
    }
}

/// Where the newest stretch that differs most begins, and the share of orders that differ as much.
fn newest_change(charted: &[f64], random: &mut Generator) -> Option<(usize, f64)> {
    let middle = mean(charted);
    let mut values: Vec<f64> = charted.iter().map(|x| x - middle).collect();
    let (cut, taken) = newest_gain(&values)?;
    let mut as_much = 1;
    for _ in 0..SHUFFLES {
        values.shuffle(random);
        let other = newest_gain(&values).map_or(0.0, |(_, gain)| gain);
        as_much += usize::from(other >= taken * (1.0 - 1e-9));
    }
    Some((cut, as_much as f64 / (SHUFFLES + 1) as f64))
}

/// The cut before the newest sessions that explains most of the squares of centred values.
fn newest_gain(values: &[f64]) -> Option<(usize, f64)> {
    let n = values.len();
    let most = LONGEST_NEWEST.min(n.checked_sub(LEAST_BEFORE)?);
    let gains = (SHORTEST..=most).map(|k| {
        let sum: f64 = values[n - k..].iter().sum();
        // The others sum to the opposite: Σ²/k + Σ²/(n − k).
        (n - k, sum * sum * (1.0 / k as f64 + 1.0 / (n - k) as f64))
    });
    gains.max_by(|a, b| a.1.total_cmp(&b.1)).filter(|(_, gain)| *gain > 0.0)
}

fn limits_of(points: &[Estimate], level: f64) -> Result<Option<IndividualsLimits>, StatsError> {
    let values = Sample::new(points.iter().map(|p| p.value).collect());
    match values.and_then(|values| IndividualsLimits::from_baseline(&values, level)) {
        Ok(limits) => Ok(Some(limits)),
        Err(StatsError::TooFew { .. } | StatsError::NoSpread) => Ok(None),
        Err(error) => Err(error),
    }
}

fn odd_sessions(limits: &IndividualsLimits, points: &[Estimate]) -> Vec<usize> {
    let Ok(values) = Sample::new(points.iter().map(|p| p.value).collect()) else {
        return Vec::new();
    };
    let signals = limits.signals(&values).into_iter();
    signals.filter(|s| s.rule == Rule::BeyondLimit).map(|s| s.at - 1).collect()
}

/// The difference of two means with Welch's interval, `now` less `was`; three values or more each.
fn welch(was: &[f64], now: &[f64], level: f64) -> Result<Estimate, StatsError> {
    let part = |x: &[f64]| {
        let (n, middle) = (x.len() as f64, mean(x));
        let variance = x.iter().map(|v| (v - middle).powi(2)).sum::<f64>() / (n - 1.0);
        (middle, variance / n, n)
    };
    let ((was_mean, v, m), (now_mean, w, n)) = (part(was), part(now));
    let value = now_mean - was_mean;
    let error = (v + w).sqrt();
    let freedom = (v + w).powi(2) / (v * v / (m - 1.0) + w * w / (n - 1.0));
    let half = if error > 0.0 { t_factor(level, freedom) * error } else { 0.0 };
    Ok(Estimate { value, low: value - half, high: value + half, level, n: was.len() + now.len() })
}

/// The difference of two independent estimates, `a` less `b`, from their intervals.
fn difference(a: &Estimate, b: &Estimate) -> Estimate {
    let value = a.value - b.value;
    Estimate {
        value,
        low: value - (a.value - a.low).hypot(b.high - b.value),
        high: value + (a.high - a.value).hypot(b.value - b.low),
        level: a.level,
        n: a.n + b.n,
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::seed;
    use rand_distr::{Distribution, StandardNormal};

    fn sessions(spreads: &[f64], seed: u64) -> Vec<Sample> {
        let mut random = seed::generator(seed);
        let mut one = |sd: &f64| {
            let mut launch = |_| {
                let z: f64 = StandardNormal.sample(&mut random);
                0.2 + sd * z
            };
            Sample::new((0..40).map(&mut launch).collect()).unwrap()
        };
        spreads.iter().map(&mut one).collect()
    }

    #[test]
    fn a_steadier_stretch_is_seen_dated_and_sized() {
        let mut spreads = vec![0.04; 14];
        spreads.extend([0.03; 4]);
        let trend =
            SessionTrend::of_spread(&sessions(&spreads, 3), 0.9, &mut seed::generator(1)).unwrap();
        let changed = trend.changed.unwrap();
        assert_eq!((changed.direction, changed.since, changed.before), (Direction::Down, 14, 14));
        assert!(changed.by.low < -0.01 && -0.01 < changed.by.high, "{changed:?}");
    }

    #[test]
    fn few_sessions_have_points_and_no_claim() {
        for n in 0..LEAST_SESSIONS {
            let few = sessions(&vec![0.03; n], 5);
            let trend = SessionTrend::of_level(&few, 0.9, &mut seed::generator(1)).unwrap();
            assert_eq!((trend.points.len(), trend.changed, trend.limits), (n, None, None));
        }
        let short = [Sample::new(vec![0.1, 0.2]).unwrap()];
        assert!(SessionTrend::of_level(&short, 0.9, &mut seed::generator(1)).is_err());
    }

    #[test]
    fn welchs_interval_is_that_of_r() {
        // What R's t.test(c(4, 5, 7), c(1, 2, 2, 4), conf.level = .9) computes, by hand: variances
        // 7/3 and 19/12, standard error 13/12, degrees of freedom 3.8832, whose factor lies between
        // those of three (2.3534) and four (2.1318).
        let found = welch(&[1.0, 2.0, 2.0, 4.0], &[4.0, 5.0, 7.0], 0.9).unwrap();
        assert!((found.value - 37.0 / 12.0).abs() < 1e-12);
        let factor = (found.high - found.value) * 12.0 / 13.0;
        assert!((2.13..2.17).contains(&factor), "{factor}");
        assert!((found.low + found.high - 2.0 * found.value).abs() < 1e-12);
    }

    #[test]
    fn longer_sessions_are_no_wider_ones() {
        let mut random = seed::generator(9);
        let sizes = [8; 9].into_iter().chain([200; 5]);
        let sessions: Vec<Sample> = sizes
            .map(|n| {
                let launch = |_| {
                    let z: f64 = StandardNormal.sample(&mut random);
                    0.2 + 0.03 * z
                };
                Sample::new((0..n).map(launch).collect::<Vec<f64>>()).unwrap()
            })
            .collect();
        let trend = SessionTrend::of_spread(&sessions, 0.9, &mut seed::generator(1)).unwrap();
        assert_eq!(trend.changed, None);
    }

    #[test]
    fn where_an_older_change_is_seen_its_place_is_told() {
        // Ten low and six high: the newest four differ as well, but the sixth last is where it began.
        let charted: Vec<f64> =
            (0..16).map(|i| if i < 10 { 1.0 } else { 5.0 } + 0.1 * f64::from(i * 7 % 3)).collect();
        let point =
            |x: &f64| Estimate { value: *x, low: x - 0.1, high: x + 0.1, level: 0.9, n: 20 };
        let points = charted.iter().map(point).collect();
        let by = |was: Range<usize>, now: Range<usize>| welch(&charted[was], &charted[now], 0.9);
        let asked = (0.9, 0.02);
        let trend =
            SessionTrend::of_points(points, &charted, asked, &mut seed::generator(1), by).unwrap();
        assert_eq!(trend.stretches, [0..10, 10..16]);
        let changed = trend.changed.unwrap();
        assert_eq!((changed.direction, changed.since), (Direction::Up, 10));
        assert_eq!((changed.sessions, changed.before), (6, 10));
        assert!((changed.by.value - 4.01).abs() < 1e-9, "{changed:?}");
    }

    #[test]
    fn the_newest_stretch_is_the_one_that_explains_most() {
        // k(n − k)/n (x̄ₖ − x̄₍ₙ₋ₖ₎)², for the newest three and four.
        for (values, cut) in [
            ([-1.0, 1.0, 0.0, -1.0, 1.0, 0.0, 3.0, 4.0, 3.0], 6),
            ([-1.0, 1.0, 0.0, -1.0, 1.0, 4.0, 3.0, 4.0, 3.0], 5),
        ] {
            let level = mean(&values);
            let (k, n) = (9.0 - cut as f64, 9.0);
            let want = k * (n - k) / n * (mean(&values[cut..]) - mean(&values[..cut])).powi(2);
            let (found, gain) = newest_gain(&values.map(|x| x - level)).unwrap();
            assert_eq!(found, cut);
            assert!((gain - want).abs() < 1e-12, "{gain} is not {want}");
        }
    }

    #[test]
    fn a_single_odd_session_is_named_and_is_no_change() {
        let of = |odd: f64| {
            let mut charted: Vec<f64> = (0..20).map(|i| 0.1 * f64::from(i * 7 % 5)).collect();
            charted[12] += odd;
            let point = |x: &f64| Estimate { value: *x, low: *x, high: *x, level: 0.9, n: 20 };
            let points = charted.iter().map(point).collect();
            let by =
                |was: Range<usize>, now: Range<usize>| welch(&charted[was], &charted[now], 0.9);
            let random = &mut seed::generator(1);
            SessionTrend::of_points(points, &charted, (0.9, 0.02), random, by).unwrap()
        };
        let (steady, odd) = (of(0.0), of(5.0));
        assert_eq!((steady.odd, steady.changed), (vec![], None));
        assert_eq!((odd.odd, odd.changed), (vec![12], None));
    }
}
