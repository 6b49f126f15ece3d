//! Frame counts from the film, and the delay that follows.
//!
//! Owns entering them and showing what they make while they are typed. Refuses the arithmetic.

use super::ui;
use crate::app::Screen;
use crate::app::clock;
use crate::app::history_store::Store;
use crate::app::rig::{Rig, Surroundings};
use crate::app::theme::palette;
use crate::app::trace_file::TraceFile;
use crate::history::FilmLine;
use crate::stats::film::{FilmDelay, delay_from_film, parse_frame_counts};
use crate::units::Span;
use bevy::prelude::*;
use bevy_egui::egui::{self, TextEdit};
use bevy_egui::{EguiContexts, EguiPrimaryContextPass};

/// Frame rates of phones' slow motion.
const RATES: [f64; 4] = [120.0, 240.0, 480.0, 960.0];

/// What has been typed so far.
#[derive(Resource, Debug)]
struct Counting {
    text: String,
    rate: usize,
    wrong: Option<String>,
}

pub(super) fn plugin(app: &mut App) {
    app.insert_resource(Counting { text: String::new(), rate: 1, wrong: None })
        .add_systems(OnEnter(Screen::FilmCounts), begin)
        .add_systems(Update, work_keys.run_if(in_state(Screen::FilmCounts)))
        .add_systems(EguiPrimaryContextPass, counts_ui.run_if(in_state(Screen::FilmCounts)));
}

fn begin(mut counting: ResMut<Counting>, mut trace: ResMut<TraceFile>) {
    counting.text.clear();
    counting.wrong = None;
    trace.event("prompt Enter Type the frame counts, then Enter");
}

impl Counting {
    fn fps(&self) -> f64 {
        RATES[self.rate]
    }

    /// What the counts make, or what is wrong with them.
    fn delay(&self, own: &[Span]) -> Result<(Vec<f64>, FilmDelay), String> {
        let frames = parse_frame_counts(&self.text).map_err(|error| error.to_string())?;
        if frames.len() != own.len() {
            return Err(format!("{} counts for {} presses", frames.len(), own.len()));
        }
        let delay = delay_from_film(&frames, self.fps(), &own_ms(own), &[]);
        delay.map(|delay| (frames, delay)).map_err(|error| error.to_string())
    }
}

fn own_ms(own: &[Span]) -> Vec<f64> {
    own.iter().map(|span| span.as_ms_f64()).collect()
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
    if keyboard.just_pressed(KeyCode::Escape) {
        next.set(Screen::Rig);
    }
    if keyboard.just_pressed(KeyCode::ArrowDown) {
        counting.rate = (counting.rate + RATES.len() - 1) % RATES.len();
    }
    if keyboard.just_pressed(KeyCode::ArrowUp) {
        counting.rate = (counting.rate + 1) % RATES.len();
    }
    if !keyboard.just_pressed(KeyCode::Enter) {
        return;
    }
    match counting.delay(rig.shooting.own()) {
        Ok((frames, delay)) => {
            let line = FilmLine {
                id: uuid::Uuid::now_v7().to_string(),
                saved_at: clock::wall_time(),
                program: env!("CARGO_PKG_VERSION").to_owned(),
                rig: (&around.print(&rig)).into(),
                fps: counting.fps(),
                frames,
                own_ms: own_ms(rig.shooting.own()),
                left_out: Vec::new(),
                offset_ms: delay.mean_ms,
                spread_ms: delay.spread_ms,
                standard_error_ms: delay.standard_error_ms,
                n: delay.n,
            };
            trace.event(format_args!("film {} {:.2}", line.id, line.offset_ms));
            if let Err(error) = store.submit(line.clone()) {
                error!("the film is not saved: {error}");
            }
            rig.filmed(line);
            next.set(Screen::Rig);
        }
        Err(wrong) => counting.wrong = Some(wrong),
    }
}

fn counts_ui(
    mut contexts: EguiContexts,
    rig: Res<Rig>,
    mut counting: ResMut<Counting>,
) -> Result {
    let ctx = contexts.ctx_mut()?;
    if !ui::dress(ctx) {
        return Ok(());
    }
    let counting = &mut *counting;
    ui::page(ctx, |page| {
        let own = rig.shooting.own();
        ui::headline(page, "Now count frames on the film.");
        ui::body(
            page,
            &format!(
                "For each of the {} presses, in order: the frames from the first in which the key \
                 has moved all the way to the first in which the patch is bright. Halves are welcome.",
                own.len()
            ),
        );
        let edit = TextEdit::multiline(&mut counting.text)
            .background_color(ui::ink(palette::PANEL_RAISED))
            .margin(egui::Margin::symmetric(10, 8))
            .font(egui::FontId::proportional(18.0))
            .text_color(ui::ink(palette::TEXT))
            // Enter is for saving, not for a new line.
            .return_key(None)
            .desired_rows(3)
            .desired_width(f32::INFINITY);
        let field = page.add(edit);
        if field.changed() {
            counting.wrong = None;
        }
        field.request_focus();
        ui::aside(page, "with spaces between, for example 9 10 9.5 11");
        page.add_space(12.0);
        ui::body(page, &format!("Film: {:.0} frames a second", counting.fps()));
        match counting.delay(own) {
            Ok((_, delay)) => ui::body(
                page,
                &format!(
                    "Your control and your screen add {:.1} \u{b1} {:.1} ms. From press to press it \
                     scatters by {:.1} ms.",
                    delay.mean_ms, delay.standard_error_ms, delay.spread_ms
                ),
            ),
            Err(why) if !counting.text.trim().is_empty() => ui::aside(page, &why),
            Err(_) => {}
        }
        if let Some(wrong) = &counting.wrong {
            ui::warning(page, wrong);
        }
        ui::keys(page, "Enter: save it    \u{2191} \u{2193}: frame rate of the film    Esc: leave it");
    });
    Ok(())
}
