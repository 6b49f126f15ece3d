//! The glance through the side window: the other lane's start line, small.
//!
//! Owns that little picture and where the other car falls in it. Refuses what the other car does.
//!
//! The car drives to the right, as in the drawing of the own tyre over the beams.

use tiny_skia::{Pixmap, Transform};

use super::beam_panel::Clipped;
use super::car_side::{FRONT_AXLE_FT, GROUND_MARGIN_FT, HEIGHT_FT, SIDE_LENGTH_FT};
use super::pixel::{Tone, empty, fill, ink, mix, noise, polygon, put, ramp, smooth, tone};
use crate::app::lane::view::RectPx;
use crate::app::theme::palette::{LINE, TEXT};

/// Ground line from the upper edge, share of the height.
const GROUND_SHARE: f32 = 0.86;
/// The stage beam from the left edge, share of the width.
const BEAM_SHARE: f32 = 0.74;
/// Feet the picture spans across. Chosen, because the car fits with some way before it.
const SPAN_FT: f32 = 19.0;

const SKY: [(f32, Tone); 4] = [
    (0.0, [33.0, 36.0, 70.0]),
    (0.45, [66.0, 58.0, 98.0]),
    (0.85, [122.0, 88.0, 112.0]),
    (1.0, [136.0, 96.0, 112.0]),
];

/// The little picture and its scale; all pixels count from its upper left corner.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct SideWindow {
    width_px: f32,
    height_px: f32,
}

impl SideWindow {
    /// A side window of this size; sizes under one pixel count as one.
    pub fn new(width_px: u32, height_px: u32) -> Self {
        Self { width_px: width_px.max(1) as f32, height_px: height_px.max(1) as f32 }
    }

    /// Pixels per foot: the span across, or less where the car would not fit below the roof.
    pub fn px_per_ft(&self) -> f32 {
        (self.width_px / SPAN_FT).min(self.height_px * GROUND_SHARE / HEIGHT_FT)
    }

    /// Width to paint the other car's side in, px.
    pub fn car_width_px(&self) -> u32 {
        ((SIDE_LENGTH_FT * self.px_per_ft()).round() as u32).max(1)
    }

    /// Which part of the other car's picture shows, and where, with its front axle `ahead_ft`
    /// past the stage beam (negative: before it). `None` when it is out of the picture.
    pub fn car_at(&self, ahead_ft: f32) -> Option<Clipped> {
        let width = self.car_width_px() as f32;
        let scale = width / SIDE_LENGTH_FT;
        let height = (HEIGHT_FT * scale).ceil();
        let left = self.beam_x() + (ahead_ft.clamp(-1e5, 1e5) - FRONT_AXLE_FT) * scale;
        let top = self.ground_y() + GROUND_MARGIN_FT * scale - height;
        let (from_x, from_y) = (left.max(0.0), top.max(0.0));
        let shown_width = (left + width).min(self.width_px) - from_x;
        let shown_height = (top + height).min(self.height_px) - from_y;
        (shown_width > 0.0 && shown_height > 0.0).then(|| Clipped {
            source: RectPx::new(from_x - left, from_y - top, shown_width, shown_height),
            dest: RectPx::new(from_x, from_y, shown_width, shown_height),
        })
    }

    /// The evening behind the other car: sky, fence, wall, its lane and the start line.
    pub fn backdrop(&self) -> Pixmap {
        let mut pixmap = empty(self.width_px as u32, self.height_px as u32);
        let (stride, scale) = (pixmap.width() as usize, self.px_per_ft());
        let frame = (self.height_px / 60.0).clamp(1.0, 4.0) as usize;
        let rows = pixmap.height() as usize;
        for (i, pixel) in pixmap.data_mut().chunks_exact_mut(4).enumerate() {
            let (ix, iy) = (i % stride, i / stride);
            let at_edge = ix.min(stride - 1 - ix).min(iy).min(rows - 1 - iy) < frame;
            let colour =
                if at_edge { tone(LINE) } else { self.tone_at(ix as f32 + 0.5, iy as f32 + 0.5) };
            put(pixel, colour, ix as i32, iy as i32);
        }
        // The stage beam's line across the lane, as a short stroke on the ground.
        let (x, y) = (self.beam_x(), self.ground_y());
        let stroke = polygon(&[
            (x - 0.10 * scale, y - 0.35 * scale),
            (x + 0.06 * scale, y - 0.35 * scale),
            (x + 0.14 * scale, y + 0.5 * scale),
            (x - 0.12 * scale, y + 0.5 * scale),
        ]);
        fill(&mut pixmap, stroke, &ink(tone(TEXT), 0.55), Transform::identity());
        pixmap
    }

