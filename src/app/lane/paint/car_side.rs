//! The other car from the side: what a glance through the side window shows.
//!
//! Owns one picture of a car of no real model, driving to the right. Refuses where it stands.

use tiny_skia::{PathBuilder, Pixmap, Transform};

use super::pixel::{Tone, down, empty, fill, ground_shadow, ink, outline, round_rect, shade};

/// Length the picture spans, ft: a car of 14.6 ft with a little air before and behind.
pub const SIDE_LENGTH_FT: f32 = 16.0;
/// Height the picture spans, ft.
pub(super) const HEIGHT_FT: f32 = 5.0;
/// Ground below the tyres that the picture keeps for the shadow, ft.
pub(super) const GROUND_MARGIN_FT: f32 = 0.2;
/// Axles, ft from the picture's left edge, and the wheels' radius, ft.
const REAR_AXLE_FT: f32 = 3.55;
pub(super) const FRONT_AXLE_FT: f32 = 12.45;
const WHEEL_FT: f32 = 1.06;

const BODY: Tone = [54.0, 59.0, 90.0];

/// The car side-on, driving to the right, `width_px` for [`SIDE_LENGTH_FT`]; the ground is 0.2 ft
/// above the picture's lower edge. The front tyre's middle is 12.45 ft from the left edge.
pub fn other_car_side(width_px: u32) -> Pixmap {
    let width = width_px.max(1);
    let scale = width as f32 / SIDE_LENGTH_FT;
    let mut pixmap = empty(width, (HEIGHT_FT * scale).ceil() as u32);
    let ground = pixmap.height() as f32 - GROUND_MARGIN_FT * scale;
    let place = Transform::from_row(scale, 0.0, 0.0, -scale, 0.0, ground);
    ground_shadow(&mut pixmap, (7.7, 0.30), (8.0, 0.04), 0.75, place);
    paint_body(&mut pixmap, place);
    paint_windows(&mut pixmap, place);
    for axle in [REAR_AXLE_FT, FRONT_AXLE_FT] {
        paint_wheel(&mut pixmap, axle, place);
    }
    paint_details(&mut pixmap, place);
    pixmap
}

fn paint_body(pixmap: &mut Pixmap, place: Transform) {
    let mut b = PathBuilder::new();
    b.move_to(0.95, 0.95);
    b.cubic_to(0.70, 1.5, 0.66, 2.2, 0.80, 2.72);
    b.cubic_to(0.86, 2.98, 1.1, 3.06, 1.6, 3.08);
    b.cubic_to(2.9, 3.3, 3.9, 4.28, 6.3, 4.42);
    b.cubic_to(7.9, 4.5, 8.7, 4.02, 10.1, 3.18);
    b.cubic_to(11.6, 3.06, 13.7, 2.86, 14.7, 2.36);
    b.cubic_to(15.2, 2.1, 15.25, 1.6, 15.16, 1.06);
    b.cubic_to(15.1, 0.76, 14.7, 0.66, 14.2, 0.66);
    b.line_to(1.6, 0.62);
    b.cubic_to(1.2, 0.66, 1.02, 0.78, 0.95, 0.95);
    b.close();
    let stops = [
        (0.0, [136.0, 130.0, 160.0]),
        (0.16, [80.0, 83.0, 116.0]),
        (0.36, [94.0, 94.0, 128.0]),
        (0.46, BODY),
        (0.80, [34.0, 37.0, 59.0]),
        (1.0, [17.0, 18.0, 30.0]),
    ];
    fill(pixmap, b.finish(), &shade(down(4.45, 0.62, &stops), BODY), place);
    for axle in [REAR_AXLE_FT, FRONT_AXLE_FT] {
        let arch = PathBuilder::from_circle(axle, WHEEL_FT, WHEEL_FT * 1.16);
        fill(pixmap, arch, &ink([7.0, 7.0, 12.0], 1.0), place);
    }
}

fn paint_windows(pixmap: &mut Pixmap, place: Transform) {
    let mut b = PathBuilder::new();
    b.move_to(3.9, 3.34);
    b.cubic_to(4.6, 3.9, 5.4, 4.14, 6.5, 4.2);
    b.cubic_to(7.6, 4.24, 8.3, 3.94, 9.35, 3.26);
    b.line_to(4.2, 3.22);
    b.cubic_to(3.95, 3.22, 3.86, 3.27, 3.9, 3.34);
    b.close();
    let stops = [(0.0, [66.0, 60.0, 92.0]), (0.4, [36.0, 37.0, 60.0]), (1.0, [17.0, 19.0, 33.0])];
    fill(pixmap, b.finish(), &shade(down(4.2, 3.2, &stops), [30.0, 32.0, 50.0]), place);
    let mut pillar = PathBuilder::new();
    pillar.move_to(6.05, 4.22);
    pillar.line_to(6.30, 4.22);
    pillar.line_to(6.12, 3.2);
    pillar.line_to(5.86, 3.2);
    pillar.close();
    fill(pixmap, pillar.finish(), &ink([46.0, 50.0, 76.0], 1.0), place);
    // The other driver, a shade against the glass.
    let head = PathBuilder::from_circle(7.0, 3.66, 0.33);
    fill(pixmap, head, &ink([9.0, 10.0, 18.0], 0.9), place);
    let seat = round_rect(6.5, 3.2, 0.45, 0.42, 0.14);
    fill(pixmap, seat, &ink([9.0, 10.0, 18.0], 0.9), place);
}

