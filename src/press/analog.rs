//! Pedals and triggers: from samples of a travel to edges.
//!
//! Owns travel, threshold with hysteresis, and where between two samples a crossing lies. Refuses
//! devices and clocks, and sticks that rest in the middle: a launch begins at the end of a travel.
//!
//! The threshold is one of what the device reports. The kernel hands on a sample only when it
//! differs from the one before (`Documentation/input/event-codes.rst`), so a long silence means
//! that nothing moved until one sample period before the next report.

use std::collections::VecDeque;

use thiserror::Error;

use crate::press::EdgeKind;
use crate::units::{Span, Stamp};

/// A longer gap between two reports is a rest, not a sample period. Chosen, because a device that
/// reports less than 25 times a second while it moves is no timing device.
const LONGEST_GAP: Span = Span::from_ms(40);
/// Gaps the sample period is learned from, and how many it takes: chosen, one or two full travels.
const GAPS: usize = 15;
const GAPS_NEEDED: usize = 5;

/// Why an axis cannot be used as given.
#[derive(Debug, Clone, Copy, PartialEq, Error)]
pub enum AnalogError {
    /// Both ends of the travel are the same, or no numbers.
    #[error("the travel from {rest} to {full} has no length; move the pedal through all of it")]
    NoTravel {
        /// The value at rest.
        rest: f64,
        /// The value fully down.
        full: f64,
    },
    /// The levels are not in order inside the travel.
    #[error("the threshold {press} with hysteresis {hysteresis} leaves the travel from 0 to 1")]
    Threshold {
        /// Where it counts as down, a share of the travel.
        press: f64,
        /// How far it must come back, a share of the travel.
        hysteresis: f64,
    },
}

/// The travel of an axis: its value at rest and fully down, in whatever unit the device has.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Travel {
    rest: f64,
    full: f64,
}

impl Travel {
    /// The values 0 to 1 that pad libraries give for a trigger.
    pub const SHARE: Self = Self { rest: 0.0, full: 1.0 };

    /// From rest to full; `rest > full` is an axis that runs backwards.
    pub fn new(rest: f64, full: f64) -> Result<Self, AnalogError> {
        if rest.is_finite() && full.is_finite() && rest != full {
            Ok(Self { rest, full })
        } else {
            Err(AnalogError::NoTravel { rest, full })
        }
    }

    /// The travel of an axis with these limits; an inverted one rests at `max`.
    pub fn of_axis(min: i32, max: i32, inverted: bool) -> Result<Self, AnalogError> {
        let (rest, full) = if inverted { (max, min) } else { (min, max) };
        Self::new(f64::from(rest), f64::from(full))
    }

    /// How far `value` is down, 0 to 1: the kernel does not keep values inside an axis's limits
    /// (`linux/input.h`, `struct input_absinfo`), so they are cut here. `None` for no number.
    pub fn share(self, value: f64) -> Option<f64> {
        let share = (value - self.rest) / (self.full - self.rest);
        (!share.is_nan()).then(|| share.clamp(0.0, 1.0))
    }
}

/// Where a travel counts as down and where as up again, as shares of it.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Threshold {
    press: f64,
    release: f64,
}

impl Default for Threshold {
    /// Down at 1/8, up at 1/16 of the travel.
    ///
    /// Chosen: the kernel takes 1/16 of the range around a joystick axis's rest as unsure and 1/256
    /// as noise (`drivers/hid/hid-input.c`: flat `(b - a) >> 4`, fuzz `(b - a) >> 8`). The
    /// threshold is twice the first, so that a resting foot does not launch and as little travel as
    /// possible is lost; the way back is 16 times the second, so that noise makes no second edge.
    fn default() -> Self {
        Self { press: 0.125, release: 0.0625 }
    }
}

impl Threshold {
    /// Down at `press`, up again at `press − hysteresis`: 0 < hysteresis < press ≤ 1.
    pub fn new(press: f64, hysteresis: f64) -> Result<Self, AnalogError> {
        if hysteresis > 0.0 && hysteresis < press && press <= 1.0 {
            Ok(Self { press, release: press - hysteresis })
        } else {
            Err(AnalogError::Threshold { press, hysteresis })
        }
    }
}

/// An axis being followed. An axis first seen down gives no edge until it was let go and pressed
/// again; edges alternate, down first.
#[derive(Debug, Clone)]
pub struct AnalogAxis {
    travel: Travel,
    threshold: Threshold,
    sample_period: Option<Span>,
    gaps: VecDeque<Span>,
    /// The latest sample, its value as the device gave it.
    last: Option<(Stamp, f64)>,
    state: State,
}

