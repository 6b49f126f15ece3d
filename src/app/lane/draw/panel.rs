//! The lower panel's moving parts: the tyre over the beams and the time bar.
//!
//! Owns their places. Refuses words.

use super::place::cut;
use super::plan::{Scene, layer};
use crate::app::clock::Now;
use crate::app::garage::Garage;
use crate::app::lane::paint::{Beam, TimeBar, TimeBarInput};
use crate::app::lane::view::RectPx;
use crate::app::lane::{Phase, Verdict};
use crate::units::Inches;
use bevy::prelude::*;

/// The tyre.
#[derive(Component)]
pub struct TyreSprite;

/// What is left to roll.
#[derive(Component)]
pub struct RollBar;

/// A beam that sees the tyre.
#[derive(Component)]
pub struct BeamDot(pub Beam);

/// A piece of the time bar.
#[derive(Component, Debug, Clone, Copy, PartialEq, Eq)]
pub enum BarPart {
    Driver,
    Car,
    Amber,
    Green,
}

/// The depth drawn: the run's as it stands, the one at the launch once the run is told, the
/// habitual one while nothing runs.
pub fn depth(phase: &Phase, garage: &Garage, now: Now) -> Inches {
    let live = phase.live();
    let at_launch = live.filter(|live| !live.is_running()).and_then(|live| {
        let launch = live.machine.launch(live.you)?;
        Some(launch.depth)
    });
    let moving = live.and_then(|live| live.machine.depth(live.you, now.mark));
    at_launch.or(moving).unwrap_or(Inches(garage.model().depth_in().value))
}

type Part<'w, 's, With1, Not> = Query<
    'w,
    's,
    (&'static mut Sprite, &'static mut Transform, &'static mut Visibility),
    (With<With1>, Without<Not>),
>;

/// Moves the tyre, its chord and the beams' lights.
pub fn move_tyre(
    now: Res<Now>,
    scene: Option<Res<Scene>>,
    phase: Res<Phase>,
    garage: Res<Garage>,
    mut tyre: Part<TyreSprite, RollBar>,
    mut bar: Part<RollBar, TyreSprite>,
    mut dots: Query<(&BeamDot, &mut Visibility), (Without<TyreSprite>, Without<RollBar>)>,
) {
    let Some(scene) = scene else { return };
    let depth = depth(&phase, &garage, *now);
    let (x, y) = scene.beams_at;
    for (mut sprite, mut at, mut shown) in &mut tyre {
        let clip = scene.beams.tyre_at(depth);
        shown.set_if_neq(if clip.is_some() { Visibility::Inherited } else { Visibility::Hidden });
        if let Some(clip) = clip {
            let d = clip.dest;
            let rect = RectPx::new(x + d.x, y + d.y, d.width, d.height);
            sprite.rect = Some(cut(clip.source));
            sprite.custom_size = Some(scene.place.size(rect));
            at.translation = scene.place.middle(rect, layer::TYRE);
        }
    }
    for (mut sprite, mut at, mut shown) in &mut bar {
        let left = scene.beams.left_to_roll(depth);
        shown.set_if_neq(if left.is_some() { Visibility::Inherited } else { Visibility::Hidden });
        if let Some((from, to)) = left {
            let thick = scene.beams.bar_px();
            let top = y + scene.beams.beam(Beam::Stage).1 - thick / 2.0;
            let rect = RectPx::new(x + from, top, to - from, thick);
            sprite.custom_size = Some(scene.place.size(rect));
            at.translation = scene.place.middle(rect, layer::ROLL);
        }
    }
    let (trail, lead) = scene.beams.chord_at(depth);
    for (dot, mut shown) in &mut dots {
        let at = scene.beams.beam(dot.0).0;
        let cut = (trail..=lead).contains(&at);
        shown.set_if_neq(if cut { Visibility::Inherited } else { Visibility::Hidden });
    }
}

/// Where the pieces of the time bar are, while there is one.
pub fn time_bar(scene: &Scene, verdict: &Verdict) -> Option<TimeBar> {
    let parts = verdict.parts?;
    let input = TimeBarInput { driver: parts.driver(), car: parts.car, interval: parts.interval };
    Some(TimeBar::new(input, scene.bar_area()))
}

/// Draws driver part and car part end to end against the green.
pub fn draw_bar(
    scene: Option<Res<Scene>>,
    verdict: Res<Verdict>,
    mut parts: Query<(&BarPart, &mut Sprite, &mut Transform, &mut Visibility)>,
) {
    let Some(scene) = scene else { return };
    let bar = time_bar(&scene, &verdict);
    let (area, tick) = (scene.bar_area(), scene.place.at720(3.0).max(2.0));
    let line = |x: f32, over: f32| {
        let over = scene.place.at720(over);
        RectPx::new(x - tick / 2.0, area.y - over, tick, area.height + 2.0 * over)
    };
    for (part, mut sprite, mut at, mut shown) in &mut parts {
        shown.set_if_neq(if bar.is_some() { Visibility::Inherited } else { Visibility::Hidden });
        let Some(bar) = &bar else { continue };
        let rect = match part {
            BarPart::Driver => bar.driver,
            BarPart::Car => bar.car,
            BarPart::Amber => line(bar.amber_x, 8.0),
            BarPart::Green => line(bar.green_x, 12.0),
        };
        sprite.custom_size = Some(scene.place.size(rect));
        let z = at.translation.z;
        at.translation = scene.place.middle(rect, z);
    }
}
