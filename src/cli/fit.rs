//! `lastamber fit`: which law describes a column of times.
//!
//! Owns the sub-command's options and both shapes of its answer, JSON and text. Refuses to compute:
//! `stats::compare` does. Times are seconds inside and in the input's unit outside.

use super::long::Long;
use super::table::{name_of, read_columns};
use super::unit::Unit;
use super::{CliError, print, print_json};
use crate::stats::compare::{Comparison, Row, compare};
use crate::stats::family::Family;
use crate::stats::fit::Fit;
use crate::stats::{Sample, StatsError};
use clap::Args;
use clap::builder::{PossibleValuesParser, TypedValueParser};
use serde::{Serialize, Serializer};
use std::path::PathBuf;

/// Fits laws to a column of times and says which describes it best.
#[derive(Debug, Clone, Args)]
pub struct FitArgs {
    /// CSV file with a header line; `-` is standard input.
    #[arg(value_name = "FILE")]
    file: PathBuf,

    /// The column of times.
    #[arg(long, value_name = "NAME")]
    column: String,

    /// Unit of the column. Without it a name ending in `_ms` means ms, any other seconds.
    #[arg(long, value_name = "UNIT")]
    unit: Option<Unit>,

    /// Laws to fit, separated by commas; all if not given.
    #[arg(long, value_name = "LAW,…", value_delimiter = ',', value_parser = laws())]
    families: Vec<Family>,

    /// Fixes everything random.
    #[arg(long, value_name = "N", default_value_t = 1, allow_hyphen_values = true)]
    seed: u64,

    /// Prints JSON.
    #[arg(long)]
    json: bool,
}

/// The laws the command knows: those of the room, by its names.
fn laws() -> impl TypedValueParser<Value = Family> {
    PossibleValuesParser::new(Family::ALL.map(Family::name)).map(|name| {
        let named = Family::ALL.into_iter().find(|family| family.name() == name);
        named.expect("the parser lets no other name pass")
    })
}

/// The whole answer.
#[derive(Debug, Serialize)]
struct Answer {
    n: usize,
    unit: &'static str,
    column: String,
    families: Vec<LawAnswer>,
    preferred: Option<&'static str>,
    seed: u64,
    caveats: Vec<String>,
}

/// One law's part of the answer; numbers that are not finite become null.
#[derive(Debug, Default, Serialize)]
struct LawAnswer {
    family: &'static str,
    status: &'static str,
    parameters: Option<Named>,
    standard_errors: Option<Named>,
    log_likelihood: Option<f64>,
    aic: Option<f64>,
    aicc: Option<f64>,
    bic: Option<f64>,
    fold_log_score: Option<f64>,
    ks: Option<f64>,
    ad: Option<f64>,
    cvm: Option<f64>,
    ks_p: Option<f64>,
    ad_p: Option<f64>,
    cvm_p: Option<f64>,
}

impl LawAnswer {
    /// A law's row, in the input's unit.
    fn new(row: &Row, unit: Unit) -> Result<Self, StatsError> {
        let none = Self { family: row.family.name(), status: "none", ..Self::default() };
        let Some(fit) = &row.fit else {
            return Ok(none);
        };
        let fit = fit.scaled(unit.per_second())?;
        let Some(log_likelihood) = fit.log_likelihood else {
            return Ok(none);
        };
        // Every criterion follows the likelihood's change of unit.
        let change = -(fit.n as f64) * unit.per_second().ln();
        let goodness = row.goodness;
        let p = goodness.and_then(|g| g.p);
        Ok(Self {
            family: row.family.name(),
            status: fit.status.name(),
            parameters: Some(Named::new(&fit, fit.parameters.iter().copied())),
            standard_errors: fit
                .standard_errors
                .as_ref()
                .map(|errors| Named::new(&fit, errors.iter().copied().map(Some))),
            log_likelihood: Some(log_likelihood),
            aic: row.criteria.map(|c| c.aic - 2.0 * change),
            aicc: row.criteria.map(|c| c.aicc - 2.0 * change),
            bic: row.criteria.map(|c| c.bic - 2.0 * change),
            fold_log_score: row.fold_score.map(|score| score.total + change),
            ks: goodness.map(|g| g.statistics.ks),
            ad: goodness.map(|g| g.statistics.ad),
            cvm: goodness.map(|g| g.statistics.cvm),
            ks_p: p.map(|p| p.ks),
            ad_p: p.map(|p| p.ad),
            cvm_p: p.map(|p| p.cvm),
        })
    }
}

