//! Densities and distributions for the risk's inner loops, a few nanoseconds each.
//!
//! Owns Φ, and the ex-Gaussian prepared for many values, turned over too; to about 4e-8, sixteen at
//! once. The laws of the family room keep their digits out to e^-800 and take logarithms to do so,
//! ten times as long as a draw of a posterior is worth: hence a second form here, from the same table
//! of the Mills ratio. Refuses the far tails below 10⁻¹⁵: a risk rests on launches that were made,
//! and its wide part never lets it get there.

use crate::stats::mills_table::MillsTable;
use crate::stats::special::{FRAC_1_SQRT_2PI, mills};

/// Values that are computed together.
pub(super) const BLOCK: usize = 16;
/// Numbers of a block.
pub(super) type Block = [f64; BLOCK];

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

/// φ(z).
#[inline(always)]
fn density(z: f64) -> f64 {
    FRAC_1_SQRT_2PI * exp(-0.5 * z * z)
}

/// Φ at each of `z`, absolute error below 10⁻⁹.
#[inline(always)]
pub(super) fn normal_cdfs<const N: usize>(table: &MillsTable, z: &[f64; N]) -> [f64; N] {
    let near = z.map(f64::abs);
    let (heights, ratios) = (z.map(density), table.quick(&near));
    std::array::from_fn(|j| {
        // Beyond the table the tail is nothing.
        let tail = if near[j] < 38.0 { heights[j] * ratios[j] } else { 0.0 };
        if z[j] < 0.0 { tail } else { 1.0 - tail }
    })
}

/// Φ(z).
pub(super) fn normal_cdf(z: f64) -> f64 {
    normal_cdfs(MillsTable::get(), &[z])[0]
}

/// An ex-Gaussian N(mu, sigma²) + Exp(mean tau), prepared for many values; with tau below 0 its
/// mirror image N(mu, sigma²) − Exp(mean |tau|).
#[derive(Clone, Copy)]
pub(super) struct ExGauss {
    mu: f64,
    /// 1 / sigma, with the sign of tau: so z is measured towards the long tail.
    per_sigma: f64,
    /// sigma / |tau|.
    r: f64,
    per_tau: f64,
}

impl ExGauss {
    pub fn new(mu: f64, sigma: f64, tau: f64) -> Self {
        let per_tau = 1.0 / tau.abs();
        Self { mu, per_sigma: (1.0 / sigma).copysign(tau), r: sigma * per_tau, per_tau }
    }

    /// Densities: φ(z) m(r − z) / tau with z = (x − mu)/sigma.
    #[inline(always)]
    pub fn pdfs(&self, table: &MillsTable, x: &Block) -> Block {
        let z = x.map(|x| (x - self.mu) * self.per_sigma);
        let y = z.map(|z| self.r - z);
        let (heights, ratios) = (z.map(density), table.quick(&y));
        let mut out: Block = std::array::from_fn(|j| self.per_tau * heights[j] * ratios[j]);
        if !all_covered(&y) {
            for j in (0..BLOCK).filter(|j| !MillsTable::covers(y[*j])) {
                out[j] = self.per_tau * far_share(z[j], self.r);
            }
        }
        out
    }
}

/// Whether the table holds every y; without a branch on the way.
#[inline(always)]
fn all_covered(y: &Block) -> bool {
    y.iter().fold(true, |all, y| all & MillsTable::covers(*y))
}

/// φ(z) m(r − z) where the table ends: left of it exp(r²/2 − r z) Φ(z − r), where the first form would
/// multiply infinity by nothing.
#[cold]
fn far_share(z: f64, r: f64) -> f64 {
    let y = r - z;
    if y > 0.0 { density(z) * mills(y) } else { exp(r * (0.5 * r - z)) * normal_cdf(-y) }
}

/// One ex-Gaussian a draw, for their distributions at a line.
pub(super) struct ExGausses(Vec<Laws>);

/// A block of laws.
struct Laws {
    mu: Block,
    per_sigma: Block,
    r: Block,
}

impl ExGausses {
    /// Laws in blocks, the last one filled up.
    pub fn new(laws: &[ExGauss]) -> Self {
        let block = |laws: &[ExGauss]| {
            let each = |of: fn(&ExGauss) -> f64| in_block(laws.iter().map(of));
            Laws { mu: each(|l| l.mu), per_sigma: each(|l| l.per_sigma), r: each(|l| l.r) }
        };
        Self(laws.chunks(BLOCK).map(block).collect())
    }

    /// P(X < x) of the laws of a block, each at its own x: left of mu φ(z) [m(−z) − m(r − z)], right
    /// of it one minus φ(z) [m(z) + m(r − z)].
    #[inline(always)]
    pub fn cdfs(&self, table: &MillsTable, block: usize, x: &Block) -> Block {
        let Laws { mu, per_sigma, r } = &self.0[block];
        let z: Block = std::array::from_fn(|j| (x[j] - mu[j]) * per_sigma[j]);
        let y: Block = std::array::from_fn(|j| r[j] - z[j]);
        let (near, heights) = (table.quick(&z.map(f64::abs)), z.map(density));
        let far = table.quick(&y);
        let mut outer: Block =
            std::array::from_fn(|j| heights[j] * (near[j] + far[j].copysign(z[j])));
        if !all_covered(&y) {
            for j in (0..BLOCK).filter(|j| !MillsTable::covers(y[*j])) {
                let share = far_share(z[j], r[j]).copysign(z[j]);
                outer[j] = heights[j] * mills(z[j].abs()) + share;
            }
        }
        std::array::from_fn(|j| {
            if (z[j] < 0.0) == (per_sigma[j] < 0.0) { 1.0 - outer[j] } else { outer[j] }
        })
    }
}

