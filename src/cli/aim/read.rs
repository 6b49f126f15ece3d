//! The rows a question to `lastamber aim` is about, out of its file.
//!
//! Owns what a row counts as, by the words of the history: a launch, red before the tree, late, blank
//! or left out. Refuses to pool blank runs with launches, and a word it does not know.

use super::AimArgs;
use crate::cli::risk::{RiskError, in_order_of_appearance};
use crate::cli::table::{Columns, name_of, read_columns_from_any, read_columns_with_blanks};
use crate::stats::Sample;
use crate::stats::risk::Pool;
use crate::strategy::own::GuessTest;
use crate::strategy::verdict::Block;
use crate::trial::Style;
use std::collections::BTreeSet;
use std::io::Read;

/// A row that is a start.
#[derive(Debug, Clone, Copy, PartialEq)]
struct Start {
    day: u32,
    style: Option<Style>,
    what: What,
}

#[derive(Debug, Clone, Copy, PartialEq)]
enum What {
    /// With its driver part, s.
    Launch(f64),
    /// Left or rolled out before the last amber: red.
    Left,
    /// Never left: late.
    Lapse,
}

/// What the rows of a file come to.
#[derive(Debug, Clone, PartialEq, Default)]
pub struct Starts {
    all: Vec<Start>,
    has_days: bool,
    has_styles: bool,
    /// Blank runs, never pooled with the others.
    pub guess_test: GuessTest,
    /// Rows that say nothing about the driver: broken off, void, not staged in time.
    pub left_out: usize,
}

impl Starts {
    /// # Errors
    /// [`RiskError`] for a file that cannot be read, a word of no meaning, or a launch without a time.
    pub fn read(args: &AimArgs, stdin: &mut dyn Read) -> Result<Self, RiskError> {
        let asked = args.day.iter().chain(&args.style).chain(&args.outcome);
        let words: Vec<&str> = asked.map(String::as_str).collect();
        let table = match args.outcome {
            Some(_) => read_columns_with_blanks(&args.file, stdin, &args.column, &words)?,
            None => {
                let table = read_columns_from_any(&args.file, stdin, &args.column, &words)?;
                let numbers = table.numbers.into_iter().map(Some).collect();
                Columns { numbers, words: table.words }
            }
        };
        // In the order they were asked for; an option that was not takes no column.
        let mut columns = table.words.iter();
        let mut of = |asked: &Option<String>| asked.as_ref().and_then(|_| columns.next());
        let days = of(&args.day).map(|words| in_order_of_appearance(words));
        let (styles, outcomes) = (of(&args.style), of(&args.outcome));
        let mut starts =
            Self { has_days: days.is_some(), has_styles: styles.is_some(), ..Self::default() };
        let scale = args.unit.per_second();
        for (place, number) in table.numbers.iter().enumerate() {
            let row = Row { args, place };
            let style = styles.map(|words| row.style(&words[place])).transpose()?;
            let outcome = outcomes.map_or("green", |words| words[place].as_str());
            if let Some(what) = starts.sort_in(&row, outcome, number.map(|x| x / scale))? {
                let day = days.as_ref().map_or(0, |days| days[place]);
                starts.all.push(Start { day, style, what });
            }
        }
        Ok(starts)
    }

    /// What a row is; none for one that is no start.
    fn sort_in(
        &mut self,
        row: &Row,
        outcome: &str,
        part_s: Option<f64>,
    ) -> Result<Option<What>, RiskError> {
        Ok(match (outcome, part_s) {
            ("green" | "red", Some(part_s)) => Some(What::Launch(part_s)),
            // Rolled out of the beams during the ambers.
            ("red", None) | ("left-before-tree", _) => Some(What::Left),
            ("green", None) => return Err(row.no_time()),
            ("lapse", _) => Some(What::Lapse),
            ("stayed" | "guessed", _) => {
                self.guess_test.blanks += 1;
                self.guess_test.guesses += usize::from(outcome == "guessed");
                None
            }
            ("timed-out" | "abandoned" | "void", _) => {
                self.left_out += 1;
                None
            }
            _ => return Err(row.no_outcome(outcome)),
        })
    }

