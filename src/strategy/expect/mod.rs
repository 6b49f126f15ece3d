//! What a payoff is worth over the lights a driver may have.
//!
//! Owns E\[h(X − a)\] for any payoff h of a light and any aim, with an interval, from one set of
//! draws. Refuses to know what the payoff means.
//!
//! Model and launches are joined as in `stats::risk`: a Dirichlet process about each draw's law with
//! concentration α (Lyddon, Walker & Holmes 2018, arXiv 1806.11544) has, for a payoff h, the mean
//! m = (α E_j\[h\] + Σ hᵢ)/(α + n) and the variance (m₂ − m²)/(α + n + 1), m₂ the same with h². The
//! launches have been used twice, in the draws and in the counts, so the model counts for a quarter
//! of its weight in that variance (α/4 + n + 1; chosen by coverage). A draw of the expectation is a
//! draw with these two moments, normal on the scale of the arcsine, where a chance has the same
//! spread everywhere. The launches are smeared a little (a kernel, drawn
//! together so that their spread stays), so that a best aim does not follow single launches.
//!
//! Everything stands on one grid of lights with an edge at 0: a draw is a row of cells, a payoff is a
//! row of cell means, and an aim is a shift by whole cells, cubic between them. A cell's mean times
//! its share errs by step²/12 ∫ f′ h′, some 10⁻⁵.

mod grid;
mod launched;
mod payoff;

pub(super) use grid::{OnGrid, step_for};
pub(super) use payoff::Payoff;

use super::lights::Lights;
use crate::stats::Estimate;

/// Share of the model's weight that makes an expectation surer. Chosen by coverage.
const SURE_SHARE: f64 = 0.25;

/// What the variance of a draw is divided by.
pub(super) fn freedom(lights: &Lights) -> f64 {
    SURE_SHARE * lights.concentration + lights.weight + 1.0
}

/// First and second moment of a payoff, one entry per draw.
pub(super) struct Moments {
    pub mean: Vec<f32>,
    pub square: Vec<f32>,
}

impl Moments {
    /// The value to show: the mean over the draws.
    pub fn value(&self) -> f64 {
        self.mean.iter().map(|m| f64::from(*m)).sum::<f64>() / self.mean.len() as f64
    }

    /// The expectation in each draw, for a payoff between 0 and 1.
    pub fn chances(&self, lights: &Lights) -> Vec<f64> {
        let freedom = freedom(lights);
        let one = |((m, s), d): ((&f32, &f32), &super::lights::Driver)| {
            let mean = f64::from(*m).clamp(0.0, 1.0);
            let variance = (f64::from(*s) - mean * mean).max(0.0) / freedom;
            let slope = 2.0 * (mean * (1.0 - mean)).max(1e-12).sqrt();
            let angle = mean.sqrt().asin() + d.chance * variance.sqrt() / slope;
            angle.clamp(0.0, std::f64::consts::FRAC_PI_2).sin().powi(2)
        };
        self.mean.iter().zip(&self.square).zip(&lights.drivers).map(one).collect()
    }

    /// The expectation with its interval, for a payoff between 0 and 1.
    pub fn estimate(&self, lights: &Lights, level: f64) -> Estimate {
        spread_of(self.chances(lights), self.value(), level, lights.n())
    }
}

/// A value with the interval that its draws give.
pub(super) fn spread_of(mut draws: Vec<f64>, value: f64, level: f64, n: usize) -> Estimate {
    let tail = (1.0 - level) / 2.0;
    let mut quantile = |q: f64| {
        let place = ((draws.len() - 1) as f64 * q).round() as usize;
        *draws.select_nth_unstable_by(place, f64::total_cmp).1
    };
    let (low, high) = (quantile(tail), quantile(1.0 - tail));
    Estimate { value, low: low.min(value), high: high.max(value), level, n }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::strategy::lights::tests::lights_of;

    /// Rubin 1981, "The Bayesian bootstrap", Annals of Statistics 9, 130: without a model a share p of n
    /// launches has the variance p (1 − p)/(n + 1). On the scale of the arcsine that is 1/(4 (n + 1)) at
    /// any p.
    #[test]
    fn without_a_model_a_share_is_as_sure_as_the_bayesian_bootstrap_says() {
        let mut lights = lights_of(60, 0.0);
        (lights.concentration, lights.weight) = (0.0, 8.0);
        let n = lights.drivers.len();
        for p in [0.1_f32, 0.3, 0.5, 0.8] {
            let moments = Moments { mean: vec![p; n], square: vec![p; n] };
            for (chance, driver) in moments.chances(&lights).iter().zip(&lights.drivers) {
                let angle = f64::from(p).sqrt().asin() + driver.chance / 6.0;
                let angle = angle.clamp(0.0, std::f64::consts::FRAC_PI_2);
                assert!((chance.sqrt().asin() - angle).abs() < 1e-6, "{p} {chance}");
            }
        }
    }

    #[test]
    fn nine_in_ten_of_a_hundred_and_one_draws_lie_from_the_sixth_to_the_ninety_sixth() {
        let draws = (0..=100).rev().map(f64::from).collect();
        let told = spread_of(draws, 50.0, 0.9, 7);
        assert_eq!((told.low, told.value, told.high, told.n), (5.0, 50.0, 95.0, 7));
    }
}
