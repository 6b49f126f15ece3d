//! A form on the screen: one field below the other, worked by keys.
//!
//! Owns how fields look, the one being filled included. Refuses what may stand in them.

use super::ui::{self, ink};
use crate::app::theme::Ink;
use crate::form::Field;
use bevy_egui::egui::{Align2, FontId, Rect, Sense, Stroke, StrokeKind, Ui, Vec2, pos2, vec2};

/// Width of the names and of the boxes, points.
const NAMES: f32 = 190.0;
const BOXES: f32 = 230.0;
/// Height of a field, points.
const HEIGHT: f32 = 30.0;

/// Draws fields below each other, that of `active` being filled; the one that was clicked.
pub fn fields_ui<'a, K: Copy + PartialEq + 'a>(
    ui: &mut Ui,
    fields: impl Iterator<Item = &'a Field<K>>,
    active: K,
) -> Option<K> {
    let mut clicked = None;
    for field in fields {
        if field_ui(ui, field, field.key == active) {
            clicked = Some(field.key);
        }
    }
    clicked
}

/// Draws a field; true when it was clicked.
fn field_ui<K>(ui: &mut Ui, field: &Field<K>, active: bool) -> bool {
    let narrow = ui.available_width() < NAMES + BOXES + 160.0;
    let width = ui.available_width();
    let (rect, response) = ui.allocate_exact_size(vec2(width, HEIGHT), Sense::CLICK);
    let names = if narrow { (width - BOXES).clamp(90.0, NAMES) } else { NAMES };
    let middle = rect.center().y;
    let painter = ui.painter();
    let font = FontId::proportional(16.0);
    let tone = if active { Ink::Text } else { Ink::Muted };
    painter.text(
        pos2(rect.left(), middle),
        Align2::LEFT_CENTER,
        field.label,
        font.clone(),
        ink(tone),
    );
    let left = rect.left() + names;
    let boxed = Rect::from_min_size(pos2(left, rect.top() + 1.0), vec2(BOXES, HEIGHT - 2.0));
    let edge = match (&field.wrong, active) {
        (Some(_), _) => Ink::Risk,
        (None, true) => Ink::Driver,
        (None, false) => Ink::Line,
    };
    painter.rect_filled(boxed, 4.0, ink(Ink::Raised));
    let stroke = Stroke::new(if active { 2.0 } else { 1.0 }, ink(edge));
    painter.rect_stroke(boxed, 4.0, stroke, StrokeKind::Inside);
    let words = match (field.is_choice(), active) {
        (true, true) => format!("\u{2190} {} \u{2192}", field.shown()),
        _ => field.shown().to_owned(),
    };
    let clip = painter.with_clip_rect(boxed.shrink(4.0));
    let at = pos2(boxed.left() + 10.0, middle);
    // What was there before is lighter: the next letter begins anew.
    let tone = if field.from_before() { Ink::Muted } else { Ink::Text };
    let written = clip.text(at, Align2::LEFT_CENTER, words, font, ink(tone));
    if active && !field.is_choice() {
        let caret = written.right().max(at.x) + 2.0;
        painter.vline(caret, boxed.shrink(6.0).y_range(), Stroke::new(1.5, ink(Ink::Driver)));
    }
    let said = match &field.wrong {
        Some(wrong) => Some((wrong.as_str(), Ink::Risk)),
        None if active => Some((field.hint, Ink::Muted)),
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
    // In sight when it is gone to; whoever scrolls on is not called back.
    let id = ui.id().with("active-field");
    if active && ui.data(|data| data.get_temp(id)) != Some(field.label) {
        ui.data_mut(|data| data.insert_temp(id, field.label));
        ui.scroll_to_rect(rect.expand2(Vec2::new(0.0, 60.0)), None);
    }
    response.clicked()
}
