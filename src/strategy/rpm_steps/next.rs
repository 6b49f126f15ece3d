//! The next launch rpm to try, or that it is time to stop.
//!
//! Owns the order of the rules and their words. Refuses more than one change at a time.

use std::fmt;

use super::{LaunchFeel, RpmStep, RpmSteps};
use crate::stats::Estimate;
use crate::stats::parabola::{HUBER_TUNING, Parabola};

/// How far a step goes. Common practice: a few hundred turns; 300 is chosen.
const STEP_RPM: f64 = 300.0;
/// Runs a step takes before it says something. Common practice: two or three, judged by their median.
const RUNS_A_STEP: usize = 2;
/// Steps a parabola takes.
const STEPS_A_CURVE: usize = 4;
/// An optimum known to this is found: nobody holds an engine better.
const FOUND_RPM: f64 = 150.0;
/// Advice is given in whole hundreds.
const ROUND_RPM: f64 = 100.0;

/// What to do next.
#[derive(Debug, Clone, PartialEq)]
pub enum NextStep {
    /// Run the same again: one run says nothing.
    Repeat {
        /// Engine speed.
        rpm: f64,
        /// How many more runs.
        more: usize,
    },
    /// Go up.
    Raise {
        /// To this engine speed.
        to: f64,
    },
    /// Go down.
    Lower {
        /// To this engine speed.
        to: f64,
    },
    /// Stay at this and change something else.
    Stop {
        /// Engine speed.
        at: f64,
        /// Why.
        why: WhyStop,
    },
}

/// Why it is time to stop.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash)]
pub enum WhyStop {
    /// The optimum is known as well as anybody can hold an engine.
    Found,
    /// What another step could bring is less than runs differ anyway.
    Noise,
}

/// The curve through four steps and more.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Curve {
    /// Where it is lowest, turns a minute.
    pub optimum_rpm: Estimate,
    /// The 60-foot time there, s.
    pub best_s: f64,
}

/// The advice with what it rests on.
#[derive(Debug, Clone, PartialEq)]
pub struct RpmAdvice {
    /// What to do next.
    pub next: NextStep,
    /// The curve, where four steps show one.
    pub curve: Option<Curve>,
}

/// What to try next, all else left alone.
///
/// 1. A step with one run is repeated.
/// 2. From four steps on a robust parabola is laid through all runs. Where it has a lowest place:
///    stop if that is known to ± 150 turns, stop if it promises less over the best step than the
///    median of three runs leaves open, else go there, at most one step beyond what was tried.
/// 3. Otherwise: bogged → up, spun → down (common practice). Without such a word the last step is
///    compared with its quicker neighbour: a difference that shows (more than the two medians leave
///    open) is followed, one that doesn't means the steps drown in noise. The first step goes up,
///    because bogging shows more plainly than a little spin (chosen).
pub fn advise(steps: &RpmSteps) -> RpmAdvice {
    let last = steps.steps[steps.last];
    let curve = curve(steps);
    let next = if last.sixty_foot_s.n < RUNS_A_STEP {
        NextStep::Repeat { rpm: hundreds(last.rpm), more: RUNS_A_STEP - last.sixty_foot_s.n }
    } else if let Some(curve) = &curve {
        by_curve(steps, curve)
    } else {
        by_feel(steps, &last)
    };
    RpmAdvice { next, curve }
}

fn curve(steps: &RpmSteps) -> Option<Curve> {
    if steps.steps.len() < STEPS_A_CURVE {
        return None;
    }
    let (x, y): (Vec<f64>, Vec<f64>) =
        steps.runs.iter().map(|run| (run.rpm, run.sixty_foot_s)).unzip();
    let parabola = Parabola::fit(&x, &y, HUBER_TUNING).ok()?;
    let optimum_rpm = parabola.lowest(super::LEVEL).ok()?;
    Some(Curve { optimum_rpm, best_s: parabola.at(optimum_rpm.value) })
}

