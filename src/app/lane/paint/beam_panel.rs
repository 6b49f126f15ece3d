//! The own front tyre over the beams, from the side and to scale at the contact patch.
//!
//! Owns the geometry of that drawing (its pictures are painted next door). Refuses text, rolling
//! and verdicts: it is told the depth and says where things fall.
//!
//! The car drives to the right; the stage beam is at 0 in, pre-stage before it (left), guard
//! beyond it (right). Depth is how far the tyre's leading edge, at beam height, is past the stage
//! beam; negative before it.

use crate::app::lane::view::RectPx;
use crate::units::Inches;

/// Ground shown on either side of the outer beams, in. Chosen, because the tyre must be seen to
/// come and go.
const ROOM_BEFORE_IN: f32 = 10.0;
const ROOM_BEYOND_IN: f32 = 3.5;
/// Ground line from the picture's lower edge, share of its height.
const GROUND_ABOVE_EDGE: f32 = 0.06;

/// What stands on the ground there. The numbers belong to the rules; this drawing takes them as
/// given.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct BeamSetup {
    /// Diameter of the front tyre, > 0.
    pub tyre_diameter: Inches,
    /// Height of the beams above the ground.
    pub beam_height: Inches,
    /// From the pre-stage to the stage beam.
    pub pre_stage_to_stage: Inches,
    /// From the stage to the guard beam.
    pub stage_to_guard: Inches,
}

/// One of the three beams.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash)]
pub enum Beam {
    /// The first beam the tyre meets.
    PreStage,
    /// The beam the clock hangs on.
    Stage,
    /// The beam beyond.
    Guard,
}

impl Beam {
    /// All three in the order the tyre meets them.
    pub const ALL: [Beam; 3] = [Beam::PreStage, Beam::Stage, Beam::Guard];
}

/// Which part of a picture to show, and where: both in pixels, same size.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Clipped {
    /// The part of the picture.
    pub source: RectPx,
    /// Its place in the panel, from the panel's upper left corner.
    pub dest: RectPx,
}

/// The drawing in one panel; all pixels count from the panel's upper left corner.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct BeamPanel {
    width_px: f32,
    height_px: f32,
    px_per_in: f32,
    stage_x: f32,
    ground_y: f32,
    tyre_in: f32,
    beam_in: f32,
    pre_stage_in: f32,
    guard_in: f32,
}

impl BeamPanel {
    /// The drawing scaled so that all three beams, with room on both sides, fill the width.
    /// Impossible lengths are pulled to the nearest possible ones.
    pub fn new(width_px: u32, height_px: u32, setup: BeamSetup) -> Self {
        let positive = |length: Inches, low: f32, high: f32| {
            let value = length.0 as f32;
            if value.is_finite() { value.clamp(low, high) } else { low }
        };
        let pre_stage_in = positive(setup.pre_stage_to_stage, 0.1, 120.0);
        let guard_in = positive(setup.stage_to_guard, 0.1, 120.0);
        let tyre_in = positive(setup.tyre_diameter, 4.0, 120.0);
        let width = width_px.max(1) as f32;
        let height = height_px.max(1) as f32;
        let px_per_in = width / (ROOM_BEFORE_IN + pre_stage_in + guard_in + ROOM_BEYOND_IN);
        Self {
            width_px: width,
            height_px: height,
            px_per_in,
            stage_x: (ROOM_BEFORE_IN + pre_stage_in) * px_per_in,
            ground_y: (height * (1.0 - GROUND_ABOVE_EDGE)).round(),
            tyre_in,
            beam_in: positive(setup.beam_height, 0.0, tyre_in / 2.0),
            pre_stage_in,
            guard_in,
        }
    }

    /// Size of the panel: width and height, px.
    pub fn size_px(&self) -> (f32, f32) {
        (self.width_px, self.height_px)
    }

    /// Diameter of the tyre, px.
    pub fn tyre_px(&self) -> f32 {
        self.tyre_in * self.px_per_in
    }

    /// Pixels per inch.
    pub fn px_per_in(&self) -> f32 {
        self.px_per_in
    }

    /// The ground line.
    pub fn ground_y(&self) -> f32 {
        self.ground_y
    }

    /// The tyre's chord at beam height, in: `2·√(h·(D − h))` (rigid wheel).
    pub fn chord_in(&self) -> f32 {
        2.0 * (self.beam_in * (self.tyre_in - self.beam_in)).max(0.0).sqrt()
    }

    /// Where a beam crosses the picture. A label stands well centred under (or over) it.
    pub fn beam(&self, beam: Beam) -> (f32, f32) {
        let at_in = match beam {
            Beam::PreStage => -self.pre_stage_in,
            Beam::Stage => 0.0,
            Beam::Guard => self.guard_in,
        };
        (self.stage_x + at_in * self.px_per_in, self.ground_y - self.beam_in * self.px_per_in)
    }

    /// Where the label of a beam is anchored, text centred below this point.
    pub fn label_anchor(&self, beam: Beam) -> (f32, f32) {
        (self.beam(beam).0, self.height_px)
    }

    /// The middle of the tyre at a depth.
    pub fn tyre_centre(&self, depth: Inches) -> (f32, f32) {
        let behind_in = self.chord_in() / 2.0;
        (
            self.stage_x + (depth.0 as f32 - behind_in) * self.px_per_in,
            self.ground_y - self.tyre_in / 2.0 * self.px_per_in,
        )
    }

