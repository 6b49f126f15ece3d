//! What stands beside the strip, dark against the evening: hills, trees, walls, fence, stands.
//!
//! Owns these silhouettes. Refuses light sources.

use tiny_skia::{Pixmap, Transform};

use super::ground::WALL_FT;
use super::pixel::{Tone, fill, gradient, ink, line, mix, noise, polygon, shade, smooth};
use crate::app::lane::view::View;

/// Height of the walls, ft. Chosen, because it keeps them just under the driver's eye.
const WALL_TOP_FT: f32 = 2.9;
/// The walls' far end beyond the start line, ft.
const WALL_END_FT: f32 = 40_000.0;

/// A line of hills or trees against the sky, as heights over the columns of the picture.
pub(super) struct Ridge {
    tops: Vec<f32>,
    colour: Tone,
}

impl Ridge {
    /// From the farthest to the nearest.
    pub(super) fn all(view: &View) -> [Ridge; 3] {
        [
            Self::new(view, [84.0, 68.0, 98.0], |a| {
                0.050 + 0.105 * noise(a * 1.15 + 20.3, 0.5) + 0.022 * noise(a * 4.3, 3.5)
            }),
            Self::new(view, [50.0, 46.0, 77.0], |a| {
                let away = smooth(0.1, 1.7, a.abs());
                0.018
                    + (0.03 + 0.085 * away) * noise(a * 1.7 + 4.1, 8.5)
                    + 0.008 * noise(a * 12.0, 1.5)
            }),
            Self::new(view, [26.0, 27.0, 46.0], |a| {
                let away = smooth(0.12, 1.5, a.abs());
                let crowns = noise(a * 26.0, 4.5) * 0.6 + noise(a * 71.0, 6.5) * 0.4;
                away * (0.010 + 0.050 * noise(a * 2.3 + 9.0, 2.5) + 0.026 * crowns)
            }),
        ]
    }

    /// `height` gives the share of the sky's height at a direction, 1 being as far aside as the
    /// sky is high.
    fn new(view: &View, colour: Tone, height: impl Fn(f32) -> f32) -> Self {
        let (vanish_x, horizon) = view.vanishing_point();
        let sky = horizon.max(1.0);
        let tops = (0..view.width_px())
            .map(|x| horizon - sky * height((x as f32 + 0.5 - vanish_x) / sky))
            .collect();
        Self { tops, colour }
    }

    /// This ridge laid over what is behind it, in one pixel.
    pub(super) fn over(&self, behind: Tone, column: usize, y: f32) -> Tone {
        let top = self.tops.get(column).copied().unwrap_or(f32::INFINITY);
        let covered = (y - top + 0.5).clamp(0.0, 1.0);
        if covered > 0.0 {
            // Mist gathers at the foot of the hills.
            let mist = mix(self.colour, behind, 0.16 * smooth(0.0, 40.0, y - top));
            mix(behind, mist, covered)
        } else {
            behind
        }
    }
}

/// Stands for spectators on both sides, empty at this hour.
pub(super) fn paint_stands(pixmap: &mut Pixmap, view: &View) {
    for (side, from_ft, to_ft) in [(-1.0, 250.0, 430.0), (1.0, 235.0, 450.0)] {
        Stand { view, side, from_ft, to_ft }.paint(pixmap);
    }
}

/// One stand: open benches on a scaffold, rising away from the strip.
struct Stand<'a> {
    view: &'a View,
    side: f32,
    from_ft: f32,
    to_ft: f32,
}

impl Stand<'_> {
    const ROWS: u8 = 7;

    /// The front edge of a row: across the strip and up, ft.
    fn row_ft(&self, row: f32) -> (f32, f32) {
        (self.side * (49.0 + 2.5 * row), 2.8 + 1.35 * row)
    }

    fn point(&self, row: f32, z_ft: f32) -> (f32, f32) {
        let (x_ft, y_ft) = self.row_ft(row);
        self.view.project(x_ft, y_ft, z_ft)
    }

    fn paint(&self, pixmap: &mut Pixmap) {
        let top = f32::from(Self::ROWS);
        let (from, to) = (self.from_ft, self.to_ft);
        self.paint_scaffold(pixmap);
        let corners = [
            self.point(0.0, from),
            self.point(0.0, to),
            self.point(top, to),
            self.point(top, from),
        ];
        let tones = [(0.0, [29.0, 29.0, 48.0]), (1.0, [52.0, 45.0, 69.0])];
        let shader = gradient((corners[3].0, 0.0), (corners[2].0, 0.0), &tones);
        let paint = shade(shader, [34.0, 33.0, 54.0]);
        fill(pixmap, polygon(&corners), &paint, Transform::identity());
        let unit = self.view.scale_at(from);
        for row in 1..=Self::ROWS {
            let (near, far) = (self.point(f32::from(row), from), self.point(f32::from(row), to));
            let paint = ink([112.0, 98.0, 126.0], if row == Self::ROWS { 0.45 } else { 0.22 });
            line(pixmap, near, far, &paint, (0.10 * unit).max(0.5));
        }
        // A rail along the back.
        let (x_ft, y_ft) = self.row_ft(top);
        let rail = |z_ft: f32| self.view.project(x_ft, y_ft + 3.2, z_ft);
        line(pixmap, rail(from), rail(to), &ink([30.0, 30.0, 50.0], 0.8), (0.12 * unit).max(0.5));
        let mut z_ft = from;
        while z_ft <= to {
            let width = (0.12 * self.view.scale_at(z_ft)).max(0.4);
            line(pixmap, self.point(top, z_ft), rail(z_ft), &ink([30.0, 30.0, 50.0], 0.8), width);
            z_ft += 12.0;
        }
    }

    /// The end that faces the viewer: uprights and braces, the sky between them.
    fn paint_scaffold(&self, pixmap: &mut Pixmap) {
        let unit = self.view.scale_at(self.from_ft);
        let top = f32::from(Self::ROWS);
        let steel = ink([24.0, 25.0, 42.0], 0.95);
        let thin = (0.22 * unit).max(0.5);
        let foot = |row: f32| self.view.project(self.row_ft(row).0, 0.0, self.from_ft);
        let end = polygon(&[
            foot(0.0),
            self.point(0.0, self.from_ft),
            self.point(top, self.from_ft),
            foot(top),
        ]);
        fill(pixmap, end, &ink([26.0, 26.0, 44.0], 0.62), Transform::identity());
        for row in 0..=Self::ROWS {
            let row = f32::from(row);
            let head = self.point(row, self.from_ft);
            line(pixmap, foot(row), head, &steel, thin);
            if row >= 1.0 {
                line(pixmap, foot(row - 1.0), head, &steel, thin * 0.7);
            }
        }
    }
}

