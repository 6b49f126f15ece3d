//! A time slip as a strip of paper, the same for both lanes.
//!
//! Owns the paper's look. Refuses what stands on it.

use super::super::ui::ink;
use crate::app::theme::Ink;
use crate::report::page::Table;
use bevy_egui::egui::{Align2, FontId, Sense, Stroke, Ui, Vec2, pos2};

/// Paper under a warm lamp.
const PAPER: Ink = Ink::Text;
/// What is printed on it.
const PRINT: Ink = Ink::Panel;
/// What is printed lightly.
const FAINT: Ink = Ink::Line;
/// Width of the strip, points.
const WIDTH: f32 = 340.0;
/// Height of a printed line, points.
const LINE: f32 = 24.0;
/// Edge of the paper, points.
const EDGE: f32 = 18.0;

/// Draws the slip.
pub fn paper_ui(ui: &mut Ui, slip: &Table) {
    let title = if slip.title.is_empty() { 0.0 } else { LINE };
    let height = 2.0 * EDGE + title + LINE * (1 + slip.rows.len()) as f32 + 6.0;
    let width = WIDTH.min(ui.available_width());
    let (rect, _) = ui.allocate_exact_size(Vec2::new(width, height), Sense::HOVER);
    let painter = ui.painter();
    painter.rect_filled(rect, 3.0, ink(PAPER));
    let (left, right) = (rect.left() + EDGE, rect.right() - EDGE);
    let mut y = rect.top() + EDGE;
    if !slip.title.is_empty() {
        let font = FontId::new(16.0, bevy_egui::egui::FontFamily::Name("medium".into()));
        painter.text(pos2(left, y), Align2::LEFT_TOP, &slip.title, font, ink(PRINT));
        y += LINE;
    }
    // Names on the left, each lane in a column of its own.
    let lanes = slip.columns.len().saturating_sub(1).max(1);
    let column = |i: usize| right - (lanes - 1 - i) as f32 * 100.0;
    for (i, head) in slip.columns.iter().skip(1).enumerate() {
        let font = FontId::proportional(14.0);
        painter.text(pos2(column(i), y), Align2::RIGHT_TOP, head, font, ink(FAINT));
    }
    y += LINE - 2.0;
    painter.hline(left..=right, y, Stroke::new(1.0, ink(FAINT)));
    y += 8.0;
    for row in &slip.rows {
        for (i, cell) in row.iter().enumerate() {
            let font = FontId::proportional(16.0);
            let (at, align) = match i {
                0 => (pos2(left, y), Align2::LEFT_TOP),
                _ => (pos2(column(i - 1), y), Align2::RIGHT_TOP),
            };
            painter.text(at, align, cell, font, ink(if i == 0 { FAINT } else { PRINT }));
        }
        y += LINE;
    }
    ui.add_space(14.0);
}