    /// The declared styles there are; one kind where none was declared.
    pub fn styles(&self) -> Vec<Option<Style>> {
        if !self.has_styles || self.all.is_empty() {
            return vec![None];
        }
        let declared = |style: &Option<Style>| self.all.iter().any(|start| start.style == *style);
        [Some(Style::React), Some(Style::TimeIt)].into_iter().filter(declared).collect()
    }

    /// The starts in a style.
    ///
    /// # Errors
    /// [`RiskError::Question`] without a launch, or for times that are no numbers.
    pub fn pool(&self, style: Option<Style>) -> Result<Pool, RiskError> {
        let of_style = self.all.iter().filter(|start| start.style == style);
        let (parts, days) = parts_of(of_style.clone());
        let mut pool = Pool::new(Sample::new(parts)?);
        if self.has_days {
            pool = pool.with_days(days)?;
        }
        let count = |what: What| of_style.clone().filter(|start| start.what == what).count();
        Ok(pool.with_unmeasured(count(What::Left), count(What::Lapse)))
    }

    /// Starts of one style, one after the other, are a block; a day's end ends one too.
    pub fn blocks(&self) -> Option<Vec<Block>> {
        let together = |a: &Start, b: &Start| (a.style, a.day) == (b.style, b.day);
        let block = |starts: &[Start]| {
            let count = |what: What| starts.iter().filter(|start| start.what == what).count();
            Some(Block {
                style: starts[0].style?,
                driver_parts_s: parts_of(starts.iter()).0,
                left_before_tree: count(What::Left),
                lapses: count(What::Lapse),
                day: starts[0].day,
            })
        };
        self.has_styles.then(|| self.all.chunk_by(together).filter_map(block).collect())
    }

    /// Days with a start.
    pub fn days(&self) -> usize {
        self.all.iter().map(|start| start.day).collect::<BTreeSet<_>>().len()
    }

    /// Starts that left before the last amber, and starts that never left.
    pub fn unmeasured(&self) -> (usize, usize) {
        let count = |what: What| self.all.iter().filter(|start| start.what == what).count();
        (count(What::Left), count(What::Lapse))
    }
}

/// Driver parts, s, and the day of each.
fn parts_of<'a>(starts: impl Iterator<Item = &'a Start>) -> (Vec<f64>, Vec<u32>) {
    let launches = starts.filter_map(|start| match start.what {
        What::Launch(part_s) => Some((part_s, start.day)),
        What::Left | What::Lapse => None,
    });
    launches.unzip()
}

/// A row of the file, for what is wrong with it.
struct Row<'a> {
    args: &'a AimArgs,
    place: usize,
}

impl Row<'_> {
    fn style(&self, word: &str) -> Result<Style, RiskError> {
        match word {
            "react" => Ok(Style::React),
            "time-it" => Ok(Style::TimeIt),
            _ => Err(self.wrong(&self.args.style, word, "style", "react or time-it")),
        }
    }

    fn no_outcome(&self, word: &str) -> RiskError {
        let cure = "green, red, left-before-tree, lapse, stayed, guessed, timed-out, abandoned or void, \
                    or remove the row";
        self.wrong(&self.args.outcome, word, "outcome", cure)
    }

    fn no_time(&self) -> RiskError {
        let column = Some(self.args.column.clone());
        let cure = "the launch's time, or another outcome than green beside it";
        self.wrong(&column, "", "time", cure)
    }

    fn wrong(
        &self,
        column: &Option<String>,
        word: &str,
        what: &'static str,
        cure: &'static str,
    ) -> RiskError {
        RiskError::Word {
            file: name_of(&self.args.file),
            row: self.place + 1,
            column: column.clone().unwrap_or_default(),
            word: word.chars().take(30).flat_map(char::escape_debug).collect(),
            what,
            cure,
        }
    }
}
