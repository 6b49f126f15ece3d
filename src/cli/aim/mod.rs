//! `lastamber aim`: launches, and slips beside them → what each aim costs, levers, react or time it.
//!
//! Owns the options and the order of asking. Refuses to compute: that is `strategy`.

mod answer;
mod read;
mod words;

use super::parse::LeverArg;
use super::race::RaceArgs;
use super::reply;
use super::risk::{CarPartArg, RiskError, not_negative};
use super::table::read_columns_from_any;
use super::unit::Unit;
use crate::report::home_track::left_on_green_words;
use crate::rules::TreeKind;
use crate::stats::Sample;
use crate::stats::mixture::decide;
use crate::stats::risk::{HomeToTrack, Pool, RedLine};
use crate::strategy::aim::{AimQuestion, aims, headline};
use crate::strategy::launches::{Launches, View};
use crate::strategy::lever::price;
use crate::strategy::odds::{DrawnOdds, Opponent, Race};
use crate::strategy::own::Way;
use crate::strategy::practise::{AtStake, Known, practise_next};
use crate::strategy::verdict::{Stakes, Tested, Verdict, verdict};
use crate::strategy::{Doubt, StrategyError};
use crate::trial::Style;
use answer::{Answer, OutcomesAnswer, SourceAnswer, ViewAnswer};
use clap::{Args, ValueEnum};
use read::Starts;
use std::io::{Read, Write};
use std::path::{Path, PathBuf};
use std::process::ExitCode;

/// What each aim costs and brings, from a column of driver parts.
#[derive(Debug, Clone, Args)]
pub struct AimArgs {
    /// CSV file with a header; `-` is standard input.
    pub file: PathBuf,
    /// The column of driver parts.
    #[arg(long)]
    pub column: String,
    /// Unit of the columns of times.
    #[arg(long, value_enum, default_value = "s")]
    pub unit: Unit,
    /// Launch to beam: mean, what is not known of it and its run-to-run spread (SDs). Seconds.
    #[arg(long, value_name = "MEAN[,DOUBT[,RUN]]", allow_hyphen_values = true)]
    pub car_part: CarPartArg,
    /// Last amber to green, in seconds.
    #[arg(long, value_name = "S", value_parser = not_negative, allow_hyphen_values = true)]
    pub interval: f64,
    /// A column naming the day of each launch.
    #[arg(long, value_name = "COLUMN")]
    pub day: Option<String>,
    /// A column of declared styles, `react` or `time-it`, in the order of launches; blocks in turn
    /// answer which is better.
    #[arg(long, value_name = "COLUMN")]
    pub style: Option<String>,
    /// A column of outcomes in the history's own words: `green`, `red`, `left-before-tree` (red),
    /// `lapse` (late), `stayed` and `guessed` (blank runs: the guess test, never pooled), `timed-out`,
    /// `abandoned`, `void` (left out). Only green needs a time.
    #[arg(long, value_name = "COLUMN")]
    pub outcome: Option<String>,
    /// The tree they were launched on: on one without a rhythm nothing can be timed.
    #[arg(long, value_enum, default_value = "full")]
    pub tree: TreeArg,
    /// CSV file of time slips, told beside practice, never pooled with it.
    #[arg(long, value_name = "FILE", requires = "slips_column")]
    pub slips: Option<PathBuf>,
    /// The column of RTs in it.
    #[arg(long, value_name = "NAME", requires = "slips")]
    pub slips_column: Option<String>,
    /// A light is good from 0 up to this, s.
    #[arg(long, value_name = "S", default_value_t = 0.050, allow_hyphen_values = true)]
    pub better_than: f64,
    /// How much earlier everything happens; several after commas. −30 to 30 by 5 by default.
    #[arg(long, value_name = "MS", value_delimiter = ',', allow_hyphen_values = true)]
    pub earlier: Vec<f64>,
    /// A lever and what it changes: timing, box, depth, tyre or strength; below 0 is sooner. Needs an
    /// opponent. May be given several times.
    #[arg(
        long = "lever",
        value_name = "KIND=RT_MS,ET_MS",
        allow_hyphen_values = true,
        requires = "opponent"
    )]
    pub levers: Vec<LeverArg>,
    /// Against whom, and how it is judged.
    #[command(flatten)]
    pub race: RaceArgs,
    /// Level of the intervals, 0.01 to 0.999.
    #[arg(long, default_value_t = 0.90, allow_hyphen_values = true)]
    pub level: f64,
    /// Seed of everything random.
    #[arg(long, default_value_t = 1, allow_hyphen_values = true)]
    pub seed: u64,
    /// Answer in JSON.
    #[arg(long)]
    pub json: bool,
}

