//! The Mills ratio from a table: the one special function of the risk's inner loop.
//!
//! Owns m(y) = (1 − Φ(y)) / φ(y) to 2·10⁻⁷ relative, and Φ and the ex-Gaussian's density and
//! distribution from it. Refuses the far tails below 10⁻¹⁵: a risk rests on launches that were
//! made, and its wide part never lets it get there.

use std::f64::consts::{FRAC_1_SQRT_2, PI};
use std::sync::LazyLock;

/// 1/√(2π).
const INV_SQRT_2PI: f64 = 0.398_942_280_401_432_7;
/// The table's ends.
const LOW: f64 = -6.0;
const HIGH: f64 = 40.0;
/// Cells per unit; 64 keeps a cubic within 2·10⁻⁷ at the lower end and within 10⁻⁹ above 0.
const CELLS_PER_UNIT: f64 = 64.0;
/// Nodes in use: the last cell begins at the upper end.
const NODES: usize = 46 * 64 + 2;
/// A whole number of bits, so that no index has to be checked.
const ROOM: usize = 4097;

/// At each node the value, and the slope times the cell's width.
static TABLE: LazyLock<Box<[[f64; 2]; ROOM]>> = LazyLock::new(table);

/// Solves m′ = y·m − 1 downwards, the direction in which errors die out, by Taylor steps of order
/// 12 from the asymptotic series at the upper end.
fn table() -> Box<[[f64; 2]; ROOM]> {
    let step = 1.0 / CELLS_PER_UNIT;
    let mut nodes = Box::new([[0.0; 2]; ROOM]);
    let mut m = asymptotic(HIGH + step);
    for i in (0..NODES).rev() {
        let y = LOW + i as f64 * step;
        nodes[i] = [m, (y * m - 1.0) * step];
        let (mut before, mut derivative) = (m, y * m - 1.0);
        let (mut next, mut power) = (m, 1.0);
        for k in 1..=12 {
            power *= -step / k as f64;
            next += derivative * power;
            (before, derivative) = (derivative, y * derivative + k as f64 * before);
        }
        m = next;
    }
    nodes
}

fn asymptotic(y: f64) -> f64 {
    let q = 1.0 / (y * y);
    (1.0 - q * (1.0 - 3.0 * q * (1.0 - 5.0 * q * (1.0 - 7.0 * q * (1.0 - 9.0 * q))))) / y
}

/// eˣ for x ≤ 0 to 10⁻¹¹, below −700 as at −700: 2ⁿ by the exponent's bits, the rest by Taylor. No
/// branch and no call, so that several run at once.
#[inline(always)]
fn exp(x: f64) -> f64 {
    // Adding 1.5 · 2⁵² leaves the nearest whole number in the lowest bits.
    const ROUND: f64 = 6_755_399_441_055_744.0;
    let x = x.max(-700.0) * std::f64::consts::LOG2_E;
    let shifted = x + ROUND;
    let t = (x - (shifted - ROUND)) * std::f64::consts::LN_2;
    let (t2, t4) = (t * t, t * t * t * t);
    let a = 1.0 + t + t2 * (0.5 + t * (1.0 / 6.0));
    let b = 1.0 / 24.0 + t * (1.0 / 120.0) + t2 * (1.0 / 720.0 + t * (1.0 / 5040.0));
    let c = 1.0 / 40_320.0 + t * (1.0 / 362_880.0);
    let series = a + t4 * (b + t4 * c);
    f64::from_bits(series.to_bits().wrapping_add(shifted.to_bits() << 52))
}

/// The functions, with the table at hand.
#[derive(Clone, Copy)]
pub(in crate::stats) struct Mills {
    nodes: &'static [[f64; 2]; ROOM],
}

impl Mills {
    /// Looks the table up once, so that inner loops need not.
    pub fn get() -> Self {
        Self { nodes: &TABLE }
    }

    /// m(y) for y ≥ −6; below, the value at −6.
    #[inline(always)]
    pub fn ratio(self, y: f64) -> f64 {
        if y >= HIGH {
            return asymptotic(y);
        }
        // Adding 1.5 · 2⁵² leaves the cell's number in the lowest bits.
        const ROUND: f64 = 6_755_399_441_055_744.0;
        let at = ((y - LOW) * CELLS_PER_UNIT).max(0.0);
        let shifted = (at - 0.5) + ROUND;
        let t = at - (shifted - ROUND);
        let cell = shifted.to_bits() as usize & (ROOM - 2);
        let [m0, d0] = self.nodes[cell];
        let [m1, d1] = self.nodes[cell + 1];
        let rise = m1 - m0;
        m0 + t * (d0 + t * (3.0 * rise - 2.0 * d0 - d1 + t * (d0 + d1 - 2.0 * rise)))
    }

    /// Φ(z), absolute error below 10⁻⁹.
    #[inline]
    pub fn normal_cdf(self, z: f64) -> f64 {
        let tail = INV_SQRT_2PI * exp(-0.5 * z * z) * self.ratio(z.abs());
        if z < 0.0 { tail } else { 1.0 - tail }
    }
}

/// An ex-Gaussian N(mu, sigma²) + Exp(mean tau), prepared for many values; with tau below 0 its
/// mirror image N(mu, sigma²) − Exp(mean |tau|).
#[derive(Clone, Copy)]
pub(super) struct ExGauss {
    mills: Mills,
    mu: f64,
    /// 1 / sigma, with the sign of tau: so z is measured towards the long tail.
    per_sigma: f64,
    /// sigma / |tau|.
    r: f64,
    /// 1 / (|tau| √(2π)).
    scale: f64,
    per_tau: f64,
}

