//! The other car from behind, driving ahead in the other lane.
//!
//! Owns one picture of a car of no real model. Refuses where it drives.

use tiny_skia::{Path, PathBuilder, Pixmap, Transform};

use super::pixel::{
    Tone, down, empty, fill, ground_shadow, ink, outline, polygon, round_rect, shade,
};
use crate::app::lane::view::{RectPx, View, lane_x_ft};
use crate::tree::Lane;

/// Width the picture spans, ft: body and a little air on both sides.
pub const REAR_WIDTH_FT: f32 = 7.0;
/// Height the picture spans, ft, the ground kept for the shadow included.
const HEIGHT_FT: f32 = 5.0;
const GROUND_MARGIN_FT: f32 = 0.2;

const BODY: Tone = [52.0, 57.0, 86.0];
const BODY_LIGHT: Tone = [112.0, 110.0, 146.0];
const BODY_DARK: Tone = [24.0, 26.0, 42.0];
const GLASS: Tone = [16.0, 18.0, 32.0];

/// The car from behind, `width_px` for [`REAR_WIDTH_FT`]; tail lights dim, or a little brighter
/// when `braking`. Place it with [`other_car_rear_at`].
pub fn other_car_rear(width_px: u32, braking: bool) -> Pixmap {
    let width = width_px.max(1);
    let scale = width as f32 / REAR_WIDTH_FT;
    let mut pixmap = empty(width, (HEIGHT_FT * scale).ceil() as u32);
    // Feet: x right of the middle, y up from the ground.
    let ground = pixmap.height() as f32 - GROUND_MARGIN_FT * scale;
    let place = Transform::from_row(scale, 0.0, 0.0, -scale, pixmap.width() as f32 / 2.0, ground);
    paint_ground_shadow(&mut pixmap, place);
    paint_tyres(&mut pixmap, place);
    paint_body(&mut pixmap, place);
    paint_cabin(&mut pixmap, place);
    paint_details(&mut pixmap, place);
    paint_tail_lights(&mut pixmap, place, braking);
    pixmap
}

/// Where the picture belongs while the car's tail is `z_ft` beyond the stage beam in `lane`.
/// Stretch it there; below half its painted width take one painted smaller.
pub fn other_car_rear_at(view: &View, lane: Lane, z_ft: f32) -> RectPx {
    let scale = view.scale_at(z_ft);
    let (x, ground) = view.project(lane_x_ft(lane), 0.0, z_ft);
    let (width, height) = (REAR_WIDTH_FT * scale, HEIGHT_FT * scale);
    RectPx::new(x - width / 2.0, ground + GROUND_MARGIN_FT * scale - height, width, height)
}

fn paint_ground_shadow(pixmap: &mut Pixmap, place: Transform) {
    ground_shadow(pixmap, (3.45, 0.34), (0.0, 0.06), 0.7, place);
    // No light comes through under the car.
    let under = round_rect(-2.4, 0.02, 4.8, 0.9, 0.1);
    fill(pixmap, under, &ink([7.0, 7.0, 12.0], 0.9), place);
}

fn paint_tyres(pixmap: &mut Pixmap, place: Transform) {
    for side in [-1.0f32, 1.0] {
        let x = side * 2.32 - 0.46;
        let tyre = round_rect(x, 0.0, 0.92, 1.75, 0.16);
        fill(pixmap, tyre, &ink([11.0, 11.0, 17.0], 1.0), place);
        let tread = round_rect(x + 0.13, 0.04, 0.66, 0.8, 0.1);
        fill(pixmap, tread, &ink([22.0, 22.0, 31.0], 1.0), place);
    }
}

/// Right half of the body below the windows, mirrored to the left.
fn body() -> Option<Path> {
    mirrored(&[
        Step::Line(0.0, 0.62),
        Step::Line(1.70, 0.62),
        Step::Curve(1.80, 0.92, 2.0, 1.05, 2.5, 1.06),
        Step::Line(2.86, 1.10),
        Step::Curve(2.98, 1.5, 3.06, 1.9, 3.04, 2.18),
        Step::Curve(3.02, 2.52, 2.90, 2.72, 2.62, 2.90),
        Step::Curve(2.3, 3.02, 1.2, 3.06, 0.0, 3.06),
    ])
}

