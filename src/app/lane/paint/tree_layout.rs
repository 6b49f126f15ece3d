//! Where every lamp of the tree falls in the window.
//!
//! Owns the tree's proportions: two columns, one a lane, top to bottom pre-stage, stage, one to
//! five ambers, green, red. Refuses drawing and time.
//!
//! Proportions are chosen, because every lamp must be told apart at a glance: the top lamps stand
//! at the published 94 in (with five ambers 6.6 in higher, so that the red stays off the ground).

use super::lamp::{HALO_RADII, LampKind};
use crate::app::lane::view::{RectPx, TOP_LAMP_FT, TREE_AHEAD_FT, TREE_TOP_FT, View};
use crate::tree::{Lamp, Lane};

/// Most ambers a lane can carry.
const MAX_AMBERS: u8 = 5;
/// Middle of a column from the middle of the tree, ft.
const COLUMN_FT: f32 = 0.76;
/// Half the housing's width, ft.
const HALF_HOUSING_FT: f32 = 1.46;
/// From pre-stage down to stage, ft.
const STAGE_BELOW_FT: f32 = 0.58;
/// From stage down to the first amber, ft.
const AMBER_BELOW_FT: f32 = 0.86;
/// From the lowest lamp down to the housing's rim, ft.
const RIM_BELOW_FT: f32 = 0.60;
/// From one large lamp to the next, by the number of ambers (index 0 unused), ft.
const PITCH_FT: [f32; 6] = [1.08, 1.08, 1.08, 1.08, 1.04, 0.99];
/// Radius of a large lamp, share of the pitch.
const RADIUS_OF_PITCH: f32 = 0.425;
/// Radius of one small bulb, ft.
const BULB_FT: f32 = 0.165;

/// One lamp in the window.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct LampSpot {
    /// What colour it is, and whether it is a pair of bulbs.
    pub kind: LampKind,
    /// Middle, whole px, so that a picture with even sides falls on the pixel grid.
    pub centre: (f32, f32),
    /// Radius of the lens, or of one bulb of a pair, px.
    pub radius_px: f32,
}

impl LampSpot {
    /// The glass in the window, both bulbs of a pair together.
    pub fn glass(self) -> RectPx {
        let half_width = self.radius_px * self.kind.half_width_radii();
        RectPx::around(self.centre, 2.0 * half_width, 2.0 * self.radius_px)
    }

    /// Where the halo goes while the lamp is lit.
    pub fn halo(self) -> RectPx {
        let side = 2.0 * HALO_RADII * self.radius_px;
        let width = side + 2.0 * self.radius_px * (self.kind.half_width_radii() - 1.0);
        RectPx::around(self.centre, width, side)
    }
}

/// The tree in one view.
#[derive(Debug, Clone, PartialEq)]
pub struct TreeLayout {
    own: Lane,
    ambers: u8,
    px_per_ft: f32,
    housing: RectPx,
    foot: (f32, f32),
    /// By lane: pre-stage, stage, ambers, green, red.
    spots: [Vec<LampSpot>; 2],
}

impl TreeLayout {
    /// The tree with 1 to 5 ambers a lane (other numbers are clamped).
    pub fn new(view: &View, ambers: u8) -> Self {
        let ambers = ambers.clamp(1, MAX_AMBERS);
        let px_per_ft = view.scale_at(TREE_AHEAD_FT);
        let foot = view.project(0.0, 0.0, TREE_AHEAD_FT);
        let at_height = |ft: f32| foot.1 - ft * px_per_ft;

        let lift_ft = if ambers == MAX_AMBERS { 0.55 } else { 0.0 };
        let pitch_ft = PITCH_FT[usize::from(ambers)];
        let top_ft = TOP_LAMP_FT + lift_ft;
        let first_amber_ft = top_ft - STAGE_BELOW_FT - AMBER_BELOW_FT;
        let red_ft = first_amber_ft - f32::from(ambers + 1) * pitch_ft;

        let spot = |lane: Lane, kind: LampKind, height_ft: f32, radius_ft: f32| {
            let side = if lane == Lane::Left { -1.0 } else { 1.0 };
            LampSpot {
                kind,
                centre: (
                    (foot.0 + side * COLUMN_FT * px_per_ft).round(),
                    at_height(height_ft).round(),
                ),
                radius_px: (radius_ft * px_per_ft).max(0.5),
            }
        };
        let column = |lane: Lane| {
            let large = RADIUS_OF_PITCH * pitch_ft;
            let mut lamps = vec![
                spot(lane, LampKind::White, top_ft, BULB_FT),
                spot(lane, LampKind::White, top_ft - STAGE_BELOW_FT, BULB_FT),
            ];
            for row in 0..ambers {
                let height_ft = first_amber_ft - f32::from(row) * pitch_ft;
                lamps.push(spot(lane, LampKind::Amber, height_ft, large));
            }
            lamps.push(spot(lane, LampKind::Green, red_ft + pitch_ft, large));
            lamps.push(spot(lane, LampKind::Red, red_ft, large));
            lamps
        };
        let rim_ft = TREE_TOP_FT - TOP_LAMP_FT;
        let (top, bottom) = (at_height(top_ft + rim_ft), at_height(red_ft - RIM_BELOW_FT));
        let half = HALF_HOUSING_FT * px_per_ft;
        Self {
            own: view.lane(),
            ambers,
            px_per_ft,
            housing: RectPx::new(foot.0 - half, top, 2.0 * half, bottom - top),
            foot,
            spots: [column(Lane::Left), column(Lane::Right)],
        }
    }

