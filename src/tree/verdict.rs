//! How a lane's run is judged, and who loses by a foul.
//!
//! Owns the step from stamps to an outcome: `RT = driver − offset + car − interval`, red below
//! zero. Verdicts come from stamps, never from which lamp was drawn. Refuses finishes and dials.

use super::facts::{Lane, Outcome, TreeEvent};
use super::machine::Machine;
use crate::rules::{Foul, foul_loser};
use crate::units::{Mark, Span};
use std::cmp::Ordering;

impl Machine {
    pub(super) fn cleared_due(&self, lane: Lane) -> Option<Mark> {
        let l = self.lane(lane).filter(|l| !l.cleared)?;
        Some(l.launch?.clears)
    }

    /// The tyre left the beams after a launch.
    pub(super) fn clear(&mut self, lane: Lane, at: Mark) {
        let Some(l) = self.lane_mut(lane) else { return };
        l.cleared = true;
        let left = at - l.setup.offset;
        let launch = l.launch;
        self.tell(at, TreeEvent::Cleared { lane });
        if self.amber_due(lane, 0).is_none_or(|due| left < due) {
            self.foul_lamp(lane, at);
            self.settle(lane, at, Outcome::LeftBeforeTree);
            self.try_arm(at);
            return;
        }
        if !self.setup.blank {
            self.try_judge(lane);
            return;
        }
        if let Some(launch) = launch {
            self.guess(lane, launch.stamp.best(), at);
        }
    }

    /// Ends a blank run: the lane left at `left`, its tyre was through at `at`.
    pub(super) fn guess(&mut self, lane: Lane, left: Mark, at: Mark) {
        let missing = self.amber_due(lane, self.setup.kind.last_amber());
        if let Some(due) = missing.filter(|_| !self.is_too_late_to_launch(lane, left)) {
            let after_due_ns = (left - due).ns();
            self.settle(lane, at.max(due), Outcome::Guessed { after_due_ns });
        }
    }

    /// Judges a lane once its last amber was seen and its tyre is through.
    pub(super) fn try_judge(&mut self, lane: Lane) {
        let interval = self.setup.kind.green_gap();
        let Some(l) = self.lane(lane).filter(|l| l.cleared && l.result.is_none()) else { return };
        let (Some(launch), Some(shown)) = (l.launch, l.last_shown()) else { return };
        let Some(parts) = l.parts(interval) else { return };
        let outcome = if parts.rt() < Span::ZERO { Outcome::Red } else { Outcome::Green };
        self.settle(lane, launch.clears.max(shown.best()), outcome);
    }

    /// Whether the stamps known so far make the lane red.
    pub(super) fn is_red(&self, lane: Lane) -> bool {
        let interval = self.setup.kind.green_gap();
        let parts = self.lane(lane).filter(|_| !self.setup.blank).and_then(|l| l.parts(interval));
        parts.is_some_and(|p| p.rt() < Span::ZERO)
    }

    /// Which lane loses by a foul, once both are judged and at least one fouled.
    ///
    /// Left before the tree outranks a red light; two alike go by the rule in force.
    pub(super) fn foul_loses(&self) -> Option<Lane> {
        let [left, right] = Lane::BOTH.map(|lane| self.rank_of_foul(lane));
        let (left, right) = (left?, right?);
        match left.cmp(&right) {
            Ordering::Greater => Some(Lane::Left),
            Ordering::Less => Some(Lane::Right),
            Ordering::Equal if left == 0 => None,
            Ordering::Equal => {
                let fouls = Lane::BOTH.map(|lane| self.foul(lane));
                let loser = foul_loser(self.setup.foul_rule, fouls)?;
                Some(Lane::BOTH[loser])
            }
        }
    }

    fn rank_of_foul(&self, lane: Lane) -> Option<u8> {
        match self.result(lane)?.outcome {
            Outcome::LeftBeforeTree | Outcome::TimedOut => Some(2),
            Outcome::Red => Some(1),
            Outcome::Green | Outcome::Lapse => Some(0),
            Outcome::Stayed
            | Outcome::Guessed { .. }
            | Outcome::Abandoned(_)
            | Outcome::Void(_) => None,
        }
    }

    fn foul(&self, lane: Lane) -> Option<Foul> {
        let l = self.lane(lane)?;
        let result = l.result?;
        let at: Mark = l.launch.map_or(result.at, |launch| launch.clears - l.setup.offset);
        let last = self.amber_due(lane, self.setup.kind.last_amber());
        // Without a launch edge the green it beat is the one due by the grid.
        let nominal = last.map_or(Span::ZERO, |due| due + self.setup.kind.green_gap() - at);
        let amount = result.parts.map_or(nominal, |parts| -parts.rt());
        Some(Foul { at_ns_on_common_clock: at.ns(), amount })
    }
}
