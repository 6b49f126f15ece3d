//! How often the lane is drawn where nothing draws it but the processor.
//!
//! Owns the measurement and its bars. Refuses a machine that is busy: it prints the load beside the figures.

use std::fs;
use std::time::Duration;

use tempfile::TempDir;

use crate::player::Player;
use crate::rig::{Rig, Start, Watchdog};
use crate::trace::Event;
use crate::xserver::{Outcome, XServer};

/// Sizes of the window and frames a second that are enough there.
const BARS: [((u32, u32), f64); 2] = [((640, 360), 60.0), ((1280, 720), 30.0)];
/// Runs at each size; their verdicts tell the rate.
const RUNS: usize = 3;

/// Plays a few launches at every size, as fast as frames can be made.
pub fn draw_and_count() -> Outcome<()> {
    let mut missed = Vec::new();
    for (size, bar_hz) in BARS {
        let rates = rates_at(size)?;
        let load = fs::read_to_string("/proc/loadavg").unwrap_or_default();
        let (width, height) = size;
        println!("{width}x{height}: {rates:.1?} frames a second, bar {bar_hz}; load {load}");
        if rates.iter().any(|hz| *hz < bar_hz) {
            missed.push(format!("{width}x{height}: {rates:.1?}, below {bar_hz}"));
        }
    }
    if missed.is_empty() { Ok(()) } else { Err(missed.join("; ")) }
}

fn rates_at(size: (u32, u32)) -> Outcome<Vec<f64>> {
    let server = XServer::start(1400, 800)?;
    let folder = TempDir::new().map_err(|e| e.to_string())?;
    let data = folder.path().join("data");
    fs::create_dir(&data).map_err(|e| e.to_string())?;
    let start = Start {
        frame_cap_hz: Some(240),
        size,
        ..Start::usual(&data, &folder.path().join("trace.txt"), 13)
    };
    let watchdog = Watchdog::after(Duration::from_secs(180));
    watchdog.watch(server.process());
    let mut player = Player::new(Rig::start(&server, start)?);
    watchdog.watch(player.rig.process());
    let play = |player: &mut Player| -> Outcome<()> {
        player.enter_tree_only()?;
        for _ in 0..RUNS {
            player.play(200_000_000)?;
        }
        Ok(())
    };
    play(&mut player).map_err(|e| player.rig.explain(&e))?;
    let hz = |event: &Event| if let Event::FrameRate(hz) = event { Some(*hz) } else { None };
    Ok(player.rig.trace.events_from(0).filter_map(hz).collect())
}
