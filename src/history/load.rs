//! A whole history in memory: good lines once each, and what was set aside.
//!
//! Owns the recognition of a line that was written twice. Refuses to choose between two lines that
//! contradict each other: the first stays, the other is reported.

use std::collections::HashMap;
use std::hash::{BuildHasher, RandomState};
use std::io::BufRead;

use super::car_line::CarLine;
use super::error::HistoryError;
use super::exclusion_line::{ExclusionLine, exclusions_in_force};
use super::film_line::FilmLine;
use super::forecast_line::ForecastLine;
use super::ids;
use super::line::{CAR, FILM, FORECAST, Line, RIG, SLIP, TRIAL};
use super::quick::QuickRuns;
use super::read::{Damaged, Entry, Found, Reader, Why};
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
#[derive(Debug, Clone, Copy)]
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
    /// By a number made of kind and id, and where that is taken by another id, the next free one.
    known: HashMap<u64, First>,
    hasher: RandomState,
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
    let (mut loading, mut quick) = (Loading::default(), QuickRuns::default());
    while let Some(entry) = reader.next_entry(|value| quick.read(value))? {
        progress.reach(reader.offset())?;
        loading.take(entry);
    }
    Ok(loading.finish(reader.torn_tail()))
}

impl Loading {
    /// What stands next.
    pub fn take(&mut self, entry: Entry<TrialRecord>) {
        match entry {
            Entry::Quick { value, line_number, byte_offset } => {
                self.take_run(value, line_number, byte_offset);
            }
            Entry::Found(Found::Newer { .. }) => self.loaded.newer_count += 1,
            Entry::Found(Found::Damaged(damaged)) => self.loaded.report(damaged),
            Entry::Found(Found::Line {
                line: Line::Trial(line), line_number, byte_offset, ..
            }) => {
                self.take_run((*line).into(), line_number, byte_offset);
            }
            Entry::Found(Found::Line { line, line_number, byte_offset, .. }) => {
                let index = self.loaded.count_of(&line);
                match self.first_of(line.kind(), line.id(), First { line_number, index }) {
                    None => self.loaded.keep(line),
                    Some(first) => self.again(&line, line_number, byte_offset, first),
                }
            }
        }
    }

    fn take_run(&mut self, record: TrialRecord, line_number: u64, byte_offset: u64) {
        let index = self.loaded.trials.len();
        match self.first_of(TRIAL, &record.id, First { line_number, index }) {
            None => self.loaded.trials.push(record),
            Some(first) => self.again(&record.into(), line_number, byte_offset, first),
        }
    }

    /// The line that has this id already; none, and `new` is noted, if there is no such line.
    fn first_of(&mut self, kind: &'static str, id: &str, new: First) -> Option<First> {
        self.youngest = self.youngest.max(ids::read(id));
        let mut key = self.hasher.hash_one((kind, id));
        while let Some(first) = self.known.get(&key) {
            if self.loaded.id_at(kind, first.index) == Some(id) {
                return Some(*first);
            }
            key = key.wrapping_add(1);
        }
        self.known.insert(key, new);
        None
    }

    /// A line whose id was there before.
    fn again(&mut self, line: &Line, line_number: u64, byte_offset: u64, first: First) {
        if self.loaded.says_the_same(line, first.index) {
            self.loaded.repeated_count += 1;
            return;
        }
        let (id, first_line_number) = (line.id().to_owned(), first.line_number);
        let text = format!("{} {id}", line.kind());
        let why = Why::IdTaken { id, first_line_number };
        self.loaded.report(Damaged { line_number, byte_offset, why, text });
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

    /// How many lines of its kind are kept.
    fn count_of(&self, line: &Line) -> usize {
        match line {
            Line::Trial(_) => self.trials.len(),
            Line::Car(_) => self.cars.len(),
            Line::Rig(_) => self.rigs.len(),
            Line::Film(_) => self.films.len(),
            Line::Forecast(_) => self.forecasts.len(),
            Line::Slip(_) => self.slips.len(),
            Line::Exclusion(_) => self.exclusions.len(),
        }
    }

    /// The id of the line of a kind that is kept at a place, if there is one.
    fn id_at(&self, kind: &str, index: usize) -> Option<&str> {
        match kind {
            TRIAL => self.trials.get(index).map(|run| run.id.as_str()),
            CAR => self.cars.get(index).map(|line| line.id.as_str()),
            RIG => self.rigs.get(index).map(|line| line.id.as_str()),
            FILM => self.films.get(index).map(|line| line.id.as_str()),
            FORECAST => self.forecasts.get(index).map(|line| line.id.as_str()),
            SLIP => self.slips.get(index).map(|line| line.id.as_str()),
            _ => self.exclusions.get(index).map(|line| line.id.as_str()),
        }
    }

    fn keep(&mut self, line: Line) {
        match line {
            Line::Trial(line) => self.trials.push(TrialRecord::from(*line)),
            Line::Car(line) => self.cars.push(*line),
            Line::Rig(line) => self.rigs.push(*line),
            Line::Film(line) => self.films.push(*line),
            Line::Forecast(line) => self.forecasts.push(*line),
            Line::Slip(line) => self.slips.push(*line),
            Line::Exclusion(line) => self.exclusions.push(*line),
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

#[cfg(test)]
mod tests {
    use super::*;
    use crate::demo::demo_lines;
    use crate::history::new_id;

    #[test]
    fn an_id_is_younger_than_every_run_that_was_read_the_short_way() {
        let lines = demo_lines(2).unwrap();
        let run = lines.into_iter().find(|line| matches!(line, Line::Trial(_))).unwrap();
        let id = "0fffffff-ffff-7abc-8def-0123456789ab";
        let value = run.to_json().unwrap().replace(run.id(), id);
        assert!(QuickRuns::default().read(&value).is_some());
        let loaded = load(&super::super::envelope::seal(&value)[..]).unwrap();
        assert_eq!(loaded.trials[0].id, id);
        assert!(new_id().as_str() > id);
    }
}
