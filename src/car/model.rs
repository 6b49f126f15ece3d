//! The driver's car as numbers with doubt, and the car part it gives.
//!
//! Owns the step from answers and details to seconds, which of them the doubt comes from, and how
//! much one start differs from the next. Refuses advice: `levers` says what could be changed.

use super::details::{Known, LAUNCH_RUN_SHARE};
use super::launch::{
    LAG_S, LAUNCH_G, SIXTY_FOOT_S, STANDARD_GRAVITY_M_S2, acceleration_m_s2, seconds_to_roll,
    travel_in,
};
use super::rollout::remaining_in;
use super::tyre::chord_in;
use super::{Answers, BeamLine, CarError, Details, EdgeAnswer, Launch, Question, Tyre};
use crate::units::{Inches, Measured, Span};

/// Which answer a doubt comes from.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash)]
pub enum Source {
    /// The lag after the launch edge.
    Lag,
    /// The tyre's diameter.
    Tyre,
    /// The launch, known by its 60-foot time or otherwise.
    Strength,
    /// The staging depth.
    Depth,
    /// How far the load lowers the axle.
    Deflection,
    /// The film of the start line, which stands for all others.
    Film,
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
    /// Where the doubt comes from: lag, tyre, strength, depth, deflection. A filmed car part has the film
    /// in place of the lag and nothing from the others.
    pub contributions: [Contribution; 5],
    /// How much one start differs from the next (SD), s. No doubt: it does not shrink by knowing.
    pub run_sd_s: f64,
}

/// How much one start differs from the next, besides depth.
const LAG_RUN_S: f64 = 0.010;
/// How much depth differs from start to start where no habit is known, in.
const DEPTH_RUN_IN: f64 = 0.5;

/// The driver's car.
#[derive(Debug, Clone, PartialEq)]
pub struct CarModel {
    tyre: Tyre,
    tyre_diameter_in: Measured,
    deflection_in: Measured,
    beams: BeamLine,
    lag_s: Measured,
    strength: Known,
    depth_in: Measured,
    depth_run_in: f64,
    edge: EdgeAnswer,
    assumed_what: Vec<Question>,
    details: Details,
}

impl CarModel {
    /// The car that five answers describe, at a track with these beams. Tyres are taken as rigid.
    ///
    /// # Errors
    /// [`CarError::OutOfRange`] for a tyre outside 18–40 in or a 60-foot time outside 0.8–5 s.
    pub fn from_answers(answers: &Answers, beams: BeamLine) -> Result<Self, CarError> {
        Self::new(answers, Details::default(), beams)
    }

    /// The car that five answers and whatever else is known describe. A detail outranks the answer
    /// to its question; without a deflection the tyre is taken as rigid.
    ///
    /// A filmed car part outranks everything: the lag is then what the film leaves after the roll from
    /// the habitual depth. Where that would be below 0 or above .5 s the launch gives way instead, so
    /// that a start from that depth always takes what the film shows.
    ///
    /// # Errors
    /// [`CarError`] for an answer or a detail outside its limits.
    pub fn new(answers: &Answers, details: Details, beams: BeamLine) -> Result<Self, CarError> {
        details.check()?;
        let tyre_diameter_in = answers.tyre.diameter_in();
        let deflection_in = details.deflection_in.unwrap_or_default();
        let strength = match &details.strength {
            Some(strength) => strength.known()?,
            None => {
                let value = answers.strength.sixty_foot_s();
                SIXTY_FOOT_S.check(value.value)?;
                Known { as_sixty_foot: true, value, run_share: LAUNCH_RUN_SHARE }
            }
        };
        let mut assumed_what = answers.not_known();
        assumed_what.retain(|question| match question {
            Question::Strength => details.strength.is_none(),
            Question::Leave => details.lag_s.is_none(),
            Question::Depth => details.depth.is_none(),
            Question::Tyre | Question::Press => true,
        });
        let mut model = Self {
            tyre: Tyre::new(Inches(tyre_diameter_in.value), Inches(deflection_in.value))?,
            tyre_diameter_in,
            deflection_in,
            beams,
            lag_s: details.lag_s.unwrap_or(answers.leave.lag_s()),
            strength,
            depth_in: details.depth.map_or(answers.depth.depth_in(), |habit| habit.mean_in),
            depth_run_in: details.depth.map_or(DEPTH_RUN_IN, |habit| habit.spread_in),
            edge: answers.leave.edge(),
            assumed_what,
            details,
        };
        if let Some(filmed) = model.details.filmed.as_ref().map(|filmed| filmed.seconds) {
            model.follow(filmed)?;
        }
        Ok(model)
    }

