//! Drawn lights on a grid, and payoffs averaged over them.
//!
//! Owns the cells of every draw, of the wide part and of the launches, and the moments of a payoff
//! at any aim. Refuses intervals.

use super::Moments;
use super::launched::launched;
use super::payoff::{Payoff, Stretch};
use crate::stats::special::normal_cdf;
use crate::strategy::lights::{Driver, Lights};

/// A step is this share of the spread from launch to launch, within limits. Chosen: the error of the
/// grid is then some 10⁻⁵, far below what a thousand draws show.
const STEPS_PER_SD: f64 = 14.0;
const STEP_LIMITS_S: (f64, f64) = (0.000_25, 0.005);
/// Aims on the grid to this are not interpolated, in steps.
const ALIGNED: f64 = 1e-6;
/// Lights further from the middle of the launches than this count as there, s: red is red, and lost
/// is lost. Chosen.
pub(super) const REACH_S: f64 = 3.0;

/// Cells with their shares, from cell `first` on.
pub(super) struct Row {
    pub first: i64,
    pub cells: Vec<f32>,
}

/// Lights on a grid.
pub(in crate::strategy) struct OnGrid<'a> {
    pub lights: &'a Lights,
    pub step: f64,
    drivers: Vec<Row>,
    wide: Row,
    launched: Row,
    still: bool,
}

/// A step for these lights on which the aims lie, where they have one in common.
pub(in crate::strategy) fn step_for(lights: &Lights, earlier_s: &[f64]) -> f64 {
    let (least, most) = STEP_LIMITS_S;
    let fine = (lights.launch_sd() / STEPS_PER_SD).clamp(least, most);
    // Common divisor in microseconds.
    let common = earlier_s.iter().fold(0_u64, |a, aim| {
        let (mut a, mut b) = (a, (aim.abs() * 1e6).round() as u64);
        while b > 0 {
            (a, b) = (b, a % b);
        }
        a
    });
    let common = common as f64 * 1e-6;
    if common >= 0.999 * fine { common / (common / fine).ceil() } else { fine }
}

impl<'a> OnGrid<'a> {
    pub fn new(lights: &'a Lights, step: f64) -> Self {
        let middle = lights.middle();
        let near = |(low, high): (f64, f64)| {
            (low.clamp(middle - REACH_S, middle), high.clamp(middle, middle + REACH_S))
        };
        let drivers = lights.drivers.iter().map(|d| Row::of(step, near(d.range()), |x| d.below(x)));
        let (centre, sd) = lights.wide;
        let reach = near((centre - 4.0 * sd, centre + 4.0 * sd));
        let wide = Row::of(step, reach, |x| normal_cdf((x - centre) / sd));
        Self {
            lights,
            step,
            drivers: drivers.collect(),
            wide,
            launched: launched(lights, step),
            still: lights.drivers.iter().all(|d| d.later == 0.0),
        }
    }

    /// The payoff's moments in every draw, for each aim.
    pub fn moments(&self, payoff: &Payoff, earlier_s: &[f64]) -> Vec<Moments> {
        debug_assert_eq!(payoff.step, self.step);
        let places: Vec<Place> = earlier_s.iter().map(|a| Place::of(*a, self.step)).collect();
        let mut wanted: Vec<i64> = places.iter().flat_map(Place::cells).collect();
        wanted.sort_unstable();
        wanted.dedup();
        let at: Vec<[usize; 4]> = places.iter().map(|p| p.found_in(&wanted)).collect();
        let beside = self.beside(payoff, &wanted);
        let stretch = self.stretch(payoff, &wanted);
        let n = self.drivers.len();
        let mut out: Vec<Moments> = earlier_s
            .iter()
            .map(|_| Moments { mean: Vec::with_capacity(n), square: Vec::with_capacity(n) })
            .collect();
        let blend = Blend::new(self.lights, payoff);
        let mut row = vec![(0.0_f32, 0.0_f32); wanted.len()];
        for (cells, driver) in self.drivers.iter().zip(&self.lights.drivers) {
            for (value, aim) in row.iter_mut().zip(&wanted) {
                *value = cells.dot(&stretch, *aim);
            }
            for (((moments, place), at), aim) in out.iter_mut().zip(&places).zip(&at).zip(earlier_s)
            {
                let narrow = place.blend(|i| row[at[i]]);
                let beside = beside.at(aim - driver.later);
                let (mean, square) = blend.join(narrow, beside, driver.wide);
                moments.mean.push(mean);
                moments.square.push(square);
            }
        }
        out
    }

