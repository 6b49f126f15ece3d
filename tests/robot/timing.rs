//! Sets of timed runs: the robot leaves at moments it draws, and the program has to find them.
//!
//! Owns the sets, their bars and their printed tables. Refuses to drop a run: what the program
//! voids is repeated and counted.

use std::fs;
use std::path::{Path, PathBuf};
use std::time::Duration;

use rand::{RngExt, SeedableRng};
use rand_chacha::ChaCha12Rng;
use tempfile::TempDir;

use crate::measure::{Colour, Compared, HEAD, median, robust_sd, share_within, worst};
use crate::player::Player;
use crate::priority;
use crate::rig::{Rig, Start, Watchdog};
use crate::trace::Event;
use crate::xserver::{Outcome, XServer};

/// The robot leaves between these, ms from the last amber.
const EARLIEST_MS: i64 = -100;
const LATEST_MS: i64 = 250;
/// A whole set may take so long.
const SET_LIMIT: Duration = Duration::from_secs(15 * 60);

/// One set of runs and what is asked of it.
#[derive(Debug, Clone, Copy)]
pub struct Set {
    pub name: &'static str,
    pub frame_cap_hz: Option<u32>,
    pub sources: &'static str,
    /// With a sound device, and everything played on it.
    pub sound: bool,
    pub runs: usize,
    pub seed: u64,
    /// The largest median error, ms; `None` where only the stated doubt has to be true.
    pub median_error_ms: Option<f64>,
    /// Between these the median width of the stated interval has to lie, ms.
    pub stated_width_ms: (f64, f64),
}

/// Plays `set`; when it misses a bar, plays it once more before it fails.
pub fn play_set(set: Set) -> Outcome<()> {
    let Err(first) = play_once(set)? else { return Ok(()) };
    println!(
        "{}: {first}\nThe machine may have been busy: the whole set is repeated once.",
        set.name
    );
    play_once(set)?.map_err(|second| format!("{}: first {first}\nagain {second}", set.name))
}

/// The outer error is a run that could not be played, the inner one a bar that was missed.
fn play_once(set: Set) -> Outcome<Result<(), String>> {
    let server = XServer::start(800, 480)?;
    let folder = TempDir::new().map_err(|e| e.to_string())?;
    let data = folder.path().join("data");
    fs::create_dir(&data).map_err(|e| e.to_string())?;
    let sound = set.sound.then(|| device_that_takes_everything(folder.path())).transpose()?;
    let start = Start {
        frame_cap_hz: set.frame_cap_hz,
        sources: Some(set.sources),
        sound,
        ..Start::usual(&data, &folder.path().join("trace.txt"), set.seed)
    };
    let watchdog = Watchdog::after(SET_LIMIT);
    watchdog.watch(server.process());
    let rig = Rig::start(&server, start)?;
    watchdog.watch(rig.process());
    priority::raise(&server, &rig)?;
    let mut player = Player::new(rig);
    let played = play_runs(&mut player, set).map_err(|e| player.rig.explain(&e))?;
    let plays = player.rig.trace.events_from(0).any(|e| matches!(e, Event::SoundDevice));
    if set.sound && !plays {
        return Err(player.rig.explain("no sound was played, though there is a device"));
    }
    print_set(set, &played, &player);
    Ok(judge(set, &played).map_err(|e| player.rig.explain(&e)))
}

/// The sound library's own device that takes all samples at once and is never heard: the thread that
/// feeds it is busier than with any real one.
fn device_that_takes_everything(folder: &Path) -> Outcome<PathBuf> {
    let file = folder.join("asound.conf");
    fs::write(&file, "pcm.!default { type null }\nctl.!default { type null }\n")
        .map_err(|e| e.to_string())?;
    Ok(file)
}

struct PlayedSet {
    runs: Vec<Compared>,
    voids: usize,
    shown_after_due_ms: Vec<f64>,
}

fn play_runs(player: &mut Player, set: Set) -> Outcome<PlayedSet> {
    player.enter_tree_only()?;
    let mut generator = ChaCha12Rng::seed_from_u64(set.seed);
    let mut played = PlayedSet { runs: Vec::new(), voids: 0, shown_after_due_ms: Vec::new() };
    println!("\n{}: {} runs\n{HEAD}", set.name, set.runs);
    while played.runs.len() < set.runs {
        let aimed_ns = generator.random_range(EARLIEST_MS * 1_000_000..=LATEST_MS * 1_000_000);
        let run = player.play(aimed_ns)?;
        if run.verdict.outcome == "void" {
            played.voids += 1;
            println!("     void: {} (the run is repeated)", run.verdict.id);
            if played.voids > set.runs / 4 {
                return Err(format!("{} void runs, more than a quarter", played.voids));
            }
            continue;
        }
        let sighting = run.sighting.ok_or_else(|| {
            format!("a verdict {} before the last amber was seen", run.verdict.outcome)
        })?;
        let mut compared = Compared::new(aimed_ns, &sighting, &run.verdict)?;
        compared.stock_driver_ns = run.stock_driver_ns;
        played.runs.push(compared);
        println!("{}", played.runs[played.runs.len() - 1].row(played.runs.len()));
        played.shown_after_due_ms.extend(run.shown_after_due_ns.map(|ns| ns as f64 * 1e-6));
    }
    Ok(played)
}

