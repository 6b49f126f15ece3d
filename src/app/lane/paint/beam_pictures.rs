//! The pictures of the tyre over the beams: what never moves, the tyre, the beams' dots.
//!
//! Owns their look. Refuses geometry, which belongs to the panel.

use tiny_skia::{PathBuilder, Pixmap, Transform};

use super::beam_panel::{Beam, BeamPanel};
use super::pixel::{Tone, empty, fill, ink, line, mix, put_alpha, smooth, tone};
use crate::app::theme::palette::{CAR, LINE, MUTED, PANEL, TEXT};

impl BeamPanel {
    /// What never moves, to be laid over the tyre: ground, the dotted uprights of the beams, and
    /// at both sides a strip of panel colour in which a tyre that leaves dissolves.
    pub fn static_layer(&self) -> Pixmap {
        let (width, height) = self.size_px();
        let mut pixmap = empty(width as u32, height as u32);
        self.paint_side_fades(&mut pixmap);
        let hair = (self.px_per_in() * 0.11).clamp(1.0, 5.0);
        let y = self.ground_y() + hair / 2.0;
        line(&mut pixmap, (0.0, y), (width, y), &ink(tone(MUTED), 0.75), hair);
        let dot = (self.px_per_in() * 0.075).clamp(0.6, 4.0);
        for beam in Beam::ALL {
            let (x, _) = self.beam(beam);
            let (top, step) = (self.ground_y() - 4.4 * self.px_per_in(), dot * 5.0);
            let mut y = self.ground_y() - step;
            while y > top.max(0.0) {
                let place = Transform::identity();
                let circle = PathBuilder::from_circle(x, y, dot);
                fill(&mut pixmap, circle, &ink(tone(MUTED), 0.65), place);
                y -= step;
            }
            let tick = 0.45 * self.px_per_in();
            let bottom = (self.ground_y() + hair + tick).min(height);
            line(&mut pixmap, (x, self.ground_y()), (x, bottom), &ink(tone(MUTED), 0.75), hair);
        }
        pixmap
    }

    /// The lower part of the tyre, as much as the panel's height shows; its lower edge is the
    /// ground, its middle the middle of the picture.
    pub fn tyre_sprite(&self) -> Pixmap {
        let (width, height) = self.tyre_size();
        let mut pixmap = empty(width as u32, height as u32);
        let radius = self.tyre_px() / 2.0;
        let stride = pixmap.width() as usize;
        let edge_px = (0.13 * self.px_per_in()).max(1.0);
        for (i, pixel) in pixmap.data_mut().chunks_exact_mut(4).enumerate() {
            let (ix, iy) = ((i % stride) as i32, (i / stride) as i32);
            let x = ix as f32 + 0.5 - width / 2.0;
            let y = iy as f32 + 0.5 - (height - radius);
            let distance = x.hypot(y);
            let inside = (radius - distance + 0.5).clamp(0.0, 1.0);
            if inside > 0.0 {
                let (colour, alpha) =
                    rubber(distance / radius, distance, x.atan2(y), radius, edge_px);
                // The top dissolves, because the drawing ends there and the tyre does not.
                let fade = smooth(0.0, 0.16 * height, iy as f32 + 0.5);
                put_alpha(pixel, colour, alpha * inside * fade, ix, iy);
            }
        }
        pixmap
    }

    /// A beam seen along its line: white with a soft ring when the tyre cuts it, else a dark dot.
    /// The middle of the picture belongs on [`Self::beam`].
    pub fn beam_dot(&self, lit: bool) -> Pixmap {
        let radius = (0.46 * self.px_per_in()).clamp(2.5, 24.0);
        let half = (radius * 1.9).ceil();
        let mut pixmap = empty(2 * half as u32, 2 * half as u32);
        let stride = pixmap.width() as usize;
        for (i, pixel) in pixmap.data_mut().chunks_exact_mut(4).enumerate() {
            let (ix, iy) = ((i % stride) as i32, (i / stride) as i32);
            let distance = (ix as f32 + 0.5 - half).hypot(iy as f32 + 0.5 - half);
            let disc = (radius - distance + 0.5).clamp(0.0, 1.0);
            if lit {
                let glow = 0.14 * smooth(half, radius, distance);
                put_alpha(pixel, tone(TEXT), disc.max(glow), ix, iy);
            } else {
                let hollow = smooth(radius * 0.55, radius * 0.80, distance);
                let colour = mix(tone(LINE), [92.0, 100.0, 134.0], hollow);
                put_alpha(pixel, colour, disc, ix, iy);
            }
        }
        pixmap
    }

