//! Which runs a driver may choose to look at, as rows of a list worked by arrows.
//!
//! Owns what there is to choose among in a history and the filter that follows. Refuses to offer what
//! has no run, and to look at unlike runs together unless the driver said so.

use super::filter::{Filter, rig_words, rigs, style_word};
use crate::strategy::own::OwnLines;
use crate::trial::{Drill, RigPrint, Style, Text, TrialRecord};
use jiff::ToSpan;
use jiff::civil::Date;

/// Spans of days that may be chosen; zero stands for all.
const LAST_DAYS: [i32; 5] = [0, 7, 30, 90, 365];

/// What a row chooses.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash)]
pub enum Row {
    /// Who drives.
    Driver,
    /// The car.
    Car,
    /// The tree.
    Tree,
    /// Press or release.
    LaunchEdge,
    /// Reaction or timing.
    Style,
    /// What was practised.
    Drill,
    /// Control, screen and all between.
    Rig,
    /// Which days.
    Days,
    /// Unlike runs together, or not.
    Together,
}

/// The rows, top to bottom.
pub const ROWS: [Row; 9] = [
    Row::Driver,
    Row::Car,
    Row::Tree,
    Row::LaunchEdge,
    Row::Style,
    Row::Drill,
    Row::Rig,
    Row::Days,
    Row::Together,
];

/// Everything there is to choose among; in each list place 0 is any of them.
#[derive(Debug, Clone, PartialEq)]
pub struct Choices {
    drivers: Vec<String>,
    cars: Vec<String>,
    trees: Vec<String>,
    edges: Vec<String>,
    styles: Vec<Style>,
    drills: Vec<Drill>,
    rigs: Vec<RigPrint>,
    at: [usize; ROWS.len()],
    /// Last day of the days chosen.
    today: Option<Date>,
}

impl Choices {
    /// What the runs of a history offer; set as `filter` has it. `today` ends the days to choose.
    pub fn of(lines: &OwnLines, filter: &Filter, today: Option<Date>) -> Self {
        let runs = || lines.trials.iter().rev().filter(|run| !run.setup.scripted);
        let mut choices = Self {
            drivers: words(kinds(runs(), |run| &run.driver)),
            cars: kinds(runs(), |run| &run.car.name),
            trees: words(kinds(runs(), |run| &run.setup.tree)),
            edges: kinds(runs(), |run| &run.rig.launch_edge),
            styles: kinds(runs(), |run| &run.setup.style),
            drills: kinds(runs(), |run| &run.setup.drill),
            rigs: rigs(runs()),
            at: [0; ROWS.len()],
            today,
        };
        let rig = filter.rig.as_ref();
        let rig = rig.and_then(|rig| choices.rigs.iter().position(|known| known == rig));
        let last = filter.from.zip(today).and_then(|(from, today)| {
            LAST_DAYS.iter().position(|days| days_ago(today, *days) == Some(from))
        });
        choices.at = [
            place(&choices.drivers, filter.driver.as_ref()),
            place(&choices.cars, filter.car.as_ref()),
            place(&choices.trees, filter.tree.as_ref()),
            place(&choices.edges, filter.launch_edge.as_ref()),
            place(&choices.styles, filter.style.as_ref()),
            place(&choices.drills, filter.drill.as_ref()),
            rig.map_or(0, |i| i + 1),
            last.unwrap_or(0),
            usize::from(filter.together),
        ];
        choices
    }

    /// What is chosen in a row, in words; what it takes to choose more where there is but one kind.
    pub fn words(&self, row: Row) -> String {
        let at = self.at[row as usize];
        let any = |n: usize| match n {
            0 => "none yet".to_owned(),
            1 => "the only one".to_owned(),
            n => format!("all {n}"),
        };
        let text = |kinds: &[String]| match at {
            0 => any(kinds.len()),
            at => kinds[at - 1].clone(),
        };
        match row {
            Row::Driver => text(&self.drivers),
            Row::Car => text(&self.cars),
            Row::Tree => text(&self.trees),
            Row::LaunchEdge => text(&self.edges),
            Row::Style if at > 0 => style_word(self.styles[at - 1]).to_owned(),
            Row::Style => any(self.styles.len()),
            Row::Drill if at > 0 => drill_word(self.drills[at - 1]).to_owned(),
            Row::Drill => any(self.drills.len()),
            Row::Rig if at > 0 => rig_words(&self.rigs[at - 1]),
            Row::Rig => any(self.rigs.len()),
            Row::Days if at > 0 => format!("the last {}", LAST_DAYS[at]),
            Row::Days => "all".to_owned(),
            Row::Together if at > 0 => "yes, together".to_owned(),
            Row::Together => "no, ask first".to_owned(),
        }
    }

