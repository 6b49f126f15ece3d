//! From the fields of a car's form to the car.
//!
//! Owns reading each field and the doubts that stand where none was given. Refuses limits: the types of
//! the car have them, and their words are shown beside the field.

use super::{CarField, CarForm, DRIVEN, Described, KINDS, LEAVES, LIMBS, of_word};
use crate::car::{
    Answers, BeamLine, CarModel, DepthAnswer, DepthHabit, Details, DrivenEnd, PressAnswer,
    Strength, StrengthAnswer, Traction, TyreAnswer,
};
use crate::form::{Quantity, Unit, read_quantity};
use crate::units::{Inches, Measured};

/// What is wrong, and where.
type Wrong = (CarField, String);

// Doubts where none was typed, all chosen: a ruler at a tyre, a lag read from a film or a log, a depth
// paced out, a launch read from an accelerometer.
const DEFLECTION_IN: f64 = 0.1;
const LAG_S: f64 = 0.02;
const DEPTH_IN: f64 = 0.3;
const DEPTH_SPREAD_IN: f64 = 0.5;
const LAUNCH_SHARE: f64 = 0.05;

impl CarForm {
    /// The car the fields describe. `strict`: a field that cannot be read is told; else it counts as
    /// empty.
    pub(super) fn described(&self, strict: bool) -> Result<Described, Wrong> {
        use CarField as F;
        let details = Details {
            deflection_in: self.measured(
                F::Deflection,
                Unit::LENGTH_IN,
                |_| DEFLECTION_IN,
                strict,
            )?,
            front_pressure_psi: self.number(F::FrontPressure, Unit::PRESSURE_PSI, strict)?,
            strength: None,
            lag_s: self.measured(F::Lag, Unit::TIME_S, |_| LAG_S, strict)?,
            depth: None,
            weight_lb: self.number(F::Weight, Unit::WEIGHT_LB, strict)?,
            power_hp: self.number(F::Power, Unit::POWER_HP, strict)?,
            dial_s: self.number(F::Dial, Unit::TIME_S, strict)?,
            filmed: self
                .before
                .details
                .filmed
                .clone()
                .filter(|_| self.form.text(F::Film) == "film"),
        };
        let (strength_answer, strength) = self.strength(strict)?;
        let (depth_answer, depth) = self.depth(strict)?;
        let answers = Answers {
            tyre: self.tyre(strict)?,
            leave: of_word(&LEAVES, self.form.text(F::Leave)).unwrap_or_default(),
            strength: strength_answer,
            depth: depth_answer,
            press: PressAnswer {
                limb: of_word(&LIMBS, self.form.text(F::Limb)).unwrap_or_default(),
            },
        };
        let name = self.form.text(F::Name).trim();
        let name = if name.is_empty() { "my car" } else { name }.to_owned();
        let details = Details { strength, depth, ..details };
        Ok(Described { name, answers, details, beams: self.beams(strict)? })
    }

    /// What is wrong with one field, the others as they were.
    pub(super) fn alone(&self, key: CarField) -> Result<(), String> {
        let only = |(at, wrong): Wrong| if at == key { Err(wrong) } else { Ok(()) };
        let Described { answers, details, beams, .. } = match self.described(true) {
            Ok(car) => car,
            Err(wrong) => return only(wrong),
        };
        // A number may be no car's; an empty field is not to blame.
        match CarModel::new(&answers, details, beams) {
            Err(error) if !self.form.text(key).is_empty() => Err(error.to_string()),
            _ => Ok(()),
        }
    }

    fn quantity(
        &self,
        key: CarField,
        units: &[Unit],
        strict: bool,
    ) -> Result<Option<Quantity>, Wrong> {
        let text = self.form.text(key);
        if text.trim().is_empty() {
            return Ok(None);
        }
        match read_quantity(text, units) {
            Ok(quantity) => Ok(Some(quantity)),
            Err(_) if !strict => Ok(None),
            Err(wrong) => Err((key, wrong)),
        }
    }

    fn number(&self, key: CarField, units: &[Unit], strict: bool) -> Result<Option<f64>, Wrong> {
        Ok(self.quantity(key, units, strict)?.map(|quantity| quantity.value))
    }

    fn measured(
        &self,
        key: CarField,
        units: &[Unit],
        usual: impl Fn(f64) -> f64,
        strict: bool,
    ) -> Result<Option<Measured>, Wrong> {
        let quantity = self.quantity(key, units, strict)?;
        let measured =
            |q: Quantity| Measured::new(q.value, q.doubt.unwrap_or_else(|| usual(q.value)));
        Ok(quantity.map(measured))
    }

