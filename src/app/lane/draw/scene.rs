//! Paints and places everything that stands still, once per window size.
//!
//! Owns building and removing the scene. Refuses to move or light anything.

use super::cars::{OtherCar, SideCar};
use super::lamps::LampSprite;
use super::panel::{BarPart, BeamDot, RollBar, TyreSprite};
use super::place::{Place, texture};
use super::texts;
use crate::app::garage::Garage;
use crate::app::lane::Session;
use crate::app::lane::paint::{
    Beam, BeamPanel, BeamSetup, LampKind, SideWindow, TreeLayout, backdrop, halo_sprite,
    lamp_sprite, other_car_rear, other_car_side, panel, tree_housing,
};
use crate::app::lane::view::{RectPx, View};
use crate::app::lane::words::{lamp_word, lane_word};
use crate::app::theme::{Fonts, color, palette};
use crate::app::trace_file::TraceFile;
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
    tyre_in: f64,
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

/// The one camera.
pub fn spawn_camera(mut commands: Commands) {
    commands.spawn((Camera2d, Msaa::Off));
}

/// Takes the lane off the screen while another screen is up.
pub fn remove_scene(mut commands: Commands, items: Query<Entity, With<SceneItem>>) {
    items.iter().for_each(|item| commands.entity(item).despawn());
    commands.remove_resource::<Scene>();
}

/// Builds the scene when there is none or the window, the lane or the tyre changed.
pub fn build_scene(
    mut commands: Commands,
    windows: Query<&Window>,
    scene: Option<Res<Scene>>,
    items: Query<Entity, With<SceneItem>>,
    session: Res<Session>,
    garage: Res<Garage>,
    fonts: Res<Fonts>,
    mut images: ResMut<Assets<Image>>,
    mut trace: ResMut<TraceFile>,
    mut last_seen: Local<Option<Place>>,
) {
    let Ok(window) = windows.single() else { return };
    let place = Place::of(window);
    let tyre_in = garage.model().tyre_diameter_in().value;
    let fits = scene
        .as_ref()
        .is_some_and(|s| s.place == place && s.lane == session.lane && s.tyre_in == tyre_in);
    // While a window is being dragged its size changes every update: paint when it rests.
    let rests = scene.is_none() || *last_seen == Some(place);
    *last_seen = Some(place);
    if fits || !rests {
        return;
    }
    items.iter().for_each(|item| commands.entity(item).despawn());
    let scene = plan(place, &session, &garage);
    let mut painter = Painter { commands: &mut commands, images: &mut images, scene: &scene };
    painter.stage();
    let layout = TreeLayout::new(&scene.view, AMBERS);
    painter.tree(&layout);
    painter.other_car();
    painter.beams();
    texts::spawn_texts(&mut commands, &scene, &layout, &fonts);
    trace.event(format_args!("you {}", lane_word(scene.lane)));
    for lane in Lane::BOTH {
        for lamp in lamps_of_lane() {
            let Some(spot) = layout.lamp(lane, lamp) else { continue };
            let g = spot.glass();
            trace.event(format_args!(
                "lamp-rect {} {} {},{},{},{}",
                lane_word(lane),
                lamp_word(lamp),
                g.x.round(),
                g.y.round(),
                g.width.round(),
                g.height.round()
            ));
        }
    }
    commands.insert_resource(scene);
}

/// The lamps of one lane, top to bottom.
pub fn lamps_of_lane() -> impl Iterator<Item = Lamp> {
    [Lamp::PreStage, Lamp::Stage]
        .into_iter()
        .chain((0..AMBERS).map(Lamp::Amber))
        .chain([Lamp::Green, Lamp::Red])
}

fn plan(place: Place, session: &Session, garage: &Garage) -> Scene {
    let view = View::of_window(place.width, place.height, session.lane);
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
    }
}

struct Painter<'a, 'w, 's> {
    commands: &'a mut Commands<'w, 's>,
    images: &'a mut Assets<Image>,
    scene: &'a Scene,
}

