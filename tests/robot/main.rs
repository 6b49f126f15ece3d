//! The robot: the real program on a real X server, seen and driven only from outside.
//!
//! Owns the tests and their bars. Refuses to run two of them at once: they measure time.
//!
//! `LASTAMBER_ROBOT=full` plays the full counts instead of the short set; `LASTAMBER_ROBOT_PRIORITY=1`
//! gives all that is timed real-time priority; `LASTAMBER_SHOTS=DIR`
//! writes pictures of the newcomer's way.

mod eyes;
mod framebuffer;
mod frames;
mod keys;
mod kills;
mod measure;
mod player;
mod present;
mod presses;
mod priority;
mod prompts;
mod refusals;
mod rhythm;
mod rig;
mod story;
mod timing;
mod trace;
mod xserver;

use std::fs::File;
use std::sync::{Mutex, MutexGuard};
use std::thread;
use std::time::{Duration, Instant};

use timing::Set;

/// A busy two-core machine gives tails of 5 ms that no design removes; the median stays below.
const MEDIAN_BAR_MS: f64 = 5.0;
/// With a source that stamps presses the stated width may not grow with the frame: less than half
/// a frame of 50 ms.
const STAMPED_WIDTH_MS: (f64, f64) = (0.0, 25.0);
/// Without one, a press lies somewhere between two frames of 50 ms, and the program has to say so.
const FRAME_WIDTH_MS: (f64, f64) = (25.0, 250.0);

#[test]
fn a_newcomer_reaches_a_verdict() {
    let _alone = alone();
    told(story::tell());
}

#[test]
fn launch_follows_launch_by_one_key() {
    let _alone = alone();
    told(rhythm::launch_on(count(5, 30)));
}

#[test]
fn the_driver_part_is_true_at_the_default_frame_rate() {
    let _alone = alone();
    told(timing::play_set(Set {
        name: "default frame rate",
        frame_cap_hz: None,
        sources: "auto",
        sound: false,
        runs: count(20, 100),
        seed: 0x1A57_0001,
        median_error_ms: Some(MEDIAN_BAR_MS),
        stated_width_ms: STAMPED_WIDTH_MS,
    }));
}

#[test]
fn the_driver_part_is_as_true_at_twenty_frames_per_second() {
    let _alone = alone();
    told(timing::play_set(Set {
        name: "20 frames per second",
        frame_cap_hz: Some(20),
        sources: "auto",
        sound: false,
        runs: count(20, 100),
        seed: 0x1A57_0002,
        median_error_ms: Some(MEDIAN_BAR_MS),
        stated_width_ms: STAMPED_WIDTH_MS,
    }));
}

#[test]
fn sound_makes_no_lamp_and_no_stamp_later() {
    let _alone = alone();
    told(timing::play_set(Set {
        name: "with sound",
        frame_cap_hz: None,
        sources: "auto",
        sound: true,
        runs: count(10, 100),
        seed: 0x1A57_0006,
        median_error_ms: Some(MEDIAN_BAR_MS),
        stated_width_ms: STAMPED_WIDTH_MS,
    }));
}

#[test]
fn without_a_press_source_the_stated_doubt_grows_to_the_frame_and_is_true() {
    let _alone = alone();
    told(timing::play_set(Set {
        name: "20 frames per second, no source",
        frame_cap_hz: Some(20),
        sources: "none",
        sound: false,
        runs: count(8, 100),
        seed: 0x1A57_0003,
        median_error_ms: None,
        stated_width_ms: FRAME_WIDTH_MS,
    }));
}

#[test]
fn the_servers_word_of_a_frame_is_its_light() {
    let _alone = alone();
    told(present::present_and_look(count(40, 200)));
}

#[test]
fn no_press_is_lost_none_invented_and_none_heard_that_is_not_ours() {
    let _alone = alone();
    told(presses::press_and_count(count(200, 2_000), 0x1A57_0005));
}

#[test]
fn without_a_display_or_an_adapter_it_says_what_to_do() {
    told(refusals::start_without());
}

#[test]
fn what_was_shown_survives_a_kill_at_any_moment() {
    let _alone = alone();
    told(kills::kill_and_look(count(10, 50), 0x1A57_0004));
}

#[test]
#[ignore = "a measurement for an idle machine, with --release"]
fn what_the_lane_draws_a_second() {
    let _alone = alone();
    told(frames::draw_and_count());
}

/// How many: in the short set, or in the full one.
fn count(short: usize, full: usize) -> usize {
    if std::env::var("LASTAMBER_ROBOT").is_ok_and(|v| v == "full") { full } else { short }
}

/// Fails the test with the account of what went wrong.
fn told(outcome: Result<(), String>) {
    if let Err(what) = outcome {
        panic!("{what}");
    }
}

/// Held while a test measures: by this process's other tests and, through a locked file, by other
/// processes of this machine.
struct Alone {
    _tests: MutexGuard<'static, ()>,
    _processes: File,
}

fn alone() -> Alone {
    static TESTS: Mutex<()> = Mutex::new(());
    let tests = TESTS.lock().unwrap_or_else(|poisoned| poisoned.into_inner());
    let path = std::env::temp_dir().join("lastamber-robot.lock");
    let file = File::create(&path).expect("the folder for temporary files can be written");
    let end = Instant::now() + Duration::from_secs(30 * 60);
    while file.try_lock().is_err() {
        assert!(Instant::now() < end, "{} is locked by another robot", path.display());
        thread::sleep(Duration::from_millis(200));
    }
    Alone { _tests: tests, _processes: file }
}
