//! The rig: what presses and lamps pass through here, and the constant delay in force for it.
//!
//! Owns its fingerprint, the newest self test and the films, and the choice of the delay, made again before every
//! run. Refuses arithmetic: offsets and shares are the core's.

pub mod filming;
pub mod self_test;

use super::background::Work;
use super::data::DataPath;
use super::garage::{Garage, limb_word};
use super::lane::{Phase, Session};
use super::onset::Frames;
use super::presses::{self, Bindings, Presses, Who, origin_word};
use super::trace_file::TraceFile;
use super::{AppSystems, Screen, clock};
use crate::car::EdgeAnswer;
use crate::history::{FilmLine, RigLine, load_without_lock};
use crate::press::{Control, Origin, keys};
use crate::report::{RigReport, rig_report};
use crate::stats::instrument::{RunDoubt, instrument_share};
use crate::stats::offset::{Films, offset_words};
use crate::stats::{Estimate, Sample};
use crate::tree::Outcome;
use crate::trial::{OffsetInForce, RigPrint, TrialRecord};
use crate::units::Measured;
use bevy::ecs::system::SystemParam;
use bevy::prelude::*;
use filming::Shooting;
use self_test::{LENGTH, SelfTest, clock_base_line, load_average};
use std::path::PathBuf;

/// Level of the intervals shown.
const LEVEL: f64 = 0.90;

/// What is known of the rig.
#[derive(Resource, Debug, Default)]
pub struct Rig {
    /// Display server, size of the screen, and whether the window covers it.
    pub display: String,
    /// Something to be said about it once, in plain words.
    pub news: Option<String>,
    /// The film under way.
    pub shooting: Shooting,
    last: Option<RigLine>,
    lines: Vec<FilmLine>,
    films: Films,
    /// What past runs would be with today's delay, a sentence each.
    reread: Vec<String>,
    rereading: Work<Vec<String>>,
}

impl Rig {
    /// The news as a sentence.
    pub fn said_news(&self) -> Option<String> {
        let news = self.news.as_ref()?;
        Some(format!("This is not the rig of your last runs: {news}."))
    }

    /// What the history knows.
    pub fn from_lines(rigs: &[RigLine], films: &[FilmLine]) -> Self {
        Self {
            last: rigs.last().cloned(),
            lines: films.to_vec(),
            films: Films::new(films),
            ..Self::default()
        }
    }

    /// The newest self test.
    pub fn last(&self) -> Option<&RigLine> {
        self.last.as_ref()
    }

    /// A self test has just been made.
    pub fn looked_at(&mut self, line: RigLine) {
        self.last = Some(line);
    }

    /// What is to be said about it.
    pub fn said(&self, offset: &OffsetInForce) -> RigReport {
        rig_report(self.last.as_ref(), offset)
    }

    /// A film has just been counted.
    pub fn filmed(&mut self, line: FilmLine) {
        self.lines.push(line);
        self.films = Films::new(&self.lines);
    }

    /// The delay in force on the rig of this fingerprint; says aloud when it starts anew.
    pub fn choose(&mut self, print: &RigPrint, given: Option<Measured>) -> OffsetInForce {
        let choice = self.films.choose(print, given);
        self.news = choice.starts_anew();
        choice.offset
    }

    /// Reads what was practised before with today's delay and this rig's doubt, on a thread: a history
    /// may be long.
    pub fn read_again(&mut self, folder: PathBuf, print: RigPrint) {
        let films = self.films.clone();
        let poll_s = self.last.as_ref().and_then(|line| line.poll.period_ms()).map(|ms| ms / 1e3);
        self.rereading.start("read-again", move || match load_without_lock(&folder) {
            Ok(loaded) => read_runs(&films, &loaded.trials, &print, poll_s),
            Err(error) => vec![format!("Past runs cannot be read: {error}")],
        });
    }

    /// What past runs would be with today's delay and how much of their spread is the instrument's, once
    /// it is known.
    pub fn reread(&self) -> &[String] {
        &self.reread
    }

