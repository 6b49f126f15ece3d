//! `lastamber slips`: the slip book from the command line.
//!
//! Owns the four sub-commands' common options and words. Refuses to read or check slips: `slips`
//! does, and `history` keeps them.

mod add;
mod check;
mod import;
mod list;

use super::CliError;
use super::table::{name_of, with_cure};
use crate::slips::{Cell, Question, Slip};
use clap::Subcommand;
use std::fs::File;
use std::io::{self, Read};
use std::path::Path;
use std::str::FromStr;

/// Real time slips: add, import, list, check.
#[derive(Debug, Clone, Subcommand)]
pub enum SlipsCommand {
    /// Adds one slip, or corrects one.
    Add(add::AddArgs),
    /// Takes slips from a table, with a report on every line.
    Import(import::ImportArgs),
    /// Lists the slips in force.
    List(list::ListArgs),
    /// Asks about slips whose numbers do not go together.
    Check(check::CheckArgs),
}

/// Runs the sub-command.
///
/// # Errors
/// [`CliError`] for a table or a folder that cannot be read, or a cell that does not belong.
pub fn run(command: &SlipsCommand) -> Result<(), CliError> {
    match command {
        SlipsCommand::Add(args) => add::run(args),
        SlipsCommand::Import(args) => import::run(args),
        SlipsCommand::List(args) => list::run(args),
        SlipsCommand::Check(args) => check::run(args),
    }
}

/// `CELL=VALUE`.
#[derive(Debug, Clone)]
struct Assignment {
    cell: Cell,
    value: String,
}

impl FromStr for Assignment {
    type Err = String;

    fn from_str(text: &str) -> Result<Self, String> {
        let (name, value) =
            text.split_once('=').ok_or_else(|| format!("`{text}` has no `=`; write rt=.045"))?;
        let cell = Cell::of_title(name).ok_or_else(|| {
            let names: Vec<String> = Cell::all().map(Cell::name).collect();
            format!("`{name}` is no part of a slip; choose from {}", names.join(", "))
        })?;
        Ok(Self { cell, value: value.to_owned() })
    }
}

/// Refuses what is assigned twice.
fn once(assignments: &[Assignment]) -> Result<(), CliError> {
    for (i, set) in assignments.iter().enumerate() {
        if let Some(first) = assignments[..i].iter().find(|first| first.cell == set.cell) {
            let (cell, one, other) = (set.cell.name(), &first.value, &set.value);
            return Err(CliError::data(format!(
                "{cell} is given twice, as `{one}` and as `{other}`; give it once"
            )));
        }
    }
    Ok(())
}

/// A slip made of assignments; `usual` holds what they leave open.
fn slip_of(usual: &Slip, assignments: &[Assignment]) -> Result<Slip, CliError> {
    let cells = assignments.iter().map(|set| (set.cell, set.value.as_str()));
    Slip::of_cells(usual, cells).map_err(CliError::data)
}

/// All bytes of a file; `-` is standard input.
fn read_bytes(path: &Path) -> Result<Vec<u8>, CliError> {
    let mut bytes = Vec::new();
    let read = if path == Path::new("-") {
        io::stdin().lock().read_to_end(&mut bytes)
    } else {
        File::open(path).and_then(|mut file| file.read_to_end(&mut bytes))
    };
    read.map_err(|e| {
        CliError::data(format!("{}: cannot be read: {}", name_of(path), with_cure(&e)))
    })?;
    Ok(bytes)
}

fn words(questions: &[Question]) -> Vec<String> {
    questions.iter().map(ToString::to_string).collect()
}