    /// Lag and launch such that a start from the habitual depth takes what the film shows.
    fn follow(&mut self, filmed: Measured) -> Result<(), CarError> {
        let (value, [_, rest @ ..]) = self.slopes(|unknowns| unknowns.car_part_s());
        let roll_s = value - self.lag_s.value;
        let lag_s = (filmed.value - roll_s).clamp(LAG_S.low, LAG_S.high);
        if (lag_s + roll_s - filmed.value).abs() > 1e-9 {
            let roll_m = Inches(self.roll_in()).metres();
            let g = 2.0 * roll_m / (filmed.value - lag_s).powi(2) / STANDARD_GRAVITY_M_S2;
            let share = self.strength.value.sd / self.strength.value.value;
            self.strength.value = Measured::new(LAUNCH_G.check(g)?, share * g);
            self.strength.as_sixty_foot = false;
        }
        self.lag_s = Measured::new(lag_s, filmed.sd.hypot(root_of_squares(&rest)));
        self.assumed_what.clear();
        Ok(())
    }

    /// The roll left at the habitual depth, in.
    fn roll_in(&self) -> f64 {
        let chord = self.tyre.chord_or_zero(self.beams.beam_height());
        remaining_in(chord.0, self.beams.stage_to_guard().0, self.depth_in.value)
    }

    /// The front tyre.
    pub const fn tyre(&self) -> Tyre {
        self.tyre
    }

    /// The tyre's diameter with its doubt, in.
    pub const fn tyre_diameter_in(&self) -> Measured {
        self.tyre_diameter_in
    }

    /// How far the load lowers the axle, in; 0 ± 0 where nobody measured it.
    pub const fn deflection_in(&self) -> Measured {
        self.deflection_in
    }

    /// The beams it stands in.
    pub const fn beams(&self) -> BeamLine {
        self.beams
    }

    /// From the launch edge to the first movement, s.
    pub const fn lag_s(&self) -> Measured {
        self.lag_s
    }

    /// The 60-foot time of its launch, s: as given, or what the given launch comes to.
    pub fn sixty_foot_s(&self) -> Measured {
        if self.strength.as_sixty_foot {
            return self.strength.value;
        }
        let (value, slopes) = self.slopes(|unknowns| unknowns.sixty_foot_s());
        Measured::new(value, root_of_squares(&slopes))
    }

    /// The staging depth, in.
    pub const fn depth_in(&self) -> Measured {
        self.depth_in
    }

    /// How much the depth differs from start to start (SD), in.
    pub const fn depth_run_in(&self) -> f64 {
        self.depth_run_in
    }

    /// Run-to-run standard deviation of the launch, as a share of it.
    pub const fn launch_run_share(&self) -> f64 {
        self.strength.run_share
    }

    /// What is known beyond the five answers.
    pub const fn details(&self) -> &Details {
        &self.details
    }

    /// The edge of the control that launches it.
    pub const fn edge(&self) -> EdgeAnswer {
        self.edge
    }

    /// Whether the car part rests on a "don't know"; a filmed one does not.
    pub fn assumed(&self) -> bool {
        !self.assumed_what.is_empty()
    }

    /// Which questions behind the car part were answered by "don't know".
    pub fn assumed_what(&self) -> &[Question] {
        &self.assumed_what
    }

