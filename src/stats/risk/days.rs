//! How much the next day may differ from the days there are.
//!
//! Owns the between-day spread and its draws. Refuses trends: a day is a draw from the driver's
//! days.
//!
//! Random effects: with K days, N launches, within-day sum of squares SSW and between-day sum SSB,
//! s² = SSW/χ²(N−K) and T = SSB/χ²(K−1), drawn together, T = s² where it is not above it (nor, with
//! many days, at a second attempt); s_b² = (T − s²)/n₀ with n₀ = (N − Σnᵢ²/N)/(K − 1); the next day
//! lies at the grand mean + Z √(s_b² Σnᵢ²/N²) + Z′ s_b.
//! The grand mean's own error within days is in the model's posterior already.

use crate::seed::Generator;
use rand::RngExt;
use rand_distr::{ChiSquared, Distribution, StandardNormal};

/// Between-day SD taken where days are too few to tell, ms. Chosen: one well-measured observer of
/// 1872 (C. S. Peirce, US Coast Survey report of 1873) had 9.9 ms over his last twelve days.
pub(super) const ASSUMED_DAY_SD_MS: f64 = 10.0;
/// Days from which their own spread is used.
pub(super) const LEAST_DAYS: usize = 3;

/// A spread below 0 is drawn a second time before it is 0, with probability 1 − this / days. Chosen
/// by coverage: without it the next day's risk is held too rarely at twenty days, with it always too
/// often at five.
const DAYS_FOR_ONE_ATTEMPT: f64 = 5.0;

/// Launches sorted into days.
pub(super) struct Days {
    /// Value minus its day's mean plus the grand mean, stretched for the means that were taken out.
    pub centred_ms: Vec<f64>,
    spread: Spread,
    /// Σnᵢ² / N²: what one day's shift moves the grand mean by, squared.
    concentration: f64,
    /// Days there are.
    pub count: usize,
}

enum Spread {
    Assumed,
    Measured { within: f64, within_freedom: f64, between: f64, between_freedom: f64, n0: f64 },
}

impl Days {
    /// `day[i]` is the day of `x[i]`.
    pub fn new(x: &[f64], day: &[u32]) -> Self {
        let mut groups = std::collections::BTreeMap::<u32, (f64, f64)>::new();
        for (x, day) in x.iter().zip(day) {
            let (n, sum) = groups.entry(*day).or_default();
            *n += 1.0;
            *sum += x;
        }
        let (n, k) = (x.len() as f64, groups.len());
        let grand = x.iter().sum::<f64>() / n;
        let squares: f64 = groups.values().map(|(n, _)| n * n).sum();
        let concentration = squares / (n * n);
        let freedom = n - k as f64;
        // Within-day spread from fewer than five spare launches would be noise.
        if k < LEAST_DAYS || freedom < 5.0 {
            let spread = Spread::Assumed;
            return Self { centred_ms: x.to_vec(), spread, concentration, count: k };
        }
        let mean = |day: &u32| groups[day].1 / groups[day].0;
        let residuals: Vec<f64> = x.iter().zip(day).map(|(x, day)| x - mean(day)).collect();
        let within = residuals.iter().map(|r| r * r).sum();
        let between = groups.values().map(|(n, sum)| n * (sum / n - grand).powi(2)).sum();
        let stretch = ((n - 1.0) / freedom).sqrt();
        let spread = Spread::Measured {
            within,
            within_freedom: freedom,
            between,
            between_freedom: k as f64 - 1.0,
            n0: (n - squares / n) / (k as f64 - 1.0),
        };
        let centred_ms = residuals.iter().map(|r| grand + stretch * r).collect();
        Self { centred_ms, spread, concentration, count: k }
    }

    /// Whether the spread is assumed instead of measured.
    pub fn is_assumed(&self) -> bool {
        matches!(self.spread, Spread::Assumed)
    }

