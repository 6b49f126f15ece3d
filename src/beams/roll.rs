//! A car's whole way over the beams: stretches of motion laid end to end.
//!
//! Owns pedals → motion, depth at any mark (also an earlier one), the next crossing of a beam and
//! the launch. Refuses lamps and rules.

use super::motion::{Handling, Law, Pedal, Stretch};
use super::zones::{BeamState, BeamZones};
use crate::units::{Inches, Mark, Span};

/// How the car leaves.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct LaunchLaw {
    /// Launch strength in standard gravities.
    pub g: f64,
    /// From the launch edge to the first pull (pedal, clutch, converter).
    pub lag: Span,
}

impl LaunchLaw {
    /// Standard gravity in inches per second squared: 9.80665 m/s² (CGPM 1901) over 0.0254 m.
    pub const STANDARD_GRAVITY_IN_S2: f64 = 9.80665 / 0.0254;
}

/// How far ahead a crossing is looked for. Longer than any roll through all the beams at creep.
const HORIZON: Span = Span::from_ms(60_000);

/// The motion of one car over its beams.
#[derive(Debug, Clone)]
pub struct Roll {
    zones: BeamZones,
    handling: Handling,
    stretches: Vec<(Mark, Stretch)>,
    held: [bool; 3],
    launched: bool,
}

impl Roll {
    /// A car standing still at `depth` at `start`, no pedal worked: it stays there until one is, or
    /// rolls off if it [creeps in gear](Handling::creeps_in_gear).
    pub fn at_rest(zones: BeamZones, handling: Handling, depth: Inches, start: Mark) -> Self {
        let held = [false; 3];
        let law = law_of_pedals(&handling, held);
        let rest = Stretch { depth: depth.0, speed: 0.0, law };
        Self { zones, handling, stretches: vec![(start, rest)], held, launched: false }
    }

    /// The beams this car rolls over.
    pub fn zones(&self) -> &BeamZones {
        &self.zones
    }

    /// Depth at `mark`: the tyre's leading edge at beam height, past the stage beam.
    pub fn depth(&self, mark: Mark) -> Inches {
        let (from, stretch) = self.stretch_at(mark);
        Inches(stretch.depth_at(seconds_since(*from, mark)))
    }

    /// Speed at `mark`, in/s, forward positive.
    pub fn speed_in_s(&self, mark: Mark) -> f64 {
        let (from, stretch) = self.stretch_at(mark);
        stretch.speed_at(seconds_since(*from, mark))
    }

    /// Where the tyre stands at `mark`.
    pub fn state(&self, mark: Mark) -> BeamState {
        self.zones.state(self.depth(mark))
    }

    /// The first change of place strictly after `after` under the motion as it now stands.
    pub fn next_crossing(&self, after: Mark) -> Option<(Mark, BeamState)> {
        let now = self.state(after);
        let first = self.stretches.iter().rposition(|(from, _)| *from <= after).unwrap_or(0);
        for (i, (from, stretch)) in self.stretches.iter().enumerate().skip(first) {
            let begin = (*from).max(after);
            let end = self.stretches.get(i + 1).map_or(begin + HORIZON, |(next, _)| *next);
            let turn = stretch.turns_at().map(|t| *from + Span::from_secs_f64(t));
            let middle = turn.filter(|m| *m > begin && *m < end).unwrap_or(begin);
            for (low, high) in [(begin, middle), (middle, end)] {
                if let Some(at) = self.first_change(now, low, high) {
                    return Some((at, self.state(at)));
                }
            }
        }
        None
    }

    /// When the clock of the pass starts if the car launched at `mark`; at `mark` itself when the
    /// tyre is already through. `None` if it never gets there within a minute.
    pub fn clears_at(&self, mark: Mark) -> Option<Mark> {
        if self.state(mark) == BeamState::Past {
            return Some(mark);
        }
        let mut from = mark;
        while let Some((at, state)) = self.next_crossing(from) {
            if state == BeamState::Past {
                return Some(at);
            }
            from = at;
        }
        None
    }

    /// Works a pedal at `mark`. A car that has launched no longer answers.
    pub fn pedal(&mut self, mark: Mark, pedal: Pedal, down: bool) {
        self.held[pedal as usize] = down;
        if self.launched {
            return;
        }
        let law = law_of_pedals(&self.handling, self.held);
        self.lay(mark, law);
    }

    /// Launches at `mark`, which may be earlier than motion already laid down.
    pub fn launch(&mut self, mark: Mark, law: LaunchLaw) {
        self.launched = true;
        let accel = law.g * LaunchLaw::STANDARD_GRAVITY_IN_S2;
        self.lay(mark, Law::Launch { accel, lag: law.lag.as_secs_f64() });
    }

