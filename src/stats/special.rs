//! The normal law far out in its tails.
//!
//! Owns the Mills ratio and what follows from it: erfcx, the logarithms of both normal tails, the
//! normal quantile. Everything keeps its relative precision where the plain forms underflow.
//! Refuses families with parameters.
//!
//! Notation: φ and Φ are the standard normal density and distribution function, and the Mills ratio
//! is m(y) = (1 − Φ(y)) / φ(y) = √(π/2)·erfcx(y/√2), which satisfies m′ = y·m − 1.

use std::f64::consts::{FRAC_2_PI, SQRT_2};

/// ln √(2π).
pub const LN_SQRT_2PI: f64 = 0.918_938_533_204_672_8;
/// √(2π).
const SQRT_2PI: f64 = 2.506_628_274_631_000_7;
/// 1/√(2π).
pub const FRAC_1_SQRT_2PI: f64 = 0.398_942_280_401_432_7;

/// Below this |y| the central approximation is used.
const CENTRE: f64 = 0.674_489_75;
/// Above this y the asymptotic approximation is used: √32.
const FAR: f64 = 5.656_854_249_492_381;

// Rational Chebyshev approximations of the normal integral: W. J. Cody, "Rational Chebyshev
// approximations for the error function", Math. Comp. 23 (1969), 631–637, in the form used for the
// normal law; relative error near 1e-16. Checked against high-precision values in the tests.
const CENTRE_NUM: [f64; 5] = [
    0.065_682_337_918_207_45,
    2.235_252_035_460_683_8,
    161.028_231_068_555_87,
    1_067.689_485_460_371,
    18_154.981_253_343_56,
];
const CENTRE_DEN: [f64; 5] = [
    1.0,
    47.202_581_904_688_245,
    976.098_551_737_776_7,
    10_260.932_208_618_979,
    45_507.789_335_026_73,
];
const MIDDLE_NUM: [f64; 9] = [
    1.076_557_677_372_019_2e-8,
    0.398_941_512_088_134_66,
    8.883_149_794_388_377,
    93.506_656_132_177_85,
    597.270_276_394_800_3,
    2_494.537_585_290_372_6,
    6_848.190_450_536_283,
    11_602.651_437_647_35,
    9_842.714_838_383_978,
];
const MIDDLE_DEN: [f64; 9] = [
    1.0,
    22.266_688_044_328_117,
    235.387_901_782_625,
    1_519.377_599_407_554_7,
    6_485.558_298_266_761,
    18_615.571_640_885_097,
    34_900.952_721_145_98,
    38_912.003_286_093_27,
    19_685.429_676_859_992,
];
const FAR_NUM: [f64; 6] = [
    0.023_073_441_764_940_174,
    0.215_898_534_057_957,
    0.127_401_161_160_247_36,
    0.022_235_277_870_649_807,
    0.001_421_619_193_227_893_4,
    2.911_287_495_116_879_3e-5,
];
const FAR_DEN: [f64; 6] = [
    1.0,
    1.284_260_096_144_911,
    0.468_238_212_480_865_1,
    0.065_988_137_868_928_56,
    0.003_782_396_332_027_582_4,
    7.297_515_550_839_662e-5,
];

/// The Mills ratio m(y) = (1 − Φ(y)) / φ(y). Infinite below about −38.
///
/// `mills(0.0)` is √(π/2) = 1.2533141373155; `mills(10.0)` is 0.0990285964717319.
pub fn mills(y: f64) -> f64 {
    if y > FAR {
        let square = 1.0 / (y * y);
        let ratio = square * horner(&FAR_NUM, square) / horner(&FAR_DEN, square);
        (1.0 - ratio * SQRT_2PI) / y
    } else if y > CENTRE {
        SQRT_2PI * horner(&MIDDLE_NUM, y) / horner(&MIDDLE_DEN, y)
    } else if y >= -CENTRE {
        (0.5 - centre(y)) * SQRT_2PI * (0.5 * y * y).exp()
    } else {
        SQRT_2PI / exp_minus_half_square(y) - mills(-y)
    }
}

