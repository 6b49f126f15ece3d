//! `lastamber odds`: a column of times or a model, and an opponent → the win chance over aims.
//!
//! Owns the options, the answer's JSON and its words. Refuses to compute: that is `strategy::odds`.

use super::parse::ModelArg;
use super::race::RaceArgs;
use super::reply;
use super::risk::{CarPartArg, RiskError, not_negative};
use super::table::read_columns_from_any;
use super::unit::Unit;
use crate::report::advice::percent;
use crate::stats::risk::{CarPart, Pool, RedLine, RiskDraws, Settings};
use crate::stats::{Estimate, Sample, StatsError};
use crate::strategy::law::RtLaw;
use crate::strategy::lights::Lights;
use crate::strategy::odds::{Best, DrawnOdds, Opponent, Race, WinChance};
use crate::strategy::{Doubt, StrategyError};
use clap::{ArgGroup, Args};
use serde::Serialize;
use std::io::{Read, Write};
use std::path::{Path, PathBuf};
use std::process::ExitCode;

/// The chance to win a round, for every aim.
#[derive(Debug, Clone, Args)]
#[command(group(ArgGroup::new("driver").required(true).args(["file", "model"])))]
#[command(group(ArgGroup::new("asked").required(true).args(["opponent"])))]
pub struct OddsArgs {
    /// CSV file with a header and a column of driver parts; `-` is standard input.
    #[arg(requires = "column")]
    pub file: Option<PathBuf>,
    /// The column of driver parts.
    #[arg(long, requires = "file")]
    pub column: Option<String>,
    /// Unit of the column.
    #[arg(long, value_enum, default_value = "s")]
    pub unit: Unit,
    /// A law of driver parts instead of a file, s.
    #[arg(
        long,
        value_name = "normal=MEAN,SD | ex-gaussian=MU,SIGMA,TAU",
        allow_hyphen_values = true
    )]
    pub model: Option<ModelArg>,
    /// Launch to beam: mean, what is not known of it and its run-to-run spread (SDs). Seconds.
    #[arg(long, value_name = "MEAN[,DOUBT[,RUN]]", allow_hyphen_values = true)]
    pub car_part: CarPartArg,
    /// Last amber to green, in seconds.
    #[arg(long, value_name = "S", value_parser = not_negative, allow_hyphen_values = true)]
    pub interval: f64,
    /// Against whom, and how it is judged.
    #[command(flatten)]
    pub race: RaceArgs,
    /// Rounds to survive against the same opponent.
    #[arg(long, default_value_t = 1, value_parser = clap::value_parser!(u32).range(1..=100))]
    pub rounds: u32,
    /// How much earlier everything happens; several after commas. −60 to 60 by 5 by default.
    #[arg(long, value_name = "MS", value_delimiter = ',', allow_hyphen_values = true)]
    pub earlier: Vec<f64>,
    /// Seed of everything random.
    #[arg(long, default_value_t = 1, allow_hyphen_values = true)]
    pub seed: u64,
    /// Answer in JSON.
    #[arg(long)]
    pub json: bool,
}

/// Level of every interval here.
const LEVEL: f64 = 0.90;

#[derive(Debug, Serialize)]
struct Answer {
    rows: Vec<Row>,
    best: BestAnswer,
    worth_of_1ms_spread: f64,
    worth_of_1ms_spread_low: f64,
    worth_of_1ms_spread_high: f64,
    worth_of_1ms_aim: f64,
    worth_of_1ms_aim_low: f64,
    worth_of_1ms_aim_high: f64,
    rounds: u32,
    survive_rounds: f64,
    survive_rounds_low: f64,
    survive_rounds_high: f64,
    level: f64,
    n: usize,
    seed: u64,
    caveats: Vec<String>,
}

#[derive(Debug, Serialize)]
struct Row {
    earlier_ms: f64,
    red: Chance,
    win: Chance,
}

#[derive(Debug, Serialize)]
struct BestAnswer {
    earlier_ms: f64,
    flat_low_ms: f64,
    flat_high_ms: f64,
    win: Chance,
    red: Chance,
}

#[derive(Debug, Clone, Copy, Serialize)]
struct Chance {
    value: f64,
    low: f64,
    high: f64,
}