    fn hear_reread(&mut self) {
        if let Some(said) = self.rereading.answer() {
            self.reread = said;
        }
    }
}

/// What there is to say of past runs: colours with the delay of today, and the instrument's share in
/// the spread of the launches on this rig.
fn read_runs(
    films: &Films,
    runs: &[TrialRecord],
    rig: &RigPrint,
    poll_s: Option<f64>,
) -> Vec<String> {
    let mut said = Vec::new();
    let colours = films.reread(runs).counts;
    if colours.runs > 0 {
        said.push(format!("Read with the delay of today, {colours}."));
    }
    let launches = runs.iter().filter(|run| {
        let counts = matches!(run.outcome, Outcome::Green | Outcome::Red);
        counts && !run.setup.scripted && run.rig.is_same_rig(rig)
    });
    let (parts, doubts): (Vec<f64>, Vec<RunDoubt>) = launches
        .filter_map(|run| {
            let part_s = run.parts?.driver_raw.as_secs_f64();
            Some((part_s, RunDoubt::of(run, poll_s)?))
        })
        .unzip();
    // Too few launches have no spread worth a sentence.
    let share = Sample::new(parts).and_then(|parts| instrument_share(&parts, &doubts, LEVEL));
    if let Ok(found) = share {
        let Estimate { value, low, high, n, .. } = found.share;
        said.push(format!(
            "Of the spread of your {n} launches here {:.1} % ({:.1} to {:.1}) is the instrument's, \
             \u{b1}{:.1} ms a run; the rest is yours.",
            100.0 * value,
            100.0 * low,
            100.0 * high,
            1e3 * found.run_sd_s
        ));
        said.extend(found.caveats.iter().map(ToString::to_string));
    }
    said
}

pub(super) fn plugin(app: &mut App) {
    app.init_resource::<Rig>();
    app.add_systems(Startup, restore_threshold);
    let before_a_run = choose_offset.in_set(AppSystems::ReadPresses).after(presses::read_presses);
    app.add_systems(Update, before_a_run);
    app.add_systems(OnEnter(Screen::Rig), read_again)
        .add_systems(Update, hear_reread.run_if(in_state(Screen::Rig)));
    for screen in [Screen::Rig, Screen::SelfTest, Screen::FilmShoot] {
        app.add_systems(Update, listen.in_set(AppSystems::StepTree).run_if(in_state(screen)))
            .add_systems(OnExit(screen), fall_silent);
    }
}

/// A pedal counts as down where it did when the rig was last looked at.
fn restore_threshold(rig: Res<Rig>, mut presses: ResMut<Presses>) {
    if let Some(share) = rig.last().and_then(|line| line.rig.threshold) {
        presses.set_threshold(share);
    }
}

/// Chooses the delay anew while a run is asked for, and on the rig's own page: the rig may have changed
/// since the last one. Never during a run.
fn choose_offset(
    phase: Res<Phase>,
    screen: Res<State<Screen>>,
    around: Surroundings,
    mut rig: ResMut<Rig>,
    mut session: ResMut<Session>,
    mut trace: ResMut<TraceFile>,
) {
    let asked = matches!((&*phase, &**screen), (Phase::Asked { .. }, Screen::Lane));
    let opened = **screen == Screen::Rig && screen.is_changed();
    if !asked && !opened {
        return;
    }
    let print = around.print(&rig);
    let (given, before) = (session.given, rig.news.take());
    let offset = rig.choose(&print, given);
    if offset != session.offset || rig.news != before {
        let news = rig.news.as_deref().unwrap_or_default();
        trace.event(format_args!("offset {} {news}", offset_words(&offset)));
        session.offset = offset;
    }
}

fn read_again(mut rig: ResMut<Rig>, around: Surroundings, path: Option<Res<DataPath>>) {
    if let Some(path) = path {
        let print = around.print(&rig);
        rig.read_again(path.path.clone(), print);
    }
}

