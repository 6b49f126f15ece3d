//! From rolling in to both lanes staged and steady.
//!
//! Owns courtesy, steady times, flicker, the second car's time-out, rolling through, and leaving
//! before the tree without a launch edge. Nothing is timed until both lanes are pre-staged and one
//! is staged (IHRA rulebook p. 55). Refuses ambers and verdicts.

use super::facts::{Lamp, Lane, Outcome, SentBack, TreeEvent};
use super::machine::{Countdown, Machine};
use crate::beams::BeamState;
use crate::units::Mark;

impl Machine {
    /// When a lane's stage lamp will have been on for the steady time, as things stand.
    pub(super) fn steady_due(&self, lane: Lane) -> Option<Mark> {
        let l = self.lane(lane).filter(|l| l.is_staging() && l.steady.is_none())?;
        let (mut from, mut not_before) = (l.stage_on?, l.stage_on?);
        for other in self.lanes.iter().flatten() {
            match other.result {
                // Whoever dropped out is not waited for, from that mark on.
                Some(result) => not_before = not_before.max(result.at),
                // One who has launched was in the beams for longer than the steady time.
                None => from = from.max(other.in_beams?),
            }
        }
        Some((from + self.setup.procedure.steady()).max(not_before))
    }

    /// When a lane that is not staged loses its turn. One that is staged but not steady yet keeps it.
    pub(super) fn time_out_due(&self, lane: Lane) -> Option<Mark> {
        let l = self.lane(lane).filter(|l| l.is_staging())?;
        if l.steady.is_some() || l.stage_on.is_some() { None } else { l.time_out }
    }

    /// The tyre changed its place.
    pub(super) fn cross(&mut self, lane: Lane, at: Mark, state: BeamState) {
        let Some(l) = self.lane_mut(lane) else { return };
        let was = l.beams;
        l.beams = state;
        l.crossings_to = at;
        let staging = l.is_staging();
        if staging {
            if state == BeamState::Out {
                l.in_beams = None;
            } else {
                l.in_beams.get_or_insert(at);
                l.first_pre_staged.get_or_insert(at);
            }
        }
        self.tell(at, TreeEvent::Beams { lane, state });
        if !staging {
            return;
        }
        if self.is_backing_out(lane, state) {
            return;
        }
        match (was.lights_stage(), state.lights_stage()) {
            (false, true) => self.stage_lamp_on(lane, at),
            (true, false) => self.stage_lamp_out(lane, at, state),
            _ => {}
        }
    }

    pub(super) fn become_steady(&mut self, lane: Lane, at: Mark) {
        let Some(l) = self.lane_mut(lane) else { return };
        l.steady = Some(at);
        l.time_out = None;
        l.staging.took = l.first_pre_staged.map(|from| at - from);
        self.tell(at, TreeEvent::Steady { lane });
        self.hurry(lane.other(), at);
        self.try_arm(at);
    }

    pub(super) fn run_out_of_time(&mut self, lane: Lane, at: Mark) {
        self.tell(at, TreeEvent::TimedOut { lane });
        self.foul_lamp(lane, at);
        self.settle(lane, at, Outcome::TimedOut);
        self.try_arm(at);
    }

    /// Lights the red lamp for a foul that needs no green to compare with.
    pub(super) fn foul_lamp(&mut self, lane: Lane, at: Mark) {
        if let Some(l) = self.lane_mut(lane) {
            l.red_told = true;
        }
        self.tell(at, TreeEvent::LampDue { lane, lamp: Lamp::Red });
    }

    /// Whether the lane still has to back out after rolling through. Its stage lamp lights on the
    /// way, but the last motion must be forward (published: a track's rules), so it counts for
    /// nothing until the tyre is behind the stage beam.
    fn is_backing_out(&mut self, lane: Lane, state: BeamState) -> bool {
        let Some(l) = self.lane_mut(lane).filter(|l| l.backing_out) else { return false };
        l.backing_out = !matches!(state, BeamState::Out | BeamState::PreStaged);
        true
    }

