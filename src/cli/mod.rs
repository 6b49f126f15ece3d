//! The command line: words and options → what to run, and the exit code.
//!
//! Owns clap's types and how errors are told: one or two lines on standard error, standard output
//! left empty, exit codes 1–99. Refuses to compute anything.

pub mod aim;
mod demo;
mod fit;
mod folder;
mod history;
mod judge;
mod long;
mod manual;
pub mod odds;
mod out;
pub mod parse;
mod pass;
pub mod race;
mod reply;
mod report;
mod rig;
pub mod risk;
mod rollout;
mod slips;
mod table;
mod tech;
mod unit;
mod wall;
mod window;

pub use unit::Unit;
pub use window::{OffsetMs, Size, Sources, Stall, WindowArgs};

use clap::error::{ContextKind, ContextValue};
use clap::{CommandFactory, FromArgMatches, Parser, Subcommand};
use serde::Serialize;
use std::error::Error;
use std::fmt::Display;
use std::io::{self, ErrorKind, Write};
use std::num::{ParseFloatError, ParseIntError};
use std::process::ExitCode;

/// Rehearse the drag-strip start line at home. Without a sub-command the start line opens.
#[derive(Debug, Parser)]
#[command(version, about, max_term_width = 100, args_conflicts_with_subcommands = true)]
struct Cli {
    #[command(subcommand)]
    command: Option<Command>,

    #[command(flatten)]
    window: WindowArgs,
}

/// What can be done without a window.
#[derive(Debug, Subcommand)]
enum Command {
    /// Which law describes a column of times.
    Fit(fit::FitArgs),
    /// How likely the next launch is red, from a column of times.
    Risk(risk::RiskArgs),
    /// The chance to win a round, from a column of times and an opponent.
    Odds(Box<odds::OddsArgs>),
    /// What each aim costs and brings, levers, and whether to react or to time it.
    Aim(Box<aim::AimArgs>),
    /// How far a staged car rolls before the clock starts.
    Rollout(rollout::RolloutArgs),
    /// A whole pass: splits and speeds.
    Pass(pass::PassArgs),
    /// Who wins.
    Judge(judge::JudgeArgs),
    /// How well this rig times: its last self test and its constant delay.
    Rig(rig::RigArgs),
    /// Real time slips: add, import, list, check.
    #[command(subcommand)]
    Slips(slips::SlipsCommand),
    /// Six weeks of a made-up driver, to look around with.
    Demo(demo::DemoArgs),
    /// Weeks, the last session, aim, home against track: as text, JSON or one HTML file.
    Report(report::ReportArgs),
    /// Your own data: check, export, import, merge.
    #[command(subcommand)]
    History(history::HistoryCommand),
    /// What to ask the tech officials about.
    Tech(tech::TechArgs),
}

/// Why a sub-command has no answer: the words for standard error and the exit code.
#[derive(Debug)]
struct CliError {
    message: String,
    code: u8,
}

impl CliError {
    /// Something is wrong with the data.
    fn data(message: impl Display) -> Self {
        Self { message: message.to_string(), code: 1 }
    }

    /// Work was cancelled; the message says what is kept and how to go on.
    fn cancelled(message: impl Display) -> Self {
        Self { message: message.to_string(), code: long::CANCELLED }
    }
}

/// The command line; one that makes no sense, and a wish for help, are answered here.
fn parsed() -> Cli {
    let matches = manual::with_manual(Cli::command()).try_get_matches();
    let cli = matches.and_then(|matches| Cli::from_arg_matches(&matches));
    cli.unwrap_or_else(|error| with_cure(error).exit())
}

/// A number or a day that is none says how one is written.
fn with_cure(mut error: clap::Error) -> clap::Error {
    let cure = match error.source() {
        Some(source) if source.is::<ParseFloatError>() => "write a number like 26.1",
        Some(source) if source.is::<ParseIntError>() => "write a whole number, 0 or more",
        Some(source) if source.is::<jiff::Error>() => "write a day like 2026-05-01",
        _ => return error,
    };
    let cure = ContextValue::StyledStrs(vec![cure.into()]);
    error.insert(ContextKind::Suggested, cure);
    error
}

/// Runs the program as the command line asks.
pub fn run() -> ExitCode {
    let cli = parsed();
    let outcome = match cli.command {
        None => return open_window(cli.window),
        Some(Command::Fit(args)) => fit::run(&args),
        Some(Command::Risk(args)) => return risk::execute(&args),
        Some(Command::Odds(args)) => return odds::execute(&args),
        Some(Command::Aim(args)) => return aim::execute(&args),
        Some(Command::Rollout(args)) => rollout::run(&args),
        Some(Command::Pass(args)) => pass::run(&args),
        Some(Command::Judge(args)) => judge::run(&args),
        Some(Command::Rig(args)) => rig::run(&args),
        Some(Command::Slips(command)) => slips::run(&command),
        Some(Command::Demo(args)) => match demo::make(&args) {
            Ok(folder) if args.opens_window() => return open_window(demo::window_of(&folder)),
            made => made.map(drop),
        },
        Some(Command::Report(args)) => report::run(&args),
        Some(Command::History(command)) => history::run(&command),
        Some(Command::Tech(args)) => tech::run(&args),
    };
    match outcome {
        Ok(()) => ExitCode::SUCCESS,
        Err(error) => {
            eprintln!("lastamber: {}.", error.message);
            ExitCode::from(error.code)
        }
    }
}

/// Writes an answer and a line end. A reader that went away has had enough: no error.
fn print(text: &str) -> Result<(), CliError> {
    let mut out = io::stdout().lock();
    match writeln!(out, "{text}").and_then(|()| out.flush()) {
        Err(error) if error.kind() != ErrorKind::BrokenPipe => {
            Err(CliError::data(format!("standard output: cannot be written: {error}")))
        }
        _ => Ok(()),
    }
}

/// Writes an answer as JSON.
fn print_json<T: Serialize>(answer: &T) -> Result<(), CliError> {
    let text = serde_json::to_string_pretty(answer);
    print(&text.map_err(|e| CliError::data(format!("the answer cannot be written: {e}")))?)
}

#[cfg(feature = "app")]
fn open_window(args: WindowArgs) -> ExitCode {
    crate::app::run(&args)
}

#[cfg(not(feature = "app"))]
fn open_window(_: WindowArgs) -> ExitCode {
    eprintln!("lastamber: this build has no window; build it with the feature `app`.");
    ExitCode::from(2)
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn the_command_line_is_well_formed() {
        manual::with_manual(Cli::command()).debug_assert();
    }

    #[test]
    fn numbers_take_a_leading_minus() {
        let cli = Cli::try_parse_from(["lastamber", "--offset-ms", "-3.5,2"]).unwrap();
        assert_eq!(cli.window.offset_ms, Some(OffsetMs { mean: -3.5, sd: 2.0 }));
    }
}
