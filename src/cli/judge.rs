//! `lastamber judge`: who wins.
//!
//! Owns how a lane is written on the command line and both shapes of the answer. Refuses to judge:
//! `rules` does.

use super::{CliError, print, print_json};
use crate::rules::{FoulRule, Judgement, LaneRun, RtScale, SlipTime, judge};
use clap::{Args, ValueEnum};
use serde::Serialize;
use std::str::FromStr;

/// Judges two lanes by dial-in, reaction time, elapsed time and speed.
#[derive(Debug, Clone, Args)]
pub struct JudgeArgs {
    /// The left lane: dial=…,rt=…,et=…,mph=… as far as known; the words red, broke_out and left_early
    /// may stand for numbers.
    #[arg(long, value_name = "LANE", allow_hyphen_values = true)]
    left: LaneWords,

    /// The right lane, written alike.
    #[arg(long, value_name = "LANE", allow_hyphen_values = true)]
    right: LaneWords,

    /// Of two reds, which loses: the first by the clock, or the worse.
    #[arg(long, value_name = "RULE", default_value = "first")]
    foul: Foul,

    /// The scale of the reaction times.
    #[arg(long, value_name = "SCALE", default_value = "modern")]
    scale: Scale,

    /// Prints JSON.
    #[arg(long)]
    json: bool,
}

#[derive(Debug, Clone, Copy, ValueEnum)]
enum Foul {
    First,
    Worst,
}

/// Scale of a reaction time.
#[derive(Debug, Clone, Copy, ValueEnum)]
pub enum Scale {
    /// From green.
    Modern,
    /// From the last amber, .500 perfect.
    Old500,
    /// From the ambers, .400 perfect.
    Old400,
}

impl From<Scale> for RtScale {
    fn from(scale: Scale) -> Self {
        match scale {
            Scale::Modern => RtScale::Modern,
            Scale::Old500 => RtScale::Old500,
            Scale::Old400 => RtScale::Old400,
        }
    }
}

/// A lane as written.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct LaneWords(pub LaneRun);

/// Fastest speed a slip could hold, mph. Chosen.
const FASTEST_MPH: f64 = 400.0;

impl FromStr for LaneWords {
    type Err = String;

    fn from_str(text: &str) -> Result<Self, String> {
        let mut lane = LaneRun::default();
        for item in text.split(',').map(str::trim).filter(|item| !item.is_empty()) {
            let (name, value) = item.split_once('=').unwrap_or((item, "true"));
            let (name, value) = (name.trim(), value.trim());
            let time = || value.parse::<SlipTime>().map(Some).map_err(|e| format!("{name}: {e}"));
            let not_negative = |time: Option<SlipTime>| match time {
                Some(t) if t < SlipTime::ZERO => Err(format!("{name}: {t} is below 0")),
                fine => Ok(fine),
            };
            match name {
                "dial" => lane.dial = not_negative(time()?)?,
                "rt" => lane.rt = time()?,
                "et" => lane.et = not_negative(time()?)?,
                "mph" => lane.mph = Some(speed(value)?),
                "red" => lane.red = flag(name, value)?,
                "broke_out" => lane.broke_out = flag(name, value)?,
                "left_early" => lane.left_early = flag(name, value)?,
                _ => {
                    return Err(format!(
                        "`{name}` is no part of a lane; write dial, rt, et, mph, red, broke_out or \
                         left_early"
                    ));
                }
            }
        }
        Ok(Self(lane))
    }
}

fn speed(value: &str) -> Result<f64, String> {
    match value.parse::<f64>() {
        Ok(mph) if mph > 0.0 && mph <= FASTEST_MPH => Ok(mph),
        _ => Err(format!("mph: `{value}` is no speed above 0, up to {FASTEST_MPH} mph")),
    }
}

fn flag(name: &str, value: &str) -> Result<bool, String> {
    match value {
        "true" | "yes" | "1" => Ok(true),
        "false" | "no" | "0" => Ok(false),
        _ => Err(format!("{name}: `{value}` is neither true nor false")),
    }
}

#[derive(Debug, Serialize)]
struct Answer {
    winner: &'static str,
    reason: &'static str,
    margin_s: Option<f64>,
    margin_ft: Option<f64>,
    packages_s: [Option<f64>; 2],
}

impl From<Judgement> for Answer {
    fn from(judged: Judgement) -> Self {
        Self {
            winner: judged.winner.map_or("none", lane_name),
            reason: judged.reason.name(),
            margin_s: judged.margin.map(SlipTime::seconds),
            margin_ft: judged.margin_ft,
            packages_s: judged.packages.map(|package| package.map(SlipTime::seconds)),
        }
    }
}

fn lane_name(lane: usize) -> &'static str {
    ["left", "right"][lane.min(1)]
}

/// Runs the sub-command.
///
/// # Errors
/// [`CliError`] when a number the judgement needs is missing.
pub fn run(args: &JudgeArgs) -> Result<(), CliError> {
    let rule = match args.foul {
        Foul::First => FoulRule::First,
        Foul::Worst => FoulRule::Worst,
    };
    let judged = judge([args.left.0, args.right.0], rule, args.scale.into());
    let judged = judged.map_err(CliError::data)?;
    if args.json { print_json(&Answer::from(judged)) } else { print(&in_words(&judged)) }
}

fn in_words(judged: &Judgement) -> String {
    let why = judged.reason.name().replace('-', " ");
    let mut text = match judged.winner {
        Some(winner) => format!("The {} lane wins: {why}", lane_name(winner)),
        None => format!("No winner: {why}"),
    };
    if let Some(margin) = judged.margin {
        text.push_str(&format!(", by {margin} s"));
    }
    if let Some(feet) = judged.margin_ft {
        text.push_str(&format!(" ({feet:.2} ft)"));
    }
    text.push('.');
    if let [Some(left), Some(right)] = judged.packages {
        text.push_str(&format!("\nPackages: left {left}, right {right}."));
    }
    text
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_lane_is_read_in_any_order_and_may_be_empty() {
        let LaneWords(lane) = "et=14.05, rt=-.002,dial=14.00,red".parse().unwrap();
        assert_eq!(lane.rt, Some(SlipTime::from_ten_thousandths(-20)));
        assert_eq!(lane.dial, Some(SlipTime::from_ten_thousandths(140_000)));
        assert!(lane.red && !lane.broke_out && lane.mph.is_none());
        assert_eq!("".parse(), Ok(LaneWords(LaneRun::default())));
        assert_eq!("red=false".parse(), Ok(LaneWords(LaneRun::default())));
    }

    #[test]
    fn what_is_no_lane_is_refused_with_the_word() {
        for (text, says) in [
            ("rt=abc", "rt: `abc` is not a time"),
            ("speed=100", "`speed` is no part"),
            ("mph=-3", "no speed"),
            ("mph=NaN", "no speed"),
            ("dial=-1", "below 0"),
            ("red=maybe", "neither true nor false"),
        ] {
            let error = text.parse::<LaneWords>().unwrap_err();
            assert!(error.contains(says), "{text}: {error}");
        }
    }
}
