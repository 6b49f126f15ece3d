//! My car in five questions, one at a time.
//!
//! Owns the walk through them by keys or mouse. Nothing has to be known; nothing is in force
//! before the last answer. Refuses what an answer is worth.

use super::question_list::{ASKED, take};
use super::ui;
use crate::app::Screen;
use crate::app::garage::Garage;
use crate::app::history_store::Store;
use crate::app::theme::Ink;
use crate::app::trace_file::TraceFile;
use crate::car::Answers;
use bevy::prelude::*;
use bevy_egui::egui::{self, TextEdit};
use bevy_egui::{EguiContexts, EguiPrimaryContextPass};

pub(super) fn plugin(app: &mut App) {
    app.init_resource::<Walk>()
        .add_systems(OnEnter(Screen::Questions), begin)
        .add_systems(Update, work_keys.run_if(in_state(Screen::Questions)))
        .add_systems(EguiPrimaryContextPass, questions_ui.run_if(in_state(Screen::Questions)));
}

/// How far the walk has come.
#[derive(Resource, Debug, Default)]
struct Walk {
    question: usize,
    choice: usize,
    text: String,
    wrong: Option<String>,
    answers: Answers,
}

impl Walk {
    fn put(&mut self, question: usize, trace: &mut TraceFile) {
        self.question = question;
        self.choice = ASKED[question].choices.len() - 1;
        self.text.clear();
        self.wrong = None;
        trace.event(format_args!("prompt Enter Question {} of 5", question + 1));
    }

    fn types(&self) -> bool {
        ASKED[self.question].typed.is_some_and(|(choice, _)| choice == self.choice)
    }

    /// Takes the choice. True when it was the last question.
    fn take(&mut self, trace: &mut TraceFile) -> bool {
        match take(self.question, self.choice, &self.text, &mut self.answers) {
            Err(wrong) => self.wrong = Some(wrong),
            Ok(()) if self.question + 1 < ASKED.len() => self.put(self.question + 1, trace),
            Ok(()) => return true,
        }
        false
    }
}

fn begin(mut walk: ResMut<Walk>, garage: Res<Garage>, mut trace: ResMut<TraceFile>) {
    walk.answers = *garage.answers();
    walk.put(0, &mut trace);
}

fn work_keys(
    keyboard: Res<ButtonInput<KeyCode>>,
    mut walk: ResMut<Walk>,
    mut garage: ResMut<Garage>,
    store: Res<Store>,
    mut next: ResMut<NextState<Screen>>,
    mut trace: ResMut<TraceFile>,
) {
    let count = ASKED[walk.question].choices.len();
    if keyboard.just_pressed(KeyCode::ArrowDown) {
        walk.choice = (walk.choice + 1) % count;
    }
    if keyboard.just_pressed(KeyCode::ArrowUp) {
        walk.choice = (walk.choice + count - 1) % count;
    }
    if keyboard.just_pressed(KeyCode::Escape) {
        match walk.question {
            0 if garage.asked() => next.set(Screen::Lane),
            0 => {}
            question => walk.put(question - 1, &mut trace),
        }
    }
    if keyboard.just_pressed(KeyCode::Enter) && walk.take(&mut trace) {
        finish(&mut walk, &mut garage, &store, &mut next);
    }
}

fn finish(walk: &mut Walk, garage: &mut Garage, store: &Store, next: &mut NextState<Screen>) {
    match garage.answer(walk.answers, "Space") {
        Ok(line) => {
            if let Err(error) = store.submit(line) {
                error!("the car is not saved: {error}");
            }
            next.set(Screen::Lane);
        }
        Err(wrong) => walk.wrong = Some(wrong),
    }
}

fn questions_ui(
    mut contexts: EguiContexts,
    mut walk: ResMut<Walk>,
    mut garage: ResMut<Garage>,
    store: Res<Store>,
    mut next: ResMut<NextState<Screen>>,
    mut trace: ResMut<TraceFile>,
) -> Result {
    let ctx = contexts.ctx_mut()?;
    if !ui::dress(ctx) {
        return Ok(());
    }
    let mut clicked = None;
    let walk = &mut *walk;
    ui::page(ctx, ("questions", walk.question), |page| {
        let asked = &ASKED[walk.question];
        ui::aside(page, &format!("My car, question {} of 5", walk.question + 1));
        page.add_space(4.0);
        ui::headline(page, asked.title);
        ui::body(page, asked.why);
        page.add_space(6.0);
        for (i, text) in asked.choices.iter().enumerate() {
            if ui::choice(page, text, walk.choice == i) {
                clicked = Some(i);
            }
            if let Some((choice, example)) = asked.typed
                && choice == i
                && walk.choice == i
            {
                let edit = TextEdit::singleline(&mut walk.text)
                    .background_color(ui::ink(Ink::Raised))
                    .margin(egui::Margin::symmetric(10, 6))
                    .font(egui::FontId::proportional(18.0))
                    .text_color(ui::ink(Ink::Text))
                    .desired_width(260.0);
                page.add(edit).request_focus();
                ui::aside(page, &format!("for example {example}"));
                page.add_space(8.0);
            }
        }
        if let Some(wrong) = &walk.wrong {
            page.add_space(6.0);
            ui::warning(page, wrong);
        }
        let back = if walk.question > 0 { "    Esc: back" } else { "" };
        ui::keys(page, &format!("\u{2191} \u{2193}: choose    Enter: take it{back}"));
        ui::aside(
            page,
            "You can change all of this at any time. What you don't know is assumed, and said to be.",
        );
    });
    if let Some(i) = clicked {
        let again = walk.choice == i;
        walk.choice = i;
        if (!walk.types() || again) && walk.take(&mut trace) {
            finish(walk, &mut garage, &store, &mut next);
        }
    }
    Ok(())
}
