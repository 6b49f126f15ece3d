//! The timed machine of the start line, two lanes.
//!
//! It is told everything: controls, launches and what the display showed come in with their own
//! marks, and `poll(now)` brings it up to a mark. It owns the order of events: all due things of
//! both lanes run in the order of their due marks, however seldom it is polled, so the same inputs
//! at the same marks give the same trace. Refuses clocks, drawing and anything the engine knows.

use super::countdown::LATE_NEWS;
use super::facts::{AbandonReason, Lamp, Lane, Outcome, Staging, TraceLine, TreeEvent, VoidReason};
use super::lane_state::{LaneResult, LaneState, LaunchTaken};
use super::other_driver::Action;
use super::setup::{Entry, StartSetup};
use crate::beams::{BeamState, Pedal};
use crate::seed::{self, Generator};
use crate::units::{Inches, Mark, Span, Stamp};

/// What breaking off does to a run.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum BreakOff {
    /// Before the first amber: nothing happened, the start is called off.
    StoodDown,
    /// After the first amber: the run is abandoned, which counts.
    Abandoned,
    /// A launch edge was seen or the run is over: it counts as it stands.
    Counts,
}

/// One thing that becomes due.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(super) enum Job {
    Crossing(Lane, BeamState),
    Cleared(Lane),
    Steady(Lane),
    TimeOut(Lane),
    Amber(Lane, u8),
    Green(Lane),
    Red(Lane),
    OtherDriver(Lane),
    NoOnset(Lane),
    Lapse(Lane),
    BlankEnd(Lane),
}

/// The moments of a countdown that is under way.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(super) struct Countdown {
    /// When the last lane became steady.
    pub armed: Mark,
    /// Due mark of the first amber of the lane that starts first.
    pub first_amber: Mark,
}

/// The start of one race.
#[derive(Debug, Clone)]
pub struct Machine {
    pub(super) setup: StartSetup,
    pub(super) lanes: [Option<LaneState>; 2],
    pub(super) countdown: Option<Countdown>,
    pub(super) random: Generator,
    clock: Mark,
    trace: Vec<TraceLine>,
    untold: usize,
    foul_told: bool,
}

impl Machine {
    /// A start that begins at `now`: cars where the setup puts them.
    pub fn new(setup: StartSetup, now: Mark) -> Self {
        let ambers = setup.kind.ambers();
        let random = seed::generator(setup.seed);
        let lanes = setup.lanes.clone().map(|l| l.map(|l| LaneState::new(l, ambers, now)));
        let mut machine = Self {
            setup,
            lanes,
            countdown: None,
            random,
            clock: now,
            trace: Vec::new(),
            untold: 0,
            foul_told: false,
        };
        for lane in Lane::BOTH {
            let alone = machine.lane(lane.other()).is_none();
            let last = machine.setup.kind.last_amber();
            if let Some(l) = machine.lane_mut(lane)
                && let Some(driver) = &mut l.setup.driver
            {
                driver.enter(now, last, matches!(l.setup.entry, Entry::Staged { .. }), alone);
            }
        }
        // Only once both are seated: each has to see where the other stands at first.
        for lane in Lane::BOTH {
            if let Some(state) = machine.lane(lane).map(|l| l.beams) {
                machine.tell(now, TreeEvent::Beams { lane, state });
            }
        }
        machine
    }

    /// The setup it runs.
    pub fn setup(&self) -> &StartSetup {
        &self.setup
    }

    /// Every event so far in the order of its mark. What shares a mark goes by cause and effect
    /// ([`TreeEvent::rank`]), then left before right: the order news arrived in leaves no trace.
    pub fn trace(&self) -> Vec<TraceLine> {
        let mut lines = self.trace.clone();
        lines.sort_by_key(|line| (line.at, line.event.rank(), line.event.lane()));
        lines
    }

    /// Events not handed out yet, in the order they became known.
    pub fn take_events(&mut self) -> Vec<TraceLine> {
        let news = self.trace[self.untold..].to_vec();
        self.untold = self.trace.len();
        news
    }

    /// How a lane's run ended, once it has.
    pub fn result(&self, lane: Lane) -> Option<LaneResult> {
        self.lane(lane)?.result
    }

    /// The launch edge taken for a lane.
    pub fn launch(&self, lane: Lane) -> Option<LaunchTaken> {
        self.lane(lane)?.launch
    }

    /// How a lane rolled in.
    pub fn staging(&self, lane: Lane) -> Staging {
        self.lane(lane).map(|l| l.staging).unwrap_or_default()
    }

    /// Where a lane's tyre stands as of the last poll.
    pub fn beams(&self, lane: Lane) -> Option<BeamState> {
        Some(self.lane(lane)?.beams)
    }

    /// A lane's depth at `mark`.
    pub fn depth(&self, lane: Lane, mark: Mark) -> Option<Inches> {
        Some(self.lane(lane)?.roll.depth(mark))
    }

