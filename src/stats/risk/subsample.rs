//! Which launches speak for many.
//!
//! Owns the seeded draw of 300 launches, recent ones more likely. Refuses to touch the counts: they
//! are taken from all.

use crate::seed::Generator;
use rand_distr::{Distribution, Exp1};

/// Launches a posterior is made from at most.
pub(super) const MOST_FOR_POSTERIOR: usize = 300;
/// A launch this many launches old is half as likely to be taken. Chosen: about a month of practice.
const HALF_LIFE: f64 = 600.0;

/// [`MOST_FOR_POSTERIOR`] of the values, drawn without replacement with weight 2^(−age/600)
/// (Efraimidis & Spirakis 2006: the smallest exponential draws over their weights win; in logarithms,
/// so that no weight is lost at any age).
pub(super) fn recent(ordered: &[f64], rng: &mut Generator) -> Vec<f64> {
    let n = ordered.len();
    let mut keys: Vec<(f64, usize)> = (0..n)
        .map(|i| {
            let age = (n - 1 - i) as f64;
            let e: f64 = Exp1.sample(rng);
            (e.ln() + age * std::f64::consts::LN_2 / HALF_LIFE, i)
        })
        .collect();
    if n > MOST_FOR_POSTERIOR {
        keys.select_nth_unstable_by(MOST_FOR_POSTERIOR, |a, b| a.0.total_cmp(&b.0));
        keys.truncate(MOST_FOR_POSTERIOR);
    }
    keys.iter().map(|(_, i)| ordered[*i]).collect()
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::seed::generator;

    #[test]
    fn recent_launches_are_likelier_and_none_is_taken_twice() {
        let ordered: Vec<f64> = (0..2400).map(f64::from).collect();
        let mut taken = recent(&ordered, &mut generator(1));
        taken.sort_by(f64::total_cmp);
        assert_eq!(taken.len(), 300);
        assert!(taken.windows(2).all(|w| w[0] < w[1]));
        let recent_half = taken.iter().filter(|x| **x >= 1200.0).count();
        // Ages 0–1199 carry 4/5 of the weight when nothing runs out.
        assert!((200..260).contains(&recent_half), "{recent_half}");
    }
}
