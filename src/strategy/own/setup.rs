//! What launches have to share to be taken together.
//!
//! Owns the set-up and the list of those there are. Refuses near enough: another driver, car, tree,
//! launch edge or style is another set-up.

use super::runs::is_lit_guess_test;
use super::slips::Fit;
use crate::history::{CarLine, FilmLine, Loaded, RigLine, SlipLine, slips_in_force};
use crate::rules::TreeKind;
use crate::slips::{Manner, Slip, SlipTree};
use crate::tree::Outcome;
use crate::trial::{Style, TrialRecord};
use crate::units::Span;
use jiff::civil::Date;

/// The lines of a history, and the ids of runs the driver excludes.
#[derive(Debug, Clone, Copy, Default)]
pub struct OwnLines<'a> {
    /// The runs, in the order they were saved.
    pub trials: &'a [TrialRecord],
    /// Answers about cars.
    pub cars: &'a [CarLine],
    /// Slips, corrected ones included.
    pub slips: &'a [SlipLine],
    /// Films of rigs.
    pub films: &'a [FilmLine],
    /// Self tests of rigs.
    pub rigs: &'a [RigLine],
    /// Ids of runs the driver excludes.
    pub excluded: &'a [String],
}

impl<'a> From<&'a Loaded> for OwnLines<'a> {
    fn from(loaded: &'a Loaded) -> Self {
        Self {
            trials: &loaded.trials,
            cars: &loaded.cars,
            slips: &loaded.slips,
            films: &loaded.films,
            rigs: &loaded.rigs,
            excluded: &[],
        }
    }
}

impl<'a> OwnLines<'a> {
    /// Real slips in force that have something to say of a light.
    pub(super) fn real_slips(&self) -> impl Iterator<Item = &'a Slip> + use<'a> {
        let lines = slips_in_force(self.slips).into_iter().map(|line| &line.slip);
        lines.filter(|slip| !slip.is_simulated() && (slip.rt().is_some() || slip.is_red()))
    }
}

/// What launches have to share.
#[derive(Debug, Clone, PartialEq, Eq, Hash)]
pub struct OwnSetup {
    /// Who drives.
    pub driver: String,
    /// The driver's name for the car.
    pub car: String,
    /// Name of the tree kind.
    pub tree: String,
    /// Number of ambers.
    pub ambers: u8,
    /// From one amber to the next, zero when all light at once.
    pub amber_gap: Span,
    /// From the last amber to green.
    pub interval: Span,
    /// `press` or `release`.
    pub launch_edge: String,
    /// Declared style.
    pub style: Style,
}

impl OwnSetup {
    /// The set-up of a run.
    pub fn of(run: &TrialRecord) -> Self {
        Self {
            driver: run.driver.to_string(),
            car: run.car.name.clone(),
            tree: run.setup.tree.to_string(),
            ambers: run.setup.ambers,
            amber_gap: run.setup.amber_gap,
            interval: run.setup.interval,
            launch_edge: run.rig.launch_edge.clone(),
            style: run.setup.style,
        }
    }

    /// The set-up of a slip. What it does not say is taken as usual: a full tree, by reaction.
    fn of_slip(slip: &Slip, launch_edge: &str) -> Self {
        let kind = match slip.tree {
            None | Some(SlipTree::Full) => TreeKind::full(),
            Some(SlipTree::Pro400) => TreeKind::pro(),
            Some(SlipTree::Pro500) => TreeKind::pro_500(),
        };
        let style = if slip.manner == Some(Manner::Timed) { Style::TimeIt } else { Style::React };
        Self {
            driver: slip.driver.clone(),
            car: slip.car.clone(),
            tree: kind.name().to_owned(),
            ambers: kind.ambers(),
            amber_gap: kind.amber_gap(),
            interval: kind.green_gap(),
            launch_edge: launch_edge.to_owned(),
            style,
        }
    }

    /// Whether a run is of this set-up.
    pub fn holds(&self, run: &TrialRecord) -> bool {
        self.holds_in_any_style(run) && run.setup.style == self.style
    }

