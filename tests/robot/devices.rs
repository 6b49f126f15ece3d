//! What happens to windows and devices in the middle of a run: closed, hidden, resized without end, out of
//! focus, as large and as small as screens are, the sound device gone.
//!
//! Owns the harm and what must come of it: the run counts or says why not, nothing is lost, and the next
//! run is a run like any other. Refuses to time anything.

use std::fs::{self, File};
use std::io::Read;
use std::path::{Path, PathBuf};
use std::sync::Arc;
use std::sync::atomic::{AtomicBool, AtomicUsize, Ordering};
use std::thread::{self, JoinHandle};
use std::time::{Duration, Instant};

use rustix::fs::{CWD, FileType, Mode, OFlags, mknodat, open};
use tempfile::TempDir;

use crate::kills::ids_on_disk;
use crate::player::{Player, verdict_of};
use crate::prompts::tap;
use crate::rig::{Rig, Start, WINDOW, Watchdog};
use crate::trace::{Event, Verdict};
use crate::window::{self, Desktop};
use crate::xserver::{Outcome, XServer};

/// The driver leaves this long after the last amber, ns.
const LEAVES_NS: i64 = 210_000_000;
/// Sizes of one storm, px: from a stamp to more than the screen.
const STORM: [(u32, u32); 7] =
    [(640, 360), (64, 64), (1400, 800), (320, 700), (1280, 200), (1, 1), (900, 500)];
/// Whole storms while the ambers come on: some two hundred sizes.
const STORMS: usize = 30;
/// Sizes of windows from the smallest supported one to 4K.
const SIZES: [(u32, u32); 3] = [(1024, 640), (2560, 1440), (3840, 2160)];

/// A folder, a screen and a program on it.
struct Stage {
    player: Player,
    data: PathBuf,
    _watchdog: Watchdog,
    _server: XServer,
    _folder: TempDir,
}

impl Stage {
    fn set(screen: (u16, u16), size: (u32, u32), sound: Option<&str>) -> Outcome<Self> {
        Self::on(XServer::start(screen.0, screen.1)?, size, sound)
    }

    fn on(server: XServer, size: (u32, u32), sound: Option<&str>) -> Outcome<Self> {
        let folder = TempDir::new().map_err(|e| e.to_string())?;
        let data = folder.path().join("data");
        fs::create_dir(&data).map_err(|e| e.to_string())?;
        let sound = sound
            .map(|text| {
                let file = folder.path().join("asound.conf");
                fs::write(&file, text).map(|()| file).map_err(|e| e.to_string())
            })
            .transpose()?;
        let start =
            Start { sound, size, ..Start::usual(&data, &folder.path().join("trace.txt"), 21) };
        let watchdog = Watchdog::after(Duration::from_secs(180));
        watchdog.watch(server.process());
        let mut player = Player::new(Rig::start(&server, start)?);
        watchdog.watch(player.rig.process());
        player.enter_tree_only().map_err(|e| player.rig.explain(&e))?;
        Ok(Self { player, data, _watchdog: watchdog, _server: server, _folder: folder })
    }

    /// Asks for a run and waits for its second amber; the line of the trace it began at.
    fn until_second_amber(&mut self) -> Outcome<usize> {
        let from = self.player.rig.trace.lines().len();
        self.player.rig.keys.focus()?;
        tap(&self.player.rig.keys, "Space")?;
        self.player.rig.wait_for("the second amber", Duration::from_secs(20), |t| {
            let is_second = |e: &Event| matches!(e, Event::Shown { lamp, .. } if lamp == "amber-2");
            t.events_from(from).any(is_second).then_some(())
        })?;
        Ok(from)
    }

    /// The run that began at `from` ended in one of `outcomes`, and is on disk.
    fn ended_in(&mut self, from: usize, outcomes: &[&str]) -> Outcome<Verdict> {
        let verdict = self.player.rig.wait_for("a verdict", Duration::from_secs(20), |t| {
            t.events_from(from).find_map(verdict_of)
        })?;
        if !outcomes.contains(&verdict.outcome.as_str()) {
            return Err(format!("the run ended as {}, not {outcomes:?}", verdict.outcome));
        }
        self.is_on_disk(&verdict)
            .then_some(verdict)
            .ok_or_else(|| "the run was shown, yet it is not on disk".to_owned())
    }

    fn is_on_disk(&self, verdict: &Verdict) -> bool {
        ids_on_disk(&self.data).contains(&verdict.id)
    }

    /// A run like any other comes to a verdict with a time.
    fn plays_on(&mut self) -> Outcome<()> {
        thread::sleep(Duration::from_millis(1_700));
        let played = self.player.play(LEAVES_NS)?;
        match played.verdict.parts {
            Some(_) => Ok(()),
            None => Err(format!("the next run ended as {}", played.verdict.outcome)),
        }
    }

