//! Which runs are looked at together.
//!
//! Owns the choices a driver has and what in the chosen runs is unlike. Refuses to pool unlike rigs,
//! trees, cars or styles unasked.

use crate::strategy::own::{OwnLines, OwnSetup};
use crate::trial::{Drill, RigPrint, Style, TrialRecord};
use crate::units::Span;
use jiff::civil::Date;

/// What a run has to be; what is `None` may be anything.
#[derive(Debug, Clone, PartialEq, Default)]
pub struct Filter {
    /// Who drives.
    pub driver: Option<String>,
    /// The driver's name for the car.
    pub car: Option<String>,
    /// Name of the tree kind.
    pub tree: Option<String>,
    /// `press` or `release`.
    pub launch_edge: Option<String>,
    /// Declared style.
    pub style: Option<Style>,
    /// What was practised.
    pub drill: Option<Drill>,
    /// The rig, or one a delay measured on it holds on.
    pub rig: Option<RigPrint>,
    /// The first day.
    pub from: Option<Date>,
    /// The last day.
    pub to: Option<Date>,
    /// Unlike runs may be taken together: the driver was asked and said so.
    pub together: bool,
}

/// In what runs that were chosen differ, and the kinds there are.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Unlike {
    /// In what.
    pub what: What,
    /// The kinds in words, the one driven last first.
    pub kinds: Vec<String>,
}

/// What runs that are looked at together should share.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash)]
pub enum What {
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
    /// Control, screen and all between.
    Rig,
}

impl Filter {
    /// The set-up of the run driven last, on any rig and in any drill; `None` without a run.
    pub fn of_newest(lines: &OwnLines) -> Option<Self> {
        let newest = lines.trials.iter().rev().find(|run| !run.setup.scripted)?;
        Some(Self::of_setup(&OwnSetup::of(newest)))
    }

    /// A set-up, on any rig and in any drill.
    pub fn of_setup(setup: &OwnSetup) -> Self {
        Self {
            driver: Some(setup.driver.clone()),
            car: Some(setup.car.clone()),
            tree: Some(setup.tree.clone()),
            launch_edge: Some(setup.launch_edge.clone()),
            style: Some(setup.style),
            ..Self::default()
        }
    }

    /// Whether a run is one of those.
    pub fn holds(&self, run: &TrialRecord) -> bool {
        fn is<T: PartialEq + ?Sized>(wanted: Option<&T>, has: &T) -> bool {
            wanted.is_none_or(|wanted| wanted == has)
        }
        // What stands in the run itself first: text costs a look elsewhere.
        is(self.style.as_ref(), &run.setup.style)
            && is(self.drill.as_ref(), &run.setup.drill)
            && is(self.driver.as_deref(), run.driver.as_str())
            && is(self.car.as_deref(), run.car.name.as_str())
            && is(self.tree.as_deref(), run.setup.tree.as_str())
            && is(self.launch_edge.as_deref(), run.rig.launch_edge.as_str())
            && self.rig.as_ref().is_none_or(|rig| rig.is_same_rig(&run.rig))
            && (self.asks_no_day() || self.holds_day(run.began.date()))
    }

    /// Whether a day is inside; one that is not known is where no day is asked for.
    pub fn holds_day(&self, day: Option<Date>) -> bool {
        match day {
            Some(day) => {
                self.from.is_none_or(|from| from <= day) && self.to.is_none_or(|to| day <= to)
            }
            None => self.asks_no_day(),
        }
    }

    fn asks_no_day(&self) -> bool {
        self.from.is_none() && self.to.is_none()
    }
}

/// In what the runs differ that should be alike; empty where they may be compared.
pub fn unlike(runs: &[&TrialRecord]) -> Vec<Unlike> {
    let named = |of: &dyn Fn(&TrialRecord) -> &str| {
        kinds(runs, |a, b| of(a) == of(b), |run| of(run).to_owned())
    };
    let tree = |run: &TrialRecord| (run.setup.amber_gap, run.setup.interval);
    let same_tree =
        |a: &TrialRecord, b: &TrialRecord| tree(a) == tree(b) && a.setup.tree == b.setup.tree;
    let mut found = vec![
        (What::Driver, named(&|run| &run.driver)),
        (What::Car, named(&|run| &run.car.name)),
        (What::Tree, kinds(runs, same_tree, tree_words)),
        (What::LaunchEdge, named(&|run| &run.rig.launch_edge)),
        (What::Style, named(&|run| style_word(run.setup.style))),
        (What::Rig, rigs(runs.iter().rev().copied()).iter().map(rig_words).collect()),
    ];
    found.retain(|(_, kinds)| kinds.len() > 1);
    found.into_iter().map(|(what, kinds)| Unlike { what, kinds }).collect()
}

/// Kinds in words, the one driven last first. Most runs are like the one after them: words are made for
/// the others alone.
fn kinds(
    runs: &[&TrialRecord],
    like: impl Fn(&TrialRecord, &TrialRecord) -> bool,
    words: impl Fn(&TrialRecord) -> String,
) -> Vec<String> {
    let mut kinds: Vec<String> = Vec::new();
    let mut after: Option<&TrialRecord> = None;
    for run in runs.iter().rev() {
        if !after.is_some_and(|after| like(after, run)) {
            let kind = words(run);
            if !kinds.contains(&kind) {
                kinds.push(kind);
            }
        }
        after = Some(run);
    }
    kinds
}

fn tree_words(run: &TrialRecord) -> String {
    let setup = &run.setup;
    let ms = |span: Span| format!("{:.0}", span.as_ms_f64());
    match setup.amber_gap {
        Span::ZERO => format!("{} ({} ms)", setup.tree, ms(setup.interval)),
        gap => format!("{} ({} / {} ms)", setup.tree, ms(gap), ms(setup.interval)),
    }
}

pub(super) fn style_word(style: Style) -> &'static str {
    match style {
        Style::React => "by reaction",
        Style::TimeIt => "timing it",
    }
}

/// Rigs there are, the one used last first, as far as a constant delay tells them apart; the launch
/// edge is told of its own.
pub(super) fn rigs<'a>(runs: impl Iterator<Item = &'a TrialRecord>) -> Vec<RigPrint> {
    let mut kinds: Vec<RigPrint> = Vec::new();
    for run in runs {
        let same = |rig: &RigPrint| {
            rig.is_same_rig(&RigPrint {
                launch_edge: rig.launch_edge.clone(),
                ..(*run.rig).clone()
            })
        };
        // Most runs are on the rig of the run after them.
        if kinds.last() != Some(&*run.rig) && !kinds.iter().any(same) {
            kinds.push((*run.rig).clone());
        }
    }
    kinds
}

pub(super) fn rig_words(rig: &RigPrint) -> String {
    format!("{} {} on {}", rig.device, rig.control, rig.display)
}
