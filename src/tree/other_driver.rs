//! The driver in the other lane, who works the same controls a person would.
//!
//! Owns the luck of one start, drawn from a temper's table or from a driver's own lights, and what
//! follows from it: when to roll, whom to wait for, when to leave. It sees only what a person in that
//! seat sees (its own lamps, the other lane's two) and knows its car; it answers with pedals and a
//! launch. Refuses beams, verdicts and any knowledge of the machine's plans.

use super::facts::{Lamp, Lane, SentBack, TraceLine, TreeEvent};
use super::temper::{Habits, Temper};
use crate::beams::{BeamState, Pedal};
use crate::seed::{self, Generator};
use crate::units::{Mark, Span};
use rand::RngExt;
use rand_distr::{Distribution, Normal};

/// Something the driver does with hands and feet.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(super) enum Action {
    Pedal(Pedal, bool),
    Launch,
}

#[derive(Debug, Clone, Copy, PartialEq, Eq)]
enum Step {
    ToPreStage,
    WaitingForOther,
    ToStage,
    Staged,
    Gone,
}

/// Own lights from which a driver like their owner is drawn: as many as a risk asks for.
pub const LEAST_LIGHTS: usize = 10;
/// The tree a temper's lights are told for: from last amber to green.
const TOLD_FOR: Span = Span::from_ms(500);
/// No foot moves sooner after its lamp. Chosen: a little above the 100 ms under which athletics counts
/// a false start.
const SOONEST: Span = Span::from_ms(120);
/// From brake lamp to foot, s: about the visual simple reaction of 213 ms measured by Woods et al.
/// 2015 (Front. Hum. Neurosci. 9:131).
const FOOT_S: (f64, f64) = (0.18, 0.30);
/// Who would sooner stage second waits this long for it. Chosen: shorter than a bracket start's
/// time-out, so that two of them do not stand there for ever.
const PATIENCE: Span = Span::from_ms(6_000);

/// A driver with this start's luck, drawn beforehand.
#[derive(Debug, Clone)]
pub struct OtherDriver {
    name: &'static str,
    arrives_after: Span,
    foot_reaction: Span,
    thinks: Span,
    light: Span,
    courteous: bool,
    goes_first: bool,
    goes_deep: bool,
    step: Step,
    other_is_in: bool,
    other_is_staged: bool,
    rolls_on_at: Option<Mark>,
    last_amber: u8,
    todo: Vec<(Mark, Action)>,
}

impl OtherDriver {
    /// A driver of `temper` whose times of this start follow from `seed`.
    pub fn new(temper: Temper, seed: u64) -> Self {
        let mut random = seed::generator(seed);
        let habits = temper.habits();
        Self::drawn(temper.name(), &habits, &mut random, |random| {
            let law = Normal::new(habits.mean_light_s(), habits.sd_light_s());
            law.expect("every band of the table is wider than nothing").sample(random)
        })
    }

    /// A driver who leaves as the owner of these lights (RT, s) does and stages as the prompt one;
    /// `None` with fewer than [`LEAST_LIGHTS`].
    ///
    /// A light is the quantile of an even draw, joined in straight lines between the sorted lights
    /// (type 7 of Hyndman & Fan 1996, Am. Stat. 50:361): none lies outside them.
    pub fn like(lights_s: &[f64], seed: u64) -> Option<Self> {
        let mut sorted: Vec<f64> = lights_s.iter().copied().filter(|x| x.is_finite()).collect();
        if sorted.len() < LEAST_LIGHTS {
            return None;
        }
        sorted.sort_by(f64::total_cmp);
        let mut random = seed::generator(seed);
        let habits = Temper::Prompt.habits();
        Some(Self::drawn("like you", &habits, &mut random, |random| {
            let at = random.random_range(0.0..1.0) * (sorted.len() - 1) as f64;
            let (below, part) = (at as usize, at.fract());
            sorted[below] + part * (sorted[below + 1] - sorted[below])
        }))
    }

    fn drawn(
        name: &'static str,
        habits: &Habits,
        random: &mut Generator,
        light_s: impl FnOnce(&mut Generator) -> f64,
    ) -> Self {
        let mut within = |(low, high): (f64, f64)| {
            Span::from_secs_f64(if high > low { random.random_range(low..high) } else { low })
        };
        let (arrives_after, thinks) = (within(habits.arrives_s), within(habits.thinks_s));
        let foot_reaction = within(FOOT_S);
        let light = Span::from_secs_f64(light_s(random));
        let mut happens = |chance: f64| random.random_range(0.0..1.0) < chance;
        Self {
            name,
            arrives_after,
            foot_reaction,
            thinks,
            light,
            courteous: happens(habits.courtesy),
            goes_first: happens(habits.goes_first),
            goes_deep: happens(habits.deep),
            step: Step::ToPreStage,
            other_is_in: false,
            other_is_staged: false,
            rolls_on_at: None,
            last_amber: 0,
            todo: Vec::new(),
        }
    }

