//! Has the spread of the last launches grown beyond that of the session before them?
//!
//! Owns one test and the launches at which it looks. Refuses to call a later level a wider spread, and
//! to say why: a tired driver and a bored one look alike.

use super::spread::spread;
use crate::seed::Generator;
use crate::stats::numeric::usable;
use crate::stats::summary::{mad, quantile_of_sorted};
use crate::stats::{Estimate, Sample, StatsError};
use rand::RngExt;

/// Launches of the block that is held against those before it.
pub const BLOCK: usize = 10;
/// The launches after which it is looked at. Chosen: ten before the block are the fewest that show a
/// spread, and each further look costs some power.
pub const LOOKS: [usize; 4] = [20, 30, 35, 38];
/// Chance of a false alarm in all looks together, 0–1. Chosen: below the five in a hundred that are
/// promised.
pub const FALSE_ALARMS: f64 = 0.045;
/// Splits drawn for one look: its chance is then known to ±.003 where it matters.
const SPLITS: usize = 1_600;
/// A launch farther off than this many median distances counts as this far. Chosen: a slip of the foot
/// is not a spread.
const FARTHEST: f64 = 4.0;
/// Level of the two spreads.
const LEVEL: f64 = 0.90;

/// A spread that grew.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Grown {
    /// Launches after which it was seen.
    pub after: usize,
    /// Standard deviation of the block, in the unit of the values.
    pub block: Estimate,
    /// Standard deviation of the launches before it.
    pub before: Estimate,
    /// Share of random splits that are as uneven.
    pub chance: f64,
}

/// The first look of a session at which its last ten launches spread wider than those before them;
/// `None` while there is none.
///
/// T = mean of min(|x − m|, 4 MAD) over the block ÷ the same over the launches before it, m the median
/// of either side, MAD the median distance from the median over all of them. A session that stays as
/// it is may be split anywhere: T is compared with that of 1,600 random splits of the same launches (a
/// permutation test: Good 2005, "Permutation, Parametric, and Bootstrap Tests of Hypotheses"), whose law
/// is exact whatever curve the launches follow; each look has a quarter of 4.5 in a hundred (Bonferroni's
/// inequality), so that all four together cry wolf in five sessions of a hundred at most. Both sides have
/// their own median: a block that is later as a whole is no wider; one with a step in its middle is.
///
/// Of 4,000 simulated sessions each it stops steady drivers in 3.8 % (bell), 4.0 % (long tail) and 4.0 %
/// (one in twelve very late), and one whose spread doubles after 25 launches in 58, 46 and 42 %
/// before the fortieth (`LASTAMBER_LONG=1`; a smaller run is tested).
///
/// # Errors
/// [`StatsError::OutOfDomain`] for values beyond ±1e100. Too few values are no error: nothing is seen yet.
pub fn spread_grown(
    launches: &Sample,
    random: &mut Generator,
) -> Result<Option<Grown>, StatsError> {
    let values = usable(launches, 1)?;
    for after in LOOKS.into_iter().filter(|look| *look <= values.len()) {
        let seen = &values[..after];
        // Equal values say nothing of a spread.
        let farthest = FARTHEST * mad(&Sample::new(seen.to_vec())?);
        if farthest <= 0.0 {
            continue;
        }
        let chance = chance_of(seen, farthest, random);
        if chance <= FALSE_ALARMS / LOOKS.len() as f64 {
            let (before, block) = seen.split_at(after - BLOCK);
            let of = |part: &[f64]| spread(&Sample::new(part.to_vec())?, LEVEL);
            return Ok(Some(Grown { after, block: of(block)?, before: of(before)?, chance }));
        }
    }
    Ok(None)
}

/// Share of random splits whose block is as much wider; the split as it is counts as one of them.
fn chance_of(seen: &[f64], farthest: f64, random: &mut Generator) -> f64 {
    let n = seen.len();
    // The block first, so that a split is drawn by ten exchanges.
    let mut values: Vec<f64> = seen.iter().rev().copied().collect();
    let (mut block, mut rest) = (Vec::with_capacity(BLOCK), Vec::with_capacity(n - BLOCK));
    let mut ratio = |values: &[f64]| {
        block.clear();
        rest.clear();
        block.extend_from_slice(&values[..BLOCK]);
        rest.extend_from_slice(&values[BLOCK..]);
        width(&mut block, farthest) / width(&mut rest, farthest).max(f64::MIN_POSITIVE)
    };
    let as_it_is = ratio(&values);
    let mut as_wide = 1;
    for _ in 0..SPLITS - 1 {
        for place in 0..BLOCK {
            let other = random.random_range(place..n);
            values.swap(place, other);
        }
        as_wide += usize::from(ratio(&values) >= as_it_is * (1.0 - 1e-12));
    }
    as_wide as f64 / SPLITS as f64
}

