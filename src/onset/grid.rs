//! The grid of a display's refreshes, fitted to the moments at which it let frames through.
//!
//! Owns the fit of period and phase and the question whether there is a grid at all. Refuses to know
//! how many frames wait in between: that delay is constant and belongs to the rig's offset.
//!
//! A display with a queue of one gives an image back at a refresh, and the program wakes a little
//! after it: moments scatter to the late side only. So the period comes from a robust slope through
//! all moments and the phase from the early edge of where most of them crowd.

use std::collections::VecDeque;

use crate::units::{Mark, Span};

/// Moments the fit looks at: two seconds at 60 Hz. Chosen.
const KEPT: usize = 120;
/// Fewest moments for a fit. Chosen.
const FEWEST: usize = 60;
/// After a pause this long refreshes are counted anew: over many that nobody saw, a small error of the period
/// becomes a wrong number. Chosen: at 240 Hz and a period good to a thousandth that is a quarter of one.
const REST: Span = Span::from_ms(1_000);
/// There is a grid if half of all moments lie within this, in periods. Chosen: moments without a
/// grid have half of them within half a period.
const HALF_WITHIN: f64 = 0.125;
/// A moment came when it was due if it is this close, in periods. Chosen.
const ON_TIME: f64 = 0.2;
/// Moments tried as the start of the counting. Chosen: they are hardly all late.
const STARTS: usize = 6;
/// Refresh rates that are believed: 24 to 400 Hz.
const SHORTEST: Span = Span::from_us(2_500);
const LONGEST: Span = Span::from_us(42_000);

/// A running fit.
#[derive(Debug, Clone, Default)]
pub struct Grid {
    moments: VecDeque<Mark>,
    fit: Option<Fit>,
}

/// Refreshes lie at `origin + k·period`.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Fit {
    origin: Mark,
    period_ns: f64,
    /// Half of all moments lie closer than this after the grid.
    pub spread: Span,
}

impl Fit {
    /// The period.
    pub fn period(&self) -> Span {
        Span::from_ns(self.period_ns.round() as i64)
    }

    /// The first refresh at or after `mark`.
    pub fn next_after(&self, mark: Mark) -> Mark {
        let periods = ((mark - self.origin).ns() as f64 / self.period_ns).ceil();
        self.origin + Span::from_ns((periods * self.period_ns).round() as i64)
    }
}

impl Grid {
    /// Takes the moment at which the display let a frame through.
    pub fn observe(&mut self, moment: Mark) {
        if self.moments.back().is_some_and(|last| moment <= *last) {
            return;
        }
        if self.moments.back().is_some_and(|last| moment - *last > REST) {
            self.moments.clear();
        }
        if self.moments.len() == KEPT {
            self.moments.pop_front();
        }
        self.moments.push_back(moment);
        self.fit = fit(&self.moments);
    }

    /// Period and phase, where there is a grid.
    pub fn fit(&self) -> Option<Fit> {
        self.fit
    }
}

fn fit(moments: &VecDeque<Mark>) -> Option<Fit> {
    if moments.len() < FEWEST {
        return None;
    }
    let start = moments[0];
    let at: Vec<f64> = moments.iter().map(|m| (*m - start).ns() as f64).collect();
    let rough_ns = median(at.windows(2).map(|pair| pair[1] - pair[0]).collect());
    if !(SHORTEST.ns() as f64..=LONGEST.ns() as f64).contains(&rough_ns) {
        return None;
    }
    let number = numbers(&at, rough_ns);
    let period_ns = slope(&number, &at);
    let rest: Vec<f64> = number.iter().zip(&at).map(|(k, a)| a - k * period_ns).collect();
    let (early, spread) = shortest_half(rest);
    // False for what is no number, too.
    (spread <= HALF_WITHIN * period_ns).then(|| Fit {
        origin: start + Span::from_ns(early.round() as i64),
        period_ns,
        spread: Span::from_ns(spread.round() as i64),
    })
}

/// Which refresh each moment belongs to, counted from the last one that came when it was due: a late
/// moment must not pass its lateness on. The counting begins at the one of the first moments that
/// makes most of the others come when they were due.
fn numbers(at: &[f64], period: f64) -> Vec<f64> {
    let counted = at.iter().take(STARTS).map(|start| count_from(*start, at, period));
    counted.max_by_key(|(on_time, _)| *on_time).map(|(_, numbers)| numbers).unwrap_or_default()
}

fn count_from(start: f64, at: &[f64], period: f64) -> (usize, Vec<f64>) {
    let (mut due_at, mut due_number, mut on_time) = (start, 0.0, 0);
    let mut numbers = Vec::with_capacity(at.len());
    for moment in at {
        let steps = (moment - due_at) / period;
        let number = due_number + steps.round();
        if (steps - steps.round()).abs() <= ON_TIME {
            (due_at, due_number) = (*moment, number);
            on_time += 1;
        }
        numbers.push(number);
    }
    (on_time, numbers)
}

