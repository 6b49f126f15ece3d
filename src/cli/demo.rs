//! `lastamber demo`: six weeks of a made-up driver in a folder of their own.
//!
//! Owns the sub-command's options and what it prints. Refuses to make up a line: the demo room does.

use super::folder::told;
use super::{CliError, WindowArgs, print};
use crate::demo::{demo_lines, truth};
use crate::history::{Line, default_demo_path, write_demo};
use clap::Args;
use std::path::{Path, PathBuf};

/// Six weeks of a made-up driver in a folder of their own, marked as a demo.
#[derive(Debug, Clone, Args)]
pub struct DemoArgs {
    /// The same number makes up the same weeks.
    #[arg(long, value_name = "N", default_value_t = 1)]
    seed: u64,

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
    let lines = demo_lines(args.seed).map_err(CliError::data)?;
    write_demo(&folder, args.seed, &lines).map_err(told)?;
    print(&words(&lines, &folder))?;
    Ok(folder)
}

fn words(lines: &[Line], folder: &Path) -> String {
    let count = |kind: &str| lines.iter().filter(|line| line.kind() == kind).count();
    format!(
        "DEMO: six weeks of {} in {}, {} runs and {} slips, all made up, are in {}.",
        truth::DRIVER,
        truth::CAR,
        count("trial"),
        count("slip"),
        folder.display()
    )
}
