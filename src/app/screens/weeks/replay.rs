//! A run seen again, at any speed.
//!
//! Owns the picture, its speed and where it stands. Refuses what happened (the record) and words (the
//! report room).

use super::super::ui::{self, ink};
use crate::app::theme::{Ink, palette};
use crate::report::replay::{mark_words, moments_words, now_words, standing_words};
use crate::report::review::run_words;
use crate::strategy::weeks::ReviewRun;
use crate::tree::Lamp;
use crate::trial::{Replay, TrialRecord, What};
use crate::units::Span;
use bevy_egui::egui::{Align2, Color32, FontId, Pos2, Rect, Sense, Stroke, Ui, Vec2, pos2};

/// Parts of real speed.
const SPEEDS: [f64; 6] = [1.0, 0.5, 0.25, 0.1, 0.05, 0.02];
/// Radius of a lamp, its row's height and the width of the tree, points.
const LAMP: (f32, f32, f32) = (13.0, 32.0, 110.0);
/// Height of a bar, points.
const BAR: f32 = 26.0;
/// Height of what stands around the picture, and of the picture at most, points.
const WORDS: f32 = 300.0;
const MOST: f32 = 300.0;

/// A run on the table.
pub struct Playing {
    replay: Replay,
    number: usize,
    run: ReviewRun,
    at_s: f64,
    speed: usize,
    runs: bool,
}

impl Playing {
    /// The run from its beginning, a quarter as fast as it was; `None` where nothing of it was recorded.
    pub fn new(record: &TrialRecord, number: usize, run: ReviewRun) -> Option<Self> {
        let replay = Replay::of(record)?;
        let at_s = replay.range().0.as_secs_f64();
        Some(Self { replay, number, run, at_s, speed: 2, runs: true })
    }

    /// Lets time pass.
    pub fn pass(&mut self, seconds: f64) {
        if self.runs {
            self.shift(seconds * SPEEDS[self.speed]);
            self.runs = self.at_s < self.replay.range().1.as_secs_f64();
        }
    }

    /// Stops or goes on; at its end it begins anew.
    pub fn toggle(&mut self) {
        if self.at_s >= self.replay.range().1.as_secs_f64() {
            self.restart();
        } else {
            self.runs = !self.runs;
        }
    }

    /// From its beginning.
    pub fn restart(&mut self) {
        (self.at_s, self.runs) = (self.replay.range().0.as_secs_f64(), true);
    }

    /// A step forward or back, which stops it.
    pub fn step(&mut self, seconds: f64) {
        self.runs = false;
        self.shift(seconds);
    }

    /// Faster or slower.
    pub fn faster(&mut self, faster: bool) {
        let last = SPEEDS.len() - 1;
        let slower = (self.speed + 1).min(last);
        self.speed = if faster { self.speed.saturating_sub(1) } else { slower };
    }

    /// Whether it moves.
    pub fn is_moving(&self) -> bool {
        self.runs
    }

    fn shift(&mut self, seconds: f64) {
        let (from, to) = self.replay.range();
        self.at_s = (self.at_s + seconds).clamp(from.as_secs_f64(), to.as_secs_f64());
    }

    fn at(&self) -> Span {
        Span::from_secs_f64(self.at_s)
    }
}

/// Draws the run at its moment.
pub fn replay_ui(page: &mut Ui, playing: &mut Playing) {
    ui::headline(page, &run_words(playing.number, &playing.run));
    let rows = f32::from(playing.replay.ambers()) + 2.0;
    // As much of what is seen as the words below leave, and the lamps at least.
    let free = (page.clip_rect().height() - WORDS).min(MOST);
    let size = Vec2::new(page.available_width(), (rows * LAMP.1).max(free));
    let (rect, response) = page.allocate_exact_size(size, Sense::click_and_drag());
    let lamps = Rect::from_min_size(rect.min, Vec2::new(LAMP.2, rect.height()));
    tree_ui(page, lamps, playing);
    let line = Rect::from_min_max(pos2(lamps.right() + 14.0, rect.top()), rect.max);
    let (from, to) = playing.replay.range();
    let (from, to) = (from.as_secs_f64(), to.as_secs_f64());
    line_ui(page, line, playing, (from, to));
    if let Some(at) = response.interact_pointer_pos().filter(|at| at.x >= line.left()) {
        let share = f64::from((at.x - line.left()) / line.width()).clamp(0.0, 1.0);
        playing.runs = false;
        playing.at_s = from + share * (to - from);
    }
    page.add_space(8.0);
    ui::body(page, &now_words(&playing.replay, playing.at(), playing.run.light_s));
    ui::aside(page, &moments_words(&playing.replay).join("    "));
    page.add_space(4.0);
    for said in standing_words(&playing.replay) {
        ui::aside(page, &said);
    }
    let (go, speed) = (if playing.runs { "stop" } else { "go on" }, SPEEDS[playing.speed]);
    ui::keys(
        page,
        &format!(
            "Space: {go}    \u{2190} \u{2192}: 10 ms, with Shift 1 ms    \u{2191} \u{2193}: speed, now \
             {speed} of what it was    Home: from the start    Esc: the runs"
        ),
    );
}

