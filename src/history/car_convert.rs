//! From a car's line to the car room's answers, details and beams, and back.
//!
//! Owns the words of the answers on disk. Refuses to check: what was told is what comes back, and
//! the car room says what is no car. A word of a later version counts as not answered.

use super::car_line::{BeamsLine, CarLine, DetailsLine, FilmedPartLine, TractionLine};
use crate::car::{
    Answers, BeamLine, CarError, CarKind, CarModel, DepthAnswer, DepthHabit, Details, DrivenEnd,
    FilmedPart, LeaveAnswer, Limb, PressAnswer, Strength, StrengthAnswer, Traction, TyreAnswer,
};
use crate::units::{Inches, Measured};

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
const DRIVEN: [(DrivenEnd, &str); 3] =
    [(DrivenEnd::Front, "front"), (DrivenEnd::Rear, "rear"), (DrivenEnd::All, "all")];

/// The word of a limb; `None` where none was told.
pub fn limb_word(limb: Limb) -> Option<String> {
    word_of(&LIMBS, limb)
}

impl CarLine {
    /// A line that says all this of a car, without id, name, time and control.
    pub fn describing(answers: &Answers, details: &Details, beams: BeamLine) -> Self {
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
        Self {
            tyre_diameter_in,
            tyre_size,
            leave: word_of(&LEAVES, answers.leave),
            sixty_foot_s,
            kind,
            depth: word_of(&DEPTHS, answers.depth),
            limb: limb_word(answers.press.limb),
            details: details_line(details, beams),
            ..Self::default()
        }
    }

    /// The answers to the five questions.
    pub fn answers(&self) -> Answers {
        let size = self.tyre_size.as_deref().and_then(|text| text.parse().ok());
        let tyre = match (self.tyre_diameter_in, size) {
            (Some(inches), _) => TyreAnswer::Diameter(Inches(inches)),
            (None, Some(size)) => TyreAnswer::Size(size),
            (None, None) => TyreAnswer::DontKnow,
        };
        let strength = match (self.sixty_foot_s, of_word(&KINDS, self.kind.as_deref())) {
            (Some(seconds), _) => StrengthAnswer::SixtyFoot { seconds },
            (None, Some(kind)) => StrengthAnswer::Kind(kind),
            (None, None) => StrengthAnswer::DontKnow,
        };
        let limb = of_word(&LIMBS, self.limb.as_deref()).unwrap_or_default();
        Answers {
            tyre,
            leave: of_word(&LEAVES, self.leave.as_deref()).unwrap_or_default(),
            strength,
            depth: of_word(&DEPTHS, self.depth.as_deref()).unwrap_or_default(),
            press: PressAnswer { limb },
        }
    }

    /// What is known beyond them.
    ///
    /// # Errors
    /// [`CarError`] for grip and weight that are no car's.
    pub fn details(&self) -> Result<Details, CarError> {
        let line = &self.details;
        let strength = if let Some(g) = line.launch_g {
            Some(Strength::Launch(g.into()))
        } else if let Some(traction) = &line.traction {
            // A word of a later version: the launch is then not known this way.
            let driven = of_word(&DRIVEN, Some(&traction.driven));
            let TractionLine { grip, weight_share, height_over_wheelbase, .. } = *traction;
            let traction = driven
                .map(|driven| Traction::new(grip, driven, weight_share, height_over_wheelbase));
            traction.transpose()?.map(Strength::Traction)
        } else if !line.slip_sixty_feet_s.is_empty() {
            Some(Strength::Slips(line.slip_sixty_feet_s.clone()))
        } else {
            line.launch_sixty_foot_s.map(|seconds| Strength::SixtyFoot(seconds.into()))
        };
        let depth = line.depth_in.map(|mean| DepthHabit {
            mean_in: mean.into(),
            spread_in: line.depth_spread_in.unwrap_or_default(),
        });
        Ok(Details {
            deflection_in: line.deflection_in.map(Measured::from),
            front_pressure_psi: line.front_pressure_psi,
            strength,
            lag_s: line.lag_s.map(Measured::from),
            depth,
            weight_lb: line.weight_lb,
            power_hp: line.power_hp,
            dial_s: line.dial_s,
            filmed: line.filmed.as_ref().map(|film| FilmedPart {
                seconds: film.car_part_s.into(),
                fps: film.fps,
                frames: film.frames.clone(),
            }),
        })
    }

    /// The beams of the track in use.
    ///
    /// # Errors
    /// [`CarError`] for beams nobody could set up.
    pub fn beams(&self) -> Result<BeamLine, CarError> {
        let Some(beams) = self.details.beams else { return Ok(BeamLine::default()) };
        BeamLine::new(
            Inches(beams.prestage_in),
            Inches(beams.guard_in),
            Inches(beams.height_in),
            Inches(beams.sixty_foot_height_in),
        )
    }

    /// The car itself.
    ///
    /// # Errors
    /// [`CarError`] for what is no car.
    pub fn model(&self) -> Result<CarModel, CarError> {
        CarModel::new(&self.answers(), self.details()?, self.beams()?)
    }
}

