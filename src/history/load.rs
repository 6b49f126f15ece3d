//! A whole history in memory: good lines once each, and what was set aside.
//!
//! Owns the recognition of a line that was written twice. Refuses to choose between two lines that
//! contradict each other: the first stays, the other is reported.

use std::collections::HashMap;
use std::io::BufRead;

use super::car_line::CarLine;
use super::error::HistoryError;
use super::exclusion_line::{ExclusionLine, exclusions_in_force};
use super::film_line::FilmLine;
use super::forecast_line::ForecastLine;
use super::ids;
use super::line::Line;
use super::read::{Damaged, Found, Reader, Why};
use super::rig_line::RigLine;
use super::slip_line::SlipLine;
use super::trial_line::{RigPrintLine, TrialLine};
use crate::progress::Progress;
use crate::trial::{RigPrint, TrialRecord};
use uuid::Uuid;

/// How many damaged places are listed; the rest is only counted. Chosen, because nobody reads
/// more, and a file of nothing but damage must not fill the memory.
pub const MAX_REPORTED: usize = 1000;

/// What a history holds.
#[derive(Debug, Clone, Default, PartialEq)]
pub struct Loaded {
    /// The runs, in the order they were saved.
    pub trials: Vec<TrialRecord>,
    /// The answers about cars, in the order they were saved.
    pub cars: Vec<CarLine>,
    /// The self tests of rigs, in the order they were saved.
    pub rigs: Vec<RigLine>,
    /// The delays measured by film, in the order they were saved.
    pub films: Vec<FilmLine>,
    /// The forecasts, in the order they were saved.
    pub forecasts: Vec<ForecastLine>,
    /// The slips, in the order they were saved, those that were corrected later included; see
    /// [`slips_in_force`](super::slips_in_force).
    pub slips: Vec<SlipLine>,
    /// Runs left out and taken in again, in the order they were saved; see [`Loaded::excluded`].
    pub exclusions: Vec<ExclusionLine>,
    /// Lines of a kind or version this program does not know. They stay in the file.
    pub newer_count: usize,
    /// Lines that repeat one before them exactly, and are counted once.
    pub repeated_count: usize,
    /// What was set aside, the first [`MAX_REPORTED`] places.
    pub damaged: Vec<Damaged>,
    /// How many places were set aside.
    pub damaged_count: usize,
    /// The file ends in a line that was never completed; it is the last of the damaged places.
    pub torn_tail: bool,
}

/// Where the first line of an id went.
#[derive(Debug)]
struct First {
    line_number: u64,
    index: usize,
}

/// A history while it is read.
#[derive(Debug, Default)]
pub(super) struct Loading {
    loaded: Loaded,
    /// The youngest of its ids that are of our own order.
    youngest: Option<Uuid>,
    known: HashMap<(&'static str, String), First>,
}

/// Reads a whole history.
///
/// # Errors
/// [`HistoryError::Read`] if the reader fails. Damage is no error: it is in the answer.
pub fn load<R: BufRead>(from: R) -> Result<Loaded, HistoryError> {
    load_with(from, &Progress::default())
}

/// The same, telling after every line how many bytes are read.
///
/// # Errors
/// As [`load`], and [`HistoryError::Cancelled`].
pub fn load_with<R: BufRead>(from: R, progress: &Progress) -> Result<Loaded, HistoryError> {
    let mut reader = Reader::new(from);
    let mut loading = Loading::default();
    while let Some(found) = reader.next_found()? {
        progress.reach(reader.offset())?;
        loading.take(found);
    }
    Ok(loading.finish(reader.torn_tail()))
}

impl Loading {
    /// What stands next.
    pub fn take(&mut self, found: Found) {
        let loaded = &mut self.loaded;
        match found {
            Found::Newer { .. } => loaded.newer_count += 1,
            Found::Damaged(damaged) => loaded.report(damaged),
            Found::Line { line, line_number, byte_offset, .. } => {
                let key = (line.kind(), line.id().to_owned());
                self.youngest = self.youngest.max(ids::read(line.id()));
                let Some(first) = self.known.get(&key) else {
                    self.known.insert(key, First { line_number, index: loaded.keep(line) });
                    return;
                };
                if loaded.says_the_same(&line, first.index) {
                    loaded.repeated_count += 1;
                    return;
                }
                let (id, first_line_number) = (key.1, first.line_number);
                let text = format!("{} {id}", key.0);
                let why = Why::IdTaken { id, first_line_number };
                loaded.report(Damaged { line_number, byte_offset, why, text });
            }
        }
    }

