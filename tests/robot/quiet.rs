//! What it costs to start, and to stay open while nobody does anything.
//!
//! Owns the measurement and its bars: processor time and memory by the kernel's own account. Refuses a bar
//! on the clock unless it is asked for: a busy machine starts nothing quickly.

use std::fs;
use std::thread;
use std::time::{Duration, Instant};

use tempfile::TempDir;

use crate::keys::now_ns;
use crate::player::{Player, in_lane};
use crate::rig::{Rig, Start, Watchdog};
use crate::trace::Event;
use crate::xserver::{Outcome, XServer};

/// Share of one processor while nothing moves.
const IDLE_SHARE: f64 = 0.03;
/// The most memory ever held, kB.
const MEMORY_KB: u64 = 400_000;
/// Over so long the processor time is taken: at least one of the looks a resting window takes by itself.
const WATCHED: Duration = Duration::from_secs(12);
/// What was set moving before comes to rest in this time, the lane's last verdict included.
const COMES_TO_REST: Duration = Duration::from_secs(5);

/// What is asked besides rest and memory.
pub struct Bars {
    /// From the start to the first frame.
    pub started: Option<Duration>,
}

/// Starts, waits on the notice, on the lane and after a verdict, and adds up what that cost.
pub fn leave_alone(bars: &Bars) -> Outcome<()> {
    let server = XServer::start(1400, 800)?;
    let folder = TempDir::new().map_err(|e| e.to_string())?;
    let data = folder.path().join("data");
    fs::create_dir(&data).map_err(|e| e.to_string())?;
    let start =
        Start { size: (1280, 720), ..Start::usual(&data, &folder.path().join("trace.txt"), 31) };
    let watchdog = Watchdog::after(Duration::from_secs(240));
    watchdog.watch(server.process());
    let begun_ns = now_ns();
    let mut player = Player::new(Rig::start(&server, start)?);
    watchdog.watch(player.rig.process());
    let outcome = first_frame(&player, begun_ns, bars).and_then(|()| rests(&mut player));
    outcome.map_err(|e| player.rig.explain(&e))
}

fn first_frame(player: &Player, begun_ns: i64, bars: &Bars) -> Outcome<()> {
    let line = player.rig.trace.lines().iter().find(|line| matches!(line.event, Event::Window));
    let line = line.ok_or("the trace has no first frame")?;
    let took = Duration::from_nanos((line.at_ns - begun_ns).unsigned_abs());
    let load = fs::read_to_string("/proc/loadavg").unwrap_or_default();
    println!("first frame {:.2} s after the start; load {}", took.as_secs_f64(), load.trim());
    match bars.started {
        Some(bar) if took > bar => Err(format!("the first frame came after {took:?}, bar {bar:?}")),
        _ => Ok(()),
    }
}

fn rests(player: &mut Player) -> Outcome<()> {
    let mut too_much = Vec::new();
    let pid = player.rig.pid();
    let mut watch = |place: &str| -> Outcome<()> {
        thread::sleep(COMES_TO_REST);
        let (before, clock) = (processor_time(pid)?, Instant::now());
        thread::sleep(WATCHED);
        let spent = processor_time(pid)? - before;
        let share = spent.as_secs_f64() / clock.elapsed().as_secs_f64();
        let (held_kb, most_kb) = (memory_kb(pid, "VmRSS:")?, memory_kb(pid, "VmHWM:")?);
        println!(
            "{place}: {:.2} % of a processor, {held_kb} kB held, {most_kb} kB at most",
            share * 100.0
        );
        if share > IDLE_SHARE {
            too_much.push(format!("{place}: {:.1} % of a processor", share * 100.0));
        }
        if most_kb > MEMORY_KB {
            too_much.push(format!("{place}: {most_kb} kB"));
        }
        Ok(())
    };
    watch("notice")?;
    player.enter_tree_only()?;
    watch("lane, before a run")?;
    player.play(210_000_000)?;
    // The other car is watched until it is out of sight.
    thread::sleep(Duration::from_secs(15));
    watch("lane, after a verdict")?;
    player.rig.trace.poll()?;
    if !in_lane(&player.rig.trace) {
        return Err("the lane was left by itself".to_owned());
    }
    // Whoever rests wakes up: the next run is as prompt as the first.
    let played = player.play(210_000_000)?;
    if played.verdict.parts.is_none() {
        return Err(format!("the run after the rest ended as {}", played.verdict.outcome));
    }
    if too_much.is_empty() { Ok(()) } else { Err(too_much.join("; ")) }
}

/// Processor time of all threads so far (proc(5): utime and stime, in hundredths of a second).
fn processor_time(pid: u32) -> Outcome<Duration> {
    let stat = fs::read_to_string(format!("/proc/{pid}/stat")).map_err(|e| e.to_string())?;
    let after_name = stat.rsplit_once(')').map(|(_, rest)| rest).unwrap_or_default();
    let ticks: u64 = after_name
        .split_whitespace()
        .skip(11)
        .take(2)
        .filter_map(|ticks| ticks.parse::<u64>().ok())
        .sum();
    Ok(Duration::from_millis(ticks * 10))
}

fn memory_kb(pid: u32, what: &str) -> Outcome<u64> {
    let status = fs::read_to_string(format!("/proc/{pid}/status")).map_err(|e| e.to_string())?;
    let line = status.lines().find(|line| line.starts_with(what));
    let kb = line.and_then(|line| line.split_whitespace().nth(1)?.parse().ok());
    kb.ok_or_else(|| format!("/proc tells nothing of {what}"))
}
