//! Paused: what can be changed between runs, and the settings.
//!
//! Owns the menu and the keys that change drill, style and lane, here and between runs. Refuses to
//! hide a run: what was broken off has been counted before this opens.

use super::{rooms, ui};
use crate::app::Screen;
use crate::app::lane::{Ending, Phase, Session, drill_word, style_name};
use crate::app::presses::Presses;
use crate::app::settings::InForce;
use crate::app::sight::Sight;
use crate::app::trace_file::TraceFile;
use crate::report::help::{drill_name, drill_sentence};
use crate::tree::{Company, Lane};
use bevy::prelude::*;
use bevy_egui::egui::Ui;
use bevy_egui::{EguiContexts, EguiPrimaryContextPass};

pub(super) fn plugin(app: &mut App) {
    app.add_systems(OnEnter(Screen::Menu), trace_prompt)
        .add_systems(Update, (work_menu, change_between_runs))
        .add_systems(EguiPrimaryContextPass, menu_ui.run_if(in_state(Screen::Menu)));
}

#[derive(Debug, Clone, Copy, PartialEq, Eq)]
enum Entry {
    GoOn,
    Drill,
    Style,
    Side,
    Company,
    Drivers,
    Car,
    TextSize,
    Look,
    TrueSize,
    Sounds,
    Controls,
    Help,
    Quit,
}

/// How many of the entries are about this sitting.
const SITTING: usize = 7;
/// From this width on there are two columns, points.
const TWO_COLUMNS: f32 = 760.0;

const ENTRIES: [(Entry, KeyCode); 14] = [
    (Entry::GoOn, KeyCode::Enter),
    (Entry::Drill, KeyCode::KeyD),
    (Entry::Style, KeyCode::KeyT),
    (Entry::Side, KeyCode::KeyL),
    (Entry::Company, KeyCode::KeyO),
    (Entry::Drivers, KeyCode::KeyB),
    (Entry::Car, KeyCode::KeyC),
    (Entry::TextSize, KeyCode::KeyS),
    (Entry::Look, KeyCode::KeyV),
    (Entry::TrueSize, KeyCode::KeyY),
    (Entry::Sounds, KeyCode::KeyM),
    (Entry::Controls, KeyCode::KeyK),
    (Entry::Help, KeyCode::F1),
    (Entry::Quit, KeyCode::KeyQ),
];

fn trace_prompt(mut trace: ResMut<TraceFile>) {
    trace.event("prompt Enter Enter: back to the lane");
}

/// Drill, style and lane may also be changed in the lane while nothing runs.
fn change_between_runs(
    keyboard: Res<ButtonInput<KeyCode>>,
    screen: Res<State<Screen>>,
    mut phase: ResMut<Phase>,
    mut session: ResMut<Session>,
    mut trace: ResMut<TraceFile>,
) {
    let between = match &*phase {
        Phase::Ready => true,
        Phase::Asked { .. } => false,
        Phase::Live(live) => matches!(live.ending, Ending::Told { seen: Some(_), .. }),
    };
    if !between || !matches!(**screen, Screen::Lane) {
        return;
    }
    for entry in [Entry::Drill, Entry::Style, Entry::Side] {
        let key = ENTRIES.iter().find(|(e, _)| *e == entry).map(|(_, key)| *key);
        if key.is_some_and(|key| keyboard.just_pressed(key)) {
            change(entry, &mut session, &mut trace);
            *phase = Phase::Ready;
        }
    }
}

fn work_menu(keyboard: Res<ButtonInput<KeyCode>>, screen: Res<State<Screen>>, mut doing: Doing) {
    if !matches!(**screen, Screen::Menu) || screen.is_changed() {
        return;
    }
    if keyboard.just_pressed(KeyCode::Escape) || keyboard.just_pressed(KeyCode::Space) {
        doing.work(Entry::GoOn);
    }
    for (entry, key) in ENTRIES {
        if keyboard.just_pressed(key) {
            doing.work(entry);
        }
    }
}

/// What the menu acts on.
#[derive(bevy::ecs::system::SystemParam)]
struct Doing<'w> {
    session: ResMut<'w, Session>,
    phase: ResMut<'w, Phase>,
    next: ResMut<'w, NextState<Screen>>,
    trace: ResMut<'w, TraceFile>,
    in_force: ResMut<'w, InForce>,
    exit: MessageWriter<'w, AppExit>,
}

