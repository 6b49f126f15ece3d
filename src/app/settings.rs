//! What the driver set, in force.
//!
//! Owns taking settings into the sitting and saving them, beside the frames, when they changed.
//! Refuses their file form (`history::settings`).

use super::AppSystems;
use super::background::Work;
use super::book::Book;
use super::data::DataPath;
use super::lane::{OWN_LIGHTS, Session, drill_of_word, drill_word, style_of_word, style_word};
use super::theme::Theme;
use super::trace_file::TraceFile;
use crate::history::{ReadSettings, Settings};
use crate::tree::{Company, Lane, Outcome};
use bevy::prelude::*;

/// Text sizes that can be set.
pub const TEXT_SCALES: [f64; 6] = [1.0, 1.25, 1.5, 1.75, 2.0, 2.5];

/// Name of the choice of a look.
const THEME: &str = "look";
/// Name of the choice of company.
const COMPANY: &str = "company";
/// Name of the choice of an own aim, ms of light; none: as advised.
const AIM: &str = "aim-light-ms";
/// The settings in force.
#[derive(Resource, Debug, Default)]
pub struct InForce {
    /// What is set.
    pub settings: Settings,
    /// What there is to tell about the file.
    pub trouble: Option<String>,
    /// As it is on disk.
    saved: Settings,
    saving: Work<Result<(), String>>,
}

impl InForce {
    /// As read.
    pub fn new(read: ReadSettings) -> Self {
        let ReadSettings { settings, trouble } = read;
        Self { saved: settings.clone(), settings, trouble, saving: Work::default() }
    }

    /// Size of all text, 1 is 100 %.
    pub fn text_scale(&self) -> f64 {
        let (least, most) = (TEXT_SCALES[0], TEXT_SCALES[TEXT_SCALES.len() - 1]);
        let set = self.settings.text_scale.unwrap_or(least);
        if set.is_finite() { set.clamp(least, most) } else { least }
    }

    /// The next text size, round again after the largest.
    pub fn next_text_scale(&mut self) {
        let now = self.text_scale();
        let next = TEXT_SCALES.into_iter().find(|scale| *scale > now + 0.01);
        self.settings.text_scale = Some(next.unwrap_or(TEXT_SCALES[0]));
    }

    /// How panels look.
    pub fn theme(&self) -> Theme {
        self.choice(THEME).map_or(Theme::default(), Theme::of_word)
    }

    /// The next look.
    pub fn next_theme(&mut self) {
        self.choose(THEME, self.theme().next().word());
    }

    /// A choice made in a room.
    pub fn choice(&self, name: &str) -> Option<&str> {
        self.settings.choice(name)
    }

    /// Forgets a choice.
    pub fn forget(&mut self, name: &str) {
        self.settings.choices.remove(name);
    }

    /// Keeps a choice made in a room.
    pub fn choose(&mut self, name: &str, word: impl Into<String>) {
        self.settings.choices.insert(name.to_owned(), word.into());
    }
}

pub(super) fn plugin(app: &mut App) {
    app.init_resource::<InForce>()
        .add_systems(Startup, take_into_sitting)
        .add_systems(Update, (follow_sitting, save_changes).chain().in_set(AppSystems::Record));
}

/// Puts what is set into a sitting that begins.
pub fn take_into_sitting(
    in_force: Res<InForce>,
    session: Option<ResMut<Session>>,
    book: Option<Res<Book>>,
    mut trace: ResMut<TraceFile>,
) {
    let Some(mut session) = session else { return };
    let Settings { drill, style, lane, .. } = &in_force.settings;
    if let Some(drill) = drill.as_deref().and_then(drill_of_word) {
        session.set_drill(drill);
    }
    if let Some(style) = style.as_deref().and_then(style_of_word) {
        session.choose_style(style);
    }
    match lane.as_deref() {
        Some("left") => session.lane = Lane::Left,
        Some("right") => session.lane = Lane::Right,
        _ => {}
    }
    if let Some(company) = in_force.choice(COMPANY).and_then(Company::named) {
        session.company = company;
    }
    let aim_ms = in_force.choice(AIM).and_then(|ms| ms.parse().ok());
    if let Some(ms) = aim_ms {
        session.choose_aim(ms);
    }
    if let Some(book) = book {
        let own = book.lines().trials.iter().filter(|run| {
            run.driver == session.driver
                && !run.setup.scripted
                && matches!(run.outcome, Outcome::Green | Outcome::Red)
        });
        let lights = own.filter_map(|run| Some(run.parts?.rt().as_secs_f64()));
        let newest: Vec<f64> = lights.rev().take(OWN_LIGHTS).collect();
        session.remember_lights(newest.into_iter().rev());
    }
    trace.event(format_args!("drill {}", drill_word(session.drill())));
}

/// What is changed between runs stays so the next time.
fn follow_sitting(session: Option<Res<Session>>, mut in_force: ResMut<InForce>) {
    let Some(session) = session.filter(|session| session.is_changed() && !session.is_added())
    else {
        return;
    };
    let lane = match session.lane {
        Lane::Left => "left",
        Lane::Right => "right",
    };
    if in_force.choice(COMPANY).unwrap_or(Company::default().name()) != session.company.name() {
        in_force.choose(COMPANY, session.company.name());
    }
    match session.chosen_aim_ms() {
        Some(ms) => in_force.choose(AIM, ms.to_string()),
        None => in_force.forget(AIM),
    }
    let settings = &mut in_force.settings;
    settings.drill = Some(drill_word(session.drill()).to_owned());
    settings.style = Some(style_word(session.chosen_style()).to_owned());
    settings.lane = Some(lane.to_owned());
}

fn save_changes(mut in_force: ResMut<InForce>, path: Option<Res<DataPath>>) {
    let in_force = in_force.bypass_change_detection();
    if let Some(Err(why)) = in_force.saving.answer() {
        in_force.trouble = Some(why);
    }
    let Some(path) = path else { return };
    if in_force.settings == in_force.saved || in_force.saving.is_under_way() {
        return;
    }
    in_force.saved = in_force.settings.clone();
    let (settings, folder) = (in_force.settings.clone(), path.path.clone());
    in_force.saving.start("save-settings", move || {
        settings.save(&folder).map_err(|error| format!("Settings can't be saved: {error}"))
    });
}
