//! `lastamber slips check`: what does not go together.
//!
//! Owns the options and the answer. Refuses to refuse: it asks.

use super::super::folder::Folder;
use super::super::table::name_of;
use super::super::{print, print_json};
use super::{CliError, read_bytes, words};
use crate::history::slips_in_force;
use crate::report::tame;
use crate::slips::{ImportOutcome, Slip, check, read_table};
use clap::Args;
use serde::Serialize;
use std::path::{Path, PathBuf};

/// Asks about slips whose numbers do not go together, in the book or in a table.
#[derive(Debug, Clone, Args)]
pub struct CheckArgs {
    /// A table to check without taking it; `-` is standard input. Without one, the book.
    #[arg(value_name = "FILE")]
    file: Option<PathBuf>,

    #[command(flatten)]
    folder: Folder,

    /// Prints JSON.
    #[arg(long)]
    json: bool,
}

#[derive(Debug, Serialize)]
struct Answer {
    checked: usize,
    slips: Vec<Asked>,
}

/// A slip with questions.
#[derive(Debug, Serialize)]
struct Asked {
    id: Option<String>,
    line: Option<u64>,
    questions: Vec<String>,
}

/// Runs the sub-command.
///
/// # Errors
/// [`CliError`] for a table or a folder that cannot be read.
pub fn run(args: &CheckArgs) -> Result<(), CliError> {
    let all = match &args.file {
        Some(file) => of_table(file)?,
        None => of_book(&args.folder)?,
    };
    let checked = all.len();
    let slips = all.into_iter().filter(|slip| !slip.questions.is_empty()).collect();
    let answer = Answer { checked, slips };
    if args.json { print_json(&answer) } else { print(&tame(&in_words(&answer))) }
}

fn of_book(folder: &Folder) -> Result<Vec<Asked>, CliError> {
    let lines = folder.load()?.slips;
    let asked = slips_in_force(&lines).into_iter().map(|line| Asked {
        id: Some(line.id.clone()),
        line: None,
        questions: words(&check(&line.slip)),
    });
    Ok(asked.collect())
}

fn of_table(file: &Path) -> Result<Vec<Asked>, CliError> {
    let report = read_table(&read_bytes(file)?, &Slip::default())
        .map_err(|e| CliError::data(format!("{}: {e}", name_of(file))))?;
    let asked = report.lines.into_iter().map(|line| Asked {
        id: None,
        line: Some(line.line),
        questions: match line.outcome {
            ImportOutcome::Accepted { questions, .. } => words(&questions),
            ImportOutcome::Refused(error) => vec![format!("it would be refused: {error}")],
        },
    });
    Ok(asked.collect())
}

fn in_words(answer: &Answer) -> String {
    let mut text = String::new();
    for slip in &answer.slips {
        let place = slip.line.map(|line| format!("line {line}"));
        let place = place.or_else(|| slip.id.clone()).unwrap_or_default();
        for question in &slip.questions {
            text.push_str(&format!("{place}: {question}\n"));
        }
    }
    let (asked, checked) = (answer.slips.len(), answer.checked);
    text.push_str(&format!("{checked} slips looked at, {asked} with questions."));
    text
}
