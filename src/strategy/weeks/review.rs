//! One session worked out: its launches, the law through them, how the driver rolled in, every run.
//!
//! Owns the numbers of a session's review. Refuses to compare it with others: that is the weeks'.

use super::filter::Filter;
use super::session::{self, LEVEL, Session, SessionsBy};
use crate::history::{Loaded, Tally};
use crate::stats::family::Family;
use crate::stats::fit::{Fit, fit};
use crate::stats::summary::quantile_with_interval;
use crate::stats::{Estimate, Sample};
use crate::strategy::StrategyError;
use crate::strategy::own::{COLD_OF_A_DAY, OwnLines, Readings};
use crate::tree::Outcome;
use crate::trial::{Drill, TrialRecord};
use std::collections::HashMap;

/// Launches from which a curve is drawn through them. Chosen: fewer have no shape.
const LEAST_FOR_CURVE: usize = 12;

/// A session, worked out.
#[derive(Debug, Clone, PartialEq)]
pub struct Review {
    /// The session.
    pub session: Session,
    /// How its runs ended.
    pub tally: Tally,
    /// The law through its driver parts; `None` below twelve or where none fits.
    pub law: Option<Fit>,
    /// How the driver rolled in.
    pub staging: StagingRecord,
    /// Every run, in order.
    pub runs: Vec<ReviewRun>,
    /// The place of the session, from 1, and how many there are.
    pub place: (usize, usize),
    /// A run of the session before and of the one after, where there is one.
    pub beside: [Option<String>; 2],
    /// Runs of its day that are of another set-up.
    pub others: usize,
}

/// A run as a review tells it.
#[derive(Debug, Clone, PartialEq)]
pub struct ReviewRun {
    /// Its id.
    pub id: String,
    /// Its place among the runs of the history.
    pub run: usize,
    /// How it ended, by the record.
    pub outcome: Outcome,
    /// Driver part with today's delay, car part, interval, s.
    pub parts_s: Option<[f64; 3]>,
    /// The light with today's delay, s.
    pub light_s: Option<f64>,
    /// Why the driver leaves it out.
    pub left_out: Option<String>,
    /// It counts nowhere: made by a script.
    pub scripted: bool,
    /// A hitch, a late lamp or sources that disagree: its time is good, its company was not.
    pub flagged: bool,
}

/// How the driver rolled in, over the runs that were rolled in.
#[derive(Debug, Clone, PartialEq, Default)]
pub struct StagingRecord {
    /// Runs that were rolled in.
    pub rolled_in: usize,
    /// Times courtesy was kept.
    pub courtesy_kept: usize,
    /// Runs staged deep.
    pub deep: usize,
    /// Times the tyre rolled through the stage beam.
    pub rolled_through: usize,
    /// Times the car was sent back.
    pub sent_back: usize,
    /// From pre-stage to steady, s: median.
    pub took_s: Option<Estimate>,
    /// How deep the tyre stood at the launch.
    pub depth_in: Option<Depths>,
}

/// How deep the tyre stood past the stage beam, inches.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Depths {
    /// Median.
    pub median: Estimate,
    /// The shallowest and the deepest.
    pub range: (f64, f64),
}

impl Review {
    /// The newest session, or that of a run, of a set-up or of whatever was driven last; `None`
    /// without a run.
    ///
    /// # Errors
    /// [`StrategyError::Stats`] for times that are no numbers.
    pub fn of_loaded(
        loaded: &Loaded,
        filter: Option<Filter>,
        of_run: Option<&str>,
    ) -> Result<Option<Self>, StrategyError> {
        let excluded = loaded.excluded();
        let lines = OwnLines { excluded: &excluded, ..OwnLines::from(loaded) };
        let filter = filter.or_else(|| Filter::of_newest(&lines)).unwrap_or_default();
        let sessions = session::cut(lines.trials, &filter, SessionsBy::Day);
        let is_it = |runs: &Vec<usize>| match of_run {
            Some(id) => runs.iter().any(|place| lines.trials[*place].id == id),
            None => true,
        };
        let Some(i) = sessions.iter().rposition(is_it) else { return Ok(None) };
        let place = (i + 1, sessions.len());
        let id_in = |i: usize| {
            let place = sessions.get(i)?.first()?;
            Some(lines.trials[*place].id.to_string())
        };
        let beside = [i.checked_sub(1).and_then(id_in), id_in(i + 1)];
        // Cut by day, every session is a day of its own and begins cold.
        let mut cold_left = COLD_OF_A_DAY;
        let readings = Readings::of(&lines);
        let runs = sessions[i].clone();
        let session = Session::new(runs, lines.trials, &readings, &mut cold_left)?;
        let review = Self::new(session, lines.trials, &loaded.reasons_left_out(), place);
        Ok(Some(Self { beside, ..review }))
    }