#[derive(Debug, Clone, Copy, PartialEq, Eq)]
enum State {
    Up,
    Down,
    /// Down since before it was followed.
    Before,
}

impl AnalogAxis {
    /// An axis not sampled yet. `sample_period`, if known, is the longest time between two samples
    /// the device takes, moving or not; otherwise it is learned from the gaps while it moves.
    pub fn new(travel: Travel, threshold: Threshold, sample_period: Option<Span>) -> Self {
        Self {
            travel,
            threshold,
            sample_period,
            gaps: VecDeque::new(),
            last: None,
            state: State::Up,
        }
    }

    /// Reads it from now on with the travel, the threshold and the sample period of `other`. One that
    /// is down stays down until it comes up by the new level, so that edges still alternate.
    pub fn read_like(&mut self, other: &Self) {
        self.travel = other.travel;
        self.threshold = other.threshold;
        self.sample_period = other.sample_period;
    }

    /// Whether it went down while being followed and has not come up again.
    pub fn is_down(&self) -> bool {
        self.state == State::Down
    }

    /// Takes the sample `value` taken at `at`; the edge it makes, if any.
    ///
    /// With the samples (t₀, v₀) and (t₁, v₁) on either side of the level c, the crossing lies in
    /// [t₀, t₁], and in [t₁ − T, t₁] where T is the known sample period, or 1.5 times the median of
    /// the gaps while it moved. Best is the straight line between the two,
    /// t₀ + (t₁ − t₀)(c − v₀)/(v₁ − v₀), with t₁ − T for t₀ where that is later.
    pub fn sample(&mut self, value: f64, at: Stamp) -> Option<(EdgeKind, Stamp)> {
        let share = self.travel.share(value)?;
        let Some((before, from)) = self.last.replace((at, value)) else {
            self.begin(share);
            return None;
        };
        let from = self.travel.share(from)?;
        let crossed = self.crossed(share);
        let period = self.sample_period.or_else(|| self.learned_period());
        self.learn(at.best() - before.best());
        let (edge, level) = crossed?;
        let (mut earliest, mut start) = (before.earliest(), before.best());
        if let Some(period) = period {
            earliest = earliest.max(at.earliest() - period);
            start = start.max(at.best() - period);
        }
        let part = ((level - from) / (share - from)).clamp(0.0, 1.0);
        let best = start + Span::from_ms_f64((at.best() - start).as_ms_f64() * part);
        Some((edge, Stamp::new(earliest, best, at.latest())))
    }

    /// Takes a sample after others were lost: a crossing lies anywhere since the last one known.
    pub fn sample_after_gap(&mut self, value: f64, at: Stamp) -> Option<(EdgeKind, Stamp)> {
        let share = self.travel.share(value)?;
        let Some((before, _)) = self.last.replace((at, value)) else {
            self.begin(share);
            return None;
        };
        let (edge, _) = self.crossed(share)?;
        Some((edge, Stamp::between(before.earliest().min(at.latest()), at.latest())))
    }

    fn begin(&mut self, share: f64) {
        self.state = if share >= self.threshold.press { State::Before } else { State::Up };
    }

    /// Updates the state; the edge to tell of and the level it crossed.
    fn crossed(&mut self, share: f64) -> Option<(EdgeKind, f64)> {
        let Threshold { press, release } = self.threshold;
        match self.state {
            State::Up if share >= press => {
                self.state = State::Down;
                Some((EdgeKind::Down, press))
            }
            State::Down if share <= release => {
                self.state = State::Up;
                Some((EdgeKind::Up, release))
            }
            State::Before if share <= release => {
                self.state = State::Up;
                None
            }
            _ => None,
        }
    }

    fn learn(&mut self, gap: Span) {
        if gap > Span::ZERO && gap <= LONGEST_GAP {
            if self.gaps.len() == GAPS {
                self.gaps.pop_front();
            }
            self.gaps.push_back(gap);
        }
    }

