//! The tree without its light: housing, visors, mast, foot and its shadow on the ground.
//!
//! Owns the look of the unlit tree, a plain round-cornered box of our own. Refuses lamps (they
//! are pictures of their own, laid over this one) and where the tree stands.

use tiny_skia::{Path, PathBuilder, Pixmap, Transform};

use super::lamp::LampKind;
use super::pixel::{
    Placed, down, empty, fill, gradient, ground_shadow, ink, line, outline, round_rect, shade, tone,
};
use super::tree_layout::{LampSpot, TreeLayout};
use crate::app::theme::palette::DRIVER;
use crate::tree::Lane;

/// Space beside the housing for shadow and foot, ft.
const SIDE_FT: f32 = 1.6;
/// Space above the housing, ft.
const ABOVE_FT: f32 = 0.3;
/// Ground below the foot, ft.
const BELOW_FT: f32 = 0.7;

/// The unlit tree without lamps and where it belongs in the window.
pub fn tree_housing(layout: &TreeLayout) -> Placed {
    let scale = layout.px_per_ft();
    let housing = layout.housing();
    let x = (housing.x - SIDE_FT * scale).floor();
    let y = (housing.y - ABOVE_FT * scale).floor();
    let width = (housing.right() + SIDE_FT * scale).ceil() - x;
    let height = (layout.foot().1 + BELOW_FT * scale).ceil() - y;
    let mut pixmap = empty(width.max(1.0) as u32, height.max(1.0) as u32);
    let place = Transform::from_translate(-x, -y);

    paint_shadow(&mut pixmap, layout, place);
    paint_mast(&mut pixmap, layout, place);
    paint_box(&mut pixmap, layout, place);
    for lane in Lane::BOTH {
        paint_column(&mut pixmap, layout, lane, place);
    }
    paint_own_mark(&mut pixmap, layout, (x, y));
    Placed { pixmap, x_px: x, y_px: y }
}

fn paint_shadow(pixmap: &mut Pixmap, layout: &TreeLayout, place: Transform) {
    let scale = layout.px_per_ft();
    let (x, y) = layout.foot();
    let centre = (x, y + 0.05 * scale);
    ground_shadow(pixmap, (2.2 * scale, 0.36 * scale), centre, 0.55, place);
    ground_shadow(pixmap, (1.3 * scale, 0.20 * scale), centre, 0.8, place);
}

fn paint_mast(pixmap: &mut Pixmap, layout: &TreeLayout, place: Transform) {
    let scale = layout.px_per_ft();
    let (x, foot) = layout.foot();
    let top = layout.housing().bottom() - 0.2 * scale;
    let half = 0.17 * scale;
    let steel = gradient(
        (x - half, 0.0),
        (x + half, 0.0),
        &[
            (0.0, [26.0, 28.0, 42.0]),
            (0.28, [78.0, 80.0, 104.0]),
            (0.5, [46.0, 49.0, 68.0]),
            (1.0, [14.0, 15.0, 24.0]),
        ],
    );
    let mast = round_rect(x - half, top, 2.0 * half, foot - top, 0.0);
    fill(pixmap, mast, &shade(steel, [40.0, 42.0, 60.0]), place);

    // The foot: a low heavy plate with a lit upper edge, and a collar around the mast.
    let plate = (1.05 * scale, 0.20 * scale);
    let body = round_rect(x - plate.0, foot - plate.1, 2.0 * plate.0, plate.1, 0.08 * scale);
    let metal = down(
        foot - plate.1,
        foot,
        &[(0.0, [52.0, 55.0, 76.0]), (0.3, [30.0, 32.0, 47.0]), (1.0, [12.0, 13.0, 20.0])],
    );
    fill(pixmap, body, &shade(metal, [30.0, 32.0, 47.0]), place);
    let collar = round_rect(
        x - 0.34 * scale,
        foot - plate.1 - 0.13 * scale,
        0.68 * scale,
        0.15 * scale,
        0.04 * scale,
    );
    fill(pixmap, collar, &ink([34.0, 36.0, 52.0], 1.0), place);
}

