//! Where things of the strip fall in the window, seen with the driver's eye.
//!
//! Owns the perspective: a pinhole with a shifted picture plane, so that what is upright stays
//! upright. Refuses drawing and the engine.
//!
//! The strip's own axes: `x` feet to the right of the centre line (on which the tree stands),
//! `y` feet above the ground, `z` feet ahead of the stage beam. Window axes: pixels from the top
//! left corner, `y` downwards.

use crate::tree::Lane;

/// Height of the driver's eye above the ground, ft. Chosen, because a seated driver of an
/// ordinary car looks out at about that height.
pub const EYE_HEIGHT_FT: f32 = 3.6;
/// The eye's place behind the stage beam, ft. Chosen, because the front tyre stands in the beam
/// and the seat is about a door's length behind it.
pub const EYE_BEHIND_BEAM_FT: f32 = 6.5;
/// The tree's place beyond the start line, ft. Published: a track's set-up guideline gives about
/// 40 to 42 ft.
pub const TREE_AHEAD_FT: f32 = 41.0;
/// Middle of a lane from the centre line, ft. Chosen, because two lanes of some 18 ft leave room
/// for two cars and the tree.
pub const LANE_CENTRE_FT: f32 = 9.0;
/// Height of the top lamps (pre-stage) above the ground, ft: 94 in. Published: a track's set-up
/// guideline.
pub const TOP_LAMP_FT: f32 = 94.0 / 12.0;
/// Top of the housing above the ground, ft. Chosen, because the top lamps need a rim above them.
pub const TREE_TOP_FT: f32 = TOP_LAMP_FT + 0.42;

/// Share of the window's height the tree fills. Chosen, because the eye of a driver who waits is
/// drawn in to the tree: the picture is magnified until lamps can be told apart at a glance.
const TREE_SHARE: f32 = 0.52;
/// Tallest tree that must fit above the horizon (five ambers), ft above the eye.
const TALLEST_ABOVE_EYE_FT: f32 = TREE_TOP_FT + 0.55 - EYE_HEIGHT_FT;
/// The tree's place across the window when the driver is in the left lane, share of the width.
const TREE_ACROSS: f32 = 0.60;
/// The horizon's place, share of the scene's height.
const HORIZON: f32 = 0.515;

/// A rectangle in window pixels.
#[derive(Debug, Clone, Copy, PartialEq, Default)]
pub struct RectPx {
    /// Left edge.
    pub x: f32,
    /// Upper edge.
    pub y: f32,
    /// Width, ≥ 0.
    pub width: f32,
    /// Height, ≥ 0.
    pub height: f32,
}

impl RectPx {
    /// A rectangle from its upper left corner; negative sizes become zero.
    pub fn new(x: f32, y: f32, width: f32, height: f32) -> Self {
        Self { x, y, width: width.max(0.0), height: height.max(0.0) }
    }

    /// A rectangle around a point.
    pub fn around(centre: (f32, f32), width: f32, height: f32) -> Self {
        Self::new(centre.0 - width / 2.0, centre.1 - height / 2.0, width, height)
    }

    /// Right edge.
    pub fn right(self) -> f32 {
        self.x + self.width
    }

    /// Lower edge.
    pub fn bottom(self) -> f32 {
        self.y + self.height
    }

    /// The middle.
    pub fn centre(self) -> (f32, f32) {
        (self.x + self.width / 2.0, self.y + self.height / 2.0)
    }

    /// Whether `inner` lies wholly inside.
    #[cfg(test)]
    pub fn holds(self, inner: RectPx) -> bool {
        inner.x >= self.x
            && inner.y >= self.y
            && inner.right() <= self.right()
            && inner.bottom() <= self.bottom()
    }
}

/// The driver's view in one window.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct View {
    width_px: f32,
    height_px: f32,
    scene_height_px: f32,
    lane: Lane,
    vanish_x_px: f32,
    horizon_px: f32,
    focal_px: f32,
}

impl View {
    /// The view in a window of `width_px` × `height_px` whose upper `scene_height_px` show the
    /// strip. Any size is taken; sizes under one pixel count as one.
    pub fn new(width_px: u32, height_px: u32, scene_height_px: u32, lane: Lane) -> Self {
        let share = TREE_SHARE * height_px.max(1) as f32 / TREE_TOP_FT;
        Self::with_scale(width_px, height_px, scene_height_px, lane, share)
    }

