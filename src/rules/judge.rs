//! Who wins: fouls, breakouts and packages of two lanes.
//!
//! Owns the order of judgement and its margins, in whole ten-thousandths. Refuses to judge what the
//! numbers given do not decide: it says which number is missing.

use std::cmp::Ordering;
use std::fmt;

use super::{FEET_A_SECOND_TO_MPH, Foul, FoulRule, RtScale, RulesError, SlipTime, foul_loser};

/// One lane as far as it is known; a flag may stand for numbers nobody wrote down.
#[derive(Debug, Clone, Copy, PartialEq, Default)]
pub struct LaneRun {
    /// The time on the window or the class's index; none in heads-up racing.
    pub dial: Option<SlipTime>,
    /// Reaction time, on the scale judged with.
    pub rt: Option<SlipTime>,
    /// Elapsed time, from the stage beam.
    pub et: Option<SlipTime>,
    /// Speed at the finish, mph.
    pub mph: Option<f64>,
    /// The red lamp was on.
    pub red: bool,
    /// The lane ran under its dial.
    pub broke_out: bool,
    /// The lane left before the tree.
    pub left_early: bool,
}

/// Why a lane won, or why none did.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash)]
pub enum Reason {
    /// The other lane left before the tree.
    LeftBeforeTree,
    /// The other lane was red.
    Red,
    /// Both were red; by the rule in force the other lane's was worse.
    DoubleRed,
    /// The other lane ran under its dial.
    Breakout,
    /// Both ran under their dials, this lane by less.
    DoubleBreakout,
    /// The smaller package.
    Package,
    /// Equal packages to the ten-thousandth.
    Tie,
}

impl Reason {
    /// The word for it.
    pub const fn name(self) -> &'static str {
        match self {
            Reason::LeftBeforeTree => "left-before-tree",
            Reason::Red => "red",
            Reason::DoubleRed => "double-red",
            Reason::Breakout => "breakout",
            Reason::DoubleBreakout => "double-breakout",
            Reason::Package => "package",
            Reason::Tie => "tie",
        }
    }
}

impl fmt::Display for Reason {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        f.write_str(self.name())
    }
}

/// The judgement of one race.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Judgement {
    /// 0 or 1; none for a tie, and where two flags cannot be told apart.
    pub winner: Option<usize>,
    /// Why.
    pub reason: Reason,
    /// By how much: the difference of the packages, or of the amounts under the dials. None where
    /// the race was not decided by an amount of the winner's.
    pub margin: Option<SlipTime>,
    /// The same on the track, ft: margin × the loser's speed; none without it, and none unless
    /// packages decided, for nothing else is a distance at the finish.
    pub margin_ft: Option<f64>,
    /// RT + (ET − dial), with 0 for the dial of heads-up racing; none where a number is missing.
    pub packages: [Option<SlipTime>; 2],
}

/// Judges two lanes.
///
/// Order (published: NHRA sportsman article, red outranks breakout): left before the tree → red
/// light → breakout → package. Once one lane is out, the other cannot lose by breakout. Of two reds
/// [`FoulRule`] decides, the first by the clock, head start included. Of two breakouts the smaller
/// amount under wins. A breakout is strict: 10.159 on a 10.16 dial, by .001.
///
/// # Errors
/// [`RulesError::Missing`] when a number it takes is missing.
pub fn judge(lanes: [LaneRun; 2], rule: FoulRule, scale: RtScale) -> Result<Judgement, RulesError> {
    let lanes = lanes.map(|lane| LaneRun { rt: lane.rt.map(|rt| scale.to_modern(rt)), ..lane });
    let packages = [0, 1].map(|lane| package(&lanes, lane).ok());
    let without_margin =
        |winner, reason| Judgement { winner, reason, margin: None, margin_ft: None, packages };

    match lanes.map(|lane| lane.left_early) {
        [true, true] => return Ok(without_margin(None, Reason::LeftBeforeTree)),
        [true, false] => return Ok(without_margin(Some(1), Reason::LeftBeforeTree)),
        [false, true] => return Ok(without_margin(Some(0), Reason::LeftBeforeTree)),
        [false, false] => {}
    }
    match lanes.map(|lane| is_red(&lane)) {
        [true, true] => {
            let loser = double_red_loser(&lanes, rule);
            return Ok(without_margin(loser.map(|loser| 1 - loser), Reason::DoubleRed));
        }
        [true, false] => return Ok(without_margin(Some(1), Reason::Red)),
        [false, true] => return Ok(without_margin(Some(0), Reason::Red)),
        [false, false] => {}
    }
    match lanes.map(|lane| broke_out(&lane)) {
        [true, true] => Ok(by_amount_under(&lanes, packages)),
        [true, false] => Ok(without_margin(Some(1), Reason::Breakout)),
        [false, true] => Ok(without_margin(Some(0), Reason::Breakout)),
        [false, false] => by_package(&lanes),
    }
}

