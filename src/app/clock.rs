//! The only reader of clocks.
//!
//! Owns the step from the machine's clocks to marks and wall time. Everything else is told the
//! time. Refuses to be a source of rules.

use crate::units::{Mark, Span};
use bevy::prelude::*;
use rustix::time::{ClockId, clock_gettime};
use std::time::Duration;

/// Now on the monotonic clock, the base of every mark and of the X server's milliseconds.
pub fn now() -> Mark {
    let t = clock_gettime(ClockId::Monotonic);
    Mark::from_ns(t.tv_sec * 1_000_000_000 + t.tv_nsec)
}

/// Now by the wall, with zone, ISO 8601 (RFC 9557 zone name).
pub fn wall_time() -> String {
    jiff::ZonedDateTime::now().to_string()
}

/// Sleeps until `mark`; returns at once when it has passed.
pub fn sleep_until(mark: Mark) {
    let left = mark - now();
    if left > Span::ZERO {
        std::thread::sleep(Duration::from_nanos(left.ns().unsigned_abs()));
    }
}

/// Where the update's mark comes from: the machine, or a test that moves the time itself.
#[derive(Resource, Debug, Clone, Copy, Default)]
pub enum Clock {
    /// The machine's monotonic clock.
    #[default]
    Machine,
    /// Only a test moves it.
    Told(Mark),
}

impl Clock {
    /// The mark of this moment.
    pub fn now(&self) -> Mark {
        match self {
            Clock::Machine => now(),
            Clock::Told(mark) => *mark,
        }
    }
}

/// The marks of this update.
#[derive(Resource, Debug, Clone, Copy, Default)]
pub struct Now {
    /// When this update began: the window's events were drained just before.
    pub mark: Mark,
    /// When the update before it began.
    pub before: Mark,
    /// Number of this update; frames carry it.
    pub frame: u64,
}

pub(in crate::app) fn plugin(app: &mut App) {
    app.init_resource::<Clock>().init_resource::<Now>().add_systems(First, read_clock);
}

/// Reads the clock once an update.
pub(in crate::app) fn read_clock(clock: Res<Clock>, mut now: ResMut<Now>) {
    let mark = clock.now();
    now.before = if now.frame == 0 { mark } else { now.mark };
    now.mark = mark;
    now.frame += 1;
}
