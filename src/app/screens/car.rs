//! My car: what it adds to every light, and everything that can be told of it.
//!
//! Owns the room's leaves (the car, its form, the film of a start line) and their keys. Refuses
//! geometry and words: the car room and the report room have them.

use super::keep::Keeper;
use super::typing::{Typed, is_letter, typed};
use super::{form_ui, rooms, sheet, ui};
use crate::app::Screen;
use crate::app::garage::Garage;
use crate::app::history_store::Store;
use crate::app::trace_file::TraceFile;
use crate::car::{CarForm, Described, LeaveAnswer};
use crate::form::{Choice, Field, Form, Key};
use crate::report::my_car::my_car_page;
use crate::report::page::Page;
use crate::rules::TrackLength;
use crate::stats::film::frame_counts;
use crate::stats::start_film::{
    CountedFrom, FilmedStart, HOW_TO_FILM, StartFilm, USUAL_FPS, frame_zero, shows_on_a_lamp,
};
use bevy::input::keyboard::KeyboardInput;
use bevy::prelude::*;
use bevy_egui::egui::Ui;
use bevy_egui::{EguiContexts, EguiPrimaryContextPass};

/// Level of the interval of a filmed car part.
const LEVEL: f64 = 0.90;

pub(super) fn plugin(app: &mut App) {
    app.init_resource::<CarRoom>()
        .add_systems(OnEnter(Screen::Car), enter)
        .add_systems(OnExit(Screen::Car), leave)
        .add_systems(Update, work_keys.run_if(in_state(Screen::Car)))
        .add_systems(EguiPrimaryContextPass, car_ui.run_if(in_state(Screen::Car)));
}

/// What lies on the table.
#[derive(Default)]
enum Leaf {
    #[default]
    Page,
    Form(Box<CarForm>),
    Film(Form<Counted>),
}

impl Leaf {
    fn name(&self) -> &'static str {
        match self {
            Leaf::Page => "page",
            Leaf::Form(_) => "form",
            Leaf::Film(_) => "film",
        }
    }
}

/// The room.
#[derive(Resource, Default)]
struct CarRoom {
    leaf: Leaf,
    eighth: bool,
    /// Made when the car changes, not every frame.
    page: Option<Page>,
    news: Option<String>,
}

/// Fields of the film of a start line.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
enum Counted {
    Rate,
    From,
    Frames,
}

const FROM_EDGE: &str = "edge";
const FROM_MOVEMENT: &str = "movement";
const FROM: &[Choice] = &[
    Choice { value: FROM_EDGE, words: "the launch edge" },
    Choice { value: FROM_MOVEMENT, words: "the wheel's first movement" },
];

fn film_form(leave: LeaveAnswer) -> Form<Counted> {
    let mut form = Form::new(vec![
        Field::typed(Counted::Rate, "Frames a second", "of the film"),
        Field::choice(Counted::From, "Counted from", "what the film shows", FROM),
        Field::typed(
            Counted::Frames,
            "Frames",
            "one count a launch, with spaces between: 92 95 90",
        ),
    ]);
    form.set(Counted::Rate, &format!("{USUAL_FPS:.0}"), true);
    if !shows_on_a_lamp(leave) {
        form.set(Counted::From, FROM_MOVEMENT, true);
    }
    form.go_to(Counted::Frames);
    form
}

fn enter(mut room: ResMut<CarRoom>, mut trace: ResMut<TraceFile>) {
    *room = CarRoom { eighth: room.eighth, ..CarRoom::default() };
    trace.event("prompt Escape Esc: back to the lane");
}

fn leave(mut typing: ResMut<rooms::Typing>) {
    typing.0 = false;
}

