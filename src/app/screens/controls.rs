//! Controls: which key, button or pedal does what, bound anew.
//!
//! Owns the list, listening for the control to be bound and the question when it has something else to
//! do. Refuses the rules of it (the controls room).

use super::{rooms, sheet, ui};
use crate::app::bindings::{Bindings, Who};
use crate::app::garage::Garage;
use crate::app::presses::Presses;
use crate::app::trace_file::TraceFile;
use crate::app::{AppSystems, Screen};
use crate::car::EdgeAnswer;
use crate::controls::{Act, ControlsError, Offer, Set, words};
use crate::press::{Control, keys};
use crate::report::controls::{controls_page, controls_words};
use crate::report::page::Block;
use bevy::prelude::*;
use bevy_egui::{EguiContexts, EguiPrimaryContextPass};

/// What is going on here.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Default)]
enum Doing {
    #[default]
    Choosing,
    /// The next control that goes down is bound to the act.
    Listening(Act),
    /// The control has something else to do: shall they be changed?
    Asking(Act, Control),
}

/// The room.
#[derive(Resource, Default)]
pub(super) struct ControlsRoom {
    at: usize,
    doing: Doing,
    news: Option<String>,
}

impl ControlsRoom {
    /// The next control that goes down is to be bound.
    pub(super) fn listens(&self) -> bool {
        matches!(self.doing, Doing::Listening(_))
    }
}

pub(super) fn plugin(app: &mut App) {
    app.init_resource::<ControlsRoom>()
        .add_systems(OnEnter(Screen::Controls), enter)
        .add_systems(OnExit(Screen::Controls), leave)
        // After the presses: the key that asks for a control must not be taken for it.
        .add_systems(
            Update,
            work_keys.after(AppSystems::ReadPresses).run_if(in_state(Screen::Controls)),
        )
        .add_systems(EguiPrimaryContextPass, controls_ui.run_if(in_state(Screen::Controls)));
}

fn enter(mut room: ResMut<ControlsRoom>, mut trace: ResMut<TraceFile>) {
    *room = ControlsRoom::default();
    trace.event("prompt Escape Esc: back to the settings");
}

fn leave(mut typing: ResMut<rooms::Typing>) {
    typing.0 = false;
}

fn work_keys(
    keyboard: Res<ButtonInput<KeyCode>>,
    screen: Res<State<Screen>>,
    presses: Res<Presses>,
    mut room: ResMut<ControlsRoom>,
    mut bindings: ResMut<Bindings>,
    mut typing: ResMut<rooms::Typing>,
    mut next: ResMut<NextState<Screen>>,
    mut trace: ResMut<TraceFile>,
) {
    if screen.is_changed() {
        return;
    }
    let pressed = |key| keyboard.just_pressed(key);
    match room.doing {
        Doing::Choosing => choose(&pressed, &mut room, &mut bindings, &mut next),
        Doing::Listening(act) => {
            if pressed(KeyCode::Escape) {
                room.doing = Doing::Choosing;
            } else if let Some(control) = presses.touched().first().copied() {
                bind(&mut room, &mut bindings, act, control);
                trace.event(format_args!("bound {} {}", act.word(), keys::key_name(control)));
            }
        }
        Doing::Asking(act, control) => {
            if pressed(KeyCode::Enter) {
                let news = bindings.driver.swap(act, control).err();
                room.news = news.map(|error| error.to_string());
                room.doing = Doing::Choosing;
            } else if pressed(KeyCode::Escape) {
                (room.doing, room.news) = (Doing::Choosing, None);
            }
        }
    }
    let listens = matches!(room.doing, Doing::Listening(_));
    if typing.0 != listens {
        // Numbers and F1 are controls to be refused with a reason, not ways out.
        typing.0 = listens;
    }
}

