//! `lastamber slips import`: a table of slips in, with a report on every line.
//!
//! Owns the options, the report's two shapes and what was there before. Refuses to stop at a bad
//! line, and to take a slip twice that is in the book already.

use super::super::folder::{Folder, told};
use super::super::table::name_of;
use super::super::{print, print_json, wall};
use super::{Assignment, CliError, new_id, read_bytes, slip_of, words};
use crate::history::{Line, SlipLine, slips_in_force};
use crate::slips::{ImportOutcome, ImportReport, Slip, read_table};
use clap::Args;
use serde::Serialize;
use std::path::PathBuf;

/// Takes slips from a CSV table whose first line names the columns.
#[derive(Debug, Clone, Args)]
pub struct ImportArgs {
    /// The table; `-` is standard input.
    #[arg(value_name = "FILE")]
    file: PathBuf,

    /// What the table leaves open, each like car="the old one" or length=eighth.
    #[arg(long = "set", value_name = "CELL=VALUE")]
    usual: Vec<Assignment>,

    /// Only reports; nothing is saved.
    #[arg(long)]
    dry_run: bool,

    #[command(flatten)]
    folder: Folder,

    /// Prints JSON.
    #[arg(long)]
    json: bool,
}

#[derive(Debug, Default, Serialize)]
struct Answer {
    accepted: usize,
    repeated: usize,
    refused: usize,
    saved: bool,
    read_as_latin1: bool,
    ignored_columns: Vec<String>,
    lines: Vec<LineAnswer>,
}

#[derive(Debug, Serialize)]
struct LineAnswer {
    line: u64,
    status: &'static str,
    id: Option<String>,
    questions: Vec<String>,
    why: Option<String>,
}

/// Runs the sub-command.
///
/// # Errors
/// [`CliError`] for a table that cannot be read as a whole or a folder in use.
pub fn run(args: &ImportArgs) -> Result<(), CliError> {
    let bytes = read_bytes(&args.file)?;
    let usual = slip_of(&Slip::default(), &args.usual)?;
    let report = read_table(&bytes, &usual)
        .map_err(|e| CliError::data(format!("{}: {e}", name_of(&args.file))))?;
    let answer = if args.dry_run {
        let known = args.folder.load()?.slips;
        let book: Vec<&Slip> = slips_in_force(&known).iter().map(|line| &line.slip).collect();
        sort(&report, &book, &mut |_| Ok(None))?
    } else {
        save(args, &report)?
    };
    if args.json { print_json(&answer) } else { print(&in_words(args, &answer)) }
}

fn save(args: &ImportArgs, report: &ImportReport) -> Result<Answer, CliError> {
    let folder = args.folder.open()?;
    let known = folder.load().map_err(told)?.slips;
    let book: Vec<&Slip> = slips_in_force(&known).iter().map(|line| &line.slip).collect();
    let mut log = folder.open_log().map_err(told)?;
    let saved_at = wall::now().to_string();
    let (mut saved, total) = (0, report.accepted().count());
    let mut answer = sort(report, &book, &mut |slip| {
        let id = new_id();
        let line = SlipLine {
            id: id.clone(),
            saved_at: saved_at.clone(),
            corrects: None,
            withdrawn: false,
            slip: slip.clone(),
        };
        log.append(&Line::from(line)).map_err(|e| {
            let why = e.to_string();
            CliError::data(format!(
                "{saved} of {total} slips are in the book, then: {}; import the table again, what is \
                 there is not taken twice",
                why.trim_end_matches('.')
            ))
        })?;
        saved += 1;
        Ok(Some(id))
    })?;
    answer.saved = true;
    Ok(answer)
}

/// Every line with what became of it; `keep` saves a slip and gives its id.
fn sort(
    report: &ImportReport,
    book: &[&Slip],
    keep: &mut dyn FnMut(&Slip) -> Result<Option<String>, CliError>,
) -> Result<Answer, CliError> {
    let ignored = report.columns.iter().filter(|(_, cell)| cell.is_none());
    let mut answer = Answer {
        read_as_latin1: report.read_as_latin1,
        ignored_columns: ignored.map(|(title, _)| title.clone()).collect(),
        ..Answer::default()
    };
    for line in &report.lines {
        let answered =
            |status, id, questions, why| LineAnswer { line: line.line, status, id, questions, why };
        answer.lines.push(match &line.outcome {
            ImportOutcome::Refused(error) => {
                answer.refused += 1;
                answered("refused", None, Vec::new(), Some(error.to_string()))
            }
            ImportOutcome::Accepted { slip, .. } if book.contains(&slip.as_ref()) => {
                answer.repeated += 1;
                let why = "this very slip is in the book".to_owned();
                answered("repeated", None, Vec::new(), Some(why))
            }
            ImportOutcome::Accepted { slip, questions } => {
                answer.accepted += 1;
                answered("accepted", keep(slip)?, words(questions), None)
            }
        });
    }
    Ok(answer)
}

fn in_words(args: &ImportArgs, answer: &Answer) -> String {
    let mut text = String::new();
    for line in &answer.lines {
        text.push_str(&format!("line {}: {}", line.line, line.status));
        if let Some(why) = &line.why {
            text.push_str(&format!(": {why}"));
        }
        text.push('\n');
        for question in &line.questions {
            text.push_str(&format!("    ? {question}\n"));
        }
    }
    if answer.read_as_latin1 {
        text.push_str(
            "The file is not UTF-8 and was read as Latin-1; look at names with accents.\n",
        );
    }
    if !answer.ignored_columns.is_empty() {
        text.push_str(&format!("Left aside: {}.\n", answer.ignored_columns.join(", ")));
    }
    let Answer { accepted, repeated, refused, saved, .. } = answer;
    let name = name_of(&args.file);
    let done = if *saved { "saved" } else { "would be saved" };
    text.push_str(&format!(
        "{name}: slips {done}: {accepted}, in the book already: {repeated}, lines refused: {refused}."
    ));
    text
}
