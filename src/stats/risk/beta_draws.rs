//! Beta draws that move smoothly with their shapes, so that a whole curve reuses the same chance.
//!
//! Owns one set of random numbers per posterior draw and the betas made of them. Refuses to be
//! exact: see the error below.

use crate::seed::Generator;
use rand_distr::{Distribution, Exp1, StandardNormal};

/// The chance in one pair of gammas and the half count beside them.
#[derive(Debug, Clone, Copy)]
pub(super) struct Chance {
    numerator: [f64; 3],
    rest: [f64; 3],
    half: f64,
}

impl Chance {
    pub fn draw(rng: &mut Generator) -> Self {
        let mut three = || [StandardNormal.sample(rng), Exp1.sample(rng), Exp1.sample(rng)];
        let (numerator, rest) = (three(), three());
        let z: f64 = StandardNormal.sample(rng);
        // Half a squared standard normal is Gamma(½).
        Self { numerator, rest, half: 0.5 * z * z }
    }

    /// The odds against of Beta(a, b + ½) and of Beta(a + ½, b): the half count goes once to either
    /// side. Falling in the draws, so low odds are high chances.
    #[inline]
    pub fn odds_against(&self, a: f64, b: f64) -> (f64, f64) {
        let numerator = gamma(a, self.numerator).max(f64::MIN_POSITIVE);
        let rest = gamma(b, self.rest);
        ((rest + self.half) / numerator, rest / (numerator + self.half))
    }
}

/// Gamma(a) from three fixed random numbers. Gamma(a) = Gamma(a + 2) U₁^(1/(a+1)) U₂^(1/a) is exact
/// (Marsaglia & Tsang 2000 use it once); Gamma(a + 2) comes by the cube of Wilson & Hilferty
/// (1931), at worst 3 % off at its own 5 % point for a = 0.
#[inline]
fn gamma(a: f64, [z, e1, e2]: [f64; 3]) -> f64 {
    if a > 20.0 {
        return cube(a, z);
    }
    let a = a.max(1e-12);
    cube(a + 2.0, z) * (-(e1 / (a + 1.0) + e2 / a)).exp()
}

#[inline]
fn cube(a: f64, z: f64) -> f64 {
    let root = 1.0 / (3.0 * a.sqrt());
    let c = (1.0 - root * root + z * root).max(0.0);
    a * c * c * c
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::seed::generator;

    #[test]
    fn the_betas_have_the_quantiles_of_betas() {
        // scipy 1.17.1: Beta(4.5, 65.5) at 5/50/95 %.
        let mut rng = generator(5);
        let mut odds: Vec<f64> =
            (0..200_000).map(|_| Chance::draw(&mut rng).odds_against(4.5, 65.0).0).collect();
        odds.sort_by(f64::total_cmp);
        for (q, want) in [(0.05, 0.024_424_5), (0.5, 0.060_162_1), (0.95, 0.118_251_4)] {
            let got = 1.0 / (1.0 + odds[((1.0 - q) * 200_000.0) as usize]);
            assert!((got / want - 1.0).abs() < 0.01, "{q}: {got} {want}");
        }
    }

    #[test]
    fn tiny_shapes_keep_their_mean() {
        let mut rng = generator(6);
        for a in [0.01_f64, 0.3, 1.0, 5.0, 25.0] {
            let n = 200_000;
            let sum: f64 = (0..n).map(|_| gamma(a, Chance::draw(&mut rng).numerator)).sum();
            let se = (a / f64::from(n)).sqrt();
            let mean = sum / f64::from(n);
            assert!((mean - a).abs() < 4.0 * se + 0.002 * a, "{a}: {mean}");
        }
    }
}