    /// The bar of [`Self::left_to_roll`], one pixel wide, to be stretched between its ends.
    pub fn bar_sprite(&self) -> Pixmap {
        let mut pixmap = empty(1, self.bar_px().round().max(1.0) as u32);
        for pixel in pixmap.data_mut().chunks_exact_mut(4) {
            put_alpha(pixel, tone(CAR), 1.0, 0, 0);
        }
        pixmap
    }

    fn paint_side_fades(&self, pixmap: &mut Pixmap) {
        let reach = 2.6 * self.px_per_in();
        let (width, stride) = (self.size_px().0, pixmap.width() as usize);
        for (i, pixel) in pixmap.data_mut().chunks_exact_mut(4).enumerate() {
            let (ix, iy) = (i % stride, i / stride);
            let x = ix as f32 + 0.5;
            let cover = smooth(reach, 0.0, x.min(width - x));
            put_alpha(pixel, tone(PANEL), cover, ix as i32, iy as i32);
        }
    }
}

/// Colour and alpha of the tyre at a share `r` of its radius and an angle from straight down.
fn rubber(r: f32, distance: f32, angle: f32, radius: f32, edge_px: f32) -> (Tone, f32) {
    let wall: Tone = [30.0, 34.0, 50.0];
    let tread: Tone = [23.0, 26.0, 39.0];
    let rim: Tone = [38.0, 43.0, 62.0];
    let mut colour = mix(wall, tread, smooth(0.90, 0.93, r));
    // Tread blocks: short grooves across the outermost rubber.
    let blocks = (angle * 46.0).sin();
    let groove = smooth(0.80, 0.95, blocks) * smooth(0.955, 0.965, r);
    colour = mix(colour, [13.0, 15.0, 23.0], groove);
    colour = mix(colour, rim, smooth(0.70, 0.69, r));
    let rings = [0.695, 0.84];
    for ring in rings {
        let off = (distance - ring * radius).abs();
        colour = mix(colour, [74.0, 82.0, 112.0], 0.7 * smooth(1.4, 0.2, off));
    }
    let edge = smooth(edge_px + 0.8, edge_px - 0.6, radius - distance);
    (mix(colour, [132.0, 142.0, 180.0], edge), 0.90 + 0.10 * edge)
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::app::lane::paint::beam_panel::BeamSetup;
    use crate::units::Inches;

    fn setup(tyre: f64) -> BeamSetup {
        BeamSetup {
            tyre_diameter: Inches(tyre),
            beam_height: Inches(1.625),
            pre_stage_to_stage: Inches(7.0),
            stage_to_guard: Inches(13.375),
        }
    }

    #[test]
    fn the_tyres_picture_has_the_size_the_geometry_counts_on() {
        for tyre in [18.0, 25.0, 33.0] {
            let panel = BeamPanel::new(470, 130, setup(tyre));
            let (width, height) = panel.tyre_size();
            let sprite = panel.tyre_sprite();
            assert_eq!((sprite.width() as f32, sprite.height() as f32), (width, height));
            // Rubber stands on the ground in the middle and nowhere else in the lowest row.
            let row = sprite.height() - 1;
            let alpha = |x: u32| sprite.pixel(x, row).expect("inside").alpha();
            assert!(alpha(sprite.width() / 2) > 100);
            assert_eq!((alpha(0), alpha(sprite.width() - 1)), (0, 0));
        }
    }

    #[test]
    fn a_cut_beam_is_much_brighter_than_a_free_one() {
        let panel = BeamPanel::new(470, 130, setup(25.0));
        let middle = |lit| {
            let dot = panel.beam_dot(lit);
            dot.pixel(dot.width() / 2, dot.height() / 2).expect("inside").green()
        };
        assert!(middle(true) > 3 * middle(false));
    }

    #[test]
    fn no_size_and_no_length_panics() {
        for (width, height) in [(0, 0), (1, 1), (3, 400), (4000, 2)] {
            for tyre in [f64::NAN, -1.0, 0.0, 25.0, 1e9] {
                let panel = BeamPanel::new(width, height, setup(tyre));
                assert!(panel.tyre_sprite().width() >= 1);
                assert!(panel.static_layer().width() >= 1);
                assert!(panel.beam_dot(true).width() >= 1 && panel.bar_sprite().width() == 1);
                let _ = panel.tyre_at(Inches(1.0));
            }
        }
    }
}
