//! Who drives: the drivers of this machine, each with a data folder of their own, and who sits in the
//! other lane.
//!
//! Owns the list, a new name being typed and the change from one folder to another. Refuses the folders
//! themselves (`history::profiles`) and the second person's runs (`app::guest`).

use super::opening::{begin_sitting, open};
use super::typing::{Typed, is_letter, typed};
use super::{rooms, ui};
use crate::app::Screen;
use crate::app::coach::Coach;
use crate::app::data::{DataPath, Opened};
use crate::app::guest::{Guest, Seat};
use crate::app::lane::{Guide, Phase, Session};
use crate::app::opening::Opening;
use crate::app::trace_file::TraceFile;
use crate::form::Key;
use crate::history::{Profile, add_profile, home_of, profiles};
use bevy::input::keyboard::KeyboardInput;
use bevy::prelude::*;
use bevy_egui::{EguiContexts, EguiPrimaryContextPass};

/// The list.
#[derive(Resource, Default)]
struct DriversRoom {
    /// The machine's own driver first.
    drivers: Vec<Profile>,
    at: usize,
    typed: Option<String>,
    trouble: Option<String>,
}

/// The driver whose folder holds the others'; known from the command line.
#[derive(Resource, Debug, Clone)]
struct HomeDriver(String);

pub(super) fn plugin(app: &mut App) {
    app.init_resource::<DriversRoom>()
        .add_systems(Startup, remember_home)
        .add_systems(OnEnter(Screen::Drivers), enter)
        .add_systems(OnExit(Screen::Drivers), leave)
        .add_systems(Update, work_keys.run_if(in_state(Screen::Drivers)))
        .add_systems(EguiPrimaryContextPass, drivers_ui.run_if(in_state(Screen::Drivers)));
}

fn remember_home(mut commands: Commands, session: Option<Res<Session>>) {
    if let Some(session) = session {
        commands.insert_resource(HomeDriver(session.driver.clone()));
    }
}

fn enter(
    mut room: ResMut<DriversRoom>,
    data: Option<Res<DataPath>>,
    home: Option<Res<HomeDriver>>,
    mut trace: ResMut<TraceFile>,
) {
    // What went wrong with a folder that took its time is still to be told.
    *room = DriversRoom { trouble: room.trouble.take(), ..DriversRoom::default() };
    read(&mut room, data.as_deref(), home.as_deref());
    trace.event("prompt Escape Esc: back to the settings");
}

fn leave(mut typing: ResMut<rooms::Typing>, mut room: ResMut<DriversRoom>) {
    typing.0 = false;
    room.trouble = None;
}

fn read(room: &mut DriversRoom, data: Option<&DataPath>, home: Option<&HomeDriver>) {
    let Some(data) = data else { return };
    let path = home_of(&data.path);
    let name = home.map_or("me", |home| &home.0).to_owned();
    let others = profiles(&path);
    room.drivers = std::iter::once(Profile { name, path }).chain(others).collect();
    room.at = room.at.min(room.drivers.len() - 1);
}

fn work_keys(
    mut events: MessageReader<KeyboardInput>,
    screen: Res<State<Screen>>,
    data: Option<Res<DataPath>>,
    home: Option<Res<HomeDriver>>,
    mut room: ResMut<DriversRoom>,
    mut guest: ResMut<Guest>,
    mut typing: ResMut<rooms::Typing>,
    mut next: ResMut<NextState<Screen>>,
    mut commands: Commands,
    mut trace: ResMut<TraceFile>,
) {
    let keys = typed(&mut events);
    let Some(data) = data.filter(|_| !screen.is_changed()) else { return };
    for key in keys {
        if room.typed.is_some() {
            type_name(&mut room, key, &data, home.as_deref());
            typing.0 = room.typed.is_some();
            continue;
        }
        let here = room.drivers.get(room.at).cloned();
        match key {
            Typed::Key(Key::Next) => room.at = (room.at + 1).min(room.drivers.len() - 1),
            Typed::Key(Key::Previous) => room.at = room.at.saturating_sub(1),
            Typed::Escape => next.set(Screen::Menu),
            Typed::Enter => {
                if let Some(profile) = here.filter(|profile| profile.path != data.path) {
                    commands.queue(move |world: &mut World| change_driver(world, &profile));
                }
            }
            key if is_letter(key, 'n') => {
                (room.typed, room.trouble) = (Some(String::new()), None);
                typing.0 = true;
            }
            key if is_letter(key, 'b') => {
                let Some(profile) = here else { continue };
                room.trouble = seat(&mut guest, profile, &data).err();
                let who = guest.seat.as_ref().map_or("nobody", |seat| &seat.profile.name);
                trace.event(format_args!("beside {who}"));
            }
            _ => {}
        }
    }
}

