//! Killing the program at any moment: what was shown is on disk, and it starts again.
//!
//! Owns the killer, its seeded choice of moments, and the look at the file afterwards. Refuses to
//! count a kill that came after the program had ended by itself.

use std::collections::BTreeSet;
use std::fs;
use std::path::Path;
use std::sync::Arc;
use std::sync::atomic::{AtomicBool, Ordering};
use std::thread::{self, JoinHandle};
use std::time::{Duration, Instant};

use rand::{RngExt, SeedableRng};
use rand_chacha::ChaCha12Rng;
use tempfile::TempDir;

use crate::player::{Player, verdict_of};
use crate::rig::{Rig, Start, Watchdog};
use crate::trace::{Event, Trace};
use crate::xserver::{Outcome, SharedChild, XServer, stop};

/// One kill with its restart may take so long.
const KILL_LIMIT: Duration = Duration::from_secs(120);
/// From the begin of a run to the prompt for the next, roughly, ms: the whole cycle.
const CYCLE_MS: u64 = 4_500;

/// What the killer waits for in the trace before its delay.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
enum After {
    RunBegins,
    Launch,
    /// The history file grows after a launch: the record is being written and synced.
    Writing,
    Saved,
    VerdictShown,
}

/// When to kill: the `nth` time something is told, and then a delay.
#[derive(Debug, Clone, Copy)]
struct Moment {
    after: After,
    nth: usize,
    delay: Duration,
}

impl Moment {
    /// One in four anywhere in the cycle; the rest around saving and showing the verdict.
    /// `to_verdict` is how long launch to verdict took before.
    fn draw(generator: &mut ChaCha12Rng, to_verdict: Duration) -> Self {
        let (after, longest) = match generator.random_range(0..8) {
            0 | 1 => (After::RunBegins, Duration::from_millis(CYCLE_MS)),
            2 | 3 => (After::Launch, to_verdict.mul_f64(1.1)),
            4 | 5 => (After::Writing, Duration::from_millis(3)),
            6 => (After::Saved, Duration::from_millis(30)),
            _ => (After::VerdictShown, Duration::from_millis(30)),
        };
        let delay = longest.mul_f64(generator.random_range(0.0..1.0));
        Self { after, nth: generator.random_range(1..=2), delay }
    }
}

/// Kills the program `kills` times and looks at the disk each time.
pub fn kill_and_look(kills: usize, seed: u64) -> Outcome<()> {
    let server = XServer::start(800, 480)?;
    let folder = TempDir::new().map_err(|e| e.to_string())?;
    let data = folder.path().join("data");
    fs::create_dir(&data).map_err(|e| e.to_string())?;
    let mut generator = ChaCha12Rng::seed_from_u64(seed);
    let watchdog = Watchdog::after(KILL_LIMIT * (kills as u32 + 2));
    watchdog.watch(server.process());
    let mut kept: BTreeSet<String> = BTreeSet::new();
    let mut shown_in_all = 0;
    let mut to_verdict = Duration::from_millis(1_500);
    println!("\n{kills} kills\nkill  shown  on disk  unshown  after");
    for n in 1..=kills {
        let moment = Moment::draw(&mut generator, to_verdict);
        let trace = folder.path().join(format!("trace-{n}.txt"));
        let mut player = start(&server, &data, &trace, n)?;
        watchdog.watch(player.rig.process());
        let killer = Killer::set_on(&player.rig, &data, &trace, moment);
        let played = play_until_dead(&mut player, &killer, &mut generator);
        killer.join();
        played.map_err(|e| player.rig.explain(&e))?;
        player.rig.trace.poll()?;
        let shown: BTreeSet<String> =
            player.rig.trace.events_from(0).filter_map(verdict_of).map(|v| v.id).collect();
        let disk = ids_on_disk(&data);
        kept.extend(shown.iter().cloned());
        let lost: Vec<&String> = kept.difference(&disk).collect();
        if !lost.is_empty() {
            return Err(player
                .rig
                .explain(&format!("kill {n} at {moment:?}: shown, yet not on disk: {lost:?}")));
        }
        to_verdict = launch_to_verdict(&player.rig.trace).unwrap_or(to_verdict);
        shown_in_all += shown.len();
        println!(
            "{n:>4} {:>6} {:>8} {:>8}  {:?} {} + {:.1} ms",
            shown.len(),
            disk.len(),
            disk.len() - kept.len(),
            moment.after,
            moment.nth,
            moment.delay.as_secs_f64() * 1e3
        );
        // What was on disk after one kill has to survive the next as well.
        kept = disk;
    }
    last_start(&server, &data, &folder.path().join("trace-last.txt"), &mut kept)?;
    if shown_in_all * 2 < kills {
        return Err(format!(
            "only {shown_in_all} verdicts in {kills} kills: this proves too little"
        ));
    }
    Ok(())
}