/// RT + (ET − dial); two lanes without dial-ins race heads-up, as if both had 0.
fn package(lanes: &[LaneRun; 2], lane: usize) -> Result<SlipTime, RulesError> {
    let missing = |what| RulesError::Missing { lane, what };
    let LaneRun { rt, et, dial, .. } = lanes[lane];
    let dial = match (dial, lanes[1 - lane].dial) {
        (Some(dial), _) => dial,
        (None, None) => SlipTime::ZERO,
        (None, Some(_)) => return Err(missing("dial")),
    };
    Ok(rt.ok_or(missing("rt"))? + et.ok_or(missing("et"))? - dial)
}

fn is_red(lane: &LaneRun) -> bool {
    lane.red || lane.rt.is_some_and(|rt| rt < SlipTime::ZERO)
}

fn broke_out(lane: &LaneRun) -> bool {
    lane.broke_out || under(lane).is_some_and(|under| under > SlipTime::ZERO)
}

/// How far under its dial the lane ran; negative over it.
fn under(lane: &LaneRun) -> Option<SlipTime> {
    Some(lane.dial? - lane.et?)
}

/// The lane with the smaller amount, and the difference.
fn smaller([left, right]: [SlipTime; 2]) -> (Option<usize>, SlipTime) {
    match left.cmp(&right) {
        Ordering::Less => (Some(0), right - left),
        Ordering::Equal => (None, SlipTime::ZERO),
        Ordering::Greater => (Some(1), left - right),
    }
}

/// Both ran under their dials; a flag without numbers leaves open by how much.
fn by_amount_under(lanes: &[LaneRun; 2], packages: [Option<SlipTime>; 2]) -> Judgement {
    let (winner, margin) = match lanes.map(|lane| under(&lane).filter(|u| *u > SlipTime::ZERO)) {
        [Some(left), Some(right)] => {
            let (winner, margin) = smaller([left, right]);
            (winner, Some(margin))
        }
        _ => (None, None),
    };
    Judgement { winner, reason: Reason::DoubleBreakout, margin, margin_ft: None, packages }
}

fn by_package(lanes: &[LaneRun; 2]) -> Result<Judgement, RulesError> {
    let packages = [package(lanes, 0)?, package(lanes, 1)?];
    let (winner, margin) = smaller(packages);
    let reason = if winner.is_some() { Reason::Package } else { Reason::Tie };
    // Feet a second from miles an hour: × 22/15.
    let mph = winner.and_then(|winner| lanes[1 - winner].mph);
    let margin_ft = mph.map(|mph| margin.seconds() * mph / FEET_A_SECOND_TO_MPH);
    Ok(Judgement { winner, reason, margin: Some(margin), margin_ft, packages: packages.map(Some) })
}

/// Which lane's red loses; `None` where only lamps are known, or nothing tells them apart.
fn double_red_loser(lanes: &[LaneRun; 2], rule: FoulRule) -> Option<usize> {
    // Without dial-ins both trees start together.
    let dials = [lanes[0].dial, lanes[1].dial];
    let waits = match (dials, rule) {
        ([Some(a), Some(b)], _) => [(b - a).max(SlipTime::ZERO), (a - b).max(SlipTime::ZERO)],
        ([None, None], _) | (_, FoulRule::Worst) => [SlipTime::ZERO; 2],
        _ => return None,
    };
    let foul = |lane: usize| {
        let rt = lanes[lane].rt?;
        let at = (waits[lane] + rt).span();
        Some(Foul { at_ns_on_common_clock: at.ns(), amount: (-rt).span() })
    };
    foul_loser(rule, [Some(foul(0)?), Some(foul(1)?)])
}
