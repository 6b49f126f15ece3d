//! Filming the delay: press, and a patch lights.
//!
//! Owns the patch and its words. Refuses counting frames: that is done from the film.

use super::plain::{
    PATCH_MIDDLE, Patch, PlainLine, Weight, clear_plain, place_plain, put_lines, put_patch,
    write_lines,
};
use crate::app::clock::Now;
use crate::app::garage::Garage;
use crate::app::onset::{Frames, ScreenPlace};
use crate::app::presses::{Act, Edge};
use crate::app::rig::Rig;
use crate::app::rig::filming::{PRESSES, Shooting};
use crate::app::theme::{Fonts, color, palette};
use crate::app::trace_file::TraceFile;
use crate::app::{AppSystems, Screen};
use crate::car::EdgeAnswer;
use crate::press::EdgeKind;
use bevy::prelude::*;

pub(super) fn plugin(app: &mut App) {
    let here = in_state(Screen::FilmShoot);
    app.add_systems(OnEnter(Screen::FilmShoot), begin)
        .add_systems(OnExit(Screen::FilmShoot), clear_plain)
        .add_systems(Update, shoot.in_set(AppSystems::StepTree).run_if(here.clone()))
        .add_systems(
            Update,
            (light_patch, tell, place_plain).chain().in_set(AppSystems::Present).run_if(here),
        );
}

fn begin(
    mut commands: Commands,
    fonts: Res<Fonts>,
    mut rig: ResMut<Rig>,
    mut trace: ResMut<TraceFile>,
) {
    let lines = [
        (150.0, 34.0, Weight::Strong),
        (220.0, 20.0, Weight::Text),
        (250.0, 20.0, Weight::Text),
        (280.0, 20.0, Weight::Text),
        (350.0, 28.0, Weight::Strong),
        (640.0, 18.0, Weight::Muted),
    ];
    put_lines(&mut commands, &fonts, &lines);
    put_patch(&mut commands);
    rig.shooting = Shooting::default();
    trace.event("prompt Space Press, and the patch lights");
}

fn shoot(
    now: Res<Now>,
    frames: Res<Frames>,
    place: Res<ScreenPlace>,
    garage: Res<Garage>,
    windows: Query<&Window>,
    keyboard: Res<ButtonInput<KeyCode>>,
    mut edges: MessageReader<Edge>,
    mut rig: ResMut<Rig>,
    mut next: ResMut<NextState<Screen>>,
    mut trace: ResMut<TraceFile>,
) {
    let middle_px =
        windows.iter().next().map_or(0.0, |w| w.physical_height() as f32 * PATCH_MIDDLE);
    let shooting = &mut rig.shooting;
    for seen in &frames.news {
        let before = shooting.own().len();
        shooting.seen(seen.frame, seen.shown.best() + place.delay_of_place(middle_px, &frames));
        if let Some(own) = shooting.own().get(before) {
            trace.event(format_args!("filmed {} {}", before + 1, own.ns()));
        }
    }
    shooting.tick(now.mark);
    let wanted = match garage.edge() {
        EdgeAnswer::Press => EdgeKind::Down,
        EdgeAnswer::Release => EdgeKind::Up,
    };
    for Edge { edge, act, .. } in edges.read() {
        if *act == Act::Launch && edge.edge == wanted {
            shooting.press(edge.stamp.best(), now.frame, now.mark);
        }
    }
    if keyboard.just_pressed(KeyCode::Escape) {
        next.set(Screen::Rig);
    } else if shooting.is_done() && !shooting.is_lit() {
        next.set(Screen::FilmCounts);
    }
}

fn light_patch(rig: Res<Rig>, mut patches: Query<&mut Sprite, With<Patch>>) {
    let ground = if rig.shooting.is_lit() { palette::TEXT } else { palette::PANEL_RAISED };
    for mut patch in &mut patches {
        if patch.color != color(ground) {
            patch.color = color(ground);
        }
    }
}

fn tell(rig: Res<Rig>, garage: Res<Garage>, mut texts: Query<(&PlainLine, &mut Text2d)>) {
    let (action, moment) = match garage.edge() {
        EdgeAnswer::Press => ("Press Space", "is down"),
        EdgeAnswer::Release => ("Hold Space and let go", "is up"),
    };
    let done = rig.shooting.own().len();
    write_lines(
        &mut texts,
        &[
            "Film this, key and patch in one picture.".to_owned(),
            "Set the phone to 240 frames a second, near the top of the key.".to_owned(),
            format!("Later you count frames: from the first in which the key {moment}"),
            "to the first in which the patch is bright.".to_owned(),
            format!("{action}: {done} of {PRESSES}"),
            "Wait a second between two presses.    Esc: leave it".to_owned(),
        ],
    );
}
