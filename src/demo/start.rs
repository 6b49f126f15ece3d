//! One run of the made-up driver through the machine of the start line.
//!
//! Owns the screen and the hands of the driver in made-up time, and the record of what came out.
//! Refuses to decide an outcome: the machine does.

use super::calendar::{Mishap, Planned};
use super::person::Person;
use super::truth;
use crate::beams::{BeamState, Handling, Pedal};
use crate::press::Origin;
use crate::rules::{FoulRule, Procedure, TreeKind};
use crate::seed::{Generator, seed_of_run};
use crate::tree::{
    AbandonReason, Entry, Lamp, Lane, LaneSetup, Machine, OtherDriver, SentBack, StartSetup,
    Temper, TreeEvent,
};
use crate::trial::{Drill, LampFact, LaunchFact, stamp_since};
use crate::units::{Inches, Mark, Span, Stamp};
use rand::RngExt;

/// The driver's lane.
pub(super) const LANE: Lane = Lane::Left;
/// Frames of the display.
pub(super) const FRAME: Span = Span::from_us(16_667);
/// Every run begins here.
const START: Mark = Mark::from_ns(3_600_000_000_000);
/// No run takes longer.
const LONGEST: Span = Span::from_ms(120_000);
/// Share of guess-test runs without a last amber.
const BLANK_SHARE: f64 = 0.20;
/// How much earlier the other lane's tree starts, ms.
const HEAD_START_MS: (i64, i64) = (400, 3_000);
/// How far short of the pre-stage beam the car waits.
const BEHIND: Inches = Inches(14.0);

/// What stays the same from run to run.
pub(super) struct Scene {
    /// The car in its lane, staged; the rig's delay in force.
    pub own: LaneSetup,
    /// The car of a stranger.
    pub other: LaneSetup,
}

/// A run that is over.
pub(super) struct Finished {
    pub machine: Machine,
    /// Who stood in the other lane.
    pub temper: Option<Temper>,
    /// Lamps of the driver's lane in the order of their due marks.
    pub lamps: Vec<LampFact>,
    /// The launch edge.
    pub launch: Option<LaunchFact>,
    /// From the first frame to the end.
    pub took: Span,
}

/// Something a screen or a driver does at its mark.
#[derive(Debug, Clone, Copy)]
enum Act {
    Pedal(Pedal, bool),
    Launch(Stamp),
    Shown(Lane, Lamp, Stamp),
    BreakOff(AbandonReason),
}

struct Run<'a> {
    machine: Machine,
    planned: Planned,
    person: &'a mut Person,
    random: &'a mut Generator,
    todo: Vec<(Mark, Act)>,
    shown: Vec<(Lamp, Stamp)>,
    foot: Span,
}

/// Drives a planned run to its end.
pub(super) fn drive(
    scene: &Scene,
    planned: Planned,
    seed: u64,
    person: &mut Person,
    random: &mut Generator,
) -> Finished {
    let temper = other_lane(planned.drill, seed);
    let setup = setup(scene, planned.drill, temper, seed, random);
    let (todo, shown) = (Vec::new(), Vec::new());
    let foot = Span::from_ms(random.random_range(180..260));
    let machine = Machine::new(setup, START);
    let mut run = Run { machine, planned, person, random, todo, shown, foot };
    if planned.drill == Drill::RollUp {
        run.todo.push((START + Span::from_ms(600), Act::Pedal(Pedal::Creep, true)));
    }
    let end = run.run_out();
    run.finished(temper, end)
}

fn setup(
    scene: &Scene,
    drill: Drill,
    temper: Option<Temper>,
    seed: u64,
    random: &mut Generator,
) -> StartSetup {
    let mut own = scene.own.clone();
    let roll_up = drill == Drill::RollUp;
    if roll_up {
        own.entry = Entry::Rolling { behind: BEHIND };
    }
    if drill == Drill::OtherLaneFirst {
        own.tree_delay = Span::from_ms(random.random_range(HEAD_START_MS.0..=HEAD_START_MS.1));
    }
    let other = temper.map(|temper| LaneSetup {
        entry: own.entry,
        driver: Some(OtherDriver::new(temper, seed_of_run(seed, 0))),
        ..scene.other.clone()
    });
    StartSetup {
        kind: TreeKind::full(),
        procedure: if roll_up { Procedure::bracket() } else { Procedure::tree_only() },
        foul_rule: FoulRule::First,
        blank: drill == Drill::GuessTest && random.random::<f64>() < BLANK_SHARE,
        lanes: [Some(own), other],
        seed,
    }
}

fn other_lane(drill: Drill, seed: u64) -> Option<Temper> {
    match (drill, seed % 10) {
        (Drill::RollUp, 0..=6) | (Drill::OtherLaneFirst, _) => Some(Temper::Prompt),
        (Drill::RollUp, 7..=8) => Some(Temper::Slow),
        (Drill::RollUp, _) => Some(Temper::ForgetsCourtesy),
        _ => None,
    }
}

