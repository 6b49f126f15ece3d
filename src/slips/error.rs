//! What cannot be read as a slip, in one line: which field, what stands there, what belongs there.

use thiserror::Error;

/// Why something is no slip, or no table of slips.
#[derive(Debug, Clone, PartialEq, Eq, Error)]
pub enum SlipsError {
    /// A figure that is none.
    #[error("{field}: `{word}` is not {belongs}")]
    Figure {
        /// Which field.
        field: String,
        /// What stands there.
        word: String,
        /// What belongs there.
        belongs: &'static str,
    },
    /// More figures than a slip has.
    #[error("a slip has 8 figures (R/T 60' 330' 1/8 MPH 1000' 1/4 MPH), here are {got}")]
    TooMany {
        /// How many.
        got: usize,
    },
    /// A word outside its list.
    #[error("{field}: `{word}` is not one of {choices}")]
    Word {
        /// Which field.
        field: String,
        /// What stands there.
        word: String,
        /// What could.
        choices: String,
    },
    /// A run that ended without anything a slip could print.
    #[error("a run that ended as {outcome} prints no slip")]
    NoSlip {
        /// How it ended.
        outcome: &'static str,
    },
    /// A table without a column of a slip.
    #[error(
        "no column of a slip in the header; name at least one of rt, 60, 330, 660, 1000, 1320, et"
    )]
    NoColumn,
    /// A table with two columns for one thing.
    #[error("columns {first} and {second} both hold {what}; remove one")]
    TwoColumns {
        /// What.
        what: &'static str,
        /// Place of the first, from 1.
        first: usize,
        /// Place of the second.
        second: usize,
    },
    /// A table that is empty.
    #[error("there is no line in it; the first one names the columns")]
    Empty,
    /// A table that cannot be cut into cells.
    #[error("line {line}: {why}")]
    Table {
        /// From 1.
        line: u64,
        /// Why.
        why: String,
    },
}

impl SlipsError {
    /// The same beside the field it is about, which need not be named again.
    pub fn in_its_field(&self) -> String {
        match self {
            Self::Figure { word, belongs, .. } => format!("`{word}` is not {belongs}"),
            Self::Word { word, choices, .. } => format!("`{word}` is not one of {choices}"),
            other => other.to_string(),
        }
    }

    /// A figure that is none; what stands there is cut to a length fit for a line.
    pub(super) fn figure(field: &str, word: &str, belongs: &'static str) -> Self {
        Self::Figure { field: field.to_owned(), word: shown(word), belongs }
    }
}

/// A word as a message shows it: one line, no control characters, 40 characters at most.
pub(super) fn shown(word: &str) -> String {
    let mut shown: String =
        word.chars().take(40).map(|c| if c.is_control() { '\u{fffd}' } else { c }).collect();
    if word.chars().nth(40).is_some() {
        shown.push('…');
    }
    shown
}