    /// The mean of the payoff over all draws at the aims `first`…`last` steps of the grid.
    pub fn mean_curve(&self, payoff: &Payoff, first: i64, last: i64) -> Vec<f64> {
        let aims: Vec<i64> = (first..=last).collect();
        let (beside, stretch) = (self.beside(payoff, &aims), self.stretch(payoff, &aims));
        let (blend, all) = (Blend::new(self.lights, payoff), self.all_drivers());
        let drivers = &self.lights.drivers;
        let wide = drivers.iter().map(|d| d.wide).sum::<f64>() / drivers.len() as f64;
        let at = |aim: i64| {
            let narrow = all.dot(&stretch, aim).0;
            let earlier = aim as f64 * self.step;
            let one = |d: &Driver| {
                let [far, launched] = beside.at(earlier - d.later);
                f64::from(blend.join((0.0, 0.0), [far, launched], d.wide).0)
            };
            let some = if self.still {
                one(&Driver { wide, ..drivers[0] })
            } else {
                drivers.iter().map(one).sum::<f64>() / drivers.len() as f64
            };
            f64::from(blend.model * narrow) + some
        };
        aims.iter().map(|aim| at(*aim)).collect()
    }

    /// The narrow parts of all draws together; adds up to 1 less the mean wide share.
    fn all_drivers(&self) -> Row {
        let first = self.drivers.iter().map(|r| r.first).min().unwrap_or(0);
        let last = self.drivers.iter().map(|r| r.first + r.cells.len() as i64).max().unwrap_or(0);
        let mut cells = vec![0.0_f64; (last - first) as usize];
        let n = self.drivers.len() as f64;
        for (row, driver) in self.drivers.iter().zip(&self.lights.drivers) {
            let from = (row.first - first) as usize;
            for (sum, share) in cells[from..].iter_mut().zip(&row.cells) {
                *sum += (1.0 - driver.wide) / n * f64::from(*share);
            }
        }
        Row { first, cells: cells.into_iter().map(|share| share as f32).collect() }
    }

    /// The payoff over wide part and launches, at every aim a draw can ask for.
    fn beside(&self, payoff: &Payoff, wanted: &[i64]) -> Beside {
        let later = |d: &Driver| (d.later / self.step).round() as i64;
        let shifts = self.lights.drivers.iter().map(later);
        let (earliest, latest) = (shifts.clone().min().unwrap_or(0), shifts.max().unwrap_or(0));
        let (first, last) = match (wanted.first(), wanted.last()) {
            (Some(first), Some(last)) => (first - latest - 3, last - earliest + 4),
            _ => (0, 1),
        };
        let one = |row: &Row| {
            let from = row.first - last;
            let to = row.first + row.cells.len() as i64 - first;
            let stretch = payoff.stretch(from, to);
            (first..=last).map(|aim| row.dot(&stretch, aim)).collect::<Vec<_>>()
        };
        let (wide, launched) = (one(&self.wide), one(&self.launched));
        Beside { first, step: self.step, wide, launched, still: self.still }
    }

    /// The payoff's cells that any draw meets at any wanted aim.
    fn stretch(&self, payoff: &Payoff, wanted: &[i64]) -> Stretch {
        let (first, last) = match (wanted.first(), wanted.last()) {
            (Some(first), Some(last)) => (*first, *last),
            _ => (0, 0),
        };
        let from = self.drivers.iter().map(|r| r.first).min().unwrap_or(0);
        let to = self.drivers.iter().map(|r| r.first + r.cells.len() as i64).max().unwrap_or(0);
        payoff.stretch(from - last, to - first)
    }
}

/// How a draw's own law, the wide part and the launches add up.
struct Blend {
    model: f32,
    launches: f32,
    /// What starts without a light contribute: first and second moment.
    unmeasured: (f32, f32),
}