impl Chance {
    fn known(value: f64) -> Self {
        Self { value, low: value, high: value }
    }
}

impl From<Estimate> for Chance {
    fn from(e: Estimate) -> Self {
        Self { value: e.value, low: e.low, high: e.high }
    }
}

/// Answers on standard output, or tells on standard error why not.
pub fn execute(args: &OddsArgs) -> ExitCode {
    let files: Vec<&Path> = args.file.iter().map(PathBuf::as_path).collect();
    reply::execute("odds", &files, |stdin, stdout| run(args, stdin, stdout))
}

/// Answers the question on `stdout`; nothing is written there unless all of it can be.
///
/// # Errors
/// [`RiskError`], to be told on standard error in one line.
pub fn run(args: &OddsArgs, stdin: &mut dyn Read, stdout: &mut dyn Write) -> Result<(), RiskError> {
    let race = args.race.race()?;
    let mut earlier_ms = args.earlier.clone();
    if earlier_ms.is_empty() {
        earlier_ms = (-12..=12).map(|i| f64::from(i) * 5.0).collect();
    }
    let mut answer = match (&args.file, &args.column, args.model) {
        (Some(file), Some(column), _) => {
            let times = read_columns_from_any(file, stdin, column, &[])?.numbers;
            from_launches(args, times, &race, &earlier_ms)?
        }
        (_, _, Some(ModelArg(law))) => from_model(args, &law.law()?, &race, &earlier_ms)?,
        _ => return Err(StatsError::TooFew { have: 0, need: 1 }.into()),
    };
    answer.caveats.extend(args.race.doubts(&race).iter().map(Doubt::to_string));
    reply::write(&answer, args.json, in_words, stdout)
}

/// The command line does not let a question without an opponent through.
fn named(opponent: Option<Opponent>) -> Result<Opponent, StrategyError> {
    opponent.map_or_else(|| Opponent::normal(f64::NAN, 0.0), Ok)
}

fn from_model(
    args: &OddsArgs,
    law: &RtLaw,
    race: &Race,
    earlier_ms: &[f64],
) -> Result<Answer, RiskError> {
    let CarPartArg(CarPart { mean_s, doubt_sd_s, run_sd_s }) = args.car_part;
    let me = law.later(mean_s - args.interval)?.with_scatter(run_sd_s)?;
    let opponent = named(args.race.opponent(|| Opponent::of(me.clone()))?)?;
    let odds = WinChance::new(me, &opponent, race).doubtful(doubt_sd_s)?;
    let mut rows = Vec::new();
    for ms in earlier_ms {
        let earlier = checked_aim(*ms)?;
        let (red, win) = (Chance::known(odds.red(earlier)), Chance::known(odds.win(earlier)));
        rows.push(Row { earlier_ms: *ms, red, win });
    }
    let best = odds.best()?;
    let (spread, aim) = (odds.worth_of_1ms_spread()?, odds.worth_of_1ms_aim(&best));
    let survive = odds.survive(best.earlier_s, args.rounds);
    let red = Chance::known(odds.red(best.earlier_s));
    let caveats = vec![Doubt::ModelTaken];
    let [spread, aim, survive] = [spread, aim, survive].map(Chance::known);
    Ok(answer(args, rows, &best, Chance::known(best.win), red, [spread, aim, survive], 0, caveats))
}

fn checked_aim(earlier_ms: f64) -> Result<f64, StrategyError> {
    if earlier_ms.abs() <= 10_000.0 {
        return Ok(earlier_ms / 1000.0);
    }
    Err(StrategyError::OutOfDomain { name: "shift", value: earlier_ms, domain: "±10,000 ms" })
}