    fn tyre(&self, strict: bool) -> Result<TyreAnswer, Wrong> {
        let text = self.form.text(CarField::Tyre).trim();
        if text.is_empty() {
            return Ok(TyreAnswer::DontKnow);
        }
        if let Ok(inches) = read_quantity(text, Unit::LENGTH_IN) {
            return Ok(TyreAnswer::Diameter(Inches(inches.value)));
        }
        match text.parse() {
            Ok(size) => Ok(TyreAnswer::Size(size)),
            Err(_) if !strict => Ok(TyreAnswer::DontKnow),
            Err(error) => Err((CarField::Tyre, error.to_string())),
        }
    }

    fn strength(&self, strict: bool) -> Result<(StrengthAnswer, Option<Strength>), Wrong> {
        use CarField as F;
        let by = self.form.text(F::StrengthBy);
        // A choice that waits for its number leaves the question open.
        let open = (StrengthAnswer::DontKnow, None);
        Ok(match by {
            "sixty-foot" => match self.quantity(F::SixtyFoot, Unit::TIME_S, strict)? {
                None => open,
                Some(Quantity { value, doubt: None }) => {
                    (StrengthAnswer::SixtyFoot { seconds: value }, None)
                }
                Some(Quantity { value, doubt: Some(doubt) }) => {
                    let told = Measured::new(value, doubt);
                    (StrengthAnswer::DontKnow, Some(Strength::SixtyFoot(told)))
                }
            },
            "slips" => (StrengthAnswer::DontKnow, self.slips(strict)?.map(Strength::Slips)),
            "g" => {
                let g = self.measured(F::LaunchG, Unit::G, |g| LAUNCH_SHARE * g, strict)?;
                (StrengthAnswer::DontKnow, g.map(Strength::Launch))
            }
            "traction" => (StrengthAnswer::DontKnow, self.traction(strict)?),
            kind => match of_word(&KINDS, kind) {
                Some(kind) => (StrengthAnswer::Kind(kind), None),
                None => open,
            },
        })
    }

    fn slips(&self, strict: bool) -> Result<Option<Vec<f64>>, Wrong> {
        let text = self.form.text(CarField::Slips).replace(';', " ");
        let mut times_s = Vec::new();
        for word in text.split_whitespace() {
            match read_quantity(word.trim_matches(','), Unit::TIME_S) {
                Ok(time) => times_s.push(time.value),
                Err(_) if !strict => {}
                Err(wrong) => return Err((CarField::Slips, wrong)),
            }
        }
        Ok((!times_s.is_empty()).then_some(times_s))
    }

    fn traction(&self, strict: bool) -> Result<Option<Strength>, Wrong> {
        use CarField as F;
        let share = [Unit::of("", 1.0), Unit::of("%", 0.01)];
        let grip = self.number(F::Grip, Unit::NONE, strict)?;
        let weight_share = self.number(F::WeightShare, &share, strict)?;
        let height = self.number(F::Height, &share, strict)?;
        let (Some(grip), Some(weight_share), Some(height)) = (grip, weight_share, height) else {
            return Ok(None);
        };
        let driven = of_word(&DRIVEN, self.form.text(F::Driven)).unwrap_or(DrivenEnd::Rear);
        match Traction::new(grip, driven, weight_share, height) {
            Ok(traction) => Ok(Some(Strength::Traction(traction))),
            Err(_) if !strict => Ok(None),
            Err(error) => Err((F::Grip, error.to_string())),
        }
    }

    fn depth(&self, strict: bool) -> Result<(DepthAnswer, Option<DepthHabit>), Wrong> {
        use CarField as F;
        Ok(match self.form.text(F::DepthBy) {
            "just-lit" => (DepthAnswer::JustLit, None),
            "deeper" => (DepthAnswer::Deeper, None),
            "measured" => {
                let mean = self.measured(F::Depth, Unit::LENGTH_IN, |_| DEPTH_IN, strict)?;
                let spread = self.number(F::DepthSpread, Unit::LENGTH_IN, strict)?;
                let spread_in = spread.unwrap_or(DEPTH_SPREAD_IN);
                (DepthAnswer::DontKnow, mean.map(|mean_in| DepthHabit { mean_in, spread_in }))
            }
            _ => (DepthAnswer::DontKnow, None),
        })
    }

    fn beams(&self, strict: bool) -> Result<BeamLine, Wrong> {
        use CarField as F;
        let usual = BeamLine::default();
        let inches = |key, usual: Inches| {
            Ok(self.number(key, Unit::LENGTH_IN, strict)?.map_or(usual, Inches))
        };
        let beams = BeamLine::new(
            inches(F::Prestage, usual.prestage_to_stage())?,
            inches(F::Guard, usual.stage_to_guard())?,
            inches(F::BeamHeight, usual.beam_height())?,
            inches(F::SixtyFootHeight, usual.sixty_foot_beam_height())?,
        );
        match beams {
            Ok(beams) => Ok(beams),
            Err(_) if !strict => Ok(usual),
            Err(error) => Err((F::Prestage, error.to_string())),
        }
    }
}
