//! A form on the screen: one field below the other, worked by keys.
//!
//! Owns how fields look, the one being filled included. Refuses what may stand in them.

use super::ui::{self, ink};
use crate::app::theme::palette;
use bevy_egui::egui::{Align2, FontId, Rect, Sense, Stroke, StrokeKind, Ui, Vec2, pos2, vec2};

/// Width of the names and of the boxes, points.
const NAMES: f32 = 190.0;
const BOXES: f32 = 230.0;
/// Height of a field, points.
const HEIGHT: f32 = 30.0;

/// A field as it is shown.
#[derive(Debug, Clone, Copy)]
pub struct Shown<'a> {
    /// Its name.
    pub name: &'a str,
    /// What stands in it.
    pub text: &'a str,
    /// One of several, not typed.
    pub is_choice: bool,
    /// What belongs in it; shown while it is filled.
    pub hint: &'a str,
    /// What is wrong with it.
    pub wrong: Option<&'a str>,
}

/// Draws a field; true when it was clicked.
pub fn field_ui(ui: &mut Ui, field: Shown<'_>, active: bool) -> bool {
    let narrow = ui.available_width() < NAMES + BOXES + 160.0;
    let width = ui.available_width();
    let (rect, response) = ui.allocate_exact_size(vec2(width, HEIGHT), Sense::CLICK);
    let names = if narrow { (width - BOXES).clamp(90.0, NAMES) } else { NAMES };
    let middle = rect.center().y;
    let painter = ui.painter();
    let font = FontId::proportional(16.0);
    let tone = if active { palette::TEXT } else { palette::MUTED };
    painter.text(
        pos2(rect.left(), middle),
        Align2::LEFT_CENTER,
        field.name,
        font.clone(),
        ink(tone),
    );
    let left = rect.left() + names;
    let boxed = Rect::from_min_size(pos2(left, rect.top() + 1.0), vec2(BOXES, HEIGHT - 2.0));
    let edge = match (field.wrong, active) {
        (Some(_), _) => palette::RISK,
        (None, true) => palette::DRIVER,
        (None, false) => palette::LINE,
    };
    painter.rect_filled(boxed, 4.0, ink(palette::PANEL_RAISED));
    let stroke = Stroke::new(if active { 2.0 } else { 1.0 }, ink(edge));
    painter.rect_stroke(boxed, 4.0, stroke, StrokeKind::Inside);
    let words = match (field.is_choice, active) {
        (true, true) => format!("\u{2190} {} \u{2192}", field.text),
        _ => field.text.to_owned(),
    };
    let clip = painter.with_clip_rect(boxed.shrink(4.0));
    let at = pos2(boxed.left() + 10.0, middle);
    let written = clip.text(at, Align2::LEFT_CENTER, words, font, ink(palette::TEXT));
    if active && !field.is_choice {
        let caret = written.right().max(at.x) + 2.0;
        painter.vline(caret, boxed.shrink(6.0).y_range(), Stroke::new(1.5, ink(palette::DRIVER)));
    }
    let said = match field.wrong {
        Some(wrong) => Some((wrong, palette::RISK)),
        None if active => Some((field.hint, palette::MUTED)),
        None => None,
    };
    if let Some((text, rgb)) = said.filter(|(text, _)| !text.is_empty()) {
        if narrow {
            ui.label(ui::words(text, 14.0, rgb));
        } else {
            let room = rect.right() - boxed.right() - 14.0;
            let font = FontId::proportional(14.0);
            let galley = ui.painter().layout(text.to_owned(), font, ink(rgb), room);
            let top = middle - 0.5 * galley.size().y.min(HEIGHT + 6.0);
            ui.painter().galley(pos2(boxed.right() + 14.0, top), galley, ink(rgb));
        }
    }
    if active {
        ui.scroll_to_rect(rect.expand2(Vec2::new(0.0, 60.0)), None);
    }
    response.clicked()
}
