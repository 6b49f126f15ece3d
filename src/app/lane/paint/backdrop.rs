//! The evening behind everything: sky, hills, ground, walls, stands and strip lights.
//!
//! Owns the order in which the backdrop is painted, and the sky. Refuses the tree, cars and
//! anything that changes during a run.

use tiny_skia::Pixmap;

use super::ground::Ground;
use super::pixel::{Tone, empty, hash01, mix, noise, put, ramp, smooth};
use super::scenery::{Ridge, paint_barriers, paint_stands};
use super::strip_lights::paint_strip_lights;
use crate::app::lane::view::View;

/// The scene without tree, cars and lamps; as wide as the window, as high as the scene.
pub fn backdrop(view: &View) -> Pixmap {
    let mut pixmap = empty(view.width_px(), view.scene_height_px());
    paint_sky_and_ground(&mut pixmap, view);
    paint_stands(&mut pixmap, view);
    paint_strip_lights(&mut pixmap, view);
    paint_barriers(&mut pixmap, view);
    pixmap
}

fn paint_sky_and_ground(pixmap: &mut Pixmap, view: &View) {
    let (width, height) = (pixmap.width() as usize, pixmap.height() as f32);
    let sky = Sky::new(view);
    let ridges = Ridge::all(view);
    let ground = Ground::new(view);
    let (_, horizon) = view.vanishing_point();
    for (iy, row) in pixmap.data_mut().chunks_exact_mut(4 * width).enumerate() {
        let y = iy as f32 + 0.5;
        let ground_row = ground.row(y);
        for (ix, pixel) in row.chunks_exact_mut(4).enumerate() {
            let x = ix as f32 + 0.5;
            let mut colour = if y < horizon + 0.5 {
                let mut colour = sky.tone_at(x, y);
                for ridge in &ridges {
                    colour = ridge.over(colour, ix, y);
                }
                colour
            } else {
                sky.horizon_tone(x)
            };
            // The horizon itself is smoothed over one pixel.
            let below = (y - horizon + 0.5).clamp(0.0, 1.0);
            if below > 0.0 {
                let warm = sky.horizon_tone(x);
                colour = mix(colour, ground_row.tone_at(x, warm), below);
            }
            // A little darker towards the lower corners, where nothing is to be seen.
            let low = smooth(0.78 * height, height, y) * 0.22;
            put(
                pixel,
                [colour[0] * (1.0 - low), colour[1] * (1.0 - low), colour[2] * (1.0 - low)],
                ix as i32,
                iy as i32,
            );
        }
    }
}

/// The sky after sunset: indigo above, a muted warm band over the place the strip runs to.
struct Sky {
    vanish_x: f32,
    horizon: f32,
    width: f32,
}

/// Away from the sunset, from the horizon (0) to the top of the picture (1).
const COOL: [(f32, Tone); 6] = [
    (0.0, [112.0, 82.0, 112.0]),
    (0.10, [92.0, 72.0, 112.0]),
    (0.26, [62.0, 57.0, 100.0]),
    (0.50, [37.0, 41.0, 80.0]),
    (0.78, [22.0, 26.0, 56.0]),
    (1.0, [15.0, 18.0, 42.0]),
];
/// Over the sunset.
const WARM: [(f32, Tone); 6] = [
    (0.0, [214.0, 140.0, 112.0]),
    (0.09, [188.0, 116.0, 112.0]),
    (0.22, [132.0, 88.0, 116.0]),
    (0.44, [70.0, 61.0, 104.0]),
    (0.74, [30.0, 34.0, 70.0]),
    (1.0, [17.0, 21.0, 47.0]),
];

impl Sky {
    fn new(view: &View) -> Self {
        let (vanish_x, horizon) = view.vanishing_point();
        Self { vanish_x, horizon: horizon.max(1.0), width: view.width_px() as f32 }
    }

    /// How much of the sunset is seen in this column, 0 to 1.
    fn warmth(&self, x: f32) -> f32 {
        let aside = (x - self.vanish_x) / (0.46 * self.width);
        1.0 / (1.0 + aside * aside * 1.6)
    }