    /// Whether the lane is staged and steady, so that a launch edge would count.
    pub fn is_steady(&self, lane: Lane) -> bool {
        self.lane(lane).is_some_and(|l| l.steady.is_some() && l.result.is_none())
    }

    /// Whether the lane rolled through and has to back out behind the stage beam first.
    pub fn must_back_out(&self, lane: Lane) -> bool {
        self.lane(lane).is_some_and(|l| l.is_staging() && l.backing_out)
    }

    /// When the countdown was armed, while one is under way.
    pub fn armed_at(&self) -> Option<Mark> {
        Some(self.countdown?.armed)
    }

    /// Due mark of a lane's amber `i`, while a countdown is under way.
    pub fn amber_due(&self, lane: Lane, i: u8) -> Option<Mark> {
        let delay = self.lane(lane)?.setup.tree_delay;
        Some(self.countdown?.first_amber + delay + self.setup.kind.amber_due(i))
    }

    /// When the display lit a lane's amber `i`.
    pub fn amber_shown(&self, lane: Lane, i: u8) -> Option<Stamp> {
        self.lane(lane)?.shown.get(usize::from(i)).copied().flatten()
    }

    /// Due mark of a lane's green, once its last amber was seen.
    pub fn green_due(&self, lane: Lane) -> Option<Mark> {
        let shown = self.lane(lane)?.last_shown()?;
        Some(shown.best() + self.setup.kind.green_gap())
    }

    /// The next mark at which something happens by itself.
    pub fn next_due(&self) -> Option<Mark> {
        self.next_job().map(|(at, _)| at)
    }

    /// Works a pedal of a lane. It acts at its own mark or at the last poll, whichever is later.
    pub fn handle_control(&mut self, mark: Mark, lane: Lane, pedal: Pedal, down: bool) {
        self.poll(mark);
        let at = mark.max(self.clock);
        if let Some(l) = self.lane_mut(lane) {
            l.roll.pedal(at, pedal, down);
        }
    }

    /// Takes a launch edge, which keeps its own mark. False where it counts for nothing: the lane
    /// is not staged and steady yet, has launched already or is over.
    pub fn handle_launch(&mut self, lane: Lane, stamp: Stamp) -> bool {
        self.poll(stamp.best());
        let at = stamp.best();
        if self.is_too_late_to_launch(lane, at) {
            return false;
        }
        let Some(l) = self.lane_mut(lane) else { return false };
        let counts = l.steady.is_some_and(|steady| at >= steady);
        if !counts || l.result.is_some() || l.launch.is_some() {
            return false;
        }
        let depth = l.roll.depth(at);
        l.roll.launch(at, l.setup.launch);
        l.crossings_to = l.crossings_to.min(at);
        // A launch always has a positive pull, so the tyre gets through; the mark itself is only a
        // fallback for a pull so weak that it takes over a minute.
        let clears = l.roll.clears_at(at).unwrap_or(at);
        l.launch = Some(LaunchTaken { stamp, depth, clears });
        self.tell(at, TreeEvent::Launch { lane, stamp, depth });
        true
    }

    /// Takes the display's word that a lamp is lit. `frame` is the running median of presented
    /// frame intervals.
    pub fn handle_shown(&mut self, lane: Lane, lamp: Lamp, stamp: Stamp, frame: Span) {
        self.tell(stamp.best(), TreeEvent::LampShown { lane, lamp, stamp });
        if let Lamp::Amber(i) = lamp {
            self.amber_was_shown(lane, i, stamp, frame);
        }
    }

    /// The run can't be timed: the driver's lane is void.
    pub fn void(&mut self, now: Mark, lane: Lane, why: VoidReason) {
        self.settle(lane, now.max(self.clock), Outcome::Void(why));
    }

    /// The driver breaks off.
    pub fn break_off(&mut self, now: Mark, lane: Lane, why: AbandonReason) -> BreakOff {
        self.poll(now);
        let Some(l) = self.lane(lane) else { return BreakOff::StoodDown };
        if l.result.is_some() || l.launch.is_some() {
            return BreakOff::Counts;
        }
        if !self.tree_runs(now) {
            return BreakOff::StoodDown;
        }
        self.settle(lane, now, Outcome::Abandoned(why));
        BreakOff::Abandoned
    }

    /// Brings everything up to `now`. A mark before the last poll changes nothing.
    pub fn poll(&mut self, now: Mark) {
        while let Some((due, job)) = self.next_job().filter(|(due, _)| *due <= now) {
            self.clock = self.clock.max(due);
            self.run(job, due);
        }
        self.clock = self.clock.max(now);
    }