fn paint_wheel(pixmap: &mut Pixmap, axle: f32, place: Transform) {
    let disc = |radius: f32| PathBuilder::from_circle(axle, WHEEL_FT, radius);
    fill(pixmap, disc(WHEEL_FT), &ink([15.0, 15.0, 22.0], 1.0), place);
    outline(pixmap, disc(WHEEL_FT - 0.03), &ink([58.0, 60.0, 82.0], 0.9), 0.05, place);
    let metal = [(0.0, [112.0, 114.0, 142.0]), (1.0, [46.0, 49.0, 70.0])];
    let shine = down(WHEEL_FT * 1.6, WHEEL_FT * 0.4, &metal);
    fill(pixmap, disc(WHEEL_FT * 0.66), &ink([24.0, 25.0, 36.0], 1.0), place);
    outline(pixmap, disc(WHEEL_FT * 0.63), &shade(shine.clone(), BODY), 0.08, place);
    for spoke in 0..5 {
        let angle = spoke as f32 * std::f32::consts::TAU / 5.0 + 0.3;
        let mut b = PathBuilder::new();
        b.move_to(axle, WHEEL_FT);
        b.line_to(axle + 0.64 * angle.cos(), WHEEL_FT + 0.64 * angle.sin());
        outline(pixmap, b.finish(), &shade(shine.clone(), BODY), 0.14, place);
    }
    fill(pixmap, disc(0.14), &ink([126.0, 128.0, 154.0], 1.0), place);
}

fn paint_details(pixmap: &mut Pixmap, place: Transform) {
    let mut crease = PathBuilder::new();
    crease.move_to(1.0, 2.5);
    crease.cubic_to(5.0, 2.72, 9.5, 2.66, 14.3, 2.2);
    outline(pixmap, crease.finish(), &ink([124.0, 122.0, 154.0], 0.35), 0.05, place);
    let mut door = PathBuilder::new();
    door.move_to(9.2, 3.2);
    door.cubic_to(9.45, 2.4, 9.4, 1.5, 9.2, 0.95);
    door.line_to(6.0, 0.95);
    door.cubic_to(5.75, 1.6, 5.75, 2.6, 5.9, 3.2);
    outline(pixmap, door.finish(), &ink([16.0, 17.0, 28.0], 0.8), 0.045, place);
    let handle = round_rect(6.15, 2.42, 0.55, 0.1, 0.05);
    fill(pixmap, handle, &ink([18.0, 19.0, 31.0], 1.0), place);
    let mirror = round_rect(8.75, 3.12, 0.46, 0.3, 0.12);
    fill(pixmap, mirror, &ink([66.0, 69.0, 98.0], 1.0), place);
    let tail = round_rect(0.80, 2.38, 0.5, 0.26, 0.1);
    fill(pixmap, tail, &ink([116.0, 42.0, 48.0], 1.0), place);
    let mut front = PathBuilder::new();
    front.move_to(14.15, 2.42);
    front.line_to(14.78, 2.2);
    front.line_to(14.84, 2.02);
    front.line_to(14.1, 2.22);
    front.close();
    fill(pixmap, front.finish(), &ink([206.0, 204.0, 214.0], 0.85), place);
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn the_front_tyre_stands_on_the_ground_where_it_is_said_to() {
        let scale = 20.0;
        let car = other_car_side((SIDE_LENGTH_FT * scale) as u32);
        let ground = car.height() as f32 - GROUND_MARGIN_FT * scale;
        let (x, y) = ((FRONT_AXLE_FT * scale) as u32, (ground - 0.15 * scale) as u32);
        let p = car.pixel(x, y).expect("inside");
        assert_eq!(p.alpha(), 255);
        assert!(p.green() < 70, "rubber is dark");
        let above = car.pixel((15.8 * scale) as u32, 5).expect("inside");
        assert_eq!(above.alpha(), 0);
    }

    #[test]
    fn no_size_panics() {
        for width in [0, 1, 2, 7] {
            assert!(other_car_side(width).height() >= 1);
        }
    }
}