    /// Whether a row has more than one thing to choose.
    pub fn is_open(&self, row: Row) -> bool {
        self.kinds(row) > 1
    }

    /// The next choice of a row, or the one before.
    pub fn turn(&mut self, row: Row, forward: bool) {
        let n = match row {
            // One kind and any of them are the same.
            _ if !self.is_open(row) => return,
            Row::Days | Row::Together => self.kinds(row),
            _ => self.kinds(row) + 1,
        };
        let at = &mut self.at[row as usize];
        *at = (*at + if forward { 1 } else { n - 1 }) % n;
    }

    /// The runs chosen.
    pub fn filter(&self) -> Filter {
        let at = |row: Row| self.at[row as usize].checked_sub(1);
        let text = |row: Row, kinds: &[String]| at(row).map(|i| kinds[i].clone());
        let days = LAST_DAYS[self.at[Row::Days as usize]];
        let from = self.today.filter(|_| days > 0).and_then(|today| days_ago(today, days));
        Filter {
            driver: text(Row::Driver, &self.drivers),
            car: text(Row::Car, &self.cars),
            tree: text(Row::Tree, &self.trees),
            launch_edge: text(Row::LaunchEdge, &self.edges),
            style: at(Row::Style).map(|i| self.styles[i]),
            drill: at(Row::Drill).map(|i| self.drills[i]),
            rig: at(Row::Rig).map(|i| self.rigs[i].clone()),
            from,
            to: None,
            together: self.at[Row::Together as usize] > 0,
        }
    }

    fn kinds(&self, row: Row) -> usize {
        match row {
            Row::Driver => self.drivers.len(),
            Row::Car => self.cars.len(),
            Row::Tree => self.trees.len(),
            Row::LaunchEdge => self.edges.len(),
            Row::Style => self.styles.len(),
            Row::Drill => self.drills.len(),
            Row::Rig => self.rigs.len(),
            Row::Days => LAST_DAYS.len(),
            Row::Together => 2,
        }
    }
}

impl Row {
    /// Its name on a list.
    pub fn words(self) -> &'static str {
        match self {
            Row::Driver => "Driver",
            Row::Car => "Car",
            Row::Tree => "Tree",
            Row::LaunchEdge => "Launch on",
            Row::Style => "Style",
            Row::Drill => "Drill",
            Row::Rig => "Rig",
            Row::Days => "Days",
            Row::Together => "Unlike runs together",
        }
    }
}

/// Every kind there is, the one driven last first.
fn kinds<'a, T: Clone + PartialEq + 'a>(
    runs: impl Iterator<Item = &'a TrialRecord>,
    of: impl Fn(&'a TrialRecord) -> &'a T,
) -> Vec<T> {
    let mut kinds: Vec<T> = Vec::new();
    for run in runs {
        let kind = of(run);
        if !kinds.contains(kind) {
            kinds.push(kind.clone());
        }
    }
    kinds
}

fn words(texts: Vec<Text>) -> Vec<String> {
    texts.into_iter().map(String::from).collect()
}

fn place<T: PartialEq>(kinds: &[T], wanted: Option<&T>) -> usize {
    let found = wanted.and_then(|wanted| kinds.iter().position(|kind| kind == wanted));
    // One kind is all there is: it need not be chosen.
    found.filter(|_| kinds.len() > 1).map_or(0, |i| i + 1)
}

/// The first of so many days that end today.
fn days_ago(today: Date, days: i32) -> Option<Date> {
    today.checked_sub((days - 1).days()).ok()
}

fn drill_word(drill: Drill) -> &'static str {
    match drill {
        Drill::RollUp => "roll-up",
        Drill::TreeOnly => "tree only",
        Drill::ReactOrTime => "react / time it",
        Drill::GuessTest => "guess test",
        Drill::OtherLaneFirst => "other lane first",
        Drill::HoldAnAim => "hold an aim",
        Drill::TrackNight => "track night",
    }
}