fn paint_body(pixmap: &mut Pixmap, place: Transform) {
    let paint = [
        (0.0, BODY_LIGHT),
        (0.16, [84.0, 86.0, 120.0]),
        (0.34, BODY),
        (0.72, [36.0, 39.0, 62.0]),
        (1.0, BODY_DARK),
    ];
    fill(pixmap, body(), &shade(down(3.06, 0.62, &paint), BODY), place);
    // Below the bumper line: bare dark plastic with two shallow ducts.
    let valance = mirrored(&[
        Step::Line(0.0, 0.58),
        Step::Line(1.66, 0.58),
        Step::Curve(1.78, 0.9, 2.0, 1.02, 2.42, 1.06),
        Step::Line(2.30, 1.22),
        Step::Line(0.0, 1.22),
    ]);
    fill(pixmap, valance, &ink([15.0, 16.0, 25.0], 1.0), place);
    for side in [-1.0f32, 1.0] {
        let pipe = round_rect(side * 1.25 - 0.2, 0.70, 0.4, 0.2, 0.1);
        fill(pixmap, pipe.clone(), &ink([6.0, 6.0, 10.0], 1.0), place);
        outline(pixmap, pipe, &ink([86.0, 88.0, 112.0], 1.0), 0.045, place);
    }
}

fn paint_cabin(pixmap: &mut Pixmap, place: Transform) {
    let cabin = mirrored(&[
        Step::Line(0.0, 2.98),
        Step::Line(2.52, 2.92),
        Step::Curve(2.30, 3.15, 2.10, 3.55, 1.90, 4.02),
        Step::Curve(1.78, 4.28, 1.5, 4.42, 0.0, 4.46),
    ]);
    let paint = [(0.0, [122.0, 118.0, 152.0]), (0.12, [70.0, 73.0, 106.0]), (1.0, BODY)];
    fill(pixmap, cabin, &shade(down(4.46, 2.9, &paint), BODY), place);
    let window = mirrored(&[
        Step::Line(0.0, 3.12),
        Step::Line(2.06, 3.09),
        Step::Curve(1.94, 3.32, 1.80, 3.66, 1.66, 3.98),
        Step::Curve(1.6, 4.12, 1.4, 4.17, 0.0, 4.2),
    ]);
    // The window mirrors the warm sky behind the viewer's horizon, faintly.
    let glass = [(0.0, [58.0, 54.0, 84.0]), (0.35, [34.0, 35.0, 58.0]), (1.0, GLASS)];
    fill(pixmap, window.clone(), &shade(down(4.2, 3.1, &glass), GLASS), place);
    outline(pixmap, window, &ink([8.0, 8.0, 15.0], 0.9), 0.05, place);
    // Heads of two seats and a roll bar across, just visible through the glass.
    for x in [-0.95f32, 0.95] {
        let head = round_rect(x - 0.3, 3.18, 0.6, 0.55, 0.2);
        fill(pixmap, head, &ink([7.0, 8.0, 15.0], 0.75), place);
    }
    for side in [-1.0f32, 1.0] {
        let stalk = polygon(&[
            (side * 2.1, 3.02),
            (side * 2.2, 3.16),
            (side * 2.62, 3.22),
            (side * 2.62, 3.10),
        ]);
        fill(pixmap, stalk, &ink([30.0, 32.0, 51.0], 1.0), place);
        let mirror = round_rect(side * 2.72 - 0.27, 3.06, 0.54, 0.32, 0.13);
        fill(pixmap, mirror, &ink([40.0, 43.0, 66.0], 1.0), place);
    }
}

fn paint_details(pixmap: &mut Pixmap, place: Transform) {
    // A low lip on the deck with the last light along its edge.
    let lip = mirrored(&[
        Step::Line(0.0, 3.0),
        Step::Line(2.40, 2.92),
        Step::Curve(2.48, 2.98, 2.44, 3.04, 2.34, 3.07),
        Step::Curve(1.6, 3.15, 0.8, 3.17, 0.0, 3.17),
    ]);
    let light = [(0.0, [148.0, 138.0, 166.0]), (0.5, [66.0, 69.0, 100.0]), (1.0, BODY_DARK)];
    fill(pixmap, lip, &shade(down(3.17, 2.94, &light), BODY_LIGHT), place);
    let recess = round_rect(-0.85, 1.50, 1.7, 0.62, 0.12);
    fill(pixmap, recess, &ink([25.0, 27.0, 44.0], 1.0), place);
    let plate = round_rect(-0.52, 1.60, 1.04, 0.40, 0.05);
    fill(pixmap, plate, &ink([74.0, 79.0, 106.0], 1.0), place);
    let crease = mirrored(&[
        Step::Line(0.0, 1.30),
        Step::Line(2.5, 1.36),
        Step::Line(2.86, 1.52),
        Step::Line(2.88, 1.47),
        Step::Line(2.5, 1.31),
        Step::Line(0.0, 1.26),
    ]);
    fill(pixmap, crease, &ink([104.0, 104.0, 138.0], 0.45), place);
}

