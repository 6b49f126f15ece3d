//! The command line: words and options → what to run, and the exit code.
//!
//! Owns clap's types and how errors are told: one or two lines on standard error, standard output
//! left empty, exit codes 1–99. Refuses to compute anything.

pub mod risk;
mod window;

pub use window::{OffsetMs, Size, Sources, Stall, WindowArgs};

use clap::Parser;
use std::process::ExitCode;

/// Rehearse the drag-strip start line at home. Without a sub-command the start line opens.
#[derive(Debug, Parser)]
#[command(version, about, max_term_width = 100)]
struct Cli {
    #[command(flatten)]
    window: WindowArgs,
}

/// Runs the program as the command line asks.
pub fn run() -> ExitCode {
    let cli = Cli::parse();
    open_window(cli.window)
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
    use clap::CommandFactory;

    #[test]
    fn the_command_line_is_well_formed() {
        Cli::command().debug_assert();
    }

    #[test]
    fn numbers_take_a_leading_minus() {
        let cli = Cli::try_parse_from(["lastamber", "--offset-ms", "-3.5,2"]).unwrap();
        assert_eq!(cli.window.offset_ms, Some(OffsetMs { mean: -3.5, sd: 2.0 }));
    }
}
