//! `lastamber demo`: six weeks of a made-up driver, or years, in a folder of their own.
//!
//! Owns the sub-command's options and what it prints. Refuses to make up a line: the demo room does.

use super::folder::told;
use super::long::Long;
use super::{CliError, WindowArgs, print};
use crate::demo::{DemoError, MOST_YEARS, demo_lines, demo_years, truth};
use crate::history::{HistoryError, Line, default_demo_path, write_demo_with};
use clap::Args;
use std::path::{Path, PathBuf};

/// Six weeks of a made-up driver, or years, in a folder of their own, marked as a demo.
#[derive(Debug, Clone, Args)]
pub struct DemoArgs {
    /// The same number makes up the same weeks.
    #[arg(long, value_name = "N", default_value_t = 1, allow_hyphen_values = true)]
    seed: u64,

    /// So many years of five evenings a week instead of six weeks, 35,000 runs each: what a long
    /// history does. Best in a folder of their own.
    #[arg(long, value_name = "N", value_parser = clap::value_parser!(u64).range(1..=MOST_YEARS as u64))]
    years: Option<u64>,

    /// Folder for them; `demo` in the usual data folder if not given. An earlier demo in it is
    /// replaced, your own runs never are.
    #[arg(long, value_name = "DIR")]
    data: Option<PathBuf>,

    /// Only makes it up; the window is not opened on it.
    #[arg(long)]
    no_window: bool,
}

impl DemoArgs {
    /// Whether the window is to be opened on it: not where a build has none.
    pub fn opens_window(&self) -> bool {
        cfg!(feature = "app") && !self.no_window
    }
}

/// The window's options for a demo: its folder and its driver.
pub fn window_of(folder: &Path) -> WindowArgs {
    WindowArgs::on(folder, truth::DRIVER)
}

/// Makes the demo and gives its folder, for whoever opens it.
///
/// # Errors
/// [`CliError`] for a folder that cannot be written or that holds runs of somebody's own.
pub fn make(args: &DemoArgs) -> Result<PathBuf, CliError> {
    let folder = match &args.data {
        Some(folder) => folder.clone(),
        None => default_demo_path().map_err(told)?,
    };
    let long = Long::begin();
    let lines = match args.years {
        None => demo_lines(args.seed),
        Some(years) => demo_years(years as usize, args.seed, long.progress()),
    };
    let lines = lines.map_err(|error| match error {
        DemoError::Cancelled(_) => nothing_made(),
        error => CliError::data(error),
    })?;
    write_demo_with(&folder, args.seed, &lines, long.progress()).map_err(|error| match error {
        HistoryError::Cancelled(_) => nothing_made(),
        error => told(error),
    })?;
    drop(long);
    print(&words(&lines, args.years, &folder))?;
    Ok(folder)
}

fn nothing_made() -> CliError {
    CliError::cancelled("cancelled; the folder is as it was. Run it again for the demo")
}

fn words(lines: &[Line], years: Option<u64>, folder: &Path) -> String {
    let count = |kind: &str| lines.iter().filter(|line| line.kind() == kind).count();
    let time = match years {
        None => "six weeks".to_owned(),
        Some(1) => "a year".to_owned(),
        Some(years) => format!("{years} years"),
    };
    format!(
        "DEMO: {time} of {} in {}, {} runs and {} slips, all made up, are in {}.",
        truth::DRIVER,
        truth::CAR,
        count("trial"),
        count("slip"),
        folder.display()
    )
}
