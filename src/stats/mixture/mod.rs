//! Two ways of launching in one column of times: anticipated and reacted.
//!
//! Owns the decision between one part and two, and the guess share of blank runs. The law and each
//! launch's chance of having been a guess are [`AnticipateReact`]'s, the fit is the family's. Refuses to
//! read minds: the parts describe times, not intentions, and blank runs are never pooled with ordinary
//! ones.
//!
//! [`AnticipateReact`]: super::family::AnticipateReact

mod decision;

pub use decision::{PartsDecision, decide};

use super::family::Model;
use super::fit::Fit;
use super::risk::count_interval;
use super::{Caveat, Estimate, StatsError};

/// Launches a part needs before it is worth reading. Chosen.
const LEAST_IN_A_PART: f64 = 15.0;

/// What to say of a fit of which one part is small; nothing of any other.
pub(super) fn small_part(fit: &Fit) -> Option<Caveat> {
    let Some(Model::AnticipateReact(law)) = fit.model else {
        return None;
    };
    let launches = law.share().min(1.0 - law.share()) * fit.n as f64;
    (launches < LEAST_IN_A_PART).then(|| Caveat::SmallPart { launches: launches.round() as usize })
}

/// The share of launches that were guesses, from blank runs: `guesses` of `blank_runs` left within
/// 120 ms after the due mark though no lamp lit. A lower bound: who guesses right on ordinary runs
/// may still stay on a blank one.
///
/// # Errors
/// As [`count_interval`].
pub fn guess_share(guesses: usize, blank_runs: usize, level: f64) -> Result<Estimate, StatsError> {
    count_interval(guesses, blank_runs, level)
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::stats::family::{AnticipateReact, Family};
    use crate::stats::fit::Status;

    #[test]
    fn the_smaller_part_is_doubted_whichever_it_is() {
        let of = |share: f64, n: usize| {
            let p = [share, 0.05, 0.02, 0.19, 0.02, 0.035];
            let model = Some(Model::AnticipateReact(AnticipateReact::from_parameters(&p).unwrap()));
            small_part(&Fit {
                family: Family::AnticipateReact,
                status: Status::Interior,
                model,
                parameters: p.into_iter().map(Some).collect(),
                standard_errors: None,
                log_likelihood: Some(0.0),
                n,
            })
        };
        assert_eq!(of(0.1, 100), Some(Caveat::SmallPart { launches: 10 }));
        assert_eq!(of(0.9, 100), Some(Caveat::SmallPart { launches: 10 }));
        assert_eq!(of(0.5, 20), Some(Caveat::SmallPart { launches: 10 }));
        assert_eq!((of(0.1, 200), of(0.9, 200)), (None, None));
    }
}
