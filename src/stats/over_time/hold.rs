//! Does the length of the hold (from staged to the first amber) move the driver part?
//!
//! Owns the slope. Refuses blame: a shorter driver part after long holds is what waiting for a
//! tree that must come soon does to people (foreperiod effect: Niemi & Näätänen 1981, "Foreperiod
//! and simple reaction time", Psychological Bulletin 89, 133–162; for trial-to-trial carry-over see
//! Los and others 2014, Frontiers in Psychology).

use super::regression::{Fit, Group, fit};
use crate::stats::numeric::{checked_level, estimate, t_factor, usable};
use crate::stats::{Caveat, Estimate, Sample, StatsError};
use std::fmt;

/// Fewest launches for a slope.
pub const FEWEST: usize = 10;

/// One session's launches: hold and driver part of each, in seconds and in order.
#[derive(Debug, Clone, PartialEq)]
pub struct HeldSession {
    holds: Sample,
    driver_parts: Sample,
}

impl HeldSession {
    /// Pairs holds with driver parts.
    ///
    /// # Errors
    /// [`StatsError::TooFew`] if they are not equally many.
    pub fn new(holds: Sample, driver_parts: Sample) -> Result<Self, StatsError> {
        let (a, b) = (holds.n(), driver_parts.n());
        if a != b {
            return Err(StatsError::TooFew { have: a.min(b), need: a.max(b) });
        }
        Ok(Self { holds, driver_parts })
    }
}

/// What long holds do.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash)]
pub enum HoldEffect {
    /// The slope's interval contains 0.
    NoneToSee,
    /// Earlier after a long hold: the driver waits for it and guesses.
    EarlierAfterLongHolds,
    /// Later after a long hold: attention fades.
    LaterAfterLongHolds,
}

impl fmt::Display for HoldEffect {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        f.write_str(match self {
            HoldEffect::NoneToSee => "the hold makes no difference to see",
            HoldEffect::EarlierAfterLongHolds => "earlier after long holds",
            HoldEffect::LaterAfterLongHolds => "later after long holds",
        })
    }
}

/// The regression of the driver part on the hold.
#[derive(Debug, Clone, PartialEq)]
pub struct HoldSlope {
    /// Seconds of driver part per second of hold.
    pub slope: Estimate,
    /// In words.
    pub outcome: HoldEffect,
    /// Doubts.
    pub caveats: Vec<Caveat>,
}

/// Slope b of driver part = level of the session + b · hold + error, by least squares, with HC3
/// standard errors (MacKinnon & White 1985, "Some heteroskedasticity-consistent covariance matrix
/// estimators with improved finite sample properties", Journal of Econometrics 29, 305–325), which
/// stay honest when the spread depends on the hold, and Student's factor on launches − sessions − 1
/// degrees of freedom. Each session has its own level, so that a slow day with long holds is no
/// slope.
///
/// NIST StRD Norris (linear regression): slope 1.00211681802045 (certified).
///
/// ```
/// use lastamber::stats::{Sample, over_time::hold::{HeldSession, HoldEffect, hold_slope}};
/// let holds: Vec<f64> = (0..30).map(|i| 1.0 + 0.1 * f64::from(i * 7 % 13)).collect();
/// let parts = holds.iter().enumerate().map(|(i, h)| 0.3 - 0.02 * h + 0.001 * (i % 3) as f64);
/// let session = HeldSession::new(Sample::new(holds.clone())?, Sample::new(parts.collect())?)?;
/// assert_eq!(hold_slope(&[session], 0.9)?.outcome, HoldEffect::EarlierAfterLongHolds);
/// # Ok::<(), lastamber::stats::StatsError>(())
/// ```
///
/// # Errors
/// [`StatsError::TooFew`] below ten launches, or six more than sessions; [`StatsError::NoFit`] if
/// holds hardly differ within sessions; [`StatsError::OutOfDomain`] for a `level` outside
/// 0.5..=0.999 or values beyond ±1e100.
pub fn hold_slope(sessions: &[HeldSession], level: f64) -> Result<HoldSlope, StatsError> {
    let level = checked_level(level)?;
    let launches: usize = sessions.iter().map(|s| s.holds.n()).sum();
    if launches < FEWEST {
        return Err(StatsError::TooFew { have: launches, need: FEWEST });
    }
    let mut groups = Vec::with_capacity(sessions.len());
    for session in sessions {
        let x = usable(&session.holds, 1)?.iter().map(|h| [*h]).collect();
        groups.push(Group { y: usable(&session.driver_parts, 1)?.to_vec(), x });
    }
    let Fit { coefficients, errors, freedom, .. } = fit(&groups)?;
    let half = t_factor(level, freedom) * errors[0];
    let (low, high) = (coefficients[0] - half, coefficients[0] + half);
    let outcome = if high < 0.0 {
        HoldEffect::EarlierAfterLongHolds
    } else if low > 0.0 {
        HoldEffect::LaterAfterLongHolds
    } else {
        HoldEffect::NoneToSee
    };
    let slope = estimate(coefficients[0], (low, high), level, launches)?;
    let caveats = if launches < 40 { vec![Caveat::Rough { n: launches }] } else { Vec::new() };
    Ok(HoldSlope { slope, outcome, caveats })
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn holds_that_never_vary_have_no_slope() {
        let parts: Vec<f64> = (0..20).map(|i| 0.2 + 0.001 * f64::from(i % 7)).collect();
        let same = Sample::new(vec![1.5; 20]).unwrap();
        let session = HeldSession::new(same, Sample::new(parts).unwrap()).unwrap();
        assert!(matches!(hold_slope(&[session], 0.9), Err(StatsError::NoFit(_))));
    }

    #[test]
    fn every_hold_needs_its_driver_part() {
        let two = Sample::new(vec![1.0, 2.0]).unwrap();
        let one = Sample::new(vec![0.2]).unwrap();
        let odd = HeldSession::new(two, one);
        assert_eq!(odd, Err(StatsError::TooFew { have: 1, need: 2 }));
    }
}
