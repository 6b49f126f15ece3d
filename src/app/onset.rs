//! When a frame reached the screen.
//!
//! Owns the way of a frame's number through the renderer and back with a stamp: two feeds, the
//! render world's own (a stamp after present, given only when the frame was acquired *and*
//! presented) and an echo for running without a window. Also paces frames where the display does
//! not. Refuses lamps: who knows what was drawn in which frame is the lane.

use super::clock::{self, Clock, Now};
use crate::units::{Mark, Span, Stamp};
use bevy::prelude::*;
use bevy::render::renderer::RenderAdapterInfo;
use bevy::render::view::ExtractedWindows;
use bevy::render::{Extract, ExtractSchedule, Render, RenderApp, RenderSystems};
use std::collections::VecDeque;
use std::sync::Mutex;
use std::sync::mpsc::{Receiver, Sender, channel};

/// Where the pixel lies against the moment after present on a display without a vblank of its own.
/// Measured on a software display: −0.31…+0.79 ms on a busy machine, ±0.17 on a quiet one.
const BEFORE_STAMP: Span = Span::from_us(500);
const AFTER_STAMP: Span = Span::from_us(1_000);

/// Frames of the running medians.
const WINDOW: usize = 31;

/// A frame that reached the screen.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct FrameReport {
    /// The update that drew it.
    pub frame: u64,
    /// The mark of that update.
    pub decided: Mark,
    /// When its pixels lit.
    pub shown: Stamp,
}

/// A frame handed to the display.
#[derive(Debug, Clone, Copy)]
pub struct Presented {
    frame: u64,
    decided: Mark,
    returned: Mark,
    self_paced: bool,
    /// How late the pacing sleep before this frame ended.
    woke_late: Span,
}

impl Presented {
    /// When the pixels lit: with the return of present on a display without a vblank; otherwise
    /// within the display's frame that follows, nothing here says where. `jitter` is how late this
    /// program lately got the processor; the display's side waits for it likewise.
    fn report(self, period: Span, jitter: Span) -> FrameReport {
        let (earliest, returned) = (self.returned - BEFORE_STAMP - jitter, self.returned);
        let shown = if self.self_paced {
            Stamp::new(earliest, returned, returned + AFTER_STAMP + jitter)
        } else {
            Stamp::new(earliest, returned + period.half(), returned + period)
        };
        FrameReport { frame: self.frame, decided: self.decided, shown }
    }
}

/// How frames come back.
#[derive(Resource)]
pub enum OnsetFeed {
    /// From the render world.
    Presented(Mutex<Receiver<Presented>>),
    /// Without a window: every frame counts as shown this long after its update.
    Echo(Span),
    /// Without a window and without any word of what was shown.
    Silent,
}

/// Frames lately shown.
#[derive(Resource, Debug, Default)]
pub struct Frames {
    /// Reports of this update, oldest first.
    pub news: Vec<FrameReport>,
    last: Option<FrameReport>,
    intervals: VecDeque<Span>,
    leads: VecDeque<Span>,
    woke_late: VecDeque<Span>,
    /// The program paces itself; the display does not.
    pub self_paced: bool,
}

impl Frames {
    /// Running median of the intervals between shown frames; 16.7 ms until there are some.
    pub fn period(&self) -> Span {
        median(&self.intervals).unwrap_or(Span::from_us(16_667))
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

    fn take(&mut self, report: FrameReport) {
        if let Some(last) = self.last {
            push(&mut self.intervals, report.shown.best() - last.shown.best());
        }
        push(&mut self.leads, report.shown.best() - report.decided);
        self.last = Some(report);
        self.news.push(report);
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
    app.init_resource::<Frames>().add_systems(First, read_frames.after(super::clock::read_clock));
}

/// Takes what was shown since the last update.
fn read_frames(feed: Res<OnsetFeed>, clock: Res<Clock>, now: Res<Now>, mut frames: ResMut<Frames>) {
    frames.news.clear();
    match &*feed {
        OnsetFeed::Presented(reports) => {
            let Ok(reports) = reports.lock() else { return };
            for presented in reports.try_iter() {
                frames.self_paced = presented.self_paced;
                push(&mut frames.woke_late, presented.woke_late);
                let (period, jitter) = (frames.period(), frames.jitter());
                frames.take(presented.report(period, jitter));
            }
        }
        OnsetFeed::Echo(delay) => {
            if now.frame > 1 {
                let shown = Stamp::exact(now.before + *delay);
                frames.take(FrameReport { frame: now.frame - 1, decided: now.before, shown });
            }
            debug_assert!(matches!(*clock, Clock::Told(_)), "an echo goes with a told clock");
        }
        OnsetFeed::Silent => {}
    }
}

/// Pacing of the render world.
#[derive(Resource, Debug, Clone, Copy)]
pub struct Pace {
    /// A cap the user asked for.
    pub cap: Option<Span>,
}

#[derive(Resource)]
struct RenderSide {
    tag: (u64, Mark),
    acquired: bool,
    self_paced: Option<bool>,
    period: Option<Span>,
    next: Mark,
    woke_late: Span,
    out: Sender<Presented>,
}

/// The render world's half. Call after the engine's plugins.
pub(super) fn render_plugin(app: &mut App) {
    let (out, reports) = channel();
    app.insert_resource(OnsetFeed::Presented(Mutex::new(reports)));
    let Some(pace) = app.world().get_resource::<Pace>().copied() else { return };
    let Some(render) = app.get_sub_app_mut(RenderApp) else { return };
    render
        .insert_resource(RenderSide {
            tag: (0, Mark::default()),
            acquired: false,
            self_paced: None,
            period: pace.cap,
            next: Mark::default(),
            woke_late: Span::ZERO,
            out,
        })
        .add_systems(ExtractSchedule, tag_frame)
        .add_systems(
            Render,
            (
                note_acquired.in_set(RenderSystems::PrepareBindGroups),
                stamp_presented.in_set(RenderSystems::Cleanup),
            ),
        );
}

fn tag_frame(now: Extract<Res<Now>>, mut side: ResMut<RenderSide>) {
    side.tag = (now.frame, now.mark);
}

fn note_acquired(windows: Res<ExtractedWindows>, mut side: ResMut<RenderSide>) {
    side.acquired = windows.values().any(|w| w.swap_chain_texture.is_some());
}

/// Stamps the frame if it was acquired and has been handed to the display, then waits for the next
/// frame's turn where the display does not make it wait.
fn stamp_presented(
    windows: Res<ExtractedWindows>,
    adapter: Res<RenderAdapterInfo>,
    mut side: ResMut<RenderSide>,
) {
    let mark = clock::now();
    // A software renderer's Fifo does not wait for any vblank: frames would come as fast as the
    // processor draws them.
    let software = || format!("{:?}", adapter.device_type) == "Cpu";
    let self_paced = *side.self_paced.get_or_insert_with(software);
    let presented = side.acquired && windows.values().all(|w| w.swap_chain_texture.is_none());
    if presented {
        let (frame, decided) = side.tag;
        // Nobody listening means that the program is ending.
        let woke_late = side.woke_late;
        let _ = side.out.send(Presented { frame, decided, returned: mark, self_paced, woke_late });
    }
    let default_period = self_paced.then_some(Span::from_ns(16_666_667));
    if let Some(period) = side.period.or(default_period) {
        side.next = (side.next + period).max(clock::now());
        clock::sleep_until(side.next);
        side.woke_late = clock::now() - side.next;
    }
}