fn by_curve(steps: &RpmSteps, curve: &Curve) -> NextStep {
    let Estimate { value, low, high, .. } = curve.optimum_rpm;
    let (first, last) = (steps.steps[0].rpm, steps.steps[steps.steps.len() - 1].rpm);
    let inside = (first..=last).contains(&value);
    if inside && high - low <= 2.0 * FOUND_RPM {
        return NextStep::Stop { at: hundreds(value), why: WhyStop::Found };
    }
    let best = steps.best();
    if inside && best.sixty_foot_s.value - curve.best_s < steps.noise_s() {
        return NextStep::Stop { at: hundreds(best.rpm), why: WhyStop::Noise };
    }
    let to = hundreds(value.clamp(first - STEP_RPM, last + STEP_RPM));
    let here = steps.steps[steps.last].rpm;
    if to > here { NextStep::Raise { to } } else { NextStep::Lower { to } }
}

fn by_feel(steps: &RpmSteps, last: &RpmStep) -> NextStep {
    let up = NextStep::Raise { to: hundreds(last.rpm + STEP_RPM) };
    let down = NextStep::Lower { to: hundreds((last.rpm - STEP_RPM).max(super::RPM.0)) };
    match last.feel {
        Some(LaunchFeel::Bogged) => return up,
        Some(LaunchFeel::Spun) => return down,
        Some(LaunchFeel::Clean) | None => {}
    }
    let below = steps.last.checked_sub(1).map(|i| steps.steps[i]);
    let above = steps.steps.get(steps.last + 1).copied();
    let quicker = [below, above]
        .into_iter()
        .flatten()
        .min_by(|a, b| a.sixty_foot_s.value.total_cmp(&b.sixty_foot_s.value));
    let Some(neighbour) = quicker else { return up };
    if !shows(last, &neighbour) {
        return NextStep::Stop { at: hundreds(steps.best().rpm), why: WhyStop::Noise };
    }
    let last_is_quicker = last.sixty_foot_s.value < neighbour.sixty_foot_s.value;
    let neighbour_is_above = neighbour.rpm > last.rpm;
    match (last_is_quicker, neighbour_is_above) {
        // The way that brought it goes on, unless it was tried already.
        (true, false) => above.map_or(up, |above| between(last, &above)),
        (true, true) => below.map_or(down, |below| between(last, &below)),
        (false, _) => between(last, &neighbour),
    }
}

/// Half-way towards a step that was tried.
fn between(here: &RpmStep, there: &RpmStep) -> NextStep {
    let to = hundreds((here.rpm + there.rpm) / 2.0);
    if there.rpm > here.rpm { NextStep::Raise { to } } else { NextStep::Lower { to } }
}

/// Whether two medians differ by more than they leave open.
fn shows(a: &RpmStep, b: &RpmStep) -> bool {
    let half = |step: &RpmStep| (step.sixty_foot_s.high - step.sixty_foot_s.low) / 2.0;
    (a.sixty_foot_s.value - b.sixty_foot_s.value).abs() > half(a).hypot(half(b))
}

fn hundreds(rpm: f64) -> f64 {
    (rpm / ROUND_RPM).round() * ROUND_RPM
}

impl fmt::Display for RpmAdvice {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        match &self.next {
            NextStep::Repeat { rpm, more } => {
                write!(f, "Stay at {rpm:.0} rpm for {more} more: one run says nothing.")?;
            }
            NextStep::Raise { to } => {
                write!(f, "Try {to:.0} rpm, two or three runs; leave all else alone.")?;
            }
            NextStep::Lower { to } => {
                write!(f, "Go down to {to:.0} rpm, two or three runs; leave all else alone.")?;
            }
            NextStep::Stop { at, why: WhyStop::Found } => {
                write!(
                    f,
                    "Stay at {at:.0} rpm: closer nobody holds an engine. Change something else."
                )?;
            }
            NextStep::Stop { at, why: WhyStop::Noise } => write!(
                f,
                "Stay at {at:.0} rpm: another step could bring less than your runs differ anyway. \
                 Get steady first, or change something else."
            )?,
        }
        if let Some(Curve { optimum_rpm, best_s }) = &self.curve {
            write!(
                f,
                " The curve is lowest at {:.0} rpm ({:.0} to {:.0}), {best_s:.2} s.",
                optimum_rpm.value, optimum_rpm.low, optimum_rpm.high
            )?;
        }
        Ok(())
    }
}