/// Parameters, or their standard errors, by name and in order.
#[derive(Debug)]
struct Named(Vec<(&'static str, Option<f64>)>);

impl Named {
    fn new(fit: &Fit, values: impl IntoIterator<Item = Option<f64>>) -> Self {
        Self(fit.family.parameter_names().iter().copied().zip(values).collect())
    }
}

impl Serialize for Named {
    fn serialize<S: Serializer>(&self, serializer: S) -> Result<S::Ok, S::Error> {
        serializer.collect_map(self.0.iter().copied())
    }
}

/// Runs the sub-command.
///
/// # Errors
/// [`CliError`] for a file that cannot be read or values that cannot be fitted.
pub fn run(args: &FitArgs) -> Result<(), CliError> {
    let unit = Unit::of_column(args.unit, &args.column);
    let columns = read_columns(&args.file, &args.column, &[]).map_err(CliError::data)?;
    let about = |error: StatsError| {
        let file = name_of(&args.file);
        let cure = "a fit needs 10 and more times that differ";
        CliError::data(format!("{file}, column `{}`: {error}; {cure}", args.column))
    };
    let seconds = columns.numbers.into_iter().map(|x| x / unit.per_second()).collect();
    let sample = Sample::new(seconds).map_err(about)?;
    let families = if args.families.is_empty() { &Family::ALL[..] } else { &args.families };
    let long = Long::harmless("fit");
    long.progress().begin("fitting laws", 0);
    let comparison = compare(families, &sample, args.seed).map_err(about)?;
    drop(long);
    let answer = answer(args, unit, &comparison, sample.n()).map_err(about)?;
    if args.json { print_json(&answer) } else { print(&as_text(&answer)) }
}

fn answer(
    args: &FitArgs,
    unit: Unit,
    comparison: &Comparison,
    n: usize,
) -> Result<Answer, StatsError> {
    let families = comparison.rows.iter().map(|row| LawAnswer::new(row, unit));
    Ok(Answer {
        n,
        unit: unit.sign(),
        column: args.column.clone(),
        families: families.collect::<Result<_, _>>()?,
        preferred: comparison.preferred.map(Family::name),
        seed: args.seed,
        caveats: comparison.caveats.iter().map(ToString::to_string).collect(),
    })
}

/// The answer for people: what it is first, then a table, then the doubts.
fn as_text(answer: &Answer) -> String {
    let mut text = sentence(answer);
    text.push_str("\n\n");
    let row = |cells: [&str; 6]| {
        let [law, status, ll, aicc, p, parameters] = cells;
        let line = format!("{law:<18} {status:<9} {ll:>13} {aicc:>9} {p:>6}  {parameters}");
        format!("{}\n", line.trim_end())
    };
    text.push_str(&row(["law", "status", "ln-likelihood", "ΔAICc", "p (AD)", "parameters"]));
    let best = answer.families.iter().filter_map(|law| law.aicc).fold(f64::INFINITY, f64::min);
    for law in &answer.families {
        let shown = |value: Option<f64>, digits: usize| {
            value.map_or_else(|| "–".to_owned(), |value| format!("{value:.digits$}"))
        };
        text.push_str(&row([
            law.family,
            law.status,
            &shown(law.log_likelihood, 3),
            &shown(law.aicc.map(|aicc| aicc - best), 2),
            &shown(law.ad_p, 3),
            &parameters_of(law, answer.unit),
        ]));
    }
    for caveat in &answer.caveats {
        text.push_str(&format!("\nNote: {caveat}."));
    }
    text.trim_end().to_owned()
}

fn sentence(answer: &Answer) -> String {
    let n = answer.n;
    match answer.preferred {
        Some(law) => format!(
            "Of the laws tried, the {law} law describes the {n} times of `{}` best (in {}).",
            answer.column, answer.unit
        ),
        None => format!(
            "None of the laws tried can be preferred for the {n} times of `{}`.",
            answer.column
        ),
    }
}

/// `mu 0.19 ± 0.002, …`; the ± is one standard error.
fn parameters_of(law: &LawAnswer, unit: &str) -> String {
    let Some(parameters) = &law.parameters else {
        return String::new();
    };
    let digits = if unit == "ms" { 2 } else { 5 };
    let error = |i: usize| law.standard_errors.as_ref().and_then(|errors| errors.0[i].1);
    let shown = parameters.0.iter().enumerate().map(|(i, (name, value))| match (value, error(i)) {
        (Some(value), Some(error)) => format!("{name} {value:.digits$} ± {error:.digits$}"),
        (Some(value), None) => format!("{name} {value:.digits$}"),
        (None, _) => format!("{name} without end"),
    });
    let shown: Vec<String> = shown.collect();
    shown.join(", ")
}