    /// The driver's lane: its column is the marked one.
    pub fn own(&self) -> Lane {
        self.own
    }

    /// Ambers a lane, 1 to 5.
    #[cfg(test)]
    pub fn ambers(&self) -> u8 {
        self.ambers
    }

    /// Pixels per foot at the tree.
    pub fn px_per_ft(&self) -> f32 {
        self.px_per_ft
    }

    /// The housing with all lamps inside, px.
    pub fn housing(&self) -> RectPx {
        self.housing
    }

    /// Where the mast meets the ground, px.
    pub fn foot(&self) -> (f32, f32) {
        self.foot
    }

    /// The ground around the foot on which a lit lamp may throw its glow, px.
    pub fn ground_glow(&self) -> RectPx {
        let (width, height) = (13.0 * self.px_per_ft, 2.0 * self.px_per_ft);
        RectPx::around((self.foot.0, self.foot.1 + 0.10 * height), width, height)
    }

    /// All lamps of one lane, top to bottom.
    pub fn lamps(&self, lane: Lane) -> &[LampSpot] {
        &self.spots[lane.index()]
    }

    /// One lamp; `None` for an amber this tree does not have.
    pub fn lamp(&self, lane: Lane, lamp: Lamp) -> Option<LampSpot> {
        let ambers = usize::from(self.ambers);
        let place = match lamp {
            Lamp::PreStage => 0,
            Lamp::Stage => 1,
            Lamp::Amber(row) if row < self.ambers => 2 + usize::from(row),
            Lamp::Amber(_) => return None,
            Lamp::Green => 2 + ambers,
            Lamp::Red => 3 + ambers,
        };
        self.spots[lane.index()].get(place).copied()
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    fn layouts() -> Vec<(u32, TreeLayout)> {
        let mut all = Vec::new();
        for (width, height) in [(640, 360), (1280, 720), (1920, 1080), (3840, 2160)] {
            for lane in Lane::BOTH {
                for ambers in 1..=5 {
                    let view = View::of_window(width, height, lane);
                    all.push((height, TreeLayout::new(&view, ambers)));
                }
            }
        }
        all
    }

    #[test]
    fn every_lamp_lies_inside_the_housing() {
        for (height, layout) in layouts() {
            for lane in Lane::BOTH {
                for spot in layout.lamps(lane) {
                    assert!(layout.housing().holds(spot.glass()), "{height}: {spot:?}");
                }
            }
        }
    }

    #[test]
    fn lamps_stand_in_the_order_of_the_trade_without_touching() {
        for (height, layout) in layouts() {
            for lane in Lane::BOTH {
                let lamps = layout.lamps(lane);
                assert_eq!(lamps.len(), usize::from(layout.ambers()) + 4);
                for pair in lamps.windows(2) {
                    assert!(pair[0].glass().bottom() < pair[1].glass().y, "{height}: {pair:?}");
                }
            }
            for (l, r) in layout.lamps(Lane::Left).iter().zip(layout.lamps(Lane::Right)) {
                assert!(l.glass().right() < r.glass().x);
                assert_eq!(l.centre.1, r.centre.1);
            }
        }
    }

    #[test]
    fn ambers_are_large_enough_to_see_at_every_number_of_them() {
        for (height, layout) in layouts() {
            let amber = layout.lamp(Lane::Left, Lamp::Amber(0)).expect("every tree has one");
            assert!(2.0 * amber.radius_px >= 38.0 * height as f32 / 720.0, "{height}: {amber:?}");
        }
    }

    #[test]
    fn the_housing_stays_off_the_ground_and_in_the_window() {
        for (height, layout) in layouts() {
            assert!(layout.housing().y > 0.0, "{height}, {} ambers", layout.ambers());
            assert!(layout.housing().bottom() < layout.foot().1 - 0.05 * layout.px_per_ft());
            let share = (layout.foot().1 - layout.housing().y) / height as f32;
            assert!((0.45..=0.60).contains(&share), "{share}");
        }
    }

    #[test]
    fn the_right_lane_sees_the_tree_mirrored_in_place() {
        let left = TreeLayout::new(&View::of_window(1280, 720, Lane::Left), 3);
        let right = TreeLayout::new(&View::of_window(1280, 720, Lane::Right), 3);
        for lane in Lane::BOTH {
            for (l, r) in left.lamps(lane).iter().zip(right.lamps(lane.other())) {
                assert!((l.centre.0 + r.centre.0 - 1280.0).abs() <= 1.0);
                assert_eq!(l.centre.1, r.centre.1);
            }
        }
        assert_eq!((left.own(), right.own()), (Lane::Left, Lane::Right));
    }

    #[test]
    fn a_lamp_is_found_by_name_or_not_there() {
        let layout = TreeLayout::new(&View::of_window(1280, 720, Lane::Left), 1);
        assert!(layout.lamp(Lane::Left, Lamp::Amber(0)).is_some());
        assert!(layout.lamp(Lane::Left, Lamp::Amber(1)).is_none());
        let green = layout.lamp(Lane::Right, Lamp::Green).expect("every tree has one");
        let red = layout.lamp(Lane::Right, Lamp::Red).expect("every tree has one");
        assert_eq!((green.kind, red.kind), (LampKind::Green, LampKind::Red));
        assert!(green.centre.1 < red.centre.1);
    }
}
