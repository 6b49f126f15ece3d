//! `lastamber slips list`: the slips in force.
//!
//! Owns the options and three shapes of the list: a line each, JSON, a table. Refuses statistics.

use super::super::folder::Folder;
use super::super::{print, print_json};
use super::CliError;
use crate::history::{SlipLine, slip_object, slips_in_force};
use crate::report::tame;
use crate::slips::{Field, write_table};
use clap::Args;
use serde_json::{Value, json};

/// Lists the slips in force, corrections in place of what they correct.
#[derive(Debug, Clone, Args)]
pub struct ListArgs {
    #[command(flatten)]
    folder: Folder,

    /// Only those of this car.
    #[arg(long, value_name = "NAME")]
    car: Option<String>,

    /// Prints a CSV table that `slips import` reads back.
    #[arg(long, conflicts_with = "json")]
    csv: bool,

    /// Prints JSON.
    #[arg(long)]
    json: bool,
}

/// Runs the sub-command.
///
/// # Errors
/// [`CliError`] for a folder that cannot be read.
pub fn run(args: &ListArgs) -> Result<(), CliError> {
    let lines = args.folder.load()?.slips;
    let mut lines = slips_in_force(&lines);
    lines.retain(|line| args.car.as_ref().is_none_or(|car| line.slip.car == *car));
    if args.csv {
        return print(write_table(lines.iter().map(|line| &line.slip)).trim_end());
    }
    if args.json {
        let slips: Vec<Value> = lines.into_iter().map(object).collect();
        return print_json(&json!({ "slips": slips }));
    }
    if lines.is_empty() {
        return print("no slips yet; `lastamber slips add` or `slips import` takes the first");
    }
    print(&lines.into_iter().map(in_a_line).collect::<Vec<String>>().join("\n"))
}

fn object(line: &SlipLine) -> Value {
    let mut object = slip_object(&line.slip);
    object.insert("id".to_owned(), Value::from(line.id.clone()));
    object.insert("saved_at".to_owned(), Value::from(line.saved_at.clone()));
    Value::Object(object)
}

/// `id · 2026-05-01 · Our strip · R/T .045 · 60' 1.963 · …`
fn in_a_line(line: &SlipLine) -> String {
    let slip = &line.slip;
    let date = slip.date.map_or_else(|| "no date".to_owned(), |date| date.to_string());
    let mut parts = vec![line.id.clone(), date];
    if slip.is_simulated() {
        parts.push("PRACTICE - SIMULATED".to_owned());
    }
    parts.extend([&slip.track, &slip.car].into_iter().filter(|w| !w.is_empty()).cloned());
    for field in Field::IN_ORDER {
        if let Some(time) = field.time(&slip.own) {
            parts.push(format!("{} {time}", field.title()));
        }
    }
    if let Some(mph) = slip.own.mph(slip.length) {
        parts.push(format!("{mph:.2} mph"));
    }
    if slip.is_red() {
        parts.push("red".to_owned());
    }
    // A name on two lines would look like two slips.
    tame(&parts.join(" · ")).replace('\n', " ")
}
