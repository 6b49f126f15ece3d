//! First visit: what a newcomer reads, ticks and prints before a night at the track.
//!
//! Owns the room's leaves and their keys. Refuses the words: they are the slip room's and tech's, with
//! their standing.

use super::keep::Keeper;
use super::typing::{Typed, is_letter, typed};
use super::{form_ui, rooms, sheet, ui};
use crate::app::Screen;
use crate::app::garage::Garage;
use crate::app::settings::InForce;
use crate::app::trace_file::TraceFile;
use crate::car::{TyreAnswer, TyreSize};
use crate::form::{Choice, Field, Form, Key};
use crate::report::page::{Block, Page};
use crate::report::visit::{
    ask_tech_page, car_checklist_page, first_visit_page, night_card_page, when_it_goes_wrong_page,
};
use crate::rules::{BodyKind, TechQuestion, TrackLength};
use crate::slips::first_visit::TyreKind;
use bevy::input::keyboard::KeyboardInput;
use bevy::prelude::*;
use bevy_egui::egui::{Stroke, Ui};
use bevy_egui::{EguiContexts, EguiPrimaryContextPass};

/// The leaves, in the order of the night.
const LEAVES: [(Leaf, &str); 5] = [
    (Leaf::WalkThrough, "Your first night"),
    (Leaf::Checklist, "Car checklist"),
    (Leaf::Tech, "Ask tech"),
    (Leaf::Card, "Night card"),
    (Leaf::GoesWrong, "When it goes wrong"),
];

pub(super) fn plugin(app: &mut App) {
    app.init_resource::<VisitRoom>()
        .add_systems(OnEnter(Screen::Visit), enter)
        .add_systems(OnExit(Screen::Visit), leave)
        .add_systems(Update, work_keys.run_if(in_state(Screen::Visit)))
        .add_systems(EguiPrimaryContextPass, visit_ui.run_if(in_state(Screen::Visit)));
}

#[derive(Debug, Clone, Copy, PartialEq, Eq, Default)]
enum Leaf {
    #[default]
    WalkThrough,
    Checklist,
    Tech,
    Card,
    GoesWrong,
}

impl Leaf {
    fn name(self) -> &'static str {
        LEAVES.iter().find(|(leaf, _)| *leaf == self).map_or("", |(_, name)| name)
    }
}

/// The room.
#[derive(Resource)]
struct VisitRoom {
    leaf: Leaf,
    /// The line of the checklist the keys are at.
    line: usize,
    tech: Form<Asks>,
}

impl Default for VisitRoom {
    fn default() -> Self {
        Self { leaf: Leaf::default(), line: 0, tech: tech_form() }
    }
}

/// What tech would like to know.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
enum Asks {
    Et,
    Mph,
    Length,
    Body,
    Year,
}

const LENGTHS: &[Choice] = &[
    Choice { value: "", words: "quarter mile" },
    Choice { value: "eighth", words: "eighth mile" },
];
const BODIES: &[Choice] = &[
    Choice { value: "", words: "closed" },
    Choice { value: "convertible", words: "convertible" },
    Choice { value: "t-top", words: "roof panels that come out" },
];

fn tech_form() -> Form<Asks> {
    Form::new(vec![
        Field::typed(Asks::Et, "Expected time", "s at the finish, if you know"),
        Field::typed(Asks::Mph, "Expected speed", "mph at the finish, if you know"),
        Field::choice(Asks::Length, "Track", "", LENGTHS),
        Field::choice(Asks::Body, "Car body", "", BODIES),
        Field::typed(Asks::Year, "Model year", ""),
    ])
}

fn enter(mut room: ResMut<VisitRoom>, in_force: Res<InForce>, mut trace: ResMut<TraceFile>) {
    for key in [Asks::Et, Asks::Mph, Asks::Length, Asks::Body, Asks::Year] {
        let kept = in_force.choice(&format!("tech {key:?}")).unwrap_or_default();
        room.tech.set(key, kept, true);
    }
    trace.event("prompt Escape Esc: back to the lane");
}

fn leave(mut typing: ResMut<rooms::Typing>) {
    typing.0 = false;
}

