//! A page of the report room on the screen.
//!
//! Owns how each kind of block looks in the window. Refuses content, and to compute anything but
//! places.

mod paper;
mod plot;
mod table;
mod time_bar;

use super::ui::{self, ink};
use crate::app::theme::Ink;
use crate::report::page::{Block, Hue, Page, Tick};
use bevy_egui::egui::{Align2, Color32, FontId, Sense, Stroke, StrokeKind, Ui, Vec2};

/// What was clicked on a page.
#[derive(Debug, Clone, PartialEq, Eq)]
pub enum Clicked {
    /// A thing to tick, by its key.
    Tick(String),
}

/// Draws a page from its headline down.
pub fn page_ui(ui: &mut Ui, page: &Page) -> Option<Clicked> {
    ui::headline(ui, &page.headline);
    blocks_ui(ui, &page.blocks)
}

/// The same with the line of a list that the keys are at.
pub fn page_with_line_ui(ui: &mut Ui, page: &Page, line: Option<usize>) -> Option<Clicked> {
    ui::headline(ui, &page.headline);
    draw(ui, &page.blocks, line)
}

/// Draws blocks below each other.
pub fn blocks_ui(ui: &mut Ui, blocks: &[Block]) -> Option<Clicked> {
    draw(ui, blocks, None)
}

fn draw(ui: &mut Ui, blocks: &[Block], line: Option<usize>) -> Option<Clicked> {
    let mut clicked = None;
    for (i, block) in blocks.iter().enumerate() {
        match block {
            Block::Heading(text) => ui::heading(ui, text),
            Block::Text(text) => ui::body(ui, text),
            Block::Note(text) => {
                ui::aside(ui, text);
                ui.add_space(2.0);
            }
            Block::Caution(text) => ui::warning(ui, text),
            Block::Points(points) => points.iter().for_each(|point| point_ui(ui, point)),
            Block::Table(table) => table::table_ui(ui, table),
            Block::Paper(table) => paper::paper_ui(ui, table),
            Block::Plot(plot) => plot::plot_ui(ui, i, plot),
            Block::TimeBar(bar) => time_bar::time_bar_ui(ui, bar),
            Block::Ticks(ticks) => clicked = ticks_ui(ui, ticks, line).or(clicked),
        }
    }
    clicked
}

/// The colour of a meaning.
fn color(hue: Hue) -> Color32 {
    ink(match hue {
        Hue::Driver => Ink::Driver,
        Hue::Car => Ink::Car,
        Hue::Text => Ink::Text,
        Hue::Muted => Ink::Muted,
        Hue::Risk => Ink::Risk,
        Hue::Clear => Ink::Clear,
    })
}

fn point_ui(ui: &mut Ui, text: &str) {
    ui.horizontal_top(|ui| {
        ui.label(ui::words("\u{2022}", 17.0, Ink::Muted));
        ui.vertical(|ui| ui.label(ui::words(text, 17.0, Ink::Text)));
    });
    ui.add_space(4.0);
}

fn ticks_ui(ui: &mut Ui, ticks: &[Tick], line: Option<usize>) -> Option<Clicked> {
    let mut clicked = None;
    for (i, tick) in ticks.iter().enumerate() {
        let width = ui.available_width();
        let font = FontId::proportional(17.0);
        let color = ink(if tick.done { Ink::Muted } else { Ink::Text });
        let words = ui.painter().layout(tick.text.clone(), font, color, width - 34.0);
        let height = words.size().y.max(22.0) + 6.0;
        let (rect, response) = ui.allocate_exact_size(Vec2::new(width, height), Sense::CLICK);
        let boxed =
            Align2::LEFT_TOP.anchor_size(rect.left_top() + Vec2::new(0.0, 3.0), Vec2::splat(18.0));
        let painter = ui.painter();
        let at = line == Some(i);
        let edge = ink(if at { Ink::Driver } else { Ink::Muted });
        let stroke = Stroke::new(if at { 2.5 } else { 1.5 }, edge);
        painter.rect_stroke(boxed, 4.0, stroke, StrokeKind::Inside);
        if tick.done {
            let stroke = Stroke::new(2.5, ink(Ink::Clear));
            let at = |x: f32, y: f32| boxed.left_top() + 18.0 * Vec2::new(x, y);
            painter.line_segment([at(0.22, 0.52), at(0.43, 0.74)], stroke);
            painter.line_segment([at(0.43, 0.74), at(0.80, 0.28)], stroke);
        }
        painter.galley(rect.left_top() + Vec2::new(32.0, 1.0), words, color);
        if response.clicked() {
            clicked = Some(Clicked::Tick(tick.key.clone()));
        }
    }
    ui.add_space(8.0);
    clicked
}
