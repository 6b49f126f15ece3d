//! Every screen but the lane: panels (notice, questions, menu, rig, film counts, locked) and the two
//! plain ones that measure (self test, film).
//!
//! Owns their common look and the panel camera, which exists only while a panel screen is up, so
//! that what is timed never pays for it. Refuses rules.

mod aim;
mod car;
mod controls;
mod desk;
mod drivers;
mod film_counts;
mod film_shoot;
mod form_ui;
mod keep;
mod locked;
mod menu;
mod notice;
mod opening;
mod pad;
mod plain;
mod question_list;
mod questions;
mod race_form;
mod reading;
mod rig;
mod rooms;
mod self_test;
mod sheet;
mod sight;
mod slips;
mod sounds;
#[cfg(test)]
mod tests;
mod typing;
mod ui;
mod visit;
mod weeks;

pub use locked::LockedOut;

use super::Screen;
use super::data::DataPath;
use super::lane::Session;
use super::settings::InForce;
use bevy::prelude::*;
use bevy_egui::{
    EguiContexts, EguiGlobalSettings, EguiPlugin, EguiPrimaryContextPass, PrimaryEguiContext,
};

/// The camera of the panel screens.
#[derive(Component)]
struct PanelCamera;

/// Panel screens and their engine plugin.
pub(super) fn plugin(app: &mut App) {
    app.add_plugins(EguiPlugin::default());
    app.world_mut().resource_mut::<EguiGlobalSettings>().auto_create_primary_context = false;
    app.add_plugins(panels);
}

/// The panel screens, whoever draws them.
fn panels(app: &mut App) {
    for screen in [Screen::Lane, Screen::SelfTest, Screen::FilmShoot] {
        app.add_systems(OnEnter(screen), leave_panels).add_systems(OnExit(screen), enter_panels);
    }
    app.add_systems(Startup, enter_panels).add_systems(EguiPrimaryContextPass, dress_panels);
    app.add_plugins((notice::plugin, questions::plugin, menu::plugin));
    app.add_plugins((locked::plugin, opening::plugin));
    app.add_plugins((
        desk::plugin,
        aim::plugin,
        slips::plugin,
        car::plugin,
        visit::plugin,
        weeks::plugin,
    ));
    app.add_plugins((
        rooms::plugin,
        keep::plugin,
        reading::plugin,
        pad::plugin,
        sight::plugin,
        sounds::plugin,
        controls::plugin,
        drivers::plugin,
        rig::plugin,
        self_test::plugin,
        film_shoot::plugin,
        film_counts::plugin,
    ));
}

fn enter_panels(mut commands: Commands, cameras: Query<Entity, With<PanelCamera>>) {
    if cameras.is_empty() {
        let camera = Camera { order: 1, clear_color: ClearColorConfig::None, ..default() };
        commands.spawn((PanelCamera, Camera2d, camera, Msaa::Off, PrimaryEguiContext));
    }
}

/// Theme, text size and the mark of a demo, for every panel.
fn dress_panels(
    mut contexts: EguiContexts,
    in_force: Res<InForce>,
    session: Option<Res<Session>>,
    path: Option<Res<DataPath>>,
) -> Result {
    let (ctx, scale) = (contexts.ctx_mut()?, in_force.text_scale() as f32);
    ui::wear(ctx, in_force.theme());
    rooms::mark_launches(ctx, session.map_or(usize::MAX, |s| s.own_lights_s().len()));
    ui::mark_demo(ctx, path.is_some_and(|path| path.is_demo()));
    if (ctx.zoom_factor() - scale).abs() > 1e-3 {
        ctx.set_zoom_factor(scale);
    }
    Ok(())
}

fn leave_panels(mut commands: Commands, cameras: Query<Entity, With<PanelCamera>>) {
    cameras.iter().for_each(|camera| commands.entity(camera).despawn());
}
