//! Building blocks of the panel screens.
//!
//! Owns type sizes, colours and the list of choices worked by keys or mouse. Refuses content.

use crate::app::theme::palette::Rgb;
use crate::app::theme::{Ink, MEDIUM, REGULAR, Theme};
use bevy_egui::egui::{
    self, Align2, Color32, Context, FontData, FontDefinitions, FontFamily, FontId, Frame, LayerId,
    Margin, Rect, RichText, Sense, Stroke, Ui, UiBuilder, Vec2,
};
use std::sync::Arc;

/// Widest column of text, points.
const COLUMN: f32 = 900.0;
/// Room for the scroll bar, points.
const BAR: f32 = 16.0;

/// A colour by its meaning, in the theme in force.
pub fn ink(ink: Ink) -> Color32 {
    lamp(ink.rgb())
}

/// The colour of a lamp: the same in every theme.
pub fn lamp(rgb: Rgb) -> Color32 {
    Color32::from_rgb(rgb.0, rgb.1, rgb.2)
}

/// Puts a theme in force, the parts that are the library's own included.
pub fn wear(ctx: &Context, theme: Theme) {
    let id = egui::Id::new("theme");
    if ctx.data(|data| data.get_temp::<Theme>(id)) == Some(theme) {
        return;
    }
    ctx.data_mut(|data| data.insert_temp(id, theme));
    theme.put_in_force();
    let mut visuals = match theme {
        Theme::Paper => egui::Visuals::light(),
        Theme::Dusk | Theme::HighContrast => egui::Visuals::dark(),
    };
    visuals.panel_fill = ink(Ink::Panel);
    visuals.window_fill = ink(Ink::Raised);
    visuals.extreme_bg_color = ink(Ink::Raised);
    visuals.override_text_color = Some(ink(Ink::Text));
    visuals.widgets.noninteractive.bg_stroke.color = ink(Ink::Line);
    visuals.selection.bg_fill = ink(Ink::Driver).gamma_multiply(0.5);
    ctx.set_theme(if theme == Theme::Paper { egui::Theme::Light } else { egui::Theme::Dark });
    ctx.set_visuals(visuals);
    // On paper a page that fades out at its foot looks soiled: it is cut there.
    let fade = if theme == Theme::Paper { 0.0 } else { 0.5 };
    ctx.all_styles_mut(|style| style.spacing.scroll.fade.strength = fade);
}

/// Gives a fresh context our type and colours. True once they are in force.
pub fn dress(ctx: &Context) -> bool {
    let id = egui::Id::new("dressed");
    if ctx.data(|data| data.get_temp::<bool>(id)).is_some() {
        return true;
    }
    let mut fonts = FontDefinitions::default();
    for (name, bytes) in [("inter", REGULAR), ("inter-medium", MEDIUM)] {
        fonts.font_data.insert(name.to_owned(), Arc::new(FontData::from_static(bytes)));
    }
    fonts.families.entry(FontFamily::Proportional).or_default().insert(0, "inter".to_owned());
    let mut medium = vec!["inter-medium".to_owned()];
    medium.extend(fonts.families.get(&FontFamily::Proportional).cloned().unwrap_or_default());
    fonts.families.insert(FontFamily::Name("medium".into()), medium);
    ctx.set_fonts(fonts);
    ctx.data_mut(|data| data.insert_temp(id, true));
    ctx.request_repaint();
    false
}

/// Everything shown is made up, or not.
pub fn mark_demo(ctx: &Context, demo: bool) {
    ctx.data_mut(|data| data.insert_temp(egui::Id::new("demo"), demo));
}

/// Hands a text to the clipboard; who watches over it takes it from here.
pub fn copy(ctx: &Context, text: String) {
    ctx.data_mut(|data| data.insert_temp(egui::Id::new("copied"), Some(text)));
}

/// The text that was handed over since the last look.
pub fn take_copied(ctx: &Context) -> Option<String> {
    let id = egui::Id::new("copied");
    let text = ctx.data(|data| data.get_temp::<Option<String>>(id)).flatten();
    if text.is_some() {
        ctx.data_mut(|data| data.insert_temp::<Option<String>>(id, None));
    }
    text
}

/// News of the whole window, said above the keys.
pub fn mark_news(ctx: &Context, news: Option<String>) {
    ctx.data_mut(|data| data.insert_temp(egui::Id::new("news"), news.unwrap_or_default()));
}

/// One screen: dark ground, one column on the margin grid. Another `place` than before is read from its
/// top.
pub fn page(
    ctx: &Context,
    place: impl std::hash::Hash + std::fmt::Debug,
    content: impl FnOnce(&mut Ui),
) {
    let here = egui::Id::new(place);
    let before = ctx.data_mut(|data| data.get_temp_mut_or(egui::Id::new("page"), here).to_owned());
    ctx.data_mut(|data| data.insert_temp(egui::Id::new("page"), here));
    if before != here {
        ctx.data_mut(|data| data.remove::<egui::Id>(egui::Id::new("gone-to")));
    }
    let margin = Margin::symmetric(40, 32);
    let frame = Frame::new().fill(ink(Ink::Panel)).inner_margin(margin);
    let mut root = root(ctx);
    let foot = if before == here { kept_keys(ctx) } else { String::new() };
    ctx.data_mut(|data| data.insert_temp(keys_id(), String::new()));
    // Always there, so that what lies above it keeps its names from frame to frame.
    let foot_frame = frame.inner_margin(Margin { top: 8, bottom: 14, ..margin });
    egui::Panel::bottom("keys").frame(foot_frame).show(&mut root, |ui| {
        let news: String = ui.data(|data| data.get_temp(egui::Id::new("news"))).unwrap_or_default();
        let width = COLUMN.min(ui.available_width() - BAR);
        in_the_middle(ui, width, |ui| {
            if !news.is_empty() {
                body(ui, &news);
            }
            aside(ui, &foot);
        });
    });
    let frame = frame.inner_margin(Margin { bottom: 6, ..margin });
    egui::CentralPanel::default().frame(frame).show(&mut root, |ui| {
        let height = ui.available_height();
        let mut area = egui::ScrollArea::vertical().auto_shrink([false, true]);
        if before != here {
            area = area.vertical_scroll_offset(0.0);
        }
        area.show(ui, |ui| {
            scroll_by_keys(ui, height);
            let width = COLUMN.min(ui.available_width() - BAR);
            in_the_middle(ui, width, |ui| {
                if ui.data(|data| data.get_temp(egui::Id::new("demo"))).unwrap_or(false) {
                    warning(ui, "DEMO: driver, car, runs and slips are made up.");
                }
                content(ui);
            });
        });
    });
    if kept_keys(ctx) != foot {
        ctx.request_repaint();
    }
}