/// ln m(y), finite for every finite y.
pub fn ln_mills(y: f64) -> f64 {
    if y > -5.0 { mills(y).ln() } else { LN_SQRT_2PI + 0.5 * y * y + ln_normal_cdf(-y) }
}

/// The hazard of the normal law, h(y) = φ(y) / (1 − Φ(y)) = 1/m(y). Zero far to the left.
pub fn inverse_mills(y: f64) -> f64 {
    1.0 / mills(y)
}

/// exp(x²)·erfc(x). `erfcx(10.0)` is 0.056140992743822586; infinite below about −26.6.
pub fn erfcx(x: f64) -> f64 {
    mills(x * SQRT_2) * FRAC_2_PI.sqrt()
}

/// ln(exp(x²)·erfc(x)), finite for every finite x.
pub fn ln_erfcx(x: f64) -> f64 {
    ln_mills(x * SQRT_2) + 0.5 * FRAC_2_PI.ln()
}

/// ln erfc(x), finite for every finite x. `ln_erfc(30.0)` is −903.974117110643.
pub fn ln_erfc(x: f64) -> f64 {
    std::f64::consts::LN_2 + ln_normal_sf(x * SQRT_2)
}

/// ln φ(z).
pub fn ln_normal_pdf(z: f64) -> f64 {
    -0.5 * z * z - LN_SQRT_2PI
}

/// Φ(z), with full relative precision in the left tail down to about e^-745.
pub fn normal_cdf(z: f64) -> f64 {
    normal_sf(-z)
}

/// 1 − Φ(z), with full relative precision in the right tail down to about e^-745.
pub fn normal_sf(z: f64) -> f64 {
    if z > CENTRE {
        mills(z) * FRAC_1_SQRT_2PI * exp_minus_half_square(z)
    } else if z >= -CENTRE {
        0.5 - centre(z)
    } else {
        1.0 - normal_sf(-z)
    }
}

/// ln Φ(z), finite for every finite z. `ln_normal_cdf(-40.0)` is −804.60844201375379.
pub fn ln_normal_cdf(z: f64) -> f64 {
    ln_normal_sf(-z)
}

/// ln(1 − Φ(z)), finite for every finite z.
pub fn ln_normal_sf(z: f64) -> f64 {
    if z > CENTRE {
        mills(z).ln() - LN_SQRT_2PI - 0.5 * z * z
    } else if z >= -CENTRE {
        (0.5 - centre(z)).ln()
    } else {
        (-normal_sf(-z)).ln_1p()
    }
}

/// The z with Φ(z) = p, for p inside 0–1; the infinities at the ends, NaN outside.
///
/// `normal_quantile(0.975)` is 1.95996398454005.
pub fn normal_quantile(p: f64) -> f64 {
    if !(p > 0.0 && p < 1.0) {
        return if p == 0.0 {
            f64::NEG_INFINITY
        } else if p == 1.0 {
            f64::INFINITY
        } else {
            f64::NAN
        };
    }
    if p > 0.5 {
        return -lower_quantile(1.0 - p);
    }
    lower_quantile(p)
}

/// The quantile of 0 < p ≤ 1/2: a library value, polished by one Newton step on ln Φ.
fn lower_quantile(p: f64) -> f64 {
    let z = -SQRT_2 * statrs::function::erf::erfc_inv(2.0 * p);
    let ln_cdf = ln_normal_cdf(z);
    let slope = (ln_normal_pdf(z) - ln_cdf).exp();
    z - (ln_cdf - p.ln()) / slope
}

/// Φ(y) − 1/2 for |y| ≤ [`CENTRE`].
fn centre(y: f64) -> f64 {
    let square = y * y;
    y * horner(&CENTRE_NUM, square) / horner(&CENTRE_DEN, square)
}

/// exp(−y²/2) without the rounding error of y² growing in the exponent.
fn exp_minus_half_square(y: f64) -> f64 {
    let coarse = (y * 16.0).trunc() / 16.0;
    (-0.5 * coarse * coarse).exp() * (-0.5 * (y - coarse) * (y + coarse)).exp()
}

