//! A page as data: what a screen shows and a report prints, from the sentence it opens with down.
//!
//! Owns the kinds of block a page is made of, the same for the window, for paper and for a terminal.
//! Refuses computing, and how a block looks: whoever draws it decides that.

mod axis;
mod plot;
pub mod ticks;

pub use axis::{Axis, Form};
pub use plot::{Hue, Layer, LayerKind, Plot};

/// What a screen shows and a report prints.
#[derive(Debug, Clone, PartialEq, Default)]
pub struct Page {
    /// The answer in plain words.
    pub headline: String,
    /// What follows, top to bottom.
    pub blocks: Vec<Block>,
}

/// One block of a page.
#[derive(Debug, Clone, PartialEq)]
pub enum Block {
    /// The title of what follows.
    Heading(String),
    /// Running text.
    Text(String),
    /// Text of lesser weight: counts, standing, doubts.
    Note(String),
    /// What must not be overlooked.
    Caution(String),
    /// Points, one below the other.
    Points(Vec<String>),
    /// Rows and columns.
    Table(Table),
    /// A time slip on paper: names, then a column for each lane.
    Paper(Table),
    /// A picture of numbers.
    Plot(Plot),
    /// The parts of one launch against the interval.
    TimeBar(TimeBar),
    /// Things to tick.
    Ticks(Vec<Tick>),
}

/// More words than a figure with its interval and count has: `30 ms (24 to 42, n = 10)` are eight.
const WORDS_OF_FIGURES: usize = 8;

/// Rows and columns of text. Every row has a cell for every column.
#[derive(Debug, Clone, PartialEq, Eq, Default)]
pub struct Table {
    /// What it holds, in a few words.
    pub title: String,
    /// Heads of the columns; the first column names the row.
    pub columns: Vec<String>,
    /// The cells.
    pub rows: Vec<Vec<String>>,
}

impl Table {
    /// A table without rows yet.
    pub fn new(title: impl Into<String>, columns: &[&str]) -> Self {
        let columns = columns.iter().map(|column| (*column).to_owned()).collect();
        Self { title: title.into(), columns, rows: Vec::new() }
    }

    /// Adds a row; missing cells stay empty, cells too many are left off.
    pub fn push(&mut self, cells: impl IntoIterator<Item = impl Into<String>>) {
        let mut row: Vec<String> = cells.into_iter().map(Into::into).collect();
        row.resize(self.columns.len(), String::new());
        self.rows.push(row);
    }

    /// Whether a column reads from its left: the first one, and those with sentences. Figures stand
    /// below each other at the right.
    pub fn reads_from_left(&self, column: usize) -> bool {
        let is_sentence = |row: &Vec<String>| {
            row.get(column).is_some_and(|cell| cell.split_whitespace().count() > WORDS_OF_FIGURES)
        };
        column == 0 || self.rows.iter().any(is_sentence)
    }
}

/// Driver part and car part end to end against the interval; what sticks out is the light.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct TimeBar {
    /// Last amber shown → launch edge, s.
    pub driver_s: f64,
    /// Launch edge → out of the beam, s.
    pub car_s: f64,
    /// Last amber → green, s.
    pub interval_s: f64,
}

/// Something to tick.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Tick {
    /// A name that stays when the words change.
    pub key: String,
    /// What to see to.
    pub text: String,
    /// It is done.
    pub done: bool,
}

impl Page {
    /// A page with its opening sentence.
    pub fn new(headline: impl Into<String>) -> Self {
        Self { headline: headline.into(), blocks: Vec::new() }
    }

    /// Adds a block.
    pub fn push(&mut self, block: Block) -> &mut Self {
        self.blocks.push(block);
        self
    }

    /// Adds a title.
    pub fn heading(&mut self, text: impl Into<String>) -> &mut Self {
        self.push(Block::Heading(text.into()))
    }

    /// Adds running text.
    pub fn text(&mut self, text: impl Into<String>) -> &mut Self {
        self.push(Block::Text(text.into()))
    }

    /// Adds text of lesser weight.
    pub fn note(&mut self, text: impl Into<String>) -> &mut Self {
        self.push(Block::Note(text.into()))
    }

    /// Adds what must not be overlooked.
    pub fn caution(&mut self, text: impl Into<String>) -> &mut Self {
        self.push(Block::Caution(text.into()))
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn every_row_has_a_cell_for_every_column() {
        let mut table = Table::new("Splits", &["", "yours", "theirs"]);
        table.push(["60 ft", "2.01"]);
        table.push(["330 ft", "5.6", "5.7", "too many"]);
        assert!(table.rows.iter().all(|row| row.len() == 3), "{table:?}");
    }
}
