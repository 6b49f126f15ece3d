//! Presses for their own sake: none lost, none invented, none heard that is not ours.
//!
//! Owns the counts. Presses on the screen that shows the rig, where the launch control does nothing but be
//! stamped. Refuses to time reactions.

use std::fs;
use std::thread;
use std::time::{Duration, Instant};

use rand::{RngExt, SeedableRng};
use rand_chacha::ChaCha12Rng;
use tempfile::TempDir;

use crate::keys::{Sent, now_ns, sleep_until};
use crate::player::Player;
use crate::prompts::tap;
use crate::rig::{Rig, Start, Watchdog};
use crate::trace::{Event, StampedEdge};
use crate::xserver::{Outcome, XServer};

/// Presses a second, fewest and most.
const RATE_HZ: (f64, f64) = (2.0, 30.0);
/// How long the program may take to have stamped the last edge.
const PATIENCE: Duration = Duration::from_secs(5);
/// Long enough for the server to repeat a held key some dozen times.
const HELD: Duration = Duration::from_millis(2_500);
/// Keys struck while another window has the focus.
const ELSEWHERE: usize = 50;

/// Presses Space `count` times under provoked hitches, then holds it, then takes the focus away.
pub fn press_and_count(count: usize, seed: u64) -> Outcome<()> {
    let server = XServer::start(800, 480)?;
    let folder = TempDir::new().map_err(|e| e.to_string())?;
    let data = folder.path().join("data");
    fs::create_dir(&data).map_err(|e| e.to_string())?;
    let start = Start {
        sources: Some("auto"),
        stall: Some("300:5"),
        ..Start::usual(&data, &folder.path().join("trace.txt"), seed)
    };
    let watchdog = Watchdog::after(Duration::from_secs(20 * 60));
    watchdog.watch(server.process());
    let rig = Rig::start(&server, start)?;
    watchdog.watch(rig.process());
    let mut player = Player::new(rig);
    let counted = open_rig_screen(&mut player)
        .and_then(|()| none_lost(&mut player, count, seed))
        .and_then(|()| a_held_key_is_one_edge(&mut player))
        .and_then(|()| nothing_is_heard_elsewhere(&mut player));
    counted.map_err(|e| player.rig.explain(&e))
}

/// The way in, then the menu, then the rig.
fn open_rig_screen(player: &mut Player) -> Outcome<()> {
    player.enter_tree_only()?;
    for (key, screen) in [("Escape", "menu"), ("Digit9", "rig")] {
        tap(&player.rig.keys, key)?;
        player.rig.wait_for(screen, Duration::from_secs(10), |trace| {
            let up = |e: &Event| if let Event::Screen(s) = e { Some(s == screen) } else { None };
            trace.last(up).filter(|up| *up)
        })?;
    }
    wait_for_listening(player, true).map(|_| ())
}

fn none_lost(player: &mut Player, count: usize, seed: u64) -> Outcome<()> {
    let mut generator = ChaCha12Rng::seed_from_u64(seed);
    let from = player.rig.trace.lines().len();
    let mut sent: Vec<(bool, Sent)> = Vec::new();
    let began = Instant::now();
    for _ in 0..count {
        // Even on a logarithmic scale: as many slow ones as bursts.
        let (slow, fast) = (RATE_HZ.0.ln(), RATE_HZ.1.ln());
        let period_s = (-generator.random_range(slow..=fast)).exp();
        let down = player.rig.keys.down("Space")?;
        sleep_until(down.before_ns + (period_s * 0.4e9) as i64);
        let up = player.rig.keys.up("Space")?;
        sleep_until(down.before_ns + (period_s * 1e9) as i64);
        sent.extend([(true, down), (false, up)]);
    }
    let seconds = began.elapsed().as_secs_f64();
    let end = Instant::now() + PATIENCE;
    while edges(player, from)?.len() < sent.len() && Instant::now() < end {
        thread::sleep(Duration::from_millis(20));
    }
    // An edge that is one too many may still come.
    thread::sleep(Duration::from_millis(700));
    let edges = edges(player, from)?;
    let stamped = edges.iter().filter(|e| e.origin == "server").count();
    let meeting = sent.iter().zip(&edges).filter(|((_, sent), edge)| {
        edge.earliest_ns <= sent.after_ns && sent.before_ns <= edge.latest_ns
    });
    let (meeting, wanted) = (meeting.count(), sent.len());
    println!(
        "\n{count} presses in {seconds:.0} s under 300 ms hitches every 5 s: {} edges of {wanted}, \
         {stamped} stamped by the listener, {meeting} stamps meet the robot's",
        edges.len()
    );
    let directions = sent.iter().map(|(down, _)| *down).eq(edges.iter().map(|e| e.down));
    if edges.len() != wanted || !directions {
        return Err(format!("{} edges for {wanted} sent, or in another order", edges.len()));
    }
    let needed = wanted * 95 / 100;
    if meeting < needed {
        return Err(format!("{meeting} of {wanted} stamps meet the robot's, {needed} needed"));
    }
    Ok(())
}

fn a_held_key_is_one_edge(player: &mut Player) -> Outcome<()> {
    let from = player.rig.trace.lines().len();
    player.rig.keys.down("Space")?;
    let pressed_ns = now_ns();
    sleep_until(pressed_ns + HELD.as_nanos() as i64);
    player.rig.keys.up("Space")?;
    thread::sleep(Duration::from_millis(700));
    let directions: Vec<bool> = edges(player, from)?.iter().map(|e| e.down).collect();
    println!("a key held for {HELD:?}: {} edges", directions.len());
    if directions == [true, false] {
        Ok(())
    } else {
        Err(format!("a held key gave the edges {directions:?} (true is down)"))
    }
}

fn nothing_is_heard_elsewhere(player: &mut Player) -> Outcome<()> {
    player.rig.keys.focus_nothing()?;
    let before = wait_for_listening(player, false)?;
    for _ in 0..ELSEWHERE {
        player.rig.keys.down("Space")?;
        thread::sleep(Duration::from_millis(10));
        player.rig.keys.up("Space")?;
        thread::sleep(Duration::from_millis(10));
    }
    player.rig.keys.focus()?;
    let after = wait_for_listening(player, true)?;
    println!(
        "{ELSEWHERE} keys with the focus elsewhere: {before} events heard before, {after} after"
    );
    if before == after {
        Ok(())
    } else {
        Err(format!("the source heard {} events", after - before))
    }
}

/// Waits until the raw source listens, or does not; events it has heard by then.
fn wait_for_listening(player: &mut Player, wanted: bool) -> Outcome<u64> {
    let what = if wanted { "the source to listen" } else { "the source not to listen" };
    player.rig.wait_for(what, Duration::from_secs(10), |trace| {
        let told = |e: &Event| {
            if let Event::Listening { on, heard } = e { Some((*on, *heard)) } else { None }
        };
        trace.last(told).filter(|(on, _)| *on == wanted).map(|(_, heard)| heard)
    })
}

fn edges(player: &mut Player, from: usize) -> Outcome<Vec<StampedEdge>> {
    player.rig.trace.poll()?;
    let space = |e: &Event| match e {
        Event::Edge(edge) if edge.control == "Space" => Some(edge.clone()),
        _ => None,
    };
    Ok(player.rig.trace.events_from(from).filter_map(space).collect())
}
