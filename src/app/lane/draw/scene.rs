//! Paints and places everything that stands still, once per window size.
//!
//! Owns building and removing the scene. Refuses to move or light anything.

use super::cars::{OtherCar, SideCar};
use super::lamps::LampSprite;
use super::panel::{BarPart, BeamDot, RollBar, TyreSprite};
use super::place::{Place, texture};
use super::plan::{AMBERS, Scene, SceneItem, lamps_of_lane, layer, plan};
use super::texts;
use crate::app::garage::Garage;
use crate::app::lane::Session;
use crate::app::lane::paint::{
    Beam, LampKind, TreeLayout, backdrop, halo_sprite, lamp_sprite, other_car_rear, other_car_side,
    panel, tree_housing,
};
use crate::app::lane::view::RectPx;
use crate::app::lane::words::{lamp_word, lane_word};
use crate::app::onset::ScreenPlace;
use crate::app::settings::InForce;
use crate::app::sight::Sight;
use crate::app::theme::{Fonts, color, palette};
use crate::app::trace_file::TraceFile;
use crate::tree::{Lamp, Lane};
use bevy::prelude::*;
use bevy::window::Monitor;

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
    (windows, monitors): (Query<&Window>, Query<&Monitor>),
    in_force: Res<InForce>,
    scene: Option<Res<Scene>>,
    items: Query<Entity, With<SceneItem>>,
    session: Res<Session>,
    garage: Res<Garage>,
    fonts: Res<Fonts>,
    mut images: ResMut<Assets<Image>>,
    mut trace: ResMut<TraceFile>,
    mut screen: ResMut<ScreenPlace>,
    mut last_seen: Local<Option<Place>>,
) {
    let Ok(window) = windows.single() else { return };
    let place = Place::of(window);
    let screens = monitors.iter().map(|m| (m.physical_width, m.physical_height));
    let screen_px = screens.max().filter(|(w, h)| *w > 0 && *h > 0);
    let screen_px = screen_px.unwrap_or((place.width, place.height));
    let px_a_radian = Sight::of(&in_force).map(|sight| sight.px_a_radian(screen_px));
    let tyre_in = garage.model().tyre_diameter_in().value;
    let fits = scene.as_ref().is_some_and(|s| {
        s.place == place
            && s.lane == session.lane
            && s.tyre_in == tyre_in
            && s.px_a_radian == px_a_radian
    });
    // While a window is being dragged its size changes every update: paint when it rests.
    let rests = scene.is_none() || *last_seen == Some(place);
    *last_seen = Some(place);
    if fits || !rests {
        return;
    }
    items.iter().for_each(|item| commands.entity(item).despawn());
    let scene = plan(place, &session, &garage, px_a_radian);
    let mut painter = Painter { commands: &mut commands, images: &mut images, scene: &scene };
    painter.stage();
    let layout = TreeLayout::new(&scene.view, AMBERS);
    painter.tree(&layout);
    painter.other_car();
    painter.beams();
    texts::spawn_texts(&mut commands, &scene, &layout, &fonts);
    trace.event(format_args!("you {}", lane_word(scene.lane)));
    let mut hung = Vec::new();
    for lane in Lane::BOTH {
        for lamp in lamps_of_lane() {
            let Some(spot) = layout.lamp(lane, lamp) else { continue };
            let g = spot.glass();
            hung.push(((lane, lamp), g.y + g.height / 2.0));
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
    screen.hang(hung);
    commands.insert_resource(scene);
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
