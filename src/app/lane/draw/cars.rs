//! The other car: beside us in the side window, ahead of us once it has left.
//!
//! Owns its place on the screen. Refuses its motion.

use super::place::cut;
use super::plan::{Scene, layer};
use crate::app::clock::Now;
use crate::app::lane::Phase;
use crate::app::lane::paint::other_car_rear_at;
use crate::app::lane::view::RectPx;
use bevy::prelude::*;

/// From here on the other car is seen ahead rather than beside, ft.
const SEEN_AHEAD_FT: f32 = 22.0;
/// Beyond this it is too small to matter, ft.
const LOST_FROM_SIGHT_FT: f32 = 900.0;

/// The other car from behind.
#[derive(Component)]
pub struct OtherCar;

/// The side window, or the car in it.
#[derive(Component)]
pub struct SideCar {
    pub is_window: bool,
}

type Rear<'w, 's> = Query<
    'w,
    's,
    (&'static mut Sprite, &'static mut Transform, &'static mut Visibility),
    (With<OtherCar>, Without<SideCar>),
>;

/// Moves both pictures of the other car.
pub fn move_cars(
    now: Res<Now>,
    scene: Option<Res<Scene>>,
    phase: Res<Phase>,
    mut rear: Rear,
    mut side: Query<(&SideCar, &mut Sprite, &mut Transform, &mut Visibility)>,
) {
    let Some(scene) = scene else { return };
    let other = scene.lane.other();
    let depth = phase.live().and_then(|live| live.machine.depth(other, now.mark));
    let ahead_ft = depth.map(|depth| depth.feet() as f32);
    for (mut sprite, mut at, mut shown) in &mut rear {
        let seen = ahead_ft.filter(|ft| (SEEN_AHEAD_FT..LOST_FROM_SIGHT_FT).contains(ft));
        shown.set_if_neq(if seen.is_some() { Visibility::Inherited } else { Visibility::Hidden });
        if let Some(ft) = seen {
            let rect = other_car_rear_at(&scene.view, other, ft);
            sprite.custom_size = Some(scene.place.size(rect));
            at.translation = scene.place.middle(rect, layer::OTHER_CAR);
        }
    }
    // The front axle stands half a chord behind the tyre's leading edge at beam height.
    let half_chord_ft = scene.beams.chord_in() / 24.0;
    let clip = ahead_ft.and_then(|ft| scene.side.car_at(ft - half_chord_ft));
    for (part, mut sprite, mut at, mut shown) in &mut side {
        let visible = if part.is_window { ahead_ft.is_some() } else { clip.is_some() };
        shown.set_if_neq(if visible { Visibility::Inherited } else { Visibility::Hidden });
        if let (false, Some(clip)) = (part.is_window, clip) {
            let (x, y) = scene.side_at;
            let d = clip.dest;
            let rect = RectPx::new(x + d.x, y + d.y, d.width, d.height);
            sprite.rect = Some(cut(clip.source));
            sprite.custom_size = Some(scene.place.size(rect));
            at.translation = scene.place.middle(rect, layer::SIDE_CAR);
        }
    }
}