/// The runs the program's own reader finds in the folder: whole lines whose checksum holds.
pub fn ids_on_disk(data: &Path) -> BTreeSet<String> {
    let loaded = lastamber::history::load_without_lock(data);
    let trials = loaded.map(|loaded| loaded.trials).unwrap_or_default();
    trials.into_iter().map(|trial| trial.id.into()).collect()
}

fn start(server: &XServer, data: &Path, trace: &Path, n: usize) -> Outcome<Player> {
    let start = Start::usual(data, trace, 100 + n as u64);
    Rig::start(server, start).map(Player::new)
}

/// Plays on until the killer strikes; the failure of a run after that is what was wanted.
fn play_until_dead(
    player: &mut Player,
    killer: &Killer,
    generator: &mut ChaCha12Rng,
) -> Outcome<()> {
    let mut step = player.enter_tree_only();
    let end = Instant::now() + KILL_LIMIT;
    while step.is_ok() && Instant::now() < end {
        let aimed_ns = generator.random_range(-100_000_000..=250_000_000);
        step = player.play(aimed_ns).map(|_| ());
    }
    if killer.has_struck() {
        return Ok(());
    }
    step.and(Err("the killer never found its moment".to_owned()))
}

/// The folder still serves: one more start, one more run, nothing lost.
fn last_start(
    server: &XServer,
    data: &Path,
    trace: &Path,
    kept: &mut BTreeSet<String>,
) -> Outcome<()> {
    let mut player = start(server, data, trace, 0)?;
    let last = player
        .enter_tree_only()
        .and_then(|()| player.play(200_000_000))
        .map_err(|e| player.rig.explain(&e))?;
    kept.insert(last.verdict.id);
    let disk = ids_on_disk(data);
    let lost: Vec<&String> = kept.difference(&disk).collect();
    if lost.is_empty() {
        println!("last start: {} records on disk", disk.len());
        return Ok(());
    }
    Err(player.rig.explain(&format!("after the last start not on disk: {lost:?}")))
}

fn launch_to_verdict(trace: &Trace) -> Option<Duration> {
    let lines = trace.lines();
    let shown = lines.iter().rposition(|l| matches!(l.event, Event::VerdictShown(_)))?;
    let launch = lines[..shown].iter().rfind(|l| matches!(l.event, Event::Launch { .. }))?;
    Some(Duration::from_nanos(u64::try_from(lines[shown].at_ns - launch.at_ns).ok()?))
}

/// A thread that reads the trace on its own and kills at its moment.
struct Killer {
    struck: Arc<AtomicBool>,
    give_up: Arc<AtomicBool>,
    thread: JoinHandle<()>,
}

impl Killer {
    fn set_on(rig: &Rig, data: &Path, trace: &Path, moment: Moment) -> Self {
        let (struck, give_up) =
            (Arc::new(AtomicBool::new(false)), Arc::new(AtomicBool::new(false)));
        let (tells, hears) = (Arc::clone(&struck), Arc::clone(&give_up));
        let (mut trace, process) = (Trace::follow(trace), rig.process());
        let history = data.join("history.jsonl");
        let thread = thread::spawn(move || {
            let length = || fs::metadata(&history).map_or(0, |m| m.len());
            let mut length_at_launch = None;
            while !hears.load(Ordering::Relaxed) {
                if trace.poll().is_ok() && times(&trace, moment.after) >= moment.nth {
                    let before = *length_at_launch.get_or_insert_with(length);
                    if moment.after != After::Writing || length() > before {
                        thread::sleep(moment.delay);
                        strike(&process, &tells);
                        return;
                    }
                }
                thread::sleep(Duration::from_micros(300));
            }
        });
        Self { struck, give_up, thread }
    }

    fn has_struck(&self) -> bool {
        self.struck.load(Ordering::SeqCst)
    }

    fn join(self) {
        self.give_up.store(true, Ordering::Relaxed);
        let _ = self.thread.join();
    }
}

/// Kills, unless the program ended by itself before.
fn strike(process: &SharedChild, struck: &AtomicBool) {
    let mut child = process.lock().unwrap_or_else(|poisoned| poisoned.into_inner());
    if matches!(child.try_wait(), Ok(None)) {
        struck.store(true, Ordering::SeqCst);
        drop(child);
        stop(process);
    }
}

fn times(trace: &Trace, after: After) -> usize {
    trace
        .events_from(0)
        .filter(|event| match after {
            After::RunBegins => matches!(event, Event::Run),
            After::Launch | After::Writing => matches!(event, Event::Launch { .. }),
            After::Saved => matches!(event, Event::Saved(_)),
            After::VerdictShown => matches!(event, Event::VerdictShown(_)),
        })
        .count()
}