    /// Damaged places that nobody listed.
    pub fn take_more_damaged(&mut self, places: usize) {
        self.loaded.damaged_count += places;
    }

    /// The history, at the end of the file.
    pub fn finish(self, torn_tail: bool) -> Loaded {
        ids::remember(self.youngest);
        Loaded { torn_tail, ..self.loaded }
    }
}

impl Loaded {
    /// The newest self test of each rig, newest first. Which rigs are the same says
    /// [`RigPrint::is_same_rig`].
    pub fn newest_rigs(&self) -> Vec<&RigLine> {
        newest_of_each(&self.rigs, |line| &line.rig)
    }

    /// The newest film of each rig, newest first.
    pub fn newest_films(&self) -> Vec<&FilmLine> {
        newest_of_each(&self.films, |line| &line.rig)
    }

    /// Ids of the runs the driver leaves out.
    pub fn excluded(&self) -> Vec<String> {
        exclusions_in_force(&self.exclusions).into_iter().map(|line| line.trial.clone()).collect()
    }

    /// Why the driver leaves runs out, by their ids.
    pub fn reasons_left_out(&self) -> HashMap<&str, &str> {
        let in_force = exclusions_in_force(&self.exclusions).into_iter();
        in_force.map(|line| (line.trial.as_str(), line.reason.as_str())).collect()
    }

    /// Keeps a line and gives its place among its kind.
    fn keep(&mut self, line: Line) -> usize {
        fn push<T>(list: &mut Vec<T>, value: T) -> usize {
            list.push(value);
            list.len() - 1
        }
        match line {
            Line::Trial(line) => push(&mut self.trials, TrialRecord::from(*line)),
            Line::Car(line) => push(&mut self.cars, *line),
            Line::Rig(line) => push(&mut self.rigs, *line),
            Line::Film(line) => push(&mut self.films, *line),
            Line::Forecast(line) => push(&mut self.forecasts, *line),
            Line::Slip(line) => push(&mut self.slips, *line),
            Line::Exclusion(line) => push(&mut self.exclusions, *line),
        }
    }

    /// Whether `line` says what the one kept at `index` says. Compared as written, because a
    /// number that is not one never equals itself.
    fn says_the_same(&self, line: &Line, index: usize) -> bool {
        let kept = match line {
            Line::Trial(_) => Line::from(TrialLine::from(self.trials[index].clone())),
            Line::Car(_) => Line::from(self.cars[index].clone()),
            Line::Rig(_) => Line::from(self.rigs[index].clone()),
            Line::Film(_) => Line::from(self.films[index].clone()),
            Line::Forecast(_) => Line::from(self.forecasts[index].clone()),
            Line::Slip(_) => Line::from(self.slips[index].clone()),
            Line::Exclusion(_) => Line::from(self.exclusions[index].clone()),
        };
        matches!((kept.to_json(), line.to_json()), (Ok(a), Ok(b)) if a == b)
    }

    fn report(&mut self, damaged: Damaged) {
        self.damaged_count += 1;
        if self.damaged.len() < MAX_REPORTED {
            self.damaged.push(damaged);
        }
    }
}

/// From the back, each line whose rig was not met yet.
fn newest_of_each<T>(lines: &[T], rig: impl Fn(&T) -> &RigPrintLine) -> Vec<&T> {
    let mut met: Vec<RigPrint> = Vec::new();
    let mut newest = Vec::new();
    for line in lines.iter().rev() {
        let print = RigPrint::from(rig(line).clone());
        if !met.iter().any(|known| known.is_same_rig(&print)) {
            met.push(print);
            newest.push(line);
        }
    }
    newest
}
