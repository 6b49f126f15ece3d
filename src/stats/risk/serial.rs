//! How many independent launches a run of dependent ones is worth.
//!
//! Owns the lag-1 correction. Refuses longer memories: a trend is not noise.

/// Below this correlation nothing is corrected. Chosen.
const LEAST_CORRELATION: f64 = 0.2;
/// Never less than this share is left. Chosen: past a correlation of .82 the launches drift.
const LEAST_SHARE: f64 = 0.1;

/// (1 − ρ)/(1 + ρ) for a lag-1 autocorrelation ρ that is above .2 and above what chance gives 5 %
/// of independent series (1.645/√n), else 1. `x` in the order of time.
pub(super) fn effective_share(x: &[f64]) -> f64 {
    let n = x.len() as f64;
    let mean = x.iter().sum::<f64>() / n;
    let square: f64 = x.iter().map(|x| (x - mean).powi(2)).sum();
    let lagged: f64 = x.windows(2).map(|w| (w[0] - mean) * (w[1] - mean)).sum();
    let rho = if square > 0.0 { lagged / square } else { 0.0 };
    if rho > LEAST_CORRELATION.max(1.645 / n.sqrt()) {
        ((1.0 - rho) / (1.0 + rho)).max(LEAST_SHARE)
    } else {
        1.0
    }
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
        assert_eq!(effective_share(&[1.0; 12]), 1.0);
    }
}