fn paint_box(pixmap: &mut Pixmap, layout: &TreeLayout, place: Transform) {
    let scale = layout.px_per_ft();
    let h = layout.housing();
    let corner = 0.36 * scale;
    let shell = |grow: f32| {
        round_rect(
            h.x - grow,
            h.y - grow,
            h.width + 2.0 * grow,
            h.height + 2.0 * grow,
            corner + grow,
        )
    };
    // A thin dark seam sets the box off from the sky; the upper rim catches what is left of it.
    fill(pixmap, shell(0.035 * scale), &ink([5.0, 6.0, 11.0], 0.9), place);
    let rim = down(
        h.y,
        h.bottom(),
        &[(0.0, [104.0, 108.0, 142.0]), (0.10, [58.0, 62.0, 88.0]), (1.0, [28.0, 30.0, 44.0])],
    );
    fill(pixmap, shell(0.0), &shade(rim, [50.0, 54.0, 78.0]), place);
    let face = down(
        h.y,
        h.bottom(),
        &[(0.0, [25.0, 28.0, 42.0]), (0.5, [17.0, 19.0, 29.0]), (1.0, [11.0, 12.0, 19.0])],
    );
    let inner = shell(-(0.032 * scale).max(1.0));
    fill(pixmap, inner, &shade(face, [17.0, 19.0, 29.0]), place);

    let (x, _) = layout.foot();
    let groove = round_rect(
        x - 0.03 * scale,
        h.y + 0.26 * scale,
        0.06 * scale,
        h.height - 0.52 * scale,
        0.03 * scale,
    );
    fill(pixmap, groove, &ink([6.0, 7.0, 12.0], 1.0), place);
    let lip = round_rect(
        x + 0.03 * scale,
        h.y + 0.26 * scale,
        (0.014 * scale).max(0.6),
        h.height - 0.52 * scale,
        0.0,
    );
    fill(pixmap, lip, &ink([70.0, 75.0, 102.0], 0.55), place);
}

fn paint_column(pixmap: &mut Pixmap, layout: &TreeLayout, lane: Lane, place: Transform) {
    for &spot in layout.lamps(lane) {
        if spot.kind == LampKind::White {
            paint_pair_slot(pixmap, spot, place);
        } else {
            paint_socket(pixmap, spot, place);
        }
    }
}

/// The recessed slot of a pair of bulbs.
fn paint_pair_slot(pixmap: &mut Pixmap, spot: LampSpot, place: Transform) {
    let r = spot.radius_px;
    let (x, y) = spot.centre;
    let (half_width, half_height) = (r * 3.05, r * 1.45);
    let slot = |grow: f32| {
        round_rect(
            x - half_width - grow,
            y - half_height - grow,
            2.0 * (half_width + grow),
            2.0 * (half_height + grow),
            half_height + grow,
        )
    };
    fill(pixmap, slot(0.0), &ink([7.0, 8.0, 13.0], 1.0), place);
    let rim = down(
        y - half_height,
        y + half_height,
        &[(0.0, [16.0, 18.0, 27.0]), (1.0, [58.0, 62.0, 86.0])],
    );
    outline(pixmap, slot(0.0), &shade(rim, [40.0, 43.0, 60.0]), (r * 0.13).max(0.6), place);
}

/// The socket of a large lamp with a shallow visor above it, seen from below.
fn paint_socket(pixmap: &mut Pixmap, spot: LampSpot, place: Transform) {
    let r = spot.radius_px;
    let (x, y) = spot.centre;
    fill(pixmap, PathBuilder::from_circle(x, y, r * 1.09), &ink([5.0, 6.0, 10.0], 1.0), place);
    let visor = crescent(x, y, r);
    let under = down(
        y - r * 1.25,
        y,
        &[(0.0, [64.0, 68.0, 94.0]), (0.16, [36.0, 39.0, 56.0]), (1.0, [9.0, 10.0, 16.0])],
    );
    fill(pixmap, visor, &shade(under, [36.0, 39.0, 56.0]), place);
}

