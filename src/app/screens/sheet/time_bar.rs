//! The time bar: driver part and car part end to end against green.
//!
//! Owns its drawing on a page. Refuses a judgement: the sign of what sticks out is all it shows.

use super::super::ui::ink;
use crate::app::theme::Ink;
use crate::report::page::{Form, TimeBar};
use bevy_egui::egui::{Align2, Color32, FontId, Rect, Sense, Stroke, Ui, Vec2, pos2};

/// Height of the bar and of its words, points.
const HEIGHT: (f32, f32) = (22.0, 22.0);

/// Draws the bar.
pub fn time_bar_ui(ui: &mut Ui, bar: &TimeBar) {
    let sum = bar.driver_s + bar.car_s;
    let longest = sum.max(bar.interval_s) * 1.08;
    if !(longest.is_finite() && longest > 0.0) {
        return;
    }
    let width = ui.available_width();
    let height = HEIGHT.0 + 2.0 * HEIGHT.1;
    let (rect, _) = ui.allocate_exact_size(Vec2::new(width, height), Sense::HOVER);
    let painter = ui.painter();
    let x = |seconds: f64| rect.left() + width * (seconds / longest).clamp(0.0, 1.0) as f32;
    let (top, bottom) = (rect.top() + HEIGHT.1, rect.top() + HEIGHT.1 + HEIGHT.0);
    let part = |from: f64, to: f64, color: Color32| {
        let area = Rect::from_min_max(pos2(x(from), top), pos2(x(to), bottom));
        painter.rect_filled(area, 2.0, color);
    };
    part(0.0, bar.driver_s, ink(Ink::Driver));
    part(bar.driver_s, sum, ink(Ink::Car));
    let green = x(bar.interval_s);
    painter.vline(green, top - 4.0..=bottom + 4.0, Stroke::new(2.0, ink(Ink::Text)));
    let said = |at: f32, y: f32, align: Align2, text: String, rgb: Ink| {
        painter.text(pos2(at, y), align, text, FontId::proportional(15.0), ink(rgb));
    };
    let seconds = |s: f64| Form::Light.words(s);
    let below = bottom + 4.0;
    said(
        rect.left(),
        below,
        Align2::LEFT_TOP,
        format!("you {}", seconds(bar.driver_s)),
        Ink::Driver,
    );
    let car = x(bar.driver_s).max(rect.left() + 90.0);
    said(car, below, Align2::LEFT_TOP, format!("car {}", seconds(bar.car_s)), Ink::Car);
    let light = format!("green at {}, light {}", seconds(bar.interval_s), light_words(bar));
    said(rect.right(), rect.top(), Align2::RIGHT_TOP, light, Ink::Text);
    ui.add_space(8.0);
}

/// Printed as a slip does: towards minus infinity, so that a red never reads `.000`.
fn light_words(bar: &TimeBar) -> String {
    let light = bar.driver_s + bar.car_s - bar.interval_s;
    Form::Light.words((light * 1000.0 + 1e-9).floor() / 1000.0)
}
