//! The slip book: slips typed in, looked at, corrected.
//!
//! Owns the room's leaves (the book, one slip, home against track, the form) and their keys. Refuses
//! words and checks: they are the slip room's and the report room's.

use super::keep::Keeper;
use super::typing::{Typed, is_letter, typed};
use super::{form_ui, rooms, sheet, ui};
use crate::app::background::Work;
use crate::app::book::Book;
use crate::app::forecast::forecast_line;
use crate::app::garage::Garage;
use crate::app::history_store::{SaveNews, Store};
use crate::app::lane::{Phase, Session, slip_of};
use crate::app::setup::setup_now;
use crate::app::trace_file::TraceFile;
use crate::app::{AppSystems, Screen, clock};
use crate::car::CarKind;
use crate::form::Key;
use crate::history::{ForecastLine, SaveEvent, SlipLine, slips_in_force};
use crate::report::home_track::home_to_track_page;
use crate::report::page::Page;
use crate::report::slip::slip_page;
use crate::report::slip_book::{newest_first, slip_book_page};
use crate::slips::entry::{Entered, SlipForm};
use crate::slips::{Field, Slip};
use crate::strategy::ledger::Occasion;
use crate::strategy::own::{Bridge, OwnLines, SetupCount, setups};
use bevy::input::keyboard::KeyboardInput;
use bevy::prelude::*;
use bevy_egui::egui::Ui;
use bevy_egui::{EguiContexts, EguiPrimaryContextPass};

/// Rows of the book that are drawn at once: around the chosen one.
const ROWS: usize = 8;
/// Level of the intervals.
const LEVEL: f64 = 0.90;

pub(super) fn plugin(app: &mut App) {
    app.init_resource::<SlipRoom>()
        .add_systems(OnEnter(Screen::Slips), enter)
        .add_systems(OnExit(Screen::Slips), leave)
        .add_systems(Update, ask_for_slip.run_if(in_state(Screen::Lane)))
        .add_systems(Update, keep_forecast.in_set(AppSystems::Record))
        .add_systems(Update, hear_failures.in_set(AppSystems::Record))
        .add_systems(Update, read_book.in_set(AppSystems::Analyse).run_if(in_state(Screen::Slips)))
        .add_systems(Update, work_keys.run_if(in_state(Screen::Slips)))
        .add_systems(EguiPrimaryContextPass, slips_ui.run_if(in_state(Screen::Slips)));
}

/// What lies on the table.
#[derive(Default)]
enum Leaf {
    #[default]
    Book,
    One(Page),
    /// The slip of a run just made.
    Practice(Page),
    Home(Option<Page>),
    Form(Box<SlipForm>),
}

impl Leaf {
    fn name(&self) -> &'static str {
        match self {
            Leaf::Book => "book",
            Leaf::One(_) => "one",
            Leaf::Practice(_) => "practice",
            Leaf::Home(_) => "home",
            Leaf::Form(_) => "form",
        }
    }

    /// The page on the table and what it is kept as.
    fn page(&self) -> Option<(&'static str, &Page)> {
        match self {
            Leaf::One(page) => Some(("Slip", page)),
            Leaf::Practice(page) => Some(("Practice slip", page)),
            Leaf::Home(page) => Some(("Home to track", page.as_ref()?)),
            Leaf::Book | Leaf::Form(_) => None,
        }
    }
}

/// The room.
#[derive(Resource, Default)]
struct SlipRoom {
    leaf: Leaf,
    /// Slips in force, newest first; those just saved come at once.
    slips: Vec<SlipLine>,
    chosen: usize,
    edition: u64,
    /// The reading that has what was saved last.
    wanted: u64,
    news: Option<String>,
    /// What the book says of all of them.
    said: Page,
    bridge: Work<Result<Page, String>>,
    /// Tonight's forecast being made.
    tonight: Work<Option<ForecastLine>>,
}

impl SlipRoom {
    fn chosen(&self) -> Option<&SlipLine> {
        self.slips.get(self.chosen)
    }

    fn step(&mut self, down: bool) {
        let last = self.slips.len().saturating_sub(1);
        self.chosen =
            if down { (self.chosen + 1).min(last) } else { self.chosen.saturating_sub(1) };
    }
}