impl ExGauss {
    pub fn new(mills: Mills, mu: f64, sigma: f64, tau: f64) -> Self {
        let (per_sigma, per_tau) = ((1.0 / sigma).copysign(tau), 1.0 / tau.abs());
        Self { mills, mu, per_sigma, r: sigma * per_tau, scale: per_tau * INV_SQRT_2PI, per_tau }
    }

    /// Density: φ(z) m(r − z) / tau with z = (x − mu)/sigma; far right exp(r²/2 − r z) Φ(z − r)/tau,
    /// where the first form would multiply infinity by nothing.
    #[inline(always)]
    pub fn pdf(&self, x: f64) -> f64 {
        let z = (x - self.mu) * self.per_sigma;
        let y = self.r - z;
        if y > -5.0 {
            self.scale * exp(-0.5 * z * z) * self.mills.ratio(y)
        } else {
            self.per_tau * exp(self.r * (0.5 * self.r - z)) * self.mills.normal_cdf(-y)
        }
    }

    /// P(X < x): left of mu φ(z) [m(−z) − m(r − z)], right of it one minus a sum of positive terms.
    #[inline]
    pub fn cdf(&self, x: f64) -> f64 {
        let towards_tail = self.cdf_at((x - self.mu) * self.per_sigma);
        if self.per_sigma < 0.0 { 1.0 - towards_tail } else { towards_tail }
    }

    #[inline(always)]
    fn cdf_at(&self, z: f64) -> f64 {
        let y = self.r - z;
        let phi = INV_SQRT_2PI * exp(-0.5 * z * z);
        if z < 0.0 {
            phi * (self.mills.ratio(-z) - self.mills.ratio(y))
        } else if y > -5.0 {
            1.0 - phi * (self.mills.ratio(z) + self.mills.ratio(y))
        } else {
            let late = exp(self.r * (0.5 * self.r - z)) * self.mills.normal_cdf(-y);
            1.0 - phi * self.mills.ratio(z) - late
        }
    }
}

/// Density of N(mean, sd²) at x.
pub(super) fn normal_pdf(x: f64, mean: f64, sd: f64) -> f64 {
    let z = (x - mean) / sd;
    (-0.5 * z * z).exp() / sd * (FRAC_1_SQRT_2 / PI.sqrt())
}

#[cfg(test)]
mod tests {
    use super::*;

    fn close(got: f64, want: f64, relative: f64) {
        assert!((got - want).abs() <= relative * want.abs(), "{got} is not {want}");
    }

    #[test]
    fn the_exponential_is_one() {
        for i in 0..70_000 {
            let x = -f64::from(i) * 0.01;
            close(exp(x), x.exp(), 2e-11);
        }
        assert!(exp(-1e9) < 1e-300);
    }

    #[test]
    fn the_mills_ratio_is_the_scaled_complementary_error_function() {
        // m(y) = sqrt(pi/2) erfcx(y/sqrt 2); erfcx from mpmath 1.4.1, 40 digits.
        let mills = Mills::get();
        let erfcx = [
            (-1.0, 5.008_980_080_762_283),
            (0.0, 1.0),
            (0.5, 0.615_690_344_192_925_9),
            (2.0, 0.255_395_676_310_505_7),
            (5.0, 0.110_704_637_733_068_6),
            (26.0, 0.021_683_584_850_562_91),
            (100.0, 0.005_641_613_782_989_433),
        ];
        for (x, want) in erfcx {
            let y = x * std::f64::consts::SQRT_2;
            close(mills.ratio(y), (PI / 2.0).sqrt() * want, 2e-8);
        }
        close(mills.normal_cdf(-5.0).ln(), -15.064_998_393_988_726, 1e-9);
        close(mills.normal_cdf(1.0).ln(), -0.172_753_779_023_449_9, 1e-9);
    }

    #[test]
    fn the_ex_gaussian_agrees_with_the_high_precision_table() {
        // mpmath, 400 digits: ex-Gaussian (.19, .02, .035).
        let x = ExGauss::new(Mills::get(), 0.19, 0.02, 0.035);
        close(x.pdf(0.13).ln(), -3.406_470_785_618_854, 1e-8);
        close(x.pdf(0.225).ln(), 2.388_651_961_332_901_6, 1e-8);
        close(x.cdf(0.13), 1.893_674_762_629_615_2e-4, 1e-7);
        close(x.cdf(0.225), 0.578_483_121_638_008_7, 1e-8);
        close(x.cdf(0.03), 4.038_004_960_542_292_2e-17, 1e-5);
        // Right tail, where z − r passes 5: ln f(1) by the same identity in exact arithmetic is
        // −ln tau + r²/2 − r z (Φ is 1 to double precision).
        let (r, z) = (0.02 / 0.035, (1.0 - 0.19) / 0.02);
        close(x.pdf(1.0).ln(), -(0.035_f64.ln()) + r * r / 2.0 - r * z, 1e-12);
    }

    #[test]
    fn hostile_values_have_a_density_and_a_distribution() {
        let mirrored = ExGauss::new(Mills::get(), -0.19, 0.02, -0.035);
        close(mirrored.cdf(-0.13), 1.0 - 1.893_674_762_629_615_2e-4, 1e-12);
        close(mirrored.pdf(-0.225).ln(), 2.388_651_961_332_902, 1e-8);
        let x = ExGauss::new(Mills::get(), 40.0, 0.05, 1e-3);
        for value in [-1e9, -1e3, 40.0, 1e3, 1e9] {
            assert!(x.pdf(value).is_finite() && x.pdf(value) >= 0.0);
            assert!((-1e-12..=1.0).contains(&x.cdf(value)), "{}", x.cdf(value));
        }
    }
}
