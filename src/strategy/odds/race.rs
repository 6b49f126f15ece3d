//! The race: how the finish is judged, who leaves first, which foul loses.
//!
//! Owns the terms of a race as numbers and the order a head start leaves two fouls in. Refuses the
//! drivers: a race is the same whoever runs it.

use crate::rules::{FoulRule, head_start};
use crate::strategy::error::{ELAPSED, GAP, SOME_SPREAD, SPREAD, StrategyError, within};
use crate::units::{Measured, Span};

/// How two clean runs are compared. Elapsed times scatter normally and independently.
#[derive(Debug, Clone, Copy, PartialEq)]
pub enum Finish {
    /// By ET alone: opponent's minus mine, s. No breakout.
    Gap(Measured),
    /// By dial-in: what each runs over the own dial-in, s; below 0 is a breakout.
    OverDial {
        /// Mine.
        mine: Measured,
        /// The opponent's.
        opponent: Measured,
    },
}

impl Finish {
    /// By an ET gap with its spread from race to race, opponent's ET minus mine, s.
    ///
    /// # Errors
    /// [`StrategyError::OutOfDomain`] outside ±1000 s or for a spread outside 0–100 s.
    pub fn gap(mean_s: f64, sd_s: f64) -> Result<Self, StrategyError> {
        let mean = within("ET gap", mean_s, GAP)?;
        Ok(Self::Gap(Measured::new(mean, within("spread of the ET gap", sd_s, SPREAD)?)))
    }

    /// By two elapsed times with their spreads from run to run, s.
    ///
    /// # Errors
    /// [`StrategyError::OutOfDomain`] for an ET outside 0.1–1000 s or a spread outside 0–100 s.
    pub fn times(mine_s: Measured, opponent_s: Measured) -> Result<Self, StrategyError> {
        let [mine, opponent] = [mine_s, opponent_s].map(|et| {
            let value = within("ET", et.value, ELAPSED)?;
            Ok::<_, StrategyError>(Measured::new(value, within("spread of the ET", et.sd, SPREAD)?))
        });
        let (mine, opponent) = (mine?, opponent?);
        Self::gap(opponent.value - mine.value, opponent.sd.hypot(mine.sd))
    }

    /// By two elapsed times against dial-ins, with breakouts. Equal dial-ins are an index race.
    ///
    /// # Errors
    /// As [`Finish::times`], and [`StrategyError::Rules`] for a dial-in nobody could write;
    /// a spread has to be 0.000001 s at least.
    pub fn dialled(
        mine_s: Measured,
        opponent_s: Measured,
        dials_s: [f64; 2],
    ) -> Result<Self, StrategyError> {
        Self::times(mine_s, opponent_s)?;
        head_start(dials_s)?;
        for et in [mine_s, opponent_s] {
            within("spread of an ET with a dial-in", et.sd, SOME_SPREAD)?;
        }
        Ok(Self::OverDial {
            mine: Measured::new(mine_s.value - dials_s[0], mine_s.sd),
            opponent: Measured::new(opponent_s.value - dials_s[1], opponent_s.sd),
        })
    }

    /// The same with my ET longer by `et_s` while the dial-in stays: what a lever does that is not
    /// dialled in.
    ///
    /// # Errors
    /// As [`Finish::gap`].
    pub fn with_my_et_longer(self, et_s: f64) -> Result<Self, StrategyError> {
        let by = within("change of ET", et_s, GAP)?;
        Ok(match self {
            Self::Gap(gap) => Self::Gap(Measured::new(gap.value - by, gap.sd)),
            Self::OverDial { mine, opponent } => {
                Self::OverDial { mine: Measured::new(mine.value + by, mine.sd), opponent }
            }
        })
    }
}

/// Who leaves first.
#[derive(Debug, Clone, Copy, PartialEq)]
pub enum Order {
    /// I do, by so much that no foul of the opponent's can come before mine.
    First,
    /// The opponent does, by so much that no foul of mine can come before his.
    Second,
    /// Both greens come at once.
    Together,
    /// My green comes this much before the opponent's, s; below 0 after it.
    HeadStart(f64),
}

