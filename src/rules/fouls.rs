//! Who loses by a foul, and who starts first in a handicap race.
//!
//! Owns the two rulings as plain arithmetic. Refuses breakouts and packages: these need a finish.

use super::RulesError;
use crate::units::Span;

/// Which of two red lights loses.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash)]
pub enum FoulRule {
    /// The lane that fouled first by the clock loses (the classic rule).
    First,
    /// The lane that fouled by more loses (the newer rule, for handicap starts).
    Worst,
}

/// One lane's foul.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub struct Foul {
    /// When the lane fouled, ns on the clock both lanes share.
    pub at_ns_on_common_clock: i64,
    /// How early that was against the lane's own green; larger is worse.
    pub amount: Span,
}

/// The lane that loses by a foul: `None` when nobody fouled or the two fouls cannot be told apart.
///
/// A lone foul loses. Of two, [`FoulRule::First`] takes the earlier by the clock (same mark: the
/// larger amount), [`FoulRule::Worst`] the larger amount (same amount: the earlier by the clock).
/// Both rules are in use (common practice; which one is the class's choice), so it is a setting;
/// the ties are chosen: each rule settles the other's.
pub fn foul_loser(rule: FoulRule, fouls: [Option<Foul>; 2]) -> Option<usize> {
    let [a, b] = match fouls {
        [None, None] => return None,
        [Some(_), None] => return Some(0),
        [None, Some(_)] => return Some(1),
        [Some(a), Some(b)] => [a, b],
    };
    // Less is the worse place: an earlier mark, a larger amount.
    let by_clock = a.at_ns_on_common_clock.cmp(&b.at_ns_on_common_clock);
    let by_amount = b.amount.cmp(&a.amount);
    let order = match rule {
        FoulRule::First => by_clock.then(by_amount),
        FoulRule::Worst => by_amount.then(by_clock),
    };
    match order {
        std::cmp::Ordering::Less => Some(0),
        std::cmp::Ordering::Equal => None,
        std::cmp::Ordering::Greater => Some(1),
    }
}

/// The longest dial-in, s: two whole digits and thousandths, as a window takes them (chosen).
pub const LONGEST_DIAL_S: f64 = 99.999;

/// How long each lane's tree waits in a handicap start: the slower car (larger dial-in) starts at
/// once, the other after the difference of the dial-ins. Equal dial-ins start together.
///
/// Published: NHRA sportsman pages (16.00 against 14.50 → 1.5 s). The difference is taken in whole
/// microseconds, so that 13.60 − 15.70 in binary fractions leaves no crumbs.
///
/// # Errors
/// [`RulesError::Dial`] for a dial-in that is not a number, below 0 or above [`LONGEST_DIAL_S`].
pub fn head_start(dials_s: [f64; 2]) -> Result<[Span; 2], RulesError> {
    for (lane, got_s) in dials_s.into_iter().enumerate() {
        if !(0.0..=LONGEST_DIAL_S).contains(&got_s) {
            return Err(RulesError::Dial { lane, got_s });
        }
    }
    let [a, b] = dials_s.map(|dial_s| Span::from_us((dial_s * 1e6).round() as i64));
    Ok([(b - a).max(Span::ZERO), (a - b).max(Span::ZERO)])
}

#[cfg(test)]
mod tests {
    use super::*;

    fn foul(at_ns_on_common_clock: i64, amount_ms: i64) -> Option<Foul> {
        Some(Foul { at_ns_on_common_clock, amount: Span::from_ms(amount_ms) })
    }

    #[test]
    fn each_rule_settles_the_ties_of_the_other() {
        let same_mark = [foul(5, 10), foul(5, 20)];
        assert_eq!(foul_loser(FoulRule::First, same_mark), Some(1));
        let same_amount = [foul(4, 10), foul(5, 10)];
        assert_eq!(foul_loser(FoulRule::Worst, same_amount), Some(0));
        for rule in [FoulRule::First, FoulRule::Worst] {
            assert_eq!(foul_loser(rule, [foul(5, 10), foul(5, 10)]), None);
        }
    }

    #[test]
    fn dials_nobody_could_write_are_refused() {
        for bad in [f64::NAN, f64::INFINITY, f64::NEG_INFINITY, -0.01, 100.0] {
            assert!(matches!(head_start([12.0, bad]), Err(RulesError::Dial { lane: 1, .. })));
            assert!(matches!(head_start([bad, 12.0]), Err(RulesError::Dial { lane: 0, .. })));
        }
        let message = head_start([-1.0, 12.0]).unwrap_err().to_string();
        assert_eq!(message, "the dial-in of lane 1 is -1 s; give 0 to 99.999 s");
    }
}