/// A column of this width with as much room on its left as on its right.
fn in_the_middle(ui: &mut Ui, width: f32, content: impl FnOnce(&mut Ui)) {
    let room = ui.available_rect_before_wrap();
    let left = room.left() + (0.5 * (room.width() - BAR - width)).max(0.0).round();
    let column =
        Rect::from_min_max(egui::pos2(left, room.top()), egui::pos2(left + width, room.bottom()));
    ui.scope_builder(UiBuilder::new().max_rect(column), |ui| {
        ui.set_max_width(width);
        content(ui);
    });
}

fn keys_id() -> egui::Id {
    egui::Id::new("keys")
}

fn kept_keys(ctx: &Context) -> String {
    ctx.data(|data| data.get_temp(keys_id())).unwrap_or_default()
}

/// A page down or up at a time, a line of the next one kept in sight.
fn scroll_by_keys(ui: &Ui, height: f32) {
    let (down, up) = ui.input(|input| {
        (input.num_presses(egui::Key::PageDown), input.num_presses(egui::Key::PageUp))
    });
    let pages = up as f32 - down as f32;
    if pages != 0.0 {
        ui.scroll_with_delta(Vec2::new(0.0, pages * (height - 60.0).max(40.0)));
    }
}

fn root(ctx: &Context) -> Ui {
    let builder = UiBuilder::new().layer_id(LayerId::background()).max_rect(ctx.viewport_rect());
    Ui::new(ctx.clone(), egui::Id::new("root"), builder)
}

/// The sentence a screen opens with.
pub fn headline(ui: &mut Ui, text: &str) {
    let font = FontId::new(28.0, FontFamily::Name("medium".into()));
    ui.label(RichText::new(text).font(font).color(ink(Ink::Text)));
    ui.add_space(6.0);
}

/// The title of a part of a screen.
pub fn heading(ui: &mut Ui, text: &str) {
    let font = FontId::new(20.0, FontFamily::Name("medium".into()));
    ui.add_space(10.0);
    ui.label(RichText::new(text).font(font).color(ink(Ink::Text)));
    ui.add_space(4.0);
}

/// Text of a size and colour.
pub fn words(text: &str, size: f32, rgb: Ink) -> RichText {
    RichText::new(text).size(size).color(ink(rgb))
}

/// Running text.
pub fn body(ui: &mut Ui, text: &str) {
    ui.label(RichText::new(text).size(17.0).color(ink(Ink::Text)));
    ui.add_space(8.0);
}

/// Text of lesser weight.
pub fn aside(ui: &mut Ui, text: &str) {
    ui.label(RichText::new(text).size(15.0).color(ink(Ink::Muted)));
}

/// A sentence that must not be overlooked.
pub fn warning(ui: &mut Ui, text: &str) {
    ui.label(RichText::new(text).size(16.0).color(ink(Ink::Risk)));
    ui.add_space(4.0);
}

/// Scrolls to what the keys went to, once: whoever scrolls on is not called back.
pub fn keep_in_sight(ui: &Ui, rect: Rect, name: &str) {
    let id = egui::Id::new("gone-to");
    let here = egui::Id::new(name);
    if ui.data(|data| data.get_temp(id)) != Some(here) {
        ui.data_mut(|data| data.insert_temp(id, here));
        ui.scroll_to_rect(rect.expand2(Vec2::new(0.0, 8.0)), None);
    }
}

/// A row of a list; true when it was clicked.
pub fn choice(ui: &mut Ui, text: &str, chosen: bool) -> bool {
    let width = ui.available_width();
    // Not focusable: the keys choose, and an Enter must not also click the row that has the focus.
    let (rect, response) = ui.allocate_exact_size(Vec2::new(width, 36.0), Sense::CLICK);
    if chosen {
        keep_in_sight(ui, rect, text);
    }
    let fill = if chosen || response.hovered() { Ink::Raised } else { Ink::Panel };
    let line = if chosen { Ink::Driver } else { Ink::Line };
    let painter = ui.painter();
    painter.rect_filled(rect, 6.0, ink(fill));
    let stroke = Stroke::new(if chosen { 2.0 } else { 1.0 }, ink(line));
    painter.rect_stroke(rect, 6.0, stroke, egui::StrokeKind::Inside);
    let at = rect.left_center() + Vec2::new(16.0, 0.0);
    let font = FontId::proportional(17.0);
    painter.text(at, Align2::LEFT_CENTER, text, font, ink(Ink::Text));
    ui.add_space(4.0);
    response.clicked()
}

/// What the keys do: at the foot of the screen and always in sight, however long the page is.
pub fn keys(ui: &Ui, text: &str) {
    ui.data_mut(|data| data.insert_temp(keys_id(), text.to_owned()));
}