/// Up to a block of numbers, filled up with their last.
pub(super) fn in_block(numbers: impl Iterator<Item = f64>) -> Block {
    let mut last = 0.0;
    let mut numbers = numbers.fuse();
    std::array::from_fn(|_| {
        last = numbers.next().unwrap_or(last);
        last
    })
}

/// Density of N(mean, sd²) at x.
pub(super) fn normal_pdf(x: f64, mean: f64, sd: f64) -> f64 {
    let z = (x - mean) / sd;
    (-0.5 * z * z).exp() / sd * FRAC_1_SQRT_2PI
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
    fn the_normal_distribution_agrees_with_high_precision_values() {
        // mpmath 1.4.1, 40 digits: log(ncdf(z)).
        close(normal_cdf(-5.0).ln(), -15.064_998_393_988_726, 1e-9);
        close(normal_cdf(-1.0).ln(), -1.841_021_645_009_263_5, 1e-9);
        close(normal_cdf(1.0).ln(), -0.172_753_779_023_449_9, 1e-9);
        assert_eq!((normal_cdf(-1e9), normal_cdf(1e9)), (0.0, 1.0));
    }

    fn pdf(mu: f64, sigma: f64, tau: f64, x: f64) -> f64 {
        ExGauss::new(mu, sigma, tau).pdfs(MillsTable::get(), &[x; BLOCK])[3]
    }

    fn cdf(mu: f64, sigma: f64, tau: f64, x: f64) -> f64 {
        let laws = ExGausses::new(&[ExGauss::new(mu, sigma, tau); 5]);
        laws.cdfs(MillsTable::get(), 0, &[x; BLOCK])[7]
    }

    #[test]
    fn the_ex_gaussian_agrees_with_the_high_precision_table() {
        // mpmath, 400 digits: ex-Gaussian (.19, .02, .035).
        let (pdf, cdf) = (|x| pdf(0.19, 0.02, 0.035, x), |x| cdf(0.19, 0.02, 0.035, x));
        close(pdf(0.13).ln(), -3.406_470_785_618_854, 1e-8);
        close(pdf(0.225).ln(), 2.388_651_961_332_901_6, 1e-8);
        close(cdf(0.13), 1.893_674_762_629_615_2e-4, 1e-7);
        close(cdf(0.225), 0.578_483_121_638_008_7, 1e-8);
        close(cdf(0.03), 4.038_004_960_542_292_2e-17, 1e-5);
        // Right tail, where z − r passes 5: ln f(1) by the same identity in exact arithmetic is
        // −ln tau + r²/2 − r z (Φ is 1 to double precision).
        let (r, z) = (0.02 / 0.035, (1.0 - 0.19) / 0.02);
        close(pdf(1.0).ln(), -(0.035_f64.ln()) + r * r / 2.0 - r * z, 1e-12);
    }

    #[test]
    fn draws_agree_with_the_family_wherever_they_lie() {
        use crate::stats::family::{Distribution, ExGaussian};
        for tau in [1e-4, 0.3, 5.0, 30.0, 400.0] {
            let law = ExGaussian::new(190.0, 20.0, tau).unwrap();
            for i in 0..400 {
                let x = 60.0 + f64::from(i) * 3.1;
                let (here, mirrored) = (cdf(190.0, 20.0, tau, x), cdf(-190.0, 20.0, -tau, -x));
                assert!((here - law.cdf(x)).abs() < 4e-8, "{tau} {x}: {here}");
                assert!((mirrored - law.sf(x)).abs() < 4e-8, "{tau} {x}: {mirrored}");
                // Below e^-600 the exponential's floor comes near.
                if law.ln_pdf(x) > -600.0 {
                    close(pdf(190.0, 20.0, tau, x), law.pdf(x), 5e-8);
                }
            }
        }
    }

    #[test]
    fn hostile_values_have_a_density_and_a_distribution() {
        close(cdf(-0.19, 0.02, -0.035, -0.13), 1.0 - 1.893_674_762_629_615_2e-4, 1e-12);
        close(pdf(-0.19, 0.02, -0.035, -0.225).ln(), 2.388_651_961_332_902, 1e-8);
        for value in [-1e9, -1e3, 40.0, 1e3, 1e9] {
            let density = pdf(40.0, 0.05, 1e-3, value);
            assert!(density.is_finite() && density >= 0.0);
            assert!((-1e-12..=1.0).contains(&cdf(40.0, 0.05, 1e-3, value)), "{value}");
        }
    }

    #[test]
    fn a_short_block_is_filled_up() {
        let block = in_block([1.0, 2.0].into_iter());
        assert_eq!((block[0], block[1], block[BLOCK - 1]), (1.0, 2.0, 2.0));
    }
}
