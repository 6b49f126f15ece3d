//! The window: the only room that knows the engine.
//!
//! Owns the chain of systems (read presses → step the tree → record → analyse → present), screens,
//! devices and drawing. `plugin` runs without a window; what needs one is added by `run` alone.
//! Refuses rules, statistics and file formats.

mod background;
pub mod bindings;
mod book;
mod calm;
pub mod clock;
mod coach;
mod data;
mod forecast;
pub mod garage;
pub mod guest;
mod help_keys;
pub mod history_store;
pub mod lane;
pub mod onset;
mod opening;
pub mod press_sources;
pub mod presses;
mod probe;
pub mod rig;
mod run;
mod screen;
mod screens;
mod settings;
mod setup;
mod sight;
mod sounds;
pub mod theme;
pub mod trace_file;
mod wake;

pub use run::run;
pub use screen::Screen;

use bevy::prelude::*;

/// The one chain every update goes through.
#[derive(SystemSet, Debug, Clone, Copy, PartialEq, Eq, Hash)]
pub enum AppSystems {
    /// Window events and source facts become stamped edges; the writer's answers come in.
    ReadPresses,
    /// Edges and shown lamps go into the machine, which is brought up to now.
    StepTree,
    /// Finished runs become records and go to the writer.
    Record,
    /// What may be computed when the history changed; never during a run.
    Analyse,
    /// What is to be seen.
    Present,
}

/// Everything that runs without a window.
pub fn plugin(app: &mut App) {
    app.configure_sets(
        Update,
        (
            AppSystems::ReadPresses,
            AppSystems::StepTree,
            AppSystems::Record,
            AppSystems::Analyse,
            AppSystems::Present,
        )
            .chain(),
    );
    app.init_resource::<trace_file::TraceFile>().init_resource::<garage::Garage>();
    app.add_plugins((
        clock::plugin,
        onset::plugin,
        bindings::plugin,
        presses::plugin,
        rig::plugin,
        history_store::plugin,
        book::plugin,
        settings::plugin,
        forecast::plugin,
        coach::plugin,
        sounds::plugin,
        guest::plugin,
        screen::plugin,
        lane::plugin,
    ));
}