fn work_keys(
    mut events: MessageReader<KeyboardInput>,
    screen: Res<State<Screen>>,
    mut room: ResMut<CarRoom>,
    mut garage: ResMut<Garage>,
    store: Res<Store>,
    mut typing: ResMut<rooms::Typing>,
    mut keeper: Keeper,
    mut next: ResMut<NextState<Screen>>,
) {
    let keys = typed(&mut events);
    if screen.is_changed() {
        return;
    }
    for key in keys {
        match &mut room.leaf {
            Leaf::Page if is_letter(key, 'p') => {
                if let Some(page) = &room.page {
                    keeper.keep("My car", page);
                }
            }
            Leaf::Page => work_page(&mut room, key, &mut garage, &store, &mut next),
            Leaf::Form(form) => {
                let done = work_form(form, key);
                finish(&mut room, done, &mut garage, &store);
            }
            Leaf::Film(form) => {
                let done = work_film(form, key, &garage);
                finish(&mut room, done, &mut garage, &store);
            }
        }
        typing.0 = !matches!(room.leaf, Leaf::Page);
    }
}

fn work_page(
    room: &mut CarRoom,
    key: Typed,
    garage: &mut Garage,
    store: &Store,
    next: &mut NextState<Screen>,
) {
    let letter = match key {
        Typed::Key(Key::Letter(letter)) => letter.to_ascii_lowercase(),
        Typed::Escape => {
            next.set(Screen::Lane);
            return;
        }
        _ => return,
    };
    match letter {
        'e' => room.leaf = Leaf::Form(Box::new(CarForm::new(&garage.described()))),
        'n' => room.leaf = Leaf::Form(Box::new(CarForm::unknown())),
        'f' => room.leaf = Leaf::Film(film_form(garage.answers().leave)),
        'q' => next.set(Screen::Questions),
        'l' => {
            room.eighth = !room.eighth;
            room.page = None;
        }
        'c' => {
            room.page = None;
            room.news = match garage.next_car() {
                Ok(None) => None,
                Ok(Some(line)) => store.submit(line).err().map(|e| format!("Not saved: {e}")),
                Err(why) => Some(why),
            };
        }
        _ => {}
    }
}

/// What a leaf came to.
enum Done {
    NotYet,
    Left,
    Car(Box<Described>),
}

fn work_form(form: &mut CarForm, key: Typed) -> Done {
    match key {
        Typed::Key(key) => form.take(key),
        Typed::Escape => return Done::Left,
        Typed::Enter => {
            if let Some(car) = form.enter() {
                return Done::Car(Box::new(car));
            }
        }
    }
    Done::NotYet
}

fn work_film(form: &mut Form<Counted>, key: Typed, garage: &Garage) -> Done {
    match key {
        Typed::Key(key) => {
            form.take(key);
            form.say(form.active().key, None);
        }
        Typed::Escape => return Done::Left,
        Typed::Enter => match filmed(form, garage) {
            Err((key, why)) => form.say(key, Some(why)),
            Ok((film, found)) => {
                let mut car = garage.described();
                car.details.filmed = Some(film.part(&found));
                return Done::Car(Box::new(car));
            }
        },
    }
    Done::NotYet
}

fn finish(room: &mut CarRoom, done: Done, garage: &mut Garage, store: &Store) {
    match done {
        Done::NotYet => return,
        Done::Left => {}
        Done::Car(car) => {
            room.page = None;
            room.news = Some(match garage.put(garage.line_of(&car)) {
                Err(why) => why,
                Ok(line) => match store.submit(line) {
                    Err(error) => format!("Not saved: {error}"),
                    Ok(_) => format!("Saved. Runs are made in {} from now on.", garage.name()),
                },
            });
        }
    }
    room.leaf = Leaf::Page;
}

/// What the counts make.
fn filmed(
    form: &Form<Counted>,
    garage: &Garage,
) -> Result<(StartFilm, FilmedStart), (Counted, String)> {
    let rate = form.text(Counted::Rate).trim().replace(',', ".").parse::<f64>();
    let fps = rate.map_err(|_| (Counted::Rate, "a number like 240".to_owned()))?;
    let from = if form.text(Counted::From) == FROM_EDGE {
        CountedFrom::LaunchEdge
    } else {
        CountedFrom::FirstMovement { lag_s: garage.model().lag_s() }
    };
    let told = |error: &dyn std::fmt::Display| (Counted::Frames, error.to_string());
    let counts = frame_counts(form.text(Counted::Frames)).map_err(|error| told(&error))?;
    let film = StartFilm::new(fps, counts, from).map_err(|error| told(&error))?;
    let found = film.car_part(LEVEL).map_err(|error| told(&error))?;
    Ok((film, found))
}