impl Blend {
    fn new(lights: &Lights, payoff: &Payoff) -> Self {
        let total = lights.concentration + lights.weight;
        let [measured, left, lapsed] = lights.shares;
        let ends = |power: i32| {
            (left * payoff.before.powi(power) + lapsed * payoff.after.powi(power)) as f32
        };
        Self {
            model: (measured * lights.concentration / total) as f32,
            launches: (measured * lights.weight / total) as f32,
            unmeasured: (ends(1), ends(2)),
        }
    }

    fn join(&self, narrow: (f32, f32), beside: [(f32, f32); 2], wide: f64) -> (f32, f32) {
        let wide = wide as f32;
        let [far, launched] = beside;
        let one = |narrow: f32, far: f32, launched: f32| {
            self.model * ((1.0 - wide) * narrow + wide * far) + self.launches * launched
        };
        (
            one(narrow.0, far.0, launched.0) + self.unmeasured.0,
            one(narrow.1, far.1, launched.1) + self.unmeasured.1,
        )
    }
}

/// Moments over wide part and launches by aim.
struct Beside {
    first: i64,
    step: f64,
    wide: Vec<(f32, f32)>,
    launched: Vec<(f32, f32)>,
    still: bool,
}

impl Beside {
    fn at(&self, earlier_s: f64) -> [(f32, f32); 2] {
        let place = Place::of(earlier_s, self.step);
        let last = self.wide.len() - 1;
        if self.still && place.weights.is_none() {
            let i = ((place.cell - self.first).max(0) as usize).min(last);
            return [self.wide[i], self.launched[i]];
        }
        let at = |i: usize| ((place.cell - 1 + i as i64 - self.first).max(0) as usize).min(last);
        let place = Place { weights: place.weights.or(Some([0.0, 1.0, 0.0, 0.0])), ..place };
        [place.blend(|i| self.wide[at(i)]), place.blend(|i| self.launched[at(i)])]
    }
}

/// Where an aim lies on the grid: on a cell's edge, or between four with Lagrange's weights.
struct Place {
    cell: i64,
    weights: Option<[f32; 4]>,
}

impl Place {
    fn of(earlier_s: f64, step: f64) -> Self {
        let at = earlier_s / step;
        let near = at.round();
        if (at - near).abs() < ALIGNED {
            return Self { cell: near as i64, weights: None };
        }
        let (cell, t) = (at.floor(), at - at.floor());
        let weights = [
            -t * (t - 1.0) * (t - 2.0) / 6.0,
            (t + 1.0) * (t - 1.0) * (t - 2.0) / 2.0,
            -(t + 1.0) * t * (t - 2.0) / 2.0,
            (t + 1.0) * t * (t - 1.0) / 6.0,
        ];
        Self { cell: cell as i64, weights: Some(weights.map(|w| w as f32)) }
    }

    fn cells(&self) -> impl Iterator<Item = i64> + use<> {
        let cells = if self.weights.is_some() { -1..3 } else { 0..1 };
        let cell = self.cell;
        cells.map(move |i| cell + i)
    }

    fn found_in(&self, wanted: &[i64]) -> [usize; 4] {
        let mut out = [0; 4];
        for (slot, cell) in out.iter_mut().zip(self.cells()) {
            *slot = wanted.partition_point(|w| *w < cell);
        }
        out
    }

    fn blend(&self, value: impl Fn(usize) -> (f32, f32)) -> (f32, f32) {
        let Some(weights) = self.weights else { return value(0) };
        let mut sum = (0.0, 0.0);
        for (i, weight) in weights.into_iter().enumerate() {
            let (mean, square) = value(i);
            sum = (sum.0 + weight * mean, sum.1 + weight * square);
        }
        sum
    }
}

impl Row {
    /// The shares of a law, what lies outside in the end cells.
    pub fn of(step: f64, (low, high): (f64, f64), below: impl Fn(f64) -> f64) -> Self {
        let first = (low / step).floor() as i64;
        let last = ((high / step).ceil() as i64).max(first + 1);
        let mut before = 0.0;
        let cell = |i: i64| {
            let here = if i + 1 == last { 1.0 } else { below((i + 1) as f64 * step) };
            let share = here - before;
            before = here;
            share as f32
        };
        Self { first, cells: (first..last).map(cell).collect() }
    }