fn tree_ui(page: &Ui, rect: Rect, playing: &Playing) {
    let lit = playing.replay.lit(playing.at());
    let painter = page.painter();
    let last = playing.replay.ambers() - 1;
    let ambers = (0..=last).map(|i| {
        let name = if i == last { "last amber".to_owned() } else { format!("amber {}", i + 1) };
        let is_lit = lit.ambers.get(usize::from(i)).copied().unwrap_or(false);
        (name, is_lit, palette::AMBER_LIT, palette::AMBER_DARK)
    });
    let feet = [
        ("green".to_owned(), lit.green, palette::GREEN_LIT, palette::GREEN_DARK),
        ("red".to_owned(), lit.red, palette::RED_LIT, palette::RED_DARK),
    ];
    for (i, (name, is_lit, on, off)) in ambers.chain(feet).enumerate() {
        let row = rect.height() / (f32::from(last) + 3.0);
        let centre = pos2(rect.left() + LAMP.0 + 8.0, rect.top() + (i as f32 + 0.5) * row);
        if is_lit {
            painter.circle_filled(centre, LAMP.0 + 6.0, ui::lamp(on).gamma_multiply(0.25));
        }
        painter.circle_filled(centre, LAMP.0, ui::lamp(if is_lit { on } else { off }));
        painter.circle_stroke(centre, LAMP.0, Stroke::new(1.0, ink(Ink::Line)));
        let tone = if is_lit { Ink::Text } else { Ink::Muted };
        let at = pos2(centre.x + LAMP.0 + 10.0, centre.y);
        painter.text(at, Align2::LEFT_CENTER, name, FontId::proportional(14.0), ink(tone));
    }
}

/// The time line: lamps above, the driver's and the car's part below, a line where it stands.
fn line_ui(page: &Ui, rect: Rect, playing: &Playing, (from, to): (f64, f64)) {
    let painter = page.painter();
    let x = |seconds: f64| rect.left() + rect.width() * ((seconds - from) / (to - from)) as f32;
    let (foot, bars) = (rect.bottom() - 18.0, rect.center().y);
    painter.hline(rect.x_range(), foot, Stroke::new(1.0, ink(Ink::Line)));
    let font = FontId::proportional(14.0);
    for moment in playing.replay.moments() {
        let What::Lit { lamp, confirmed } = moment.what else { continue };
        let color = ink(match lamp {
            Lamp::Amber(_) => Ink::Muted,
            Lamp::Red => Ink::Risk,
            _ => Ink::Clear,
        });
        let at = x(moment.at.as_secs_f64());
        let (top, bottom) = (rect.top() + 4.0, foot);
        if confirmed {
            painter.vline(at, top..=bottom, Stroke::new(2.0, color));
        } else {
            dashed(page, pos2(at, top), bottom, color);
        }
        let mark = mark_words(moment.at);
        painter.text(pos2(at, foot + 2.0), Align2::CENTER_TOP, mark, font.clone(), color);
    }
    let now = playing.at_s;
    let part = |from: f64, to: f64, top: f32, rgb: Ink| {
        let to = to.min(now);
        if to > from {
            let area = Rect::from_min_max(pos2(x(from), top), pos2(x(to), top + BAR));
            painter.rect_filled(area, 2.0, ink(rgb));
        }
    };
    let when = |wanted: What| playing.replay.when(|what| what == wanted).map(Span::as_secs_f64);
    let launch = when(What::Launch);
    // Whoever left before the last amber was early by this much: the bar lies before it.
    if let Some(launch) = launch {
        part(launch.min(0.0), launch.max(0.0), bars - BAR - 2.0, Ink::Driver);
    }
    if let (Some(launch), Some(clear)) = (launch, when(What::Clear)) {
        part(launch, clear, bars + 2.0, Ink::Car);
    }
    let label = |at: f64, y: f32, text: &str, rgb: Ink| {
        painter.text(pos2(x(at) - 6.0, y), Align2::RIGHT_CENTER, text, font.clone(), ink(rgb));
    };
    if let Some(launch) = launch {
        label(launch.min(0.0), bars - 0.5 * BAR - 2.0, "you", Ink::Driver);
        label(launch, bars + 0.5 * BAR + 2.0, "car", Ink::Car);
    }
    painter.vline(x(now), rect.y_range(), Stroke::new(1.5, ink(Ink::Text)));
}

fn dashed(page: &Ui, top: Pos2, bottom: f32, color: Color32) {
    let mut y = top.y;
    while y < bottom {
        let end = (y + 5.0).min(bottom);
        page.painter().vline(top.x, y..=end, Stroke::new(1.5, color));
        y += 9.0;
    }
}
