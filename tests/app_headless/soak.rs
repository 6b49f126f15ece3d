//! Evening after evening without an end: run upon run through the whole app, each written to a real
//! history, while memory, open files and threads are counted.
//!
//! Owns the driver, who launches early, late or not at all and breaks off now and then, and the bars.
//! Refuses bars on the clock: what an update takes is printed. `LASTAMBER_SOAK=100000` plays so many runs
//! instead of the few of the gate.

use super::rig::{Rig, is_told, record_of};
use bevy::ecs::schedule::SingleThreadedExecutor;
use bevy::prelude::*;
use bevy::window::WindowFocused;
use lastamber::app::Screen;
use lastamber::app::lane::{Phase, Session};
use lastamber::app::onset::OnsetFeed;
use lastamber::history::{DataFolder, Writer, load_without_lock};
use lastamber::trial::Drill;
use lastamber::units::Span;
use rand::{RngExt, SeedableRng};
use rand_chacha::ChaCha12Rng;
use std::collections::BTreeMap;
use std::fs;
use std::time::Instant;

/// Runs of the gate.
const FEW: usize = 240;
/// Memory may grow so much from the second quarter to the last: what an allocator keeps for itself, less
/// than two kB a run in the gate.
const GROWTH_KB: i64 = 200;
/// A page of memory on the machines this is built for (getconf PAGESIZE).
const PAGE_KB: i64 = 4;
/// The drills in turn, blocks of so many runs each.
const BLOCK: usize = 20;
const DRILLS: [Drill; 4] =
    [Drill::TreeOnly, Drill::ReactOrTime, Drill::GuessTest, Drill::OtherLaneFirst];

#[test]
fn no_number_of_runs_makes_it_grow() {
    let runs = std::env::var("LASTAMBER_SOAK").ok().and_then(|runs| runs.parse().ok());
    let runs: usize = runs.unwrap_or(FEW);
    let folder = tempfile::tempdir().unwrap();
    let held = DataFolder::open(folder.path()).unwrap();
    let writer = Writer::start(held.open_log().unwrap()).unwrap();
    let mut rig = Rig::writing_to(writer, Drill::TreeOnly, OnsetFeed::Echo(Span::from_ms(10)));
    rig.frame = Span::from_ms(40);
    one_thread(&mut rig.app);
    // Scripted runs are spared some of the work.
    rig.app.world_mut().resource_mut::<Session>().scripted = false;
    let mut random = ChaCha12Rng::seed_from_u64(0x50A4);
    let mut ends: BTreeMap<String, usize> = BTreeMap::new();
    // Its own memory is there from the beginning.
    let mut held_kb = vec![1; runs];
    let begun = Instant::now();
    for run in 0..runs {
        if run % BLOCK == 0 {
            let drill = DRILLS[run / BLOCK % DRILLS.len()];
            rig.app.world_mut().resource_mut::<Session>().set_drill(drill);
        }
        *ends.entry(play(&mut rig, &mut random)).or_default() += 1;
        held_kb[run] = memory_kb();
        if (run + 1) % (runs / 8).max(1) == 0 {
            let (threads, files) = (count("task"), count("fd"));
            let s = begun.elapsed().as_secs_f64();
            println!(
                "{:>7} runs, {s:.0} s: {} kB, {threads} threads, {files} files",
                run + 1,
                memory_kb()
            );
        }
    }
    let quarter = |n: usize| {
        let part = &held_kb[runs * n / 4..runs * (n + 1) / 4];
        part.iter().sum::<i64>() / part.len() as i64
    };
    let (second, last) = (quarter(1), quarter(3));
    println!("{runs} runs: {ends:?}; {second} kB in the second quarter, {last} kB in the last");
    drop(rig);
    drop(held);
    let loaded = load_without_lock(folder.path()).unwrap();
    assert_eq!(
        (loaded.trials.len(), loaded.damaged_count),
        (runs, 0),
        "each run once, none damaged"
    );
    assert!(last - second < GROWTH_KB, "{} kB more", last - second);
    assert!(ends.len() >= 5, "every way a run can end was met: {ends:?}");
}

/// Has all systems run one after the other: half a million updates an hour of waking threads is not what is
/// looked at here, and takes most of the time.
fn one_thread(app: &mut App) {
    let mut schedules = app.world_mut().resource_mut::<Schedules>();
    for (_, schedule) in schedules.iter_mut() {
        schedule.set_executor(SingleThreadedExecutor::new());
    }
}

/// What the driver does.
enum Does {
    /// Leaves so many updates after an amber was seen.
    Leaves { amber: u8, updates: usize },
    /// Sits there.
    Stays,
    /// Looks at another window once the second amber was seen.
    LooksAway,
    /// Pauses once it was seen.
    Pauses,
}

impl Does {
    fn draw(random: &mut ChaCha12Rng) -> Self {
        match random.random_range(0..100) {
            0..=1 => Does::Stays,
            2..=3 => Does::LooksAway,
            4..=5 => Does::Pauses,
            6..=20 => Does::Leaves { amber: 1, updates: random.random_range(6..12) },
            _ => Does::Leaves { amber: 2, updates: random.random_range(2..9) },
        }
    }
}

/// One run, from the key that asks for it to the verdict, and on to where the next can be asked for.
fn play(rig: &mut Rig, random: &mut ChaCha12Rng) -> String {
    let does = Does::draw(random);
    rig.start();
    let (mut waited, mut done) = (0, false);
    for _ in 0..2_000 {
        let world = rig.app.world();
        let Some(live) = world.resource::<Phase>().live() else { break };
        if record_of(world).is_some() {
            break;
        }
        let seen = |amber| live.machine.amber_shown(live.you, amber).is_some();
        match does {
            Does::Leaves { amber, updates } if !done && seen(amber) => {
                waited += 1;
                if waited > updates {
                    done = true;
                    rig.tap(KeyCode::Space);
                    continue;
                }
            }
            Does::LooksAway if !done && seen(1) => {
                done = true;
                let lost = WindowFocused { window: Entity::PLACEHOLDER, focused: false };
                rig.app.world_mut().write_message(lost);
            }
            Does::Pauses if !done && seen(1) => {
                done = true;
                rig.tap(KeyCode::Escape);
                rig.app.world_mut().resource_mut::<NextState<Screen>>().set(Screen::Lane);
            }
            _ => {}
        }
        rig.update();
    }
    rig.until_written("the verdict", is_told);
    let outcome = format!("{:?}", rig.record().expect("it has a verdict").outcome);
    rig.updates(50);
    // Without the numbers of a guess.
    outcome.split(' ').next().unwrap_or_default().to_owned()
}

/// Memory that is held, kB (proc(5): statm counts pages).
fn memory_kb() -> i64 {
    let pages = fs::read_to_string("/proc/self/statm").expect("the kernel tells of memory");
    let resident: i64 = pages.split_whitespace().nth(1).and_then(|n| n.parse().ok()).unwrap();
    resident * PAGE_KB
}

/// Open files or threads of this process.
fn count(what: &str) -> usize {
    fs::read_dir(format!("/proc/self/{what}")).map_or(0, Iterator::count)
}
