//! The best aim of a curve, and how flat its top is.
//!
//! Owns the search: a scan for the highest hump, then a root of the slope. Refuses to know what the
//! curve means.

/// A curve is flat where it loses no more than this share of its best value.
pub const FLAT_SHARE: f64 = 0.005;

/// Where a curve is best.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Best {
    /// The best aim: how much earlier than now, s.
    pub earlier_s: f64,
    /// The win chance there, 0–1.
    pub win: f64,
    /// The flat top about it begins here: up to 0.5 % of the best value is lost, s.
    pub flat_low_s: f64,
    /// And ends here, s.
    pub flat_high_s: f64,
    /// The best aim lies at the end of what was looked at: going on in that direction gains little
    /// or nothing, and no aim inside is better.
    pub at_the_end: bool,
}

impl Best {
    /// Whether things as they are lie on the flat top.
    pub fn holds_now(&self) -> bool {
        self.flat_low_s <= 0.0 && self.flat_high_s >= 0.0
    }
}

/// Searches `win` from `low` to `high` in steps of `step`; `slope` is its derivative.
pub(super) fn search(
    win: &dyn Fn(f64) -> f64,
    slope: &dyn Fn(f64) -> f64,
    (low, high): (f64, f64),
    step: f64,
) -> Best {
    let cells = (((high - low) / step).ceil() as usize).clamp(2, 4000);
    let at = |i: usize| low + (high - low) * i as f64 / cells as f64;
    let values: Vec<f64> = (0..=cells).map(|i| win(at(i))).collect();
    let top = (0..=cells).max_by(|a, b| values[*a].total_cmp(&values[*b])).unwrap_or(0);
    let at_the_end = top == 0 || top == cells;
    let earlier =
        if at_the_end { at(top) } else { root(slope, at(top - 1), at(top + 1)).unwrap_or(at(top)) };
    let best = win(earlier);
    let (earlier, best) =
        if best >= values[top] { (earlier, best) } else { (at(top), values[top]) };
    let floor = best * (1.0 - FLAT_SHARE);
    let below = (0..=cells).rev().find(|i| at(*i) < earlier && values[*i] < floor);
    let above = (0..=cells).find(|i| at(*i) > earlier && values[*i] < floor);
    let edge = |outside: usize, inside: f64| crossing(win, floor, at(outside), inside);
    let inner =
        |i: usize| if at(i) < earlier { at(i + 1).min(earlier) } else { at(i - 1).max(earlier) };
    Best {
        earlier_s: earlier,
        win: best,
        flat_low_s: below.map_or(low, |i| edge(i, inner(i))),
        flat_high_s: above.map_or(high, |i| edge(i, inner(i))),
        at_the_end,
    }
}

/// A root of `f` between `low` and `high` by bisection and secants, to 10⁻¹² s.
fn root(f: &dyn Fn(f64) -> f64, low: f64, high: f64) -> Option<f64> {
    let (mut low, mut high) = (low, high);
    let (mut below, mut above) = (f(low), f(high));
    if below * above > 0.0 || !(below * above).is_finite() {
        return None;
    }
    for i in 0..200 {
        if high - low <= 1e-12 {
            break;
        }
        let secant = low - below * (high - low) / (above - below);
        let inside = i % 3 != 2 && secant > low && secant < high;
        let x = if inside { secant } else { 0.5 * (low + high) };
        let here = f(x);
        if here == 0.0 {
            return Some(x);
        }
        if (here > 0.0) == (below > 0.0) {
            (low, below) = (x, here)
        } else {
            (high, above) = (x, here)
        }
    }
    Some(if below.abs() < above.abs() { low } else { high })
}

/// Where `win` passes `floor` between a place outside and one inside, to 10⁻⁹ s.
fn crossing(win: &dyn Fn(f64) -> f64, floor: f64, outside: f64, inside: f64) -> f64 {
    let (mut out, mut within) = (outside, inside);
    while (out - within).abs() > 1e-9 {
        let middle = 0.5 * (out + within);
        if win(middle) < floor { out = middle } else { within = middle }
    }
    within
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn the_higher_of_two_humps_is_found_with_its_own_flat_top() {
        let hump = |x: f64, at: f64| (-0.5 * ((x - at) / 0.02).powi(2)).exp();
        let win = |x: f64| 0.5 * hump(x, -0.1) + 0.6 * hump(x, 0.1);
        let slope = |x: f64| {
            -(x + 0.1) / 0.0004 * 0.5 * hump(x, -0.1) - (x - 0.1) / 0.0004 * 0.6 * hump(x, 0.1)
        };
        let best = search(&win, &slope, (-0.3, 0.3), 0.007);
        assert!((best.earlier_s - 0.1).abs() < 1e-6 && !best.at_the_end);
        // exp(−t²/2) = .995 at t = √(−2 ln .995).
        let half = 0.02 * (-2.0 * 0.995_f64.ln()).sqrt();
        assert!((best.flat_high_s - 0.1 - half).abs() < 1e-6, "{best:?}");
        assert!((best.flat_low_s - 0.1 + half).abs() < 1e-6, "{best:?}");
    }

    #[test]
    fn a_curve_that_only_falls_is_best_at_its_end() {
        let best = search(&|x| 1.0 - x, &|_| -1.0, (0.0, 0.5), 0.01);
        assert!(best.at_the_end && best.earlier_s == 0.0 && best.flat_low_s == 0.0);
        assert!((best.flat_high_s - 0.005).abs() < 1e-8);
    }

    #[test]
    fn now_is_on_the_flat_top_between_its_ends_alone() {
        let top = |flat_low_s, flat_high_s| Best {
            earlier_s: 0.5 * (flat_low_s + flat_high_s),
            win: 0.5,
            flat_low_s,
            flat_high_s,
            at_the_end: false,
        };
        assert!(top(-0.01, 0.01).holds_now() && top(0.0, 0.01).holds_now());
        assert!(!top(0.01, 0.02).holds_now() && !top(-0.02, -0.01).holds_now());
    }

    #[test]
    fn a_root_is_found_at_an_end_too_and_on_a_line_at_once() {
        assert_eq!(root(&|x| x, 0.0, 1.0), Some(0.0));
        assert_eq!(root(&|x| x - 2.0, 0.0, 1.0), None);
        let asked = std::cell::Cell::new(0);
        let line = |x: f64| {
            asked.set(asked.get() + 1);
            x - 0.3127
        };
        assert!((root(&line, 0.1, 0.9).unwrap() - 0.3127).abs() < 1e-12);
        // Both ends, and a few secants that leave rounding only.
        assert!(asked.get() < 12, "{}", asked.get());
    }
}