    /// The same with so many pixels a foot at the tree, or as many as fit.
    fn with_scale(
        width_px: u32,
        height_px: u32,
        scene_height_px: u32,
        lane: Lane,
        px_a_foot: f32,
    ) -> Self {
        let width = width_px.max(1) as f32;
        let height = height_px.max(1) as f32;
        let scene = scene_height_px.clamp(1, height_px.max(1)) as f32;
        // The tree fills its share, unless a narrow window would push the vanishing point out of
        // the picture, or a low scene would cut the tree's top or foot.
        let tree_scale = px_a_foot
            .min(0.48 * width / LANE_CENTRE_FT)
            .min(0.49 * scene / TALLEST_ABOVE_EYE_FT)
            .min(0.44 * scene / EYE_HEIGHT_FT);
        let (tree_across, towards_tree) = match lane {
            Lane::Left => (TREE_ACROSS, 1.0),
            Lane::Right => (1.0 - TREE_ACROSS, -1.0),
        };
        Self {
            width_px: width,
            height_px: height,
            scene_height_px: scene,
            lane,
            vanish_x_px: tree_across * width - towards_tree * LANE_CENTRE_FT * tree_scale,
            horizon_px: HORIZON * scene,
            focal_px: tree_scale * (TREE_AHEAD_FT + EYE_BEHIND_BEAM_FT),
        }
    }

    /// The view in a window on a screen where a radian has so many pixels: what is drawn is as large to the
    /// eye as it is at the strip, as long as the whole tree fits.
    pub fn true_to_the_eye(width_px: u32, height_px: u32, lane: Lane, px_a_radian: f32) -> Self {
        let scene = Self::scene_height_for(height_px);
        let scale = px_a_radian.max(1.0) / (TREE_AHEAD_FT + EYE_BEHIND_BEAM_FT);
        Self::with_scale(width_px, height_px, scene, lane, scale)
    }

    /// The view in a window, with the usual share for the scene.
    pub fn of_window(width_px: u32, height_px: u32, lane: Lane) -> Self {
        Self::new(width_px, height_px, Self::scene_height_for(height_px), lane)
    }

    /// The scene's usual height in a window: the upper 25/36 (500 of 720).
    pub fn scene_height_for(height_px: u32) -> u32 {
        ((f64::from(height_px) * 25.0 / 36.0).round() as u32).max(1)
    }

    /// Width of the window, px.
    pub fn width_px(&self) -> u32 {
        self.width_px as u32
    }

    /// Height of the scene, px.
    pub fn scene_height_px(&self) -> u32 {
        self.scene_height_px as u32
    }

    /// The lane the driver sits in.
    pub fn lane(&self) -> Lane {
        self.lane
    }

    /// Where lines straight ahead meet, px.
    pub fn vanishing_point(&self) -> (f32, f32) {
        (self.vanish_x_px, self.horizon_px)
    }

    /// Pixels per radian of looking aside, near the vanishing point.
    pub fn focal_px(&self) -> f32 {
        self.focal_px
    }

    /// The eye's place across the strip, ft to the right of the centre line.
    pub fn eye_x_ft(&self) -> f32 {
        lane_x_ft(self.lane)
    }

    /// Pixels per foot, across or up, at `z_ft` ahead of the stage beam. Things at the eye or
    /// behind it count as a tenth of a foot ahead of it.
    pub fn scale_at(&self, z_ft: f32) -> f32 {
        self.focal_px / (z_ft + EYE_BEHIND_BEAM_FT).max(0.1)
    }

    /// The window pixel of a point of the strip.
    pub fn project(&self, x_ft: f32, y_ft: f32, z_ft: f32) -> (f32, f32) {
        let scale = self.scale_at(z_ft);
        (
            self.vanish_x_px + (x_ft - self.eye_x_ft()) * scale,
            self.horizon_px + (EYE_HEIGHT_FT - y_ft) * scale,
        )
    }

    /// How far ahead of the stage beam the ground begins at the scene's lower edge, ft.
    #[cfg(test)]
    pub fn first_visible_ground_ft(&self) -> f32 {
        let drop_px = (self.scene_height_px - self.horizon_px).max(1e-3);
        EYE_HEIGHT_FT * self.focal_px / drop_px - EYE_BEHIND_BEAM_FT
    }
}

