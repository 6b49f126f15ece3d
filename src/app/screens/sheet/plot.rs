//! A plot on a page.
//!
//! Owns how layers, axes and labels look in the window, and the values that are shown under the
//! pointer. Refuses zooming: what a plot shows was chosen for its question.

use super::super::ui::{self, ink};
use super::color;
use crate::app::theme::Ink;
use crate::report::page::ticks::{Side, axis_ticks, label_places};
use crate::report::page::{Axis, Form, Layer, LayerKind, Plot};
use crate::report::plot_csv;
use bevy_egui::egui::{Align2, Color32, Event, Id, Key, Rect, Stroke, StrokeKind, Ui};
use egui_plot::{
    Bar, BarChart, FilledArea, GridInput, GridMark, HLine, HoverPosition, Line, LineStyle, Points,
    Span, Text,
};

/// Height of a plot, points.
const HEIGHT: f32 = 300.0;
/// Room on every side of what is drawn, as a share of it.
const MARGIN: f64 = 0.03;
/// Ticks on an axis, about.
const TICKS: (usize, usize) = (7, 5);
/// Height of the rug, as a share of the plot's.
const RUG: f64 = 0.035;

/// Draws the plot; `place` tells it from others on the page.
pub fn plot_ui(ui: &mut Ui, place: usize, plot: &Plot) {
    if !plot.title.is_empty() {
        ui.label(ui::words(&plot.title, 15.0, Ink::Muted));
        ui.add_space(4.0);
    }
    let [x, y] = plot.range().map(widened);
    let (x_form, y_form) = (plot.x.form, plot.y.form);
    let shown = egui_plot::Plot::new(("sheet-plot", place))
        .height(HEIGHT)
        .allow_zoom(false)
        .allow_drag(false)
        .allow_scroll(false)
        .allow_boxed_zoom(false)
        .allow_axis_zoom_drag(false)
        .allow_double_click_reset(false)
        .show_background(false)
        .show_crosshair(false)
        .grid_color(ink(Ink::Grid))
        .grid_fade(0.0)
        .x_grid_spacer(move |input| marks(input, x_form, TICKS.0))
        .y_grid_spacer(move |input| marks(input, y_form, TICKS.1))
        .x_axis_formatter(move |mark, _| x_form.words(mark.value))
        .y_axis_formatter(move |mark, _| y_form.words(mark.value))
        .label_formatter(move |at| under_pointer(at, x_form, y_form))
        .cursor_color(ink(Ink::Muted));
    let shown = with_axis_labels(shown, &plot.x, &plot.y);
    ui.scope(|ui| {
        ui.visuals_mut().override_text_color = Some(ink(Ink::Muted));
        let drawn = shown.show(ui, |drawn| {
            drawn.set_plot_bounds_x(x.0..=x.1);
            drawn.set_plot_bounds_y(y.0..=y.1);
            for layer in &plot.layers {
                draw(drawn, layer, y);
            }
            labels(drawn, plot, x, y);
        });
        take_focus(ui, place, drawn.response.rect, plot);
    });
    ui.add_space(12.0);
}

/// Which plot the keys are at.
#[derive(Debug, Clone, Copy, Default)]
struct Focus {
    at: Option<usize>,
    /// On its way to the next one.
    moves: bool,
    /// The frame it was last looked at in.
    frame: u64,
}

/// Tab goes from plot to plot; the one it is at has an edge and gives its numbers to Ctrl+C.
fn take_focus(ui: &Ui, place: usize, rect: Rect, plot: &Plot) {
    // Every page has its own.
    let page: Option<Id> = ui.data(|data| data.get_temp(Id::new("page")));
    let id = Id::new("plot-in-focus").with(page);
    let mut focus: Focus = ui.data(|data| data.get_temp(id)).unwrap_or_default();
    let frame = ui.ctx().cumulative_pass_nr();
    if focus.frame != frame {
        focus.frame = frame;
        // Past the last one: round again to the first.
        if focus.moves {
            focus.at = None;
        }
        focus.moves |= ui.input(|input| input.key_pressed(Key::Tab));
    }
    if focus.moves && focus.at.is_none_or(|at| place > at) {
        (focus.at, focus.moves) = (Some(place), false);
        ui.scroll_to_rect(rect, None);
    } else if focus.moves {
        ui.ctx().request_repaint();
    }
    ui.data_mut(|data| data.insert_temp(id, focus));
    if focus.at != Some(place) {
        return;
    }
    let stroke = Stroke::new(2.0, ink(Ink::Driver));
    ui.painter().rect_stroke(rect.expand(2.0), 6.0, stroke, StrokeKind::Outside);
    let copies = ui.input(|input| {
        let by_keys = input.modifiers.command && input.key_pressed(Key::C);
        by_keys || input.events.iter().any(|event| matches!(event, Event::Copy))
    });
    if copies {
        ui::copy(ui.ctx(), plot_csv(plot));
    }
}