/// Walls on both sides with a fence on top.
pub(super) fn paint_barriers(pixmap: &mut Pixmap, view: &View) {
    for side in [-1.0f32, 1.0] {
        paint_fence(pixmap, view, side);
        paint_wall(pixmap, view, side);
    }
}

fn paint_fence(pixmap: &mut Pixmap, view: &View, side: f32) {
    let x_ft = side * (WALL_FT + 0.6);
    let mut z_ft = 40.0;
    while z_ft < 900.0 {
        let scale = view.scale_at(z_ft);
        let alpha = 0.60 * smooth(900.0, 120.0, z_ft);
        let (foot, top) = (view.project(x_ft, WALL_TOP_FT, z_ft), view.project(x_ft, 7.2, z_ft));
        line(pixmap, foot, top, &ink([22.0, 23.0, 38.0], alpha), (0.14 * scale).max(0.4));
        z_ft += 20.0;
    }
    for (y_ft, alpha) in [(7.2, 0.42), (5.8, 0.22), (4.4, 0.22)] {
        let (near, far) = (view.project(x_ft, y_ft, 40.0), view.project(x_ft, y_ft, 900.0));
        let thin = (0.03 * view.scale_at(120.0)).max(0.5);
        line(pixmap, near, far, &ink([24.0, 25.0, 40.0], alpha), thin);
    }
}

fn paint_wall(pixmap: &mut Pixmap, view: &View, side: f32) {
    const NEAR_FT: f32 = 16.0;
    let at = |y_ft: f32, z_ft: f32| view.project(side * WALL_FT, y_ft, z_ft);
    let cap = |y_ft: f32, z_ft: f32| view.project(side * (WALL_FT + 0.7), y_ft, z_ft);
    let here = Transform::identity();
    // Light and haze along the wall, set by where it is seen, not by its end far off.
    let (edge, far) = (at(0.0, 70.0), at(0.0, WALL_END_FT));
    let tones = [
        (0.0, [44.0, 45.0, 63.0]),
        (0.45, [62.0, 60.0, 80.0]),
        (0.85, [86.0, 75.0, 95.0]),
        (1.0, [112.0, 87.0, 100.0]),
    ];
    let face = polygon(&[
        at(0.0, NEAR_FT),
        at(0.0, WALL_END_FT),
        at(WALL_TOP_FT, WALL_END_FT),
        at(WALL_TOP_FT, NEAR_FT),
    ]);
    let shader = gradient((edge.0, 0.0), (far.0, 0.0), &tones);
    fill(pixmap, face, &shade(shader, [60.0, 60.0, 80.0]), here);
    let top = polygon(&[
        at(WALL_TOP_FT, NEAR_FT),
        at(WALL_TOP_FT, WALL_END_FT),
        cap(WALL_TOP_FT, WALL_END_FT),
        cap(WALL_TOP_FT, NEAR_FT),
    ]);
    let lit =
        [(0.0, [84.0, 84.0, 110.0]), (0.6, [124.0, 108.0, 126.0]), (1.0, [142.0, 108.0, 116.0])];
    let shader = gradient((edge.0, 0.0), (far.0, 0.0), &lit);
    fill(pixmap, top, &shade(shader, [100.0, 96.0, 120.0]), here);
    // Joints between the slabs, and the dirt where wall and ground meet.
    let mut z_ft = 40.0;
    while z_ft < 600.0 {
        let alpha = 0.45 * smooth(600.0, 60.0, z_ft);
        let width = (0.07 * view.scale_at(z_ft)).max(0.4);
        line(pixmap, at(0.0, z_ft), at(WALL_TOP_FT, z_ft), &ink([20.0, 20.0, 32.0], alpha), width);
        z_ft += 20.0;
    }
    let gutter = polygon(&[
        at(0.22, NEAR_FT),
        at(0.22, WALL_END_FT),
        at(-0.08, WALL_END_FT),
        at(-0.08, NEAR_FT),
    ]);
    fill(pixmap, gutter, &ink([14.0, 14.0, 22.0], 0.55), here);
}
