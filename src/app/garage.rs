//! The driver's car as the program believes it.
//!
//! Owns the answers in force and their way to and from the history's car line. Refuses geometry
//! and probabilities: those are the car room's.

use super::clock;
use crate::beams::{BeamZones, LaunchLaw};
use crate::car::{
    Answers, BeamLine, CarKind, CarModel, DepthAnswer, EdgeAnswer, LeaveAnswer, Limb, PressAnswer,
    StrengthAnswer, TyreAnswer, time_to_roll,
};
use crate::history::CarLine;
use crate::trial::CarFacts;
use crate::units::{Inches, Span};
use bevy::prelude::*;

/// The name of a car nobody has named.
pub const UNNAMED: &str = "my car";

/// Words of the answers on disk.
const LEAVES: [(LeaveAnswer, &str); 6] = [
    (LeaveAnswer::OneFoot, "one-foot"),
    (LeaveAnswer::TwoFeetIdle, "two-feet-idle"),
    (LeaveAnswer::TwoFeetConverter, "two-feet-converter"),
    (LeaveAnswer::Clutch, "clutch"),
    (LeaveAnswer::LaunchControl, "launch-control"),
    (LeaveAnswer::Button, "button"),
];
const KINDS: [(CarKind, &str); 5] = [
    (CarKind::OrdinaryStreet, "ordinary-street"),
    (CarKind::QuickStreet, "quick-street"),
    (CarKind::StickyTyres, "sticky-tyres"),
    (CarKind::Slicks, "slicks"),
    (CarKind::ElectricOrAllWheel, "electric-or-all-wheel"),
];
const DEPTHS: [(DepthAnswer, &str); 2] =
    [(DepthAnswer::JustLit, "just-lit"), (DepthAnswer::Deeper, "deeper")];
const LIMBS: [(Limb, &str); 4] = [
    (Limb::RightHand, "right-hand"),
    (Limb::LeftHand, "left-hand"),
    (Limb::RightFoot, "right-foot"),
    (Limb::LeftFoot, "left-foot"),
];

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
            let beams = BeamLine::default();
            match CarModel::from_answers(&answers_of(line), beams) {
                Ok(model) => (garage.answers, garage.model) = (answers_of(line), model),
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
        let model = CarModel::from_answers(&answers, BeamLine::default());
        let model = model.map_err(|error| error.to_string())?;
        (self.answers, self.model, self.asked) = (answers, model, true);
        Ok(self.line(control))
    }

    fn line(&self, control: &str) -> CarLine {
        let answers = &self.answers;
        let (tyre_diameter_in, tyre_size) = match answers.tyre {
            TyreAnswer::Diameter(d) => (Some(d.0), None),
            TyreAnswer::Size(size) => (None, Some(size.to_string())),
            TyreAnswer::DontKnow => (None, None),
        };
        let (sixty_foot_s, kind) = match answers.strength {
            StrengthAnswer::SixtyFoot { seconds } => (Some(seconds), None),
            StrengthAnswer::Kind(kind) => (None, word_of(&KINDS, kind)),
            StrengthAnswer::DontKnow => (None, None),
        };
        let edge = match self.model.edge() {
            EdgeAnswer::Press => "press",
            EdgeAnswer::Release => "release",
        };
        CarLine {
            id: uuid::Uuid::now_v7().to_string(),
            saved_at: clock::wall_time(),
            name: UNNAMED.to_owned(),
            tyre_diameter_in,
            tyre_size,
            leave: word_of(&LEAVES, answers.leave),
            sixty_foot_s,
            kind,
            depth: word_of(&DEPTHS, answers.depth),
            control: control.to_owned(),
            limb: word_of(&LIMBS, answers.press.limb),
            launch_edge: Some(edge.to_owned()),
        }
    }
}

/// The limb's word for a rig's fingerprint.
pub fn limb_word(limb: Limb) -> String {
    word_of(&LIMBS, limb).unwrap_or_else(|| "not said".to_owned())
}

fn answers_of(line: &CarLine) -> Answers {
    let size = line.tyre_size.as_deref().and_then(|text| text.parse().ok());
    let tyre = match (line.tyre_diameter_in, size) {
        (Some(inches), _) => TyreAnswer::Diameter(Inches(inches)),
        (None, Some(size)) => TyreAnswer::Size(size),
        (None, None) => TyreAnswer::DontKnow,
    };
    let kind = line.kind.as_deref().and_then(|word| of_word(&KINDS, word));
    let strength = match (line.sixty_foot_s, kind) {
        (Some(seconds), _) => StrengthAnswer::SixtyFoot { seconds },
        (None, Some(kind)) => StrengthAnswer::Kind(kind),
        (None, None) => StrengthAnswer::DontKnow,
    };
    let limb = line.limb.as_deref().and_then(|word| of_word(&LIMBS, word));
    Answers {
        tyre,
        leave: line.leave.as_deref().and_then(|w| of_word(&LEAVES, w)).unwrap_or_default(),
        strength,
        depth: line.depth.as_deref().and_then(|w| of_word(&DEPTHS, w)).unwrap_or_default(),
        press: PressAnswer { limb: limb.unwrap_or_default() },
    }
}

fn word_of<T: PartialEq>(words: &[(T, &str)], value: T) -> Option<String> {
    words.iter().find(|(v, _)| *v == value).map(|(_, word)| (*word).to_owned())
}

fn of_word<T: Copy>(words: &[(T, &str)], word: &str) -> Option<T> {
    words.iter().find(|(_, w)| *w == word).map(|(v, _)| *v)
}

#[cfg(test)]
mod tests {
    use super::*;

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
