//! The robot: the real program on a real X server, seen and driven only from outside.
//!
//! Owns the tests and their bars. Refuses to run two of them at once: they measure time.
//!
//! `LASTAMBER_ROBOT=full` plays the full counts instead of the short set; `LASTAMBER_ROBOT_PRIORITY=1`
//! gives all that is timed real-time priority; `LASTAMBER_SHOTS=DIR`
//! writes pictures of the newcomer's way.

mod devices;
mod eyes;
mod framebuffer;
mod frames;
mod keys;
mod kills;
mod long;
mod measure;
mod player;
mod present;
mod presses;
mod priority;
mod prompts;
mod quiet;
mod refusals;
mod rhythm;
mod rig;
mod sockets;
mod story;
mod timing;
mod trace;
mod window;
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
fn a_window_closed_in_the_countdown_keeps_the_run_and_ends_well() {
    let _alone = alone();
    told(devices::close_in_the_countdown());
}

#[test]
fn a_hidden_window_and_a_lost_focus_give_the_run_up_and_leave_the_next_as_ever() {
    let _alone = alone();
    told(devices::hide_and_look_away());
}

#[test]
fn two_hundred_sizes_in_one_countdown_harm_nothing() {
    let _alone = alone();
    told(devices::resize_without_end());
}

#[test]
fn a_monitor_of_another_density_harms_nothing() {
    let _alone = alone();
    told(devices::change_the_density());
}

#[test]
fn the_lane_fits_screens_from_the_smallest_to_4k() {
    let _alone = alone();
    told(devices::every_size());
}

#[test]
fn a_sound_device_that_goes_away_in_the_middle_takes_nothing_with_it() {
    let _alone = alone();
    told(devices::unplug_the_sound());
}

#[test]
fn the_window_is_there_before_a_long_history_is_read() {
    let _alone = alone();
    told(long::start_over_a_long_history());
}

#[test]
fn nothing_is_spoken_over_a_network() {
    let _alone = alone();
    told(sockets::listen_to_all());
}

#[test]
fn a_window_nobody_touches_rests() {
    let _alone = alone();
    told(quiet::leave_alone(&quiet::Bars { started: None }));
}

#[test]
#[ignore = "a measurement for an idle machine, with --release"]
fn how_fast_it_starts_and_how_quietly_it_waits() {
    let _alone = alone();
    told(quiet::leave_alone(&quiet::Bars { started: Some(Duration::from_millis(1_500)) }));
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