fn work_keys(
    mut events: MessageReader<KeyboardInput>,
    screen: Res<State<Screen>>,
    mut room: ResMut<VisitRoom>,
    mut in_force: ResMut<InForce>,
    garage: Res<Garage>,
    mut keeper: Keeper,
    mut typing: ResMut<rooms::Typing>,
    mut next: ResMut<NextState<Screen>>,
) {
    let keys = typed(&mut events);
    if screen.is_changed() {
        return;
    }
    for key in keys {
        match key {
            Typed::Escape => next.set(Screen::Lane),
            Typed::Key(Key::Letter('[' | '<')) => turn(&mut room, false),
            Typed::Key(Key::Letter(']' | '>')) => turn(&mut room, true),
            key if is_letter(key, 'p') => {
                keeper.keep(room.leaf.name(), &page_of(&room, &in_force, &garage));
            }
            Typed::Key(key) if room.leaf == Leaf::Tech => work_tech(&mut room, key, &mut in_force),
            Typed::Key(Key::Left) => turn(&mut room, false),
            Typed::Key(Key::Right) => turn(&mut room, true),
            Typed::Key(Key::Letter('t' | 'T')) if room.leaf == Leaf::WalkThrough => {
                let next = next_tyres(tyres(&in_force));
                in_force.choose("visit tyres", tyres_word(next));
            }
            key if room.leaf == Leaf::Checklist => work_checklist(&mut room, key, &mut in_force),
            _ => {}
        }
    }
    // Years and times are typed there; the brackets lead on.
    typing.0 = room.leaf == Leaf::Tech;
}

/// What is on a leaf.
fn page_of(room: &VisitRoom, in_force: &InForce, garage: &Garage) -> Page {
    match room.leaf {
        Leaf::WalkThrough => first_visit_page(tyres(in_force), size_of(garage)),
        Leaf::Checklist => checklist(in_force),
        Leaf::Tech => ask_tech_page(&question(&room.tech)),
        Leaf::Card => night_card_page(),
        Leaf::GoesWrong => when_it_goes_wrong_page(),
    }
}

fn turn(room: &mut VisitRoom, onward: bool) {
    let at = LEAVES.iter().position(|(leaf, _)| *leaf == room.leaf).unwrap_or(0);
    let step = if onward { 1 } else { LEAVES.len() - 1 };
    room.leaf = LEAVES[(at + step) % LEAVES.len()].0;
}

fn work_checklist(room: &mut VisitRoom, key: Typed, in_force: &mut InForce) {
    let page = checklist(in_force);
    let ticks = page.blocks.iter().find_map(|block| match block {
        Block::Ticks(ticks) => Some(ticks),
        _ => None,
    });
    let Some(ticks) = ticks else { return };
    match key {
        Typed::Key(Key::Next) => room.line = (room.line + 1) % ticks.len(),
        Typed::Key(Key::Previous) => room.line = (room.line + ticks.len() - 1) % ticks.len(),
        Typed::Key(Key::Letter(' ')) | Typed::Enter => {
            if let Some(tick) = ticks.get(room.line) {
                in_force.settings.tick(&tick.key);
            }
        }
        _ => {}
    }
}

fn work_tech(room: &mut VisitRoom, key: Key, in_force: &mut InForce) {
    if room.tech.take(key) {
        let active = room.tech.active().key;
        let text = room.tech.text(active).to_owned();
        in_force.choose(&format!("tech {active:?}"), text);
    }
}

fn tyres(in_force: &InForce) -> TyreKind {
    match in_force.choice("visit tyres") {
        Some("drag-radial") => TyreKind::DragRadial,
        Some("slick") => TyreKind::Slick,
        _ => TyreKind::Street,
    }
}

fn tyres_word(tyres: TyreKind) -> &'static str {
    match tyres {
        TyreKind::Street => "street",
        TyreKind::DragRadial => "drag-radial",
        TyreKind::Slick => "slick",
    }
}

fn next_tyres(tyres: TyreKind) -> TyreKind {
    match tyres {
        TyreKind::Street => TyreKind::DragRadial,
        TyreKind::DragRadial => TyreKind::Slick,
        TyreKind::Slick => TyreKind::Street,
    }
}