    /// Half as long again as the median gap: a report may be late.
    fn learned_period(&self) -> Option<Span> {
        if self.gaps.len() < GAPS_NEEDED {
            return None;
        }
        let mut gaps: Vec<Span> = self.gaps.iter().copied().collect();
        gaps.sort_unstable();
        let median = gaps[gaps.len() / 2];
        Some(median + median.half())
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::units::Mark;

    fn us(us: i64) -> Mark {
        Mark::from_ns(us * 1_000)
    }

    fn axis(sample_period: Option<Span>) -> AnalogAxis {
        let travel = Travel::of_axis(0, 1_000, false).unwrap();
        AnalogAxis::new(travel, Threshold::new(0.2, 0.1).unwrap(), sample_period)
    }

    /// Feeds (µs, value) pairs known to ±50 µs; the edges.
    fn edges(axis: &mut AnalogAxis, samples: &[(i64, f64)]) -> Vec<(EdgeKind, Stamp)> {
        let sampled = samples
            .iter()
            .map(|(at, value)| axis.sample(*value, Stamp::around(us(*at), Span::from_us(50))));
        sampled.flatten().collect()
    }

    #[test]
    fn a_crossing_lies_between_two_samples_and_best_on_the_line_between_them() {
        let out = edges(&mut axis(None), &[(0, 0.0), (8_000, 100.0), (16_000, 300.0)]);
        let (edge, stamp) = out[0];
        assert_eq!((out.len(), edge), (1, EdgeKind::Down));
        assert_eq!((stamp.earliest(), stamp.latest()), (us(7_950), us(16_050)));
        assert_eq!(stamp.best(), us(12_000), "200 is half way from 100 to 300");
    }

    #[test]
    fn the_way_back_crosses_the_lower_level() {
        let mut axis = axis(None);
        let out = edges(&mut axis, &[(0, 0.0), (8_000, 500.0), (16_000, 150.0), (24_000, 50.0)]);
        let (edge, stamp) = out[1];
        assert_eq!((out.len(), edge), (2, EdgeKind::Up));
        assert_eq!(stamp.best(), us(20_000), "100 is half way from 150 to 50");
        assert!(!axis.is_down());
    }

    #[test]
    fn a_pedal_that_was_down_before_has_no_edge_until_it_was_let_go_of() {
        let mut axis = axis(None);
        let held = [(0, 500.0), (8_000, 250.0), (16_000, 150.0), (24_000, 400.0)];
        assert_eq!(edges(&mut axis, &held), [], "never below the lower level");
        let out = edges(&mut axis, &[(32_000, 100.0), (40_000, 300.0)]);
        assert_eq!((out.len(), out[0].0), (1, EdgeKind::Down));
    }

    #[test]
    fn after_a_rest_a_known_sample_period_bounds_the_crossing() {
        let period = Some(Span::from_ms(4));
        let out = edges(&mut axis(period), &[(0, 0.0), (5_000_000, 400.0)]);
        let stamp = out[0].1;
        assert_eq!((stamp.earliest(), stamp.latest()), (us(4_995_950), us(5_000_050)));
        assert_eq!(stamp.best(), us(4_998_000));
    }

    #[test]
    fn after_a_rest_an_unknown_sample_period_leaves_the_whole_rest_until_it_is_learned() {
        let mut axis = axis(None);
        let out = edges(&mut axis, &[(0, 0.0), (5_000_000, 400.0)]);
        assert_eq!(out[0].1.earliest(), us(-50));
        let moving = [5_008_000, 5_016_000, 5_024_000, 5_032_000, 5_040_000];
        let values = [600.0, 900.0, 700.0, 400.0, 0.0];
        let samples: Vec<_> = moving.into_iter().zip(values).collect();
        assert_eq!(edges(&mut axis, &samples)[0].0, EdgeKind::Up);
        let out = edges(&mut axis, &[(9_000_000, 400.0)]);
        assert_eq!(out[0].1.earliest(), us(9_000_000 - 50 - 12_000), "1.5 times 8 ms");
    }

    #[test]
    fn noise_around_the_threshold_makes_no_second_edge() {
        let wobble: Vec<_> = (0..200)
            .map(|i| (i * 8_000, if i == 0 { 0.0 } else { 200.0 + [60.0, -60.0][i as usize % 2] }))
            .collect();
        let out = edges(&mut axis(None), &wobble);
        assert_eq!(out.len(), 1);
    }

    #[test]
    fn an_axis_first_seen_down_gives_no_edge_until_it_was_let_go_and_pressed_again() {
        let samples = [(0, 900.0), (8_000, 950.0), (16_000, 0.0), (24_000, 900.0)];
        let out = edges(&mut axis(None), &samples);
        assert_eq!(out.len(), 1);
        assert_eq!((out[0].0, out[0].1.latest()), (EdgeKind::Down, us(24_050)));
    }

    #[test]
    fn an_axis_that_runs_backwards_goes_down_as_its_values_fall() {
        let travel = Travel::of_axis(0, 1_023, true).unwrap();
        let mut axis = AnalogAxis::new(travel, Threshold::default(), None);
        let out = edges(&mut axis, &[(0, 1_023.0), (8_000, 700.0), (16_000, 1_023.0)]);
        let kinds: Vec<_> = out.iter().map(|(edge, _)| *edge).collect();
        assert_eq!(kinds, [EdgeKind::Down, EdgeKind::Up]);
    }

    #[test]
    fn samples_that_were_lost_leave_the_crossing_anywhere_since_the_last_one() {
        let mut axis = axis(Some(Span::from_ms(4)));
        edges(&mut axis, &[(0, 0.0)]);
        let (edge, stamp) =
            axis.sample_after_gap(900.0, Stamp::exact(us(300_000))).expect("it went down");
        assert_eq!(
            (edge, stamp.earliest(), stamp.latest()),
            (EdgeKind::Down, us(-50), us(300_000))
        );
    }

    #[test]
    fn a_new_threshold_while_it_is_down_neither_loses_nor_repeats_an_edge() {
        let mut axis = axis(None);
        assert_eq!(edges(&mut axis, &[(0, 0.0), (8_000, 500.0)]).len(), 1);
        let travel = Travel::of_axis(0, 1_000, false).unwrap();
        axis.read_like(&AnalogAxis::new(travel, Threshold::new(0.8, 0.1).unwrap(), None));
        let out = edges(&mut axis, &[(16_000, 550.0), (24_000, 560.0), (32_000, 900.0)]);
        let kinds: Vec<_> = out.iter().map(|(edge, _)| *edge).collect();
        assert_eq!(kinds, [EdgeKind::Up, EdgeKind::Down], "550 is up by the new levels");
        assert_eq!(out[0].1.latest(), us(16_050));
    }

    #[test]
    fn values_outside_the_limits_are_cut_and_no_numbers_are_no_samples() {
        let travel = Travel::of_axis(i32::MIN, i32::MAX, false).unwrap();
        assert_eq!(travel.share(f64::INFINITY), Some(1.0));
        assert_eq!(travel.share(-1e300), Some(0.0));
        assert_eq!(travel.share(f64::NAN), None);
        assert!(edges(&mut axis(None), &[(0, 0.0), (8_000, f64::NAN)]).is_empty());
    }

    #[test]
    fn a_travel_without_length_and_levels_out_of_order_are_refused() {
        assert!(Travel::of_axis(7, 7, true).is_err());
        assert!(Travel::new(f64::NAN, 1.0).is_err());
        for (press, hysteresis) in [(0.1, 0.1), (0.1, 0.0), (1.1, 0.2), (f64::NAN, 0.1)] {
            assert!(Threshold::new(press, hysteresis).is_err(), "{press} {hysteresis}");
        }
        let text = Threshold::new(1.1, 0.2).unwrap_err().to_string();
        assert_eq!(text, "the threshold 1.1 with hysteresis 0.2 leaves the travel from 0 to 1");
    }

    #[test]
    fn the_sample_period_is_learned_from_the_middle_gap_of_a_movement_and_from_no_rest() {
        let learned = |gaps_us: &[i64]| {
            let mut axis = axis(None);
            let mut at = 0;
            edges(&mut axis, &[(at, 0.0)]);
            for gap in gaps_us {
                at += gap;
                edges(&mut axis, &[(at, 20.0)]);
            }
            let down = edges(&mut axis, &[(at + 3_000_000, 400.0)]);
            us(at + 3_000_000 - 50) - down[0].1.earliest()
        };
        let half_again = |us: i64| Span::from_us(us * 3 / 2);
        assert_eq!(learned(&[2_000, 9_000, 8_000, 30_000, 7_000, 8_000]), half_again(8_000));
        // Neither rests nor reports of one moment are gaps of a movement; 40 ms still is one.
        for no_gap in [41_000, 0] {
            let gaps = [8_000; 5].into_iter().chain([no_gap; 9]).collect::<Vec<_>>();
            assert_eq!(learned(&gaps), half_again(8_000), "{no_gap}");
        }
        assert_eq!(learned(&[40_000; 5]), half_again(40_000));
        // What is long ago counts no more.
        let then_quicker = [8_000; 15].into_iter().chain([2_000; 15]).collect::<Vec<_>>();
        assert_eq!(learned(&then_quicker), half_again(2_000));
    }
}