fn print_set(set: Set, played: &PlayedSet, player: &Player) {
    let errors: Vec<f64> = played.runs.iter().map(Compared::error_ms).collect();
    let count = |colour| played.runs.iter().filter(|r| r.colour == colour).count();
    let reds = played.runs.iter().filter(|r| r.outcome == "red").count();
    let rate =
        player.rig.trace.last(|e| if let Event::FrameRate(hz) = e { Some(*hz) } else { None });
    println!("{}: summary", set.name);
    println!(
        "  error of the driver part    median {:+.2} ms, robust SD {:.2} ms",
        median(&errors),
        robust_sd(&errors)
    );
    println!(
        "  within 2, 2.5, 4 ms         {:.0}, {:.0}, {:.0} %; the worst {:.2} ms",
        100.0 * share_within(&errors, 2.0),
        100.0 * share_within(&errors, 2.5),
        100.0 * share_within(&errors, 4.0),
        worst(&errors)
    );
    let stock: Vec<f64> = played.runs.iter().filter_map(Compared::stock_error_ms).collect();
    println!(
        "  by the update loop alone    median {:+.2} ms, robust SD {:.2} ms, the worst {:.2} ms",
        median(&stock),
        robust_sd(&stock),
        worst(&stock)
    );
    println!("  intervals meet              {} of {}", meeting(played), played.runs.len());
    println!("  stated width                median {:.2} ms", stated_width(played));
    println!("  robot's own width           median {:.2} ms", robot_width(played));
    println!(
        "  colours                     {reds} red, {} green; {} agree, {} open, {} contradict",
        played.runs.len() - reds,
        count(Colour::Agrees),
        count(Colour::Open),
        count(Colour::Contradicts)
    );
    println!("  void runs repeated          {}", played.voids);
    println!("  last amber shown after due  median {:.1} ms", median(&played.shown_after_due_ms));
    println!(
        "  frames per second           {}, asked {}",
        rate.map_or("not told".to_owned(), |hz| format!("{hz:.1}")),
        set.frame_cap_hz.map_or("default".to_owned(), |hz| hz.to_string())
    );
    println!("  load average                {}", load_average());
    println!("  priority                    {}", priority::words());
}

fn judge(set: Set, played: &PlayedSet) -> Result<(), String> {
    let errors: Vec<f64> = played.runs.iter().map(Compared::error_ms).collect();
    let needed = (set.runs * 9).div_ceil(10);
    let mut missed = Vec::new();
    if meeting(played) < needed {
        missed.push(format!("{} intervals meet, {needed} needed", meeting(played)));
    }
    if set.median_error_ms.is_some_and(|bar| median(&errors).abs() > bar) {
        missed.push(format!("the median error is {:+.2} ms", median(&errors)));
    }
    let (narrowest, widest) = set.stated_width_ms;
    if !(narrowest..=widest).contains(&stated_width(played)) {
        missed.push(format!(
            "the median stated width is {:.2} ms, outside {narrowest} … {widest}",
            stated_width(played)
        ));
    }
    let against = played.runs.iter().filter(|r| r.colour == Colour::Contradicts).count();
    if against > 0 {
        missed.push(format!("{against} verdicts contradict the robot"));
    }
    if missed.is_empty() { Ok(()) } else { Err(missed.join("; ")) }
}

fn meeting(played: &PlayedSet) -> usize {
    played.runs.iter().filter(|r| r.meets()).count()
}

fn stated_width(played: &PlayedSet) -> f64 {
    median(&played.runs.iter().map(Compared::stated_width_ms).collect::<Vec<_>>())
}

fn robot_width(played: &PlayedSet) -> f64 {
    median(&played.runs.iter().map(Compared::robot_width_ms).collect::<Vec<_>>())
}

/// The load of the machine over the last minute, as the kernel prints it.
fn load_average() -> String {
    let text = fs::read_to_string("/proc/loadavg").unwrap_or_default();
    text.split(' ').next().unwrap_or_default().to_owned()
}
