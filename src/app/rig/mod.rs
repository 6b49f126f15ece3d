//! The rig: what presses and lamps pass through here, and the constant delay in force for it.
//!
//! Owns its fingerprint, the newest self test and the films, and the choice of the delay, made again before every
//! run. Refuses arithmetic: offsets and shares are the core's.

pub mod filming;
pub mod self_test;

use super::garage::{Garage, limb_word};
use super::onset::Frames;
use super::presses::{Bindings, Presses, origin_word};
use super::{AppSystems, Screen, clock};
use crate::car::EdgeAnswer;
use crate::history::{FilmLine, RigLine};
use crate::press::{Control, Origin, keys};
use crate::report::{RigReport, rig_report};
use crate::trial::{OffsetInForce, RigPrint};
use bevy::ecs::system::SystemParam;
use bevy::prelude::*;
use filming::Shooting;
use self_test::{LENGTH, SelfTest, clock_base_line, load_average};

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
    films: Vec<FilmLine>,
}

impl Rig {
    /// What the history knows.
    pub fn from_lines(rigs: &[RigLine], films: &[FilmLine]) -> Self {
        Self { last: rigs.last().cloned(), films: films.to_vec(), ..Self::default() }
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

    /// Films, oldest first.
    pub fn films(&self) -> &[FilmLine] {
        &self.films
    }

    /// A film has just been counted.
    pub fn filmed(&mut self, line: FilmLine) {
        self.films.push(line);
    }
}

pub(super) fn plugin(app: &mut App) {
    app.init_resource::<Rig>();
    for screen in [Screen::Rig, Screen::SelfTest, Screen::FilmShoot] {
        app.add_systems(Update, listen.in_set(AppSystems::StepTree).run_if(in_state(screen)))
            .add_systems(OnExit(screen), fall_silent);
    }
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
            id: uuid::Uuid::now_v7().to_string(),
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
    let period_s = frames.period().as_secs_f64();
    let control = presses.launch_control();
    let (device, source) = match control {
        Control::Key(_) => ("keyboard", presses.key_origin()),
        _ => ("pad", Origin::Pad),
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