    /// What kind of driver.
    pub fn name(&self) -> &'static str {
        self.name
    }

    /// The light (RT) the driver has in mind for this start, on a tree with .500 s from last amber to
    /// green. It comes out so unless the foot had to move sooner than a person's can.
    pub fn light(&self) -> Span {
        self.light
    }

    /// Whether this start's pre-stage lamp is waited for.
    pub fn is_courteous(&self) -> bool {
        self.courteous
    }

    /// Whether this start is staged without waiting for the other lane's stage lamp.
    pub fn goes_first(&self) -> bool {
        self.goes_first
    }

    /// Whether this start is staged deep.
    pub fn goes_deep(&self) -> bool {
        self.goes_deep
    }

    /// When the driver next does something.
    pub(super) fn next_due(&self) -> Option<Mark> {
        self.todo.iter().map(|(at, _)| *at).min()
    }

    /// Takes a seat at `start`; `alone` when nobody stands in the other lane.
    pub(super) fn enter(&mut self, start: Mark, last_amber: u8, staged: bool, alone: bool) {
        self.last_amber = last_amber;
        (self.other_is_in, self.other_is_staged) = (alone, alone);
        if staged {
            self.step = Step::Staged;
        } else {
            self.plan(start + self.arrives_after, Action::Pedal(Pedal::Creep, true));
        }
    }

    /// Takes the action due first.
    pub(super) fn act(&mut self) -> Option<(Mark, Action)> {
        let i = (0..self.todo.len()).min_by_key(|i| self.todo[*i].0)?;
        Some(self.todo.remove(i))
    }

    /// Sees one fact of the start from the seat in `me`; `car_part` is what the car would take if it
    /// were launched now.
    pub(super) fn notice(&mut self, me: Lane, line: &TraceLine, car_part: Span) {
        match line.event {
            TreeEvent::Beams { lane, state } if lane == me => self.own_beams(line.at, state),
            TreeEvent::Beams { state, .. } => {
                let before = (self.other_is_in, self.other_is_staged);
                (self.other_is_in, self.other_is_staged) =
                    (state != BeamState::Out, state.lights_stage());
                if before != (self.other_is_in, self.other_is_staged) {
                    self.consider_staging(line.at);
                }
            }
            TreeEvent::SentBack { lane, why } if lane == me => self.sent_back(line.at, why),
            TreeEvent::LampShown { lane, lamp, stamp }
                if lane == me
                    && lamp == Lamp::Amber(self.last_amber)
                    && self.step != Step::Gone =>
            {
                self.step = Step::Gone;
                let driver_part = (self.light + TOLD_FOR - car_part).max(SOONEST);
                self.plan(stamp.best() + driver_part, Action::Launch);
            }
            _ => {}
        }
    }

    fn own_beams(&mut self, at: Mark, state: BeamState) {
        let reacts = at + self.foot_reaction;
        match (self.step, state) {
            (Step::ToPreStage, BeamState::PreStaged) => {
                self.plan(reacts, Action::Pedal(Pedal::Back, false));
                if !self.courteous {
                    self.step = Step::ToStage;
                    self.plan(reacts, Action::Pedal(Pedal::Creep, true));
                    return;
                }
                self.stop(reacts);
                self.step = Step::WaitingForOther;
                self.consider_staging(reacts);
            }
            (Step::WaitingForOther | Step::ToStage, BeamState::Staged) if self.goes_deep => {
                self.step = Step::ToStage;
            }
            (Step::WaitingForOther | Step::ToStage, BeamState::Staged | BeamState::Deep) => {
                self.stop(reacts);
                self.step = Step::Staged;
            }
            _ => {}
        }
    }

    /// Rolls on if the other lane's lamps allow it: in a moment, or when patience ends.
    fn consider_staging(&mut self, at: Mark) {
        if self.step != Step::WaitingForOther || !self.other_is_in {
            return;
        }
        let free = self.goes_first || self.other_is_staged;
        let at = at + self.thinks + if free { Span::ZERO } else { PATIENCE };
        match self.rolls_on_at {
            Some(planned) if planned <= at => return,
            Some(planned) => self.todo.retain(|(mark, _)| *mark != planned),
            None => {}
        }
        self.rolls_on_at = Some(at);
        self.roll_on(at);
        if free {
            self.step = Step::ToStage;
        }
    }

    fn sent_back(&mut self, at: Mark, why: SentBack) {
        self.todo.clear();
        self.rolls_on_at = None;
        self.stop(at + self.foot_reaction);
        let again = at + self.foot_reaction + Span::from_ms(700);
        match why {
            SentBack::RolledThrough => {
                self.step = Step::ToPreStage;
                self.plan(again, Action::Pedal(Pedal::Brake, false));
                self.plan(again, Action::Pedal(Pedal::Back, true));
            }
            SentBack::Flicker | SentBack::RolledBack => {
                self.step = Step::ToStage;
                self.roll_on(again);
            }
        }
    }

    fn roll_on(&mut self, at: Mark) {
        self.plan(at, Action::Pedal(Pedal::Brake, false));
        self.plan(at, Action::Pedal(Pedal::Creep, true));
    }

    fn stop(&mut self, at: Mark) {
        self.plan(at, Action::Pedal(Pedal::Creep, false));
        self.plan(at, Action::Pedal(Pedal::Brake, true));
    }

    fn plan(&mut self, at: Mark, action: Action) {
        self.todo.push((at, action));
    }
}

#[cfg(test)]
mod tests;
