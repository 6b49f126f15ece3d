//! `lastamber fit`: which law describes a column of times.
//!
//! Owns the sub-command's options and both shapes of its answer, JSON and text. Refuses to compute:
//! `stats::compare` does. Times are seconds inside and in the input's unit outside.

use super::table::{name_of, read_columns};
use super::{CliError, print, print_json};
use crate::stats::compare::{Comparison, Row, compare};
use crate::stats::family::Family;
use crate::stats::fit::Fit;
use crate::stats::{Sample, StatsError};
use clap::{Args, ValueEnum};
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
    #[arg(long, value_name = "LAW,…", value_delimiter = ',')]
    families: Vec<Law>,

    /// Fixes everything random.
    #[arg(long, value_name = "N", default_value_t = 1)]
    seed: u64,

    /// Prints JSON.
    #[arg(long)]
    json: bool,
}

/// Unit of a column of times.
#[derive(Debug, Clone, Copy, PartialEq, Eq, ValueEnum)]
pub enum Unit {
    /// Seconds.
    S,
    /// Milliseconds.
    Ms,
}

impl Unit {
    /// The unit asked for, or the one the column's name says.
    pub fn of_column(asked: Option<Self>, column: &str) -> Self {
        asked.unwrap_or(if column.ends_with("_ms") { Self::Ms } else { Self::S })
    }

    /// How many of it make a second.
    pub fn per_second(self) -> f64 {
        match self {
            Self::S => 1.0,
            Self::Ms => 1000.0,
        }
    }

    /// Its sign.
    pub fn sign(self) -> &'static str {
        match self {
            Self::S => "s",
            Self::Ms => "ms",
        }
    }
}

/// The laws the command knows by name.
#[derive(Debug, Clone, Copy, PartialEq, Eq, ValueEnum)]
enum Law {
    Normal,
    ExGaussian,
    ShiftedLognormal,
    ShiftedWald,
    /// Anticipation and reaction mixed; listed, not fitted yet.
    AnticipateReact,
}

impl Law {
    /// The room's family; `None` for the mixture, which is no single law.
    fn family(self) -> Option<Family> {
        match self {
            Self::Normal => Some(Family::Normal),
            Self::ExGaussian => Some(Family::ExGaussian),
            Self::ShiftedLognormal => Some(Family::ShiftedLognormal),
            Self::ShiftedWald => Some(Family::ShiftedWald),
            Self::AnticipateReact => None,
        }
    }

    fn name(self) -> &'static str {
        self.family().map_or("anticipate-react", Family::name)
    }
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
    /// A law without a fit.
    fn none(law: Law) -> Self {
        Self { family: law.name(), status: "none", ..Self::default() }
    }

    /// A law's row, in the input's unit.
    fn new(law: Law, row: &Row, unit: Unit) -> Result<Self, StatsError> {
        let Some(fit) = &row.fit else {
            return Ok(Self::none(law));
        };
        let fit = fit.scaled(unit.per_second())?;
        let Some(log_likelihood) = fit.log_likelihood else {
            return Ok(Self::none(law));
        };
        // Every criterion follows the likelihood's change of unit.
        let change = -(fit.n as f64) * unit.per_second().ln();
        let goodness = row.goodness;
        Ok(Self {
            family: law.name(),
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
            ks_p: goodness.map(|g| g.p.ks),
            ad_p: goodness.map(|g| g.p.ad),
            cvm_p: goodness.map(|g| g.p.cvm),
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
    let columns = read_columns(&args.file, &args.column, None).map_err(CliError::data)?;
    let about = |error: StatsError| {
        let file = name_of(&args.file);
        let cure = "a fit needs 10 and more times that differ";
        CliError::data(format!("{file}, column `{}`: {error}; {cure}", args.column))
    };
    let seconds = columns.numbers.into_iter().map(|x| x / unit.per_second()).collect();
    let sample = Sample::new(seconds).map_err(about)?;
    let laws = if args.families.is_empty() {
        Law::value_variants().to_vec()
    } else {
        args.families.clone()
    };
    let families: Vec<Family> = laws.iter().filter_map(|law| law.family()).collect();
    let comparison = compare(&families, &sample, args.seed).map_err(about)?;
    let answer = answer(args, unit, &laws, &comparison, sample.n()).map_err(about)?;
    if args.json { print_json(&answer) } else { print(&as_text(&answer)) }
}

fn answer(
    args: &FitArgs,
    unit: Unit,
    laws: &[Law],
    comparison: &Comparison,
    n: usize,
) -> Result<Answer, StatsError> {
    let mut families = Vec::with_capacity(laws.len());
    for law in laws {
        let row = comparison.rows.iter().find(|row| Some(row.family) == law.family());
        families.push(match row {
            Some(row) => LawAnswer::new(*law, row, unit)?,
            None => LawAnswer::none(*law),
        });
    }
    Ok(Answer {
        n,
        unit: unit.sign(),
        column: args.column.clone(),
        families,
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
        None => format!("No law was fitted to the {n} times of `{}`.", answer.column),
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

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_columns_name_may_say_its_unit() {
        assert_eq!(Unit::of_column(None, "rt_ms"), Unit::Ms);
        assert_eq!(Unit::of_column(None, "rt"), Unit::S);
        assert_eq!(Unit::of_column(Some(Unit::S), "rt_ms"), Unit::S);
    }

    #[test]
    fn every_law_is_known_by_the_name_the_room_gives_it() {
        for law in Law::value_variants() {
            let word = law.to_possible_value().expect("no law is hidden");
            assert_eq!(word.get_name(), law.name());
        }
    }
}