    /// The same in a window of another size.
    fn goes_on_at_another_size(&mut self) -> Outcome<()> {
        // The scene of the last size is painted before the robot learns what dark is.
        thread::sleep(Duration::from_secs(2));
        self.player.rig.take_focus()?;
        self.player.rig.trace.poll()?;
        self.player.eyes.learn_dark(&self.player.rig)?;
        self.plays_on()
    }

    /// Fails with what the program said and showed.
    fn told(&self, outcome: Outcome<()>) -> Outcome<()> {
        outcome.map_err(|e| self.player.rig.explain(&e))
    }
}

/// The window is closed while the ambers come on: the run is kept, and the program ends well.
pub fn close_in_the_countdown() -> Outcome<()> {
    let mut stage = Stage::set((800, 480), WINDOW, None)?;
    let outcome = closed(&mut stage);
    stage.told(outcome)
}

fn closed(stage: &mut Stage) -> Outcome<()> {
    let before = ids_on_disk(&stage.data).len();
    stage.until_second_amber()?;
    window::close(&stage.player.rig.keys)?;
    let end = Instant::now() + Duration::from_secs(20);
    let how = loop {
        match stage.player.rig.ended() {
            Some(how) => break how,
            None if Instant::now() > end => return Err("it did not end".to_owned()),
            None => thread::sleep(Duration::from_millis(20)),
        }
    };
    if !how.contains("exit status: 0") {
        return Err(format!("it ended with {how}"));
    }
    match ids_on_disk(&stage.data).len() - before {
        1 => Ok(()),
        runs => Err(format!("{runs} runs on disk instead of the one that was begun")),
    }
}

/// Hidden, or out of focus, while the ambers come on: the run counts as given up, the next one is as ever.
pub fn hide_and_look_away() -> Outcome<()> {
    let mut stage = Stage::set((800, 480), WINDOW, None)?;
    let outcome = hidden(&mut stage).and_then(|()| looked_away(&mut stage));
    stage.told(outcome)
}

fn hidden(stage: &mut Stage) -> Outcome<()> {
    let from = stage.until_second_amber()?;
    window::hide(&stage.player.rig.keys)?;
    thread::sleep(Duration::from_secs(2));
    window::show(&stage.player.rig.keys)?;
    stage.player.rig.take_focus()?;
    stage.ended_in(from, &["abandoned", "void"])?;
    stage.plays_on()
}

fn looked_away(stage: &mut Stage) -> Outcome<()> {
    thread::sleep(Duration::from_millis(1_700));
    let from = stage.until_second_amber()?;
    stage.player.rig.keys.focus_nothing()?;
    stage.ended_in(from, &["abandoned"])?;
    stage.player.rig.take_focus()?;
    stage.plays_on()
}

/// Two hundred sizes within one countdown: the run ends in a verdict or is void, and the tree hangs where
/// the program says it does afterwards.
pub fn resize_without_end() -> Outcome<()> {
    let mut stage = Stage::set((1600, 900), WINDOW, None)?;
    let outcome = resized(&mut stage);
    stage.told(outcome)
}

fn resized(stage: &mut Stage) -> Outcome<()> {
    let from = stage.until_second_amber()?;
    for size in STORM.into_iter().cycle().take(STORM.len() * STORMS) {
        window::resize(&stage.player.rig.keys, size)?;
        thread::sleep(Duration::from_millis(4));
    }
    tap(&stage.player.rig.keys, "Space")?;
    window::resize(&stage.player.rig.keys, (1000, 560))?;
    stage.ended_in(from, &["green", "red", "void"])?;
    stage.goes_on_at_another_size()
}

/// The window comes to a monitor of twice the density while the ambers come on, and back: it grows and
/// shrinks with it, and the tree hangs where the program says it does.
pub fn change_the_density() -> Outcome<()> {
    let server = XServer::start(1600, 900)?;
    let mut desktop = Desktop::manage(&server.display())?;
    let mut stage = Stage::on(server, WINDOW, None)?;
    let outcome = denser(&mut stage, &mut desktop);
    stage.told(outcome)
}

fn denser(stage: &mut Stage, desktop: &mut Desktop) -> Outcome<()> {
    for (dots_an_inch, factor) in [(192, 2), (96, 1)] {
        let from = stage.until_second_amber()?;
        desktop.density(dots_an_inch)?;
        thread::sleep(Duration::from_millis(700));
        tap(&stage.player.rig.keys, "Space")?;
        stage.ended_in(from, &["green", "red", "void"])?;
        let wanted = (WINDOW.0 * factor, WINDOW.1 * factor);
        let said = format!(" window {}x{}", wanted.0, wanted.1);
        stage.player.rig.wait_for("the window's new size", Duration::from_secs(10), |t| {
            t.lines().iter().skip(from).any(|line| line.text.ends_with(&said)).then_some(())
        })?;
        stage.goes_on_at_another_size()?;
        thread::sleep(Duration::from_millis(1_700));
    }
    Ok(())
}

