//! Beta draws that move smoothly with their shapes, so that a whole curve reuses the same chance.
//!
//! Owns one set of random numbers per posterior draw and the betas made of them. Refuses double
//! precision: seven digits of a draw are five more than a thousand draws can show, and four of them
//! are computed at once.

use crate::seed::Generator;
use rand_distr::{Distribution, Exp1, StandardNormal};

/// The chance in pairs of gammas and in the spare launch beside them, one entry per draw.
#[derive(Debug, Clone, Default)]
pub(super) struct Chances {
    above: Gammas,
    below: Gammas,
    spare: Gammas,
}

/// Random numbers of one gamma per draw.
#[derive(Debug, Clone, Default)]
struct Gammas {
    z: Vec<f32>,
    first: Vec<f32>,
    second: Vec<f32>,
}

impl Gammas {
    fn push(&mut self, rng: &mut Generator) {
        self.z.push(StandardNormal.sample(rng));
        self.first.push(Exp1.sample(rng));
        self.second.push(Exp1.sample(rng));
    }
}

impl Chances {
    pub fn draw(draws: usize, rng: &mut Generator) -> Self {
        let mut out = Self::default();
        for _ in 0..draws {
            out.above.push(rng);
            out.below.push(rng);
            out.spare.push(rng);
        }
        out
    }

    /// Gamma(s) of every draw for the spare launch s: the same for all lines.
    pub fn spares(&self, s: f32) -> Vec<f32> {
        let Gammas { z, first, second } = &self.spare;
        (0..z.len()).map(|j| gamma(s, z[j], first[j], second[j])).collect()
    }

    /// The odds against of Beta(a, b + s) into `low` and of Beta(a + s, b) into `high`, from the
    /// `spares` of s: the spare launch goes once to either side. They are left as the bits of numbers
    /// above 0, which sort as whole numbers do. High odds are low chances.
    pub fn odds_against(
        &self,
        spares: &[f32],
        a: &[f32],
        b: &[f32],
        low: &mut [u32],
        high: &mut [u32],
    ) {
        let n = spares.len();
        let (up, down) = (&self.above, &self.below);
        // Equal lengths known to the compiler: no check is left in the loop.
        let (a, b, low, high) = (&a[..n], &b[..n], &mut low[..n], &mut high[..n]);
        let (z1, e1, f1) = (&up.z[..n], &up.first[..n], &up.second[..n]);
        let (z2, e2, f2) = (&down.z[..n], &down.first[..n], &down.second[..n]);
        for j in 0..n {
            let red = gamma(a[j], z1[j], e1[j], f1[j]).max(1e-30);
            let green = gamma(b[j], z2[j], e2[j], f2[j]);
            low[j] = ((green + spares[j]) / red).to_bits();
            high[j] = (green / (red + spares[j])).to_bits();
        }
    }
}

/// Gamma(a) from three fixed random numbers. Gamma(a) = Gamma(a + 2) U₁^(1/(a+1)) U₂^(1/a) is exact
/// (Marsaglia & Tsang 2000 use it once); Gamma(a + 2) comes by the cube of Wilson & Hilferty
/// (1931), at worst 3 % off at its own 5 % point for a = 0.
#[inline(always)]
fn gamma(a: f32, z: f32, first: f32, second: f32) -> f32 {
    let a = a.max(1e-12);
    let (next, shape) = (a + 1.0, a + 2.0);
    let root = 1.0 / (3.0 * shape.sqrt());
    let c = (1.0 - root * root + z * root).max(0.0);
    shape * c * c * c * exp(-(first * a + second * next) / (a * next))
}

/// eˣ for x ≤ 0 to 2·10⁻⁷, no branch and no call: 2ⁿ by the exponent's bits, the rest by Taylor.
#[inline(always)]
fn exp(x: f32) -> f32 {
    // Adding 1.5 · 2²³ leaves the nearest whole number in the lowest bits.
    const ROUND: f32 = 12_582_912.0;
    let x = x.max(-80.0) * std::f32::consts::LOG2_E;
    let shifted = x + ROUND;
    let t = (x - (shifted - ROUND)) * std::f32::consts::LN_2;
    let series = 1.0
        + t * (1.0
            + t * (0.5 + t * (1.0 / 6.0 + t * (1.0 / 24.0 + t * (1.0 / 120.0 + t / 720.0)))));
    f32::from_bits(series.to_bits().wrapping_add(shifted.to_bits() << 23))
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::seed::generator;

    #[test]
    fn the_exponential_is_one() {
        for i in 0..8000 {
            let x = -f64::from(i) * 0.01;
            let got = f64::from(exp(x as f32));
            assert!((got / f64::from(x as f32).exp() - 1.0).abs() < 8e-6, "{x}: {got}");
        }
        assert_eq!(exp(0.0), 1.0);
        assert!(exp(f32::NEG_INFINITY) < 1e-34);
    }

    #[test]
    fn the_betas_have_the_quantiles_of_betas() {
        // scipy 1.17.1: Beta(4.5, 65.5) at 5/50/95 %.
        let n = 200_000;
        let chances = Chances::draw(n, &mut generator(5));
        let (mut low, mut high) = (vec![0; n], vec![0; n]);
        chances.odds_against(
            &chances.spares(0.5),
            &vec![4.5; n],
            &vec![65.0; n],
            &mut low,
            &mut high,
        );
        low.sort_unstable();
        for (q, want) in [(0.05, 0.024_424_5), (0.5, 0.060_162_1), (0.95, 0.118_251_4)] {
            let odds = f32::from_bits(low[((1.0 - q) * n as f64) as usize]);
            let got = 1.0 / (1.0 + f64::from(odds));
            assert!((got / want - 1.0).abs() < 0.01, "{q}: {got} {want}");
        }
    }

    #[test]
    fn gammas_of_any_shape_keep_their_mean() {
        let n = 200_000;
        let g = Chances::draw(n, &mut generator(6)).above;
        for a in [0.01_f64, 0.3, 1.0, 5.0, 25.0, 1e6] {
            let one = |j: usize| f64::from(gamma(a as f32, g.z[j], g.first[j], g.second[j]));
            let mean = (0..n).map(one).sum::<f64>() / n as f64;
            let se = (a / n as f64).sqrt();
            assert!((mean - a).abs() < 4.0 * se + 0.002 * a, "{a}: {mean}");
        }
    }
}