    fn ground_y(&self) -> f32 {
        (GROUND_SHARE * self.height_px).round()
    }

    fn beam_x(&self) -> f32 {
        BEAM_SHARE * self.width_px
    }

    fn tone_at(&self, x: f32, y: f32) -> Tone {
        let scale = self.px_per_ft();
        let up_ft = (self.ground_y() - y) / scale;
        let along_ft = x / scale;
        // The far edge of the lane and the wall beyond it.
        let (lane_ft, wall_ft) = (0.75, 2.35);
        let sky = ramp(&SKY, (y / (self.ground_y() - wall_ft * scale).max(1.0)).clamp(0.0, 1.0));
        let hedge_ft =
            wall_ft + 0.5 + 0.55 * noise(along_ft * 1.3, 3.0) + 0.2 * noise(along_ft * 5.0, 9.0);
        let soft = 0.5 / scale;
        let mut colour =
            mix(sky, [27.0, 27.0, 46.0], smooth(hedge_ft + soft, hedge_ft - soft, up_ft));
        let slab = (along_ft / 6.0 - (along_ft / 6.0).round()).abs() * 6.0;
        let wall = mix([58.0, 57.0, 78.0], [36.0, 36.0, 52.0], smooth(0.09, 0.03, slab));
        let lit = mix(wall, [88.0, 82.0, 106.0], smooth(wall_ft - 0.22, wall_ft - 0.12, up_ft));
        colour = mix(colour, lit, smooth(wall_ft + soft, wall_ft - soft, up_ft));
        let dust = 3.0 * (noise(along_ft * 2.0, up_ft * 9.0) - 0.5);
        let near = smooth(lane_ft, -0.8, up_ft);
        let lane = mix([50.0, 49.0, 61.0], [29.0, 29.0, 39.0], near);
        let lane = [lane[0] + dust, lane[1] + dust, lane[2] + dust];
        mix(colour, lane, smooth(lane_ft + soft, lane_ft - soft, up_ft))
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn the_front_axle_stands_over_the_beam_when_it_is_said_to() {
        let window = SideWindow::new(240, 90);
        let clip = window.car_at(0.0).expect("in the picture");
        let scale = window.car_width_px() as f32 / SIDE_LENGTH_FT;
        let axle = clip.dest.x - clip.source.x + FRONT_AXLE_FT * scale;
        assert!((axle - window.beam_x()).abs() < 0.01);
    }

    #[test]
    fn the_car_never_leaves_the_window_and_goes_out_in_the_end() {
        let window = SideWindow::new(240, 90);
        let frame = RectPx::new(0.0, 0.0, 240.0, 90.0);
        for step in -300..300 {
            if let Some(clip) = window.car_at(step as f32 * 0.1) {
                assert!(frame.holds(clip.dest), "{clip:?}");
                assert!(clip.source.x >= -0.01);
                assert!(clip.source.right() <= window.car_width_px() as f32 + 0.01);
            }
        }
        assert_eq!(window.car_at(60.0), None);
        assert_eq!(window.car_at(-60.0), None);
    }

    #[test]
    fn no_size_panics() {
        for (width, height) in [(0, 0), (1, 1), (3, 200), (500, 2)] {
            let window = SideWindow::new(width, height);
            assert!(window.backdrop().width() >= 1 && window.car_width_px() >= 1);
            let _ = window.car_at(f32::NAN);
        }
    }
}
