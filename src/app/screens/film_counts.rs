//! Frame counts from the film, and the delay that follows.
//!
//! Owns entering them and showing what they make while they are typed. Refuses the arithmetic, and to leave
//! out a reading by itself.

use super::ui;
use crate::app::Screen;
use crate::app::clock;
use crate::app::history_store::Store;
use crate::app::rig::{Rig, Surroundings};
use crate::app::theme::Ink;
use crate::app::trace_file::TraceFile;
use crate::stats::film::{FarReading, Film, FilmError, FilmOffset, frame_counts};
use crate::units::Span;
use bevy::prelude::*;
use bevy_egui::egui::{self, TextEdit};
use bevy_egui::{EguiContexts, EguiPrimaryContextPass};
use std::collections::BTreeSet;

/// Frame rates of phones' slow motion.
const RATES: [f64; 4] = [120.0, 240.0, 480.0, 960.0];
/// Level of the intervals.
const LEVEL: f64 = 0.90;

/// What has been typed so far.
#[derive(Resource, Debug)]
struct Counting {
    text: String,
    rate: usize,
    /// Places of readings the driver set aside.
    aside: BTreeSet<usize>,
    wrong: Option<String>,
}

pub(super) fn plugin(app: &mut App) {
    let counting = Counting { text: String::new(), rate: 1, aside: BTreeSet::new(), wrong: None };
    app.insert_resource(counting)
        .add_systems(OnEnter(Screen::FilmCounts), begin)
        .add_systems(Update, work_keys.run_if(in_state(Screen::FilmCounts)))
        .add_systems(EguiPrimaryContextPass, counts_ui.run_if(in_state(Screen::FilmCounts)));
}

fn begin(mut counting: ResMut<Counting>, mut trace: ResMut<TraceFile>) {
    counting.text.clear();
    counting.aside.clear();
    counting.wrong = None;
    trace.event("prompt Enter Type the frame counts, then Enter");
}

impl Counting {
    /// What the counts make, or what is wrong with them.
    fn film(&self, own: &[Span]) -> Result<(Film, FilmOffset), FilmError> {
        let own_ms = own.iter().map(|span| span.as_ms_f64()).collect();
        let mut film = Film::new(RATES[self.rate], frame_counts(&self.text)?, own_ms)?;
        for position in &self.aside {
            film.set_aside(*position, true)?;
        }
        let offset = film.offset(LEVEL)?;
        Ok((film, offset))
    }

    /// Readings far from the others that still count.
    fn far(&self, own: &[Span]) -> Vec<FarReading> {
        self.film(own).map(|(film, _)| film.far_readings()).unwrap_or_default()
    }
}

fn work_keys(
    keyboard: Res<ButtonInput<KeyCode>>,
    around: Surroundings,
    mut counting: ResMut<Counting>,
    mut rig: ResMut<Rig>,
    store: Res<Store>,
    mut next: ResMut<NextState<Screen>>,
    mut trace: ResMut<TraceFile>,
) {
    let own = rig.shooting.own().to_vec();
    if keyboard.just_pressed(KeyCode::Escape) {
        next.set(Screen::Rig);
    }
    for (key, step) in [(KeyCode::ArrowUp, 1), (KeyCode::ArrowDown, RATES.len() - 1)] {
        if keyboard.just_pressed(key) {
            counting.rate = (counting.rate + step) % RATES.len();
        }
    }
    if keyboard.just_pressed(KeyCode::Tab) {
        if counting.aside.is_empty() {
            counting.aside = counting.far(&own).iter().map(|far| far.position).collect();
        } else {
            counting.aside.clear();
        }
    }
    if !keyboard.just_pressed(KeyCode::Enter) {
        return;
    }
    match counting.film(&own) {
        Ok((film, offset)) => {
            let id = crate::history::new_id();
            let line = film.line(&offset, around.print(&rig), id, clock::wall_time());
            trace.event(format_args!("film {} {:.2}", line.id, line.offset_ms));
            if let Err(error) = store.submit(line.clone()) {
                error!("the film is not saved: {error}");
            }
            rig.filmed(line);
            next.set(Screen::Rig);
        }
        Err(wrong) => counting.wrong = Some(wrong.to_string()),
    }
}

fn counts_ui(mut contexts: EguiContexts, rig: Res<Rig>, mut counting: ResMut<Counting>) -> Result {
    let ctx = contexts.ctx_mut()?;
    if !ui::dress(ctx) {
        return Ok(());
    }
    let counting = &mut *counting;
    ui::page(ctx, "film_counts", |page| {
        let own = rig.shooting.own();
        ui::headline(page, "Now count frames on the film.");
        let how = "in order: the frames from the first in which the key has moved all the way to the \
                   first in which the patch is bright. Halves are welcome.";
        ui::body(page, &format!("For each of the {} presses, {how}", own.len()));
        let edit = TextEdit::multiline(&mut counting.text)
            .background_color(ui::ink(Ink::Raised))
            .margin(egui::Margin::symmetric(10, 8))
            .font(egui::FontId::proportional(18.0))
            .text_color(ui::ink(Ink::Text))
            // Enter is for saving, Tab for setting aside.
            .return_key(None)
            .lock_focus(true)
            .desired_rows(3)
            .desired_width(f32::INFINITY);
        let field = page.add(edit);
        if field.changed() {
            // Tab is a key of this page, and no count.
            counting.text.retain(|letter| letter != '\t');
            counting.wrong = None;
        }
        field.request_focus();
        ui::aside(page, "with spaces between, for example 9 10 9.5 11");
        page.add_space(12.0);
        ui::body(page, &format!("The film has {:.0} frames a second.", RATES[counting.rate]));
        result_ui(page, counting, own);
        if let Some(wrong) = &counting.wrong {
            ui::warning(page, wrong);
        }
        let keys = "Enter: save it    \u{2191} \u{2193}: frame rate    Tab: set doubtful readings \
                    aside, or take them back    Esc: leave it";
        ui::keys(page, keys);
    });
    Ok(())
}

/// What the counts make so far.
fn result_ui(page: &mut egui::Ui, counting: &Counting, own: &[Span]) {
    match counting.film(own) {
        Ok((film, found)) => {
            let said = format!(
                "Control and screen together take {:.1} \u{b1} {:.1} ms. From press to press that \
                 scatters by {:.1} ms.",
                found.offset_ms.value, found.standard_error_ms, found.spread_ms.value
            );
            ui::body(page, &said);
            for far in film.far_readings() {
                let asked = format!(
                    "Press {}: {} frames is {:+.0} ms off the others. Look at it again.",
                    far.position, far.frames, far.off_ms
                );
                ui::warning(page, &asked);
            }
            for caveat in &found.caveats {
                ui::aside(page, &caveat.to_string());
            }
        }
        Err(why) if !counting.text.trim().is_empty() => ui::aside(page, &why.to_string()),
        Err(_) => {}
    }
}
