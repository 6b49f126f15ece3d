//! A whole history in memory: good lines once each, and what was set aside.
//!
//! Owns the recognition of a line that was written twice. Refuses to choose between two lines that
//! contradict each other: the first stays, the other is reported.

use std::collections::{BTreeMap, HashMap};
use std::io::BufRead;

use super::car_line::CarLine;
use super::error::HistoryError;
use super::exclusion_line::{ExclusionLine, exclusions_in_force};
use super::film_line::FilmLine;
use super::forecast_line::ForecastLine;
use super::ids;
use super::known::Known;
use super::line::{CAR, FILM, FORECAST, Line, RIG, SLIP, TRIAL};
use super::quick::QuickRuns;
use super::read::{Damaged, Entry, Found, Reader, Why};
use super::rig_line::RigLine;
use super::slip_line::SlipLine;
use super::trial_line::{RigPrintLine, TrialLine};
use crate::progress::Progress;
use crate::trial::{Id, RigPrint, TrialRecord};
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

/// A history while it is read.
#[derive(Debug, Default)]
pub(super) struct Loading {
    pub loaded: Loaded,
    /// The youngest of its ids that are of our own order.
    pub youngest: Option<Uuid>,
    /// Ids by the kind of their lines.
    pub known: BTreeMap<&'static str, Known>,
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
                match self.first_of(line.kind(), &line.id().into(), line_number) {
                    None => self.loaded.keep(line),
                    Some(first) => self.again(&line, line_number, byte_offset, first),
                }
            }
        }
    }

    fn take_run(&mut self, record: TrialRecord, line_number: u64, byte_offset: u64) {
        match self.first_of(TRIAL, &record.id, line_number) {
            None => self.loaded.trials.push(record),
            Some(first) => self.again(&record.into(), line_number, byte_offset, first),
        }
    }

    /// Place and number of the line that has this id already; none, and the new one is noted, if there is
    /// no such line.
    fn first_of(&mut self, kind: &'static str, id: &Id, line_number: u64) -> Option<(usize, u64)> {
        self.youngest = self.youngest.max(ids::of_our_order(id));
        let known = self.known.entry(kind).or_default();
        known.first_of(id, line_number, |place| self.loaded.id_at(kind, place))
    }

    /// A line whose id was there before.
    fn again(
        &mut self,
        line: &Line,
        line_number: u64,
        byte_offset: u64,
        (place, first_line_number): (usize, u64),
    ) {
        if self.loaded.says_the_same(line, place) {
            self.loaded.repeated_count += 1;
            return;
        }
        let id = line.id().to_owned();
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

    /// The id of the line of a kind that is kept at a place, if there is one.
    fn id_at(&self, kind: &str, index: usize) -> Option<Id> {
        let text = match kind {
            TRIAL => return self.trials.get(index).map(|run| run.id.clone()),
            CAR => self.cars.get(index).map(|line| line.id.as_str()),
            RIG => self.rigs.get(index).map(|line| line.id.as_str()),
            FILM => self.films.get(index).map(|line| line.id.as_str()),
            FORECAST => self.forecasts.get(index).map(|line| line.id.as_str()),
            SLIP => self.slips.get(index).map(|line| line.id.as_str()),
            _ => self.exclusions.get(index).map(|line| line.id.as_str()),
        };
        text.map(Id::from)
    }

    /// How many lines of a kind are kept.
    pub(super) fn count_of(&self, kind: &str) -> usize {
        match kind {
            TRIAL => self.trials.len(),
            CAR => self.cars.len(),
            RIG => self.rigs.len(),
            FILM => self.films.len(),
            FORECAST => self.forecasts.len(),
            SLIP => self.slips.len(),
            _ => self.exclusions.len(),
        }
    }

    /// Every line that is kept and is no run, one kind after the other.
    pub(super) fn other_lines(&self) -> impl Iterator<Item = Line> {
        let cars = self.cars.iter().cloned().map(Line::from);
        let rigs = self.rigs.iter().cloned().map(Line::from);
        let films = self.films.iter().cloned().map(Line::from);
        let forecasts = self.forecasts.iter().cloned().map(Line::from);
        let slips = self.slips.iter().cloned().map(Line::from);
        let exclusions = self.exclusions.iter().cloned().map(Line::from);
        cars.chain(rigs).chain(films).chain(forecasts).chain(slips).chain(exclusions)
    }

    pub(super) fn keep(&mut self, line: Line) {
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
