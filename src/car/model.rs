//! The driver's car as numbers with doubt, and the car part it gives.
//!
//! Owns the step from answers to seconds and which answer the doubt comes from. Refuses
//! run-to-run scatter: this is what is not known about the car, not how evenly it launches.

use super::launch::{
    SIXTY_FOOT_S, STANDARD_GRAVITY_M_S2, acceleration_m_s2, seconds_to_roll, travel_in,
};
use super::rollout::remaining_in;
use super::tyre::chord_in;
use super::{Answers, BeamLine, CarError, EdgeAnswer, Launch, Question, Tyre};
use crate::units::{Inches, Measured, Span};

/// Which answer a doubt comes from.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash)]
pub enum Source {
    /// The lag after the launch edge.
    Lag,
    /// The tyre's diameter.
    Tyre,
    /// The launch, known by its 60-foot time.
    Strength,
    /// The staging depth.
    Depth,
}

/// One answer's share of the doubt.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Contribution {
    /// Whose.
    pub source: Source,
    /// The standard deviation it alone would cause, s.
    pub sd_s: f64,
}

/// The car part: launch edge → the tyre clears the stage beam or reaches the guard beam.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct CarPart {
    /// The whole, s; its doubt is the root of the squares of the contributions.
    pub seconds: Measured,
    /// Where the doubt comes from: lag, tyre, strength, depth.
    pub contributions: [Contribution; 4],
}

/// The driver's car.
#[derive(Debug, Clone, PartialEq)]
pub struct CarModel {
    tyre: Tyre,
    tyre_diameter_in: Measured,
    beams: BeamLine,
    lag_s: Measured,
    sixty_foot_s: Measured,
    depth_in: Measured,
    edge: EdgeAnswer,
    assumed_what: Vec<Question>,
}

impl CarModel {
    /// The car that five answers describe, at a track with these beams. Tyres are taken as rigid.
    ///
    /// # Errors
    /// [`CarError::OutOfRange`] for a tyre outside 18–40 in or a 60-foot time outside 0.8–5 s.
    pub fn from_answers(answers: &Answers, beams: BeamLine) -> Result<Self, CarError> {
        let tyre_diameter_in = answers.tyre.diameter_in();
        let sixty_foot_s = answers.strength.sixty_foot_s();
        SIXTY_FOOT_S.check(sixty_foot_s.value)?;
        Ok(Self {
            tyre: Tyre::rigid(Inches(tyre_diameter_in.value))?,
            tyre_diameter_in,
            beams,
            lag_s: answers.leave.lag_s(),
            sixty_foot_s,
            depth_in: answers.depth.depth_in(),
            edge: answers.leave.edge(),
            assumed_what: answers.not_known(),
        })
    }

    /// The front tyre.
    pub const fn tyre(&self) -> Tyre {
        self.tyre
    }

    /// The tyre's diameter with its doubt, in.
    pub const fn tyre_diameter_in(&self) -> Measured {
        self.tyre_diameter_in
    }

    /// The beams it stands in.
    pub const fn beams(&self) -> BeamLine {
        self.beams
    }

    /// From the launch edge to the first movement, s.
    pub const fn lag_s(&self) -> Measured {
        self.lag_s
    }

    /// The 60-foot time its launch is known by, s.
    pub const fn sixty_foot_s(&self) -> Measured {
        self.sixty_foot_s
    }

    /// The staging depth, in.
    pub const fn depth_in(&self) -> Measured {
        self.depth_in
    }

    /// The edge of the control that launches it.
    pub const fn edge(&self) -> EdgeAnswer {
        self.edge
    }

    /// Whether any number rests on a "don't know".
    pub fn assumed(&self) -> bool {
        !self.assumed_what.is_empty()
    }

    /// Which questions about the car were answered by "don't know".
    pub fn assumed_what(&self) -> &[Question] {
        &self.assumed_what
    }

