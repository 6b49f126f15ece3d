//! A driver of metal: follows the prompts, watches the ambers, leaves when told to, and encloses
//! its own reaction between two moments.
//!
//! Owns one run from the prompt to the verdict. Refuses to press anything the prompt in force does
//! not name, except the launch and the key that changes the drill.

use std::thread;
use std::time::{Duration, Instant};

use crate::eyes::Eyes;
use crate::keys::{Sent, now_ns, sleep_until};
use crate::prompts::{Follower, TAP, tap};
use crate::rig::Rig;
use crate::trace::{Event, Press, Trace, Verdict};
use crate::xserver::Outcome;

/// From amber to amber of a full tree; only used to leave *before* the last one.
const AMBER_STEP_NS: i64 = 500_000_000;
/// Between two looks at a lamp while its moment is near.
const LOOK: Duration = Duration::from_micros(60);
/// Between two looks while its moment is far.
const FAR_LOOK: Duration = Duration::from_millis(1);

/// When to leave.
#[derive(Debug, Clone, Copy)]
pub enum Leave {
    /// So long after the last amber was seen, ns.
    AfterSight(i64),
    /// At this moment, seen or not, ns.
    At(i64),
}

/// What the robot saw and did: the lamp lit between two looks, the press between two moments.
#[derive(Debug, Clone, Copy)]
pub struct Sighting {
    pub last_dark_ns: i64,
    pub first_lit_ns: i64,
    pub press: Sent,
}

impl Sighting {
    /// The smallest and the largest the robot's own driver part can have been, ns.
    pub fn driver_part_ns(&self) -> (i64, i64) {
        (self.press.before_ns - self.first_lit_ns, self.press.after_ns - self.last_dark_ns)
    }
}

/// A run that was played to its end.
#[derive(Debug, Clone)]
pub struct Played {
    pub verdict: Verdict,
    /// `None` when the program broke the run off before the robot had seen and pressed.
    pub sighting: Option<Sighting>,
    /// From due to shown of the last amber by the program's own account, ns.
    pub shown_after_due_ns: Option<i64>,
    /// The driver part that stamps of the update loop alone would have given: from the update that
    /// drew the last amber to the update that took the press out of the window's queue, ns.
    pub stock_driver_ns: Option<i64>,
}

/// The robot at the wheel of one running program.
pub struct Player {
    pub rig: Rig,
    pub eyes: Eyes,
    pub follower: Follower,
}

impl Player {
    /// Takes the wheel.
    pub fn new(rig: Rig) -> Self {
        Self { rig, eyes: Eyes::default(), follower: Follower::new() }
    }

    /// Goes the way in and switches the drill to tree-only.
    pub fn enter_tree_only(&mut self) -> Outcome<()> {
        let end = Instant::now() + Duration::from_secs(60);
        loop {
            self.rig.trace.poll()?;
            if in_lane(&self.rig.trace) {
                break;
            }
            self.follower.step(&self.rig)?;
            self.must_run("on the way in", end)?;
            thread::sleep(Duration::from_millis(5));
        }
        self.follower.let_go(&self.rig)?;
        // The scene settles, and a prompt and the rectangles are there, before the first look.
        thread::sleep(Duration::from_millis(500));
        let short = Duration::from_secs(10);
        self.rig.wait_for("a prompt and the lamp rectangles in the lane", short, |t| {
            let lane = t.you()?;
            t.rect(&lane, "amber-3").and(t.prompt().map(|_| ()))
        })?;
        self.rig.take_focus()?;
        for _ in 0..6 {
            if drill(&self.rig.trace).as_deref() == Some("tree-only") {
                return self.eyes.learn_dark(&self.rig);
            }
            let from = self.rig.trace.lines().len();
            tap(&self.rig.keys, "KeyD")?;
            self.rig.wait_for("`drill` after KeyD", short, |t| {
                t.events_from(from).any(|e| matches!(e, Event::Drill(_))).then_some(())
            })?;
        }
        Err("KeyD six times, and the drill is still not tree-only".to_owned())
    }