/// Kinds of tree.
#[derive(Debug, Clone, Copy, PartialEq, Eq, ValueEnum)]
pub enum TreeArg {
    /// Three ambers half a second apart.
    Full,
    /// Three at once, green .4 s later.
    Pro,
    /// Three at once, green .5 s later.
    #[value(name = "pro-500")]
    Pro500,
}

/// Samples a check of declared reactions draws.
const CHECK_SAMPLES: usize = 99;

/// Answers on standard output, or tells on standard error why not.
pub fn execute(args: &AimArgs) -> ExitCode {
    let files: Vec<&Path> =
        std::iter::once(&args.file).chain(&args.slips).map(PathBuf::as_path).collect();
    reply::execute("aim", &files, |stdin, stdout| run(args, stdin, stdout))
}

/// Answers the question on `stdout`; nothing is written there unless all of it can be.
///
/// # Errors
/// [`RiskError`], to be told on standard error in one line.
pub fn run(args: &AimArgs, stdin: &mut dyn Read, stdout: &mut dyn Write) -> Result<(), RiskError> {
    let answer = Asked::read(args, stdin)?.answer()?;
    reply::write(&answer, args.json, words::in_words, stdout)
}

/// What was asked, read from its files.
struct Asked<'a> {
    args: &'a AimArgs,
    starts: Starts,
    /// Practice, by style where styles were declared.
    practice: Vec<(Option<Style>, Launches)>,
    slips: Option<Launches>,
    /// Of each style's slips set aside for the way to the track, in words.
    set_aside: Vec<String>,
}

impl<'a> Asked<'a> {
    fn read(args: &'a AimArgs, stdin: &mut dyn Read) -> Result<Self, RiskError> {
        let starts = Starts::read(args, stdin)?;
        let scale = args.unit.per_second();
        let slips = match (&args.slips, &args.slips_column) {
            (Some(file), Some(column)) => {
                let rts = read_columns_from_any(file, stdin, column, &[])?.numbers;
                Some(Pool::new(Sample::new(rts.iter().map(|x| x / scale).collect())?))
            }
            _ => None,
        };
        let (practice, set_aside) = (Vec::new(), Vec::new());
        let mut asked = Self { args, starts, practice, slips: None, set_aside };
        asked.take_practice(slips.as_ref().map_or(&[][..], |rts| rts.driver_parts().values()))?;
        asked.slips = slips.map(Launches::slips).transpose()?;
        Ok(asked)
    }

    /// The launches by declared style, or all where none was declared, and what slips say of their way to
    /// the track.
    fn take_practice(&mut self, rts_s: &[f64]) -> Result<(), RiskError> {
        for kind in self.starts.styles() {
            let pool = self.starts.pool(kind)?;
            let (car, interval) = (self.args.car_part.0, self.args.interval);
            let way = Way::new(&pool, &RedLine::of_car(car, interval)?, rts_s, &[])?;
            self.set_aside.extend(set_aside_words(way.left_on_green, rts_s.len()));
            self.practice.push((kind, Launches::practice(pool, car, interval, way.home)?));
        }
        self.set_aside.dedup();
        Ok(())
    }

    fn answer(&self) -> Result<Answer, RiskError> {
        let args = self.args;
        let mut earlier_ms = args.earlier.clone();
        if earlier_ms.is_empty() {
            earlier_ms = (-6..=6).map(|i| f64::from(i) * 5.0).collect();
        }
        let question = AimQuestion {
            earlier_s: earlier_ms.iter().map(|ms| ms / 1000.0).collect(),
            better_than_s: args.better_than,
            level: args.level,
        };
        let mut caveats = self.set_aside.clone();
        let mut sources = Vec::new();
        for (style, launches) in &self.practice {
            sources.push(self.source(*style, launches, &question, &mut caveats)?);
        }
        if let Some(slips) = &self.slips {
            sources.push(self.source(None, slips, &question, &mut caveats)?);
        }
        let mut doubts = vec![Doubt::MovesAsOne];
        let race = self.race()?;
        if let Some((_, race)) = &race {
            doubts.extend(args.race.doubts(race));
        }
        let stakes = match &race {
            Some((opponent, race)) => Stakes::round(opponent, race),
            None => Stakes::good_light(args.better_than)?,
        };
        let verdict = self.verdict(&stakes)?;
        doubts.extend(verdict.iter().flat_map(|v| v.doubts.iter().copied()));
        let chosen = self.chosen(verdict.as_ref());
        let mut answer = Answer::new(args, sources);
        if args.outcome.is_some() {
            answer.outcomes = Some(OutcomesAnswer::new(&self.starts, args.level)?);
        }
        if let Some((opponent, race)) = &race {
            let seen = chosen.seen(View::AtTheTrack, args.seed, 0)?;
            for lever in &args.levers {
                let lever = lever.lever()?;
                let price = price(&seen, opponent, race, &lever, args.level)?;
                answer.levers.push((&lever, &price).into());
            }
        }
        let next = practise_next(&self.known(chosen, &stakes, verdict.clone())?)?;
        answer.react_or_time_it = verdict.as_ref().map(Into::into);
        answer.next = crate::report::advice::practise_sentence(&next);
        doubts.sort();
        doubts.dedup();
        caveats.extend(doubts.iter().map(Doubt::to_string));
        answer.caveats = caveats;
        Ok(answer)
    }