    /// Whether the car has launched.
    pub fn launched(&self) -> bool {
        self.launched
    }

    fn lay(&mut self, mark: Mark, law: Law) {
        let mark = mark.max(self.stretches[0].0);
        let (depth, speed) = (self.depth(mark).0, self.speed_in_s(mark));
        self.stretches.retain(|(from, _)| *from < mark);
        self.stretches.push((mark, Stretch { depth, speed, law }));
    }

    fn stretch_at(&self, mark: Mark) -> &(Mark, Stretch) {
        let found = self.stretches.iter().rfind(|(from, _)| *from <= mark);
        found.unwrap_or(&self.stretches[0])
    }

    /// The first nanosecond in `(low, high]` at which the place is no longer `now`; the depth must
    /// be monotone between the two.
    fn first_change(&self, now: BeamState, low: Mark, high: Mark) -> Option<Mark> {
        if high <= low || self.state(high) == now {
            return None;
        }
        let (mut same, mut other) = (low.ns(), high.ns());
        while other - same > 1 {
            let middle = same + (other - same) / 2;
            if self.state(Mark::from_ns(middle)) == now { same = middle } else { other = middle }
        }
        Some(Mark::from_ns(other))
    }
}

/// What the car does with these pedals held: creep, brake, back.
fn law_of_pedals(h: &Handling, [creep, brake, back]: [bool; 3]) -> Law {
    let stop = |rate| Law::Slow { rate };
    let to = |target| Law::Relax { target, tau: h.creep_build_s };
    match (brake, creep, back) {
        (true, _, _) => stop(h.brake_in_s2),
        (false, true, false) => to(h.creep_in_s),
        (false, false, true) => to(-h.back_in_s),
        (false, false, false) if h.creeps_in_gear => to(h.creep_in_s),
        _ => stop(h.fade_in_s2),
    }
}

fn seconds_since(from: Mark, mark: Mark) -> f64 {
    (mark - from).as_secs_f64().max(0.0)
}

#[cfg(test)]
mod tests {
    use super::*;

    fn ms(ms: i64) -> Mark {
        Mark::from_ns(ms * 1_000_000)
    }

    fn roll(depth: f64) -> Roll {
        let zones = BeamZones::new(Inches(11.508), Inches(7.0), Inches(13.375));
        Roll::at_rest(zones, Handling::default(), Inches(depth), ms(0))
    }

    #[test]
    fn creep_lights_pre_stage_then_stage_and_the_brake_stops_it_there() {
        let mut car = roll(-20.0);
        car.pedal(ms(100), Pedal::Creep, true);
        let (first, state) = car.next_crossing(ms(100)).expect("it creeps forward");
        assert_eq!(state, BeamState::PreStaged);
        let (second, state) = car.next_crossing(first).expect("it creeps on");
        assert_eq!(state, BeamState::Staged);
        car.pedal(second + Span::from_ms(100), Pedal::Creep, false);
        car.pedal(second + Span::from_ms(100), Pedal::Brake, true);
        assert_eq!(car.next_crossing(second + Span::from_ms(100)), None);
        assert_eq!(car.state(second + Span::from_ms(5_000)), BeamState::Staged);
        assert_eq!(car.speed_in_s(second + Span::from_ms(5_000)), 0.0);
    }

    #[test]
    fn a_crossing_is_the_same_nanosecond_from_wherever_it_is_asked() {
        let mut car = roll(-20.0);
        car.pedal(ms(0), Pedal::Creep, true);
        let direct = car.next_crossing(ms(0)).expect("it creeps forward");
        for step in [1, 7, 16, 250] {
            let mut at = ms(0);
            while at + Span::from_ms(step) < direct.0 {
                at = at + Span::from_ms(step);
            }
            assert_eq!(car.next_crossing(at), Some(direct), "asked every {step} ms");
        }
    }

    fn automatic(depth: f64) -> Roll {
        let handling = Handling { creeps_in_gear: true, ..Handling::default() };
        Roll::at_rest(roll(0.0).zones, handling, Inches(depth), ms(0))
    }

