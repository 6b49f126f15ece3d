//! `lastamber slips add`: one slip in, or one corrected.
//!
//! Owns the options and the answer. Refuses to rewrite: a correction is a new line.

use super::super::folder::{Folder, told};
use super::super::{print, print_json, wall};
use super::{Assignment, CliError, once, slip_of, words};
use crate::history::{Line, SlipLine, new_id, slip_object, slips_in_force};
use crate::report::tame;
use crate::slips::{Cell, Slip, check, read_column};
use clap::Args;
use serde::Serialize;
use serde_json::{Map, Value};

/// Adds a slip. `lastamber slips add track="Our strip" lane=left --column ".045 1.963 5.678 8.637 83.95 -
/// 13.464 105.04"`
#[derive(Debug, Clone, Args)]
pub struct AddArgs {
    /// What the slip says, each like rt=.045, date=2026-05-01, other_rt=.102; without a date it is today's.
    #[arg(value_name = "CELL=VALUE")]
    cells: Vec<Assignment>,

    /// Your column in the slip's order: R/T 60' 330' 1/8 MPH 1000' 1/4 MPH, - where there is none.
    #[arg(long, value_name = "FIGURES", allow_hyphen_values = true)]
    column: Option<String>,

    /// The other lane's column, alike.
    #[arg(long, value_name = "FIGURES", allow_hyphen_values = true)]
    other_column: Option<String>,

    /// Corrects this slip: what is given replaces what stands there.
    #[arg(long, value_name = "ID")]
    corrects: Option<String>,

    /// Takes this slip out: it was none.
    #[arg(long, value_name = "ID", conflicts_with_all = ["corrects", "column", "other_column", "cells"])]
    withdraws: Option<String>,

    #[command(flatten)]
    folder: Folder,

    /// Prints JSON.
    #[arg(long)]
    json: bool,
}

#[derive(Debug, Serialize)]
struct Answer {
    id: String,
    corrects: Option<String>,
    withdrawn: bool,
    questions: Vec<String>,
    slip: Map<String, Value>,
}

/// Runs the sub-command.
///
/// # Errors
/// [`CliError`] for a figure that is none, an id that is not there, or a folder in use.
pub fn run(args: &AddArgs) -> Result<(), CliError> {
    if [&args.column, &args.other_column].into_iter().flatten().any(|f| f.trim().is_empty()) {
        return Err(CliError::data(
            "a column without a figure; write it like \".045 1.963 - 8.637\", or leave it away",
        ));
    }
    let folder = args.folder.open()?;
    let lines = folder.load().map_err(told)?.slips;
    let now = wall::now();
    let corrects = args.corrects.as_ref().or(args.withdraws.as_ref());
    let usual = match corrects {
        Some(id) => in_force(&lines, id)?,
        None => Slip { date: Some(now.date()), ..Slip::default() },
    };
    if corrects.is_none() && args.cells.is_empty() && args.column.is_none() {
        return Err(CliError::data("nothing to add; give --column or cells like rt=.045"));
    }
    let line = SlipLine {
        id: new_id(),
        saved_at: now.to_string(),
        corrects: corrects.cloned(),
        withdrawn: args.withdraws.is_some(),
        slip: slip(args, &usual)?,
    };
    let questions = if line.withdrawn { Vec::new() } else { words(&check(&line.slip)) };
    let mut log = folder.open_log().map_err(told)?;
    log.append(&Line::from(line.clone())).map_err(told)?;
    if args.json {
        let SlipLine { id, corrects, withdrawn, slip, .. } = line;
        return print_json(&Answer {
            id,
            corrects,
            withdrawn,
            questions,
            slip: slip_object(&slip),
        });
    }
    let mut text = format!("saved {}", line.id);
    if !line.withdrawn {
        text.push_str(&format!("\n{}", line.slip.to_text().trim_end()));
    }
    for question in questions {
        text.push_str(&format!("\n? {question}"));
    }
    print(&tame(&text))
}

/// The slip a correction starts from.
fn in_force(lines: &[SlipLine], id: &str) -> Result<Slip, CliError> {
    let found = slips_in_force(lines).into_iter().find(|line| line.id == id);
    found.map(|line| line.slip.clone()).ok_or_else(|| {
        CliError::data(format!(
            "no slip in force has the id `{id}`; `lastamber slips list` shows them"
        ))
    })
}

fn slip(args: &AddArgs, usual: &Slip) -> Result<Slip, CliError> {
    let mut usual = usual.clone();
    if let Some(figures) = &args.column {
        let column = read_column(figures).map_err(CliError::data)?;
        usual.own = column.over(&usual.own);
    }
    if let Some(figures) = &args.other_column {
        let column = read_column(figures).map_err(CliError::data)?;
        usual.other = Some(column.over(&usual.other.unwrap_or_default()));
    }
    once(&args.cells)?;
    // "date=-" leaves the day open.
    let (open, cells): (Vec<_>, Vec<_>) =
        args.cells.iter().cloned().partition(|set| set.value.trim() == "-");
    let emptied: Vec<Cell> = open.into_iter().map(|set| set.cell).collect();
    slip_of(&usual, &cells)?.without(&emptied).map_err(CliError::data)
}