    fn horizon_tone(&self, x: f32) -> Tone {
        mix(COOL[0].1, WARM[0].1, self.warmth(x))
    }

    fn tone_at(&self, x: f32, y: f32) -> Tone {
        let up = ((self.horizon - y) / self.horizon).clamp(0.0, 1.0);
        let warmth = self.warmth(x);
        let mut colour = mix(ramp(&COOL, up), ramp(&WARM, up), warmth);
        let across = (x - self.vanish_x) / self.horizon;
        if up > 0.05 && up < 0.72 {
            // Long thin clouds, lit from below while low, dark against the sky while high.
            let lean = up * 15.0 + across * 0.55;
            let veil = 0.65 * noise(across * 1.5 + 11.0, lean)
                + 0.35 * noise(across * 4.2 + 3.0, lean * 2.6 + 7.0);
            let body = smooth(0.50, 0.80, veil) * smooth(0.05, 0.16, up) * smooth(0.72, 0.40, up);
            let lit = mix([46.0, 44.0, 84.0], [206.0, 132.0, 126.0], warmth * smooth(0.5, 0.1, up));
            colour = mix(colour, lit, 0.34 * body);
        }
        if up > 0.45 {
            colour = self.with_star(colour, x, y, smooth(0.45, 0.9, up));
        }
        colour
    }

    /// A few faint stars, the same in every window size.
    fn with_star(&self, colour: Tone, x: f32, y: f32, share: f32) -> Tone {
        let cell = self.horizon / 11.0;
        let (u, v) = (x / cell, y / cell);
        let (cx, cy) = (u.floor() as i32, v.floor() as i32);
        if hash01(cx, cy + 901) > 0.16 {
            return colour;
        }
        let at = (0.2 + 0.6 * hash01(cx + 77, cy), 0.2 + 0.6 * hash01(cx, cy + 77));
        let off_px = (u - cx as f32 - at.0).hypot(v - cy as f32 - at.1) * cell;
        let size = 0.45 + 0.0016 * self.horizon;
        let bright = smooth(size * 1.7, 0.0, off_px) * share * (0.25 + 0.5 * hash01(cx, cy + 5));
        mix(colour, [206.0, 212.0, 236.0], bright)
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::tree::Lane;

    fn luminance(pixmap: &Pixmap, x: u32, y: u32) -> f64 {
        let p = pixmap.pixel(x, y).expect("inside the picture");
        let colour = crate::app::theme::palette::Rgb(p.red(), p.green(), p.blue());
        colour.relative_luminance()
    }

    #[test]
    fn it_fills_the_scene_without_holes_in_every_size() {
        for (width, height) in [(0, 0), (1, 1), (7, 3), (640, 360), (900, 900), (1024, 640)] {
            for lane in Lane::BOTH {
                let view = View::of_window(width, height, lane);
                let picture = backdrop(&view);
                assert_eq!(picture.width(), view.width_px());
                assert_eq!(picture.height(), view.scene_height_px());
                assert!(picture.pixels().iter().all(|p| p.alpha() == 255));
            }
        }
    }

    #[test]
    fn nothing_in_it_is_as_bright_and_saturated_as_a_lamp() {
        let picture = backdrop(&View::of_window(1280, 720, Lane::Left));
        for p in picture.pixels() {
            let high = p.red().max(p.green()).max(p.blue());
            let low = p.red().min(p.green()).min(p.blue());
            assert!(high < 150 || high - low < 120, "{p:?}");
        }
    }

    #[test]
    fn the_sky_is_brightest_at_the_horizon_and_dark_behind_the_prompt() {
        let view = View::of_window(1280, 720, Lane::Left);
        let picture = backdrop(&view);
        let (x, horizon) = view.vanishing_point();
        let low = luminance(&picture, x as u32 + 60, horizon as u32 - 60);
        let high = luminance(&picture, 400, 30);
        assert!(low > 3.0 * high && high < 0.03, "{low} {high}");
    }

    #[test]
    fn the_same_view_gives_the_same_picture() {
        let view = View::of_window(320, 180, Lane::Right);
        assert_eq!(backdrop(&view).data(), backdrop(&view).data());
    }
}
