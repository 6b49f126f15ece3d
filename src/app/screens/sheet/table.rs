//! A table: names on the left, figures right-aligned below their heads.
//!
//! Owns column widths. Refuses sorting and editing.

use super::super::ui::{self, ink};
use crate::app::theme::Ink;
use crate::report::page::Table;
use bevy_egui::egui::{FontId, Galley, Rect, Sense, Stroke, Ui, Vec2, pos2};
use std::sync::Arc;

/// Between two columns, points.
const GAP: f32 = 22.0;
/// Above and below a row, points.
const PAD: f32 = 4.0;
/// Width of a column to be filled in by hand, points.
const BLANK: f32 = 76.0;
/// The narrowest column of names, points.
const NARROWEST: f32 = 120.0;

/// Draws the table.
pub fn table_ui(ui: &mut Ui, table: &Table) {
    if !table.title.is_empty() {
        ui.label(ui::words(&table.title, 15.0, Ink::Muted));
        ui.add_space(4.0);
    }
    let widths = widths(ui, table);
    let columns: Vec<(f32, bool)> = widths
        .iter()
        .enumerate()
        .map(|(i, width)| (*width, is_text(ui, table, i, *width)))
        .collect();
    if table.columns.iter().any(|head| !head.is_empty()) {
        row_ui(ui, &table.columns, &columns, 14.0, Ink::Muted);
    }
    for row in &table.rows {
        row_ui(ui, row, &columns, 16.0, Ink::Text);
    }
    ui.add_space(12.0);
}

/// Every column as wide as its widest cell; where that is too much, the widest ones wrap.
fn widths(ui: &Ui, table: &Table) -> Vec<f32> {
    let natural = |column: usize| {
        let cells = table.rows.iter().map(|row| (&row[column], 16.0));
        let head = std::iter::once((&table.columns[column], 14.0));
        let wide = |(text, size): (&String, f32)| layout(ui, text, size, f32::INFINITY).size().x;
        let widest = head.chain(cells).map(wide).fold(0.0, f32::max).ceil() + 1.0;
        let blank = !table.rows.is_empty() && table.rows.iter().all(|row| row[column].is_empty());
        if blank { widest.max(BLANK) } else { widest }
    };
    let mut widths: Vec<f32> = (0..table.columns.len()).map(natural).collect();
    let gaps = GAP * widths.len().saturating_sub(1) as f32;
    let room = (ui.available_width() - gaps).max(NARROWEST);
    while widths.iter().sum::<f32>() > room {
        let sum: f32 = widths.iter().sum();
        let Some(widest) = (0..widths.len()).max_by(|a, b| widths[*a].total_cmp(&widths[*b]))
        else {
            break;
        };
        let second = (0..widths.len()).filter(|i| *i != widest).map(|i| widths[i]);
        let least = second.fold(0.0, f32::max).min(widths[widest] - 1.0).max(40.0);
        let cut = (widths[widest] - (sum - room)).max(least);
        if cut >= widths[widest] {
            break;
        }
        widths[widest] = cut;
    }
    widths
}

/// The first column, and one in which a cell wraps, read from their left like running text.
fn is_text(ui: &Ui, table: &Table, column: usize, width: f32) -> bool {
    let wraps = |row: &Vec<String>| layout(ui, &row[column], 16.0, width).rows.len() > 1;
    table.reads_from_left(column) || table.rows.iter().any(wraps)
}

fn layout(ui: &Ui, text: &str, size: f32, width: f32) -> Arc<Galley> {
    ui.painter().layout(text.to_owned(), FontId::proportional(size), ink(Ink::Text), width)
}

fn row_ui(ui: &mut Ui, cells: &[String], columns: &[(f32, bool)], size: f32, rgb: Ink) {
    let galleys: Vec<Arc<Galley>> = cells
        .iter()
        .zip(columns)
        .map(|(text, (width, _))| layout(ui, text, size, *width))
        .collect();
    let height = galleys.iter().map(|galley| galley.size().y).fold(size, f32::max) + 2.0 * PAD;
    let all = columns.iter().map(|(width, _)| width).sum::<f32>()
        + GAP * columns.len().saturating_sub(1) as f32;
    let (rect, _) = ui.allocate_exact_size(Vec2::new(all, height), Sense::HOVER);
    let mut left = rect.left();
    for (i, (galley, (width, is_text))) in galleys.into_iter().zip(columns).enumerate() {
        let x = if *is_text { left } else { left + width - galley.size().x };
        let color = ink(if i == 0 && rgb == Ink::Text { Ink::Muted } else { rgb });
        ui.painter().galley_with_override_text_color(pos2(x, rect.top() + PAD), galley, color);
        left += width + GAP;
    }
    let foot = Rect::from_min_max(pos2(rect.left(), rect.bottom()), rect.right_bottom());
    let line = Stroke::new(1.0, ink(Ink::Line));
    ui.painter().hline(foot.x_range(), foot.bottom(), line);
}
