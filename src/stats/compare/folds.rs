//! How well a law says what it has not seen.
//!
//! Owns the k-fold log score. Refuses folds without a fit.

use crate::seed::Generator;
use crate::stats::Sample;
use crate::stats::family::Distribution;
use crate::stats::fit::{Fit, refit};
use rand::seq::SliceRandom;

/// The log score of held-out values.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct FoldScore {
    /// Sum over all values of the ln-density under the law fitted without their fold, per unit of
    /// the times; minus infinity if one was called impossible.
    pub total: f64,
    /// Values that lay below the fitted threshold.
    pub impossible: usize,
}

impl FoldScore {
    /// The score of `factor` times as many such values.
    pub(super) fn scaled(self, factor: f64) -> Self {
        Self { total: self.total * factor, ..self }
    }
}

/// The `folds`-fold log score of a law fitted to the sample, or to a larger one it is part of: values
/// are dealt into folds at random, and each fold is scored by the law fitted to all others. `None`
/// without a fit, of the sample or of a fold's rest.
pub fn fold_score(
    fit: &Fit,
    sample: &Sample,
    folds: usize,
    random: &mut Generator,
) -> Option<FoldScore> {
    let near = fit.model?;
    let mut values = sample.values().to_vec();
    values.shuffle(random);
    let folds = folds.clamp(2, values.len().max(2));
    let mut score = FoldScore { total: 0.0, impossible: 0 };
    for fold in 0..folds {
        let rest = values.iter().enumerate().filter(|(i, _)| i % folds != fold);
        let rest = Sample::new(rest.map(|(_, x)| *x).collect()).ok()?;
        let model = refit(fit.family, &near, &rest).ok()?.model?;
        for x in values.iter().skip(fold).step_by(folds) {
            let ln_pdf = model.ln_pdf(*x);
            score.total += ln_pdf;
            score.impossible += usize::from(ln_pdf == f64::NEG_INFINITY);
        }
    }
    Some(score)
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::seed::generator;
    use crate::stats::family::Family;
    use crate::stats::fit::fit;

    #[test]
    fn leaving_each_value_out_scores_by_the_rest() {
        // As many folds as values: no dealing can change the score, and it can be had by hand.
        let values = [0.1, 0.2, 0.25, 0.4, 0.3];
        let mut want = 0.0;
        for i in 0..5 {
            let rest: Vec<f64> = (0..5).filter(|j| *j != i).map(|j| values[j]).collect();
            let mean = rest.iter().sum::<f64>() / 4.0;
            let variance = rest.iter().map(|x| (x - mean).powi(2)).sum::<f64>() / 4.0;
            let square = (values[i] - mean).powi(2);
            want -= 0.5 * (std::f64::consts::TAU * variance).ln() + 0.5 * square / variance;
        }
        let sample = Sample::new(values.to_vec()).unwrap();
        for seed in [1, 2] {
            let fit = fit(Family::Normal, &sample).unwrap();
            let score = fold_score(&fit, &sample, 5, &mut generator(seed)).unwrap();
            assert!((score.total - want).abs() < 1e-12);
        }
    }
}
