//! Which runs: a list worked by arrows.
//!
//! Owns the list on the screen. Refuses what there is to choose (the strategy room).

use super::super::ui::{self, ink};
use crate::app::theme::Ink;
use crate::strategy::weeks::{Choices, ROWS, Row};
use bevy_egui::egui::{Align2, FontId, Sense, Stroke, StrokeKind, Ui, Vec2, pos2};

/// Width of the names, points.
const NAMES: f32 = 190.0;
/// Height of a row, points.
const HEIGHT: f32 = 36.0;

/// The list and the row the keys are at.
#[derive(Debug, Clone, PartialEq)]
pub struct Choosing {
    pub choices: Choices,
    at: usize,
}

impl Choosing {
    /// A list at its first row that has something to choose.
    pub fn new(choices: Choices) -> Self {
        let at = ROWS.iter().position(|row| choices.is_open(*row)).unwrap_or(0);
        Self { choices, at }
    }

    /// To the next row with something to choose, or the one before.
    pub fn step(&mut self, down: bool) {
        let by = if down { 1 } else { ROWS.len() - 1 };
        let turns = (1..=ROWS.len()).map(|i| (self.at + i * by) % ROWS.len());
        let open = turns.into_iter().find(|at| self.choices.is_open(ROWS[*at]));
        self.at = open.unwrap_or(self.at);
    }

    /// The next choice of the row, or the one before.
    pub fn turn(&mut self, forward: bool) {
        self.choices.turn(ROWS[self.at], forward);
    }
}

/// Draws the list.
pub fn choose_ui(page: &mut Ui, choosing: &mut Choosing) {
    ui::headline(page, "Which runs?");
    let mut clicked = None;
    for (i, row) in ROWS.into_iter().enumerate() {
        if row_ui(page, &choosing.choices, row, i == choosing.at) {
            clicked = Some(i);
        }
    }
    if let Some(i) = clicked.filter(|i| choosing.choices.is_open(ROWS[*i])) {
        if i == choosing.at {
            choosing.turn(true);
        }
        choosing.at = i;
    }
    page.add_space(8.0);
    ui::aside(
        page,
        "Runs in another car, on another tree or rig, or meant otherwise are no measure of a change in \
         you. They are compared only if you say so in the last row.",
    );
    ui::keys(
        page,
        "\u{2191} \u{2193}: row    \u{2190} \u{2192}: choice    Enter: look at these    Esc: as before",
    );
}

/// A row; true when it was clicked.
fn row_ui(page: &mut Ui, choices: &Choices, row: Row, active: bool) -> bool {
    let open = choices.is_open(row);
    let (rect, response) =
        page.allocate_exact_size(Vec2::new(page.available_width(), HEIGHT), Sense::CLICK);
    let painter = page.painter();
    if active {
        let boxed = rect.shrink(1.0);
        painter.rect_filled(boxed, 4.0, ink(Ink::Raised));
        painter.rect_stroke(boxed, 4.0, Stroke::new(2.0, ink(Ink::Driver)), StrokeKind::Inside);
    }
    let font = FontId::proportional(17.0);
    let middle = rect.center().y;
    let at = |x: f32| pos2(rect.left() + x, middle);
    painter.text(at(12.0), Align2::LEFT_CENTER, row.words(), font.clone(), ink(Ink::Muted));
    let words = choices.words(row);
    let words = if active && open { format!("\u{2190} {words} \u{2192}") } else { words };
    let tone = if open { Ink::Text } else { Ink::Muted };
    painter.text(at(NAMES), Align2::LEFT_CENTER, words, font, ink(tone));
    if active {
        page.scroll_to_rect(rect, None);
    }
    response.clicked()
}
