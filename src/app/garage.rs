//! The driver's car as the program believes it.
//!
//! Owns the answers in force and their way to and from the history's car line. Refuses geometry
//! and probabilities: those are the car room's.

use super::clock;
use crate::beams::{BeamZones, LaunchLaw};
use crate::car::{Answers, BeamLine, CarModel, Details, EdgeAnswer, Limb, time_to_roll};
use crate::history::{self, CarLine};
use crate::trial::CarFacts;
use crate::units::{Inches, Span};
use bevy::prelude::*;

/// The name of a car nobody has named.
pub const UNNAMED: &str = "my car";

/// The car in use.
#[derive(Resource, Debug, Clone)]
pub struct Garage {
    answers: Answers,
    model: CarModel,
    asked: bool,
}

impl Default for Garage {
    fn default() -> Self {
        let answers = Answers::default();
        let model = CarModel::from_answers(&answers, BeamLine::default())
            .expect("a car of which nothing is known is made of defaults that fit");
        Self { answers, model, asked: false }
    }
}

impl Garage {
    /// The car of the newest line, if its answers still make a car; otherwise an unknown one.
    pub fn from_lines(lines: &[CarLine]) -> Self {
        let mut garage = Self::default();
        if let Some(line) = lines.last() {
            garage.asked = true;
            match line.model() {
                Ok(model) => (garage.answers, garage.model) = (line.answers(), model),
                Err(error) => warn!("the car on disk is set aside: {error}"),
            }
        }
        garage
    }

    /// Whether the five questions were put already.
    pub fn asked(&self) -> bool {
        self.asked
    }

    /// The answers in force.
    pub fn answers(&self) -> &Answers {
        &self.answers
    }

    /// What they make of the car.
    pub fn model(&self) -> &CarModel {
        &self.model
    }

    /// Whether launching means pressing the control or letting it go.
    pub fn edge(&self) -> EdgeAnswer {
        self.model.edge()
    }

    /// The beams as this car's tyre meets them.
    pub fn zones(&self) -> BeamZones {
        let (tyre, beams) = (self.model.tyre(), self.model.beams());
        let chord = tyre.chord(beams.beam_height());
        let chord = chord.expect("tyre and beam line are made to fit each other");
        BeamZones::new(chord, beams.prestage_to_stage(), beams.stage_to_guard())
    }

    /// How this car leaves.
    pub fn launch(&self) -> LaunchLaw {
        let lag = Span::from_secs_f64(self.model.lag_s().value);
        LaunchLaw { g: self.model.launch_g().value, lag }
    }

    /// The car part from a depth, standing still: lag and roll.
    pub fn car_part_at(&self, depth: Inches) -> Span {
        let law = self.launch();
        law.lag + time_to_roll(self.zones().remaining(depth), law.g, 0.0)
    }

    /// Facts of the car for a run's record.
    pub fn facts(&self) -> CarFacts {
        let model = &self.model;
        CarFacts {
            name: UNNAMED.to_owned(),
            car_part_s: model.car_part().seconds,
            assumed: model.assumed(),
            tyre_diameter: Inches(model.tyre_diameter_in().value),
            lag_s: model.lag_s(),
            launch_g: model.launch_g(),
        }
    }

    /// Puts new answers in force and gives the line to be saved.
    ///
    /// # Errors
    /// A sentence for the driver when an answer can't be.
    pub fn answer(&mut self, answers: Answers, control: &str) -> Result<CarLine, String> {
        // What was answered anew is in force; what no question asks is kept.
        let kept = self.model.details().clone();
        let details = Details { strength: None, lag_s: None, depth: None, ..kept };
        let model = CarModel::new(&answers, details, self.model.beams());
        let model = model.map_err(|error| error.to_string())?;
        (self.answers, self.model, self.asked) = (answers, model, true);
        Ok(self.line(control))
    }

    fn line(&self, control: &str) -> CarLine {
        let edge = match self.model.edge() {
            EdgeAnswer::Press => "press",
            EdgeAnswer::Release => "release",
        };
        CarLine {
            id: uuid::Uuid::now_v7().to_string(),
            saved_at: clock::wall_time(),
            name: UNNAMED.to_owned(),
            control: control.to_owned(),
            launch_edge: Some(edge.to_owned()),
            ..CarLine::describing(&self.answers, self.model.details(), self.model.beams())
        }
    }
}

/// The limb's word for a rig's fingerprint.
pub fn limb_word(limb: Limb) -> String {
    history::limb_word(limb).unwrap_or_else(|| "not said".to_owned())
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::car::{CarKind, DepthAnswer, LeaveAnswer, PressAnswer, StrengthAnswer, TyreAnswer};

    #[test]
    fn answers_survive_the_way_to_disk_and_back() {
        let answers = Answers {
            tyre: TyreAnswer::Size("225/45R17".parse().unwrap()),
            leave: LeaveAnswer::Clutch,
            strength: StrengthAnswer::Kind(CarKind::QuickStreet),
            depth: DepthAnswer::Deeper,
            press: PressAnswer { limb: Limb::LeftFoot },
        };
        let line = Garage::default().answer(answers, "Space").unwrap();
        let back = Garage::from_lines(&[line]);
        assert!(back.asked());
        assert_eq!(back.answers(), &answers);
        assert_eq!(back.edge(), EdgeAnswer::Release);
    }

    #[test]
    fn a_car_that_cannot_be_falls_back_to_an_unknown_one() {
        let line = CarLine { tyre_diameter_in: Some(900.0), ..CarLine::default() };
        assert_eq!(Garage::from_lines(&[line]).answers(), &Answers::default());
    }
}
