//! Launch rpm, step by step: what the slips say of each, and which to try next.
//!
//! Owns grouping runs into steps, what each step is worth and the noise steps drown in. Refuses two
//! changes at a time, and to read an optimum out of noise; `next` gives the advice.

mod next;

pub use next::{Curve, NextStep, RpmAdvice, WhyStop, advise};

pub use crate::slips::LaunchFeel;
use crate::slips::Slip;
use crate::stats::summary::{quantile_of_sorted, student_quantile};
use crate::stats::{Estimate, StatsError};

/// One launch.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct RpmRun {
    /// Engine speed at the launch, turns a minute.
    pub rpm: f64,
    /// 60-foot time, s.
    pub sixty_foot_s: f64,
    /// How it felt, where the driver says.
    pub feel: Option<LaunchFeel>,
}

/// All runs at (nearly) one engine speed.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct RpmStep {
    /// Their average engine speed.
    pub rpm: f64,
    /// Their median 60-foot time, s, with the interval of what it stands for.
    pub sixty_foot_s: Estimate,
    /// How the newest of them that says so felt.
    pub feel: Option<LaunchFeel>,
}

/// What the runs so far say.
#[derive(Debug, Clone, PartialEq)]
pub struct RpmSteps {
    /// From low to high.
    pub steps: Vec<RpmStep>,
    /// Which of them was run last.
    pub last: usize,
    /// Run-to-run standard deviation of a 60-foot time at one step, s.
    pub run_sd_s: f64,
    runs: Vec<RpmRun>,
}

/// Runs this near one another are one step. Chosen: nobody holds an engine better.
const SAME_STEP_RPM: f64 = 75.0;
/// Limits of an engine speed and a 60-foot time that say something.
const RPM: (f64, f64) = (500.0, 15_000.0);
const SIXTY_FOOT_S: (f64, f64) = (0.8, 5.0);
/// A spread seen in few runs is mixed with the usual one, as if that were this many runs. Chosen, as
/// for the launch known by slips.
const USUAL_RUNS: f64 = 5.0;
const USUAL_SD_S: f64 = 0.03;
/// Standard error of a median over that of a mean, for normal values: √(π/2).
const MEDIAN_OVER_MEAN: f64 = 1.253_314_137_315_5;
/// Level of every interval here.
const LEVEL: f64 = 0.90;

/// The launches of real slips that have both an engine speed and a 60-foot time, in order. Practice
/// slips are none: their 60-foot time is computed.
pub fn runs_of<'a>(slips: impl IntoIterator<Item = &'a Slip>) -> Vec<RpmRun> {
    slips
        .into_iter()
        .filter(|slip| !slip.is_simulated())
        .filter_map(|slip| {
            let (rpm, time) = (slip.launch_rpm?, slip.own.t60?);
            Some(RpmRun { rpm, sixty_foot_s: time.seconds(), feel: slip.feel })
        })
        .collect()
}

impl RpmSteps {
    /// Groups runs, given in the order they were made, into steps.
    ///
    /// The spread at one step is pooled over all steps and mixed with the usual .03 s:
    /// s² = (5·.03² + Σᵢ Σ(t − meanᵢ)²) / (5 + Σᵢ(nᵢ − 1)); a step's median is known to
    /// ± t·1.2533·s/√n, t at the degrees of freedom of s.
    ///
    /// # Errors
    /// [`StatsError::TooFew`] without a run; [`StatsError::OutOfDomain`] for an engine speed outside
    /// 500–15 000 or a 60-foot time outside .8–5 s.
    pub fn new(runs: &[RpmRun]) -> Result<Self, StatsError> {
        let Some(newest) = runs.last() else {
            return Err(StatsError::TooFew { have: 0, need: 1 });
        };
        for run in runs {
            within("launch rpm", run.rpm, RPM, "500 to 15000")?;
            within("60-foot time", run.sixty_foot_s, SIXTY_FOOT_S, "0.8 to 5 s")?;
        }
        let groups = groups(runs);
        let squares: f64 = groups.iter().map(|group| squares(&times(group))).sum();
        let freedom = USUAL_RUNS + (runs.len() - groups.len()) as f64;
        let run_sd_s = ((USUAL_RUNS * USUAL_SD_S * USUAL_SD_S + squares) / freedom).sqrt();
        let half = student_quantile(LEVEL, freedom)? * MEDIAN_OVER_MEAN * run_sd_s;
        let step = |group: &Vec<RpmRun>| {
            let mut sorted = times(group);
            sorted.sort_by(f64::total_cmp);
            let (n, value) = (sorted.len(), quantile_of_sorted(&sorted, 0.5));
            let half = half / (n as f64).sqrt();
            RpmStep {
                rpm: group.iter().map(|run| run.rpm).sum::<f64>() / n as f64,
                sixty_foot_s: Estimate {
                    value,
                    low: value - half,
                    high: value + half,
                    level: LEVEL,
                    n,
                },
                feel: group.iter().rev().find_map(|run| run.feel),
            }
        };
        let steps: Vec<RpmStep> = groups.iter().map(step).collect();
        let last = groups
            .iter()
            .position(|group| group.iter().any(|run| run.rpm == newest.rpm))
            .unwrap_or_default();
        Ok(Self { steps, last, run_sd_s, runs: runs.to_vec() })
    }

    /// The step with the quickest median.
    pub fn best(&self) -> &RpmStep {
        let by_time =
            |a: &&RpmStep, b: &&RpmStep| a.sixty_foot_s.value.total_cmp(&b.sixty_foot_s.value);
        self.steps.iter().min_by(by_time).expect("there is a step, because there was a run")
    }

    /// What the median of three runs leaves open (SD), s: less than this is nothing to step for.
    pub fn noise_s(&self) -> f64 {
        MEDIAN_OVER_MEAN * self.run_sd_s / 3.0_f64.sqrt()
    }
}

/// Runs from low to high, cut wherever the engine speed jumps by more than a step's width.
fn groups(runs: &[RpmRun]) -> Vec<Vec<RpmRun>> {
    let mut sorted = runs.to_vec();
    // Stable, so that within a step the order of the runs is kept.
    sorted.sort_by(|a, b| a.rpm.total_cmp(&b.rpm));
    let mut groups: Vec<Vec<RpmRun>> = Vec::new();
    for run in sorted {
        match groups.last_mut() {
            Some(group) if run.rpm - group[0].rpm <= 2.0 * SAME_STEP_RPM => group.push(run),
            _ => groups.push(vec![run]),
        }
    }
    groups
}

fn times(group: &[RpmRun]) -> Vec<f64> {
    group.iter().map(|run| run.sixty_foot_s).collect()
}

fn squares(values: &[f64]) -> f64 {
    let mean = values.iter().sum::<f64>() / values.len() as f64;
    values.iter().map(|value| (value - mean).powi(2)).sum()
}

fn within(
    name: &'static str,
    value: f64,
    (low, high): (f64, f64),
    domain: &'static str,
) -> Result<(), StatsError> {
    if (low..=high).contains(&value) {
        Ok(())
    } else {
        Err(StatsError::OutOfDomain { name, value, domain })
    }
}
