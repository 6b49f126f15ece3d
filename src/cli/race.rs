//! The race of a sub-command: opponent, finish, order, foul rule.
//!
//! Owns these options, shared by `odds` and `aim`. Refuses to compute.

use super::parse::{OpponentArg, Pair};
use crate::rules::FoulRule;
use crate::strategy::odds::{Finish, Opponent, Order, Race};
use crate::strategy::{Doubt, StrategyError};
use crate::units::Measured;
use clap::{ArgGroup, Args, ValueEnum};

/// Against whom, and how it is judged.
#[derive(Debug, Clone, Args)]
#[command(group(ArgGroup::new("finish").args(["et_gap", "me_et"])))]
pub struct RaceArgs {
    /// The other driver: rt=MEAN,SD in seconds, first-timer, weekend, sharp, hasty, late, or
    /// like-me.
    #[arg(
        long,
        value_name = "rt=MEAN,SD | LEVEL",
        allow_hyphen_values = true,
        requires = "finish"
    )]
    pub opponent: Option<OpponentArg>,
    /// Opponent's ET minus mine, and its spread, s.
    #[arg(long, value_name = "MEAN,SD", allow_hyphen_values = true, requires = "opponent")]
    pub et_gap: Option<Pair>,
    /// My ET and its spread, s.
    #[arg(
        long,
        value_name = "MEAN,SD",
        allow_hyphen_values = true,
        requires = "opponent_et",
        requires = "opponent"
    )]
    pub me_et: Option<Pair>,
    /// The opponent's ET and its spread, s.
    #[arg(long, value_name = "MEAN,SD", allow_hyphen_values = true, requires = "me_et")]
    pub opponent_et: Option<Pair>,
    /// My dial-in, s: with one, running under it is a breakout.
    #[arg(
        long,
        value_name = "D",
        allow_hyphen_values = true,
        requires = "opponent_dial",
        requires = "me_et"
    )]
    pub me_dial: Option<f64>,
    /// The opponent's dial-in, s.
    #[arg(long, value_name = "D", allow_hyphen_values = true, requires = "me_dial")]
    pub opponent_dial: Option<f64>,
    /// How long before the opponent's green mine comes, s; below 0 after it. It decides which of two
    /// fouls came first; what it gives at the finish the dial-ins or the ET gap have in them. By
    /// default the difference of the dial-ins, without these 0.
    #[arg(long, value_name = "S", allow_hyphen_values = true, conflicts_with = "leave")]
    pub head_start: Option<f64>,
    /// Which of two red lights loses: the first by the clock or the worst.
    #[arg(long, value_enum, default_value = "first")]
    pub foul: FoulArg,
    /// A head start so long that no foul can change the order; `together` is none.
    #[arg(long, value_enum)]
    pub leave: Option<LeaveArg>,
}

/// Which of two red lights loses.
#[derive(Debug, Clone, Copy, PartialEq, Eq, ValueEnum)]
pub enum FoulArg {
    /// The first by the clock.
    First,
    /// The larger one.
    Worst,
}

/// Who leaves first.
#[derive(Debug, Clone, Copy, PartialEq, Eq, ValueEnum)]
pub enum LeaveArg {
    /// I do.
    First,
    /// The opponent does.
    Second,
    /// Both at once.
    Together,
}

impl RaceArgs {
    /// The race asked about.
    ///
    /// # Errors
    /// [`StrategyError`] for numbers nobody could run, and for no finish at all.
    pub fn race(&self) -> Result<Race, StrategyError> {
        let measured = |pair: Pair| Measured::new(pair.mean, pair.sd);
        let dials = self.dials();
        let times = self.me_et.zip(self.opponent_et);
        let finish = match (self.et_gap, times, dials) {
            (Some(gap), ..) => Finish::gap(gap.mean, gap.sd)?,
            (_, Some((mine, theirs)), Some(dials)) => {
                Finish::dialled(measured(mine), measured(theirs), dials)?
            }
            (_, Some((mine, theirs)), None) => Finish::times(measured(mine), measured(theirs))?,
            // No finish was asked for; the command line does not let that through.
            _ => Finish::gap(f64::NAN, 0.0)?,
        };
        let order = match (self.leave, self.head_start, dials) {
            (Some(LeaveArg::First), ..) => Order::First,
            (Some(LeaveArg::Second), ..) => Order::Second,
            (Some(LeaveArg::Together), ..) => Order::Together,
            (None, Some(seconds), _) => Order::of_head_start(seconds)?,
            (None, None, Some(dials)) => Order::of_dials(dials)?,
            (None, None, None) => Order::Together,
        };
        let foul = match self.foul {
            FoulArg::First => FoulRule::First,
            FoulArg::Worst => FoulRule::Worst,
        };
        Ok(Race::handicap(finish, order, foul))
    }

    /// The opponent; `None` if nobody was named.
    ///
    /// # Errors
    /// [`StrategyError`] for lights nobody has.
    pub fn opponent(
        &self,
        like_me: impl Fn() -> Opponent,
    ) -> Result<Option<Opponent>, StrategyError> {
        Ok(match self.opponent {
            Some(OpponentArg::Light(pair)) => Some(Opponent::normal(pair.mean, pair.sd)?),
            Some(OpponentArg::Level(level)) => Some(Opponent::level(level)),
            Some(OpponentArg::LikeMe) => Some(like_me()),
            None => None,
        })
    }

    /// What the way of asking leaves open.
    pub fn doubts(&self, race: &Race) -> Vec<Doubt> {
        let mut doubts = vec![Doubt::MovesAsOne];
        let asked = self.head_start.filter(|head_start| *head_start != 0.0);
        match (asked, self.dials()) {
            (Some(_), None) => doubts.push(Doubt::GapAfterHeadStart),
            (Some(given), Some([mine, theirs])) if (given - (mine - theirs)).abs() > 1e-6 => {
                doubts.push(Doubt::HeadStartNotOfDials);
            }
            _ => {}
        }
        if matches!(race.finish, Finish::OverDial { mine, .. } if mine.value < 0.0) {
            doubts.push(Doubt::DialledSlow);
        }
        doubts
    }

    fn dials(&self) -> Option<[f64; 2]> {
        self.me_dial.zip(self.opponent_dial).map(|(mine, theirs)| [mine, theirs])
    }
}
