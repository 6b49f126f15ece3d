//! Aim: how hard to push. Odds: against whom.
//!
//! Owns the keys of both and the slider. Refuses computing (`desk`) and words (the report room).

use super::desk::{DeskRoom, FARTHEST_MS};
use super::keep::Keeper;
use super::race_form::RaceForm;
use super::typing::{Typed, is_letter, typed};
use super::{form_ui, rooms, sheet, ui};
use crate::app::settings::InForce;
use crate::app::trace_file::TraceFile;
use crate::app::{Screen, clock};
use crate::form::Key;
use crate::report::page::{Block, Form};
use bevy::input::keyboard::KeyboardInput;
use bevy::prelude::*;
use bevy_egui::egui::{Slider, Ui};
use bevy_egui::{EguiContexts, EguiPrimaryContextPass};

/// A step with Shift held, ms.
const LONG_STEP_MS: i32 = 10;

pub(super) fn plugin(app: &mut App) {
    app.init_resource::<RaceDesk>();
    for screen in [Screen::Aim, Screen::Odds] {
        app.add_systems(OnEnter(screen), enter)
            .add_systems(OnExit(screen), leave)
            .add_systems(Update, work_keys.run_if(in_state(screen)))
            .add_systems(EguiPrimaryContextPass, desk_ui.run_if(in_state(screen)));
    }
}

/// The race being described, where it is.
#[derive(Resource, Default)]
struct RaceDesk {
    form: Option<RaceForm>,
}

fn enter(mut trace: ResMut<TraceFile>, mut race: ResMut<RaceDesk>) {
    *race = RaceDesk::default();
    trace.event("prompt Escape Esc: back to the lane");
}

fn leave(mut typing: ResMut<rooms::Typing>) {
    typing.0 = false;
}

fn work_keys(
    keyboard: Res<ButtonInput<KeyCode>>,
    mut events: MessageReader<KeyboardInput>,
    screen: Res<State<Screen>>,
    mut room: ResMut<DeskRoom>,
    mut race: ResMut<RaceDesk>,
    mut in_force: ResMut<InForce>,
    mut typing: ResMut<rooms::Typing>,
    mut keeper: Keeper,
    mut next: ResMut<NextState<Screen>>,
) {
    let keys = typed(&mut events);
    if screen.is_changed() {
        return;
    }
    if race.form.is_some() {
        keys.into_iter().for_each(|key| work_form(&mut race, key, &mut in_force));
        typing.0 = race.form.is_some();
        return;
    }
    let shift = keyboard.any_pressed([KeyCode::ShiftLeft, KeyCode::ShiftRight]);
    let step = if shift { LONG_STEP_MS } else { 1 };
    for key in keys {
        match key {
            key if is_letter(key, 'p') => {
                if let Ok(page) = room.page(**screen) {
                    keeper.keep(if **screen == Screen::Odds { "Odds" } else { "Aim" }, &page);
                }
            }
            Typed::Key(Key::Right) => room.shift(step),
            Typed::Key(Key::Left) => room.shift(-step),
            Typed::Escape => next.set(Screen::Lane),
            Typed::Key(Key::Letter('b' | 'B')) => {
                if let Some(best) = room.best_ms() {
                    room.aim_ms = best.clamp(-FARTHEST_MS, FARTHEST_MS);
                }
            }
            Typed::Key(Key::Letter('n' | 'N')) => room.aim_ms = 0,
            Typed::Key(Key::Letter('u' | 'U')) => room.next_setup(),
            Typed::Key(Key::Letter('r' | 'R')) if **screen == Screen::Odds => {
                race.form = Some(RaceForm::of(&in_force));
                typing.0 = true;
            }
            _ => {}
        }
    }
}

fn work_form(race: &mut RaceDesk, key: Typed, in_force: &mut InForce) {
    let Some(form) = &mut race.form else { return };
    match key {
        Typed::Key(key) => form.take(key),
        Typed::Enter => {
            if form.enter().is_some() {
                form.keep(in_force);
                race.form = None;
            }
        }
        Typed::Escape => race.form = None,
    }
}

fn desk_ui(
    mut contexts: EguiContexts,
    screen: Res<State<Screen>>,
    mut room: ResMut<DeskRoom>,
    mut race: ResMut<RaceDesk>,
    mut next: ResMut<NextState<Screen>>,
    mut drawn_ms: Local<i32>,
    mut trace: ResMut<TraceFile>,
) -> Result {
    let began = clock::now();
    let ctx = contexts.ctx_mut()?;
    if !ui::dress(ctx) {
        return Ok(());
    }
    let led =
        rooms::room_ui(ctx, **screen, if race.form.is_some() { "race" } else { "desk" }, |page| {
            if race.form.is_some() {
                race_ui(page, &mut race);
                return;
            }
            match room.page(**screen) {
                Ok(shown) => {
                    ui::headline(page, &shown.headline);
                    // The slider stands right above the plot it moves.
                    let plot =
                        shown.blocks.iter().position(|block| matches!(block, Block::Plot(_)));
                    let (above, below) = shown.blocks.split_at(plot.unwrap_or(shown.blocks.len()));
                    sheet::blocks_ui(page, above);
                    if plot.is_some() {
                        slider_ui(page, &mut room);
                    }
                    sheet::blocks_ui(page, below);
                }
                Err(why) => ui::headline(page, &why),
            }
            if room.is_working() {
                ui::aside(page, "Newer runs or another race are being worked out\u{2026}");
            }
            ui::keys(page, &keys_words(**screen, &room));
        });
    if let Some(screen) = led {
        next.set(screen);
    }
    if *drawn_ms != room.aim_ms {
        *drawn_ms = room.aim_ms;
        let us = (clock::now() - began).ns() / 1000;
        trace.event(format_args!("slider {} {us}", room.aim_ms));
    }
    Ok(())
}

fn keys_words(screen: Screen, room: &DeskRoom) -> String {
    let mut words = "\u{2190} \u{2192}: aim earlier or later, with Shift by 10    N: as now    \
                     B: the best aim"
        .to_owned();
    if room.setups() > 1 {
        words.push_str("    U: another car, tree or style");
    }
    if screen == Screen::Odds {
        words.push_str("    R: opponent and race");
    }
    words + "    P: keep it as files    PgDn: read on    Esc: back to the lane"
}

fn slider_ui(page: &mut Ui, room: &mut DeskRoom) {
    let mut at = room.aim_ms;
    page.spacing_mut().slider_width = (page.available_width() - 160.0).max(200.0);
    let slider = Slider::new(&mut at, -FARTHEST_MS..=FARTHEST_MS)
        .custom_formatter(|ms, _| Form::Earlier.words(ms / 1000.0));
    // The arrows move it from anywhere; a focus of its own would move it twice.
    let response = page.add(slider);
    if response.has_focus() {
        response.surrender_focus();
    }
    page.add_space(6.0);
    room.aim_ms = at;
}

fn race_ui(page: &mut Ui, race: &mut RaceDesk) {
    ui::headline(page, "Against whom, and how is it judged?");
    let Some(form) = &mut race.form else { return };
    let clicked = form_ui::fields_ui(page, form.fields(), form.active());
    ui::keys(
        page,
        "\u{2191} \u{2193}: field    \u{2190} \u{2192}: choice    Enter: work it out    Esc: leave it",
    );
    if let Some(key) = clicked {
        form.go_to(key);
    }
}
