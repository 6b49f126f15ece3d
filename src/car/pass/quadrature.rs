//! Integrals over speed: how long and how far from one speed to another.
//!
//! Owns the eight-point Gauss–Legendre rule and its halving. Refuses to know what it integrates.
//!
//! Speed is the variable, because every integrand is smooth in it: at a standstill under constant
//! power v grows like √t, which no step in time follows, while dt/dv = v/p is a straight line.
//! (A crate with the same rule brings a linear-algebra library into the core; sixteen numbers
//! don't.)

/// Nodes on (0, 1) and weights of the eight-point rule on (−1, 1): Abramowitz & Stegun, Handbook of
/// Mathematical Functions (1964), table 25.4, n = 8. Exact for polynomials up to degree 15.
const RULE: [(f64, f64); 4] = [
    (0.183_434_642_495_649_8, 0.362_683_783_378_362),
    (0.525_532_409_916_329, 0.313_706_645_877_887_3),
    (0.796_666_477_413_626_7, 0.222_381_034_453_374_48),
    (0.960_289_856_497_536_3, 0.101_228_536_290_376_26),
];

/// How well two halves must agree with the whole, relative. The error left is smaller still: for
/// smooth integrands halving divides it by 2¹⁶.
const TOLERANCE: f64 = 1e-11;

/// Integrals of N functions from `a` to `b` by one application of the rule.
pub(super) fn eight_points<const N: usize>(
    a: f64,
    b: f64,
    f: &impl Fn(f64) -> [f64; N],
) -> [f64; N] {
    let (middle, half) = (a + (b - a) / 2.0, (b - a) / 2.0);
    let mut sums = [0.0; N];
    for (node, weight) in RULE {
        let (left, right) = (f(middle - half * node), f(middle + half * node));
        for i in 0..N {
            sums[i] += weight * (left[i] + right[i]);
        }
    }
    sums.map(|sum| sum * half)
}

/// The widest piece from `a` towards `b` on which one application of the rule is good enough: its
/// end and the integrals over it.
pub(super) fn widest_piece<const N: usize>(
    a: f64,
    b: f64,
    f: &impl Fn(f64) -> [f64; N],
) -> (f64, [f64; N]) {
    let mut end = b;
    let mut whole = eight_points(a, end, f);
    for _ in 0..60 {
        let middle = a + (end - a) / 2.0;
        let (left, right) = (eight_points(a, middle, f), eight_points(middle, end, f));
        let agree =
            (0..N).all(|i| (left[i] + right[i] - whole[i]).abs() <= TOLERANCE * whole[i].abs());
        if agree {
            break;
        }
        (end, whole) = (middle, left);
    }
    (end, whole)
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn the_rule_is_exact_up_to_degree_fifteen_and_not_beyond() {
        for power in 0..=15 {
            let [got] = eight_points(0.0, 2.0, &|x: f64| [x.powi(power)]);
            let want = 2.0_f64.powi(power + 1) / f64::from(power + 1);
            assert!((got / want - 1.0).abs() < 1e-14, "x^{power}: {got}, not {want}");
        }
        let [got] = eight_points(0.0, 2.0, &|x: f64| [x.powi(16)]);
        assert!((got / (2.0_f64.powi(17) / 17.0) - 1.0).abs() > 1e-11);
    }

    #[test]
    fn a_piece_shrinks_until_the_rule_follows_the_function() {
        // ∫ 1/(1 − x) = −ln(1 − x), steep towards 1.
        let (mut at, mut sum, mut pieces) = (0.0, 0.0, 0);
        while at < 0.999 {
            let (end, [piece]) = widest_piece(at, 0.999, &|x| [1.0 / (1.0 - x)]);
            (at, sum, pieces) = (end, sum + piece, pieces + 1);
        }
        assert!((sum / 0.001_f64.ln().abs() - 1.0).abs() < 1e-11, "{sum}");
        assert!(pieces > 1);
    }
}