/// The lane on every size a screen has: all lamps lie in the window, and a run comes to its verdict.
pub fn every_size() -> Outcome<()> {
    for size in SIZES {
        let mut stage = Stage::set((4000, 2300), size, None)?;
        let outcome = fits(&mut stage, size);
        stage.told(outcome)?;
    }
    Ok(())
}

fn fits(stage: &mut Stage, size: (u32, u32)) -> Outcome<()> {
    let rig = &stage.player.rig;
    let lane = rig.trace.you().ok_or("the trace never said `you`")?;
    for lamp in ["pre-stage", "stage", "amber-1", "amber-2", "amber-3", "green", "red"] {
        let (x, y) = rig
            .trace
            .rect(&lane, lamp)
            .ok_or_else(|| format!("{size:?}: no lamp-rect of {lamp}"))?
            .centre();
        let inside = (0..size.0 as i32).contains(&x) && (0..size.1 as i32).contains(&y);
        if !inside {
            return Err(format!("{size:?}: {lamp} hangs at {x}, {y}"));
        }
    }
    let from = stage.until_second_amber()?;
    thread::sleep(Duration::from_millis(700));
    tap(&stage.player.rig.keys, "Space")?;
    stage.ended_in(from, &["green", "red", "void"]).map(|_| ())
}

/// The sound device goes away in the middle of a sound: runs go on as before.
pub fn unplug_the_sound() -> Outcome<()> {
    let folder = TempDir::new().map_err(|e| e.to_string())?;
    let pipe = folder.path().join("device");
    mknodat(CWD, &pipe, FileType::Fifo, Mode::RUSR | Mode::WUSR, 0).map_err(|e| e.to_string())?;
    let plug = Plug::into(&pipe)?;
    let mut stage = Stage::set((800, 480), WINDOW, Some(&device_in(&pipe)))?;
    let outcome = unplugged(&mut stage, plug);
    stage.told(outcome)
}

fn unplugged(stage: &mut Stage, plug: Plug) -> Outcome<()> {
    stage.player.rig.wait_for("a sound device", Duration::from_secs(10), |t| {
        t.last(|e| matches!(e, Event::SoundDevice).then_some(()))
    })?;
    stage.plays_on()?;
    let heard = plug.heard();
    if heard == 0 {
        return Err("nothing was played on the device while it was there".to_owned());
    }
    println!("{heard} bytes were played, then the device went away");
    plug.pull();
    for _ in 0..2 {
        stage.plays_on()?;
    }
    match stage.player.rig.ended() {
        Some(how) => Err(format!("the program ended with the device ({how})")),
        None => Ok(()),
    }
}

/// A sound device of the sound library's own that hands every sample to a pipe.
fn device_in(pipe: &Path) -> String {
    format!(
        "pcm.!default {{\n  type plug\n  slave.pcm {{\n    type file\n    slave.pcm {{ type null }}\n    \
         file \"{}\"\n    format raw\n  }}\n}}\n",
        pipe.display()
    )
}

/// The far end of that pipe: takes samples about as fast as a device plays them, until it is pulled.
struct Plug {
    heard: Arc<AtomicUsize>,
    pulled: Arc<AtomicBool>,
    thread: JoinHandle<()>,
}

impl Plug {
    fn into(pipe: &Path) -> Outcome<Self> {
        let (heard, pulled) = (Arc::<AtomicUsize>::default(), Arc::<AtomicBool>::default());
        // Or opening waits for somebody who writes.
        let end = open(pipe, OFlags::RDONLY | OFlags::NONBLOCK, Mode::empty());
        let mut end = File::from(end.map_err(|e| format!("{}: {e}", pipe.display()))?);
        let (counts, stops) = (Arc::clone(&heard), Arc::clone(&pulled));
        let thread = thread::spawn(move || {
            let mut samples = [0; 4096];
            while !stops.load(Ordering::Relaxed) {
                counts.fetch_add(end.read(&mut samples).unwrap_or(0), Ordering::Relaxed);
                thread::sleep(Duration::from_millis(10));
            }
        });
        Ok(Self { heard, pulled, thread })
    }

    fn heard(&self) -> usize {
        self.heard.load(Ordering::Relaxed)
    }

    /// Closes the pipe: whoever writes on is told that nobody is there.
    fn pull(self) {
        self.pulled.store(true, Ordering::Relaxed);
        let _ = self.thread.join();
    }
}