impl Doing<'_> {
    fn work(&mut self, entry: Entry) {
        match entry {
            Entry::GoOn => self.next.set(Screen::Lane),
            Entry::Drill | Entry::Style | Entry::Side | Entry::Company => {
                if self.phase.live().is_some_and(|live| !live.is_running()) {
                    *self.phase = Phase::Ready;
                }
                change(entry, &mut self.session, &mut self.trace);
            }
            Entry::Drivers => self.next.set(Screen::Drivers),
            Entry::Car => self.next.set(Screen::Questions),
            Entry::TextSize => self.in_force.next_text_scale(),
            Entry::Look => self.in_force.next_theme(),
            Entry::Controls => self.next.set(Screen::Controls),
            Entry::TrueSize => self.next.set(Screen::Sight),
            Entry::Sounds => self.next.set(Screen::Sounds),
            Entry::Help => self.next.set(Screen::Help),
            Entry::Quit => {
                self.trace.event("quit");
                self.exit.write(AppExit::Success);
            }
        }
    }
}

fn change(entry: Entry, session: &mut Session, trace: &mut TraceFile) {
    match entry {
        Entry::Drill => {
            session.change_drill();
            trace.event(format_args!("drill {}", drill_word(session.drill())));
        }
        Entry::Style => {
            session.change_style();
            trace.event(format_args!("style {}", style_name(session.style())));
        }
        Entry::Side => {
            session.lane = session.lane.other();
        }
        Entry::Company => session.company = next_company(session.company),
        _ => {}
    }
}

fn next_company(now: Company) -> Company {
    Company::all().skip_while(|company| *company != now).nth(1).unwrap_or_default()
}

fn menu_ui(mut contexts: EguiContexts, mut doing: Doing, presses: Res<Presses>) -> Result {
    let ctx = contexts.ctx_mut()?;
    if !ui::dress(ctx) {
        return Ok(());
    }
    let mut clicked = None;
    let led = rooms::room_ui(ctx, Screen::Menu, "", |page| {
        ui::headline(page, "Paused. Nothing is running.");
        if doing.session.shows_numbers() {
            ui::aside(page, &format!("{}", doing.session.tally()));
        }
        ui::aside(page, &presses.describe());
        ui::aside(page, drill_sentence(doing.session.drill()));
        if let Some(trouble) = &doing.in_force.trouble {
            ui::warning(page, trouble);
        }
        page.add_space(12.0);
        let mut list = |ui: &mut Ui, entries: &[(Entry, KeyCode)]| {
            for (entry, _) in entries {
                let words = label(*entry, &doing.session, &doing.in_force);
                if ui::choice(ui, &words, *entry == Entry::GoOn) {
                    clicked = Some(*entry);
                }
            }
        };
        // The sitting on the left, the program on the right; below each other where that is too narrow.
        if page.available_width() < TWO_COLUMNS {
            list(page, &ENTRIES);
        } else {
            let (sitting, program) = ENTRIES.split_at(SITTING);
            page.columns(2, |columns| {
                list(&mut columns[0], sitting);
                list(&mut columns[1], program);
            });
        }
        ui::keys(page, "Press the key at the end of a line, or click it. Esc: back to the lane");
    });
    if let Some(entry) = clicked {
        doing.work(entry);
    }
    if let Some(screen) = led {
        doing.next.set(screen);
    }
    Ok(())
}

fn label(entry: Entry, session: &Session, in_force: &InForce) -> String {
    let lane = match session.lane {
        Lane::Left => "left",
        Lane::Right => "right",
    };
    match entry {
        Entry::GoOn => "Back to the lane  \u{2014}  Enter".to_owned(),
        Entry::Drill => format!("Drill: {}  \u{2014}  D", drill_name(session.drill())),
        Entry::Style => format!("You mean to: {}  \u{2014}  T", style_name(session.style())),
        Entry::Side => format!("Your lane: {lane}  \u{2014}  L"),
        Entry::Company => {
            format!("In the other lane: {}  \u{2014}  O", session.company.name())
        }
        Entry::Drivers => format!("Who drives: {}  \u{2014}  B", session.driver),
        Entry::Car => "My car: the five questions  \u{2014}  C".to_owned(),
        Entry::TextSize => {
            format!("Text size: {:.0} %  \u{2014}  S", 100.0 * in_force.text_scale())
        }
        Entry::Look => format!("Look of the pages: {}  \u{2014}  V", in_force.theme().word()),
        Entry::Controls => "Keys, buttons, pedals  \u{2014}  K".to_owned(),
        Entry::TrueSize => match Sight::of(in_force) {
            Some(_) => "Size of the tree: as at the track  \u{2014}  Y".to_owned(),
            None => "Size of the tree: easy to read  \u{2014}  Y".to_owned(),
        },
        Entry::Sounds => "Sounds  \u{2014}  M".to_owned(),
        Entry::Help => "Help, safe practice, flashing lights  \u{2014}  F1".to_owned(),
        Entry::Quit => "Quit  \u{2014}  Q".to_owned(),
    }
}