    /// The launches in the style that is likelier right; in the only one where only one was driven.
    fn chosen(&self, verdict: Option<&Verdict>) -> &Launches {
        let time_it = verdict
            .and_then(|told| told.judgements.first())
            .is_none_or(|judgement| judgement.time_it_right >= 0.5);
        let style = if time_it { Style::TimeIt } else { Style::React };
        let found = self.practice.iter().find(|(of, _)| *of == Some(style));
        &found.unwrap_or(&self.practice[0]).1
    }

    fn race(&self) -> Result<Option<(Opponent, Race)>, StrategyError> {
        let like_me = self.chosen(None).seen(View::ThisForm, self.args.seed, 0)?;
        let opponent = self.args.race.opponent(|| Opponent::drawn(like_me.lights()))?;
        opponent.map(|opponent| Ok((opponent, self.args.race.race()?))).transpose()
    }

    fn source(
        &self,
        style: Option<Style>,
        launches: &Launches,
        question: &AimQuestion,
        caveats: &mut Vec<String>,
    ) -> Result<SourceAnswer, StrategyError> {
        let mut views = Vec::new();
        for view in View::ALL {
            let seen = launches.seen(view, self.args.seed, 0)?;
            for caveat in seen.caveats().iter().map(ToString::to_string) {
                if !caveats.contains(&caveat) {
                    caveats.push(caveat);
                }
            }
            views.push(ViewAnswer::new(view, &aims(&seen, question)?));
        }
        let headline = headline(launches, 0.0, self.args.seed)?;
        let n = launches.pool().driver_parts().n();
        Ok(SourceAnswer::new(launches.source(), style, n, &headline, views))
    }

    fn verdict(&self, stakes: &Stakes) -> Result<Option<Verdict>, RiskError> {
        let Some(blocks) = self.starts.blocks() else { return Ok(None) };
        let tree = match self.args.tree {
            TreeArg::Full => TreeKind::full(),
            TreeArg::Pro => TreeKind::pro(),
            TreeArg::Pro500 => TreeKind::pro_500(),
        };
        let car = self.args.car_part.0;
        let home = match self.practice[0].1.home() {
            Some(home) => *home,
            None => HomeToTrack::prior(car.doubt_sd_s)?,
        };
        let tested = Tested::new(&blocks, &tree, car, home)?;
        let mut told = verdict(&tested, stakes, View::ThisForm, car.mean_s, self.args.seed)?;
        let reactions = tested.react().pool().driver_parts();
        // Too few reactions for two parts leave the question open.
        if decide(reactions, CHECK_SAMPLES, self.args.seed).is_ok_and(|d| d.two_parts) {
            told.doubts.push(Doubt::ReactionsOfTwoKinds);
        }
        Ok(Some(told))
    }

    fn known(
        &self,
        launches: &Launches,
        stakes: &Stakes,
        verdict: Option<Verdict>,
    ) -> Result<Known, StrategyError> {
        let seen = launches.seen(View::ThisForm, self.args.seed, 0)?;
        let odds: DrawnOdds = stakes.over(&seen);
        let best = odds.best()?;
        Ok(Known {
            launches: launches.pool().driver_parts().n(),
            days: self.starts.days(),
            headline: Some(headline(launches, 0.0, self.args.seed)?),
            red: Some(seen.red(&[0.0], self.args.level)?[0]),
            verdict,
            stakes: Some(AtStake {
                best_earlier_s: best.earlier_s,
                of_best_aim: odds.worth_of_best_aim(&best, self.args.level)?,
                of_1ms_spread: odds.worth_of_1ms_spread(&best, self.args.level)?,
            }),
        })
    }
}

/// Which slips say nothing of the way to the track, and how to have it otherwise.
fn set_aside_words(aside: usize, all: usize) -> Option<String> {
    let said = left_on_green_words(aside, all)?;
    Some(format!(
        "{said}. Set aside for the way to the track, not for the slips on their own. If so, leave it out \
         of the file; if its track counts from the last amber, subtract the interval."
    ))
}
