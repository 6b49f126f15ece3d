//! A newcomer's first minutes: an empty folder, and only what the prompts name.
//!
//! Owns the story from the first screen to the first verdict, and its pictures. Refuses any
//! knowledge of the screens in between.

use std::fs;
use std::path::PathBuf;
use std::thread;
use std::time::{Duration, Instant};

use tempfile::TempDir;

use crate::framebuffer::Rect;
use crate::player::{Leave, Player, in_lane, verdict_of};
use crate::rig::{Rig, Start, WINDOW, Watchdog};
use crate::trace::{Event, Press, Verdict};
use crate::xserver::{Outcome, XServer};

/// A newcomer has a verdict within this.
const STORY_LIMIT: Duration = Duration::from_secs(120);
/// The newcomer leaves this long after the last amber, ns.
const LEAVES_NS: i64 = 200_000_000;
/// An event is on the screen a few frames after the trace tells of it.
const SHOT_DELAY: Duration = Duration::from_millis(250);

/// Plays the story: roll-up from an empty folder until a red or a green.
pub fn tell() -> Outcome<()> {
    let server = XServer::start(800, 480)?;
    let folder = TempDir::new().map_err(|e| e.to_string())?;
    let data = folder.path().join("data");
    fs::create_dir(&data).map_err(|e| e.to_string())?;
    let trace = folder.path().join("trace.txt");
    let start = Start::usual(&data, &trace, 11);
    let watchdog = Watchdog::after(STORY_LIMIT * 2);
    watchdog.watch(server.process());
    let mut player = Player::new(Rig::start(&server, start)?);
    watchdog.watch(player.rig.process());
    let mut shots = Shots::from_environment()?;
    follow(&mut player, &mut shots).map_err(|e| player.rig.explain(&e))
}

fn follow(player: &mut Player, shots: &mut Shots) -> Outcome<()> {
    let begun = Instant::now();
    let mut left = false;
    loop {
        player.rig.trace.poll()?;
        player.follower.step(&player.rig)?;
        shots.look(&player.rig)?;
        let run_from =
            player.rig.trace.lines().iter().rposition(|line| matches!(line.event, Event::Run));
        if let Some(verdict) =
            run_from.and_then(|n| player.rig.trace.events_from(n).find_map(verdict_of))
        {
            if verdict.outcome != "void" {
                shots.finish(&player.rig)?;
                return Err(format!("the newcomer never got to leave: {verdict:?}"));
            }
            left = false;
        }
        learn_when_idle(player)?;
        if let (Some(from), false) = (run_from, left)
            && waiting(player)
            && player.eyes.is_lit(&player.rig, "amber-1")?
        {
            shots.now(&player.rig, "ambers")?;
            left = true;
            if let Some(verdict) = leave(player, from)? {
                shots.finish(&player.rig)?;
                let seconds = begun.elapsed().as_secs_f64();
                println!("a newcomer had the verdict {} after {seconds:.0} s", verdict.outcome);
                return Ok(());
            }
        }
        player.must_run("the newcomer's way to a verdict", begun + STORY_LIMIT)?;
        thread::sleep(Duration::from_millis(5));
    }
}

/// Whether the prompt says to wait, in the lane.
fn waiting(player: &Player) -> bool {
    in_lane(&player.rig.trace) && matches!(player.rig.trace.prompt(), Some((_, Press::Nothing)))
}

/// Learns the dark lamps in the lane, at a prompt that holds no key: a look takes a moment.
fn learn_when_idle(player: &mut Player) -> Outcome<()> {
    let holding = matches!(player.rig.trace.prompt(), None | Some((_, Press::Hold(_))));
    let known = player.eyes.lit_from("amber-3").is_ok();
    if known || holding || !in_lane(&player.rig.trace) || player.rig.place("amber-3").is_err() {
        return Ok(());
    }
    player.eyes.learn_dark(&player.rig)
}

/// Leaves on the last amber; the verdict, or `None` for a void run.
fn leave(player: &mut Player, from: usize) -> Outcome<Option<Verdict>> {
    let sighting = match player.see_second_amber(from)? {
        Some(seen_ns) => player.leave(Leave::AfterSight(LEAVES_NS), seen_ns, from)?,
        None => None,
    };
    let verdict = player.verdict(from)?;
    let Some(sighting) = sighting.filter(|_| verdict.outcome != "void") else { return Ok(None) };
    let (low_ns, high_ns) = sighting.driver_part_ns();
    let parts = verdict.parts.ok_or_else(|| format!("no reaction time in {verdict:?}"))?;
    let slack_ns = 50_000_000;
    if parts.driver_ns < low_ns - slack_ns || parts.driver_ns > high_ns + slack_ns {
        return Err(format!(
            "the robot left {low_ns} … {high_ns} ns after the amber, not as {parts:?}"
        ));
    }
    match verdict.outcome.as_str() {
        "green" | "red" => Ok(Some(verdict)),
        other => Err(format!("the first verdict is {other}")),
    }
}

/// Pictures of the way, one at each new prompt, screen and verdict, if a folder was named.
struct Shots {
    folder: Option<PathBuf>,
    looked: usize,
    taken: usize,
    pending: Option<(Instant, String)>,
}

impl Shots {
    fn from_environment() -> Outcome<Self> {
        let folder = std::env::var_os("LASTAMBER_SHOTS").map(PathBuf::from);
        if let Some(folder) = &folder {
            fs::create_dir_all(folder).map_err(|e| format!("{}: {e}", folder.display()))?;
        }
        Ok(Self { folder, looked: 0, taken: 0, pending: None })
    }

    /// Plans a picture for news in the trace and takes the planned one when it is due.
    fn look(&mut self, rig: &Rig) -> Outcome<()> {
        for line in &rig.trace.lines()[self.looked..] {
            let name = match &line.event {
                Event::Prompt(Press::Nothing) => "prompt-wait".to_owned(),
                Event::Prompt(Press::Tap(key)) => format!("prompt-{key}"),
                Event::Prompt(Press::Hold(key)) => format!("prompt-hold-{key}"),
                Event::Screen(name) => format!("screen-{name}"),
                Event::VerdictShown(verdict) => format!("verdict-{}", verdict.outcome),
                _ => continue,
            };
            let name = match self.pending.take() {
                Some((_, before)) => format!("{before}+{name}"),
                None => name,
            };
            self.pending = Some((Instant::now() + SHOT_DELAY, name));
        }
        self.looked = rig.trace.lines().len();
        if let Some((_, name)) = self.pending.take_if(|(due, _)| *due <= Instant::now()) {
            self.now(rig, &name)?;
        }
        Ok(())
    }

    /// Takes a picture of the window.
    fn now(&mut self, rig: &Rig, name: &str) -> Outcome<()> {
        let Some(folder) = &self.folder else { return Ok(()) };
        self.taken += 1;
        let (x, y) = rig.origin();
        let part = Rect { x, y, width: WINDOW.0 as i32, height: WINDOW.1 as i32 };
        rig.screen.write_part_ppm(&folder.join(format!("{:02}-{name}.ppm", self.taken)), part)
    }

    /// Waits for the verdict to be drawn and takes the last picture.
    fn finish(&mut self, rig: &Rig) -> Outcome<()> {
        self.pending = None;
        self.look(rig)?;
        thread::sleep(SHOT_DELAY * 2);
        self.look(rig)
    }
}
