//! The rig: what presses and lamps pass through here, and the constant delay in force for it.
//!
//! Owns its fingerprint, the newest self test and the films, and the choice of the delay, made again before every
//! run. Refuses arithmetic: offsets and shares are the core's.

pub mod filming;
pub mod self_test;

use super::garage::{Garage, limb_word};
use super::onset::Frames;
use super::presses::{Presses, origin_word};
use crate::car::EdgeAnswer;
use crate::history::{FilmLine, RigLine};
use crate::press::{Control, Origin, keys};
use crate::trial::RigPrint;
use bevy::ecs::system::SystemParam;
use bevy::prelude::*;
use filming::Shooting;

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

    /// Films, oldest first.
    pub fn films(&self) -> &[FilmLine] {
        &self.films
    }

    /// A film has just been counted.
    pub fn filmed(&mut self, line: FilmLine) {
        self.films.push(line);
    }
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