fn car_ui(
    mut contexts: EguiContexts,
    mut room: ResMut<CarRoom>,
    garage: Res<Garage>,
    mut next: ResMut<NextState<Screen>>,
) -> Result {
    let ctx = contexts.ctx_mut()?;
    if !ui::dress(ctx) {
        return Ok(());
    }
    let room = &mut *room;
    let length = if room.eighth { TrackLength::Eighth } else { TrackLength::Quarter };
    let led = rooms::room_ui(ctx, Screen::Car, room.leaf.name(), |page| match &mut room.leaf {
        Leaf::Page => {
            let made = || my_car_page(garage.name(), garage.model(), length);
            let shown = room.page.get_or_insert_with(made);
            for news in room.news.iter().chain(garage.news()) {
                ui::aside(page, news);
            }
            sheet::page_ui(page, shown);
            ui::keys(page, &keys_words(&garage, room.eighth));
        }
        Leaf::Form(form) => car_form_ui(page, form),
        Leaf::Film(form) => film_ui(page, form, &garage),
    });
    if let Some(screen) = led {
        next.set(screen);
    }
    Ok(())
}

fn keys_words(garage: &Garage, eighth: bool) -> String {
    let length = if eighth { "quarter" } else { "eighth" };
    let other = if garage.cars().len() > 1 { "C: the next car    " } else { "" };
    format!(
        "E: tell more of it    Q: the five questions    F: film a start    N: another car    {other}\
         L: {length} mile    P: keep it as files    PgDn: read on    Esc: back to the lane"
    )
}

fn car_form_ui(page: &mut Ui, form: &mut CarForm) {
    ui::headline(page, "What you know of the car. Leave empty what you don't.");
    if let Some(car) = form.so_far()
        && let Ok(model) = car.model()
    {
        let part = model.car_part();
        let said = format!(
            "So far: car part {:.3} \u{b1} {:.3} s, from run to run {:.3} s.",
            part.seconds.value, part.seconds.sd, part.run_sd_s
        );
        ui::body(page, &said);
    }
    ui::keys(
        page,
        "\u{2191} \u{2193}: field    \u{2190} \u{2192}: choice    Enter: save from anywhere    \
         Esc: leave it as it was",
    );
    let clicked = form_ui::fields_ui(page, form.fields(), form.active().key);
    if let Some(key) = clicked {
        form.go_to(key);
    }
}

fn film_ui(page: &mut Ui, form: &mut Form<Counted>, garage: &Garage) {
    ui::headline(page, "Film a start: the car part without guessing.");
    let leave = garage.answers().leave;
    for step in HOW_TO_FILM {
        ui::body(page, step);
    }
    ui::body(page, frame_zero(leave));
    let clicked = form_ui::fields_ui(page, form.fields(), form.active().key);
    if let Some(key) = clicked {
        form.go_to(key);
    }
    page.add_space(8.0);
    match filmed(form, garage) {
        Ok((_, found)) => {
            let e = found.seconds;
            let said = format!(
                "The car part is {:.3} s ({:.3} to {:.3}, {} launches, 90 %); from launch to launch \
                 {:.3} s.",
                e.value, e.low, e.high, e.n, found.spread_s
            );
            ui::body(page, &said);
            found.caveats.iter().for_each(|caveat| ui::aside(page, &caveat.to_string()));
        }
        Err((_, why)) if !form.text(Counted::Frames).trim().is_empty() => ui::aside(page, &why),
        Err(_) => {}
    }
    ui::keys(
        page,
        "\u{2191} \u{2193}: field    Enter: put it in force    PgUp: how to film    Esc: leave it",
    );
}