    fn new(
        session: Session,
        trials: &[TrialRecord],
        reasons: &HashMap<&str, &str>,
        place: (usize, usize),
    ) -> Self {
        let of_it = || session.runs.iter().map(|run| &trials[*run]);
        let that_day = trials.iter().filter(|run| run.began.date() == session.day);
        let counted = session.launches.iter().filter(|launch| !launch.excluded);
        let parts: Vec<f64> = counted.map(|launch| launch.driver_part_s).collect();
        let enough = Sample::new(parts).ok().filter(|parts| parts.n() >= LEAST_FOR_CURVE);
        let law = enough.and_then(|parts| fit(Family::ExGaussian, &parts).ok());
        Self {
            tally: of_it().map(|run| run.outcome).collect(),
            law: law.filter(|law| law.model.is_some()),
            staging: StagingRecord::of(of_it()),
            runs: session.runs.iter().map(|i| seen(*i, trials, &session, reasons)).collect(),
            others: that_day.count().saturating_sub(session.runs.len()),
            session,
            place,
            beside: [None, None],
        }
    }
}

fn seen(
    place: usize,
    trials: &[TrialRecord],
    session: &Session,
    reasons: &HashMap<&str, &str>,
) -> ReviewRun {
    let run = &trials[place];
    let launch = session.launches.iter().find(|launch| launch.run == place);
    let parts_s = launch.zip(run.parts).map(|(launch, parts)| {
        [launch.driver_part_s, parts.car.as_secs_f64(), parts.interval.as_secs_f64()]
    });
    let disagree = run.seen.launch().is_some_and(|launch| launch.sources_disagree);
    ReviewRun {
        id: run.id.to_string(),
        run: place,
        outcome: run.outcome,
        parts_s,
        light_s: launch.map(|launch| launch.light_s),
        left_out: reasons.get(run.id.to_string().as_str()).map(|reason| (*reason).to_owned()),
        scripted: run.setup.scripted,
        flagged: run.hitch || run.lamp_corrected || run.amber_spacing_off || disagree,
    }
}

impl StagingRecord {
    fn of<'a>(runs: impl Iterator<Item = &'a TrialRecord>) -> Self {
        let mut record = Self::default();
        let (mut took, mut depths) = (Vec::new(), Vec::new());
        let rolled = |run: &&TrialRecord| run.setup.drill != Drill::TreeOnly && !run.setup.scripted;
        for run in runs.filter(rolled) {
            let staging = run.seen.staging();
            record.rolled_in += 1;
            record.courtesy_kept += usize::from(!staging.courtesy_broken);
            record.deep += usize::from(staging.deep);
            record.rolled_through += usize::from(staging.rolled_through);
            record.sent_back += usize::from(staging.sent_back);
            took.extend(staging.took.map(|took| took.as_secs_f64()));
            depths.extend(run.seen.launch().map(|launch| launch.depth.0));
        }
        let median =
            |values: Vec<f64>| quantile_with_interval(&Sample::new(values).ok()?, 0.5, LEVEL).ok();
        let low = depths.iter().copied().fold(f64::INFINITY, f64::min);
        let high = depths.iter().copied().fold(f64::NEG_INFINITY, f64::max);
        record.took_s = median(took);
        record.depth_in = median(depths).map(|median| Depths { median, range: (low, high) });
        record
    }
}