    /// How far the next day lies from the centred launches, ms, drawn `draws` times.
    pub fn next_day_shifts(&self, draws: usize, rng: &mut Generator) -> Vec<f64> {
        let chi = |freedom: f64| ChiSquared::new(freedom).expect("degrees of freedom are positive");
        let shift = |variance: f64, rng: &mut Generator| {
            let (past, next): (f64, f64) = (StandardNormal.sample(rng), StandardNormal.sample(rng));
            variance.sqrt() * (past * self.concentration.sqrt() + next)
        };
        match self.spread {
            Spread::Assumed => (0..draws).map(|_| shift(ASSUMED_DAY_SD_MS.powi(2), rng)).collect(),
            Spread::Measured { within, within_freedom, between, between_freedom, n0 } => {
                let (within_chi, between_chi) = (chi(within_freedom), chi(between_freedom));
                let again = (1.0 - DAYS_FOR_ONE_ATTEMPT / self.count as f64).max(0.0);
                let draw = |_| {
                    let attempts = 1 + usize::from(rng.random::<f64>() < again);
                    let pair = |rng: &mut Generator| {
                        (within / within_chi.sample(rng), between / between_chi.sample(rng))
                    };
                    let (inside, total) = positive(attempts, pair, rng);
                    shift((total - inside) / n0, rng)
                };
                (0..draws).map(draw).collect()
            }
        }
    }
}

/// Draws of s² and T; T is s² where none of the attempts puts it above.
fn positive(
    attempts: usize,
    pair: impl Fn(&mut Generator) -> (f64, f64),
    rng: &mut Generator,
) -> (f64, f64) {
    let mut inside = 0.0;
    for _ in 0..attempts {
        let total;
        (inside, total) = pair(rng);
        if total > inside {
            return (inside, total);
        }
    }
    (inside, inside)
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::seed::generator;

    #[test]
    fn two_days_get_the_assumed_spread_and_many_their_own() {
        let day = |i: usize| (i / 30) as u32;
        // Days at 0, 40, 80, …; within them a saw of ± 10.
        let x: Vec<f64> =
            (0..300).map(|i| 40.0 * f64::from(day(i)) + (i % 5) as f64 * 5.0 - 10.0).collect();
        let ids: Vec<u32> = (0..300).map(day).collect();
        let few = Days::new(&x[..60], &ids[..60]);
        assert!(few.is_assumed());
        let sd = |shifts: &[f64]| {
            (shifts.iter().map(|s| s * s).sum::<f64>() / shifts.len() as f64).sqrt()
        };
        let assumed = sd(&few.next_day_shifts(20_000, &mut generator(1)));
        assert!((assumed - 10.0 * 1.5_f64.sqrt()).abs() < 0.3, "{assumed}");
        let many = Days::new(&x, &ids);
        assert!(!many.is_assumed() && many.count == 10);
        // Ten days 0, 40, …, 360: between-day SD 121; a fiducial variance with 9 degrees of freedom
        // is 9/7 as large on average, and a tenth of it is the past mean's.
        let wide = sd(&many.next_day_shifts(20_000, &mut generator(1)));
        let want = 121.1 * (9.0_f64 / 7.0 * 1.1).sqrt();
        assert!((wide / want - 1.0).abs() < 0.05, "{wide} {want}");
        let spread = many.centred_ms.iter().fold(0.0_f64, |m, x| m.max((x - 180.0).abs()));
        assert!((spread - 10.0 * (299.0_f64 / 290.0).sqrt()).abs() < 1e-9, "{spread}");
    }

    #[test]
    fn days_that_do_not_differ_are_looked_at_a_second_time_the_more_there_are() {
        use crate::stats::numeric::f_upper_tail;
        for (days, again) in [(4_u32, 0.0), (5, 0.0), (20, 0.75)] {
            let (n, f) = (8 * days, f64::from(days));
            let x: Vec<f64> = (0..n)
                .map(|i| 1.3 * f64::from(i / 8 * 3 % 4) + 2.0 * f64::from(i % 8 * 5 % 8))
                .collect();
            let ids: Vec<u32> = (0..n).map(|i| i / 8).collect();
            let of = Days::new(&x, &ids);
            let Spread::Measured { within, within_freedom, between, .. } = of.spread else {
                panic!("{days} days are enough")
            };
            // T ≤ s² is F(N − K, K − 1) ≤ (SSW/(N − K))/(SSB/(K − 1)); then the next day is like the rest.
            let ratio = within / within_freedom / (between / (f - 1.0));
            let once = 1.0 - f_upper_tail(ratio, within_freedom, f - 1.0);
            let want = once * (1.0 - again) + once * once * again;
            let shifts = of.next_day_shifts(20_000, &mut generator(4));
            let none = shifts.iter().filter(|s| **s == 0.0).count() as f64 / 2e4;
            assert!((0.1..0.9).contains(&once) && (none - want).abs() < 0.015, "{none} {want}");
        }
    }
}
