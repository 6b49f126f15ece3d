//! The plain ground below the scene.
//!
//! Owns one quiet picture. Refuses everything that is laid over it.

use tiny_skia::Pixmap;

use super::pixel::{empty, mix, put, scaled, tone};
use crate::app::theme::palette::{LINE, PANEL};

/// The panel under the scene: the panel colour, a thin line along its upper edge, and below it a
/// breath of the scene's light that fades out.
pub fn panel(width_px: u32, height_px: u32) -> Pixmap {
    let mut pixmap = empty(width_px, height_px);
    let (width, height) = (pixmap.width() as usize, pixmap.height() as usize);
    let line_px = (height / 220).max(1);
    let ground = tone(PANEL);
    for (y, row) in pixmap.data_mut().chunks_exact_mut(4 * width).enumerate() {
        let depth = (y as f32 / (0.2 * height as f32)).min(1.0);
        let colour = if y < line_px {
            tone(LINE)
        } else {
            mix(scaled(ground, 1.16), ground, depth * (2.0 - depth))
        };
        for (x, pixel) in row.chunks_exact_mut(4).enumerate() {
            // Where nothing fades, nothing is dithered: text lies on an even ground.
            if depth < 1.0 && y >= line_px {
                put(pixel, colour, x as i32, y as i32);
            } else {
                for (byte, channel) in pixel.iter_mut().zip(colour) {
                    *byte = channel as u8;
                }
                pixel[3] = 255;
            }
        }
    }
    pixmap
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn the_lower_half_is_exactly_the_panel_colour() {
        let pixmap = panel(64, 220);
        for y in 110..220 {
            let p = pixmap.pixel(33, y).expect("inside");
            assert_eq!((p.red(), p.green(), p.blue()), (PANEL.0, PANEL.1, PANEL.2));
        }
        let p = pixmap.pixel(5, 0).expect("inside");
        assert_eq!((p.red(), p.green(), p.blue()), (LINE.0, LINE.1, LINE.2));
    }

    #[test]
    fn no_size_panics() {
        assert_eq!(panel(0, 0).width(), 1);
    }
}
