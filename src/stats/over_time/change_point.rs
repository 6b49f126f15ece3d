//! Did the level or the spread change at some point, and when?
//!
//! Owns the search for changes and its criterion. Refuses drifts and single odd points: those are
//! the charts'.

use super::cuts::{FLOOR, best_cuts, gains};
use super::in_control::Direction;
use super::spread::spread;
use crate::seed::Generator;
use crate::stats::dependence::doubt;
use crate::stats::numeric::{
    checked_level, estimate, mean, median, sd, squares_about, standardised, t_factor, usable,
    within,
};
use crate::stats::{Caveat, Estimate, Sample, StatsError};
use rand::seq::SliceRandom;
use std::ops::Range;

/// Longer series are averaged in blocks to at most this many. Chosen, because the search is
/// quadratic and 300 places are finer than what a change can be dated to.
const MOST_BLOCKS: usize = 300;

/// How the search is done.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct ChangeSearch {
    /// Fewest values (or blocks) between two changes: 3 or more for levels, 5 for spreads.
    pub shortest: usize,
    /// Chance of reporting any change where there is none, 0.005–0.5.
    pub false_alarm: f64,
    /// Random orders each comparison makes, 1/`false_alarm` − 1 or more, at most 9 999.
    pub shuffles: usize,
    /// Level of the intervals, 0.5–0.999.
    pub level: f64,
}

impl Default for ChangeSearch {
    /// Five values, one false alarm in twenty, 199 orders, 90 %: chosen, because a driver looks at
    /// this often and a change should be one.
    fn default() -> Self {
        Self { shortest: 5, false_alarm: 0.05, shuffles: 199, level: 0.9 }
    }
}

/// A stretch between changes. Places count from 1.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Segment {
    /// Its first value.
    pub first: usize,
    /// Its last value.
    pub last: usize,
    /// Its mean (Student's interval) or standard deviation (see [`spread`]), in the unit of the
    /// values.
    pub estimate: Estimate,
}

/// What the search says: at least one segment, and a change between any two.
#[derive(Debug, Clone, PartialEq)]
pub struct Changes {
    /// The stretches, in order.
    pub segments: Vec<Segment>,
    /// Share of random orders, the order taken among them, that show as much as the order taken.
    pub chance: f64,
    /// Doubts.
    pub caveats: Vec<Caveat>,
}

impl Changes {
    /// After which value each change came and which way it went; none where there is none to see.
    pub fn changes(&self) -> impl Iterator<Item = (usize, Direction)> + '_ {
        self.segments.windows(2).map(|pair| {
            (pair[0].last, Direction::of(pair[1].estimate.value - pair[0].estimate.value))
        })
    }
}

impl ChangeSearch {
    /// Changes of the level.
    ///
    /// Criterion: among all ways to cut the series into two or three stretches of at least
    /// `shortest` values the best has the largest gain n ln(RSS₀/RSSₘ) − 2 m ln n, m = 1, 2 cuts:
    /// the fall of BIC = n (ln(2π RSSₘ/n) + 1) + (2 m + 2) ln n (m + 1 levels, m places, one
    /// spread), RSSₘ the squared deviations from the stretches' means. It is a change if at most a
    /// share `false_alarm` of random orders of the same values gain as much: for exchangeable values
    /// that bounds the chance of a false change whatever curve they follow. Each stretch is then
    /// searched in the same way; a further change has to lower the whole series' BIC too. Series
    /// above 300 values are averaged in blocks first. Of 2 000 steady ex-Gaussian series each of 12,
    /// 20 and 60 values 4.7, 5.0 and 4.9 % showed a change at .05 (simulated; a smaller run is
    /// tested). The values have to be independent: [`Caveat::Dependent`] says where they are
    /// not.
    ///
    /// ```
    /// use lastamber::{seed, stats::{Sample, over_time::change_point::ChangeSearch}};
    /// let level = |i| if i < 25 { 0.2 } else { 0.25 };
    /// let step = (0..40).map(|i| level(i) + 0.002 * f64::from(i * 7 % 11)).collect();
    /// let mut generator = seed::generator(1);
    /// let found = ChangeSearch::default().of_level(&Sample::new(step)?, &mut generator)?;
    /// assert_eq!(found.changes().next().map(|change| change.0), Some(25));
    /// # Ok::<(), lastamber::stats::StatsError>(())
    /// ```
    ///
    /// C. S. Peirce's day means 2–24 (1872): one change after the tenth, means 198.317249 and
    /// 247.230548 ms, BIC 227.7665 without and 209.2339 with it (R package strucchange 1.5-3,
    /// `breakpoints(m ~ 1, h = 4)`).
    ///
    /// # Errors
    /// [`StatsError::TooFew`] below twice `shortest`, [`StatsError::NoSpread`],
    /// [`StatsError::OutOfDomain`].
    pub fn of_level(
        &self,
        series: &Sample,
        generator: &mut Generator,
    ) -> Result<Changes, StatsError> {
        self.check(3.0)?;
        let values = usable(series, 2 * self.shortest)?;
        let (cuts, chance, mut caveats) = self.search(values, generator)?;
        let segments = self.described(&cuts, |range| {
            let part = &values[range.clone()];
            let n = part.len() as f64;
            let half = t_factor(self.level, n - 1.0) * sd(part) / n.sqrt();
            let middle = mean(part);
            estimate(middle, (middle - half, middle + half), self.level, part.len())
        })?;
        caveats.extend(doubt(&centred(values, &cuts, mean)));
        Ok(Changes { segments, chance, caveats })
    }

