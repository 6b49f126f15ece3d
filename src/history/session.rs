//! How the runs of a session ended, counted.
//!
//! Owns the one-line count that hides nothing. Refuses rates and risks.

use std::fmt;

use crate::tree::Outcome;

/// Runs by how they ended. Nothing is left out: the counts add up to the runs.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Default)]
pub struct Tally {
    /// Left at or after green.
    pub green: usize,
    /// Left before green.
    pub red: usize,
    /// Left after both were staged, before the first amber.
    pub left_before_tree: usize,
    /// Not staged in time.
    pub timed_out: usize,
    /// Never left.
    pub lapse: usize,
    /// Blank run, stayed.
    pub stayed: usize,
    /// Blank run, left.
    pub guessed: usize,
    /// Broken off by the driver.
    pub abandoned: usize,
    /// Not shown or timed properly.
    pub void: usize,
}

impl Tally {
    /// All runs.
    pub fn total(&self) -> usize {
        self.in_words().iter().map(|(count, _)| count).sum()
    }

    /// Counts one more run.
    pub fn add(&mut self, outcome: Outcome) {
        let count = match outcome {
            Outcome::Green => &mut self.green,
            Outcome::Red => &mut self.red,
            Outcome::LeftBeforeTree => &mut self.left_before_tree,
            Outcome::TimedOut => &mut self.timed_out,
            Outcome::Lapse => &mut self.lapse,
            Outcome::Stayed => &mut self.stayed,
            Outcome::Guessed { .. } => &mut self.guessed,
            Outcome::Abandoned(_) => &mut self.abandoned,
            Outcome::Void(_) => &mut self.void,
        };
        *count += 1;
    }

    fn in_words(&self) -> [(usize, &'static str); 9] {
        [
            (self.green, "green"),
            (self.red, "red"),
            (self.left_before_tree, "left before the tree"),
            (self.timed_out, "timed out"),
            (self.lapse, "did not leave"),
            (self.stayed, "stayed"),
            (self.guessed, "guessed"),
            (self.abandoned, "abandoned"),
            (self.void, "void"),
        ]
    }
}

impl FromIterator<Outcome> for Tally {
    fn from_iter<I: IntoIterator<Item = Outcome>>(outcomes: I) -> Self {
        let mut tally = Self::default();
        outcomes.into_iter().for_each(|outcome| tally.add(outcome));
        tally
    }
}

impl fmt::Display for Tally {
    /// `12 runs: 9 green, 2 red, 1 void`; what did not happen is not listed.
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        match self.total() {
            0 => return f.write_str("no runs"),
            1 => f.write_str("1 run")?,
            total => write!(f, "{total} runs")?,
        }
        let mut before = ": ";
        for (count, word) in self.in_words().into_iter().filter(|(count, _)| *count > 0) {
            write!(f, "{before}{count} {word}")?;
            before = ", ";
        }
        Ok(())
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::tree::{AbandonReason, VoidReason};

    #[test]
    fn every_outcome_is_counted_once_and_named() {
        let tally: Tally = [
            Outcome::Green,
            Outcome::Red,
            Outcome::LeftBeforeTree,
            Outcome::TimedOut,
            Outcome::Lapse,
            Outcome::Stayed,
            Outcome::Guessed { after_due_ns: -5 },
            Outcome::Abandoned(AbandonReason::Paused),
            Outcome::Void(VoidReason::NoOnset),
        ]
        .into_iter()
        .collect();
        assert_eq!(tally.total(), 9);
        assert_eq!(
            tally.to_string(),
            "9 runs: 1 green, 1 red, 1 left before the tree, 1 timed out, 1 did not leave, \
             1 stayed, 1 guessed, 1 abandoned, 1 void"
        );
    }

    #[test]
    fn what_did_not_happen_is_not_listed() {
        assert_eq!(Tally::default().to_string(), "no runs");
        assert_eq!([Outcome::Red].into_iter().collect::<Tally>().to_string(), "1 run: 1 red");
    }
}