fn widened((low, high): (f64, f64)) -> (f64, f64) {
    let room = MARGIN * (high - low);
    (low - room, high + room)
}

fn with_axis_labels<'a>(shown: egui_plot::Plot<'a>, x: &Axis, y: &Axis) -> egui_plot::Plot<'a> {
    let small = |text: &str| ui::words(text, 14.0, Ink::Muted);
    shown.x_axis_label(small(&x.label)).y_axis_label(small(&y.label)).y_axis_min_width(48.0)
}

fn marks(input: GridInput, form: Form, about: usize) -> Vec<GridMark> {
    let (low, high) = input.bounds;
    let ticks = axis_ticks(form, low, high, about);
    // Every tick counts alike.
    ticks.into_iter().map(|value| GridMark { value, step_size: high - low }).collect()
}

fn under_pointer(at: &HoverPosition<'_>, x: Form, y: Form) -> Option<String> {
    match at {
        HoverPosition::NearDataPoint { plot_name, position, .. } => {
            let values = format!("{}: {}", x.words(position.x), y.words(position.y));
            let named = !plot_name.is_empty();
            Some(if named { format!("{plot_name}\n{values}") } else { values })
        }
        HoverPosition::Elsewhere { .. } => None,
    }
}

type Range = (f64, f64);

fn draw(drawn: &mut egui_plot::PlotUi<'_>, layer: &Layer, y: Range) {
    let (name, color) = (layer.name.as_str(), color(layer.hue));
    let faint = color.gamma_multiply(0.25);
    match &layer.kind {
        LayerKind::Line(at) => {
            drawn.line(Line::new(name, at.clone()).color(color).width(2.5));
        }
        LayerKind::Dashed(at) => {
            let line = Line::new(name, at.clone()).color(color).width(1.5);
            drawn.line(line.style(LineStyle::dashed_loose()));
        }
        LayerKind::Band(at) => {
            let column = |i: usize| at.iter().map(|row| row[i]).collect::<Vec<f64>>();
            let area = FilledArea::new(name, &column(0), &column(1), &column(2));
            drawn.add(area.fill_color(faint).allow_hover(false));
        }
        LayerKind::Points(at) => {
            drawn.points(Points::new(name, at.clone()).color(color).radius(4.0));
        }
        LayerKind::Whiskers(at) => {
            for [px, _, low, high] in at {
                let whisker = Line::new("", vec![[*px, *low], [*px, *high]]);
                drawn.line(whisker.color(color.gamma_multiply(0.6)).width(1.5).allow_hover(false));
            }
            let points: Vec<[f64; 2]> = at.iter().map(|row| [row[0], row[1]]).collect();
            drawn.points(Points::new(name, points).color(color).radius(4.5));
        }
        LayerKind::Columns(at) => {
            let bar = |[from, to, height]: &[f64; 3]| {
                Bar::new(0.5 * (from + to), *height)
                    .width(to - from)
                    .fill(faint)
                    .stroke(Stroke::new(1.0, color))
            };
            drawn.bar_chart(BarChart::new(name, at.iter().map(bar).collect()).color(color));
        }
        LayerKind::Rug(at) => {
            let top = y.0 + RUG * (y.1 - y.0);
            for place in at {
                let tick = Line::new("", vec![[*place, y.0], [*place, top]]);
                drawn.line(tick.color(color).width(1.0).allow_hover(false));
            }
        }
        LayerKind::Stripe(from, to) => {
            let span = Span::new("", *from..=*to).fill(color.gamma_multiply(0.10));
            drawn.span(span.border_color(Color32::TRANSPARENT));
        }
        LayerKind::Upright(at) => upright(drawn, *at, color, y),
        LayerKind::Level(at) => {
            let line = HLine::new(name, *at).color(color).width(1.5);
            drawn.hline(line.style(LineStyle::dashed_dense()));
        }
    }
}

fn upright(drawn: &mut egui_plot::PlotUi<'_>, at: f64, color: Color32, y: Range) {
    let line = Line::new("", vec![[at, y.0], [at, y.1]]);
    drawn.line(line.color(color).width(1.5).style(LineStyle::dashed_dense()).allow_hover(false));
}

/// Names where they lie freest of the other lines.
fn labels(drawn: &mut egui_plot::PlotUi<'_>, plot: &Plot, x: Range, y: Range) {
    for label in label_places(plot, x, y) {
        let layer = &plot.layers[label.layer];
        let at = egui_plot::PlotPoint::new(label.at[0], label.at[1]);
        let words = ui::words(&layer.name, 14.0, Ink::Text).color(color(layer.hue));
        let anchor = match label.side {
            Side::AboveRight => Align2::LEFT_BOTTOM,
            Side::AboveLeft => Align2::RIGHT_BOTTOM,
            Side::BelowRight => Align2::LEFT_TOP,
            Side::BelowLeft => Align2::RIGHT_TOP,
            Side::Above => Align2::CENTER_BOTTOM,
        };
        drawn.text(Text::new("", at, words).anchor(anchor).allow_hover(false));
    }
}
