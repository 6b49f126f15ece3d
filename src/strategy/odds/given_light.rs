//! The chance to win once my light is known.
//!
//! Owns h(x): above 0 the opponent's red chance plus what is won clean, below 0 what a double red
//! leaves. Refuses my own law: whoever asks averages h over it.
//!
//! h(x) = q + ∫_{o ≥ 0} f_O(o) G(x − o) do for x ≥ 0, with q = P(O < 0), and
//! h(x) = P(O < min(0, x − k)) for x < 0, k the margin by which a double red is won.

use super::clean::Clean;
use super::opponent::Opponent;
use super::race::Race;
use crate::strategy::pieces::{EXACT, Exactness, Pieces, integral};

/// h, ready to be asked often.
#[derive(Debug, Clone)]
pub struct GivenLight {
    opponent: Opponent,
    margin: f64,
    green: Pieces,
    knots: Vec<f64>,
}

impl GivenLight {
    /// h of a race against an opponent, to about 10⁻¹¹.
    pub fn new(opponent: &Opponent, race: &Race) -> Self {
        Self::to(opponent, race, EXACT)
    }

    /// The same, as exact as asked.
    pub(in crate::strategy) fn to(opponent: &Opponent, race: &Race, exactness: Exactness) -> Self {
        let clean = Clean::new(&race.finish, exactness);
        let law = opponent;
        let (mut low, mut high) = law.range();
        (low, high) = (low.max(0.0), high.max(0.0));
        let ((g0, g1), g_knots) = (clean.range(), clean.knots());
        let lights: Vec<f64> = law.knots().into_iter().filter(|o| *o > 0.0).collect();
        let red = opponent.red();
        let fixed: Vec<_> = law.fixed().into_iter().filter(|(_, o)| *o >= 0.0).collect();
        let at = |x: f64| {
            let here = g_knots.iter().map(|d| x - d);
            let all: Vec<f64> = lights.iter().copied().chain(here).collect();
            let scattered = integral(|o| law.pdf(o) * clean.win(x - o), low, high, &all, exactness);
            red + scattered + fixed.iter().map(|(w, o)| w * clean.win(x - o)).sum::<f64>()
        };
        // G turns from high to low about each light of the opponent's, and about none below 0.
        let turns = |o: f64| g_knots.iter().map(move |d| o + d);
        let mut knots: Vec<f64> =
            lights.iter().chain(&[low]).flat_map(|o| turns(*o)).filter(|x| *x > 0.0).collect();
        knots.sort_by(f64::total_cmp);
        let end = (high + g1).max(1e-6);
        let begin = (low + g0).clamp(0.0, 0.5 * end);
        let inside: Vec<f64> = knots.iter().copied().filter(|x| *x > begin).collect();
        let green = Pieces::of(at, begin, end, &inside, exactness);
        let margin = race.double_red_margin_s();
        knots.extend([0.0, begin, end]);
        if margin.is_finite() {
            knots.extend(law.knots().into_iter().map(|o| o + margin));
            knots.push(margin);
        }
        Self { opponent: opponent.clone(), margin, green, knots }
    }

    /// h(x), 0–1.
    pub fn win(&self, x: f64) -> f64 {
        if x >= 0.0 {
            self.green.at(x).clamp(0.0, 1.0)
        } else if self.margin == f64::INFINITY {
            0.0
        } else {
            self.opponent.below((x - self.margin).min(0.0))
        }
    }

    /// Who the opponent is.
    pub fn opponent(&self) -> &Opponent {
        &self.opponent
    }

    /// Lights between which h goes from its lowest to its last value; outside it is level.
    pub(in crate::strategy) fn range(&self) -> (f64, f64) {
        let (low, high) = self.opponent.range();
        let margin = if self.margin.is_finite() { self.margin } else { 0.0 };
        (low.min(low + margin).min(0.0), self.green.ends().1.max(high.min(0.0)))
    }

    /// Lights where h jumps or bends.
    pub(super) fn knots(&self) -> &[f64] {
        &self.knots
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::rules::FoulRule;
    use crate::stats::special::normal_cdf;
    use crate::strategy::law::RtLaw;
    use crate::strategy::odds::race::{Finish, Order};

    fn given(order: Order, foul: FoulRule) -> GivenLight {
        let opponent = Opponent::normal(0.02, 0.03).unwrap();
        let race = Race::handicap(Finish::gap(0.0, 0.02).unwrap(), order, foul);
        GivenLight::new(&opponent, &race)
    }

    #[test]
    fn my_red_is_judged_by_rule_and_order() {
        let q = given(Order::First, FoulRule::First).opponent().red();
        assert_eq!(given(Order::First, FoulRule::First).win(-0.01), 0.0);
        assert_eq!(given(Order::Second, FoulRule::First).win(-0.5), q);
        let worse_than_10_ms = Opponent::normal(0.02, 0.03).unwrap().below(-0.01);
        for order in [Order::First, Order::Together, Order::Second, Order::HeadStart(0.3)] {
            assert_eq!(given(order, FoulRule::Worst).win(-0.01), worse_than_10_ms);
        }
        assert_eq!(given(Order::Together, FoulRule::First).win(-0.01), worse_than_10_ms);
        // Left 4 ms before the opponent: he has to be 14 ms too early.
        let law = Opponent::normal(0.02, 0.03).unwrap();
        let small = given(Order::HeadStart(0.004), FoulRule::First).win(-0.01);
        assert_eq!(small, law.below(-0.014));
    }

    /// Three narrow kinds of lights, 20, 153 and 300 ms: h is the mean of three normal chances.
    #[test]
    fn an_opponent_of_three_narrow_kinds_is_seen_whole() {
        let kinds = [0.02, 0.153, 0.3];
        let law = kinds.map(|mean| (1.0, RtLaw::normal(mean, 0.000_05).unwrap()));
        let opponent = Opponent::of(RtLaw::mixture(law.to_vec()).unwrap());
        let race = Race::heads_up(Finish::gap(0.01, 0.03).unwrap());
        let h = GivenLight::new(&opponent, &race);
        let sd = 0.03_f64.hypot(0.000_05);
        for x in [0.0, 0.01, 0.033, 0.1, 0.29, 0.31, 0.4] {
            let want = kinds.map(|o| normal_cdf((0.01 + o - x) / sd)).iter().sum::<f64>() / 3.0;
            assert!((h.win(x) - want).abs() < 1e-9, "{x}: {}", h.win(x) - want);
        }
    }

    #[test]
    fn a_perfect_light_wins_most_and_a_very_late_one_needs_the_opponents_red() {
        let h = given(Order::Together, FoulRule::Worst);
        assert!(h.win(0.0) > h.win(0.01) && h.win(0.01) > h.win(0.05));
        assert!((h.win(5.0) - h.opponent().red()).abs() < 1e-10);
    }
}