fn choose(
    pressed: &impl Fn(KeyCode) -> bool,
    room: &mut ControlsRoom,
    bindings: &mut ResMut<Bindings>,
    next: &mut NextState<Screen>,
) {
    let last = Act::ALL.len() - 1;
    let act = Act::ALL[room.at.min(last)];
    if pressed(KeyCode::Escape) {
        next.set(Screen::Menu);
    } else if pressed(KeyCode::ArrowDown) {
        room.at = (room.at + 1).min(last);
    } else if pressed(KeyCode::ArrowUp) {
        room.at = room.at.saturating_sub(1);
    } else if pressed(KeyCode::Enter) {
        (room.doing, room.news) = (Doing::Listening(act), None);
    } else if pressed(KeyCode::Delete) || pressed(KeyCode::Backspace) {
        let newest = bindings.driver.controls_of(act).last();
        let taken = newest.map(|control| (control, bindings.driver.unbind(control)));
        room.news = match taken {
            Some((control, Ok(act))) => Some(format!("{} is no longer for {act}.", words(control))),
            Some((_, Err(error))) => Some(error.to_string()),
            None => Some(format!("Nothing is bound to {act}.")),
        };
    } else if pressed(KeyCode::KeyS) {
        let set = match bindings.driver.set() {
            Some(Set::RightHand) => Set::LeftHand,
            _ => Set::RightHand,
        };
        bindings.driver.reset(set);
        room.news = Some(format!("As for the {}. {}", set.name(), set.why()));
    } else if pressed(KeyCode::KeyB) {
        let on = !bindings.driver.holds_to_brake();
        let done = bindings.driver.set_hold_to_brake(on);
        room.news = done.err().map(|error| error.to_string());
    }
}

/// Binds, or asks what is to become of what the control does now.
fn bind(room: &mut ControlsRoom, bindings: &mut Bindings, act: Act, control: Control) {
    room.doing = Doing::Choosing;
    room.news = match bindings.driver.bind(act, control) {
        Ok(()) => Some(format!("{} is for {act}.", words(control))),
        Err(error) => {
            if let ControlsError::Taken { offer, .. } = error
                && offer != Offer::Nothing
            {
                room.doing = Doing::Asking(act, control);
            }
            Some(error.to_string())
        }
    };
}

fn controls_ui(
    mut contexts: EguiContexts,
    bindings: Res<Bindings>,
    garage: Res<Garage>,
    mut room: ResMut<ControlsRoom>,
    mut next: ResMut<NextState<Screen>>,
) -> Result {
    let ctx = contexts.ctx_mut()?;
    if !ui::dress(ctx) {
        return Ok(());
    }
    let mut clicked = None;
    let led = rooms::room_ui(ctx, Screen::Controls, "", |page| {
        let told = controls_page(&bindings.driver, None, &[]);
        ui::headline(page, &told.headline);
        let edge = match garage.edge() {
            EdgeAnswer::Press => "pressing",
            EdgeAnswer::Release => "letting go",
        };
        ui::aside(page, &format!("Your car launches on {edge} (My car: the five questions)"));
        page.add_space(10.0);
        for (i, act) in Act::ALL.into_iter().enumerate() {
            let names = controls_words(&bindings.driver, act);
            if ui::choice(page, &format!("{act}: {names}"), i == room.at) {
                clicked = Some(i);
            }
        }
        let keys = match room.doing {
            Doing::Choosing => {
                "\u{2191} \u{2193}: which   Enter: bind a control to it   Del: take its last one away   \
                 S: the other hand's set   B: hold to brake   Esc: back"
            }
            Doing::Listening(_) => {
                "Press the key, button, mouse button or pedal to bind   Esc: never mind"
            }
            Doing::Asking(..) => "Enter: do that   Esc: leave it",
        };
        if let Some(news) = &room.news {
            ui::body(page, news);
        }
        if let Doing::Listening(act) = room.doing {
            ui::heading(page, &format!("Press what is to be for: {act}"));
        }
        ui::aside(page, &format!("Who sits beside you has {}", beside(&bindings)));
        page.add_space(8.0);
        // The list above is the page's table, with the keys at one of its rows.
        let is_list = |block: &&Block| matches!(block, Block::Table(table) if table.rows.len() == Act::ALL.len());
        let rest: Vec<Block> =
            told.blocks.iter().filter(|block| !is_list(block)).cloned().collect();
        sheet::blocks_ui(page, &rest);
        ui::keys(page, keys);
    });
    if let Some(i) = clicked.filter(|_| room.doing == Doing::Choosing) {
        room.at = i;
    }
    if let Some(screen) = led {
        next.set(screen);
    }
    Ok(())
}

fn beside(bindings: &Bindings) -> String {
    let of = |act| {
        let names: Vec<String> =
            bindings.controls_of(Who::Guest, act).into_iter().map(words).collect();
        format!("for {act} {}", names.join(", "))
    };
    Act::ALL.map(of).join("; ")
}
