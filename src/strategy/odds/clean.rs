//! The chance to win where nobody was red.
//!
//! Owns G(d), the chance that I finish first or the opponent breaks out worse, once my light is d
//! later than the opponent's. Refuses red lights: these are decided before.
//!
//! By ET alone G(d) = P(gap > d). With dial-ins, u and v what each runs over the own one:
//! G(d) = P(u ≥ 0, v < 0) + P(v < u < 0) + P(u ≥ 0, v ≥ 0, u + d < v): the opponent breaks out alone,
//! both do and the opponent by more (published: the smaller amount under wins), or nobody does and my
//! package is the smaller.

use super::race::Finish;
use crate::stats::special::{normal_cdf, normal_sf};
use crate::strategy::pieces::{Exactness, Pieces, integral};
use crate::units::Measured;

/// Beyond this many SDs there is nothing.
const FAR: f64 = 9.0;
/// Where an integrand over a normal law changes character, in SDs.
const KNOTS: [f64; 5] = [-FAR, -3.5, 0.0, 3.5, FAR];

/// G, ready to be asked often.
#[derive(Debug, Clone)]
pub(super) enum Clean {
    Gap(Measured),
    Dialled {
        /// Wins that do not depend on the lights.
        fixed: f64,
        /// P(nobody breaks out and u + d < v) over d.
        by_package: Pieces,
    },
}

impl Clean {
    pub fn new(finish: &Finish, exactness: Exactness) -> Self {
        match *finish {
            Finish::Gap(gap) => Self::Gap(gap),
            Finish::OverDial { mine, opponent } => Self::dialled(mine, opponent, exactness),
        }
    }

    fn dialled(mine: Measured, opponent: Measured, exactness: Exactness) -> Self {
        let density = |v: f64| normal_pdf((v - opponent.value) / opponent.sd) / opponent.sd;
        let under = |x: f64| normal_cdf((x - mine.value) / mine.sd);
        let mut knots: Vec<f64> = KNOTS.iter().map(|k| opponent.value + k * opponent.sd).collect();
        let (low, high) = (knots[0], knots[KNOTS.len() - 1]);
        knots.extend(KNOTS.iter().map(|k| mine.value + k * mine.sd));
        let sober = normal_sf(-mine.value / mine.sd);
        let alone = sober * normal_cdf(-opponent.value / opponent.sd);
        let worse = |v: f64| density(v) * (under(0.0) - under(v));
        let both = integral(worse, low, high.min(0.0), &knots, exactness);
        let package = |d: f64| {
            let moved = KNOTS.iter().map(|k| d + mine.value + k * mine.sd);
            let all: Vec<f64> = knots.iter().copied().chain(moved).collect();
            let f = |v: f64| density(v) * (under(v - d) - under(0.0));
            integral(f, low.max(d).max(0.0), high, &all, exactness)
        };
        let last = (high - (mine.value - FAR * mine.sd).max(0.0)).max(0.0);
        let first = low.max(0.0) - (mine.value + FAR * mine.sd);
        let (first, last) = (first.min(-1e-6), last.max(1e-6));
        let by_package = Pieces::of(package, first, last, &[0.0], exactness);
        Self::Dialled { fixed: alone + both, by_package }
    }

    /// G(d).
    pub fn win(&self, d: f64) -> f64 {
        match self {
            Self::Gap(gap) if gap.sd == 0.0 => f64::from(d < gap.value),
            Self::Gap(gap) => normal_cdf((gap.value - d) / gap.sd),
            Self::Dialled { fixed, by_package } => fixed + by_package.at(d),
        }
    }

    /// Differences of lights between which G goes from its highest to its lowest.
    pub fn range(&self) -> (f64, f64) {
        match self {
            Self::Gap(gap) => (gap.value - FAR * gap.sd, gap.value + FAR * gap.sd),
            Self::Dialled { by_package, .. } => by_package.ends(),
        }
    }

