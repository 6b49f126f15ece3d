//! When to stop a sitting.
//!
//! Owns which launches of a sitting are looked at together and the count after which it is enough.
//! Refuses to stop anybody: it suggests.

use super::StrategyError;
use super::own::{OwnLines, OwnSetup, is_lit_guess_test};
use crate::seed::generator;
use crate::stats::Sample;
use crate::stats::over_time::pacing::{Grown, spread_grown};
use crate::trial::TrialRecord;

/// Launches after which a sitting is long enough. Chosen: as many as a round of the longest drill.
pub const ENOUGH: usize = 40;

/// What to do.
#[derive(Debug, Clone, Copy, PartialEq)]
pub enum Pace {
    /// Nothing speaks against the next launch.
    GoOn,
    /// It is enough.
    Enough {
        /// Launches made.
        launches: usize,
    },
    /// The last launches spread wider than those before them.
    Wider(Grown),
}

/// Whether to go on, from the runs of this sitting alone, in order; `seed` is the sitting's, so that
/// what was said stays said.
///
/// Every launch counts towards the forty, whatever it was practised in. Spreads are compared among
/// launches of the newest run's set-up: guess test and declared aims apart, an aimed launch by its
/// distance from its aim. Runs the driver excludes, void and scripted ones have no part in it.
///
/// # Errors
/// [`StrategyError::Stats`] for times that are no numbers.
pub fn pace(sitting: &OwnLines, seed: u64) -> Result<Pace, StrategyError> {
    let runs = || sitting.trials.iter().filter(|run| !run.setup.scripted);
    let launches = runs().filter(|run| run.seen.launch().is_some()).count();
    if launches >= ENOUGH {
        return Ok(Pace::Enough { launches });
    }
    let Some(newest) = runs().next_back() else { return Ok(Pace::GoOn) };
    let setup = OwnSetup::of(newest);
    let alike = |run: &&TrialRecord| {
        setup.holds(run)
            && is_lit_guess_test(run) == is_lit_guess_test(newest)
            && run.setup.aim.is_some() == newest.setup.aim.is_some()
            && !sitting.excluded.iter().any(|id| run.id == *id)
    };
    let parts: Vec<f64> = runs().filter(alike).filter_map(off_s).collect();
    let Ok(sample) = Sample::new(parts) else { return Ok(Pace::GoOn) };
    let grown = spread_grown(&sample, &mut generator(seed))?;
    Ok(grown.map_or(Pace::GoOn, Pace::Wider))
}

/// Where a launch fell, s: from its aim where it has one. The rig's delay is the same for all.
fn off_s(run: &TrialRecord) -> Option<f64> {
    let parts = run.parts.filter(|_| !run.setup.blank)?;
    let driver = parts.driver_raw;
    let aim = run.setup.aim.map(|aim| aim.driver_part(parts.car, parts.interval));
    Some(aim.map_or(driver, |aim| driver - aim).as_secs_f64())
}
