//! The best place for one or two cuts of a series.
//!
//! Owns the gain of cuts, the search for the largest, and the question whether any gain as much. Refuses
//! to say whether that is a change: the neighbour, [`super::change_point`], asks it of random orders.

use crate::stats::numeric::{mean, squares_about};
use std::ops::Range;

/// A perfect step leaves no squares; this share of them keeps the logarithm finite.
pub(super) const FLOOR: f64 = 1e-12;
/// Places that are bounded together before any is looked at alone.
const TOGETHER: usize = 8;

/// A series as running sums of its deviations from the mean.
struct Cuttable {
    /// Sums of the first 0, 1, … n deviations.
    sums: Vec<f64>,
    /// 1 by the length of a stretch.
    inverse: Vec<f64>,
    /// Squares about the mean.
    total: f64,
}

impl Cuttable {
    /// `None` if there is no room for a cut, or nothing to explain but the rounding of standardised values.
    fn new(values: &[f64], shortest: usize) -> Option<Self> {
        let n = values.len();
        if n < 2 * shortest {
            return None;
        }
        let centre = mean(values);
        let total = squares_about(values, centre);
        if total <= 1e-20 * n as f64 {
            return None;
        }
        let mut sums = Vec::with_capacity(n + 1);
        let mut running = 0.0;
        sums.push(0.0);
        for value in values {
            running += value - centre;
            sums.push(running);
        }
        let inverse = (0..=n).map(|i| 1.0 / i as f64).collect();
        Some(Self { sums, inverse, total })
    }

    fn n(&self) -> usize {
        self.sums.len() - 1
    }

    /// Squares explained by a stretch of deviations: (sum)²/length.
    fn explained(&self, from: usize, to: usize) -> f64 {
        (self.sums[to] - self.sums[from]).powi(2) * self.inverse[to - from]
    }

    /// n ln(RSS₀/RSSₘ) − 2 m ln n of m cuts that explain so many squares.
    fn gain(&self, explained: f64, cuts: f64) -> f64 {
        let n = self.n() as f64;
        let left = (self.total - explained).max(FLOOR * self.total);
        n * (self.total / left).ln() - 2.0 * cuts * n.ln()
    }

    /// The squares m cuts have to explain for this gain.
    fn needed(&self, gain: f64, cuts: f64) -> f64 {
        let n = self.n() as f64;
        let left = (-(gain + 2.0 * cuts * n.ln()) / n).exp();
        // What is as good as perfect counts as perfect, as in the gain.
        self.total * (1.0 - left.max(FLOOR * (1.0 + 1e-9)))
    }
}

/// The largest gain in BIC of one or two cuts, and where they are; `None` if there is no room for
/// a cut or nothing to explain.
pub(super) fn best_cuts(values: &[f64], shortest: usize) -> Option<(f64, Vec<usize>)> {
    let series = Cuttable::new(values, shortest)?;
    let n = series.n();
    let explained = |from, to| series.explained(from, to);
    let mut one = (0.0, 0);
    let mut two = (0.0, 0, 0);
    for i in shortest..=n - shortest {
        let left = explained(0, i);
        let both = left + explained(i, n);
        if both > one.0 {
            one = (both, i);
        }
        for j in i + shortest..=n - shortest {
            let all = left + explained(i, j) + explained(j, n);
            if all > two.0 {
                two = (all, i, j);
            }
        }
    }
    let (gain_one, gain_two) = (series.gain(one.0, 1.0), series.gain(two.0, 2.0));
    if two.1 > 0 && gain_two > gain_one {
        Some((gain_two, vec![two.1, two.2]))
    } else {
        (one.1 > 0).then(|| (gain_one, vec![one.1]))
    }
}