fn details_line(details: &Details, beams: BeamLine) -> DetailsLine {
    let mut line = DetailsLine {
        deflection_in: details.deflection_in.map(Into::into),
        front_pressure_psi: details.front_pressure_psi,
        lag_s: details.lag_s.map(Into::into),
        depth_in: details.depth.map(|habit| habit.mean_in.into()),
        depth_spread_in: details.depth.map(|habit| habit.spread_in),
        weight_lb: details.weight_lb,
        power_hp: details.power_hp,
        dial_s: details.dial_s,
        filmed: details.filmed.as_ref().map(|film| FilmedPartLine {
            car_part_s: film.seconds.into(),
            fps: film.fps,
            frames: film.frames.clone(),
        }),
        beams: (beams != BeamLine::default()).then(|| BeamsLine {
            prestage_in: beams.prestage_to_stage().0,
            guard_in: beams.stage_to_guard().0,
            height_in: beams.beam_height().0,
            sixty_foot_height_in: beams.sixty_foot_beam_height().0,
        }),
        ..DetailsLine::default()
    };
    match &details.strength {
        None => {}
        Some(Strength::SixtyFoot(seconds)) => line.launch_sixty_foot_s = Some((*seconds).into()),
        Some(Strength::Launch(g)) => line.launch_g = Some((*g).into()),
        Some(Strength::Slips(times_s)) => line.slip_sixty_feet_s = times_s.clone(),
        Some(Strength::Traction(traction)) => {
            line.traction = Some(TractionLine {
                grip: traction.grip(),
                driven: word_of(&DRIVEN, traction.driven()).unwrap_or_default(),
                weight_share: traction.weight_share(),
                height_over_wheelbase: traction.height_over_wheelbase(),
            });
        }
    }
    line
}

fn word_of<T: PartialEq>(words: &[(T, &str)], value: T) -> Option<String> {
    words.iter().find(|(v, _)| *v == value).map(|(_, word)| (*word).to_owned())
}

fn of_word<T: Copy>(words: &[(T, &str)], word: Option<&str>) -> Option<T> {
    words.iter().find(|(_, w)| Some(*w) == word).map(|(v, _)| *v)
}

#[cfg(test)]
mod tests {
    use super::super::car_line::cars_in_force;
    use super::*;

    fn strengths() -> [Option<Strength>; 5] {
        [
            None,
            Some(Strength::SixtyFoot(Measured::new(1.98, 0.02))),
            Some(Strength::Launch(Measured::new(0.7, 0.05))),
            Some(Strength::Traction(Traction::new(1.1, DrivenEnd::Rear, 0.48, 0.2).unwrap())),
            Some(Strength::Slips(vec![2.01, 1.98, 2.05])),
        ]
    }

    #[test]
    fn a_car_survives_the_way_to_disk_and_back() {
        let answers = Answers {
            tyre: TyreAnswer::Size("225/45R17".parse().unwrap()),
            leave: LeaveAnswer::Clutch,
            strength: StrengthAnswer::Kind(CarKind::QuickStreet),
            depth: DepthAnswer::Deeper,
            press: PressAnswer { limb: Limb::LeftFoot },
        };
        let beams = BeamLine::new(Inches(6.0), Inches(16.0), Inches(1.5625), Inches(9.0)).unwrap();
        let tyres = [answers.tyre, TyreAnswer::Diameter(Inches(24.6)), TyreAnswer::DontKnow];
        for (i, strength) in strengths().into_iter().enumerate() {
            let answers = Answers { tyre: tyres[i % 3], ..answers };
            let details = Details {
                deflection_in: Some(Measured::new(0.4, 0.1)),
                front_pressure_psi: Some(32.0),
                strength,
                lag_s: Some(Measured::new(0.06, 0.01)),
                depth: Some(DepthHabit { mean_in: Measured::new(1.5, 0.3), spread_in: 0.6 }),
                weight_lb: Some(3400.0),
                power_hp: Some(310.0),
                dial_s: Some(13.4),
                filmed: Some(FilmedPart {
                    seconds: Measured::new(0.31, 0.017),
                    fps: 240.0,
                    frames: vec![74.0, 75.5],
                }),
            };
            let line = CarLine::describing(&answers, &details, beams);
            let text = serde_json::to_string(&line).unwrap();
            let back: CarLine = serde_json::from_str(&text).unwrap();
            assert_eq!(back, line);
            assert_eq!(back.answers(), answers);
            assert_eq!(back.details().unwrap(), details);
            assert_eq!(back.beams().unwrap(), beams);
            assert_eq!(back.model(), CarModel::new(&answers, details, beams));
        }
    }

    #[test]
    fn a_line_of_the_five_answers_alone_has_no_details() {
        let line =
            CarLine::describing(&Answers::default(), &Details::default(), BeamLine::default());
        assert!(!serde_json::to_string(&line).unwrap().contains("details"));
        assert_eq!(
            line.model().unwrap(),
            CarModel::from_answers(&Answers::default(), BeamLine::default()).unwrap()
        );
    }

    #[test]
    fn a_car_that_cannot_be_says_so() {
        let line = CarLine { tyre_diameter_in: Some(900.0), ..CarLine::default() };
        assert!(line.model().unwrap_err().to_string().contains("900 in"));
        let details = DetailsLine { weight_lb: Some(-3.0), ..DetailsLine::default() };
        assert!(CarLine { details, ..CarLine::default() }.model().is_err());
    }

    #[test]
    fn the_newest_line_of_a_name_is_in_force() {
        let car = |name: &str, id: &str| CarLine {
            name: name.to_owned(),
            id: id.to_owned(),
            ..CarLine::default()
        };
        let lines = [car("a", "1"), car("b", "2"), car("a", "3")];
        let ids: Vec<&str> = cars_in_force(&lines).iter().map(|car| car.id.as_str()).collect();
        assert_eq!(ids, ["3", "2"]);
    }
}
