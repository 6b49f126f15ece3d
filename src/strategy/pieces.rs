//! Integrals over pieces, and a function remembered by its pieces.
//!
//! Owns the splitting of a range where an integrand changes character, so that the library's double
//! exponential rule meets smooth pieces only, and Chebyshev pieces that stand for a function that is
//! dear to compute. Refuses to know what is integrated.

/// Coefficients of a piece.
const ORDER: usize = 16;
/// How often a piece may be halved.
const DEEPEST: usize = 12;
/// How exact an answer has to be.
#[derive(Debug, Clone, Copy, PartialEq)]
pub(in crate::strategy) struct Exactness {
    /// Error aimed at in each piece of an integral.
    pub integral: f64,
    /// Error aimed at in each Chebyshev piece.
    pub pieces: f64,
}

/// For laws that are known: ten digits.
pub(in crate::strategy) const EXACT: Exactness = Exactness { integral: 1e-13, pieces: 1e-11 };
/// For laws that are drawn: a thousand draws show three digits.
pub(in crate::strategy) const QUICK: Exactness = Exactness { integral: 1e-8, pieces: 3e-7 };

/// ∫ f from `low` to `high`, piece by piece between the knots that lie inside.
pub(in crate::strategy) fn integral(
    f: impl Fn(f64) -> f64,
    low: f64,
    high: f64,
    knots: &[f64],
    exactness: Exactness,
) -> f64 {
    let edges = edges(low, high, knots);
    let piece = |w: &[f64]| quadrature::integrate(&f, w[0], w[1], exactness.integral).integral;
    edges.windows(2).map(piece).sum()
}

/// Both ends and the knots between them, in order, each once.
fn edges(low: f64, high: f64, knots: &[f64]) -> Vec<f64> {
    if high.partial_cmp(&low) != Some(std::cmp::Ordering::Greater) {
        return Vec::new();
    }
    let inside = knots.iter().copied().filter(|k| *k > low && *k < high);
    let mut edges: Vec<f64> = [low, high].into_iter().chain(inside).collect();
    edges.sort_by(f64::total_cmp);
    edges.dedup();
    edges
}

/// A function as Chebyshev series between edges; constant outside.
#[derive(Debug, Clone)]
pub(in crate::strategy) struct Pieces {
    edges: Vec<f64>,
    series: Vec<[f64; ORDER]>,
}

impl Pieces {
    /// `f` from `low` to `high`, halved where a series has not settled.
    pub fn of(
        f: impl Fn(f64) -> f64,
        low: f64,
        high: f64,
        knots: &[f64],
        exactness: Exactness,
    ) -> Self {
        let mut pieces = Self { edges: vec![low], series: Vec::new() };
        for w in edges(low, high, knots).windows(2) {
            pieces.add(&f, w[0], w[1], exactness.pieces, DEEPEST);
        }
        pieces
    }

    fn add(&mut self, f: &dyn Fn(f64) -> f64, low: f64, high: f64, tolerance: f64, depth: usize) {
        let series = series(f, low, high);
        let rest: f64 = series[ORDER - 3..].iter().map(|c| c.abs()).sum();
        let middle = 0.5 * (low + high);
        if rest <= tolerance || depth == 0 || middle <= low || middle >= high {
            self.edges.push(high);
            self.series.push(series);
        } else {
            self.add(f, low, middle, tolerance, depth - 1);
            self.add(f, middle, high, tolerance, depth - 1);
        }
    }

    /// Where its pieces meet, both ends included.
    pub fn edges(&self) -> &[f64] {
        &self.edges
    }

    /// Where it begins and ends.
    pub fn ends(&self) -> (f64, f64) {
        (self.edges[0], self.edges[self.edges.len() - 1])
    }

    /// The value at `x`; outside the range that at its nearer end.
    pub fn at(&self, x: f64) -> f64 {
        let last = self.series.len() - 1;
        let i = self.edges.partition_point(|edge| *edge <= x).saturating_sub(1).min(last);
        let (low, high) = (self.edges[i], self.edges[i + 1]);
        let t = ((2.0 * x - low - high) / (high - low)).clamp(-1.0, 1.0);
        // Clenshaw's recurrence.
        let (mut b1, mut b2) = (0.0, 0.0);
        for c in self.series[i][1..].iter().rev() {
            (b1, b2) = (c + 2.0 * t * b1 - b2, b1);
        }
        self.series[i][0] + t * b1 - b2
    }
}

/// Chebyshev coefficients from values at the first kind of nodes.
fn series(f: &dyn Fn(f64) -> f64, low: f64, high: f64) -> [f64; ORDER] {
    let angle = |i: usize| std::f64::consts::PI * (i as f64 + 0.5) / ORDER as f64;
    let value = |i: usize| f(0.5 * (low + high) + 0.5 * (high - low) * angle(i).cos());
    let values: [f64; ORDER] = std::array::from_fn(value);
    std::array::from_fn(|k| {
        let sum: f64 =
            values.iter().enumerate().map(|(i, v)| v * (k as f64 * angle(i)).cos()).sum();
        sum * if k == 0 { 1.0 } else { 2.0 } / ORDER as f64
    })
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn an_integral_over_pieces_sees_a_spike_and_a_step() {
        let spike = |x: f64| (-0.5 * ((x - 0.3) / 1e-4).powi(2)).exp();
        let knots = [0.2992, 0.3, 0.3008];
        let want = 1e-4 * (2.0 * std::f64::consts::PI).sqrt();
        assert!((integral(spike, -5.0, 5.0, &knots, EXACT) / want - 1.0).abs() < 1e-9);
        let step = |x: f64| if x < 0.25 { 1.0 } else { 3.0 };
        assert!((integral(step, 0.0, 1.0, &[0.25], EXACT) - 2.5).abs() < 1e-12);
        assert_eq!(integral(step, 1.0, 0.0, &[], EXACT), 0.0);
    }

    #[test]
    fn a_polynomial_of_degree_twelve_is_one_piece_and_a_corner_is_halved() {
        let smooth = Pieces::of(|x| (x - 0.3).powi(12) - x.powi(7), -1.0, 1.0, &[], EXACT);
        assert_eq!(smooth.edges(), [-1.0, 1.0]);
        let corner = Pieces::of(|x| (x - 0.3).abs(), -1.0, 1.0, &[], QUICK);
        assert!(corner.edges().len() > 10 && corner.edges().is_sorted());
        assert_eq!((corner.edges()[0], corner.edges()[1]), (-1.0, 0.0));
    }

    #[test]
    fn pieces_stand_for_their_function_and_stay_level_outside() {
        let f = |x: f64| (x / 0.01).tanh() + x.abs();
        let pieces = Pieces::of(f, -1.0, 2.0, &[0.0], EXACT);
        for i in 0..300 {
            let x = -1.0 + f64::from(i) * 0.01 + 0.0033;
            assert!((pieces.at(x) - f(x)).abs() < 1e-9, "{x}: {}", pieces.at(x) - f(x));
        }
        assert!((pieces.at(9.0) - f(2.0)).abs() < 1e-10);
        assert!((pieces.at(-9.0) - f(-1.0)).abs() < 1e-10);
    }
}
