//! A rig round the machine: setups, a screen that lights what is due after a fixed delay, and a
//! person at the controls.
//!
//! Owns virtual time and the order in which news reaches the machine (by mark, then the poll).
//! Refuses expectations: the stories have them.

use lastamber::beams::{BeamState, BeamZones, Handling, LaunchLaw, Pedal, Roll};
use lastamber::rules::{FoulRule, Procedure, TreeKind};
use lastamber::tree::{
    AbandonReason, Entry, Lamp, Lane, LaneResult, LaneSetup, Machine, OtherDriver, Outcome,
    StartSetup, Temper, TreeEvent,
};
use lastamber::units::{Inches, Mark, Span, Stamp};

/// Every run begins here, far from zero as a real monotonic clock is.
pub const START: Mark = Mark::from_ns(86_400_000_000_000);
/// The running median of presented frame intervals, 60 Hz.
pub const FRAME: Span = Span::from_us(16_667);
/// The screen lights a lamp this much after its due mark unless a story says otherwise.
pub const SCREEN: Span = Span::from_ms(3);
/// A person's foot.
const FOOT: Span = Span::from_ms(220);

pub fn ms(ms: i64) -> Span {
    Span::from_ms(ms)
}

/// A person's car: staged at the edge of the stage beam, 22 in wheel over a 1.625 in beam.
pub fn staged() -> LaneSetup {
    LaneSetup {
        zones: BeamZones::new(Inches(11.508), Inches(7.0), Inches(13.375)),
        handling: Handling::default(),
        launch: LaunchLaw { g: 0.6, lag: ms(80) },
        entry: Entry::Staged { depth: Inches(0.0) },
        offset: Span::ZERO,
        tree_delay: Span::ZERO,
        driver: None,
    }
}

/// The same car, short of the pre-stage beam.
pub fn rolling() -> LaneSetup {
    LaneSetup { entry: Entry::Rolling { behind: Inches(12.0) }, ..staged() }
}

/// The same car with somebody else in it, who rolls in.
pub fn other(temper: Temper, seed: u64) -> LaneSetup {
    LaneSetup { driver: Some(OtherDriver::new(temper, seed)), ..rolling() }
}

/// A full tree with the bracket procedure for whoever stands there.
pub fn start(left: Option<LaneSetup>, right: Option<LaneSetup>) -> StartSetup {
    StartSetup {
        kind: TreeKind::full(),
        procedure: Procedure::bracket(),
        foul_rule: FoulRule::First,
        blank: false,
        lanes: [left, right],
        seed: 7,
    }
}

/// Something that reaches the machine at its own mark.
#[derive(Debug, Clone, Copy, PartialEq)]
pub enum Input {
    Pedal(Lane, Pedal, bool),
    Launch(Lane, Stamp),
    Shown(Lane, Lamp, Stamp),
    BreakOff(Lane),
}

/// When a screen lights a lamp that is due at the mark; `None` if it never does.
pub type Screen = fn(Lane, Lamp, Mark) -> Option<Mark>;

/// A screen that lights every lamp `SCREEN` after its due mark.
pub fn prompt_screen(_: Lane, _: Lamp, due: Mark) -> Option<Mark> {
    Some(due + SCREEN)
}

/// The machine, its screen and its people.
pub struct Rig {
    pub machine: Machine,
    pub now: Mark,
    /// Everything a person did, in the order it was decided.
    pub script: Vec<(Mark, Input)>,
    screen: Screen,
    waiting: Vec<(Mark, Input)>,
    rolls_in: Vec<(Lane, Span)>,
}

impl Rig {
    pub fn new(setup: StartSetup) -> Self {
        Self::with_screen(setup, prompt_screen)
    }

    pub fn with_screen(setup: StartSetup, screen: Screen) -> Self {
        Self {
            machine: Machine::new(setup, START),
            now: START,
            script: Vec::new(),
            screen,
            waiting: Vec::new(),
            rolls_in: Vec::new(),
        }
    }

    /// Plans an input.
    pub fn at(&mut self, mark: Mark, input: Input) {
        self.script.push((mark, input));
        self.waiting.push((mark, input));
    }

    pub fn pedal(&mut self, mark: Mark, lane: Lane, pedal: Pedal, down: bool) {
        self.at(mark, Input::Pedal(lane, pedal, down));
    }

    pub fn launch(&mut self, mark: Mark, lane: Lane) {
        self.at(mark, Input::Launch(lane, Stamp::exact(mark)));
    }

    /// A person starts to roll in at once, stops in pre-stage, and after `thinks` goes on.
    pub fn rolls_in(&mut self, lane: Lane, thinks: Span) {
        self.rolls_in.push((lane, thinks));
        self.pedal(self.now + ms(50), lane, Pedal::Creep, true);
    }

    /// Polls every millisecond up to `mark`.
    pub fn run_to(&mut self, mark: Mark) {
        self.run_in_steps(mark, || ms(1));
    }

    /// Polls up to `mark` at the given intervals; the last poll is at `mark` itself.
    pub fn run_in_steps(&mut self, mark: Mark, mut step: impl FnMut() -> Span) {
        while self.now < mark {
            self.now = (self.now + step()).min(mark);
            self.deliver();
            self.machine.poll(self.now);
            while self.react() {
                self.deliver();
                self.machine.poll(self.now);
            }
        }
    }

