//! This rig: how well it times, what that means, and how to do better.
//!
//! Owns the page and its keys. Refuses measuring.

use super::{rooms, ui};
use crate::app::Screen;
use crate::app::lane::Session;
use crate::app::presses::Presses;
use crate::app::rig::Rig;
use crate::app::trace_file::TraceFile;
use bevy::prelude::*;
use bevy_egui::{EguiContexts, EguiPrimaryContextPass};

/// Shares of the travel at which a trigger or pedal may count as down.
const THRESHOLDS: [f64; 4] = [0.125, 0.25, 0.5, 0.75];

pub(super) fn plugin(app: &mut App) {
    app.add_systems(OnEnter(Screen::Rig), trace_prompt)
        .add_systems(Update, work_keys.run_if(in_state(Screen::Rig)))
        .add_systems(EguiPrimaryContextPass, rig_ui.run_if(in_state(Screen::Rig)));
}

#[derive(Debug, Clone, Copy, PartialEq, Eq)]
enum Entry {
    Look,
    Film,
    Threshold,
    Back,
}

const ENTRIES: [(Entry, KeyCode); 4] = [
    (Entry::Look, KeyCode::Enter),
    (Entry::Film, KeyCode::KeyF),
    (Entry::Threshold, KeyCode::KeyT),
    (Entry::Back, KeyCode::Escape),
];

fn trace_prompt(mut trace: ResMut<TraceFile>) {
    trace.event("prompt Enter Enter: look at this rig for ten seconds");
}

fn work_keys(
    keyboard: Res<ButtonInput<KeyCode>>,
    mut presses: ResMut<Presses>,
    mut next: ResMut<NextState<Screen>>,
) {
    for (entry, key) in ENTRIES {
        if keyboard.just_pressed(key) {
            work(entry, &mut presses, &mut next);
        }
    }
}

fn work(entry: Entry, presses: &mut Presses, next: &mut NextState<Screen>) {
    match entry {
        Entry::Look => next.set(Screen::SelfTest),
        Entry::Film => next.set(Screen::FilmShoot),
        Entry::Threshold => {
            let at = THRESHOLDS.iter().position(|share| *share > presses.threshold());
            presses.set_threshold(THRESHOLDS[at.unwrap_or(0)]);
        }
        Entry::Back => next.set(Screen::Menu),
    }
}

fn rig_ui(
    mut contexts: EguiContexts,
    rig: Res<Rig>,
    session: Res<Session>,
    mut presses: ResMut<Presses>,
    mut next: ResMut<NextState<Screen>>,
) -> Result {
    let ctx = contexts.ctx_mut()?;
    if !ui::dress(ctx) {
        return Ok(());
    }
    let mut clicked = None;
    let led = rooms::room_ui(ctx, Screen::Rig, "", |page| {
        let said = rig.said(&session.offset);
        ui::headline(page, &said.headline);
        for line in &said.meaning {
            ui::body(page, line);
        }
        for line in rig.reread() {
            ui::body(page, line);
        }
        if let Some(news) = rig.said_news() {
            ui::warning(page, &news);
        }
        page.add_space(4.0);
        for (entry, _) in ENTRIES {
            if ui::choice(page, &label(entry, &presses, &rig), entry == Entry::Look) {
                clicked = Some(entry);
            }
        }
        page.add_space(10.0);
        ui::aside(page, &presses.describe());
        ui::aside(page, &presses.health());
        for line in &said.figures {
            ui::aside(page, line);
        }
        ui::keys(page, "Your launch control does nothing here but be timed.");
    });
    if let Some(entry) = clicked {
        work(entry, &mut presses, &mut next);
    }
    if let Some(screen) = led {
        next.set(screen);
    }
    Ok(())
}

fn label(entry: Entry, presses: &Presses, rig: &Rig) -> String {
    match entry {
        Entry::Look if rig.last().is_some() => {
            "Look at it again: ten seconds  \u{2014}  Enter".to_owned()
        }
        Entry::Look => "Look at it: ten seconds  \u{2014}  Enter".to_owned(),
        Entry::Film => "Film the delay of control and screen with a phone  \u{2014}  F".to_owned(),
        Entry::Threshold => format!(
            "A trigger or pedal counts as down at {:.1} % of its travel  \u{2014}  T",
            100.0 * presses.threshold()
        ),
        Entry::Back => "Back  \u{2014}  Esc".to_owned(),
    }
}