fn checklist(in_force: &InForce) -> Page {
    car_checklist_page(&in_force.settings.ticked.iter().cloned().collect())
}

/// The question of the form; a figure that cannot be read is one that is not known.
fn question(form: &Form<Asks>) -> TechQuestion {
    let number = |key| form.text(key).trim().replace(',', ".").parse::<f64>().ok();
    let above_zero = |number: Option<f64>| number.filter(|n| n.is_finite() && *n > 0.0);
    TechQuestion {
        et_s: above_zero(number(Asks::Et)),
        mph: above_zero(number(Asks::Mph)),
        length: match form.text(Asks::Length) {
            "eighth" => TrackLength::Eighth,
            _ => TrackLength::Quarter,
        },
        body: match form.text(Asks::Body) {
            "convertible" => BodyKind::Convertible,
            "t-top" => BodyKind::TTop,
            _ => BodyKind::Closed,
        },
        model_year: form.text(Asks::Year).trim().parse().ok(),
    }
}

fn size_of(garage: &Garage) -> Option<TyreSize> {
    match garage.answers().tyre {
        TyreAnswer::Size(size) => Some(size),
        _ => None,
    }
}

fn visit_ui(
    mut contexts: EguiContexts,
    mut room: ResMut<VisitRoom>,
    mut in_force: ResMut<InForce>,
    garage: Res<Garage>,
    mut next: ResMut<NextState<Screen>>,
) -> Result {
    let ctx = contexts.ctx_mut()?;
    if !ui::dress(ctx) {
        return Ok(());
    }
    let mut ticked = None;
    let room = &mut *room;
    let led = rooms::room_ui(ctx, Screen::Visit, room.leaf.name(), |page| {
        if let Some(leaf) = leaves_ui(page, room.leaf) {
            room.leaf = leaf;
        }
        match room.leaf {
            Leaf::Tech => tech_ui(page, &mut room.tech),
            leaf => {
                let shown = page_of(room, &in_force, &garage);
                let line = (leaf == Leaf::Checklist).then_some(room.line);
                ticked = sheet::page_with_line_ui(page, &shown, line);
            }
        }
        ui::keys(page, &keys_words(room.leaf, &in_force));
    });
    if let Some(sheet::Clicked::Tick(key)) = ticked {
        in_force.settings.tick(&key);
    }
    if let Some(screen) = led {
        next.set(screen);
    }
    Ok(())
}

fn keys_words(leaf: Leaf, in_force: &InForce) -> String {
    let own = match leaf {
        Leaf::WalkThrough => format!("T: other tyres (now {})    ", tyres_word(tyres(in_force))),
        Leaf::Checklist => {
            "\u{2191} \u{2193}: line    Space: tick it or take the tick back    ".to_owned()
        }
        _ => String::new(),
    };
    let other = if leaf == Leaf::Tech { "[ ]" } else { "\u{2190} \u{2192}" };
    format!(
        "{own}{other}: the other leaves    P: keep it as files    PgDn: read on    Esc: back to the lane"
    )
}

/// The names of the leaves in a row; the one that was clicked.
fn leaves_ui(page: &mut Ui, here: Leaf) -> Option<Leaf> {
    let mut clicked = None;
    page.horizontal_wrapped(|row| {
        row.spacing_mut().item_spacing.x = 18.0;
        for (leaf, name) in LEAVES {
            if rooms::name_ui(
                row,
                name,
                leaf == here,
                Stroke::new(1.5, ui::ink(crate::app::theme::Ink::Muted)),
            ) {
                clicked = Some(leaf);
            }
        }
    });
    page.add_space(8.0);
    clicked
}

fn tech_ui(page: &mut Ui, form: &mut Form<Asks>) {
    let made = ask_tech_page(&question(form));
    ui::headline(page, &made.headline);
    let active = form.active().key;
    if let Some(key) = form_ui::fields_ui(page, form.fields(), active) {
        form.go_to(key);
    }
    page.add_space(8.0);
    sheet::blocks_ui(page, &made.blocks);
}