    /// First and second moment of a payoff with everything `aim` cells earlier.
    fn dot(&self, payoff: &Stretch, aim: i64) -> (f32, f32) {
        let from = (self.first - aim - payoff.first) as usize;
        let to = from + self.cells.len();
        (dot(&self.cells, &payoff.mean[from..to]), dot(&self.cells, &payoff.square[from..to]))
    }
}

/// Σ aᵢ bᵢ in eight sums, so that several are added at once.
fn dot(a: &[f32], b: &[f32]) -> f32 {
    let mut sums = [0.0_f32; 8];
    let (whole_a, rest_a) = a.as_chunks::<8>();
    let (whole_b, rest_b) = b[..a.len()].as_chunks::<8>();
    for (x, y) in whole_a.iter().zip(whole_b) {
        for i in 0..8 {
            sums[i] += x[i] * y[i];
        }
    }
    let rest: f32 = rest_a.iter().zip(rest_b).map(|(x, y)| x * y).sum();
    sums.iter().sum::<f32>() + rest
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::strategy::lights::tests::lights_of;

    /// Two that left and one that never did beside sixty, and a car with a doubt of 30 ms.
    const DOUBT_S: f64 = 0.03;

    #[test]
    fn a_step_is_fine_enough_and_aims_lie_on_it() {
        let lights = lights_of(60, 0.0);
        let fine = step_for(&lights, &[]);
        assert!((lights.launch_sd() / fine - STEPS_PER_SD).abs() < 1e-9, "{fine}");
        for aims in [[0.003, 0.012, -0.006], [0.0075, -0.01, 0.0], [0.1, 0.05, -0.2]] {
            let step = step_for(&lights, &aims);
            assert!(step <= 1.002 * fine && step > 0.25 * fine, "{step} {fine}");
            for aim in aims {
                let place = Place::of(aim, step);
                assert_eq!(place.cells().count(), 1, "{aim} {step}");
            }
        }
    }

    #[test]
    fn what_is_always_paid_is_expected_wherever_the_aim_lies() {
        let lights = lights_of(60, DOUBT_S);
        let step = step_for(&lights, &[]);
        let grid = OnGrid::new(&lights, step);
        let twice = Payoff::smooth(step, (-step, step), |_| 2.0);
        for moments in grid.moments(&twice, &[-0.2, 0.0, 0.3 * step, 0.0123]) {
            assert!(moments.mean.iter().all(|mean| (mean - 2.0).abs() < 1e-5));
            assert!(moments.square.iter().all(|square| (square - 4.0).abs() < 1e-5));
        }
    }

    #[test]
    fn an_aim_is_worth_the_same_whatever_else_is_asked_and_on_the_curve() {
        let lights = lights_of(60, DOUBT_S);
        let step = step_for(&lights, &[]);
        let grid = OnGrid::new(&lights, step);
        let good = Payoff::between(step, 0.0, 0.05);
        let among = grid.moments(&good, &[-0.3, 4.0 * step, 0.3]);
        let alone = grid.moments(&good, &[4.0 * step]);
        for (alone, among) in alone[0].mean.iter().zip(&among[1].mean) {
            assert!((alone - among).abs() < 1e-6, "{alone} {among}");
        }
        let curve = grid.mean_curve(&good, 3, 5);
        assert!((curve[1] - alone[0].value()).abs() < 1e-5, "{curve:?} {}", alone[0].value());
    }

    #[test]
    fn the_day_of_one_draw_changes_no_other() {
        let still = lights_of(60, 0.0);
        let step = step_for(&still, &[]);
        let mut moved = still.clone();
        moved.drivers[0].later += 7.0 * step;
        moved.drivers[0].mu += 7.0 * step;
        let good = Payoff::between(step, 0.0, 0.05);
        let of = |lights: &Lights| OnGrid::new(lights, step).moments(&good, &[0.0]).remove(0).mean;
        let (before, after) = (of(&still), of(&moved));
        assert!((before[0] - after[0]).abs() > 0.01, "{} {}", before[0], after[0]);
        for (before, after) in before.iter().zip(&after).skip(1) {
            assert!((before - after).abs() < 1e-6, "{before} {after}");
        }
    }
}