    /// The launch in units of standard gravity, from the 60-foot time by
    /// [`SixtyFootConvention::Geometric`](super::SixtyFootConvention) at the staging depth. The
    /// doubt is first order in 60-foot time, tyre and depth.
    pub fn launch_g(&self) -> Measured {
        let (g, slopes) = self.slopes(|unknowns| unknowns.launch_g(self.beams));
        Measured::new(g, root_of_squares(&slopes))
    }

    /// The launch to run a start with: the values without their doubts. With the roll left where
    /// the car really stands it gives that start's car part, whatever depth the answers said.
    pub fn launch(&self) -> Launch {
        Launch::new(self.launch_g().value, Span::from_secs_f64(self.lag_s.value))
            .expect("the limits of the answers lie inside those of a launch")
    }

    /// The car part with its doubt: lag + √(2·r/a), r the roll left at the staging depth, a the
    /// launch that the 60-foot time stands for.
    ///
    /// The doubt is first order: each answer's standard deviation times the slope of the car part
    /// in that answer, a central difference one hundredth of a standard deviation to either side;
    /// the answers are taken as independent. All answers unknown: .40 ± .05 s.
    pub fn car_part(&self) -> CarPart {
        let (value, sds_s) = self.slopes(|unknowns| unknowns.car_part_s(self.beams));
        let sources = [Source::Lag, Source::Tyre, Source::Strength, Source::Depth];
        CarPart {
            seconds: Measured::new(value, root_of_squares(&sds_s)),
            contributions: std::array::from_fn(|i| Contribution {
                source: sources[i],
                sd_s: sds_s[i],
            }),
        }
    }

    /// `of` at the values, and how much of its standard deviation each unknown causes.
    fn slopes(&self, of: impl Fn(Unknowns) -> f64) -> (f64, [f64; 4]) {
        let all = [self.lag_s, self.tyre_diameter_in, self.sixty_foot_s, self.depth_in];
        let values = all.map(|unknown| unknown.value);
        let sds = std::array::from_fn(|i| {
            let step = all[i].sd * 0.01;
            if step <= 0.0 {
                return 0.0;
            }
            let at = |offset: f64| {
                let mut moved = values;
                moved[i] += offset;
                of(Unknowns(moved))
            };
            ((at(step) - at(-step)) / (2.0 * step) * all[i].sd).abs()
        });
        (of(Unknowns(values)), sds)
    }
}

/// What is not known exactly: lag (s), tyre diameter (in), 60-foot time (s), depth (in). Bare
/// numbers, because the steps of a slope may leave the limits of the types by a hair.
struct Unknowns([f64; 4]);

impl Unknowns {
    fn roll_in(&self, beams: BeamLine) -> f64 {
        let Self([_, diameter_in, _, depth_in]) = *self;
        let chord = chord_in(diameter_in, 0.0, beams.beam_height().0);
        remaining_in(chord, beams.stage_to_guard().0, depth_in)
    }

    fn a_m_s2(&self, beams: BeamLine) -> f64 {
        let Self([_, diameter_in, t60_s, depth_in]) = *self;
        let chord = |height: Inches| chord_in(diameter_in, 0.0, height.0);
        let travel = travel_in(chord(beams.beam_height()), chord(beams.sixty_foot_beam_height()));
        acceleration_m_s2(t60_s, travel - depth_in.max(0.0), self.roll_in(beams))
    }

    fn launch_g(&self, beams: BeamLine) -> f64 {
        self.a_m_s2(beams) / STANDARD_GRAVITY_M_S2
    }

    fn car_part_s(&self, beams: BeamLine) -> f64 {
        let roll_m = Inches(self.roll_in(beams)).metres();
        self.0[0] + seconds_to_roll(roll_m, self.a_m_s2(beams), 0.0)
    }
}

fn root_of_squares(parts: &[f64]) -> f64 {
    parts.iter().map(|part| part * part).sum::<f64>().sqrt()
}