fn hear_reread(mut rig: ResMut<Rig>) {
    rig.hear_reread();
}

/// On the screens of the rig, too, the raw sources listen only while the window has the focus.
fn listen(windows: Query<&Window>, bindings: Res<Bindings>, mut presses: ResMut<Presses>) {
    let focused = windows.iter().next().is_none_or(|window| window.focused);
    presses.arm(focused, &bindings);
}

fn fall_silent(bindings: Res<Bindings>, mut presses: ResMut<Presses>) {
    presses.arm(false, &bindings);
}

/// Everything around the rig that says what it is.
#[derive(SystemParam)]
pub struct Surroundings<'w> {
    frames: Res<'w, Frames>,
    presses: Res<'w, Presses>,
    garage: Res<'w, Garage>,
}

impl Surroundings<'_> {
    /// The fingerprint, with the launch control used last.
    pub fn print(&self, rig: &Rig) -> RigPrint {
        print(rig, &self.garage, &self.frames, &self.presses)
    }

    /// What a self test found, as a line; none where the screen showed too few frames.
    pub fn rig_line(&self, test: &SelfTest, rig: &Rig) -> Option<RigLine> {
        let (loop_time, lamp) = (test.loop_line()?, test.lamp_half_width_ms()?);
        let print = self.print(rig);
        Some(RigLine {
            id: crate::history::new_id(),
            saved_at: clock::wall_time(),
            program: env!("CARGO_PKG_VERSION").to_owned(),
            source_reason: self.presses.reason().map(str::to_owned),
            onset_grade: self.frames.grade().word().to_owned(),
            refresh_hz: 1000.0 / loop_time.period_ms,
            loop_time,
            wake_up: test.wake_up()?,
            clock_base: clock_base_line(self.presses.clock_base()),
            poll: test.poll_line(),
            self_paced: self.frames.self_paced,
            press_half_width_ms: test.press_half_width_ms().unwrap_or(self.usual_press_ms()),
            lamp_half_width_ms: lamp,
            load_average: load_average(),
            ran_s: LENGTH.as_secs_f64(),
            rig: print.into(),
        })
    }

    /// Half the width of a press's stamp where nobody pressed: a server's millisecond, or a frame.
    fn usual_press_ms(&self) -> f64 {
        match self.presses.key_origin() {
            Origin::Kernel => 0.05,
            Origin::Server => 0.5,
            _ => self.frames.period().half().as_ms_f64(),
        }
    }
}

/// The fingerprint of the rig as it is, with the launch control used last.
pub fn print(rig: &Rig, garage: &Garage, frames: &Frames, presses: &Presses) -> RigPrint {
    print_of(Who::Driver, rig, garage, frames, presses)
}

/// The same for one of two people.
pub fn print_of(
    who: Who,
    rig: &Rig,
    garage: &Garage,
    frames: &Frames,
    presses: &Presses,
) -> RigPrint {
    let period_s = frames.nominal_period().as_secs_f64();
    let control = presses.launch_control_of(who);
    let (device, source) = match control {
        // The raw listener hears keys and mouse alike.
        Control::Key(_) | Control::Mouse(_) => (keys::device_word(control), presses.key_origin()),
        Control::PadButton(_) | Control::PadAxis(_) => ("pad", Origin::Pad),
    };
    RigPrint {
        device: device.to_owned(),
        control: keys::key_name(control),
        launch_edge: match garage.edge() {
            EdgeAnswer::Press => "press".to_owned(),
            EdgeAnswer::Release => "release".to_owned(),
        },
        threshold: presses.threshold_of(control),
        limb: limb_word(garage.answers().press.limb),
        source: origin_word(source).to_owned(),
        display: rig.display.clone(),
        refresh_hz: if period_s > 0.0 { (1.0 / period_s).round() as u32 } else { 0 },
        present_mode: if frames.self_paced { "fifo, self-paced" } else { "fifo" }.to_owned(),
    }
}