    fn stage_lamp_on(&mut self, lane: Lane, at: Mark) {
        let other_waits =
            self.lane(lane.other()).is_some_and(|o| o.is_staging() && o.first_pre_staged.is_none());
        let Some(l) = self.lane_mut(lane) else { return };
        l.stage_on = Some(at);
        if other_waits && !l.staging.courtesy_broken {
            l.staging.courtesy_broken = true;
            self.tell(at, TreeEvent::CourtesyBroken { lane });
        }
    }

    fn stage_lamp_out(&mut self, lane: Lane, at: Mark, state: BeamState) {
        let counting = self.countdown.is_some();
        let before_own_amber = self.amber_due(lane, 0).is_none_or(|due| at < due);
        let forward = state == BeamState::Past;
        if self.tree_runs(at) && !(forward && before_own_amber) {
            self.rolled_out_under_the_tree(lane, at);
        } else if counting && forward {
            self.foul_lamp(lane, at);
            self.settle(lane, at, Outcome::LeftBeforeTree);
            self.try_arm(at);
        } else {
            let why = match (state, counting) {
                (BeamState::Past, _) => SentBack::RolledThrough,
                (_, true) => SentBack::RolledBack,
                (_, false) => SentBack::Flicker,
            };
            self.send_back(lane, at, why);
        }
    }

    /// Out of the beams after the ambers began, without a launch edge: the beam does not ask who
    /// moved the car. Before green that is a red light; after green the driver has yet to leave.
    /// On a blank run, where staying is right, it is a guess like a launch.
    fn rolled_out_under_the_tree(&mut self, lane: Lane, at: Mark) {
        if self.setup.blank {
            self.guess(lane, at, at);
        } else if self.green_due(lane).is_none_or(|green| at < green) {
            self.foul_lamp(lane, at);
            self.settle(lane, at, Outcome::Red);
        }
    }

    fn send_back(&mut self, lane: Lane, at: Mark, why: SentBack) {
        if self.countdown.take().is_some() {
            self.tell(at, TreeEvent::Disarmed);
        }
        let other_is_steady = self.lane(lane.other()).is_some_and(|o| o.steady.is_some());
        let Some(l) = self.lane_mut(lane) else { return };
        l.stage_on = None;
        l.steady = None;
        // A time-out that ended while the lane stood staged but not steady takes it now.
        l.time_out = l.time_out.map(|ends| ends.max(at));
        l.staging.sent_back = l.staging.sent_back.saturating_add(1);
        if why == SentBack::RolledThrough {
            l.backing_out = true;
            l.staging.rolled_through = l.staging.rolled_through.saturating_add(1);
        }
        self.tell(at, TreeEvent::SentBack { lane, why });
        if other_is_steady {
            self.hurry(lane, at);
        } else if let Some(other) = self.lane_mut(lane.other()) {
            other.time_out = None;
        }
    }

    /// Starts a lane's time-out if it still has to stage and none runs yet.
    fn hurry(&mut self, lane: Lane, at: Mark) {
        let Some(allowed) = self.setup.procedure.time_out() else { return };
        let Some(l) = self.lane_mut(lane) else { return };
        if l.is_staging() && l.steady.is_none() && l.time_out.is_none() {
            let ends = at + allowed;
            l.time_out = Some(ends);
            self.tell(at, TreeEvent::TimeOutStarted { lane, ends });
        }
    }

    /// Starts the countdown once every lane still in the run is steady.
    pub(super) fn try_arm(&mut self, at: Mark) {
        let mut waited_for = self.lanes.iter().flatten().filter(|l| l.is_staging()).peekable();
        if self.countdown.is_some() || waited_for.peek().is_none() {
            return;
        }
        if waited_for.all(|l| l.steady.is_some()) {
            let procedure = &self.setup.procedure;
            let wait = procedure.earliest() + procedure.extra().draw(&mut self.random);
            let first_amber = at + wait;
            self.countdown = Some(Countdown { armed: at, first_amber });
            self.tell(at, TreeEvent::Armed { first_amber });
        }
    }
}
