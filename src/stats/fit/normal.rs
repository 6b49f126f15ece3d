//! The normal law's fit, in closed form.
//!
//! Owns the estimates mean x̄ and sd √(Σ(x − x̄)²/n). Refuses nothing: with spread there is always
//! an optimum.

use super::standard::Standardised;
use super::{Found, Status};
use crate::stats::StatsError;
use crate::stats::family::{Model, Normal};
use crate::stats::special::LN_SQRT_2PI;

/// ln-likelihood of `n` standardised values under their own normal law.
pub(super) fn log_likelihood(n: usize) -> f64 {
    -(n as f64) * (LN_SQRT_2PI + 0.5)
}

pub(super) fn fit(data: &Standardised) -> Result<Found, StatsError> {
    let n = data.values.len() as f64;
    Ok(Found {
        status: Status::Interior,
        model: Model::Normal(Normal::new(0.0, 1.0)?),
        standard_errors: Some(vec![1.0 / n.sqrt(), 1.0 / (2.0 * n).sqrt()]),
        log_likelihood: log_likelihood(data.values.len()),
    })
}

/// The normal law as the limit of another one.
pub(super) fn as_limit(data: &Standardised) -> Result<Found, StatsError> {
    Ok(Found { status: Status::Boundary, standard_errors: None, ..fit(data)? })
}