/// Whether one or two cuts of `values` gain `gain` or more: the answer of [`best_cuts`] without the
/// places, from the first that does, and mostly without looking. Cuts i and j explain
/// Sᵢ²/i + (Sⱼ − Sᵢ)²/(j − i) + Sⱼ²/(n − j), S the running sums; of eight neighbouring i and eight
/// neighbouring j none explains more than the greatest of each term together.
pub(super) fn gains(values: &[f64], shortest: usize, gain: f64) -> bool {
    let Some(series) = Cuttable::new(values, shortest) else { return false };
    let n = series.n();
    let before: Vec<f64> = (0..=n).map(|i| series.sums[i].powi(2) * series.inverse[i]).collect();
    let behind: Vec<f64> =
        (0..=n).map(|i| series.sums[i].powi(2) * series.inverse[n - i]).collect();
    let needed = series.needed(gain, 1.0);
    if (shortest..=n - shortest).any(|i| before[i] + behind[i] >= needed) {
        return true;
    }
    let needed = series.needed(gain, 2.0);
    let blocks: Vec<Block> = (shortest..=n - shortest)
        .step_by(TOGETHER)
        .map(|from| {
            let places = from..(from + TOGETHER).min(n - shortest + 1);
            Block::new(places, &series.sums, &before, &behind)
        })
        .collect();
    let reaches = |first: &Block, second: &Block| {
        first.places.clone().any(|i| {
            let from = second.places.start.max(i + shortest);
            let of = |j: usize| before[i] + series.explained(i, j) + behind[j];
            (from..second.places.end).map(of).fold(f64::NEG_INFINITY, f64::max) >= needed
        })
    };
    blocks.iter().enumerate().any(|(b, first)| {
        blocks[b..].iter().any(|second| {
            let apart = (second.places.start + 1).saturating_sub(first.places.end).max(shortest);
            let far = (second.highest - first.lowest).max(first.highest - second.lowest);
            let most = first.before + far * far * series.inverse[apart] + second.behind;
            // Rounded the other way than the terms might be.
            most >= needed * (1.0 - 1e-12) && reaches(first, second)
        })
    })
}

/// Neighbouring places and the greatest of what they have.
struct Block {
    places: Range<usize>,
    lowest: f64,
    highest: f64,
    before: f64,
    behind: f64,
}

impl Block {
    fn new(places: Range<usize>, sums: &[f64], before: &[f64], behind: &[f64]) -> Self {
        let greatest =
            |x: &[f64]| x[places.clone()].iter().copied().fold(f64::NEG_INFINITY, f64::max);
        let lowest = sums[places.clone()].iter().copied().fold(f64::INFINITY, f64::min);
        let highest = greatest(sums);
        Self { lowest, highest, before: greatest(before), behind: greatest(behind), places }
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::seed;
    use rand_distr::{Distribution, StandardNormal};

    #[test]
    fn the_best_cuts_are_those_of_a_search_by_hand() {
        let values =
            [0.0, 0.1, -0.1, 0.05, 0.0, 1.0, 1.1, 0.9, 1.05, 1.0, 0.1, 0.0, -0.1, 0.0, 0.1];
        assert_eq!(best_cuts(&values, 5).unwrap().1, [5, 10]);
        assert_eq!(best_cuts(&values[..10], 5).unwrap().1, [5]);
        assert!(best_cuts(&values[..9], 5).is_none());
    }

    #[test]
    fn cuts_gain_as_much_as_the_best_of_all_and_no_more() {
        let mut random = seed::generator(8);
        let (mut one, mut two) = (0, 0);
        for round in 0..400 {
            let n = 6 + round % 97;
            let step = 0.02 * (round % 50) as f64;
            let values: Vec<f64> = (0..n)
                .map(|i| {
                    let z: f64 = StandardNormal.sample(&mut random);
                    z + if i > n / 3 && i < n / 3 * 2 { step } else { 0.0 }
                })
                .collect();
            for shortest in [3, 5] {
                let Some((gain, cuts)) = best_cuts(&values, shortest) else {
                    assert!(n < 10 && !gains(&values, shortest, -1e9));
                    continue;
                };
                assert!(gains(&values, shortest, gain - 1e-9), "{n} {gain}");
                assert!(!gains(&values, shortest, gain + 1e-9), "{n} {gain}");
                *(if cuts.len() == 1 { &mut one } else { &mut two }) += 1;
            }
        }
        assert!(one > 100 && two > 100, "{one} {two}");
        // A perfect step, as perfect in any order of its equal values.
        let perfect = [0.0, 0.0, 0.0, 1.0, 1.0, 1.0];
        let (gain, _) = best_cuts(&perfect, 3).unwrap();
        let turned = [1.0, 1.0, 1.0, 0.0, 0.0, 0.0];
        assert!(gains(&turned, 3, gain - 1e-9) && !gains(&[0.0, 1.0, 0.0, 1.0, 0.0, 1.0], 3, gain));
        assert!(best_cuts(&[1.0; 12], 3).is_none() && !gains(&[1.0; 12], 3, -1e9));
    }
}