    #[test]
    fn a_car_that_creeps_in_gear_rolls_as_under_creep_and_only_the_brake_holds_it() {
        let mut crept = roll(-20.0);
        crept.pedal(ms(0), Pedal::Creep, true);
        let mut car = automatic(-20.0);
        assert_eq!(car.next_crossing(ms(0)), crept.next_crossing(ms(0)));
        let (staged, _) = car.next_crossing(car.next_crossing(ms(0)).unwrap().0).unwrap();
        car.pedal(staged, Pedal::Brake, true);
        assert_eq!(car.next_crossing(staged), None);
        assert_eq!(car.speed_in_s(staged + Span::from_ms(5_000)), 0.0);
        let depth = car.depth(staged + Span::from_ms(5_000));
        // v²/2a with v at most 8 in/s and a 60 in/s²: half an inch and a little.
        assert!(depth.0 > 0.0 && depth.0 < 0.54, "{depth:?}");
        car.pedal(staged + Span::from_ms(5_000), Pedal::Brake, false);
        let (_, state) = car.next_crossing(staged + Span::from_ms(5_000)).expect("it rolls on");
        assert_eq!(state, BeamState::Deep);
    }

    #[test]
    fn a_foot_off_the_creep_control_stops_a_car_unless_it_creeps_in_gear() {
        for (mut car, stands) in [(roll(-20.0), true), (automatic(-20.0), false)] {
            car.pedal(ms(0), Pedal::Creep, true);
            car.pedal(ms(500), Pedal::Creep, false);
            assert_eq!(car.speed_in_s(ms(9_000)) == 0.0, stands);
        }
    }

    #[test]
    fn a_brake_held_from_the_first_moment_keeps_a_car_that_creeps_in_gear_where_it_is() {
        let mut car = automatic(1.0);
        car.pedal(ms(0), Pedal::Brake, true);
        assert_eq!(car.next_crossing(ms(0)), None);
        assert_eq!(car.depth(ms(60_000)), Inches(1.0));
        let law = LaunchLaw { g: 0.6, lag: Span::from_ms(80) };
        car.launch(ms(700), law);
        let mut held = roll(1.0);
        held.launch(ms(700), law);
        assert_eq!(car.clears_at(ms(700)), held.clears_at(ms(700)), "its launch is the same");
    }

    #[test]
    fn a_car_that_creeps_in_gear_turns_round_after_rolling_back() {
        let mut car = automatic(-1.0);
        car.pedal(ms(0), Pedal::Back, true);
        car.pedal(ms(900), Pedal::Back, false);
        let mut seen = vec![car.state(ms(0))];
        let mut at = ms(0);
        while let Some((next, state)) = car.next_crossing(at) {
            seen.push(state);
            at = next;
        }
        assert_eq!(seen.first(), Some(&BeamState::PreStaged));
        assert_eq!(seen.last(), Some(&BeamState::Past), "{seen:?}");
        assert!(car.speed_in_s(ms(900)) < -4.0 && car.speed_in_s(ms(9_000)) > 7.9);
    }

    #[test]
    fn rolling_back_leaves_the_stage_beam() {
        let mut car = roll(1.0);
        car.pedal(ms(0), Pedal::Back, true);
        let (_, state) = car.next_crossing(ms(0)).expect("it rolls back");
        assert_eq!(state, BeamState::PreStaged);
    }

    #[test]
    fn a_launch_keeps_its_own_mark_even_when_it_is_told_late() {
        let mut late = roll(0.0);
        late.pedal(ms(900), Pedal::Brake, true);
        let law = LaunchLaw { g: 0.6, lag: Span::from_ms(80) };
        late.launch(ms(500), law);
        let mut prompt = roll(0.0);
        prompt.launch(ms(500), law);
        assert_eq!(late.clears_at(ms(500)), prompt.clears_at(ms(500)));
    }

    #[test]
    fn time_to_clear_is_lag_plus_the_constant_acceleration_time() {
        // t = √(2r/a) with r = 11.508 in, a = 0.6 g: .315 s (derived; the table value).
        let mut car = roll(0.0);
        car.launch(ms(0), LaunchLaw { g: 0.6, lag: Span::from_ms(100) });
        let took = car.clears_at(ms(0)).expect("it leaves") - ms(0);
        assert!((took.as_secs_f64() - 0.415).abs() < 0.0006, "{took:?}");
    }

    #[test]
    fn turning_round_is_followed_through() {
        let mut car = roll(-1.0);
        car.pedal(ms(0), Pedal::Creep, true);
        car.pedal(ms(300), Pedal::Creep, false);
        car.pedal(ms(300), Pedal::Back, true);
        // It still rolls forward into the stage beam or not; either way it ends up out behind.
        let mut at = ms(300);
        let mut last = car.state(at);
        while let Some((next, state)) = car.next_crossing(at) {
            assert_ne!(state, last);
            (at, last) = (next, state);
        }
        assert_eq!(last, BeamState::Out);
    }
}
