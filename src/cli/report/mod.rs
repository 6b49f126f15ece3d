//! `lastamber report`: one's own weeks as text for a terminal, JSON for programs, one HTML file, or a
//! card to pin up.
//!
//! Owns the options and which pages a report has. Refuses to compute and to word: the rooms to its left
//! do.

mod answer;

use super::folder::Folder;
use super::long::Long;
use super::out::write_file;
use super::{CliError, print};
use crate::history::{Loaded, is_demo};
use crate::report::card::{Card, Ground};
use crate::report::desk::{aim_page, setup_words};
use crate::report::home_track::home_to_track_page;
use crate::report::page::Page;
use crate::report::review::review_page;
use crate::report::weeks::weeks_page;
use crate::report::{Document, html, text};
use crate::strategy::StrategyError;
use crate::strategy::desk::{Asked, Desk, Hands};
use crate::strategy::own::{Bridge, OwnLines, OwnSetup};
use crate::strategy::weeks::{Filter, LEVEL, Review, SessionsBy, Weeks, WeeksAsked};
use clap::{Args, ValueEnum};
use jiff::civil::Date;
use std::fmt::Display;
use std::panic::resume_unwind;
use std::path::{Path, PathBuf};
use std::thread;

/// Everything random in a report comes from this: the same history makes the same report.
const SEED: u64 = 1;

/// Weeks, the last session, aim, home against track.
#[derive(Debug, Clone, Args)]
pub struct ReportArgs {
    /// The first day, like 2026-05-01.
    #[arg(long, value_name = "DAY")]
    from: Option<Date>,

    /// The last day.
    #[arg(long, value_name = "DAY")]
    to: Option<Date>,

    /// Of this driver; without it of whoever drove last.
    #[arg(long, value_name = "NAME")]
    driver: Option<String>,

    /// In this car; without it in the one driven last.
    #[arg(long, value_name = "NAME")]
    car: Option<String>,

    /// `text` for a terminal, `json` for programs, `html` for one file that needs nothing else.
    #[arg(long, value_enum, default_value_t = Format::Text)]
    format: Format,

    /// Writes to this file instead of standard output.
    #[arg(long, value_name = "FILE")]
    out: Option<PathBuf>,

    /// Writes one card the size of a time slip instead, to pin up or to share: a `.svg` or a `.png`.
    #[arg(long, value_name = "FILE", conflicts_with_all = ["format", "out"])]
    card: Option<PathBuf>,

    /// The card on a dark ground.
    #[arg(long, requires = "card")]
    dark: bool,

    #[command(flatten)]
    folder: Folder,
}

/// The forms of a report.
#[derive(Debug, Clone, Copy, PartialEq, Eq, ValueEnum)]
enum Format {
    Text,
    Json,
    Html,
}

/// Runs the sub-command.
///
/// # Errors
/// [`CliError`] for a folder that cannot be read, days in the wrong order, or nothing to report on.
pub fn run(args: &ReportArgs) -> Result<(), CliError> {
    if let (Some(from), Some(to)) = (args.from, args.to)
        && from > to
    {
        return Err(CliError::data(format!("--from {from} lies after --to {to}; swap them")));
    }
    let long = Long::harmless("report");
    long.progress().begin("reading your history", 0);
    let loaded = args.folder.load()?;
    long.progress().begin("working it out", 0);
    let demo = is_demo(&args.folder.path()?);
    let excluded = loaded.excluded();
    let told =
        Told::new(args, &loaded, OwnLines { excluded: &excluded, ..OwnLines::from(&loaded) })?;
    drop(long);
    if let Some(file) = &args.card {
        return write_card(file, &told, args, demo);
    }
    let document = told.document(&loaded, demo)?;
    let written = match args.format {
        Format::Text => text(&document),
        Format::Html => html(&document).trim_end().to_owned(),
        Format::Json => serde_json::to_string_pretty(&answer::answer(&document, &told.weeks))
            .map_err(|e| CliError::data(format!("the answer cannot be written: {e}")))?,
    };
    match &args.out {
        None => print(&written),
        Some(out) => write_and_say(out, format!("{written}\n").as_bytes()),
    }
}

fn write_and_say(file: &Path, bytes: &[u8]) -> Result<(), CliError> {
    write_file(file, bytes)?;
    print(&format!("{} is written.", file.display()))
}