/// Middle of a lane, ft to the right of the centre line.
pub fn lane_x_ft(lane: Lane) -> f32 {
    match lane {
        Lane::Left => -LANE_CENTRE_FT,
        Lane::Right => LANE_CENTRE_FT,
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    const USUAL: [(u32, u32); 5] =
        [(640, 360), (1280, 720), (1920, 1080), (2560, 1440), (3840, 2160)];
    const ODD: [(u32, u32); 5] = [(1024, 640), (900, 900), (600, 1200), (2560, 1080), (800, 600)];

    #[test]
    fn lines_straight_ahead_meet_in_the_vanishing_point() {
        for lane in Lane::BOTH {
            let view = View::of_window(1280, 720, lane);
            let (vx, vy) = view.vanishing_point();
            for (x, y) in [(-20.0, 0.0), (9.0, 0.0), (0.0, 16.0)] {
                let (px, py) = view.project(x, y, 1e7);
                assert!((px - vx).abs() < 0.01 && (py - vy).abs() < 0.01);
            }
        }
    }

    #[test]
    fn what_is_upright_stays_upright_and_to_scale() {
        let view = View::of_window(1280, 720, Lane::Left);
        for (x, z) in [(0.0, 41.0), (-30.0, 200.0), (25.0, 90.0)] {
            let (foot_x, foot_y) = view.project(x, 0.0, z);
            let (top_x, top_y) = view.project(x, 10.0, z);
            assert_eq!(foot_x, top_x);
            assert!((foot_y - top_y - 10.0 * view.scale_at(z)).abs() < 0.01);
        }
    }

    #[test]
    fn the_tree_fills_half_the_window_and_stands_towards_the_other_lane() {
        for (width, height) in USUAL {
            for (lane, low, high) in [(Lane::Left, 0.58, 0.62), (Lane::Right, 0.38, 0.42)] {
                let view = View::of_window(width, height, lane);
                let (x, foot) = view.project(0.0, 0.0, TREE_AHEAD_FT);
                let (_, top) = view.project(0.0, TREE_TOP_FT, TREE_AHEAD_FT);
                let share = (foot - top) / height as f32;
                assert!((0.45..=0.60).contains(&share), "{width}x{height}: {share}");
                assert!((low..=high).contains(&(x / width as f32)));
                assert!(top > 0.0 && foot < view.scene_height_px() as f32);
            }
        }
    }

    #[test]
    fn odd_windows_keep_tree_and_vanishing_point_in_the_picture() {
        for (width, height) in ODD {
            for lane in Lane::BOTH {
                let view = View::of_window(width, height, lane);
                let (vx, _) = view.vanishing_point();
                let (_, foot) = view.project(0.0, 0.0, TREE_AHEAD_FT);
                let (_, top) = view.project(0.0, TREE_TOP_FT, TREE_AHEAD_FT);
                assert!((0.0..=width as f32).contains(&vx), "{width}x{height}: {vx}");
                assert!(top > 0.0 && foot < view.scene_height_px() as f32);
            }
        }
    }

    #[test]
    fn the_two_lanes_see_mirror_images() {
        let left = View::of_window(1280, 720, Lane::Left);
        let right = View::of_window(1280, 720, Lane::Right);
        for (x, y, z) in [(0.0, 7.0, 41.0), (9.0, 0.0, 60.0), (-22.0, 3.0, 300.0)] {
            let (lx, ly) = left.project(x, y, z);
            let (rx, ry) = right.project(-x, y, z);
            assert!((lx + rx - 1280.0).abs() < 0.01 && (ly - ry).abs() < 0.01);
        }
    }

    #[test]
    fn the_visible_ground_begins_where_the_scene_ends() {
        let view = View::of_window(1280, 720, Lane::Left);
        let z = view.first_visible_ground_ft();
        assert!((23.0..27.0).contains(&z), "{z} ft ahead of the beam");
        let (_, py) = view.project(-9.0, 0.0, z);
        assert!((py - 500.0).abs() < 0.01);
    }

    #[test]
    fn on_a_known_screen_the_tree_has_the_angle_it_has_at_the_strip() {
        // 94 in at 47.5 ft; a radian has 2,349 px on a screen of 24 in seen from 65 cm.
        let view = View::true_to_the_eye(1920, 1080, Lane::Left, 2349.0);
        let (_, foot) = view.project(0.0, 0.0, TREE_AHEAD_FT);
        let (_, top) = view.project(0.0, TOP_LAMP_FT, TREE_AHEAD_FT);
        assert!(((foot - top) / 2349.0 - TOP_LAMP_FT / 47.5).abs() < 1e-4);
        // Where it would not fit it is as large as fits.
        let near = View::true_to_the_eye(640, 360, Lane::Left, 1e6);
        let (_, top) = near.project(0.0, TREE_TOP_FT, TREE_AHEAD_FT);
        let (_, foot) = near.project(0.0, 0.0, TREE_AHEAD_FT);
        assert!(top > 0.0 && foot < near.scene_height_px() as f32);
    }

    #[test]
    fn no_size_is_too_small() {
        for (width, height, scene) in [(0, 0, 0), (1, 1, 1), (3, 900, 2), (900, 3, 900)] {
            let view = View::new(width, height, scene, Lane::Right);
            let (px, py) = view.project(0.0, 0.0, -100.0);
            assert!(px.is_finite() && py.is_finite() && view.focal_px() > 0.0);
        }
    }
}