    /// Which part of the tyre's picture ([`BeamPanel::tyre_sprite`]) shows at a depth and where; `None` when the tyre is
    /// out of the picture. Never reaches beyond the panel.
    pub fn tyre_at(&self, depth: Inches) -> Option<Clipped> {
        let (width, height) = self.tyre_size();
        let (x, _) = self.tyre_centre(depth);
        let left = (x - width / 2.0).clamp(-1e7, 1e7);
        let shown_from = left.max(0.0);
        let shown = (left + width).min(self.width_px) - shown_from;
        (shown > 0.0).then(|| Clipped {
            source: RectPx::new(shown_from - left, 0.0, shown, height),
            dest: RectPx::new(shown_from, self.ground_y - height, shown, height),
        })
    }

    /// The whole chord at a depth, from its trailing to its leading end, as x.
    pub fn chord_at(&self, depth: Inches) -> (f32, f32) {
        let lead = self.stage_x + depth.0 as f32 * self.px_per_in;
        (lead - self.chord_in() * self.px_per_in, lead)
    }

    /// What is left to roll at a depth, as x from and to: the chord's trailing end to the stage
    /// beam, or, where the guard beam is met first, the leading end to the guard beam. `None`
    /// before the stage beam or when nothing is left. Drawn at beam height in the car's colour.
    pub fn left_to_roll(&self, depth: Inches) -> Option<(f32, f32)> {
        let (trail, lead) = self.chord_at(depth);
        let (from, to) = if self.chord_in() <= self.guard_in {
            (trail, self.stage_x)
        } else {
            (lead, self.beam(Beam::Guard).0)
        };
        (depth.0 >= 0.0 && to > from).then_some((from, to))
    }

    /// Thickness of the bar that shows what is left to roll.
    pub fn bar_px(&self) -> f32 {
        (0.22 * self.px_per_in).clamp(1.5, 10.0)
    }

    /// Size of the tyre's picture, whole px: no taller than the ground line allows.
    pub(super) fn tyre_size(&self) -> (f32, f32) {
        let diameter = self.tyre_in * self.px_per_in;
        let height = diameter.min(self.ground_y).ceil().max(1.0);
        // At `height` above the ground the tyre is this wide (all of it once above the axle).
        let radius = diameter / 2.0;
        let above = height.min(radius);
        let half = (radius * radius - (radius - above) * (radius - above)).max(0.0).sqrt();
        (2.0 * (half.ceil() + 2.0), height)
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    fn usual() -> BeamPanel {
        BeamPanel::new(470, 130, setup(25.0, 1.625))
    }

    fn setup(tyre: f64, beam: f64) -> BeamSetup {
        BeamSetup {
            tyre_diameter: Inches(tyre),
            beam_height: Inches(beam),
            pre_stage_to_stage: Inches(7.0),
            stage_to_guard: Inches(13.375),
        }
    }

    #[test]
    fn beams_keep_their_distances_to_scale() {
        let panel = usual();
        let x = |beam| panel.beam(beam).0;
        let near = |a: f32, b: f32| assert!((a - b).abs() < 0.01, "{a} against {b}");
        near(x(Beam::Stage) - x(Beam::PreStage), 7.0 * panel.px_per_in());
        near(x(Beam::Guard) - x(Beam::Stage), 13.375 * panel.px_per_in());
        near(panel.ground_y() - panel.beam(Beam::Stage).1, 1.625 * panel.px_per_in());
        near(panel.chord_in(), 12.33);
    }

    #[test]
    fn the_tyre_touches_the_ground_and_its_chord_meets_the_beam_at_depth_zero() {
        let panel = usual();
        let (x, y) = panel.tyre_centre(Inches(0.0));
        let radius = 12.5 * panel.px_per_in();
        assert!((panel.ground_y() - y - radius).abs() < 0.01);
        // The point of the circle at beam height, ahead of the axle, is the stage beam itself.
        let (beam_x, beam_y) = panel.beam(Beam::Stage);
        assert!(((beam_x - x).hypot(beam_y - y) - radius).abs() < 0.01);
    }

    #[test]
    fn what_is_left_to_roll_is_the_chord_less_the_depth() {
        let panel = usual();
        for depth in [0.0, 1.4, 6.0] {
            let (from, to) = panel.left_to_roll(Inches(depth)).expect("something is left");
            let left_in = (to - from) / panel.px_per_in();
            assert!((left_in - (panel.chord_in() - depth as f32)).abs() < 0.01);
        }
        assert_eq!(panel.left_to_roll(Inches(-0.5)), None);
        assert_eq!(panel.left_to_roll(Inches(12.5)), None);
        // A long chord meets the guard beam first: 28 in tyre, 1.75 in beam, chord 13.56 in.
        let long = BeamPanel::new(470, 130, setup(28.0, 1.75));
        let (from, to) = long.left_to_roll(Inches(1.0)).expect("12.375 in are left");
        assert!(((to - from) / long.px_per_in() - 12.375).abs() < 0.01);
    }

    #[test]
    fn the_tyre_never_leaves_the_panel_and_its_picture_is_never_overrun() {
        let panel = usual();
        let frame = RectPx::new(0.0, 0.0, 470.0, 130.0);
        let whole = RectPx::new(0.0, 0.0, panel.tyre_size().0, panel.tyre_size().1);
        for step in -400..400 {
            if let Some(clip) = panel.tyre_at(Inches(f64::from(step) * 0.1)) {
                assert!(frame.holds(clip.dest), "{clip:?}");
                let s = clip.source;
                assert!(s.x >= -0.01 && s.right() <= whole.width + 0.01, "{clip:?}");
                assert!((s.width - clip.dest.width).abs() < 0.01);
                let middle = clip.dest.x - s.x + whole.width / 2.0;
                let centre = panel.tyre_centre(Inches(f64::from(step) * 0.1)).0;
                assert!((middle - centre).abs() < 0.01);
            }
        }
        assert_eq!(panel.tyre_at(Inches(200.0)), None);
        assert_eq!(panel.tyre_at(Inches(-200.0)), None);
    }
}
