//! The driver in the other lane, who works the same controls a person would.
//!
//! Owns temperaments and their plans: when to roll, whom to wait for, when to leave. It sees only
//! what a person in that seat sees (its own lamps, the other lane's pre-stage lamp) and answers
//! with pedals and a launch. Refuses beams, verdicts and any knowledge of the machine's plans.

use super::facts::{Lamp, Lane, SentBack, TraceLine, TreeEvent};
use crate::beams::{BeamState, Pedal};
use crate::seed;
use crate::units::{Mark, Span};
use rand::RngExt;
use rand_distr::{Distribution, Normal};

/// How the other driver behaves on the way in.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash)]
pub enum Temper {
    /// Rolls in at once, waits for the other lane's pre-stage lamp, stages without delay.
    Prompt,
    /// Does everything right, in its own good time.
    Slow,
    /// Rolls straight through pre-stage into stage and waits for nobody.
    ForgetsCourtesy,
}

impl Temper {
    /// The temper's name.
    pub fn name(self) -> &'static str {
        match self {
            Temper::Prompt => "prompt",
            Temper::Slow => "slow",
            Temper::ForgetsCourtesy => "forgets courtesy",
        }
    }
}

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

/// A driver with a temper and this start's luck, drawn beforehand.
#[derive(Debug, Clone)]
pub struct OtherDriver {
    temper: Temper,
    arrives_after: Span,
    foot_reaction: Span,
    thinks: Span,
    driver_part: Span,
    step: Step,
    other_is_in: bool,
    last_amber: u8,
    todo: Vec<(Mark, Action)>,
}

impl OtherDriver {
    /// A driver of `temper` whose times of this start follow from `seed`.
    ///
    /// Foot reaction .18–.30 s. Driver part: normal, mean .235 s SD .030 (prompt), .300/.070
    /// (slow), .270/.060 (forgets courtesy), never under .120: chosen around the visual simple
    /// reaction of 213 ms measured by Woods et al. 2015 (Front. Hum. Neurosci. 9:131), since a
    /// start asks for more than a simple reaction.
    pub fn new(temper: Temper, seed: u64) -> Self {
        let mut random = seed::generator(seed);
        let (arrive, think, mean, sd) = match temper {
            Temper::Prompt => ((0.2, 0.8), (0.5, 1.2), 0.235, 0.030),
            Temper::Slow => ((1.5, 3.0), (3.0, 5.0), 0.300, 0.070),
            Temper::ForgetsCourtesy => ((0.1, 0.5), (0.0, 0.0), 0.270, 0.060),
        };
        let mut within = |(low, high): (f64, f64)| {
            Span::from_secs_f64(if high > low { random.random_range(low..high) } else { low })
        };
        let (arrives_after, thinks) = (within(arrive), within(think));
        let foot_reaction = within((0.18, 0.30));
        let part = Normal::new(mean, sd).expect("the spreads above are positive");
        let drawn: f64 = part.sample(&mut random);
        let driver_part = Span::from_secs_f64(drawn.max(0.120));
        Self {
            temper,
            arrives_after,
            foot_reaction,
            thinks,
            driver_part,
            step: Step::ToPreStage,
            other_is_in: false,
            last_amber: 0,
            todo: Vec::new(),
        }
    }

    /// The driver's temper.
    pub fn temper(&self) -> Temper {
        self.temper
    }

    /// When the driver next does something.
    pub(super) fn next_due(&self) -> Option<Mark> {
        self.todo.iter().map(|(at, _)| *at).min()
    }

    /// Takes a seat at `start`; `alone` when nobody stands in the other lane.
    pub(super) fn enter(&mut self, start: Mark, last_amber: u8, staged: bool, alone: bool) {
        self.last_amber = last_amber;
        self.other_is_in = alone;
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

    /// Sees one fact of the start from the seat in `me`.
    pub(super) fn notice(&mut self, me: Lane, line: &TraceLine) {
        match line.event {
            TreeEvent::Beams { lane, state } if lane == me => self.own_beams(line.at, state),
            TreeEvent::Beams { state, .. } => {
                let came_in = state != BeamState::Out && !self.other_is_in;
                self.other_is_in = state != BeamState::Out;
                if came_in && self.step == Step::WaitingForOther {
                    self.go_and_stage(line.at + self.thinks);
                }
            }
            TreeEvent::SentBack { lane, why } if lane == me => self.sent_back(line.at, why),
            TreeEvent::LampShown { lane, lamp, stamp }
                if lane == me
                    && lamp == Lamp::Amber(self.last_amber)
                    && self.step != Step::Gone =>
            {
                self.step = Step::Gone;
                self.plan(stamp.best() + self.driver_part, Action::Launch);
            }
            _ => {}
        }
    }

    fn own_beams(&mut self, at: Mark, state: BeamState) {
        let reacts = at + self.foot_reaction;
        match (self.step, state) {
            (Step::ToPreStage, BeamState::PreStaged) => {
                self.plan(reacts, Action::Pedal(Pedal::Back, false));
                if self.temper == Temper::ForgetsCourtesy {
                    self.step = Step::ToStage;
                    self.plan(reacts, Action::Pedal(Pedal::Creep, true));
                    return;
                }
                self.stop(reacts);
                self.step = Step::WaitingForOther;
                if self.other_is_in {
                    self.go_and_stage(reacts + self.thinks);
                }
            }
            (Step::ToStage, BeamState::Staged) => {
                self.stop(reacts);
                self.step = Step::Staged;
            }
            _ => {}
        }
    }

    fn sent_back(&mut self, at: Mark, why: SentBack) {
        self.todo.clear();
        self.stop(at + self.foot_reaction);
        let again = at + self.foot_reaction + Span::from_ms(700);
        match why {
            SentBack::RolledThrough => {
                self.step = Step::ToPreStage;
                self.plan(again, Action::Pedal(Pedal::Brake, false));
                self.plan(again, Action::Pedal(Pedal::Back, true));
            }
            SentBack::Flicker | SentBack::RolledBack => self.go_and_stage(again),
        }
    }

    fn go_and_stage(&mut self, at: Mark) {
        self.step = Step::ToStage;
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
mod tests {
    use super::*;

    #[test]
    fn the_same_seed_gives_the_same_driver() {
        let a = OtherDriver::new(Temper::Slow, 7);
        let b = OtherDriver::new(Temper::Slow, 7);
        assert_eq!((a.driver_part, a.thinks), (b.driver_part, b.thinks));
        assert_ne!(a.driver_part, OtherDriver::new(Temper::Slow, 8).driver_part);
    }

    #[test]
    fn a_courteous_driver_waits_in_pre_stage_until_the_other_lamp_lights() {
        let mut d = OtherDriver::new(Temper::Prompt, 1);
        let at = Mark::from_ns(0);
        d.enter(at, 2, false, false);
        while d.act().is_some() {}
        let own = TreeEvent::Beams { lane: Lane::Right, state: BeamState::PreStaged };
        d.notice(Lane::Right, &TraceLine { at, event: own });
        let mut actions = Vec::new();
        while let Some((_, action)) = d.act() {
            actions.push(action);
        }
        assert!(actions.contains(&Action::Pedal(Pedal::Brake, true)));
        assert!(!actions.contains(&Action::Pedal(Pedal::Creep, true)));
        let other = TreeEvent::Beams { lane: Lane::Left, state: BeamState::PreStaged };
        d.notice(Lane::Right, &TraceLine { at, event: other });
        assert!(d.todo.iter().any(|(_, a)| *a == Action::Pedal(Pedal::Creep, true)));
    }
}
