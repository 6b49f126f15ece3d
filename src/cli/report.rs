//! `lastamber report`: one's own weeks as text for a terminal, JSON for programs or one HTML file.
//!
//! Owns the options, which pages a report has, and the JSON. Refuses to compute and to word: the rooms
//! to its left do.

use super::folder::Folder;
use super::history::write_file;
use super::long::Long;
use super::{CliError, print};
use crate::history::{Loaded, is_demo};
use crate::progress::Progress;
use crate::report::desk::{aim_page, setup_words};
use crate::report::home_track::home_to_track_page;
use crate::report::page::{Block, Page};
use crate::report::review::review_page;
use crate::report::weeks::weeks_page;
use crate::report::{Document, html, text};
use crate::stats::Estimate;
use crate::strategy::StrategyError;
use crate::strategy::desk::{Asked, Desk};
use crate::strategy::own::{Bridge, OwnLines, OwnSetup};
use crate::strategy::weeks::{Filter, LEVEL, Review, Session, SessionsBy, Weeks};
use clap::{Args, ValueEnum};
use jiff::civil::Date;
use serde::Serialize;
use std::path::PathBuf;

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
    let loaded = args.folder.load_with(long.progress())?;
    let demo = is_demo(&args.folder.path()?);
    let told = made(args, &loaded, demo, long.progress())?;
    let written = match args.format {
        Format::Text => text(&told.document),
        Format::Html => html(&told.document).trim_end().to_owned(),
        Format::Json => serde_json::to_string_pretty(&answer(&told))
            .map_err(|e| CliError::data(format!("the answer cannot be written: {e}")))?,
    };
    drop(long);
    match &args.out {
        None => print(&written),
        Some(out) => {
            write_file(out, format!("{written}\n").as_bytes())?;
            print(&format!("{} is written.", out.display()))
        }
    }
}

/// A report and the numbers under it.
struct Told {
    document: Document,
    weeks: Weeks,
}

fn made(
    args: &ReportArgs,
    loaded: &Loaded,
    demo: bool,
    progress: &Progress,
) -> Result<Told, CliError> {
    progress.begin("working out", 4);
    let next = || progress.advance(1).map_err(CliError::cancelled);
    let excluded = loaded.excluded();
    let lines = OwnLines { excluded: &excluded, ..OwnLines::from(loaded) };
    let setup = newest_setup(args, &lines)?;
    let filter = Filter { from: args.from, to: args.to, ..Filter::of_setup(&setup) };
    let weeks = Weeks::of_loaded(loaded, Some(filter.clone()), SessionsBy::Day, SEED)
        .map_err(CliError::data)?;
    next()?;
    let review = Review::of_loaded(loaded, Some(filter), None).map_err(CliError::data)?;
    let mut pages = vec![
        ("Weeks".to_owned(), weeks_page(&weeks)),
        ("The last session".to_owned(), review_page(review.as_ref())),
    ];
    next()?;
    // Aim and the way to the track are of today: days chosen for looking back do not narrow them.
    let desk = Desk::new(&lines, Asked::test_and_tune(setup.clone(), SEED));
    pages.extend(page("Aim", desk.map(|desk| aim_page(&desk, 0.0))));
    next()?;
    let bridge = Bridge::new(&lines, &setup, LEVEL).map_err(StrategyError::from);
    pages.extend(page("Home and track", bridge.map(|bridge| home_to_track_page(bridge.as_ref()))));
    let about = vec![format!("{}: {}.", setup.driver, setup_words(&setup)), days_words(&weeks)];
    let document = Document { title: "Last Amber: report".to_owned(), about, demo, pages };
    Ok(Told { document, weeks })
}