impl Order {
    /// What two dial-ins give: the slower car's side starts first by their difference.
    ///
    /// # Errors
    /// [`StrategyError::Rules`] for a dial-in nobody could write.
    pub fn of_dials(dials_s: [f64; 2]) -> Result<Self, StrategyError> {
        let [mine, opponent] = head_start(dials_s)?.map(Span::as_secs_f64);
        let head_start = opponent - mine;
        Ok(if head_start == 0.0 { Self::Together } else { Self::HeadStart(head_start) })
    }

    /// My green this much before the opponent's, s.
    ///
    /// # Errors
    /// [`StrategyError::OutOfDomain`] outside ±1000 s.
    pub fn of_head_start(seconds: f64) -> Result<Self, StrategyError> {
        Ok(Self::HeadStart(within("head start", seconds, GAP)?))
    }

    /// My head start, s; infinite where the order cannot change.
    pub fn head_start_s(self) -> f64 {
        match self {
            Self::First => f64::INFINITY,
            Self::Second => f64::NEG_INFINITY,
            Self::Together => 0.0,
            Self::HeadStart(seconds) => seconds,
        }
    }
}

/// A race.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Race {
    /// How clean runs are compared.
    pub finish: Finish,
    /// Who leaves first.
    pub order: Order,
    /// Which of two reds loses.
    pub foul: FoulRule,
}

impl Race {
    /// Both greens at once; the worse of two reds loses, which is also the first.
    pub fn heads_up(finish: Finish) -> Self {
        Self { finish, order: Order::Together, foul: FoulRule::Worst }
    }

    /// With a head start under a rule for double reds.
    pub fn handicap(finish: Finish, order: Order, foul: FoulRule) -> Self {
        Self { finish, order, foul }
    }

    /// With both red I win if my light is above the opponent's by more than this, s.
    pub(super) fn double_red_margin_s(&self) -> f64 {
        match self.foul {
            FoulRule::First => self.order.head_start_s(),
            FoulRule::Worst => 0.0,
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    fn et(value: f64) -> Measured {
        Measured::new(value, 0.03)
    }

    #[test]
    fn dial_ins_give_the_published_head_starts() {
        // NHRA sportsman pages: 16.00 against 14.50 → 1.5 s, 11.68 against 9.20 → 2.48 s.
        assert_eq!(Order::of_dials([16.0, 14.5]).unwrap(), Order::HeadStart(1.5));
        assert_eq!(Order::of_dials([9.2, 11.68]).unwrap().head_start_s(), -2.48);
        assert_eq!(Order::of_dials([8.9, 8.9]).unwrap(), Order::Together);
    }

    #[test]
    fn only_the_first_foul_asks_who_left_first() {
        let finish = Finish::gap(0.0, 0.02).unwrap();
        let margin = |order, foul| Race::handicap(finish, order, foul).double_red_margin_s();
        assert_eq!(margin(Order::First, FoulRule::First), f64::INFINITY);
        assert_eq!(margin(Order::HeadStart(-0.3), FoulRule::First), -0.3);
        assert_eq!(margin(Order::HeadStart(-0.3), FoulRule::Worst), 0.0);
    }

    #[test]
    fn a_finish_nobody_could_run_is_refused() {
        assert!(Finish::gap(f64::NAN, 0.0).is_err());
        assert!(Finish::gap(0.0, -0.1).is_err());
        assert!(Finish::times(et(12.0), et(-12.0)).is_err());
        assert!(Finish::dialled(et(12.0), et(11.0), [12.0, 100.0]).is_err());
        assert!(Finish::dialled(Measured::new(12.0, 0.0), et(11.0), [12.0, 11.0]).is_err());
        assert!(Finish::dialled(et(12.0), et(11.0), [12.0, 11.0]).is_ok());
    }
}