    /// The same whatever style was declared.
    pub fn holds_in_any_style(&self, run: &TrialRecord) -> bool {
        run.car.name == self.car
            && run.driver == self.driver
            && run.rig.launch_edge == self.launch_edge
            && run.setup.tree == self.tree
            && run.setup.ambers == self.ambers
            && run.setup.amber_gap == self.amber_gap
            && run.setup.interval == self.interval
    }

    /// The kind of tree; one outside the limits of a tree counts as a full one for its rhythm only.
    pub fn tree_kind(&self) -> TreeKind {
        let presets = [TreeKind::full(), TreeKind::pro(), TreeKind::pro_500()];
        let same = |kind: &TreeKind| {
            kind.ambers() == self.ambers
                && kind.amber_gap() == self.amber_gap
                && kind.green_gap() == self.interval
        };
        let free = || TreeKind::free(self.ambers, self.amber_gap, self.interval);
        presets.into_iter().find(same).or_else(|| free().ok()).unwrap_or(TreeKind::full())
    }

    /// The tree as slips name it, where they have a name for it.
    pub(super) fn slip_tree(&self) -> Option<SlipTree> {
        let kind = self.tree_kind();
        if kind == TreeKind::full() {
            Some(SlipTree::Full)
        } else if kind == TreeKind::pro() {
            Some(SlipTree::Pro400)
        } else {
            (kind == TreeKind::pro_500()).then_some(SlipTree::Pro500)
        }
    }
}

/// A set-up there is something of.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct SetupCount {
    /// Which.
    pub setup: OwnSetup,
    /// Launches with a time that count.
    pub launches: usize,
    /// Days they were made on.
    pub days: usize,
    /// Slips that fit it.
    pub slips: usize,
    /// The last day anything was made.
    pub last: Option<Date>,
}

/// All set-ups there is something of, the one driven last first; those known from slips alone come
/// after.
pub fn setups(lines: &OwnLines) -> Vec<SetupCount> {
    let mut known: Vec<OwnSetup> = Vec::new();
    for run in lines.trials.iter().rev().filter(|run| !run.setup.scripted) {
        let setup = OwnSetup::of(run);
        if !known.contains(&setup) {
            known.push(setup);
        }
    }
    let mut counts: Vec<SetupCount> = known.into_iter().map(|s| count(s, lines)).collect();
    let mut alone: Vec<SetupCount> = Vec::new();
    for slip in lines.real_slips().filter(|slip| slip.manner != Some(Manner::OnGreen)) {
        let edge = super::car::edge_of(lines.cars, &slip.car);
        let fits = |known: &SetupCount| Fit::of(slip, &known.setup, edge) != Fit::Other;
        if !counts.iter().chain(&alone).any(fits) {
            let setup = OwnSetup::of_slip(slip, edge.unwrap_or("press"));
            alone.push(count(setup, lines));
        }
    }
    counts.extend(alone);
    counts
}

fn count(setup: OwnSetup, lines: &OwnLines) -> SetupCount {
    let of_it = lines.trials.iter().filter(|run| setup.holds(run) && !run.setup.scripted);
    let last = of_it.clone().filter_map(|run| run.began.date()).max();
    let timed = of_it.filter(|run| {
        matches!(run.outcome, Outcome::Green | Outcome::Red) && !is_lit_guess_test(run)
    });
    let mut days: Vec<Option<Date>> = timed.clone().map(|run| run.began.date()).collect();
    days.sort();
    days.dedup();
    let edge = super::car::edge_of(lines.cars, &setup.car);
    let slips: Vec<&Slip> =
        lines.real_slips().filter(|slip| Fit::of(slip, &setup, edge) != Fit::Other).collect();
    let last = last.max(slips.iter().filter_map(|slip| slip.date).max());
    SetupCount { launches: timed.count(), days: days.len(), slips: slips.len(), last, setup }
}

/// The day on the driver's own calendar, from an ISO 8601 time with its zone.
pub(in crate::strategy) fn local_date(time: &str) -> Option<Date> {
    time.get(..10)?.parse().ok()
}
