//! The constant delay in force, and what it does to colours.
//!
//! Owns the choice (given by hand, filmed on this very rig, or assumed), the re-reading of past runs
//! and what a doubt about the delay means for red lights. Refuses to measure it (`film` does) and
//! to alter a run: the record keeps its raw driver part.

mod colours;
mod red_light;

pub use colours::{Reread, RereadRuns, RunClass, reread, rt_today};
pub use red_light::{RedLight, red_light};

use crate::history::FilmLine;
use crate::tree::Outcome;
use crate::trial::{OffsetInForce, RigChange, RigPrint, TrialRecord};
use crate::units::{Measured, Span};

/// The delay assumed for a rig nobody has measured: 35 ± 15 ms, the middle of the 10–60 ms that
/// ordinary keyboards and displays add (common practice, no single source; the spread is chosen).
/// Uncorrected, practice would teach leaving that much too early.
pub const ASSUMED_OFFSET_MS: Measured = Measured::new(35.0, 15.0);

/// The word for a delay nobody has measured.
pub const ASSUMED: &str = "assumed";
/// The word for a delay given by hand.
pub const GIVEN: &str = "given";
/// The word for a delay measured by film.
pub const FILMED: &str = "filmed";

/// All films there are, to choose from.
#[derive(Debug, Clone, Default)]
pub struct Films(Vec<Filmed>);

#[derive(Debug, Clone)]
struct Filmed {
    id: String,
    rig: RigPrint,
    ms: Measured,
    presses: u32,
}

/// A delay in force, and why this one.
#[derive(Debug, Clone, PartialEq)]
pub struct OffsetChoice {
    /// The delay.
    pub offset: OffsetInForce,
    /// The film it rests on: its id and the presses that count.
    pub film: Option<(String, u32)>,
    /// What is different from the rig that was filmed and resembles this one most. Empty unless the
    /// delay is assumed although films of other rigs exist.
    pub changes: Vec<RigChange>,
}

impl Films {
    /// The films of a history, in the order they were saved. A film whose delay is no number is
    /// passed over.
    pub fn new(lines: &[FilmLine]) -> Self {
        let usable = |line: &&FilmLine| {
            line.offset_ms.is_finite()
                && line.standard_error_ms.is_finite()
                && line.standard_error_ms >= 0.0
        };
        let filmed = |line: &FilmLine| Filmed {
            id: line.id.clone(),
            rig: line.rig.clone().into(),
            ms: Measured::new(line.offset_ms, line.standard_error_ms),
            presses: line.n,
        };
        Self(lines.iter().filter(usable).map(filmed).collect())
    }

    /// The delay in force on `rig`: the one `given` by hand, else the newest film of the same rig,
    /// else [`ASSUMED_OFFSET_MS`]. Which rigs are the same says [`RigPrint::changes_since`].
    pub fn choose(&self, rig: &RigPrint, given: Option<Measured>) -> OffsetChoice {
        let choice = |ms, from: &str| OffsetChoice {
            offset: OffsetInForce { ms, from: from.to_owned() },
            film: None,
            changes: Vec::new(),
        };
        if let Some(ms) = given {
            return choice(ms, GIVEN);
        }
        // The first of the least is the newest: films are looked at from the back.
        let compared = self.0.iter().rev().map(|film| (film, rig.changes_since(&film.rig)));
        match compared.min_by_key(|(_, changes)| changes.len()) {
            None => choice(ASSUMED_OFFSET_MS, ASSUMED),
            Some((film, changes)) if changes.is_empty() => OffsetChoice {
                film: Some((film.id.clone(), film.presses)),
                ..choice(film.ms, FILMED)
            },
            Some((_, changes)) => OffsetChoice { changes, ..choice(ASSUMED_OFFSET_MS, ASSUMED) },
        }
    }

    /// The delay that holds today for a run of the past: the newest film of its rig, else what was
    /// given by hand then, else the one assumed today.
    pub fn today(&self, run: &TrialRecord) -> Measured {
        // What [`Films::choose`] would choose, without its words: this is asked of every run.
        match self.0.iter().rev().find(|film| run.rig.is_same_rig(&film.rig)) {
            Some(film) => film.ms,
            None if run.offset.from == GIVEN => run.offset.ms,
            None => ASSUMED_OFFSET_MS,
        }
    }

    /// How colours of past runs change when they are read with today's delay. Only green and red
    /// runs have one; scripted ones are counted apart.
    pub fn reread<'a>(&self, runs: impl IntoIterator<Item = &'a TrialRecord>) -> RereadRuns {
        let coloured = |run: &&TrialRecord| matches!(run.outcome, Outcome::Green | Outcome::Red);
        let runs = runs.into_iter().filter(coloured).filter_map(|run| {
            let class = if run.setup.scripted { RunClass::Scripted } else { RunClass::Counts };
            let today = Span::from_ms_f64(self.today(run).value);
            Some((run.parts?, today, class))
        });
        reread(runs)
    }
}

impl OffsetChoice {
    /// What to say aloud when a rig that was filmed is not this one any more:
    /// `display: x11 1280x720 → x11 1920x1080; offset starts anew (assumed 35 ± 15 ms)`.
    pub fn starts_anew(&self) -> Option<String> {
        if self.changes.is_empty() {
            return None;
        }
        let changes: Vec<String> = self.changes.iter().map(ToString::to_string).collect();
        let offset = offset_words(&self.offset);
        Some(format!("{}; offset starts anew ({offset})", changes.join("; ")))
    }
}

/// `assumed 35 ± 15 ms`, `filmed 24.1 ± 1.2 ms`: to a tenth, zeros left away.
pub fn offset_words(offset: &OffsetInForce) -> String {
    let tenth = |ms: f64| (ms * 10.0).round() / 10.0;
    format!("{} {} ± {} ms", offset.from, tenth(offset.ms.value), tenth(offset.ms.sd))
}
