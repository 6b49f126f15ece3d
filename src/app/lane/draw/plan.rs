//! Where the parts of the scene go.
//!
//! Owns the layers and the layout of one window. Refuses painting and moving.

use super::place::Place;
use crate::app::garage::Garage;
use crate::app::lane::Session;
use crate::app::lane::paint::{BeamPanel, BeamSetup, SideWindow};
use crate::app::lane::view::{RectPx, View};
use crate::tree::{Lamp, Lane};
use bevy::prelude::*;

/// Layers from back to front.
pub mod layer {
    pub const BACKDROP: f32 = 0.0;
    pub const OTHER_CAR: f32 = 1.0;
    pub const TREE: f32 = 2.0;
    pub const HALO: f32 = 3.0;
    pub const LAMP_DARK: f32 = 4.0;
    pub const LAMP_LIT: f32 = 5.0;
    pub const SIDE_WINDOW: f32 = 6.0;
    pub const SIDE_CAR: f32 = 6.5;
    pub const PANEL: f32 = 7.0;
    pub const TYRE: f32 = 8.0;
    pub const GROUND: f32 = 9.0;
    pub const ROLL: f32 = 10.0;
    pub const BEAM: f32 = 11.0;
    pub const BAR: f32 = 12.0;
    pub const TEXT: f32 = 20.0;
}

/// Ambers of the tree in use.
pub const AMBERS: u8 = 3;

/// Everything that goes when the window changes.
#[derive(Component)]
pub struct SceneItem;

/// What the scene was built for, and where its moving parts go.
#[derive(Resource, Debug, Clone)]
pub struct Scene {
    pub place: Place,
    pub lane: Lane,
    pub view: View,
    pub beams: BeamPanel,
    /// Upper left corner of the beam panel.
    pub beams_at: (f32, f32),
    pub side: SideWindow,
    pub side_at: (f32, f32),
    /// Width the other car's rear is painted in, px.
    pub rear_px: u32,
    pub tyre_in: f64,
    /// Pixels of a radian to the driver's eye, where that is known.
    pub px_a_radian: Option<f32>,
}

impl Scene {
    /// The area of the time bar.
    pub fn bar_area(&self) -> RectPx {
        let p = &self.place;
        let top = self.view.scene_height_px() as f32 + p.at720(134.0);
        RectPx::new(
            self.verdict_x(),
            top,
            p.width as f32 - self.verdict_x() - p.at720(40.0),
            p.at720(26.0),
        )
    }

    /// Left edge of the verdict.
    pub fn verdict_x(&self) -> f32 {
        let p = &self.place;
        (p.width as f32 * 0.4375).max(self.beams_at.0 + self.beams.size_px().0 + p.at720(30.0))
    }
}

/// The lamps of one lane, top to bottom.
pub fn lamps_of_lane() -> impl Iterator<Item = Lamp> {
    [Lamp::PreStage, Lamp::Stage]
        .into_iter()
        .chain((0..AMBERS).map(Lamp::Amber))
        .chain([Lamp::Green, Lamp::Red])
}

/// Lays the scene of a window out.
pub fn plan(place: Place, session: &Session, garage: &Garage, px_a_radian: Option<f32>) -> Scene {
    let view = match px_a_radian {
        Some(px) => View::true_to_the_eye(place.width, place.height, session.lane, px),
        None => View::of_window(place.width, place.height, session.lane),
    };
    let scene_bottom = view.scene_height_px() as f32;
    let line = garage.model().beams();
    let tyre_in = garage.model().tyre_diameter_in().value;
    let setup = BeamSetup {
        tyre_diameter: crate::units::Inches(tyre_in),
        beam_height: line.beam_height(),
        pre_stage_to_stage: line.prestage_to_stage(),
        stage_to_guard: line.stage_to_guard(),
    };
    let beams_width = place.at720(470.0).min(place.width as f32 * 0.38);
    let beams = BeamPanel::new(beams_width as u32, place.at720(124.0) as u32, setup);
    let side = SideWindow::new(place.at720(236.0) as u32, place.at720(92.0) as u32);
    let side_y = scene_bottom - place.at720(92.0 + 24.0);
    let side_x = match session.lane {
        Lane::Left => place.width as f32 - place.at720(236.0 + 40.0),
        Lane::Right => place.at720(40.0),
    };
    let rear_px = (view.scale_at(45.0) * crate::app::lane::paint::REAR_WIDTH_FT).round() as u32;
    Scene {
        place,
        lane: session.lane,
        beams,
        beams_at: (place.at720(40.0), scene_bottom + place.at720(40.0)),
        side,
        side_at: (side_x.round(), side_y.round()),
        rear_px: rear_px.max(8),
        view,
        tyre_in,
        px_a_radian,
    }
}