/// In the lane, once a verdict is up: the slip of that run.
fn ask_for_slip(
    keyboard: Res<ButtonInput<KeyCode>>,
    phase: Res<Phase>,
    session: Res<Session>,
    garage: Res<Garage>,
    mut room: ResMut<SlipRoom>,
    mut next: ResMut<NextState<Screen>>,
) {
    if !keyboard.just_pressed(KeyCode::KeyP) {
        return;
    }
    let told = phase.live().filter(|_| session.shows_numbers());
    if let Some(slip) = told.and_then(|live| slip_of(live, &garage)) {
        room.leaf = Leaf::Practice(slip_page(&slip, garage.kind()));
        next.set(Screen::Slips);
    }
}

fn enter(mut room: ResMut<SlipRoom>, mut book: ResMut<Book>, mut trace: ResMut<TraceFile>) {
    let leaf = match std::mem::take(&mut room.leaf) {
        Leaf::Practice(page) => Leaf::Practice(page),
        _ => Leaf::Book,
    };
    *room = SlipRoom { leaf, ..SlipRoom::default() };
    book.want();
    trace.event("prompt n N: type in a slip");
}

fn leave(mut typing: ResMut<rooms::Typing>) {
    typing.0 = false;
}

/// A slip that could not be saved is said, and nothing waits for it.
fn hear_failures(mut news: MessageReader<SaveNews>, mut room: ResMut<SlipRoom>) {
    for SaveNews(event) in news.read() {
        let SaveEvent::SaveFailed { id, why } = event else { continue };
        if room.slips.iter().any(|line| line.id == *id) {
            room.news = Some(format!("Not saved: {why}. It is tried again."));
            room.wanted = room.edition;
        }
    }
}

/// Takes the book's slips anew once they were read anew.
fn read_book(mut book: ResMut<Book>, mut room: ResMut<SlipRoom>) {
    if room.edition != book.edition() {
        room.edition = book.edition();
        let lines = slips_in_force(&book.lines().slips);
        room.said = slip_book_page(&lines);
        room.slips = newest_first(&lines).into_iter().cloned().collect();
        let last = room.slips.len().saturating_sub(1);
        room.chosen = room.chosen.min(last);
    }
    if let Some(trouble) = book.trouble() {
        room.news = Some(trouble.to_owned());
    }
    if !book.is_current() {
        book.want();
        return;
    }
    if let Some(answer) = room.bridge.answer()
        && let Leaf::Home(page) = &mut room.leaf
    {
        *page = Some(answer.unwrap_or_else(Page::new));
    }
    let read = room.edition >= room.wanted;
    if read && matches!(room.leaf, Leaf::Home(None)) && !room.bridge.is_under_way() {
        let (lines, car) = (book.lines().clone(), room.chosen().map(|line| line.slip.car.clone()));
        room.bridge.start("home-track", move || {
            let excluded = lines.excluded();
            bridge_page(&OwnLines { excluded: &excluded, ..OwnLines::from(&*lines) }, car)
        });
    }
}

/// Home against the track in the set-up that has most to say of it: this car's, with slips and runs.
fn bridge_page(lines: &OwnLines, car: Option<String>) -> Result<Page, String> {
    let all = setups(lines);
    let of_car = |count: &&SetupCount| car.as_ref().is_none_or(|car| count.setup.car == *car);
    let both = all.iter().filter(of_car).find(|count| count.slips > 0 && count.launches > 0);
    let Some(count) = both.or_else(|| all.iter().find(of_car)) else {
        return Ok(home_to_track_page(None));
    };
    let bridge = Bridge::new(lines, &count.setup, LEVEL).map_err(|error| error.to_string())?;
    Ok(home_to_track_page(bridge.as_ref()))
}

fn work_keys(
    mut events: MessageReader<KeyboardInput>,
    screen: Res<State<Screen>>,
    mut room: ResMut<SlipRoom>,
    desk: Desk,
    mut typing: ResMut<rooms::Typing>,
    mut keeper: Keeper,
    mut next: ResMut<NextState<Screen>>,
) {
    let keys = typed(&mut events);
    if screen.is_changed() {
        return;
    }
    for key in keys {
        match room.leaf {
            Leaf::Form(_) => work_form(&mut room, key, &desk),
            _ if is_letter(key, 'p') => {
                if let Some((name, page)) = room.leaf.page() {
                    keeper.keep(name, page);
                }
            }
            _ => work_book(&mut room, key, &desk, &mut next),
        }
        typing.0 = matches!(room.leaf, Leaf::Form(_));
    }
}

