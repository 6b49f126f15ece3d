//! A history that takes its time to be read: the window is there before.
//!
//! Owns the long file and the order of what the trace tells. Refuses to time anything but what it prints.

use std::fs;
use std::io::Write;
use std::path::Path;
use std::time::Duration;

use lastamber::demo::demo_lines;
use lastamber::history::write_demo;
use tempfile::TempDir;

use crate::player::Player;
use crate::rig::{Rig, Start, Watchdog};
use crate::trace::{Event, Trace};
use crate::xserver::{Outcome, XServer};

/// So much is read for longer than a glance by any processor.
const BYTES: u64 = 150_000_000;

/// Starts over a long history (`LASTAMBER_HISTORY`: over one's own) and plays a run in it.
pub fn start_over_a_long_history() -> Outcome<()> {
    let folder = TempDir::new().map_err(|e| e.to_string())?;
    let data = match std::env::var_os("LASTAMBER_HISTORY") {
        Some(own) => own.into(),
        None => {
            let data = folder.path().join("data");
            write_long(&data).map_err(|e| format!("no long history: {e}"))?;
            data
        }
    };
    let server = XServer::start(800, 480)?;
    let start = Start::usual(&data, &folder.path().join("trace.txt"), 51);
    let watchdog = Watchdog::after(Duration::from_secs(180));
    watchdog.watch(server.process());
    let mut player = Player::new(Rig::start(&server, start)?);
    watchdog.watch(player.rig.process());
    let outcome = seen_before_read(&mut player);
    outcome.map_err(|e| player.rig.explain(&e))
}

fn seen_before_read(player: &mut Player) -> Outcome<()> {
    let window_ns = time_of(&player.rig.trace, |e| matches!(e, Event::Window));
    let window_ns = window_ns.ok_or("the trace has no first frame")?;
    let is_read = |e: &Event| matches!(e, Event::Screen(name) if name != "opening");
    player.rig.wait_for("a screen after the reading", Duration::from_secs(120), |t| {
        t.last(|e| is_read(e).then_some(()))
    })?;
    let read_ns = time_of(&player.rig.trace, is_read).ok_or("it was never read")?;
    let first_ns = player.rig.trace.lines().first().map_or(window_ns, |line| line.at_ns);
    let s = |ns: i64| (ns - first_ns) as f64 * 1e-9;
    println!(
        "first frame {:.2} s after the first line of the trace, all read {:.2} s",
        s(window_ns),
        s(read_ns)
    );
    if window_ns >= read_ns {
        return Err("the window came only when all was read".to_owned());
    }
    player.enter_tree_only()?;
    let played = player.play(210_000_000)?;
    played
        .verdict
        .parts
        .map(|_| ())
        .ok_or_else(|| format!("the run ended as {}", played.verdict.outcome))
}

fn time_of(trace: &Trace, wanted: impl Fn(&Event) -> bool) -> Option<i64> {
    trace.lines().iter().find(|line| wanted(&line.event)).map(|line| line.at_ns)
}

/// Six weeks of the demo, again and again: a line that is there already is read and counted once.
fn write_long(data: &Path) -> Result<(), String> {
    let told = |error: &dyn std::fmt::Display| error.to_string();
    let lines = demo_lines(1).map_err(|e| told(&e))?;
    write_demo(data, 1, &lines).map_err(|e| told(&e))?;
    let file = data.join("history.jsonl");
    let once = fs::read(&file).map_err(|e| told(&e))?;
    let mut file = fs::OpenOptions::new().append(true).open(&file).map_err(|e| told(&e))?;
    for _ in 0..BYTES / once.len() as u64 {
        file.write_all(&once).map_err(|e| told(&e))?;
    }
    Ok(())
}