/// Mean distance from the own median, none counted beyond the farthest.
fn width(values: &mut [f64], farthest: f64) -> f64 {
    values.sort_unstable_by(f64::total_cmp);
    let middle = quantile_of_sorted(values, 0.5);
    let distances = values.iter().map(|x| (x - middle).abs().min(farthest));
    distances.sum::<f64>() / values.len() as f64
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::seed;
    use rand_distr::{Distribution, Exp1, StandardNormal};

    /// Launches of a kind of driver, s, the later ones from `from` on `times` as wide.
    fn session(kind: &str, from: usize, times: f64, random: &mut Generator) -> Sample {
        let launch = |i: usize| {
            let normal: f64 = StandardNormal.sample(random);
            let late: f64 = Exp1.sample(random);
            let off = match kind {
                "bell" => normal,
                "long tail" => normal + 1.5 * late,
                // One in twelve is very late.
                _ if random.random::<f64>() < 1.0 / 12.0 => normal + 4.0 * late,
                _ => normal,
            };
            0.200 + 0.015 * off * if i < from { 1.0 } else { times }
        };
        Sample::new((0..39).map(launch).collect()).unwrap()
    }

    fn stopped(kind: &str, from: usize, times: f64, sessions: usize) -> f64 {
        let mut random = seed::generator(17);
        let mut stopped = 0;
        for _ in 0..sessions {
            let launches = session(kind, from, times, &mut random);
            stopped += usize::from(spread_grown(&launches, &mut random).unwrap().is_some());
        }
        stopped as f64 / sessions as f64
    }

    #[test]
    fn a_steady_driver_is_stopped_in_five_sessions_of_a_hundred_at_most_and_a_tired_one_far_oftener()
     {
        let long = std::env::var_os("LASTAMBER_LONG").is_some();
        let sessions = if long { 4_000 } else { 500 };
        for kind in ["bell", "long tail", "now and then very late"] {
            let false_alarms = stopped(kind, 40, 1.0, sessions);
            let power = stopped(kind, 25, 2.0, sessions);
            println!("{kind}: false alarms {false_alarms:.4}, spread doubled after 25 {power:.3}");
            // Three standard errors of the count above the five in a hundred.
            let bar = 0.05 + 3.0 * (0.05 * 0.95 / sessions as f64).sqrt();
            assert!(false_alarms <= bar, "{kind}: {false_alarms}");
            assert!(power >= 0.35, "{kind}: {power}");
        }
    }

    #[test]
    fn a_later_level_is_no_wider_spread() {
        let mut random = seed::generator(3);
        let mut stopped = 0;
        for _ in 0..300 {
            let mut launches = session("bell", 40, 1.0, &mut random).values().to_vec();
            launches[10..].iter_mut().for_each(|x| *x += 0.030);
            let launches = Sample::new(launches).unwrap();
            stopped += i32::from(spread_grown(&launches, &mut random).unwrap().is_some());
        }
        // Five in a hundred and three standard errors.
        assert!(stopped <= 26, "{stopped} of 300");
    }

    #[test]
    fn what_was_seen_stays_seen_and_too_few_say_nothing() {
        let mut launches: Vec<f64> = (0..20).map(|i| 0.2 + 0.002 * f64::from(i * 7 % 5)).collect();
        launches.extend((0..10).map(|i| 0.2 + 0.020 * f64::from(i * 3 % 10 - 5)));
        let grown = |n: usize| {
            let launches = Sample::new(launches[..n].to_vec()).unwrap();
            spread_grown(&launches, &mut seed::generator(1)).unwrap()
        };
        assert_eq!(grown(19), None);
        assert_eq!(grown(20), None);
        let first = grown(30).unwrap();
        assert!(first.after >= 25 && first.block.value > 3.0 * first.before.value, "{first:?}");
        let same = Sample::new(vec![0.2; 30]).unwrap();
        assert_eq!(spread_grown(&same, &mut seed::generator(1)), Ok(None));
    }

    #[test]
    fn a_slip_of_the_foot_counts_as_four_median_distances_however_far_it_is() {
        let launches = |slip: f64| {
            let mut values: Vec<f64> =
                (0..20).map(|i| 0.2 + 0.002 * f64::from(i * 7 % 5)).collect();
            values.extend((0..10).map(|i| 0.2 + 0.010 * f64::from(i * 3 % 10 - 5)));
            values[4] += slip;
            values[23] += slip;
            spread_grown(&Sample::new(values).unwrap(), &mut seed::generator(1)).unwrap().unwrap()
        };
        let (near, far) = (launches(1.0), launches(9.0));
        assert_eq!((near.after, near.chance), (far.after, far.chance));
        assert!(far.block.value > 5.0 * near.block.value, "{far:?}");
    }
}