/// What a slip is written with.
#[derive(bevy::ecs::system::SystemParam)]
struct Desk<'w> {
    session: Res<'w, Session>,
    garage: Res<'w, Garage>,
    store: Res<'w, Store>,
    book: Res<'w, Book>,
}

/// Lays the chosen slip on the table.
fn show_chosen(room: &mut SlipRoom, kind: Option<CarKind>) {
    if let Some(line) = room.chosen() {
        room.leaf = Leaf::One(slip_page(&line.slip, kind));
    }
}

fn work_book(room: &mut SlipRoom, key: Typed, desk: &Desk, next: &mut NextState<Screen>) {
    match key {
        Typed::Key(Key::Next | Key::Previous) => {
            room.step(key == Typed::Key(Key::Next));
            if matches!(room.leaf, Leaf::One(_)) {
                show_chosen(room, desk.garage.kind());
            }
        }
        Typed::Enter => show_chosen(room, desk.garage.kind()),
        Typed::Key(Key::Letter('t' | 'T')) => forecast_tonight(room, desk),
        Typed::Key(Key::Letter('h' | 'H')) => room.leaf = Leaf::Home(None),
        Typed::Key(Key::Letter('n' | 'N')) => {
            room.leaf = Leaf::Form(Box::new(new_form(room, desk)))
        }
        Typed::Key(Key::Letter('e' | 'E')) => {
            if let Some(line) = room.chosen() {
                room.leaf = Leaf::Form(Box::new(SlipForm::edit(&line.id, &line.slip)));
            }
        }
        Typed::Escape => match room.leaf {
            Leaf::Book | Leaf::Practice(_) => next.set(Screen::Lane),
            _ => room.leaf = Leaf::Book,
        },
        _ => {}
    }
}

/// Before a night at the track: what the program expects of it, scored when its slips are in.
fn forecast_tonight(room: &mut SlipRoom, desk: &Desk) {
    let saved_at = clock::wall_time();
    let occasion = (Occasion::TrackNight, saved_at.chars().take(10).collect());
    let (lines, setup) = (desk.book.lines().clone(), setup_now(&desk.session, &desk.garage));
    room.tonight.start("tonight", move || forecast_line(&lines, &setup, occasion, saved_at));
}

/// Hands tonight's forecast to the writer.
fn keep_forecast(mut room: ResMut<SlipRoom>, store: Res<Store>) {
    let Some(made) = room.tonight.answer() else { return };
    room.news = Some(match made.map(|line| store.submit(line)) {
        None => "It takes ten launches in the set-up of the lane to forecast a night.".to_owned(),
        Some(Err(error)) => format!("Not saved: {error}"),
        Some(Ok(_)) => "Tonight's forecast is kept. Weeks shows it against your slips once they \
                        are in."
            .to_owned(),
    });
}

/// The form of today's next slip.
fn new_form(room: &SlipRoom, desk: &Desk) -> SlipForm {
    let today = clock::wall_time().parse::<jiff::ZonedDateTime>().map(|now| now.date()).ok();
    let usual = Slip {
        driver: desk.session.driver.clone(),
        car: desk.garage.name().to_owned(),
        ..Slip::default()
    };
    SlipForm::new(today, &usual, room.slips.first().map(|line| &line.slip))
}

fn work_form(room: &mut SlipRoom, key: Typed, desk: &Desk) {
    let Leaf::Form(form) = &mut room.leaf else { return };
    match key {
        Typed::Key(key) => form.take(key),
        Typed::Escape => room.leaf = Leaf::Book,
        Typed::Enter => {
            if let Entered::Slip(slip) = form.enter() {
                let corrects = form.corrects().map(str::to_owned);
                save(room, *slip, corrects, desk);
            }
        }
    }
}

fn save(room: &mut SlipRoom, slip: Slip, corrects: Option<String>, desk: &Desk) {
    let line = SlipLine {
        id: crate::history::new_id(),
        saved_at: clock::wall_time(),
        corrects,
        withdrawn: false,
        slip,
    };
    match desk.store.submit(line.clone()) {
        Err(error) => room.news = Some(format!("Not saved: {error}")),
        Ok(_) => {
            let place = line
                .corrects
                .as_ref()
                .and_then(|id| room.slips.iter().position(|known| known.id == *id));
            room.news = Some("Saved.".to_owned());
            match place {
                Some(place) => {
                    room.slips[place] = line;
                    room.chosen = place;
                }
                None => {
                    room.slips.insert(0, line);
                    room.chosen = 0;
                }
            }
            room.wanted = room.edition + 1;
            // What it says of the way to the track is what the driver wants to know now.
            room.leaf = Leaf::Home(None);
        }
    }
}