    /// Plays one run of the tree-only drill, meaning to leave `d_ns` after the last amber.
    pub fn play(&mut self, d_ns: i64) -> Outcome<Played> {
        self.rig.wait_for("the prompt `Space`", Duration::from_secs(12), |t| {
            matches!(t.prompt(), Some((_, Press::Tap(key))) if key == "Space").then_some(())
        })?;
        self.rig.keys.focus()?;
        let from = self.rig.trace.lines().len();
        tap(&self.rig.keys, "Space")?;
        self.rig.wait_for("`armed` after Space", Duration::from_secs(8), |t| {
            t.events_from(from).any(|e| matches!(e, Event::Armed)).then_some(())
        })?;
        self.wait_until_dark()?;
        let sighting = match self.see_second_amber(from)? {
            Some(seen_ns) if d_ns < 0 => {
                self.leave(Leave::At(seen_ns + AMBER_STEP_NS + d_ns), seen_ns, from)?
            }
            Some(seen_ns) => self.leave(Leave::AfterSight(d_ns), seen_ns, from)?,
            None => None,
        };
        let verdict = self.verdict(from)?;
        let shown_after_due_ns = self.shown_after_due(from);
        let stock_driver_ns = self.stock_driver(from);
        Ok(Played { verdict, sighting, shown_after_due_ns, stock_driver_ns })
    }

    /// Watches the driver's last amber and taps Space as `plan` says. `second_ns` is when the amber
    /// before was seen. `None` when the program broke the run off.
    pub fn leave(&mut self, plan: Leave, second_ns: i64, from: usize) -> Outcome<Option<Sighting>> {
        let place = self.rig.place("amber-3")?;
        let lit_from = self.eyes.lit_from("amber-3")?;
        // At 20 frames per second two neighbouring ambers can be a frame closer than their step.
        sleep_until(second_ns + AMBER_STEP_NS - 150_000_000);
        let give_up_ns = second_ns + 2 * AMBER_STEP_NS;
        let (mut last_dark_ns, mut first_lit_ns, mut press) = (second_ns, None, None);
        loop {
            let before_ns = now_ns();
            if first_lit_ns.is_none() {
                if self.rig.screen.brightness(place)? >= lit_from {
                    first_lit_ns = Some(now_ns());
                } else {
                    last_dark_ns = before_ns;
                }
            }
            let due_ns = match plan {
                Leave::At(ns) => Some(ns),
                Leave::AfterSight(d_ns) => first_lit_ns.map(|ns| ns + d_ns),
            };
            if press.is_none() && due_ns.is_some_and(|due| now_ns() >= due) {
                press = Some(self.rig.keys.down("Space")?);
                continue;
            }
            if let (Some(first_lit_ns), Some(press)) = (first_lit_ns, press) {
                self.finish_tap(press)?;
                return Ok(Some(Sighting { last_dark_ns, first_lit_ns, press }));
            }
            if first_lit_ns.is_none() && now_ns() > give_up_ns {
                if let Some(press) = press {
                    self.finish_tap(press)?;
                }
                return self.broken_off(from, "amber-3");
            }
            match (first_lit_ns, due_ns) {
                (Some(_), Some(due)) if press.is_none() => sleep_until(due),
                (_, Some(due)) if press.is_none() && due - now_ns() < 60_000 => sleep_until(due),
                _ => thread::sleep(LOOK),
            }
        }
    }

    /// The verdict of the run whose trace starts at line `from`; it must have been saved before.
    pub fn verdict(&mut self, from: usize) -> Outcome<Verdict> {
        let found = |t: &Trace| t.events_from(from).find_map(verdict_of);
        let verdict = self.rig.wait_for("`verdict shown`", Duration::from_secs(15), found)?;
        let saved_first = self
            .rig
            .trace
            .events_from(0)
            .take_while(|e| verdict_of(e).is_none_or(|v| v.id != verdict.id))
            .any(|e| matches!(e, Event::Saved(id) if *id == verdict.id));
        if saved_first {
            Ok(verdict)
        } else {
            Err(format!("the verdict of {} was shown before it was saved", verdict.id))
        }
    }

