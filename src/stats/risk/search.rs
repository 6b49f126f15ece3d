//! The way to the middle of a posterior.
//!
//! Owns a small simplex search (Nelder & Mead 1965) and the curvature at its end. Refuses to know
//! what it climbs.

use super::model::Point;

const DIM: usize = 4;
/// Chosen: the sampler only needs the neighbourhood of the top.
const TOLERANCE: f64 = 0.01;
const MOST_STEPS: usize = 160;

/// A point near a local maximum of `f`, from `start` with first steps of `scales`.
pub(super) fn climb(f: &impl Fn(&Point) -> f64, start: Point, scales: &Point) -> (Point, f64) {
    let mut simplex: Vec<(Point, f64)> = Vec::with_capacity(DIM + 1);
    simplex.push((start, f(&start)));
    for d in 0..DIM {
        let mut corner = start;
        corner[d] += scales[d];
        simplex.push((corner, f(&corner)));
    }
    for _ in 0..MOST_STEPS {
        simplex.sort_by(|a, b| b.1.total_cmp(&a.1));
        let (best, worst) = (simplex[0].1, simplex[DIM]);
        if best - worst.1 < TOLERANCE {
            break;
        }
        let centre: Point =
            std::array::from_fn(|d| simplex[..DIM].iter().map(|c| c.0[d]).sum::<f64>() / 4.0);
        let along = |t: f64| {
            let p: Point = std::array::from_fn(|d| centre[d] + t * (worst.0[d] - centre[d]));
            (p, f(&p))
        };
        let reflected = along(-1.0);
        simplex[DIM] = if reflected.1 > best {
            let further = along(-2.0);
            if further.1 > reflected.1 { further } else { reflected }
        } else if reflected.1 > simplex[DIM - 1].1 {
            reflected
        } else {
            let nearer = if reflected.1 > worst.1 { along(-0.5) } else { along(0.5) };
            if nearer.1 <= worst.1.max(reflected.1) {
                shrink(&mut simplex, f);
                continue;
            }
            nearer
        };
    }
    simplex.sort_by(|a, b| b.1.total_cmp(&a.1));
    simplex[0]
}

fn shrink(simplex: &mut [(Point, f64)], f: &impl Fn(&Point) -> f64) {
    let best = simplex[0].0;
    for corner in &mut simplex[1..] {
        corner.0 = std::array::from_fn(|d| 0.5 * (best[d] + corner.0[d]));
        corner.1 = f(&corner.0);
    }
}

/// Minus the second derivatives of `f` at `at`, by differences over `steps`.
pub(super) fn curvature(
    f: &impl Fn(&Point) -> f64,
    at: &Point,
    top: f64,
    steps: &Point,
) -> [Point; DIM] {
    let moved = |moves: &[(usize, f64)]| {
        let mut p = *at;
        for (d, t) in moves {
            p[*d] += t * steps[*d];
        }
        f(&p)
    };
    let mut out = [[0.0; DIM]; DIM];
    let sides: Vec<(f64, f64)> =
        (0..DIM).map(|d| (moved(&[(d, 1.0)]), moved(&[(d, -1.0)]))).collect();
    for i in 0..DIM {
        out[i][i] = (2.0 * top - sides[i].0 - sides[i].1) / (steps[i] * steps[i]);
        for j in 0..i {
            // f(++) + f(−−) − f(+0) − f(−0) − f(0+) − f(0−) + 2 f(0) = 2 h k f_xy.
            let both = moved(&[(i, 1.0), (j, 1.0)]) + moved(&[(i, -1.0), (j, -1.0)]);
            let single = sides[i].0 + sides[i].1 + sides[j].0 + sides[j].1;
            out[i][j] = -(both - single + 2.0 * top) / (2.0 * steps[i] * steps[j]);
            out[j][i] = out[i][j];
        }
    }
    out
}

#[cfg(test)]
mod tests {
    use super::*;

    fn bowl(p: &Point) -> f64 {
        let [a, b, c, d] = *p;
        -((a - 3.0).powi(2) + 2.0 * (b + 1.0).powi(2) + (c - b).powi(2) + 0.5 * d * d)
    }

    #[test]
    fn the_climb_finds_the_top_of_a_tilted_bowl() {
        let (at, top) = climb(&bowl, [0.0; 4], &[1.0; 4]);
        assert!(top > -0.05, "{at:?} {top}");
    }

    #[test]
    fn the_curvature_of_a_quadratic_is_exact() {
        let at = [3.0, -1.0, -1.0, 0.0];
        let h = curvature(&bowl, &at, bowl(&at), &[0.1, 0.2, 0.3, 0.4]);
        let want = [
            [2.0, 0.0, 0.0, 0.0],
            [0.0, 6.0, -2.0, 0.0],
            [0.0, -2.0, 2.0, 0.0],
            [0.0, 0.0, 0.0, 1.0],
        ];
        for (got, want) in h.iter().flatten().zip(want.iter().flatten()) {
            assert!((got - want).abs() < 1e-9, "{h:?}");
        }
    }

    #[test]
    fn a_simplex_shrinks_halfway_towards_its_best_corner() {
        let mut simplex: Vec<(Point, f64)> = [[3.0, -1.0, -1.0, 0.0], [5.0, -1.0, 7.0, 2.0]]
            .into_iter()
            .map(|corner| (corner, bowl(&corner)))
            .collect();
        shrink(&mut simplex, &bowl);
        let middle = [4.0, -1.0, 3.0, 1.0];
        assert_eq!(simplex, [([3.0, -1.0, -1.0, 0.0], 0.0), (middle, bowl(&middle))]);
    }
}
