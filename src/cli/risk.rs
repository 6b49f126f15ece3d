//! `lastamber risk`: a column of times → how likely the next launch is red.
//!
//! Owns the options, the answer's JSON and its words. Refuses to compute: that is `stats::risk`.

use super::reply;
use super::table::{Columns, TableError, read_columns_from_any};
use super::unit::Unit;
use crate::report::advice::percent;
use crate::stats::risk::{CarPart, LEAST_FOR_RISK, Pool, RedLine, RiskDraws, Settings};
use crate::stats::{Caveat, Estimate, Sample, StatsError};
use crate::strategy::StrategyError;
use clap::{ArgGroup, Args};
use serde::Serialize;
use std::collections::HashMap;
use std::io::{self, Read, Write};
use std::path::PathBuf;
use std::process::ExitCode;
use std::str::FromStr;
use thiserror::Error;

/// P(RT < 0) of the next launch, from a column of times in a CSV file.
#[derive(Debug, Clone, Args)]
#[command(group(ArgGroup::new("line").required(true).args(["threshold", "car_part"])))]
pub struct RiskArgs {
    /// CSV file with a header; `-` is standard input.
    pub file: PathBuf,
    /// The column of times.
    #[arg(long)]
    pub column: String,
    /// Unit of the column. Without it a name ending in `_ms` means ms, any other seconds.
    #[arg(long, value_name = "UNIT")]
    pub unit: Option<Unit>,
    /// A time below this is red; in the column's unit.
    #[arg(long, allow_hyphen_values = true)]
    pub threshold: Option<f64>,
    /// Launch to beam: mean, what is not known of it and its run-to-run spread (SDs), in seconds.
    #[arg(
        long,
        value_name = "MEAN[,DOUBT_SD[,RUN_SD]]",
        allow_hyphen_values = true,
        requires = "interval"
    )]
    pub car_part: Option<CarPartArg>,
    /// Last amber to green, in seconds.
    #[arg(
        long,
        value_name = "S",
        value_parser = not_negative,
        allow_hyphen_values = true,
        requires = "car_part"
    )]
    pub interval: Option<f64>,
    /// How much earlier everything happens; several after commas.
    #[arg(
        long,
        value_name = "MS",
        value_delimiter = ',',
        default_value = "0",
        allow_hyphen_values = true
    )]
    pub earlier: Vec<f64>,
    /// A column naming the day of each launch: adds the risk of the next session.
    #[arg(long, value_name = "COLUMN")]
    pub day: Option<String>,
    /// Level of the intervals, between 0 and 1.
    #[arg(long, default_value_t = 0.90, allow_hyphen_values = true)]
    pub level: f64,
    /// Seed of everything random.
    #[arg(long, default_value_t = 1, allow_hyphen_values = true)]
    pub seed: u64,
    /// Take every launch as independent of the one before.
    #[arg(long)]
    pub independent: bool,
    /// Answer in JSON.
    #[arg(long)]
    pub json: bool,
}

/// A mean with up to two spreads, in seconds.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct CarPartArg(pub CarPart);

/// No car part and no interval lasts this long, s. Chosen, because the slowest start lies below and a
/// number of milliseconds above.
const TOO_LONG_S: f64 = 5.0;

/// A number of seconds that a start can take.
fn seconds(text: &str) -> Result<f64, String> {
    match text.trim().parse::<f64>() {
        Ok(value) if value.abs() < TOO_LONG_S => Ok(value),
        Ok(value) if value.is_finite() => Err(format!(
            "{value} s is no part of a start; write milliseconds as seconds: {}",
            value / 1000.0
        )),
        _ => Err(format!("`{text}` is no number of seconds; write one like 0.5")),
    }
}

/// A duration or a spread: seconds, 0 or more.
pub(super) fn not_negative(text: &str) -> Result<f64, String> {
    let value = seconds(text)?;
    if value >= 0.0 { Ok(value) } else { Err(format!("`{text}` is below 0; write 0 or more")) }
}