/// The median slope over pairs half the window apart (after Theil 1950 and Sen 1968): a few late
/// moments do not tilt it.
fn slope(x: &[f64], y: &[f64]) -> f64 {
    let apart = x.len() / 2;
    let pairs = (apart..x.len()).filter(|i| x[*i] > x[i - apart]);
    let slopes: Vec<f64> = pairs.map(|i| (y[i] - y[i - apart]) / (x[i] - x[i - apart])).collect();
    if slopes.is_empty() { f64::NAN } else { median(slopes) }
}

/// Start and length of the shortest interval that holds half of the values: where most of them crowd,
/// whatever strays to either side (a moment late by more than half a period counts as early).
fn shortest_half(mut values: Vec<f64>) -> (f64, f64) {
    values.sort_by(f64::total_cmp);
    let half = values.len() / 2;
    let windows = values.windows(half + 1).map(|w| (w[0], w[half] - w[0]));
    windows.min_by(|a, b| a.1.total_cmp(&b.1)).unwrap_or((0.0, f64::INFINITY))
}

/// `values` is not empty.
fn median(mut values: Vec<f64>) -> f64 {
    values.sort_by(f64::total_cmp);
    values[values.len() / 2]
}

#[cfg(test)]
mod tests {
    use super::*;
    use rand::{RngExt, SeedableRng};
    use rand_chacha::ChaCha12Rng;

    /// Wake-ups after refreshes: 0.05–0.35 ms late, one in twelve up to 4 ms.
    fn woken(rng: &mut ChaCha12Rng) -> f64 {
        let usual = rng.random_range(0.05..0.35);
        if rng.random_range(0..12) == 0 { usual + rng.random_range(0.0..4.0) } else { usual }
    }

    fn fitted(period_ms: f64, seed: u64) -> (Fit, f64) {
        let mut rng = ChaCha12Rng::seed_from_u64(seed);
        let (mut grid, mut k) = (Grid::default(), 10_000.0);
        let phase_ms = rng.random_range(0.0..period_ms);
        for _ in 0..300 {
            let ms = k * period_ms + phase_ms + woken(&mut rng);
            grid.observe(Mark::from_ns((ms * 1e6) as i64));
            k += if rng.random_range(0..40) == 0 { 2.0 } else { 1.0 };
        }
        (
            grid.fit().unwrap_or_else(|| panic!("no grid at {period_ms} ms, seed {seed}")),
            k * period_ms + phase_ms,
        )
    }

    #[test]
    fn the_next_refresh_is_found_to_half_a_millisecond_at_any_usual_rate() {
        for hz in [59.94, 60.0, 75.0, 119.88, 144.0, 165.0, 240.0] {
            for seed in 0..40 {
                let (fit, refresh_ms) = fitted(1000.0 / hz, seed);
                let before = Mark::from_ns(((refresh_ms - 1.5) * 1e6) as i64);
                let found_ms = fit.next_after(before).ns() as f64 * 1e-6;
                let error = found_ms - refresh_ms;
                assert!((-0.1..0.5).contains(&error), "{hz} Hz, seed {seed}: {error} ms");
            }
        }
    }

    #[test]
    fn after_a_rest_the_grid_is_found_anew_and_none_is_claimed_before() {
        for seed in 0..40 {
            let mut rng = ChaCha12Rng::seed_from_u64(seed);
            let (mut grid, period_ms) = (Grid::default(), 1000.0 / 59.94);
            let mut ms = 0.0;
            for _ in 0..KEPT {
                ms += period_ms;
                grid.observe(Mark::from_ns(((ms + woken(&mut rng)) * 1e6) as i64));
            }
            assert!(grid.fit().is_some());
            // A monitor that slept takes up its refreshes wherever it wakes.
            ms += 10_000.0 + rng.random_range(0.0..period_ms);
            for seen in 1..=2 * FEWEST {
                ms += period_ms;
                grid.observe(Mark::from_ns(((ms + woken(&mut rng)) * 1e6) as i64));
                let Some(fit) = grid.fit() else { continue };
                assert!(seen >= FEWEST, "claimed after {seen}");
                let found_ms =
                    fit.next_after(Mark::from_ns(((ms - 1.5) * 1e6) as i64)).ns() as f64 * 1e-6;
                assert!(
                    (-0.2..0.6).contains(&(found_ms - ms)),
                    "seed {seed}: {} ms",
                    found_ms - ms
                );
            }
            assert!(grid.fit().is_some(), "seed {seed}");
        }
    }

    #[test]
    fn moments_without_a_grid_make_none() {
        let mut rng = ChaCha12Rng::seed_from_u64(7);
        let (mut grid, mut ms) = (Grid::default(), 0.0);
        for _ in 0..400 {
            ms += rng.random_range(5.0..25.0);
            grid.observe(Mark::from_ns((ms * 1e6) as i64));
            assert_eq!(grid.fit(), None, "at {ms} ms");
        }
    }

    #[test]
    fn too_few_moments_and_a_clock_that_stands_make_no_grid() {
        let mut grid = Grid::default();
        for _ in 0..500 {
            grid.observe(Mark::from_ns(5));
        }
        assert_eq!(grid.fit(), None);
        for k in 1..FEWEST as i64 - 1 {
            grid.observe(Mark::from_ns(k * 16_666_667));
            assert_eq!(grid.fit(), None);
        }
    }
}
