//! How much values tell that resemble their neighbours.
//!
//! Owns the rule by which the room calls values dependent, what they are then worth, and the caveat.
//! Refuses longer memories: a trend is not noise.

use super::Caveat;
use super::summary::{central_sums, effective_n, mean_of};

/// At or below this lag-1 correlation nothing is called dependent. Chosen.
const LEAST_CORRELATION: f64 = 0.2;
/// Never less than this share is left. Chosen: past a correlation of .82 the values drift.
const LEAST_SHARE: f64 = 0.1;

/// The share of the values that counts: (1 − ρ)/(1 + ρ) for a lag-1 autocorrelation ρ that is above .2
/// and above what chance gives 5 % of independent series (1.645/√n), else 1.
pub(super) fn effective_share(values: &[f64]) -> f64 {
    let n = values.len();
    // What rounding alone leaves of equal values is no dependence.
    let rounding = n as f64 * (1e-13 * mean_of(values)).powi(2);
    let rho = match central_sums(values) {
        Ok((square, product)) if square > rounding => product / square,
        _ => 0.0,
    };
    if rho > LEAST_CORRELATION.max(1.645 / (n as f64).sqrt()) {
        (effective_n(n, rho) / n as f64).max(LEAST_SHARE)
    } else {
        1.0
    }
}

/// What to say of values that resemble their neighbours; nothing if they don't.
pub(super) fn doubt(values: &[f64]) -> Option<Caveat> {
    caveat(values.len(), effective_share(values))
}

/// What to say of values of which only a share counts.
pub(super) fn caveat(n: usize, share: f64) -> Option<Caveat> {
    let worth = (share * n as f64).round() as usize;
    (share < 1.0).then_some(Caveat::Dependent { n, worth })
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_slow_wave_counts_for_little_and_a_fast_one_in_full() {
        let slow: Vec<f64> = (0..100).map(|i| (f64::from(i) / 5.0).sin()).collect();
        let fast: Vec<f64> = (0..100).map(|i| (f64::from(i) * 2.4).sin()).collect();
        assert_eq!(effective_share(&slow), LEAST_SHARE);
        assert_eq!(effective_share(&fast), 1.0);
        assert_eq!(effective_share(&[0.3; 49]), 1.0);
        assert_eq!(caveat(100, LEAST_SHARE), Some(Caveat::Dependent { n: 100, worth: 10 }));
        assert_eq!(caveat(100, 1.0), None);
    }

    #[test]
    fn values_that_differ_by_their_last_bit_only_are_no_wave() {
        for value in [0.1, 0.3, 123.456, 1e-9_f64] {
            let mut values = vec![value; 20];
            values.extend([value.next_up(); 20]);
            assert_eq!(doubt(&values), None, "{value}");
            assert_eq!(doubt(&vec![value; 40]), None, "{value}");
        }
    }
}
