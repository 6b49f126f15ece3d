//! The evening behind everything: sky, hills, ground, walls, stands and strip lights.
//!
//! Owns the order in which the backdrop is painted, and the sky. Refuses the tree, cars and
//! anything that changes during a run.

use tiny_skia::Pixmap;

use super::ground::Ground;
use super::pixel::{Tone, empty, hash01, mix, noise, put, ramp, scaled, smooth};
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
    let (width, height) = (pixmap.width() as usize, pixmap.height() as usize);
    let painter = RowPainter {
        sky: Sky::new(view),
        ridges: Ridge::all(view),
        ground: Ground::new(view),
        height_px: height as f32,
    };
    // Rows do not know each other: share them out evenly, in turn, for the ground costs more than
    // the sky.
    let workers = std::thread::available_parallelism().map_or(1, usize::from).min(8);
    let mut shares: Vec<Vec<(usize, &mut [u8])>> = (0..workers).map(|_| Vec::new()).collect();
    for (iy, row) in pixmap.data_mut().chunks_exact_mut(4 * width).enumerate() {
        shares[iy % workers].push((iy, row));
    }
    std::thread::scope(|scope| {
        for share in shares {
            let painter = &painter;
            scope.spawn(move || share.into_iter().for_each(|(iy, row)| painter.paint(iy, row)));
        }
    });
}

/// Everything a single row of the picture needs.
struct RowPainter {
    sky: Sky,
    ridges: [Ridge; 3],
    ground: Ground,
    height_px: f32,
}

impl RowPainter {
    fn paint(&self, iy: usize, row: &mut [u8]) {
        let y = iy as f32 + 0.5;
        let sky_row = self.sky.row(y);
        let ground_row = self.ground.row(y);
        // The horizon itself is smoothed over one pixel.
        let below = (y - self.sky.horizon + 0.5).clamp(0.0, 1.0);
        // A little darker towards the lower edge, where nothing is to be seen.
        let low = 1.0 - 0.22 * smooth(0.78 * self.height_px, self.height_px, y);
        for (ix, pixel) in row.chunks_exact_mut(4).enumerate() {
            let x = ix as f32 + 0.5;
            let mut colour = [0.0; 3];
            if below < 1.0 {
                colour = sky_row.tone_at(ix, x);
                for ridge in &self.ridges {
                    colour = ridge.over(colour, ix, y);
                }
            }
            if below > 0.0 {
                let ground = ground_row.tone_at(x, self.sky.horizon_tone(ix));
                colour = mix(colour, ground, below);
            }
            put(pixel, scaled(colour, low), ix as i32, iy as i32);
        }
    }
}

/// The sky after sunset: indigo above, a muted warm band over the place the strip runs to.
struct Sky {
    vanish_x: f32,
    horizon: f32,
    /// How much of the sunset is seen in each column, 0 to 1.
    warmth: Vec<f32>,
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
        let reach = 0.46 * view.width_px() as f32;
        let warmth = (0..view.width_px())
            .map(|x| {
                let aside = (x as f32 + 0.5 - vanish_x) / reach;
                1.0 / (1.0 + 1.6 * aside * aside)
            })
            .collect();
        Self { vanish_x, horizon: horizon.max(1.0), warmth }
    }

    fn warmth(&self, column: usize) -> f32 {
        self.warmth.get(column).copied().unwrap_or(0.0)
    }

    fn horizon_tone(&self, column: usize) -> Tone {
        mix(COOL[0].1, WARM[0].1, self.warmth(column))
    }

    fn row(&self, y: f32) -> SkyRow<'_> {
        let up = ((self.horizon - y) / self.horizon).clamp(0.0, 1.0);
        SkyRow { sky: self, y, up, cool: ramp(&COOL, up), warm: ramp(&WARM, up) }
    }
}

/// One row of the sky, all of it equally high.
struct SkyRow<'a> {
    sky: &'a Sky,
    y: f32,
    /// 0 at the horizon, 1 at the upper edge of the picture.
    up: f32,
    cool: Tone,
    warm: Tone,
}

impl SkyRow<'_> {
    fn tone_at(&self, column: usize, x: f32) -> Tone {
        let warmth = self.sky.warmth(column);
        let mut colour = mix(self.cool, self.warm, warmth);
        if self.up > 0.05 && self.up < 0.72 {
            colour = self.with_cloud(colour, x, warmth);
        }
        if self.up > 0.45 { self.with_star(colour, x) } else { colour }
    }

    /// Long thin clouds, lit from below while low, dark against the sky while high.
    fn with_cloud(&self, colour: Tone, x: f32, warmth: f32) -> Tone {
        let across = (x - self.sky.vanish_x) / self.sky.horizon;
        let lean = self.up * 17.0 + across * 0.8;
        let veil = 0.62 * noise(across * 1.1 + 12.6, lean)
            + 0.38 * noise(across * 3.4 + 3.0, lean * 2.3 + 7.0);
        let body =
            smooth(0.46, 0.78, veil) * smooth(0.05, 0.14, self.up) * smooth(0.72, 0.36, self.up);
        let glow = warmth * smooth(0.52, 0.10, self.up);
        mix(colour, mix([44.0, 42.0, 80.0], [232.0, 156.0, 138.0], glow), 0.42 * body)
    }

    /// A few faint stars, the same in every window size.
    fn with_star(&self, colour: Tone, x: f32) -> Tone {
        let cell = self.sky.horizon / 11.0;
        let (u, v) = ((x - self.sky.vanish_x) / cell, self.y / cell);
        let (cx, cy) = (u.floor() as i32, v.floor() as i32);
        if hash01(cx, cy + 901) > 0.16 {
            return colour;
        }
        let at = (0.2 + 0.6 * hash01(cx + 77, cy), 0.2 + 0.6 * hash01(cx, cy + 77));
        let off_px = (u - cx as f32 - at.0).hypot(v - cy as f32 - at.1) * cell;
        let size = 0.45 + 0.0016 * self.sky.horizon;
        let share = smooth(0.45, 0.9, self.up) * (0.22 + 0.45 * hash01(cx, cy + 5));
        mix(colour, [206.0, 212.0, 236.0], smooth(size * 1.7, 0.0, off_px) * share)
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
