//! When a frame reached the screen.
//!
//! Owns the way of a frame's number through the renderer and back with a stamp: two feeds, the
//! render world's own (with the display server's word where there is one) and an echo for running
//! without a window; and where on the screen the window stands. Refuses lamps: who knows what was
//! drawn in which frame is the lane.

pub mod place;
mod render_side;
pub mod x11_words;

pub use place::{ScreenPlace, follow_window};
pub use render_side::{Pace, plugin as render_plugin};

use super::clock::{self, Clock, Now};
use crate::onset::{Completion, Grade, Handed, Ladder, Seen};
use crate::units::{Mark, Span, Stamp};
use bevy::prelude::*;
use std::collections::VecDeque;
use std::sync::Mutex;
use std::sync::mpsc::Receiver;

/// Frames of the running medians.
const WINDOW: usize = 31;

/// How frames come back.
#[derive(Resource)]
pub enum OnsetFeed {
    /// From the render world.
    Presented(Mutex<Receiver<Handed>>),
    /// Without a window: every frame counts as shown this long after its update.
    Echo(Span),
    /// Without a window and without any word of what was shown.
    Silent,
}

/// The display server's word of frames, where somebody listens to it.
#[derive(Resource, Default)]
pub struct ServerWords {
    words: Option<Mutex<Receiver<Completion>>>,
    /// Kept: dropping it ends its thread.
    _listener: Option<x11_words::X11Words>,
    /// Why nobody listens, in plain words.
    pub reason: Option<String>,
}

impl ServerWords {
    /// Words heard by `listener`.
    pub fn of(listener: x11_words::X11Words, words: Receiver<Completion>) -> Self {
        Self { words: Some(Mutex::new(words)), _listener: Some(listener), reason: None }
    }

    /// Nobody listens; `reason` says why.
    pub fn none(reason: String) -> Self {
        Self { reason: Some(reason), ..Self::default() }
    }
}

/// Frames lately shown.
#[derive(Resource, Debug, Default)]
pub struct Frames {
    /// Frames seen since the last update, oldest first.
    pub news: Vec<Seen>,
    /// What the stamps come from.
    pub ladder: Ladder,
    last: Option<Seen>,
    intervals: VecDeque<Span>,
    leads: VecDeque<Span>,
    woke_late: VecDeque<Span>,
    /// The program paces itself; the display does not.
    pub self_paced: bool,
    own_pace: Option<Span>,
}

impl Frames {
    /// Running median of the intervals between shown frames; 16.7 ms until there are some.
    pub fn period(&self) -> Span {
        median(&self.intervals).unwrap_or(Span::from_us(16_667))
    }

    /// The period the display or the program means to keep, whatever a busy machine makes of it.
    pub fn nominal_period(&self) -> Span {
        self.own_pace.or(self.ladder.grid_period()).unwrap_or_else(|| self.period())
    }

    /// Running median of the time from an update to its frame's light.
    pub fn lead(&self) -> Span {
        median(&self.leads).unwrap_or(Span::from_ms(16))
    }

    /// The worst wake-up of the last half second or so: how much the machine is contended for.
    pub fn jitter(&self) -> Span {
        self.woke_late.iter().copied().max().unwrap_or_default()
    }

    /// The interval before the frame shown last.
    pub fn last_interval(&self) -> Option<Span> {
        self.intervals.back().copied()
    }

    /// Any frame was shown yet.
    pub fn any(&self) -> bool {
        self.last.is_some()
    }

    /// The frame shown last.
    pub fn last(&self) -> Option<Seen> {
        self.last
    }

    /// What gives the time of a lamp at present.
    pub fn grade(&self) -> Grade {
        self.last.map(|seen| seen.grade).unwrap_or_default()
    }

    /// Whether the display paints from top to bottom at its own pace.
    pub fn scans_out(&self) -> bool {
        matches!(self.grade(), Grade::Feedback | Grade::Grid)
    }

    fn take(&mut self, seen: Seen) {
        if let Some(last) = self.last {
            push(&mut self.intervals, seen.shown.best() - last.shown.best());
        }
        push(&mut self.leads, seen.shown.best() - seen.decided);
        self.last = Some(seen);
        self.news.push(seen);
    }
}

fn push(window: &mut VecDeque<Span>, span: Span) {
    if window.len() == WINDOW {
        window.pop_front();
    }
    window.push_back(span);
}

fn median(window: &VecDeque<Span>) -> Option<Span> {
    let mut sorted: Vec<Span> = window.iter().copied().collect();
    sorted.sort_unstable();
    sorted.get(sorted.len() / 2).copied()
}

pub(super) fn plugin(app: &mut App) {
    app.init_resource::<Frames>()
        .init_resource::<ServerWords>()
        .init_resource::<ScreenPlace>()
        .add_systems(First, read_frames.after(clock::read_clock));
}

/// Takes what was shown since the last update.
fn read_frames(
    feed: Res<OnsetFeed>,
    words: Res<ServerWords>,
    clock: Res<Clock>,
    now: Res<Now>,
    mut frames: ResMut<Frames>,
) {
    frames.news.clear();
    match &*feed {
        OnsetFeed::Presented(handed) => {
            let Ok(handed) = handed.lock() else { return };
            for handed in handed.try_iter() {
                (frames.self_paced, frames.own_pace) = (handed.self_paced, handed.own_pace);
                push(&mut frames.woke_late, handed.woke_late);
                frames.ladder.hand_over(handed);
            }
            if let Some(Ok(words)) = words.words.as_ref().map(Mutex::lock) {
                words.try_iter().for_each(|word| frames.ladder.complete(word));
            }
            let (period, jitter) = (frames.period(), frames.jitter());
            let seen = frames.ladder.take_seen(now.mark, period, jitter);
            seen.into_iter().for_each(|seen| frames.take(seen));
        }
        OnsetFeed::Echo(delay) => {
            if now.frame > 1 {
                frames.take(echo(now.frame - 1, now.before, *delay));
            }
            debug_assert!(matches!(*clock, Clock::Told(_)), "an echo goes with a told clock");
        }
        OnsetFeed::Silent => {}
    }
}

fn echo(frame: u64, decided: Mark, delay: Span) -> Seen {
    Seen { frame, decided, shown: Stamp::exact(decided + delay), grade: Grade::Present }
}