    /// Changes of the spread, whatever the level does.
    ///
    /// Levels are searched first; then the distances |x − median of its stretch| are searched for
    /// changes of their mean by the same criterion, which long tails do not upset. The chance of a
    /// false change is close to `false_alarm`: at .05 of 2 000 steady ex-Gaussian series each of 12, 20
    /// and 60 values 4.3, 4.1 and 3.0 % showed one (simulated; a smaller run is tested).
    ///
    /// # Errors
    /// Those of [`ChangeSearch::of_level`].
    pub fn of_spread(
        &self,
        series: &Sample,
        generator: &mut Generator,
    ) -> Result<Changes, StatsError> {
        self.check(5.0)?;
        let values = usable(series, 2 * self.shortest)?;
        let (levels, _, _) = self.search(values, generator)?;
        let residuals = centred(values, &levels, median);
        let distances: Vec<f64> = residuals.iter().map(|r| r.abs()).collect();
        let (cuts, chance, mut caveats) = match self.search(&distances, generator) {
            // Two values only, all as far from the median: nothing changes.
            Err(StatsError::NoSpread) => (std::iter::once(0..values.len()).collect(), 1.0, vec![]),
            found => found?,
        };
        let segments = self.described(&cuts, |range| {
            spread(&Sample::new(residuals[range.clone()].to_vec())?, self.level)
        })?;
        caveats.extend(doubt(&centred(&distances, &cuts, mean)));
        Ok(Changes { segments, chance, caveats })
    }

    fn check(&self, fewest_between: f64) -> Result<(), StatsError> {
        let shortest = self.shortest as f64;
        within("shortest stretch", shortest, fewest_between, 1e6, "3 (spreads: 5)..=1000000")?;
        within("false alarm", self.false_alarm, 0.005, 0.5, "0.005..=0.5")?;
        let fewest = (1.0 / self.false_alarm - 1.0 - 1e-9).ceil();
        within("shuffles", self.shuffles as f64, fewest, 9999.0, "1/false alarm − 1..=9999")?;
        checked_level(self.level).map(|_| ())
    }