    /// The launch in units of standard gravity; from a 60-foot time by
    /// [`SixtyFootConvention::Geometric`](super::SixtyFootConvention) at the staging depth. The
    /// doubt is first order.
    pub fn launch_g(&self) -> Measured {
        let (g, slopes) = self.slopes(|unknowns| unknowns.launch_g());
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
    ///
    /// One start differs from the next by the same slopes times the run-to-run spreads of lag
    /// (± .010 s, chosen), launch (± 3 %, chosen, or what slips show) and depth (± .5 in, chosen, or
    /// the habit's own): about ± .014 s.
    ///
    /// A filmed car part is the film's value with the film's doubt.
    pub fn car_part(&self) -> CarPart {
        let (mut value, mut sds_s) = self.slopes(|unknowns| unknowns.car_part_s());
        let mut sources =
            [Source::Lag, Source::Tyre, Source::Strength, Source::Depth, Source::Deflection];
        if let Some(filmed) = &self.details.filmed {
            sources[0] = Source::Film;
            (value, sds_s) = (filmed.seconds.value, [filmed.seconds.sd, 0.0, 0.0, 0.0, 0.0]);
        }
        // √(2·r/a): a share x of a is half a share of the time.
        let by_launch_s = (value - self.lag_s.value) * self.strength.run_share / 2.0;
        let by_depth_s = self.slope_in_depth_s() * self.depth_run_in;
        CarPart {
            seconds: Measured::new(value, root_of_squares(&sds_s)),
            contributions: std::array::from_fn(|i| Contribution {
                source: sources[i],
                sd_s: sds_s[i],
            }),
            run_sd_s: root_of_squares(&[LAG_RUN_S, by_launch_s, by_depth_s]),
        }
    }

    /// The car part of one start with everything at its value but what `change` moves, s. The
    /// launch stays what it is at the habitual depth: staging deeper does not make a car stronger.
    pub(super) fn car_part_with_s(&self, change: impl Fn(&mut Start)) -> f64 {
        let mut start = Start {
            lag_s: self.lag_s.value,
            diameter_in: self.tyre_diameter_in.value,
            deflection_in: self.deflection_in.value,
            depth_in: self.depth_in.value,
            launch_g: self.launch_g().value,
        };
        change(&mut start);
        let roll_in = start.roll_in(self.beams);
        let a_m_s2 = start.launch_g * STANDARD_GRAVITY_M_S2;
        start.lag_s + seconds_to_roll(Inches(roll_in).metres(), a_m_s2, 0.0)
    }

    /// Slope of the car part in the depth at an unchanged launch, s/in, ≤ 0. Taken towards deeper:
    /// above the shallow position there is no staged car.
    pub(super) fn slope_in_depth_s(&self) -> f64 {
        const STEP_IN: f64 = 1e-4;
        let at = |more: f64| self.car_part_with_s(|start| start.depth_in += more);
        (at(STEP_IN) - at(0.0)) / STEP_IN
    }

    /// `of` at the values, and how much of its standard deviation each unknown causes.
    fn slopes(&self, of: impl Fn(Unknowns) -> f64) -> (f64, [f64; 5]) {
        let all = [
            self.lag_s,
            self.tyre_diameter_in,
            self.strength.value,
            self.depth_in,
            self.deflection_in,
        ];
        let values = all.map(|unknown| unknown.value);
        let unknowns = |values| Unknowns {
            values,
            as_sixty_foot: self.strength.as_sixty_foot,
            beams: self.beams,
        };
        let sds = std::array::from_fn(|i| {
            let step = all[i].sd * 0.01;
            if step <= 0.0 {
                return 0.0;
            }
            let at = |offset: f64| {
                let mut moved = values;
                moved[i] += offset;
                of(unknowns(moved))
            };
            ((at(step) - at(-step)) / (2.0 * step) * all[i].sd).abs()
        });
        (of(unknowns(values)), sds)
    }
}

/// What one start is computed from.
#[derive(Debug, Clone, Copy)]
pub(super) struct Start {
    pub lag_s: f64,
    pub diameter_in: f64,
    pub deflection_in: f64,
    pub depth_in: f64,
    pub launch_g: f64,
}

impl Start {
    pub(super) fn roll_in(&self, beams: BeamLine) -> f64 {
        let chord = chord_in(self.diameter_in, self.deflection_in, beams.beam_height().0);
        remaining_in(chord, beams.stage_to_guard().0, self.depth_in)
    }
}

/// What is not known exactly: lag (s), tyre diameter (in), strength (s or g), depth (in),
/// deflection (in). Bare numbers, because the steps of a slope may leave the limits of the types by
/// a hair.
struct Unknowns {
    values: [f64; 5],
    as_sixty_foot: bool,
    beams: BeamLine,
}

impl Unknowns {
    fn chord_in(&self, height: Inches) -> f64 {
        let [_, diameter_in, _, _, deflection_in] = self.values;
        chord_in(diameter_in, deflection_in.max(0.0), height.0)
    }

    fn roll_in(&self) -> f64 {
        let chord = self.chord_in(self.beams.beam_height());
        remaining_in(chord, self.beams.stage_to_guard().0, self.values[3])
    }

    /// From where the car stands to the end of the 60-foot split.
    fn travel_in(&self) -> f64 {
        let (near, far) = (self.beams.beam_height(), self.beams.sixty_foot_beam_height());
        travel_in(self.chord_in(near), self.chord_in(far)) - self.values[3].max(0.0)
    }

    fn a_m_s2(&self) -> f64 {
        if self.as_sixty_foot {
            acceleration_m_s2(self.values[2], self.travel_in(), self.roll_in())
        } else {
            self.values[2] * STANDARD_GRAVITY_M_S2
        }
    }

    fn launch_g(&self) -> f64 {
        self.a_m_s2() / STANDARD_GRAVITY_M_S2
    }

    fn sixty_foot_s(&self) -> f64 {
        let roll = |inches: f64| seconds_to_roll(Inches(inches).metres(), self.a_m_s2(), 0.0);
        roll(self.travel_in()) - roll(self.roll_in())
    }

    fn car_part_s(&self) -> f64 {
        self.values[0] + seconds_to_roll(Inches(self.roll_in()).metres(), self.a_m_s2(), 0.0)
    }
}

fn root_of_squares(parts: &[f64]) -> f64 {
    parts.iter().map(|part| part * part).sum::<f64>().sqrt()
}
