//! How often the window draws: at the display's pace while anything moves, seldom where nothing does.
//!
//! Owns that choice, made anew after every update. Refuses to rest while a run is asked for, staged or
//! watched to its end, and on the screens that measure: there every frame counts.

use super::history_store::Store;
use super::lane::{Ending, Phase, Session};
use super::{Screen, clock, wake};
use crate::drill::Moment;
use crate::units::{Mark, Span};
use bevy::prelude::*;
use bevy::window::WindowEvent;
use bevy::winit::{EventLoopProxyWrapper, UpdateMode, WinitSettings};
use std::time::Duration;

/// After a key, a call or a move of the mouse it is drawn on for so long: words that follow an update
/// later find their frame. Chosen.
const SETTLES: Span = Span::from_ms(600);
/// The lane stays awake longer: the beat of its frames is known again before the next run needs it. Chosen.
const LANE_SETTLES: Span = Span::from_ms(3_000);
/// From the verdict on the other car is watched for so long; it is out of sight by then. Chosen.
const WATCHES: Span = Span::from_ms(15_000);
/// Between two looks while things settle.
const BRISK: Duration = Duration::from_millis(50);
/// Between two looks while seconds are counted down.
const BY_THE_SECOND: Duration = Duration::from_secs(1);
/// Between two looks where nothing moves. Chosen: a look costs a frame, 50 ms of a processor at most.
const AT_REST: Duration = Duration::from_secs(10);

/// What moves.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
enum Moves {
    /// Lamps and cars, or what is measured by frames.
    Always,
    /// What a key or an answer has set off.
    Briefly,
    /// Seconds that are counted: of a pause, while a history is read, or until a line is tried again
    /// that could not be saved.
    Seconds,
    /// Nothing.
    Nothing,
}

impl Moves {
    fn mode(self) -> UpdateMode {
        match self {
            Moves::Always => UpdateMode::Continuous,
            Moves::Briefly => UpdateMode::reactive_low_power(BRISK),
            Moves::Seconds => UpdateMode::reactive_low_power(BY_THE_SECOND),
            Moves::Nothing => UpdateMode::reactive_low_power(AT_REST),
        }
    }
}

/// Call after the engine's plugins.
pub(super) fn plugin(app: &mut App) {
    app.add_systems(Startup, be_called).add_systems(Last, choose);
}

fn be_called(window: Res<EventLoopProxyWrapper>) {
    wake::call_here((*window).clone());
}

fn choose(
    screen: Res<State<Screen>>,
    phase: Res<Phase>,
    session: Res<Session>,
    store: Res<Store>,
    mut events: MessageReader<WindowEvent>,
    mut touched: Local<Option<Mark>>,
    mut winit: ResMut<WinitSettings>,
) {
    let now = clock::now();
    let called = wake::was_called();
    if events.read().next().is_some() || called || screen.is_changed() || touched.is_none() {
        *touched = Some(now);
    }
    let rests_since = touched.map_or(Span::ZERO, |at| now - at);
    let counts = store.has_unsaved()
        || **screen == Screen::Opening
        || (**screen == Screen::Lane && matches!(session.night(now), Some(Moment::Waiting { .. })));
    let mode = match moves(**screen, &phase, now, rests_since) {
        Moves::Nothing if counts => Moves::Seconds,
        moves => moves,
    }
    .mode();
    if winit.focused_mode != mode {
        *winit = WinitSettings { focused_mode: mode, unfocused_mode: mode };
    }
}

fn moves(screen: Screen, phase: &Phase, now: Mark, untouched: Span) -> Moves {
    let settles = if screen == Screen::Lane { LANE_SETTLES } else { SETTLES };
    match screen {
        Screen::SelfTest | Screen::FilmShoot => Moves::Always,
        Screen::Lane if runs(phase, now) || untouched < settles => Moves::Always,
        _ if untouched < settles => Moves::Briefly,
        _ => Moves::Nothing,
    }
}

/// A run is asked for or under way, or what it set moving is still in sight.
fn runs(phase: &Phase, now: Mark) -> bool {
    match phase {
        Phase::Ready => false,
        Phase::Asked { .. } => true,
        Phase::Live(live) => match &live.ending {
            Ending::Running | Ending::Saving { .. } | Ending::Told { seen: None, .. } => true,
            Ending::Told { seen: Some(seen), .. } => now - *seen < WATCHES,
        },
    }
}
