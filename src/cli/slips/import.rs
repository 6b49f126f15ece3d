//! `lastamber slips import`: a table of slips in, with a report on every line.
//!
//! Owns the options, the report's two shapes and what was there before. Refuses to stop at a bad
//! line, and to take a slip twice that is in the book already.

use super::super::folder::{Folder, told};
use super::super::long::Long;
use super::super::table::name_of;
use super::super::{print, print_json, wall};
use super::{Assignment, CliError, once, read_bytes, slip_of, words};
use crate::history::{HistoryError, Line, SlipLine, new_id, slips_in_force};
use crate::report::tame;
use crate::rules::SlipTime;
use crate::slips::{ImportOutcome, ImportReport, Slip, read_table};
use clap::Args;
use jiff::civil::Date;
use serde::Serialize;
use std::collections::HashMap;
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

/// The slips in force, to be asked for one without looking at all of them.
struct Book<'a>(HashMap<Printed, Vec<&'a Slip>>);

/// What tells most slips apart.
type Printed = (Option<Date>, Option<SlipTime>, Option<SlipTime>);

impl<'a> Book<'a> {
    fn of(known: &'a [SlipLine]) -> Self {
        let mut slips: HashMap<Printed, Vec<&Slip>> = HashMap::new();
        for line in slips_in_force(known) {
            slips.entry(printed(&line.slip)).or_default().push(&line.slip);
        }
        Self(slips)
    }

    fn holds(&self, slip: &Slip) -> bool {
        self.0.get(&printed(slip)).is_some_and(|like| like.contains(&slip))
    }
}

fn printed(slip: &Slip) -> Printed {
    (slip.date, slip.own.rt, slip.own.t1320)
}

/// Runs the sub-command.
///
/// # Errors
/// [`CliError`] for a table that cannot be read as a whole or a folder in use.
pub fn run(args: &ImportArgs) -> Result<(), CliError> {
    let bytes = read_bytes(&args.file)?;
    let usual = once(&args.usual).and_then(|()| slip_of(&Slip::default(), &args.usual));
    let usual = usual.map_err(|error| CliError::data(format!("--set: {}", error.message)))?;
    let report = read_table(&bytes, &usual)
        .map_err(|e| CliError::data(format!("{}: {e}", name_of(&args.file))))?;
    let answer = if args.dry_run {
        let known = args.folder.load()?.slips;
        sort(&report, &Book::of(&known), &mut |_| Ok(None))?
    } else {
        save(args, &report)?
    };
    if args.json { print_json(&answer) } else { print(&tame(&in_words(args, &answer))) }
}

fn save(args: &ImportArgs, report: &ImportReport) -> Result<Answer, CliError> {
    let long = Long::begin();
    let progress = long.progress();
    let (mut saved, total) = (0, report.accepted().count());
    let cancelled = |saved: usize| {
        CliError::cancelled(format!(
            "cancelled: {saved} of {total} slips were added, each of them whole; import the table again \
             for the rest, what is there is not taken twice"
        ))
    };
    let folder = args.folder.open()?;
    let known = folder.load_with(progress).map_err(|error| match error {
        HistoryError::Cancelled(_) => cancelled(0),
        error => told(error),
    })?;
    let book = Book::of(&known.slips);
    let mut log = folder.open_log().map_err(told)?;
    let saved_at = wall::now().to_string();
    progress.begin("adding slips", total as u64);
    let mut answer = sort(report, &book, &mut |slip| {
        progress.advance(1).map_err(|_| cancelled(saved))?;
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
    book: &Book,
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
            ImportOutcome::Accepted { slip, .. } if book.holds(slip) => {
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
    if answer.lines.is_empty() {
        text.push_str(
            "There is no line below the header: write a slip a line and import it again.\n",
        );
    }
    let Answer { accepted, repeated, refused, saved, .. } = answer;
    let name = name_of(&args.file);
    let done = if *saved { "saved" } else { "would be saved" };
    text.push_str(&format!(
        "{name}: slips {done}: {accepted}, in the book already: {repeated}, lines refused: {refused}."
    ));
    text
}