impl FromStr for CarPartArg {
    type Err = String;

    fn from_str(text: &str) -> Result<Self, String> {
        let mut parts = text.split(',');
        let mean_s = seconds(parts.next().unwrap_or_default())?;
        let spreads: Vec<f64> = parts.map(not_negative).collect::<Result<_, _>>()?;
        if spreads.len() > 2 {
            return Err(format!("`{text}` is no car part; write it like 0.210,0.010,0.005"));
        }
        let spread = |i: usize| spreads.get(i).copied().unwrap_or(0.0);
        Ok(Self(CarPart { mean_s, doubt_sd_s: spread(0), run_sd_s: spread(1) }))
    }
}

/// Why there is no answer.
#[derive(Debug, Error)]
pub enum RiskError {
    /// The file can't be read, or not as a column of times.
    #[error("{0}")]
    Table(#[from] TableError),
    /// The question makes no sense.
    #[error("{0}")]
    Question(#[from] StatsError),
    /// A cell that says nothing the program knows.
    #[error(
        "{file}, row {row} below the header, column `{column}`: `{word}` is no {what}; write {cure}"
    )]
    Word {
        /// The file.
        file: String,
        /// Counted from 1 below the header.
        row: usize,
        /// The column.
        column: String,
        /// What stands there.
        word: String,
        /// What should.
        what: &'static str,
        /// What to write.
        cure: &'static str,
    },
    /// The advice asked for makes no sense.
    #[error("{0}")]
    Advice(#[from] StrategyError),
    /// The answer could not be written.
    #[error("standard output: {0}")]
    Unwritable(io::Error),
}

impl RiskError {
    /// The exit code that tells scripts what happened.
    pub fn exit_code(&self) -> u8 {
        match self {
            Self::Question(_) | Self::Advice(_) => 2,
            Self::Table(_) | Self::Word { .. } => 1,
            Self::Unwritable(_) => 5,
        }
    }
}

#[derive(Debug, Serialize)]
struct Answer {
    n: usize,
    unit: &'static str,
    threshold: f64,
    level: f64,
    rows: Vec<Row>,
    #[serde(skip_serializing_if = "Option::is_none")]
    next_session: Option<Vec<Row>>,
    method: &'static str,
    seed: u64,
    caveats: Vec<String>,
}

#[derive(Debug, Serialize)]
struct Row {
    earlier_ms: f64,
    value: Option<f64>,
    low: Option<f64>,
    high: Option<f64>,
    reds: usize,
    count_low: f64,
    count_high: f64,
}

const METHOD: &str = "posterior of an ex-Gaussian with a small wide part, pulled towards the counts \
                      as if it were 60 launches; counts: Clopper-Pearson";

/// Answers on standard output, or tells on standard error why not.
pub fn execute(args: &RiskArgs) -> ExitCode {
    reply::execute("risk", &[&args.file], |stdin, stdout| run(args, stdin, stdout))
}

/// Answers the question on `stdout`; nothing is written there unless all of it can be.
///
/// # Errors
/// [`RiskError`], to be told on standard error in one line.
pub fn run(args: &RiskArgs, stdin: &mut dyn Read, stdout: &mut dyn Write) -> Result<(), RiskError> {
    let day: Vec<&str> = args.day.iter().map(String::as_str).collect();
    let columns = read_columns_from_any(&args.file, stdin, &args.column, &day)?;
    let answer = answer(args, columns)?;
    reply::write(&answer, args.json, in_words, stdout)
}

fn answer(args: &RiskArgs, columns: Columns) -> Result<Answer, RiskError> {
    let unit = Unit::of_column(args.unit, &args.column);
    let scale = unit.per_second();
    let line = red_line(args, scale)?;
    let seconds = columns.numbers.iter().map(|x| x / scale).collect();
    let mut pool = Pool::new(Sample::new(seconds)?);
    if args.day.is_some() {
        pool = pool.with_days(in_order_of_appearance(&columns.words[0]))?;
    }
    let settings = Settings { serial_correction: !args.independent, ..Settings::new(args.seed) };
    let mut caveats = Vec::new();
    let rows = rows(args, &pool, &line, &settings, RiskDraws::this_form, &mut caveats)?;
    let next_session = match args.day {
        Some(_) => {
            let next = RiskDraws::next_session;
            Some(self::rows(args, &pool, &line, &settings, next, &mut caveats)?)
        }
        None => None,
    };
    caveats.sort();
    caveats.dedup();
    Ok(Answer {
        n: pool.driver_parts().n(),
        unit: unit.sign(),
        threshold: args.threshold.unwrap_or(line.at_s() * scale),
        level: args.level,
        rows,
        next_session,
        method: METHOD,
        seed: args.seed,
        caveats: caveats.iter().map(Caveat::to_string).collect(),
    })
}

/// A number for each word, from 0 in order of appearance.
pub(super) fn in_order_of_appearance(words: &[String]) -> Vec<u32> {
    let mut known: HashMap<&str, u32> = HashMap::new();
    words
        .iter()
        .map(|word| {
            let next = known.len() as u32;
            *known.entry(word).or_insert(next)
        })
        .collect()
}

fn red_line(args: &RiskArgs, scale: f64) -> Result<RedLine, StatsError> {
    match (args.threshold, args.car_part, args.interval) {
        (_, Some(CarPartArg(car)), Some(interval)) => RedLine::of_car(car, interval),
        (threshold, ..) => RedLine::at(threshold.unwrap_or(f64::NAN) / scale),
    }
}

fn rows(
    args: &RiskArgs,
    pool: &Pool,
    line: &RedLine,
    settings: &Settings,
    draw: fn(&Pool, &Settings) -> Result<RiskDraws, StatsError>,
    caveats: &mut Vec<Caveat>,
) -> Result<Vec<Row>, StatsError> {
    let earlier_s: Vec<f64> = args.earlier.iter().map(|ms| ms / 1000.0).collect();
    let n = pool.driver_parts().n();
    let estimates: Vec<Option<Estimate>> = if n < LEAST_FOR_RISK {
        caveats.push(Caveat::CountsOnly { n });
        vec![None; earlier_s.len()]
    } else {
        let draws = draw(pool, settings)?;
        caveats.extend(draws.caveats());
        draws.curve(line, &earlier_s, args.level)?.into_iter().map(Some).collect()
    };
    let row = |((earlier_ms, earlier_s), estimate): ((&f64, &f64), Option<Estimate>)| {
        let (reds, counts) = pool.counts(line, *earlier_s, args.level)?;
        Ok(Row {
            earlier_ms: *earlier_ms,
            value: estimate.map(|e| e.value),
            low: estimate.map(|e| e.low),
            high: estimate.map(|e| e.high),
            reds,
            count_low: counts.low,
            count_high: counts.high,
        })
    };
    args.earlier.iter().zip(&earlier_s).zip(estimates).map(row).collect()
}

fn in_words(answer: &Answer) -> String {
    let mut out = format!(
        "{} launches, red below {} {}, intervals {}\n",
        answer.n,
        answer.threshold,
        answer.unit,
        percent(answer.level)
    );
    let mut tell = |title: &str, rows: &[Row]| {
        out.push_str(title);
        for row in rows {
            let estimate = match (row.value, row.low, row.high) {
                (Some(value), Some(low), Some(high)) => {
                    format!("{} ({} to {})", percent(value), percent(low), percent(high))
                }
                _ => "not known".to_owned(),
            };
            out.push_str(&format!(
                "  {} ms earlier: {estimate}; counted {} of {} ({} to {})\n",
                row.earlier_ms,
                row.reds,
                answer.n,
                percent(row.count_low),
                percent(row.count_high)
            ));
        }
    };
    tell("this form\n", &answer.rows);
    if let Some(rows) = &answer.next_session {
        tell("next session\n", rows);
    }
    for caveat in &answer.caveats {
        out.push_str(&format!("note: {caveat}\n"));
    }
    out
}