/// A polynomial with its highest coefficient first.
fn horner<const N: usize>(coefficients: &[f64; N], x: f64) -> f64 {
    coefficients.iter().fold(0.0, |sum, c| sum * x + c)
}

#[cfg(test)]
mod tests {
    use super::*;

    fn assert_close(got: f64, want: f64, relative: f64) {
        assert!((got - want).abs() <= relative * want.abs(), "{got:e} is not {want:e}");
    }

    /// mpmath 1.4.1 at 40 digits: `exp(x**2) * erfc(x)`.
    #[test]
    fn erfcx_agrees_with_high_precision_values() {
        let table = [
            (-5.0, 144_009_798_674.661_04),
            (-1.0, 5.008_980_080_762_283),
            (0.0, 1.0),
            (0.5, 0.615_690_344_192_925_9),
            (1.0, 0.427_583_576_155_807),
            (2.0, 0.255_395_676_310_505_74),
            (5.0, 0.110_704_637_733_068_63),
            (10.0, 0.056_140_992_743_822_59),
            (26.0, 0.021_683_584_850_562_907),
            (100.0, 0.005_641_613_782_989_433),
            (1e6, 5.641_895_835_474_742e-7),
        ];
        for (x, want) in table {
            assert_close(erfcx(x), want, 1e-14);
            assert_close(ln_erfcx(x).exp(), want, 1e-14);
        }
    }

    /// mpmath 1.4.1 at 40 digits: `log(ncdf(z))`.
    #[test]
    fn the_log_of_the_normal_cdf_agrees_with_high_precision_values() {
        let table = [
            (-40.0, -804.608_442_013_753_8),
            (-20.0, -203.917_155_371_097_26),
            (-10.0, -53.231_285_150_512_47),
            (-5.0, -15.064_998_393_988_726),
            (-1.0, -1.841_021_645_009_263_5),
            (1.0, -0.172_753_779_023_449_89),
            (5.0, -2.866_516_129_637_636e-7),
            (8.0, -6.220_960_574_271_786e-16),
        ];
        for (z, want) in table {
            assert_close(ln_normal_cdf(z), want, 1e-14);
            assert_close(ln_normal_sf(-z), want, 1e-14);
            assert_close(normal_cdf(z), want.exp(), 2e-13);
        }
    }

    #[test]
    fn the_pieces_of_the_mills_ratio_meet() {
        for y in [-CENTRE, CENTRE, FAR, -5.0] {
            let (below, above) = (y - 1e-13, y + 1e-13);
            assert_close(mills(below), mills(above), 2e-12);
            assert_close(ln_mills(below), ln_mills(above), 2e-12);
        }
    }

    #[test]
    fn the_mills_ratio_solves_its_differential_equation() {
        for i in -60..200 {
            let y = f64::from(i) * 0.1 + 0.013;
            let step = 1e-4;
            let slope = (mills(y + step) - mills(y - step)) / (2.0 * step);
            let scale = mills(y) * (1.0 + y.abs());
            assert!((slope - (y * mills(y) - 1.0)).abs() < 1e-6 * scale, "at {y}");
        }
    }

    #[test]
    fn the_normal_quantile_undoes_the_cdf_in_both_tails() {
        for p in [1e-300, 1e-100, 1e-12, 1e-3, 0.2, 0.5, 0.7, 0.999] {
            assert_close(ln_normal_cdf(normal_quantile(p)), p.ln(), 1e-14);
        }
        // mpmath: sqrt(2) * erfinv(2 * 0.975 - 1).
        assert_close(normal_quantile(0.975), 1.959_963_984_540_054_2, 1e-15);
        assert_eq!(normal_quantile(0.0), f64::NEG_INFINITY);
        assert!(normal_quantile(1.5).is_nan());
    }

    #[test]
    fn erfc_far_out_agrees_with_high_precision_values() {
        // mpmath: log(erfc(30)).
        assert_close(ln_erfc(30.0), -903.974_117_110_643_9, 1e-13);
        assert_close(ln_erfc(0.0), 0.0, 1e-15);
    }
}