fn from_launches(
    args: &OddsArgs,
    times: Vec<f64>,
    race: &Race,
    earlier_ms: &[f64],
) -> Result<Answer, RiskError> {
    let scale = args.unit.per_second();
    let pool = Pool::new(Sample::new(times.iter().map(|x| x / scale).collect())?);
    let line = RedLine::of_car(args.car_part.0, args.interval)?;
    let aims = earlier_ms.iter().map(|ms| checked_aim(*ms)).collect::<Result<Vec<f64>, _>>()?;
    let draws = RiskDraws::this_form(&pool, &Settings::new(args.seed))?;
    let lights = Lights::new(&draws, &pool, &line, args.seed);
    let opponent = named(args.race.opponent(|| Opponent::drawn(&lights))?)?;
    let odds = DrawnOdds::new(&lights, &opponent, race, &aims);
    let wins = odds.win(&aims, LEVEL)?;
    let reds = draws.curve(&line, &aims, LEVEL)?;
    let rows = earlier_ms.iter().zip(reds).zip(wins).map(|((earlier_ms, red), win)| Row {
        earlier_ms: *earlier_ms,
        red: red.into(),
        win: win.into(),
    });
    let best = odds.best()?;
    let win = odds.win(&[best.earlier_s], LEVEL)?[0].into();
    let red = draws.curve(&line, &[best.earlier_s], LEVEL)?[0].into();
    let worth = [
        odds.worth_of_1ms_spread(&best, LEVEL)?.into(),
        odds.worth_of_1ms_aim(&best, LEVEL)?.into(),
        odds.survive(best.earlier_s, args.rounds, LEVEL)?.into(),
    ];
    let mut out = answer(args, rows.collect(), &best, win, red, worth, lights.n(), Vec::new());
    let mut caveats = draws.caveats().to_vec();
    caveats.sort();
    caveats.dedup();
    out.caveats.splice(0..0, caveats.iter().map(ToString::to_string));
    Ok(out)
}

fn answer(
    args: &OddsArgs,
    rows: Vec<Row>,
    best: &Best,
    win: Chance,
    red: Chance,
    [spread, aim, survive]: [Chance; 3],
    n: usize,
    mut doubts: Vec<Doubt>,
) -> Answer {
    if best.at_the_end {
        doubts.push(Doubt::BestAtTheEnd);
    }
    Answer {
        rows,
        best: BestAnswer {
            earlier_ms: 1000.0 * best.earlier_s,
            flat_low_ms: 1000.0 * best.flat_low_s,
            flat_high_ms: 1000.0 * best.flat_high_s,
            win,
            red,
        },
        worth_of_1ms_spread: spread.value,
        worth_of_1ms_spread_low: spread.low,
        worth_of_1ms_spread_high: spread.high,
        worth_of_1ms_aim: aim.value,
        worth_of_1ms_aim_low: aim.low,
        worth_of_1ms_aim_high: aim.high,
        rounds: args.rounds,
        survive_rounds: survive.value,
        survive_rounds_low: survive.low,
        survive_rounds_high: survive.high,
        level: LEVEL,
        n,
        seed: args.seed,
        caveats: doubts.iter().map(Doubt::to_string).collect(),
    }
}

fn in_words(answer: &Answer) -> String {
    let chance = |c: &Chance| {
        if c.low == c.high {
            percent(c.value)
        } else {
            format!("{} ({} to {})", percent(c.value), percent(c.low), percent(c.high))
        }
    };
    let best = &answer.best;
    let mut out = format!(
        "Best aim {}: win {}, red {}.\nFrom {:.0} to {:.0} ms earlier it is as good, to 0.5 %.\n",
        aim_in_words(best.earlier_ms),
        chance(&best.win),
        chance(&best.red),
        best.flat_low_ms,
        best.flat_high_ms
    );
    out.push_str(&format!(
        "There 1 ms less spread wins {:.2} % more; aiming 1 ms beside loses {:.2} %.\n",
        100.0 * answer.worth_of_1ms_spread,
        100.0 * answer.worth_of_1ms_aim
    ));
    if answer.rounds > 1 {
        let [value, low, high] =
            [answer.survive_rounds, answer.survive_rounds_low, answer.survive_rounds_high];
        let all = chance(&Chance { value, low, high });
        out.push_str(&format!("All {} rounds against such an opponent: {all}.\n", answer.rounds));
    }
    for row in &answer.rows {
        out.push_str(&format!(
            "  {} ms earlier: win {}, red {}\n",
            row.earlier_ms,
            chance(&row.win),
            chance(&row.red)
        ));
    }
    for caveat in &answer.caveats {
        out.push_str(&format!("note: {caveat}\n"));
    }
    out
}

fn aim_in_words(earlier_ms: f64) -> String {
    if earlier_ms >= 0.0 {
        format!("{earlier_ms:.1} ms earlier than now")
    } else {
        format!("{:.1} ms later than now", -earlier_ms)
    }
}