/// A page, or why there is none.
fn page(name: &str, page: Result<Page, StrategyError>) -> Option<(String, Page)> {
    let page = page.unwrap_or_else(|error| Page::new(format!("Not told: {error}.")));
    Some((name.to_owned(), page))
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
            names(&|run| run.driver.clone()),
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

#[derive(Debug, Serialize)]
struct Answer {
    demo: bool,
    about: Vec<String>,
    from: Option<String>,
    to: Option<String>,
    headline: String,
    reds: usize,
    red: Option<Number>,
    red_without_exclusions: Option<Number>,
    spread_changed: Option<Change>,
    level_changed: Option<Change>,
    sessions: Vec<SessionAnswer>,
    pages: Vec<PageAnswer>,
}

/// A value with its interval; times in milliseconds where the key says so, else as they are.
#[derive(Debug, Serialize)]
struct Number {
    value: f64,
    low: f64,
    high: f64,
    level: f64,
    n: usize,
}

impl Number {
    fn of(e: &Estimate, unit: f64) -> Self {
        let Estimate { value, low, high, level, n } = *e;
        Self { value: unit * value, low: unit * low, high: unit * high, level, n }
    }
}

#[derive(Debug, Serialize)]
struct Change {
    sessions: usize,
    before: usize,
    by_ms: Number,
}

#[derive(Debug, Serialize)]
struct SessionAnswer {
    began: String,
    launches: usize,
    reds: usize,
    red: Option<Number>,
    red_without_exclusions: Option<Number>,
    median_ms: Option<Number>,
    spread_ms: Option<Number>,
    light_s: Option<Number>,
    excluded: usize,
    void: usize,
    abandoned: usize,
    lapsed: usize,
    left_before_tree: usize,
    timed_out: usize,
}

#[derive(Debug, Serialize)]
struct PageAnswer {
    name: String,
    headline: String,
    said: Vec<String>,
}

fn answer(told: &Told) -> Answer {
    let weeks = &told.weeks;
    let change = |c: crate::stats::over_time::sessions::Changed| Change {
        sessions: c.sessions,
        before: c.before,
        by_ms: Number::of(&c.by, 1e3),
    };
    let share = |e: &Option<Estimate>| e.as_ref().map(|e| Number::of(e, 1.0));
    let compared = weeks.compared.as_ref();
    let pages = told.document.pages.iter().map(|(name, page)| PageAnswer {
        name: name.clone(),
        headline: page.headline.clone(),
        said: page.blocks.iter().flat_map(said).collect(),
    });
    Answer {
        demo: told.document.demo,
        about: told.document.about.clone(),
        from: weeks.calendar.first().map(|(day, _)| day.to_string()),
        to: weeks.calendar.last().map(|(day, _)| day.to_string()),
        headline: crate::report::weeks::headline(weeks),
        reds: weeks.reds,
        red: share(&weeks.red),
        red_without_exclusions: share(&weeks.red_without_exclusions),
        spread_changed: compared.and_then(|c| c.spread.changed).map(change),
        level_changed: compared.and_then(|c| c.level.changed).map(change),
        sessions: weeks.sessions.iter().map(session_answer).collect(),
        pages: pages.collect(),
    }
}

/// The sentences of a block; plots and tables are in the numbers.
fn said(block: &Block) -> Vec<String> {
    match block {
        Block::Text(text) | Block::Note(text) | Block::Caution(text) => vec![text.clone()],
        Block::Points(points) => points.clone(),
        _ => Vec::new(),
    }
}

fn session_answer(session: &Session) -> SessionAnswer {
    let counts = &session.own.counts;
    let number = |e: &Option<Estimate>, unit| e.as_ref().map(|e| Number::of(e, unit));
    SessionAnswer {
        began: session.began.clone(),
        launches: counts.launches,
        reds: session.reds,
        red: number(&session.red, 1.0),
        red_without_exclusions: number(&session.red_without_exclusions, 1.0),
        median_ms: number(&session.median_s, 1e3),
        spread_ms: number(&session.spread_s, 1e3),
        light_s: number(&session.light_s, 1.0),
        excluded: counts.excluded,
        void: counts.void,
        abandoned: counts.abandoned,
        lapsed: counts.lapses,
        left_before_tree: counts.left_before_tree,
        timed_out: counts.timed_out,
    }
}