    /// Whether the first amber of the lane that starts first has come. From then on a start can't
    /// be called off any more, in either lane.
    pub(super) fn tree_runs(&self, at: Mark) -> bool {
        self.countdown.is_some_and(|c| at >= c.first_amber)
    }

    pub(super) fn lane(&self, lane: Lane) -> Option<&LaneState> {
        self.lanes[lane.index()].as_ref()
    }

    pub(super) fn lane_mut(&mut self, lane: Lane) -> Option<&mut LaneState> {
        self.lanes[lane.index()].as_mut()
    }

    /// Writes a fact down and lets the other drivers see it.
    pub(super) fn tell(&mut self, at: Mark, event: TreeEvent) {
        let line = TraceLine { at, event };
        self.trace.push(line);
        for lane in Lane::BOTH {
            let Some(l) = self.lane_mut(lane).filter(|l| !l.is_person()) else { continue };
            let car_part = l.car_part(at);
            if let Some(driver) = &mut l.setup.driver {
                driver.notice(lane, &line, car_part);
            }
        }
    }

    pub(super) fn settle(&mut self, lane: Lane, at: Mark, outcome: Outcome) {
        let interval = self.setup.kind.green_gap();
        let blank = self.setup.blank;
        let Some(l) = self.lane_mut(lane) else { return };
        if l.result.is_some() {
            return;
        }
        let parts = if blank { None } else { l.parts(interval) };
        // Green is drawn before a red is known only when the launch edge was told late.
        let lamp_corrected = outcome == Outcome::Red && l.green_told;
        l.result = Some(LaneResult { at, outcome, parts, lamp_corrected });
        self.tell(at, TreeEvent::Settled { lane, outcome });
        if !self.foul_told
            && let Some(lane) = self.foul_loses()
        {
            self.foul_told = true;
            // The ruling needs both: it stands from the later end, whichever was told last.
            let ends = self.lanes.iter().flatten().filter_map(|l| l.result).map(|r| r.at);
            let both = ends.max().unwrap_or(at);
            self.tell(both, TreeEvent::FoulLoses { lane });
        }
    }

    fn next_job(&self) -> Option<(Mark, Job)> {
        let mut first: Option<(Mark, Job)> = None;
        let mut offer = |due: Option<Mark>, job: Job| {
            if let Some(due) = due
                && first.is_none_or(|(at, _)| due < at)
            {
                first = Some((due, job));
            }
        };
        for lane in Lane::BOTH {
            let Some(l) = self.lane(lane) else { continue };
            if let Some((at, state)) = l.roll.next_crossing(l.crossings_to) {
                offer(Some(at), Job::Crossing(lane, state));
            }
            offer(self.cleared_due(lane), Job::Cleared(lane));
            offer(self.steady_due(lane), Job::Steady(lane));
            offer(self.time_out_due(lane), Job::TimeOut(lane));
            offer(self.next_amber_due(lane), Job::Amber(lane, l.ambers_told));
            offer(self.green_to_tell(lane), Job::Green(lane));
            offer(self.red_to_tell(lane), Job::Red(lane));
            let driver = l.setup.driver.as_ref();
            offer(driver.and_then(|d| d.next_due()), Job::OtherDriver(lane));
            offer(self.no_onset_due(lane), Job::NoOnset(lane));
            offer(self.lapse_due(lane), Job::Lapse(lane));
            offer(self.blank_end_due(lane), Job::BlankEnd(lane));
        }
        first
    }

    fn run(&mut self, job: Job, due: Mark) {
        match job {
            Job::Crossing(lane, state) => self.cross(lane, due, state),
            Job::Cleared(lane) => self.clear(lane, due),
            Job::Steady(lane) => self.become_steady(lane, due),
            Job::TimeOut(lane) => self.run_out_of_time(lane, due),
            Job::Amber(lane, i) => self.tell_amber(lane, due, i),
            Job::Green(lane) => self.tell_green(lane, due),
            Job::Red(lane) => self.tell_red(lane, due),
            // Absence is noticed late but dated when it became a fact.
            Job::NoOnset(lane) => {
                let why = VoidReason::NoOnset;
                self.settle(lane, due - LATE_NEWS, Outcome::Void(why));
            }
            Job::Lapse(lane) => self.settle(lane, due - LATE_NEWS, Outcome::Lapse),
            Job::BlankEnd(lane) => self.settle(lane, due - LATE_NEWS, Outcome::Stayed),
            Job::OtherDriver(lane) => self.drive(lane),
        }
    }

    fn drive(&mut self, lane: Lane) {
        let driver = self.lane_mut(lane).and_then(|l| l.setup.driver.as_mut());
        match driver.and_then(|d| d.act()) {
            Some((at, Action::Pedal(pedal, down))) => self.handle_control(at, lane, pedal, down),
            Some((at, Action::Launch)) => {
                self.handle_launch(lane, Stamp::exact(at));
            }
            None => {}
        }
    }
}