    /// Runs until something happens and says when it did.
    pub fn run_until(&mut self, what: &str, wanted: impl Fn(&TreeEvent) -> bool) -> Mark {
        let limit = self.now + ms(60_000);
        while self.now < limit {
            if let Some(at) = self.find(&wanted) {
                return at;
            }
            self.run_to(self.now + ms(1));
        }
        panic!("never happened: {what}\n{:#?}", self.machine.trace());
    }

    /// Runs until the lane is over.
    pub fn settle(&mut self, lane: Lane) -> LaneResult {
        self.run_until(
            "the lane is over",
            |e| matches!(e, TreeEvent::Settled { lane: l, .. } if *l == lane),
        );
        self.machine.result(lane).expect("it has just been settled")
    }

    /// Runs until the lane's last amber is on the screen.
    pub fn last_amber(&mut self, lane: Lane) -> Mark {
        let last = Lamp::Amber(self.machine.setup().kind.last_amber());
        self.run_until("last amber seen", |e| {
            matches!(e, TreeEvent::LampShown { lane: l, lamp, .. } if *l == lane && *lamp == last)
        })
    }

    /// Runs until the tree is armed; due mark of the first amber.
    pub fn armed(&mut self) -> Mark {
        self.run_until("armed", |e| matches!(e, TreeEvent::Armed { .. }));
        let lines = self.machine.trace();
        let armed = lines.iter().rev().find_map(|line| match line.event {
            TreeEvent::Armed { first_amber } => Some(first_amber),
            _ => None,
        });
        armed.expect("it has just been told")
    }

    /// Plans a launch edge that gives the lane this reaction time, from where its car stands now.
    /// The last amber must have been seen.
    pub fn launch_for_rt(&mut self, lane: Lane, rt: Span) {
        let shown = self.machine.amber_shown(lane, self.machine.setup().kind.last_amber());
        let shown = shown.expect("the story waited for the last amber").best();
        let setup = self.machine.setup().lane(lane).expect("somebody stands there").clone();
        let depth = self.machine.depth(lane, self.now).expect("somebody stands there");
        let car = car_part(&setup, depth);
        let interval = self.machine.setup().kind.green_gap();
        self.launch(shown + interval + rt + setup.offset - car, lane);
    }

    /// The first mark at which something happened.
    pub fn find(&self, wanted: impl Fn(&TreeEvent) -> bool) -> Option<Mark> {
        self.machine.trace().iter().find(|line| wanted(&line.event)).map(|line| line.at)
    }

    /// How often something happened.
    pub fn count(&self, wanted: impl Fn(&TreeEvent) -> bool) -> usize {
        self.machine.trace().iter().filter(|line| wanted(&line.event)).count()
    }

    /// When a lamp was due.
    pub fn due(&self, lane: Lane, lamp: Lamp) -> Option<Mark> {
        self.find(|e| *e == TreeEvent::LampDue { lane, lamp })
    }

    pub fn outcome(&self, lane: Lane) -> Option<Outcome> {
        self.machine.result(lane).map(|r| r.outcome)
    }

    /// Who loses by a foul, once that has been told.
    pub fn loser(&self) -> Option<Lane> {
        self.machine.trace().iter().find_map(|line| match line.event {
            TreeEvent::FoulLoses { lane } => Some(lane),
            _ => None,
        })
    }

    fn deliver(&mut self) {
        self.waiting.sort_by_key(|(at, _)| *at);
        while self.waiting.first().is_some_and(|(at, _)| *at <= self.now) {
            match self.waiting.remove(0) {
                (at, Input::Pedal(lane, pedal, down)) => {
                    self.machine.handle_control(at, lane, pedal, down);
                }
                (_, Input::Launch(lane, stamp)) => {
                    self.machine.handle_launch(lane, stamp);
                }
                (at, Input::BreakOff(lane)) => {
                    self.machine.break_off(at, lane, AbandonReason::Paused);
                }
                (_, Input::Shown(lane, lamp, stamp)) => {
                    self.machine.handle_shown(lane, lamp, stamp, FRAME);
                }
            }
        }
    }

    /// Lets screen and people answer to what has happened; true if there is an answer already.
    fn react(&mut self) -> bool {
        for line in self.machine.take_events() {
            match line.event {
                TreeEvent::LampDue { lane, lamp: lamp @ Lamp::Amber(_) } => {
                    if let Some(at) = (self.screen)(lane, lamp, line.at) {
                        self.waiting.push((at, Input::Shown(lane, lamp, Stamp::exact(at))));
                    }
                }
                TreeEvent::Beams { lane, state } => self.foot(lane, line.at, state),
                _ => {}
            }
        }
        self.waiting.iter().any(|(at, _)| *at <= self.now)
    }

    fn foot(&mut self, lane: Lane, at: Mark, state: BeamState) {
        let Some((_, thinks)) = self.rolls_in.iter().find(|(l, _)| *l == lane).copied() else {
            return;
        };
        if matches!(state, BeamState::PreStaged | BeamState::Staged) {
            self.pedal(at + FOOT, lane, Pedal::Creep, false);
            self.pedal(at + FOOT, lane, Pedal::Brake, true);
        }
        if state == BeamState::PreStaged {
            self.pedal(at + FOOT + thinks, lane, Pedal::Brake, false);
            self.pedal(at + FOOT + thinks, lane, Pedal::Creep, true);
        }
    }
}

/// Launch edge → clear of the beams for a car at rest at `depth`.
pub fn car_part(setup: &LaneSetup, depth: Inches) -> Span {
    let mut roll = Roll::at_rest(setup.zones, setup.handling, depth, START);
    roll.launch(START, setup.launch);
    roll.clears_at(START).expect("every car here gets away") - START
}