fn paint_tail_lights(pixmap: &mut Pixmap, place: Transform, braking: bool) {
    let (glow, heart): (Tone, Tone) = if braking {
        ([168.0, 52.0, 54.0], [226.0, 120.0, 108.0])
    } else {
        ([98.0, 33.0, 42.0], [148.0, 62.0, 64.0])
    };
    // A wedge in each corner, tall outside and running out towards the middle.
    for side in [-1.0f32, 1.0] {
        let wedge = |grow: f32| {
            polygon(&[
                (side * (1.30 - 1.6 * grow), 2.46),
                (side * (2.60 + grow), 2.66 + grow),
                (side * (2.86 + grow), 2.42),
                (side * (2.92 + grow), 2.00 - grow),
                (side * (2.62 + grow), 1.98 - grow),
                (side * 2.50, 2.24 - grow),
            ])
        };
        fill(pixmap, wedge(0.06), &ink([14.0, 12.0, 20.0], 1.0), place);
        fill(pixmap, wedge(0.0), &ink(glow, 1.0), place);
        let core = polygon(&[
            (side * 1.62, 2.455),
            (side * 2.60, 2.52),
            (side * 2.72, 2.40),
            (side * 2.76, 2.12),
            (side * 2.68, 2.12),
            (side * 2.62, 2.36),
            (side * 2.54, 2.43),
        ]);
        fill(pixmap, core, &ink(heart, 1.0), place);
    }
}

/// One step along the right half of an outline, from the middle below to the middle above.
enum Step {
    Line(f32, f32),
    Curve(f32, f32, f32, f32, f32, f32),
}

/// The closed outline whose right half is given; its left half mirrors it. The first step is the
/// start, and first and last lie on the middle.
fn mirrored(steps: &[Step]) -> Option<Path> {
    let end = |step: &Step| match *step {
        Step::Line(x, y) | Step::Curve(_, _, _, _, x, y) => (x, y),
    };
    let mut path = PathBuilder::new();
    for (i, step) in steps.iter().enumerate() {
        match *step {
            Step::Line(x, y) if i == 0 => path.move_to(x, y),
            Step::Line(x, y) => path.line_to(x, y),
            Step::Curve(a, b, c, d, x, y) => path.cubic_to(a, b, c, d, x, y),
        }
    }
    for pair in steps.windows(2).rev() {
        let (x, y) = end(&pair[0]);
        match pair[1] {
            Step::Line(..) => path.line_to(-x, y),
            Step::Curve(a, b, c, d, ..) => path.cubic_to(-c, d, -a, b, -x, y),
        }
    }
    path.close();
    path.finish()
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn the_car_is_the_same_on_both_sides() {
        let car = other_car_rear(280, false);
        let mut differing = 0;
        for y in 0..car.height() {
            for x in 0..car.width() / 2 {
                let l = car.pixel(x, y).expect("inside");
                let r = car.pixel(car.width() - 1 - x, y).expect("inside");
                let apart = i32::from(l.green()) - i32::from(r.green());
                differing += usize::from(apart.abs() > 6);
            }
        }
        assert!(differing < 40, "{differing} pixels differ from their mirror image");
    }

    #[test]
    fn the_body_has_no_seam_in_the_middle() {
        let car = other_car_rear(281, false);
        let middle = car.width() / 2;
        for y in (car.height() / 4)..(car.height() * 3 / 4) {
            assert_eq!(car.pixel(middle, y).expect("inside").alpha(), 255, "row {y}");
        }
    }

    #[test]
    fn braking_lights_are_brighter_but_no_lamp() {
        let sum = |braking| {
            let car = other_car_rear(280, braking);
            car.pixels().iter().map(|p| u64::from(p.red())).sum::<u64>()
        };
        assert!(sum(true) > sum(false));
    }

    #[test]
    fn the_car_comes_into_view_from_outside_and_shrinks_to_the_vanishing_point() {
        let view = View::of_window(1280, 720, Lane::Left);
        let at = |z_ft| other_car_rear_at(&view, Lane::Right, z_ft);
        assert!(at(10.0).x > 1280.0, "abreast it is outside the picture");
        assert!(at(80.0).right() < 1280.0 && at(80.0).width > 4.0 * at(400.0).width);
        let (x, y) = view.vanishing_point();
        let far = at(1e6);
        assert!((far.x - x).abs() < 1.0 && (far.y - y).abs() < 1.0);
        // Four wheels on the ground: the line of contact is where the view puts it.
        let near = at(60.0);
        let ground = view.project(0.0, 0.0, 60.0).1;
        assert!((near.bottom() - ground - GROUND_MARGIN_FT * view.scale_at(60.0)).abs() < 0.01);
    }

    #[test]
    fn no_size_panics() {
        for width in [0, 1, 2, 7] {
            assert!(other_car_rear(width, true).height() >= 1);
        }
    }
}
