//! The rooms, by number, along the top of every panel.
//!
//! Owns which number leads where and the row of names. Refuses what is in a room. Where text is typed
//! numbers are text and lead nowhere.

use super::ui::{self, ink};
use crate::app::Screen;
use crate::app::lane::Session;
use crate::app::theme::Ink;
use bevy::prelude::*;
use bevy_egui::egui::{Context, Id, Sense, Stroke, Ui, Vec2};

/// A room: its screen, its name, its number.
struct Room {
    screen: Screen,
    name: &'static str,
    key: KeyCode,
    digit: &'static str,
}

const fn room(screen: Screen, name: &'static str, key: KeyCode, digit: &'static str) -> Room {
    Room { screen, name, key, digit }
}

const ROOMS: [Room; 11] = [
    room(Screen::Lane, "Lane", KeyCode::Digit1, "1"),
    room(Screen::Review, "Review", KeyCode::Digit2, "2"),
    room(Screen::Aim, "Aim", KeyCode::Digit3, "3"),
    room(Screen::Weeks, "Weeks", KeyCode::Digit4, "4"),
    room(Screen::Odds, "Odds", KeyCode::Digit5, "5"),
    room(Screen::Car, "My car", KeyCode::Digit6, "6"),
    room(Screen::Slips, "Slips", KeyCode::Digit7, "7"),
    room(Screen::Visit, "First visit", KeyCode::Digit8, "8"),
    room(Screen::Rig, "Rig", KeyCode::Digit9, "9"),
    room(Screen::Menu, "Settings", KeyCode::Digit0, "0"),
    room(Screen::Help, "Help", KeyCode::F1, "F1"),
];
/// Screens from which the numbers lead on.
const FROM: [Screen; 16] = [
    Screen::Menu,
    Screen::Review,
    Screen::Weeks,
    Screen::Aim,
    Screen::Odds,
    Screen::Car,
    Screen::Slips,
    Screen::Visit,
    Screen::Rig,
    Screen::Help,
    Screen::Night,
    Screen::Held,
    Screen::Sounds,
    Screen::Drivers,
    Screen::Controls,
    Screen::Sight,
];
/// Rooms that say something from ten launches on; before, they are not offered.
const FROM_TEN: [Screen; 4] = [Screen::Review, Screen::Aim, Screen::Weeks, Screen::Odds];
/// Launches from which on they are.
const TEN: usize = 10;

/// Whether the numbers lead on from a screen.
pub fn leads_on(screen: Screen) -> bool {
    FROM.contains(&screen)
}

/// Whether a room is offered to who has so many launches.
fn is_offered(screen: Screen, launches: usize) -> bool {
    launches >= TEN || !FROM_TEN.contains(&screen)
}

/// The room so many places on, round again at the ends; none from where no numbers lead on.
pub fn beside(screen: Screen, way: isize) -> Option<Screen> {
    if !leads_on(screen) {
        return None;
    }
    let here = ROOMS.iter().position(|room| room.screen == screen).unwrap_or(0);
    let there = (here as isize + way).rem_euclid(ROOMS.len() as isize);
    ROOMS.get(there as usize).map(|room| room.screen)
}

/// Notes how many launches there are, for the row of names.
pub fn mark_launches(ctx: &Context, launches: usize) {
    ctx.data_mut(|data| data.insert_temp(Id::new("launches"), launches));
}

/// Text is being typed: numbers are text.
#[derive(Resource, Debug, Default)]
pub struct Typing(pub bool);

pub(super) fn plugin(app: &mut App) {
    app.init_resource::<Typing>().add_systems(Update, follow_numbers);
}

fn follow_numbers(
    keyboard: Res<ButtonInput<KeyCode>>,
    screen: Res<State<Screen>>,
    typing: Res<Typing>,
    session: Option<Res<Session>>,
    mut next: ResMut<NextState<Screen>>,
) {
    if typing.0 || !leads_on(**screen) || screen.is_changed() {
        return;
    }
    let launches = session.map_or(TEN, |session| session.own_lights_s().len());
    let others = ROOMS.iter().filter(|room| room.screen != **screen);
    for room in others.filter(|room| is_offered(room.screen, launches)) {
        if keyboard.just_pressed(room.key) {
            next.set(room.screen);
        }
    }
}

/// A room's panel: the row of names, then what lies on the table there, by its name; the room whose
/// name was clicked.
pub fn room_ui(
    ctx: &Context,
    here: Screen,
    leaf: &str,
    content: impl FnOnce(&mut Ui),
) -> Option<Screen> {
    let mut clicked = None;
    ui::page(ctx, (here, leaf), |page| {
        clicked = row_ui(page, here);
        content(page);
        page.add_space(24.0);
    });
    clicked
}

fn row_ui(page: &mut Ui, here: Screen) -> Option<Screen> {
    let mut clicked = None;
    let launches = page.data(|data| data.get_temp(Id::new("launches"))).unwrap_or(TEN);
    page.horizontal_wrapped(|row| {
        row.spacing_mut().item_spacing = Vec2::new(20.0, 6.0);
        for room in &ROOMS {
            if !is_offered(room.screen, launches) && room.screen != here {
                row.label(ui::words(room.name, 15.0, Ink::Muted));
                continue;
            }
            let name = format!("{} {}", room.digit, room.name);
            let under = Stroke::new(2.5, ink(Ink::Driver));
            if name_ui(row, &name, room.screen == here, under) {
                clicked = Some(room.screen);
            }
        }
    });
    if launches < TEN {
        let said =
            format!("Review, Aim, Weeks and Odds open with ten launches: {launches} so far.");
        ui::aside(page, &said);
    }
    page.add_space(8.0);
    page.separator();
    page.add_space(10.0);
    clicked
}

/// A name to be clicked, underlined where one is; the keys choose, so it takes no focus.
pub fn name_ui(row: &mut Ui, name: &str, chosen: bool, under: Stroke) -> bool {
    let rgb = if chosen { Ink::Text } else { Ink::Muted };
    let label = bevy_egui::egui::Label::new(ui::words(name, 15.0, rgb));
    let shown = row.add(label.selectable(false).extend().sense(Sense::CLICK));
    if chosen {
        row.painter().hline(shown.rect.x_range(), shown.rect.bottom() + 3.0, under);
    }
    shown.clicked()
}
