//! The lane on the screen.
//!
//! Owns sprites and text of the lane: painted once per window size, then only recoloured, moved
//! and reworded. Refuses to decide anything: lamps were decided before, and are only copied here.

mod cars;
mod lamps;
mod panel;
mod place;
mod plan;
mod scene;
mod texts;

use crate::app::{AppSystems, Screen};
use bevy::prelude::*;

pub(super) fn plugin(app: &mut App) {
    app.add_systems(Startup, scene::spawn_camera);
    app.add_systems(OnExit(Screen::Lane), scene::remove_scene);
    app.add_systems(
        Update,
        (
            scene::build_scene,
            lamps::light_lamps,
            cars::move_cars,
            panel::move_tyre,
            panel::draw_bar,
            texts::write_texts,
            texts::place_dots,
        )
            .chain()
            .in_set(AppSystems::Present)
            .after(super::step::write_prompt)
            .after(super::verdict::read_verdict)
            .run_if(in_state(Screen::Lane)),
    );
}