/// The card in the form its file's name asks for.
fn write_card(file: &Path, told: &Told, args: &ReportArgs, demo: bool) -> Result<(), CliError> {
    let ground = if args.dark { Ground::Dark } else { Ground::Light };
    let card = || Card::new(&told.setup, &told.weeks, told.desk.as_ref().ok(), demo);
    let ending = file.extension().and_then(|ending| ending.to_str()).map(str::to_ascii_lowercase);
    match ending.as_deref() {
        Some("svg") => write_and_say(file, card().svg(ground).as_bytes()),
        Some("png") => write_and_say(file, &card().png(ground).map_err(CliError::data)?),
        _ => Err(CliError::data(format!(
            "{}: a card is a .svg or a .png; give the file one of these endings",
            file.display()
        ))),
    }
}

/// What a report is made of.
struct Told<'a> {
    lines: OwnLines<'a>,
    setup: OwnSetup,
    filter: Filter,
    weeks: Weeks,
    desk: Result<Desk, StrategyError>,
}

impl<'a> Told<'a> {
    fn new(args: &ReportArgs, loaded: &Loaded, lines: OwnLines<'a>) -> Result<Self, CliError> {
        let setup = newest_setup(args, &lines)?;
        let filter = Filter { from: args.from, to: args.to, ..Filter::of_setup(&setup) };
        let asked = WeeksAsked { filter: filter.clone(), by: SessionsBy::Day, seed: SEED };
        // Aim and the way to the track are of today: days chosen for looking back do not narrow them.
        let asked_today = Asked::test_and_tune(setup.clone(), SEED);
        let of_today = || Desk::by(Hands::Two, &lines, asked_today);
        let (weeks, desk) = thread::scope(|scope| {
            let desk = scope.spawn(of_today);
            let weeks = Weeks::new(&lines, &loaded.forecasts, asked);
            (weeks, desk.join().unwrap_or_else(|panic| resume_unwind(panic)))
        });
        Ok(Self { lines, setup, filter, weeks: weeks.map_err(CliError::data)?, desk })
    }

    fn document(&self, loaded: &Loaded, demo: bool) -> Result<Document, CliError> {
        let review = Review::of_loaded(loaded, Some(self.filter.clone()), None);
        let review = review.map_err(CliError::data)?;
        let bridge = Bridge::new(&self.lines, &self.setup, LEVEL);
        let aim = self.desk.as_ref().map(|desk| aim_page(desk, 0.0));
        let track = bridge.as_ref().map(|bridge| home_to_track_page(bridge.as_ref()));
        let pages = [
            ("Weeks", weeks_page(&self.weeks)),
            ("The last session", review_page(review.as_ref())),
            ("Aim", aim.unwrap_or_else(not_told)),
            ("Home and track", track.unwrap_or_else(not_told)),
        ];
        let setup = &self.setup;
        let about =
            vec![format!("{}: {}.", setup.driver, setup_words(setup)), days_words(&self.weeks)];
        let pages = pages.into_iter().map(|(name, page)| (name.to_owned(), page)).collect();
        Ok(Document { title: "Last Amber: report".to_owned(), about, demo, pages })
    }
}

fn not_told(error: impl Display) -> Page {
    Page::new(format!("Not told: {error}."))
}

/// The set-up of the newest run that was asked for.
fn newest_setup(args: &ReportArgs, lines: &OwnLines) -> Result<OwnSetup, CliError> {
    let asked = Filter {
        driver: args.driver.clone(),
        car: args.car.clone(),
        from: args.from,
        to: args.to,
        ..Filter::default()
    };
    let wanted = |run: &&crate::trial::TrialRecord| !run.setup.scripted && asked.holds(run);
    if let Some(newest) = lines.trials.iter().rev().find(wanted) {
        return Ok(OwnSetup::of(newest));
    }
    let folder = args.folder.path()?;
    let names = |of: &dyn Fn(&crate::trial::TrialRecord) -> String| {
        let mut names: Vec<String> = lines.trials.iter().map(of).collect();
        names.sort();
        names.dedup();
        crate::report::tame(&names.join(", "))
    };
    let why = match lines.trials.is_empty() {
        true => "no run to report on; drive one, or name another folder with --data DIR".to_owned(),
        false => format!(
            "no run is of that driver, car and days; drivers here: {}; cars: {}",
            names(&|run| run.driver.to_string()),
            names(&|run| run.car.name.clone())
        ),
    };
    Err(CliError::data(format!("{}: {why}", folder.display())))
}

fn days_words(weeks: &Weeks) -> String {
    match (weeks.calendar.first(), weeks.calendar.last()) {
        (Some((first, _)), Some((last, _))) => format!("{first} to {last}."),
        _ => "No day with a launch.".to_owned(),
    }
}