fn slips_ui(
    mut contexts: EguiContexts,
    mut room: ResMut<SlipRoom>,
    garage: Res<Garage>,
    mut next: ResMut<NextState<Screen>>,
) -> Result {
    let ctx = contexts.ctx_mut()?;
    if !ui::dress(ctx) {
        return Ok(());
    }
    let kind = garage.kind();
    let room = &mut *room;
    let led = rooms::room_ui(ctx, Screen::Slips, room.leaf.name(), |page| match &mut room.leaf {
        Leaf::Form(form) => slip_form_ui(page, form),
        Leaf::Book => {
            let clicked = book_ui(page, room);
            if let Some(place) = clicked {
                room.chosen = place;
                show_chosen(room, kind);
            }
        }
        Leaf::One(shown) => {
            sheet::page_ui(page, shown);
            ui::keys(
                page,
                "\u{2191} \u{2193}: the next one    E: correct it    H: home against the track    \
                 P: keep it as files    PgDn: read on    Esc: the book",
            );
        }
        Leaf::Practice(shown) => {
            sheet::page_ui(page, shown);
            ui::keys(
                page,
                "P: keep it as files    PgDn: read on    Esc: back to the lane    N: type in a real slip",
            );
        }
        Leaf::Home(shown) => {
            if let Some(news) = &room.news {
                ui::aside(page, news);
            }
            match shown {
                Some(shown) => {
                    sheet::page_ui(page, shown);
                }
                None => ui::headline(page, "Working it out\u{2026}"),
            }
            ui::keys(page, "N: type in the next slip    P: keep it as files    Esc: the book");
        }
    });
    if let Some(screen) = led {
        next.set(screen);
    }
    Ok(())
}

fn slip_form_ui(page: &mut Ui, form: &mut SlipForm) {
    let title = if form.corrects().is_some() { "Correct this slip." } else { "A new slip." };
    ui::headline(page, title);
    for question in form.questions() {
        ui::warning(page, &question.to_string());
    }
    if !form.questions().is_empty() {
        ui::body(page, "Enter again keeps it as it is.");
    }
    ui::keys(
        page,
        "\u{2191} \u{2193}: field    \u{2190} \u{2192}: choice    \": as on the last slip    Enter: save \
         from anywhere    Esc: leave it",
    );
    page.add_space(8.0);
    let clicked = form_ui::fields_ui(page, form.fields(), form.active().key);
    if let Some(key) = clicked {
        form.go_to(key);
    }
}

/// The rows around the chosen one; the one that was clicked.
fn book_ui(page: &mut Ui, room: &SlipRoom) -> Option<usize> {
    ui::headline(page, &room.said.headline);
    room.news.iter().for_each(|news| ui::aside(page, news));
    let first = room.chosen.saturating_sub(ROWS / 2);
    let first = first.min(room.slips.len().saturating_sub(ROWS));
    let mut clicked = None;
    for (place, line) in room.slips.iter().enumerate().skip(first).take(ROWS) {
        if ui::choice(page, &row(&line.slip), place == room.chosen) {
            clicked = Some(place);
        }
    }
    ui::keys(
        page,
        "N: type in a slip    \u{2191} \u{2193}: choose    Enter: look at it    E: correct it    \
         H: home against the track    T: forecast tonight    Esc: back to the lane",
    );
    sheet::blocks_ui(page, &room.said.blocks);
    clicked
}

fn row(slip: &Slip) -> String {
    let date = slip.date.map_or_else(|| "no date".to_owned(), |date| date.to_string());
    let printed = |field: Field| field.printed(slip.lane, &slip.own);
    let finish = match slip.length {
        crate::rules::TrackLength::Quarter => Field::T1320,
        crate::rules::TrackLength::Eighth => Field::T660,
    };
    let red = if slip.is_red() { "  red" } else { "" };
    let marked = if slip.is_simulated() { "  simulated" } else { "" };
    format!(
        "{date}   {}   R/T {}   60 ft {}   {}{red}{marked}",
        slip.track,
        printed(Field::Rt),
        printed(Field::T60),
        printed(finish)
    )
}