    /// Differences of lights where G changes character.
    pub fn knots(&self) -> Vec<f64> {
        match self {
            Self::Gap(gap) => KNOTS.iter().map(|k| gap.value + k * gap.sd).collect(),
            Self::Dialled { by_package, .. } => {
                let (first, last) = by_package.ends();
                vec![first, 0.5 * first, 0.0, 0.5 * last, last]
            }
        }
    }
}

fn normal_pdf(z: f64) -> f64 {
    (-0.5 * z * z).exp() * 0.398_942_280_401_432_7
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::strategy::pieces::EXACT;

    #[test]
    fn far_from_their_dial_ins_nobody_breaks_out_and_the_gap_decides() {
        let et = |over: f64, sd| Measured::new(over, sd);
        let finish = Finish::OverDial { mine: et(1.0, 0.03), opponent: et(1.01, 0.04) };
        let (dialled, gap) =
            (Clean::new(&finish, EXACT), Clean::new(&Finish::gap(0.01, 0.05).unwrap(), EXACT));
        for d in [-0.2, -0.05, 0.0, 0.013, 0.08, 0.3] {
            assert!((dialled.win(d) - gap.win(d)).abs() < 1e-10, "{d}: {}", dialled.win(d));
        }
        // Nine SDs: the opponent 1.01 + .36 over the dial-in and I 1 − .27, and the reverse.
        let (first, last) = dialled.range();
        assert!((first + 0.62).abs() < 1e-9 && (last - 0.64).abs() < 1e-9, "{first} {last}");
    }

    #[test]
    fn by_a_gap_that_is_known_the_earlier_at_the_stripe_wins() {
        let clean = Clean::new(&Finish::gap(0.01, 0.0).unwrap(), EXACT);
        assert_eq!([0.0, 0.0099, 0.0101, 0.5].map(|d| clean.win(d)), [1.0, 1.0, 0.0, 0.0]);
        assert_eq!(clean.range(), (0.01, 0.01));
        let clean = Clean::new(&Finish::gap(0.01, 0.05).unwrap(), EXACT);
        let (first, last) = clean.range();
        assert!((first + 0.44).abs() < 1e-12 && (last - 0.46).abs() < 1e-12, "{first} {last}");
        let knots = clean.knots();
        assert!(knots.is_sorted() && knots[0] == first && knots[knots.len() - 1] == last);
        assert!(clean.win(first) > 1.0 - 1e-15 && clean.win(last) < 1e-15);
    }

    #[test]
    fn deep_under_their_dial_ins_the_smaller_breakout_wins_whatever_the_lights() {
        let finish = Finish::OverDial {
            mine: Measured::new(-1.0, 0.03),
            opponent: Measured::new(-1.01, 0.04),
        };
        // I win if u > v: P(N(.01, .05²) > 0).
        let (clean, want) = (Clean::new(&finish, EXACT), normal_cdf(0.2));
        for d in [-0.5, 0.0, 0.5] {
            assert!((clean.win(d) - want).abs() < 1e-11);
        }
    }

    #[test]
    fn a_mirrored_race_has_one_winner() {
        // The second of them much steadier than the first.
        for sds in [[0.02, 0.03], [0.05, 0.000_2]] {
            for [over, other_over] in [[0.01, -0.015], [-0.015, 0.01], [0.03, 0.02], [-0.03, -0.02]]
            {
                let (mine, opponent) =
                    (Measured::new(over, sds[0]), Measured::new(other_over, sds[1]));
                let one = Clean::new(&Finish::OverDial { mine, opponent }, EXACT);
                let other = Clean::new(&Finish::OverDial { mine: opponent, opponent: mine }, EXACT);
                for d in [-0.1, -0.02, 0.0, 0.005, 0.04] {
                    let sum = one.win(d) + other.win(-d);
                    assert!((sum - 1.0).abs() < 1e-10, "{mine:?} {opponent:?} {d}: {sum}");
                }
            }
        }
    }
}