    /// Stretches of `values`, the chance of the first cut, and doubts.
    fn search(
        &self,
        values: &[f64],
        generator: &mut Generator,
    ) -> Result<(Vec<Range<usize>>, f64, Vec<Caveat>), StatsError> {
        let (standard, _, _) = standardised(values)?;
        let size = values.len().div_ceil(MOST_BLOCKS);
        let blocks: Vec<f64> = standard.chunks(size).map(mean).collect();
        let mut open = stretches(&[], blocks.len());
        let mut closed = Vec::new();
        let mut first_chance = None;
        let mut left = squares(&blocks);
        while let Some(range) = open.pop() {
            let part = &blocks[range.clone()];
            let (cuts, chance) = self.test(part, generator);
            first_chance.get_or_insert(chance);
            let parts = stretches(&cuts, part.len());
            let after: f64 = parts.iter().map(|r| squares(&part[r.clone()])).sum();
            let then = (left - squares(part) + after).max(FLOOR * left);
            let n = blocks.len() as f64;
            let gain = n * (left / then).ln() - 2.0 * cuts.len() as f64 * n.ln();
            if chance <= self.false_alarm && gain > 0.0 {
                left = then;
                open.extend(parts.iter().map(|r| range.start + r.start..range.start + r.end));
            } else {
                closed.push(range);
            }
        }
        closed.sort_by_key(|range| range.start);
        let scaled = closed.iter().map(|r| r.start * size..(r.end * size).min(values.len()));
        let caveats = if size > 1 { vec![Caveat::Blocks { size }] } else { Vec::new() };
        Ok((scaled.collect(), first_chance.unwrap_or(1.0), caveats))
    }

    /// The best cuts of `values` and the share of orders that gain as much.
    fn test(&self, values: &[f64], generator: &mut Generator) -> (Vec<usize>, f64) {
        let Some((gain, cuts)) = best_cuts(values, self.shortest) else {
            return (Vec::new(), 1.0);
        };
        let mut shuffled = values.to_vec();
        let mut as_good = 1;
        for _ in 0..self.shuffles {
            shuffled.shuffle(generator);
            as_good += usize::from(gains(&shuffled, self.shortest, gain - 1e-9));
        }
        (cuts, as_good as f64 / (self.shuffles + 1) as f64)
    }

    fn described(
        &self,
        ranges: &[Range<usize>],
        about: impl Fn(&Range<usize>) -> Result<Estimate, StatsError>,
    ) -> Result<Vec<Segment>, StatsError> {
        let segment = |range: &Range<usize>| {
            Ok(Segment { first: range.start + 1, last: range.end, estimate: about(range)? })
        };
        ranges.iter().map(segment).collect()
    }
}

/// Values less the centre of their stretch.
fn centred(values: &[f64], ranges: &[Range<usize>], centre: fn(&[f64]) -> f64) -> Vec<f64> {
    let about = |range: &Range<usize>| {
        let part = &values[range.clone()];
        let middle = centre(part);
        part.iter().map(|v| v - middle).collect::<Vec<f64>>()
    };
    ranges.iter().flat_map(about).collect()
}

/// The stretches between `cuts` of `n` values.
fn stretches(cuts: &[usize], n: usize) -> Vec<Range<usize>> {
    let starts = std::iter::once(0).chain(cuts.iter().copied());
    starts.zip(cuts.iter().copied().chain([n])).map(|(from, to)| from..to).collect()
}

/// Squares about the mean.
fn squares(values: &[f64]) -> f64 {
    squares_about(values, mean(values))
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::seed;

    #[test]
    fn an_odd_setting_is_refused() {
        let series = Sample::new((0..40).map(f64::from).collect()).unwrap();
        let mut generator = seed::generator(1);
        let careless = ChangeSearch { shuffles: 10, ..ChangeSearch::default() };
        assert!(careless.of_level(&series, &mut generator).is_err());
        let tiny = ChangeSearch { shortest: 1, ..ChangeSearch::default() };
        assert!(tiny.of_spread(&series, &mut generator).is_err());
    }

    #[test]
    fn a_series_without_a_change_is_one_stretch_with_students_interval() {
        let series = Sample::new((0..12).map(|i| f64::from(i * 7 % 12)).collect()).unwrap();
        let found = ChangeSearch::default().of_level(&series, &mut seed::generator(1)).unwrap();
        let [only] = found.segments.as_slice() else { panic!("{found:?}") };
        // Mean 5.5, variance 13, t for 11 degrees of freedom, 90 %: 1.795885 (any table).
        let half = 1.795_885 * (13.0_f64 / 12.0).sqrt();
        assert_eq!((only.first, only.last, only.estimate.value), (1, 12, 5.5));
        assert!((only.estimate.high - 5.5 - half).abs() < 1e-5, "{only:?}");
        assert!((5.5 - only.estimate.low - half).abs() < 1e-5, "{only:?}");
    }
}