impl Run<'_> {
    /// Goes from one thing that happens to the next until the driver's lane is over.
    fn run_out(&mut self) -> Mark {
        let mut now = START;
        loop {
            self.machine.poll(now);
            for line in self.machine.take_events() {
                self.notice(line.at, line.event);
            }
            if self.machine.result(LANE).is_some() || now - START > LONGEST {
                return now;
            }
            let own = self.todo.iter().map(|(at, _)| *at).min();
            let next = own.into_iter().chain(self.machine.next_due()).min();
            let Some(next) = next else { return now };
            now = now.max(next);
            self.act(now);
        }
    }

    /// Does what is due by `now`, the earliest first.
    fn act(&mut self, now: Mark) {
        self.todo.sort_by_key(|(at, _)| *at);
        let due = self.todo.partition_point(|(at, _)| *at <= now);
        for (at, act) in self.todo.drain(..due).collect::<Vec<_>>() {
            match act {
                Act::Pedal(pedal, down) => self.machine.handle_control(at, LANE, pedal, down),
                Act::Launch(stamp) => drop(self.machine.handle_launch(LANE, stamp)),
                Act::Shown(lane, lamp, stamp) => {
                    self.machine.handle_shown(lane, lamp, stamp, FRAME);
                }
                Act::BreakOff(why) => drop(self.machine.break_off(at, LANE, why)),
            }
        }
    }

    /// Screen and driver answer to a fact of the start.
    fn notice(&mut self, at: Mark, event: TreeEvent) {
        let last = Lamp::Amber(self.machine.setup().kind.last_amber());
        match event {
            TreeEvent::Armed { first_amber } => self.tree_is_armed(first_amber),
            TreeEvent::LampDue { lane, lamp } => self.light(lane, lamp, at),
            TreeEvent::LampShown { lane, lamp, stamp } if lane == LANE && lamp == last => {
                self.leave_after(stamp);
            }
            TreeEvent::Beams { lane, state } => self.watch_beams(lane, at, state),
            TreeEvent::SentBack { lane, why } if lane == LANE => self.stage_again(at, why),
            _ => {}
        }
    }

    /// What the driver does before the last amber, if anything.
    fn tree_is_armed(&mut self, first_amber: Mark) {
        let own = self.machine.amber_due(LANE, 0).unwrap_or(first_amber);
        let act = match self.planned.mishap {
            Some(Mishap::TooSoon) => {
                // Gone before the first amber even where the car takes its time.
                let at = own - Span::from_ms(620);
                Act::Launch(Stamp::around(at, half_width(truth::PRESS_DOUBT_MS)))
            }
            Some(Mishap::FocusLost) => Act::BreakOff(AbandonReason::FocusLost),
            Some(Mishap::Paused) => Act::BreakOff(AbandonReason::Paused),
            _ if self.machine.setup().blank => return self.sit_out_a_blank(),
            _ => return,
        };
        let at = match act {
            Act::Launch(stamp) => stamp.best(),
            _ => own + Span::from_ms(700),
        };
        self.todo.push((at, act));
    }

    /// A blank run: stay, or leave by guess.
    fn sit_out_a_blank(&mut self) {
        let last = self.machine.setup().kind.last_amber();
        let (guess, due) = (self.person.guess_ms(self.random), self.machine.amber_due(LANE, last));
        if let (Some(after_ms), Some(due)) = (guess, due) {
            self.press(due + Span::from_ms_f64(after_ms));
        }
    }

    /// The screen lights a lamp near its due mark.
    fn light(&mut self, lane: Lane, lamp: Lamp, due: Mark) {
        if !matches!(lamp, Lamp::Amber(_) | Lamp::Green) {
            return;
        }
        let last = lamp == Lamp::Amber(self.machine.setup().kind.last_amber());
        let late_ms = if self.planned.mishap == Some(Mishap::Late) && last && lane == LANE {
            70.0
        } else {
            self.random.random_range(-2.0..5.0)
        };
        let stamp =
            Stamp::around(due + Span::from_ms_f64(late_ms), half_width(truth::LAMP_DOUBT_MS));
        // The display says so a frame later; the stamp keeps its own mark.
        self.todo.push((stamp.best().max(due) + FRAME, Act::Shown(lane, lamp, stamp)));
        if lane == LANE {
            self.shown.push((lamp, stamp));
        }
    }

    /// The last amber is on: the driver leaves.
    fn leave_after(&mut self, shown: Stamp) {
        if matches!(self.planned.mishap, Some(Mishap::Asleep | Mishap::TooSoon)) {
            return;
        }
        let part_ms = self.person.launch_ms(self.planned.style, self.random);
        let doubt = truth::LAMP_DOUBT_MS;
        let lit = shown.best() + Span::from_ms_f64(self.random.random_range(-doubt..doubt));
        self.press(lit + Span::from_ms_f64(part_ms));
    }

    /// The driver means to leave at `at`: the edge is stamped later by the rig's delay.
    fn press(&mut self, at: Mark) {
        let poll = 0.5 * truth::POLL_MS;
        let doubt = truth::PRESS_DOUBT_MS;
        let late_ms = truth::RIG_DELAY_MS
            + self.random.random_range(-poll..poll)
            + self.random.random_range(-doubt..doubt);
        let stamp = Stamp::around(at + Span::from_ms_f64(late_ms), half_width(doubt));
        self.todo.push((stamp.best(), Act::Launch(stamp)));
    }

    /// Rolls in, waits in pre-stage for the other lane, stages.
    fn watch_beams(&mut self, lane: Lane, at: Mark, state: BeamState) {
        if self.planned.drill != Drill::RollUp || self.machine.launch(LANE).is_some() {
            return;
        }
        let reacts = at + self.foot;
        let pre_staged = self.machine.beams(LANE) == Some(BeamState::PreStaged);
        let other_in = self.machine.beams(lane.other()).is_none_or(|other| other != BeamState::Out);
        match (lane == LANE, state) {
            (true, BeamState::PreStaged | BeamState::Staged) => {
                self.stop(reacts);
                if state == BeamState::PreStaged && other_in {
                    self.creep_on(reacts);
                }
            }
            (false, BeamState::PreStaged | BeamState::Staged) if pre_staged && !self.goes_on() => {
                self.creep_on(reacts);
            }
            _ => {}
        }
    }

    fn stage_again(&mut self, at: Mark, why: SentBack) {
        self.todo.retain(|(_, act)| !matches!(act, Act::Pedal(..)));
        let again = at + self.foot + Span::from_ms(600);
        self.stop(at + self.foot);
        if why == SentBack::RolledThrough {
            self.todo.push((again, Act::Pedal(Pedal::Brake, false)));
            self.todo.push((again, Act::Pedal(Pedal::Back, true)));
        } else {
            self.creep_on(at + self.foot);
        }
    }

    /// Brakes, whatever was meant to be done with the pedals.
    fn stop(&mut self, at: Mark) {
        self.todo.retain(|(_, act)| !matches!(act, Act::Pedal(Pedal::Creep | Pedal::Brake, _)));
        for (pedal, down) in [(Pedal::Creep, false), (Pedal::Back, false), (Pedal::Brake, true)] {
            self.todo.push((at, Act::Pedal(pedal, down)));
        }
    }

    /// The last few inches are already decided on.
    fn goes_on(&self) -> bool {
        self.todo.iter().any(|(_, act)| matches!(act, Act::Pedal(Pedal::Creep, true)))
    }

    fn creep_on(&mut self, at: Mark) {
        let at = at + Span::from_ms(self.random.random_range(500..1400));
        self.todo.push((at, Act::Pedal(Pedal::Brake, false)));
        self.todo.push((at, Act::Pedal(Pedal::Creep, true)));
    }

    fn finished(self, temper: Option<Temper>, end: Mark) -> Finished {
        let machine = self.machine;
        let shown = |lamp| self.shown.iter().find(|(l, _)| *l == lamp).map(|(_, stamp)| *stamp);
        let kind = &machine.setup().kind;
        let ambers =
            (0..kind.ambers()).filter_map(|i| Some((Lamp::Amber(i), machine.amber_due(LANE, i)?)));
        let green = machine.green_due(LANE).map(|due| (Lamp::Green, due));
        let fact = |(lamp, due): (Lamp, Mark)| LampFact {
            lamp,
            due: due - START,
            shown: shown(lamp).map(|stamp| stamp_since(START, stamp)),
        };
        let lamps = ambers.chain(green).map(fact).collect();
        let launch = machine.launch(LANE).map(|launch| LaunchFact {
            at: stamp_since(START, launch.stamp),
            origin: Origin::Server,
            sources_disagree: false,
            depth: launch.depth,
        });
        Finished { temper, lamps, launch, took: end - START, machine }
    }
}

/// The staged car of a lane with everything else as usual.
pub(super) fn lane_of(model: &crate::car::CarModel, offset: Span) -> LaneSetup {
    use crate::beams::{BeamZones, LaunchLaw};
    let (tyre, beams) = (model.tyre(), model.beams());
    let chord = tyre.chord(beams.beam_height());
    let chord = chord.expect("tyre and beam line are made to fit each other");
    LaneSetup {
        zones: BeamZones::new(chord, beams.prestage_to_stage(), beams.stage_to_guard()),
        handling: Handling::default(),
        launch: LaunchLaw {
            g: model.launch_g().value,
            lag: Span::from_secs_f64(model.lag_s().value),
        },
        entry: Entry::Staged { depth: Inches(model.depth_in().value) },
        offset,
        tree_delay: Span::ZERO,
        driver: None,
    }
}

fn half_width(ms: f64) -> Span {
    Span::from_ms_f64(ms)
}
