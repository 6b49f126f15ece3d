//! From the first amber to green, and what the display said of it.
//!
//! Owns due marks of lamps: ambers on a grid fixed when the tree was armed, green counted from the
//! last amber as *shown*; and which runs the display spoilt. Refuses staging.

use super::facts::{Lamp, Lane, Outcome, TreeEvent, VoidReason};
use super::machine::Machine;
use crate::beams::BeamState;
use crate::units::{Mark, Span, Stamp};

/// A last amber shown later than this after its due mark makes the run void (chosen: no display
/// that works is this late).
pub const ONSET_LIMIT: Span = Span::from_ms(150);
/// No launch by green plus this is a lapse (chosen).
pub const LAPSE_AFTER_GREEN: Span = Span::from_ms(2_000);
/// A blank run ends this long after the last amber would have been due (chosen).
pub const BLANK_ENDS_AFTER: Span = Span::from_ms(1_000);
/// A launch on a blank run up to this long after the missing amber's due mark is a guess (chosen:
/// the fastest visual reactions are slower; athletics rules take 100 ms for sound).
pub const GUESS_WINDOW: Span = Span::from_ms(120);
/// A press or the display's word may reach the machine this much late, after a hitch of the
/// program (chosen); things that end a run by *absence* wait for it.
pub(super) const LATE_NEWS: Span = Span::from_ms(300);

/// Which lamps of a lane are lit.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Default)]
pub struct LampSet {
    /// Pre-stage.
    pub pre_stage: bool,
    /// Stage.
    pub stage: bool,
    /// Ambers from the top; only the first few of the kind in use mean anything.
    pub ambers: [bool; 5],
    /// Green.
    pub green: bool,
    /// Red.
    pub red: bool,
}

impl Machine {
    /// The lamps to draw: pre-stage and stage as of `now`, the countdown as of `show_at`, the mark
    /// at which the frame being drawn will be seen.
    pub fn lamps(&self, lane: Lane, now: Mark, show_at: Mark) -> LampSet {
        let mut lit = LampSet::default();
        let Some(l) = self.lane(lane) else { return lit };
        let beams = l.roll.state(now);
        lit.pre_stage = beams.lights_pre_stage();
        lit.stage = beams.lights_stage();
        lit.red = l.red_told || self.red_to_tell(lane).is_some_and(|red| red <= show_at);
        let green = self.green_to_tell(lane).is_some_and(|green| green <= show_at);
        lit.green = !lit.red && (l.green_told || green);
        if lit.red || lit.green || !self.ambers_run(lane) {
            return lit;
        }
        let last = self.setup.kind.last_amber();
        for i in 0..=last {
            let on = self.amber_due(lane, i).is_some_and(|due| due <= show_at);
            let replaced = !self.setup.kind.all_at_once()
                && i < last
                && self.amber_due(lane, i + 1).is_some_and(|due| due <= show_at);
            lit.ambers[usize::from(i)] = on && !replaced && i < self.ambers_to_come();
        }
        lit
    }

    pub(super) fn next_amber_due(&self, lane: Lane) -> Option<Mark> {
        let told = self.lane(lane)?.ambers_told;
        if told < self.ambers_to_come() && self.ambers_run(lane) {
            self.amber_due(lane, told)
        } else {
            None
        }
    }

    pub(super) fn tell_amber(&mut self, lane: Lane, at: Mark, i: u8) {
        let Some(l) = self.lane_mut(lane) else { return };
        l.ambers_told = i + 1;
        if i == 0 && l.launch.is_none() {
            l.staging.deep = l.beams == BeamState::Deep;
        }
        self.tell(at, TreeEvent::LampDue { lane, lamp: Lamp::Amber(i) });
    }

    pub(super) fn green_to_tell(&self, lane: Lane) -> Option<Mark> {
        let l = self.lane(lane)?;
        let fouled = l.red_told || self.is_red(lane);
        let over = l.result.is_some_and(|r| r.outcome != Outcome::Green);
        if l.green_told || fouled || over || self.setup.blank { None } else { self.green_due(lane) }
    }

    pub(super) fn tell_green(&mut self, lane: Lane, at: Mark) {
        if let Some(l) = self.lane_mut(lane) {
            l.green_told = true;
        }
        self.tell(at, TreeEvent::LampDue { lane, lamp: Lamp::Green });
    }

