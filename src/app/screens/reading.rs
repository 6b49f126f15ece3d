//! Pages that are only read: Help, a track night's slips, how an aim was held.
//!
//! Owns working them out beside the frames and the keys. Refuses computing (the strategy room) and words
//! (the report room).

use super::keep::Keeper;
use super::{rooms, sheet, ui};
use crate::app::background::Work;
use crate::app::book::Book;
use crate::app::garage::Garage;
use crate::app::lane::{Phase, Session};
use crate::app::presses::Bindings;
use crate::app::setup::setup_now;
use crate::app::trace_file::TraceFile;
use crate::app::{AppSystems, Screen, help_keys};
use crate::history::Loaded;
use crate::report::help::help_page;
use crate::report::hold::hold_page;
use crate::report::night::night_page;
use crate::report::page::Page;
use crate::strategy::hold::held_blocks;
use crate::strategy::night::Night;
use crate::strategy::own::{OwnLines, OwnSetup};
use bevy::prelude::*;
use bevy_egui::{EguiContexts, EguiPrimaryContextPass};

/// The screens of this room.
const READ: [Screen; 3] = [Screen::Help, Screen::Night, Screen::Held];

/// What is read.
#[derive(Resource, Default)]
struct Reading {
    page: Option<Page>,
    work: Work<Result<Page, String>>,
    asked: bool,
    /// Where Help was asked for.
    back_to: Option<Screen>,
}

pub(super) fn plugin(app: &mut App) {
    app.init_resource::<Reading>().add_systems(Update, ask_for_help);
    for screen in READ {
        app.add_systems(OnEnter(screen), enter)
            .add_systems(Update, work_out.in_set(AppSystems::Analyse).run_if(in_state(screen)))
            .add_systems(Update, work_keys.run_if(in_state(screen)))
            .add_systems(EguiPrimaryContextPass, reading_ui.run_if(in_state(screen)));
    }
    app.add_systems(OnExit(Screen::Night), end_night);
}

/// F1 leads to Help from every room.
fn ask_for_help(
    keyboard: Res<ButtonInput<KeyCode>>,
    screen: Res<State<Screen>>,
    typing: Res<rooms::Typing>,
    mut reading: ResMut<Reading>,
    mut next: ResMut<NextState<Screen>>,
) {
    if typing.0 {
        return;
    }
    if keyboard.just_pressed(KeyCode::F1) && rooms::leads_on(**screen) && **screen != Screen::Help {
        reading.back_to = Some(**screen);
        next.set(Screen::Help);
    }
}

fn enter(
    screen: Res<State<Screen>>,
    bindings: Res<Bindings>,
    garage: Res<Garage>,
    mut reading: ResMut<Reading>,
    mut book: ResMut<Book>,
    mut trace: ResMut<TraceFile>,
) {
    reading.asked = false;
    reading.page = (**screen == Screen::Help)
        .then(|| help_page(&help_keys::help_keys(&bindings, garage.edge())));
    book.want();
    trace.event("prompt Escape Esc: back to the lane");
}

fn work_out(
    screen: Res<State<Screen>>,
    session: Res<Session>,
    garage: Res<Garage>,
    mut book: ResMut<Book>,
    mut reading: ResMut<Reading>,
) {
    let reading = &mut *reading;
    if let Some(answer) = reading.work.answer() {
        reading.page = Some(answer.unwrap_or_else(Page::new));
    }
    if **screen == Screen::Help || reading.asked {
        return;
    }
    if let Some(trouble) = book.trouble() {
        reading.page = Some(Page::new(trouble.to_owned()));
    }
    if !book.is_current() {
        book.want();
        return;
    }
    reading.asked = true;
    let (screen, lines, setup) = (**screen, book.lines().clone(), setup_now(&session, &garage));
    reading.work.start("reading", move || page_of(screen, &lines, &setup));
}

fn page_of(screen: Screen, lines: &Loaded, setup: &OwnSetup) -> Result<Page, String> {
    let excluded = lines.excluded();
    let own = OwnLines { excluded: &excluded, ..OwnLines::from(lines) };
    match screen {
        Screen::Night => Night::newest(&own, &lines.forecasts)
            .map(|night| night_page(night.as_ref()))
            .map_err(|error| error.to_string()),
        _ => held_blocks(&own, setup)
            .map(|blocks| hold_page(&blocks))
            .map_err(|error| error.to_string()),
    }
}

fn work_keys(
    keyboard: Res<ButtonInput<KeyCode>>,
    screen: Res<State<Screen>>,
    mut reading: ResMut<Reading>,
    mut keeper: Keeper,
    mut next: ResMut<NextState<Screen>>,
) {
    if screen.is_changed() {
        return;
    }
    if keyboard.just_pressed(KeyCode::Escape) || keyboard.just_pressed(KeyCode::Enter) {
        let back = reading.back_to.take().filter(|_| **screen == Screen::Help);
        next.set(back.unwrap_or(Screen::Lane));
    }
    if keyboard.just_pressed(KeyCode::KeyP)
        && let Some(page) = &reading.page
    {
        keeper.keep(name_of(**screen), page);
    }
}

fn name_of(screen: Screen) -> &'static str {
    match screen {
        Screen::Night => "Track night",
        Screen::Held => "Hold an aim",
        _ => "Help",
    }
}

/// The slips were read: nothing of that night waits in the lane any more.
fn end_night(mut session: ResMut<Session>, mut phase: ResMut<Phase>) {
    session.end_night();
    if phase.live().is_none_or(|live| !live.is_running()) {
        *phase = Phase::Ready;
    }
}

fn reading_ui(
    mut contexts: EguiContexts,
    screen: Res<State<Screen>>,
    reading: Res<Reading>,
    mut next: ResMut<NextState<Screen>>,
) -> Result {
    let ctx = contexts.ctx_mut()?;
    if !ui::dress(ctx) {
        return Ok(());
    }
    let led = rooms::room_ui(ctx, **screen, "", |page| {
        match &reading.page {
            Some(read) => {
                sheet::page_ui(page, read);
            }
            None => ui::headline(page, "Working it out\u{2026}"),
        }
        ui::keys(page, "Esc: back   P: keep it as a file   Page Up, Page Down: read on");
    });
    if let Some(screen) = led {
        next.set(screen);
    }
    Ok(())
}
