//! The lane: from the first creep to the verdict.
//!
//! Owns the run under way and its drawing. Refuses the rules (they are the tree's) and the clock.

mod between;
mod draw;
mod drill;
mod finish;
mod guide;
mod live;
mod paint;
mod prompt;
mod record;
mod session;
mod slip;
mod step;
mod verdict;
mod view;
mod words;

pub use guide::{Guide, meet_driver};
pub use live::{Ending, Live, PendingLamp, Phase};
pub use prompt::{Prompt, VERDICT_STANDS};
pub use session::{Dot, OWN_LIGHTS, Session, style_name};
pub use slip::slip_of;
pub use verdict::Verdict;
pub use words::{drill_of_word, drill_word, style_of_word, style_word};

use super::{AppSystems, Screen};
use bevy::prelude::*;

/// Everything of the lane that runs without a window.
pub(super) fn plugin(app: &mut App) {
    app.init_resource::<Phase>()
        .init_resource::<Prompt>()
        .init_resource::<Verdict>()
        .add_plugins((step::plugin, finish::plugin, guide::plugin, between::plugin));
    app.add_systems(
        Update,
        verdict::read_verdict.in_set(AppSystems::Present).run_if(in_state(Screen::Lane)),
    );
}

/// What needs a window.
pub(super) fn window_plugin(app: &mut App) {
    app.add_plugins(draw::plugin);
}
