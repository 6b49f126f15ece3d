//! A regular's evening: launch after launch with one key, every verdict up long enough to be read.
//!
//! Owns the pace and its bar. Refuses a pause of the program's own: whatever keeps the next run waiting
//! counts.

use std::fs;
use std::thread;
use std::time::{Duration, Instant};

use tempfile::TempDir;

use crate::player::Player;
use crate::rig::{Rig, Start, Watchdog};
use crate::trace::Event;
use crate::xserver::{Outcome, XServer};

/// Thirty launches in four minutes.
const A_LAUNCH: Duration = Duration::from_secs(8);
/// A verdict is up this long before the next run is asked for.
const READS: Duration = Duration::from_millis(1_500);
/// The driver leaves this long after the last amber, ns.
const LEAVES_NS: i64 = 210_000_000;

/// Plays `launches` tree-only runs, one after the other, by Space alone.
pub fn launch_on(launches: usize) -> Outcome<()> {
    let server = XServer::start(800, 480)?;
    let folder = TempDir::new().map_err(|e| e.to_string())?;
    let data = folder.path().join("data");
    fs::create_dir(&data).map_err(|e| e.to_string())?;
    let trace = folder.path().join("trace.txt");
    let start = Start::usual(&data, &trace, 12);
    let bar = A_LAUNCH * launches as u32;
    let watchdog = Watchdog::after(bar * 2 + Duration::from_secs(90));
    watchdog.watch(server.process());
    let mut player = Player::new(Rig::start(&server, start)?);
    watchdog.watch(player.rig.process());
    play(&mut player, launches, bar).map_err(|e| player.rig.explain(&e))
}

fn play(player: &mut Player, launches: usize, bar: Duration) -> Outcome<()> {
    player.enter_tree_only()?;
    let begun = Instant::now();
    let mut counted = 0;
    while counted < launches {
        let played = player.play(LEAVES_NS)?;
        counted += usize::from(matches!(played.verdict.outcome.as_str(), "green" | "red"));
        let from = player.rig.trace.lines().len();
        thread::sleep(READS);
        player.rig.trace.poll()?;
        if player.rig.trace.events_from(from).any(|e| matches!(e, Event::Run)) {
            return Err("a run began by itself while the verdict was being read".to_owned());
        }
        player.must_run("launch after launch", begun + bar * 2)?;
    }
    let (took, bar_s) = (begun.elapsed().as_secs_f64(), bar.as_secs_f64());
    println!("{launches} launches by one key took {took:.0} s, each verdict up for at least 1.5 s");
    if took > bar_s {
        return Err(format!("{launches} launches took {took:.0} s; the bar is {bar_s:.0} s"));
    }
    Ok(())
}