    pub(super) fn red_to_tell(&self, lane: Lane) -> Option<Mark> {
        let l = self.lane(lane).filter(|l| !l.red_told)?;
        if !self.is_red(lane) {
            return None;
        }
        Some(l.launch?.clears.max(l.last_shown()?.best()))
    }

    pub(super) fn tell_red(&mut self, lane: Lane, at: Mark) {
        self.foul_lamp(lane, at);
    }

    pub(super) fn no_onset_due(&self, lane: Lane) -> Option<Mark> {
        let l = self.lane(lane).filter(|l| l.is_person() && l.result.is_none())?;
        let last = self.setup.kind.last_amber();
        if l.ambers_told <= last || l.last_shown().is_some() {
            return None;
        }
        Some(self.amber_due(lane, last)? + ONSET_LIMIT + LATE_NEWS)
    }

    pub(super) fn lapse_due(&self, lane: Lane) -> Option<Mark> {
        self.lane(lane).filter(|l| l.is_staging())?;
        Some(self.green_due(lane)? + LAPSE_AFTER_GREEN + LATE_NEWS)
    }

    pub(super) fn blank_end_due(&self, lane: Lane) -> Option<Mark> {
        self.lane(lane).filter(|l| self.setup.blank && l.is_staging())?;
        let missing = self.amber_due(lane, self.setup.kind.last_amber())?;
        Some(missing + BLANK_ENDS_AFTER + LATE_NEWS)
    }

    /// Whether a launch at `at` comes after the run's last moment for one.
    pub(super) fn is_too_late_to_launch(&self, lane: Lane, at: Mark) -> bool {
        let end = if self.setup.blank {
            self.amber_due(lane, self.setup.kind.last_amber()).map(|due| due + BLANK_ENDS_AFTER)
        } else {
            self.green_due(lane).map(|green| green + LAPSE_AFTER_GREEN)
        };
        end.is_some_and(|end| at > end)
    }

    pub(super) fn amber_was_shown(&mut self, lane: Lane, i: u8, stamp: Stamp, frame: Span) {
        let Some(due) = self.amber_due(lane, i) else { return };
        let all_at_once = self.setup.kind.all_at_once();
        let is_last = i == self.setup.kind.last_amber();
        let Some(l) = self.lane_mut(lane) else { return };
        let Some(slot) = l.shown.get_mut(usize::from(i)).filter(|slot| slot.is_none()) else {
            return;
        };
        *slot = Some(stamp);
        let before = i.checked_sub(1).filter(|_| !all_at_once);
        let hidden = before
            .filter(|b| l.shown[usize::from(*b)].is_none_or(|shown| shown.best() >= stamp.best()));
        let late = stamp.best() - due;
        // A lamp can only light on a frame, so up to half a frame early or late is the display's
        // grain; a whole frame beyond that is a hitch.
        let limit = frame + frame.half();
        if l.is_person() {
            if is_last && late > ONSET_LIMIT {
                self.settle(lane, stamp.best(), Outcome::Void(VoidReason::NoOnset));
            } else if late > limit {
                let why = VoidReason::LampLate { lamp: Lamp::Amber(i), late_ns: late.ns() };
                self.settle(lane, stamp.best(), Outcome::Void(why));
            } else if let Some(b) = hidden {
                let why = VoidReason::LampHidden { lamp: Lamp::Amber(b) };
                self.settle(lane, stamp.best(), Outcome::Void(why));
            }
        }
        self.try_judge(lane);
    }

    /// How many ambers this run lights: on a blank run all but the last, and none where they come
    /// all at once, since any of them would be the signal.
    fn ambers_to_come(&self) -> u8 {
        match (self.setup.blank, self.setup.kind.all_at_once()) {
            (false, _) => self.setup.kind.ambers(),
            (true, false) => self.setup.kind.last_amber(),
            (true, true) => 0,
        }
    }

    /// Both lanes run to their last amber, red or not, so that an early launch has a reference;
    /// only a lane that has dropped out of the run goes dark.
    fn ambers_run(&self, lane: Lane) -> bool {
        let dark =
            |o: Outcome| matches!(o, Outcome::TimedOut | Outcome::Abandoned(_) | Outcome::Void(_));
        self.lane(lane).is_some_and(|l| !l.result.is_some_and(|r| dark(r.outcome)))
    }
}
