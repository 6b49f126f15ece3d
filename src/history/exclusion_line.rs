//! A run the driver wants left out of the statistics, as it stands on disk.
//!
//! Owns the shape of the `exclusion` line, version 1, and which exclusions are in force: the newest line
//! about a run. Refuses to take a run away: a red stays counted, and taking the exclusion back is
//! another line.
//!
//! ```text
//! {"kind":"exclusion","v":1,"id":"…","saved_at":"…","trial":"<id of the run>","excluded":true,
//!  "reason":"the phone rang"}
//! ```

use std::collections::HashMap;

use serde::{Deserialize, Serialize};

use super::error::HistoryError;

/// That a run is to be left out, or taken in again, and why.
#[derive(Debug, Clone, PartialEq, Eq, Serialize, Deserialize)]
pub struct ExclusionLine {
    /// Unique for all machines and times, ordered by time, like the id of a run.
    pub id: String,
    /// Wall time of saving, ISO 8601 with zone.
    pub saved_at: String,
    /// Id of the run.
    pub trial: String,
    /// True: leave it out. False: take it in again.
    pub excluded: bool,
    /// Why, in the driver's words. Never empty where a run is left out.
    pub reason: String,
}

impl ExclusionLine {
    /// Leaves a run out.
    ///
    /// # Errors
    /// [`HistoryError::NoReason`] without a reason.
    pub fn leaving_out(
        id: String,
        saved_at: String,
        trial: &str,
        reason: &str,
    ) -> Result<Self, HistoryError> {
        let (trial, reason) = (trial.to_owned(), reason.trim().to_owned());
        if reason.is_empty() {
            return Err(HistoryError::NoReason { trial });
        }
        Ok(Self { id, saved_at, trial, excluded: true, reason })
    }

    /// Takes a run in again; a reason may be given.
    pub fn taking_in(id: String, saved_at: String, trial: &str, reason: &str) -> Self {
        let (trial, reason) = (trial.to_owned(), reason.trim().to_owned());
        Self { id, saved_at, trial, excluded: false, reason }
    }
}

/// The exclusions in force, in the order in which the runs were first left out.
pub fn exclusions_in_force(lines: &[ExclusionLine]) -> Vec<&ExclusionLine> {
    let mut places: HashMap<&str, usize> = HashMap::new();
    let mut in_force: Vec<&ExclusionLine> = Vec::new();
    for line in lines {
        let place = *places.entry(&line.trial).or_insert(in_force.len());
        match in_force.get_mut(place) {
            Some(before) => *before = line,
            None => in_force.push(line),
        }
    }
    in_force.retain(|line| line.excluded);
    in_force
}

#[cfg(test)]
mod tests {
    use super::*;

    fn out(trial: &str, reason: &str) -> ExclusionLine {
        ExclusionLine::leaving_out("e".to_owned(), String::new(), trial, reason).unwrap()
    }

    #[test]
    fn the_newest_line_about_a_run_is_in_force() {
        let again = ExclusionLine::taking_in("f".to_owned(), String::new(), "a", "");
        let lines = [out("a", "phone"), out("b", "cat"), again, out("b", "the cat")];
        let in_force = exclusions_in_force(&lines);
        assert_eq!(in_force.len(), 1);
        assert_eq!((in_force[0].trial.as_str(), in_force[0].reason.as_str()), ("b", "the cat"));
    }

    #[test]
    fn nothing_is_left_out_without_a_reason() {
        let line = ExclusionLine::leaving_out("e".to_owned(), String::new(), "a", "  ");
        assert!(line.unwrap_err().to_string().contains("reason"));
    }
}