/// Seats a driver in the other lane, or has the one there leave.
fn seat(guest: &mut Guest, profile: Profile, data: &DataPath) -> Result<(), String> {
    let leaves = guest.seat.take().is_some_and(|seat| seat.profile.path == profile.path);
    if leaves {
        return Ok(());
    }
    if profile.path == data.path {
        return Err(format!("{} drives already: choose another for the other lane.", profile.name));
    }
    guest.seat = Some(Seat::take(profile)?);
    Ok(())
}

fn type_name(room: &mut DriversRoom, key: Typed, data: &DataPath, home: Option<&HomeDriver>) {
    let Some(name) = &mut room.typed else { return };
    match key {
        Typed::Escape => room.typed = None,
        Typed::Key(Key::Erase) => {
            name.pop();
        }
        Typed::Key(Key::Letter(c)) => name.push(c),
        Typed::Enter => match add_profile(&home_of(&data.path), name) {
            Ok(added) => {
                (room.typed, room.trouble) = (None, None);
                read(room, Some(data), home);
                let at = room.drivers.iter().position(|driver| driver.path == added.path);
                room.at = at.unwrap_or(room.at);
            }
            Err(error) => room.trouble = Some(error.to_string()),
        },
        Typed::Key(_) => {}
    }
}

/// Another driver takes the wheel: that folder is opened, everything of the one before is left.
fn change_driver(world: &mut World, profile: &Profile) {
    // Whoever sits in the other lane and is to drive now gets up first: one folder, one holder.
    let mut guest = world.resource_mut::<Guest>();
    if guest.seat.as_ref().is_some_and(|seat| seat.profile.path == profile.path) {
        guest.seat = None;
    }
    open(world, Opening::of_another(profile));
}

/// Says why a folder can't be opened.
pub(super) fn tell(world: &mut World, trouble: String) {
    world.resource_mut::<DriversRoom>().trouble = Some(trouble);
}

/// Puts another driver's folder in force.
pub(super) fn take_wheel(world: &mut World, profile: &Profile, opened: Opened) {
    opened.take_over(world);
    world.insert_resource(DataPath::from(profile.path.clone()));
    *world.resource_mut::<Phase>() = Phase::Ready;
    let session = world.resource::<Session>().of_another(&profile.name);
    world.insert_resource(session);
    world.insert_resource(Guide::default());
    world.insert_resource(Coach::default());
    begin_sitting(world);
    world.resource_mut::<TraceFile>().event(format_args!("driver {}", profile.name));
}

fn drivers_ui(
    mut contexts: EguiContexts,
    data: Option<Res<DataPath>>,
    guest: Res<Guest>,
    mut room: ResMut<DriversRoom>,
    mut next: ResMut<NextState<Screen>>,
) -> Result {
    let ctx = contexts.ctx_mut()?;
    if !ui::dress(ctx) {
        return Ok(());
    }
    let mut clicked = None;
    let led = rooms::room_ui(ctx, Screen::Drivers, "", |page| {
        ui::headline(page, "Who drives?");
        ui::body(
            page,
            "Every driver has runs, cars, slips and settings of their own, in a folder of their own. Two \
             can drive side by side: the second has the other lane and its own keys.",
        );
        for (i, driver) in room.drivers.iter().enumerate() {
            let drives = data.as_ref().is_some_and(|data| data.path == driver.path);
            let beside = guest.seat.as_ref().is_some_and(|s| s.profile.path == driver.path);
            let mark = match (drives, beside) {
                (true, _) => "  \u{2014}  drives",
                (_, true) => "  \u{2014}  in the other lane",
                _ => "",
            };
            if ui::choice(page, &format!("{}{mark}", driver.name), i == room.at) {
                clicked = Some(i);
            }
        }
        if let Some(name) = &room.typed {
            ui::body(page, &format!("Name of the new driver: {name}\u{2502}"));
        }
        if let Some(trouble) = &room.trouble {
            ui::warning(page, trouble);
        }
        let keys = match room.typed {
            Some(_) => "Type the name   Enter: keep it   Esc: never mind",
            None => {
                "\u{2191} \u{2193}: which   Enter: this one drives   B: this one beside, or not any more   \
                 N: a new driver   Esc: back"
            }
        };
        ui::keys(page, keys);
    });
    if let Some(i) = clicked {
        room.at = i;
    }
    if let Some(screen) = led {
        next.set(screen);
    }
    Ok(())
}
