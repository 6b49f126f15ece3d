//! The render world's half: stamps of every frame handed to the display, and pacing.
//!
//! Owns the stamps around acquire and present, given only when the frame was acquired *and* handed over,
//! and the wait for the next frame's turn where the display does not make the program wait.
//! Refuses to say when the light was seen: the ladder does.

use super::OnsetFeed;
use crate::app::clock::{self, Now};
use crate::onset::Handed;
use crate::onset::pacing::PacingWatch;
use crate::units::{Mark, Span};
use bevy::prelude::*;
use bevy::render::renderer::RenderAdapterInfo;
use bevy::render::view::{ExtractedWindows, prepare_windows};
use bevy::render::{Extract, ExtractSchedule, Render, RenderApp, RenderSystems};
use bevy::window::Monitor;
use std::sync::Mutex;
use std::sync::mpsc::{Sender, channel};

/// The pace where neither the display nor the user names one: 60 frames a second.
const USUAL_PERIOD: Span = Span::from_ns(16_666_667);

/// Pacing of the render world.
#[derive(Resource, Debug, Clone, Copy)]
pub struct Pace {
    /// A cap the user asked for.
    pub cap: Option<Span>,
}

#[derive(Resource)]
struct RenderSide {
    /// Number and mark of the update being drawn.
    tag: (u64, Mark),
    acquired: Option<Mark>,
    fresh_surface: bool,
    pacing: Option<PacingWatch>,
    self_paced: bool,
    cap: Option<Span>,
    /// The refresh the display names.
    named_period: Option<Span>,
    last_returned: Option<Mark>,
    next: Mark,
    woke_late: Span,
    out: Sender<Handed>,
}

impl RenderSide {
    /// What is waited for: the user's cap, else the display's refresh where it does not wait itself.
    fn pace(&self) -> Option<Span> {
        let own = self.self_paced.then(|| self.named_period.unwrap_or(USUAL_PERIOD));
        self.cap.or(own)
    }
}

/// Call after the engine's plugins.
pub fn plugin(app: &mut App) {
    let (out, handed) = channel();
    app.insert_resource(OnsetFeed::Presented(Mutex::new(handed)));
    let Some(pace) = app.world().get_resource::<Pace>().copied() else { return };
    let Some(render) = app.get_sub_app_mut(RenderApp) else { return };
    render
        .insert_resource(RenderSide {
            tag: (0, Mark::default()),
            acquired: None,
            fresh_surface: false,
            pacing: None,
            self_paced: false,
            cap: pace.cap,
            named_period: None,
            last_returned: None,
            next: Mark::default(),
            woke_late: Span::ZERO,
            out,
        })
        .add_systems(ExtractSchedule, tag_frame)
        .add_systems(
            Render,
            (
                note_acquired.in_set(RenderSystems::PrepareViews).after(prepare_windows),
                stamp_presented.in_set(RenderSystems::Cleanup),
            ),
        );
}

fn tag_frame(
    now: Extract<Res<Now>>,
    monitors: Extract<Query<&Monitor>>,
    mut side: ResMut<RenderSide>,
) {
    side.tag = (now.frame, now.mark);
    let rates = monitors.iter().filter_map(|monitor| monitor.refresh_rate_millihertz);
    side.named_period = rates
        .filter(|rate| *rate > 0)
        .max()
        .map(|rate| Span::from_ns(1_000_000_000_000 / i64::from(rate)));
}

fn note_acquired(windows: Res<ExtractedWindows>, mut side: ResMut<RenderSide>) {
    let held = windows.values().any(|w| w.swap_chain_texture.is_some());
    side.acquired = held.then(clock::now);
    side.fresh_surface |= windows.values().any(|w| w.size_changed || w.present_mode_changed);
}

/// Stamps the frame if it was acquired and has been handed to the display, then waits for the next
/// frame's turn where the display does not make it wait.
fn stamp_presented(
    windows: Res<ExtractedWindows>,
    adapter: Res<RenderAdapterInfo>,
    mut side: ResMut<RenderSide>,
) {
    let returned = clock::now();
    let handed_over = windows.values().all(|w| w.swap_chain_texture.is_none());
    if let Some(acquired) = side.acquired.filter(|_| handed_over) {
        watch_pacing(&mut side, returned, || format!("{:?}", adapter.device_type) == "Cpu");
        let (frame, decided) = side.tag;
        let own_pace = side.pace();
        let handed = Handed {
            frame,
            decided,
            acquired,
            returned,
            fresh_surface: std::mem::take(&mut side.fresh_surface),
            self_paced: side.self_paced,
            own_pace,
            woke_late: side.woke_late,
        };
        // Nobody listening means that the program is ending.
        let _ = side.out.send(handed);
    }
    if let Some(period) = side.pace() {
        side.next = (side.next + period).max(clock::now());
        clock::sleep_until(side.next);
        side.woke_late = clock::now() - side.next;
    }
}

/// A software renderer's first-in-first-out does not wait for any refresh, and is known at once; of
/// others the first frames tell, unless a cap hides it.
fn watch_pacing(side: &mut RenderSide, returned: Mark, is_software: impl FnOnce() -> bool) {
    let last = side.last_returned.replace(returned);
    if side.pacing.is_none() {
        let known = is_software();
        side.self_paced = known;
        side.pacing = Some(if known { PacingWatch::known(true) } else { PacingWatch::default() });
    }
    let (named, capped) = (side.named_period, side.cap.is_some());
    if let (Some(last), Some(watch), false) = (last, &mut side.pacing, capped)
        && let Some(decided) = watch.observe(returned - last, named)
    {
        side.self_paced = decided;
    }
}