    /// An error once the program has ended or `end` has passed.
    pub fn must_run(&self, doing: &str, end: Instant) -> Outcome<()> {
        match self.rig.ended() {
            Some(how) => Err(format!("{doing}: the program ended ({how})")),
            None if Instant::now() > end => Err(format!("{doing}: not done in time")),
            None => Ok(()),
        }
    }

    fn finish_tap(&self, press: Sent) -> Outcome<()> {
        sleep_until(press.before_ns + TAP.as_nanos() as i64);
        self.rig.keys.up("Space").map(|_| ())
    }

    /// Lamps of the run before may still be lit for a frame or two after arming.
    fn wait_until_dark(&self) -> Outcome<()> {
        let end = Instant::now() + Duration::from_millis(600);
        while self.eyes.is_lit(&self.rig, "amber-2")? || self.eyes.is_lit(&self.rig, "amber-3")? {
            self.must_run("waiting for dark ambers after arming", end)?;
            thread::sleep(FAR_LOOK);
        }
        Ok(())
    }

    /// Waits for the second amber; when it was seen, ns. `None` when a verdict came instead.
    pub fn see_second_amber(&mut self, from: usize) -> Outcome<Option<i64>> {
        let place = self.rig.place("amber-2")?;
        let lit_from = self.eyes.lit_from("amber-2")?;
        let end = Instant::now() + Duration::from_secs(20);
        let mut looks = 0_u32;
        while self.rig.screen.brightness(place)? < lit_from {
            looks += 1;
            if looks.is_multiple_of(50) {
                self.rig.trace.poll()?;
                if self.rig.trace.events_from(from).any(|e| verdict_of(e).is_some()) {
                    return Ok(None);
                }
                let colour = self.rig.screen.pixel(place)?;
                let doing = format!("waiting to see amber-2 lit: pixel {place:?} is {colour:?}");
                self.must_run(&doing, end)?;
            }
            thread::sleep(FAR_LOOK);
        }
        Ok(Some(now_ns()))
    }

    /// A lamp that never lit is no error only if the program itself says so with a verdict.
    fn broken_off(&mut self, from: usize, lamp: &str) -> Outcome<Option<Sighting>> {
        let place = self.rig.place(lamp)?;
        let colour = self.rig.screen.pixel(place)?;
        let verdict = self.verdict(from).map_err(|e| {
            format!(
                "{lamp} was never seen lit (its centre, pixel {place:?}, is {colour:?}), then {e}"
            )
        })?;
        match verdict.outcome.as_str() {
            "void" => Ok(None),
            other => Err(format!("{lamp} was never seen lit, yet the verdict is {other}")),
        }
    }

    fn shown_after_due(&self, from: usize) -> Option<i64> {
        let you = self.rig.trace.you()?;
        let events = || self.rig.trace.events_from(from);
        let due = events().find_map(|e| match e {
            Event::Due { lane, lamp, due_ns } if *lane == you && lamp == "amber-3" => Some(*due_ns),
            _ => None,
        })?;
        events().find_map(|e| match e {
            Event::Shown { lane, lamp, best_ns, .. } if *lane == you && lamp == "amber-3" => {
                Some(best_ns - due)
            }
            _ => None,
        })
    }

    fn stock_driver(&self, from: usize) -> Option<i64> {
        let you = self.rig.trace.you()?;
        let events = || self.rig.trace.events_from(from);
        let decided = events().find_map(|e| match e {
            Event::Shown { lane, lamp, decided_ns, .. } if *lane == you && lamp == "amber-3" => {
                Some(*decided_ns)
            }
            _ => None,
        })?;
        events().find_map(|e| match e {
            Event::Launch { drained_ns } => Some(drained_ns - decided),
            _ => None,
        })
    }
}

/// Whether the lane is on the screen.
pub fn in_lane(trace: &Trace) -> bool {
    trace.last(|e| if let Event::Screen(name) = e { Some(name == "lane") } else { None })
        == Some(true)
}

/// The verdict an event carries.
pub fn verdict_of(event: &Event) -> Option<Verdict> {
    if let Event::VerdictShown(verdict) = event { Some(verdict.clone()) } else { None }
}

fn drill(trace: &Trace) -> Option<String> {
    trace.last(|e| if let Event::Drill(name) = e { Some(name.clone()) } else { None })
}