/// A crescent over the upper half of a lens: thick above, running out at both sides.
fn crescent(x: f32, y: f32, r: f32) -> Option<Path> {
    // Control distance for a half circle drawn as two cubics.
    const K: f32 = 0.552_285;
    let (outer, inner, drop) = (r * 1.08, r * 1.03, r * 0.12);
    let rise = r * 1.22;
    let mut b = PathBuilder::new();
    b.move_to(x - outer, y + drop);
    b.cubic_to(x - outer, y - rise * K, x - outer * K, y - rise, x, y - rise);
    b.cubic_to(x + outer * K, y - rise, x + outer, y - rise * K, x + outer, y + drop);
    b.line_to(x + inner, y + drop);
    b.cubic_to(x + inner, y - inner * K, x + inner * K, y - inner, x, y - inner);
    b.cubic_to(x - inner * K, y - inner, x - inner, y - inner * K, x - inner, y + drop);
    b.close();
    b.finish()
}

/// The driver's own column: a thin edge in the driver's colour along the housing.
fn paint_own_mark(pixmap: &mut Pixmap, layout: &TreeLayout, origin: (f32, f32)) {
    let scale = layout.px_per_ft();
    let h = layout.housing();
    let inset = 0.13 * scale;
    let x = match layout.own() {
        Lane::Left => h.x + inset,
        Lane::Right => h.right() - inset,
    } - origin.0;
    let (top, bottom) = (h.y + 0.42 * scale - origin.1, h.bottom() - 0.42 * scale - origin.1);
    let glow = ink(tone(DRIVER), 0.16);
    line(pixmap, (x, top), (x, bottom), &glow, (0.13 * scale).max(2.0));
    let edge = ink(tone(DRIVER), 0.92);
    line(pixmap, (x, top), (x, bottom), &edge, (0.045 * scale).max(1.0));
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::app::lane::view::View;

    #[test]
    fn the_picture_covers_the_housing_and_is_solid_behind_every_lamp() {
        for lane in Lane::BOTH {
            let layout = TreeLayout::new(&View::of_window(1280, 720, lane), 3);
            let tree = tree_housing(&layout);
            for spot in Lane::BOTH.iter().flat_map(|&lane| layout.lamps(lane)) {
                let (x, y) = (spot.centre.0 - tree.x_px, spot.centre.1 - tree.y_px);
                let pixel = tree.pixmap.pixel(x as u32, y as u32).expect("inside the picture");
                assert_eq!(pixel.alpha(), 255);
            }
        }
    }

    #[test]
    fn only_the_own_side_carries_the_drivers_colour() {
        for lane in Lane::BOTH {
            let layout = TreeLayout::new(&View::of_window(1280, 720, lane), 3);
            let tree = tree_housing(&layout);
            let middle = (layout.foot().0 - tree.x_px) as u32;
            let mut blue = [0, 0];
            for y in 0..tree.pixmap.height() {
                for x in 0..tree.pixmap.width() {
                    let p = tree.pixmap.pixel(x, y).expect("inside").demultiply();
                    if p.blue() > 200 && p.red() < 160 {
                        blue[usize::from(x >= middle)] += 1;
                    }
                }
            }
            assert!(blue[lane.index()] > 100, "{blue:?}");
            assert_eq!(blue[lane.other().index()], 0);
        }
    }

    #[test]
    fn tiny_windows_still_give_a_picture() {
        for size in [(0, 0), (1, 1), (16, 9)] {
            let layout = TreeLayout::new(&View::of_window(size.0, size.1, Lane::Left), 5);
            assert!(tree_housing(&layout).pixmap.width() >= 1);
        }
    }
}