impl Painter<'_, '_, '_> {
    fn stage(&mut self) {
        let (scene, place) = (self.scene, self.scene.place);
        let picture = texture(self.images, backdrop(&scene.view));
        let rect = RectPx::new(0.0, 0.0, place.width as f32, scene.view.scene_height_px() as f32);
        self.still(picture, rect, layer::BACKDROP);
        let below = place.height.saturating_sub(scene.view.scene_height_px()).max(1);
        let picture = texture(self.images, panel(place.width, below));
        let rect = RectPx::new(0.0, rect.bottom(), place.width as f32, below as f32);
        self.still(picture, rect, layer::PANEL);
    }

    fn tree(&mut self, layout: &TreeLayout) {
        let housing = tree_housing(layout);
        let (w, h) = (housing.pixmap.width() as f32, housing.pixmap.height() as f32);
        let rect = RectPx::new(housing.x_px, housing.y_px, w, h);
        let picture = texture(self.images, housing.pixmap);
        self.still(picture, rect, layer::TREE);
        let large = layout.lamp(Lane::Left, Lamp::Green).map_or(8.0, |spot| spot.radius_px);
        let halo = texture(self.images, halo_sprite(large));
        for lane in Lane::BOTH {
            for lamp in lamps_of_lane() {
                let Some(spot) = layout.lamp(lane, lamp) else { continue };
                for lit in [false, true] {
                    let pixmap = lamp_sprite(spot.kind, lit, spot.radius_px);
                    let size = (pixmap.width() as f32, pixmap.height() as f32);
                    let rect = RectPx::around(spot.centre, size.0, size.1);
                    let picture = texture(self.images, pixmap);
                    let z = if lit { layer::LAMP_LIT } else { layer::LAMP_DARK };
                    let item = self.still(picture, rect, z);
                    if lit {
                        let tint = Color::WHITE;
                        self.commands.entity(item).insert(LampSprite {
                            lane,
                            lamp,
                            tint,
                            alpha: 1.0,
                        });
                    }
                }
                let tint = color(spot.kind.halo());
                let alpha = spot.kind.halo_alpha();
                let item = self.still(halo.clone(), spot.halo(), layer::HALO);
                self.commands.entity(item).insert(LampSprite { lane, lamp, tint, alpha });
                if spot.kind != LampKind::White {
                    let item = self.still(halo.clone(), layout.ground_glow(), layer::HALO);
                    let alpha = 0.22;
                    self.commands.entity(item).insert(LampSprite { lane, lamp, tint, alpha });
                }
            }
        }
    }

    fn other_car(&mut self) {
        let scene = self.scene;
        let rear = texture(self.images, other_car_rear(scene.rear_px, false));
        let item = self.still(rear, RectPx::new(0.0, 0.0, 1.0, 1.0), layer::OTHER_CAR);
        self.commands.entity(item).insert((OtherCar, Visibility::Hidden));
        let (x, y) = scene.side_at;
        let pixmap = scene.side.backdrop();
        let rect = RectPx::new(x, y, pixmap.width() as f32, pixmap.height() as f32);
        let picture = texture(self.images, pixmap);
        let item = self.still(picture, rect, layer::SIDE_WINDOW);
        self.commands.entity(item).insert((SideCar { is_window: true }, Visibility::Hidden));
        let picture = texture(self.images, other_car_side(scene.side.car_width_px()));
        let item = self.still(picture, rect, layer::SIDE_CAR);
        self.commands.entity(item).insert((SideCar { is_window: false }, Visibility::Hidden));
    }

    fn beams(&mut self) {
        let (scene, (x, y)) = (self.scene, self.scene.beams_at);
        let (w, h) = scene.beams.size_px();
        let all = RectPx::new(x, y, w, h);
        let tyre = texture(self.images, scene.beams.tyre_sprite());
        let item = self.still(tyre, all, layer::TYRE);
        self.commands.entity(item).insert(TyreSprite);
        let ground = texture(self.images, scene.beams.static_layer());
        self.still(ground, all, layer::GROUND);
        let bar = texture(self.images, scene.beams.bar_sprite());
        let item = self.still(bar, all, layer::ROLL);
        self.commands.entity(item).insert((RollBar, Visibility::Hidden));
        for beam in Beam::ALL {
            for lit in [false, true] {
                let pixmap = scene.beams.beam_dot(lit);
                let size = (pixmap.width() as f32, pixmap.height() as f32);
                let (bx, by) = scene.beams.beam(beam);
                let rect = RectPx::around((x + bx, y + by), size.0, size.1);
                let picture = texture(self.images, pixmap);
                let item = self.still(picture, rect, layer::BEAM + if lit { 0.5 } else { 0.0 });
                if lit {
                    self.commands.entity(item).insert((BeamDot(beam), Visibility::Hidden));
                }
            }
        }
        for (part, rgb) in [
            (BarPart::Driver, palette::DRIVER),
            (BarPart::Car, palette::CAR),
            (BarPart::Amber, palette::AMBER_LIT),
            (BarPart::Green, palette::CLEAR),
        ] {
            let sprite = Sprite::from_color(color(rgb), Vec2::ONE);
            let at = Transform::from_xyz(0.0, 0.0, layer::BAR + f32::from(part as u8) * 0.1);
            self.commands.spawn((SceneItem, sprite, at, part, Visibility::Hidden));
        }
    }

    fn still(&mut self, image: Handle<Image>, rect: RectPx, z: f32) -> Entity {
        let place = &self.scene.place;
        let sprite = Sprite { image, custom_size: Some(place.size(rect)), ..default() };
        let at = Transform::from_translation(place.middle(rect, z));
        self.commands.spawn((SceneItem, sprite, at)).id()
    }
}
