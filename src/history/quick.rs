//! A run's line read in one pass, straight into its record.
//!
//! Owns the short way for lines as this program writes them, and that what many runs say alike is kept
//! once. Refuses to say what is wrong: whatever is not plainly right is left to the thorough way, which has
//! the words for it and gives the same record.

use serde::Deserialize;
use serde_json::value::RawValue;

use super::line::{TRIAL, TRIAL_VERSION};
use super::trial_line::{
    AimLine, CarFactsLine, LampLine, LaunchLine, OffsetLine, PartsLine, PauseLine, RigPrintLine,
    StagingLine,
};
use super::words::{DrillWord, LaneWord, OutcomeWord, StyleWord};
use crate::tree::{Lane, Outcome, Parts};
use crate::trial::{
    Aim, Began, CarFacts, Circumstances, CommonSetup, Drill, LampFact, LaunchFact, OffsetInForce,
    Pause, RigPrint, SeenFacts, SetupFacts, Shared, Style, Text, TrialRecord,
};
use crate::units::Span;

/// How many texts of one field are remembered. Chosen: cars, rigs and delays change by the week, and a
/// search through so few costs less than reading them again.
const REMEMBERED: usize = 16;

/// How many groups that were put together are remembered. Chosen: drills, styles, lanes and who is beside make
/// some dozens of set-ups in one evening.
const PUT_TOGETHER: usize = 128;

/// [`TrialLine`](super::TrialLine) with its words still in the line; groups that rarely change unread.
#[derive(Deserialize)]
struct QuickLine<'a> {
    kind: &'a str,
    v: u64,
    id: &'a str,
    began: &'a str,
    program: &'a str,
    driver: &'a str,
    #[serde(borrow)]
    setup: QuickSetup<'a>,
    #[serde(borrow)]
    car: &'a RawValue,
    #[serde(borrow)]
    rig: &'a RawValue,
    #[serde(borrow)]
    offset: &'a RawValue,
    staging: StagingLine,
    lamps: Vec<LampLine>,
    #[serde(default = "unknown")]
    onset_grade: &'a str,
    #[serde(default)]
    amber_gaps_shown_ns: Vec<i64>,
    #[serde(default)]
    amber_spacing_off: bool,
    hold_ns: Option<i64>,
    frame_period_ns: i64,
    launch: Option<LaunchLine>,
    #[serde(with = "OutcomeWord")]
    outcome: Outcome,
    parts: Option<PartsLine>,
    colour_in_doubt: bool,
    hitch: bool,
    lamp_corrected: bool,
}

#[derive(Deserialize)]
struct QuickSetup<'a> {
    tree: &'a str,
    ambers: u8,
    amber_gap_ns: i64,
    interval_ns: i64,
    procedure: &'a str,
    #[serde(with = "DrillWord")]
    drill: Drill,
    #[serde(with = "StyleWord")]
    style: Style,
    blank: bool,
    #[serde(with = "LaneWord")]
    lane: Lane,
    other_lane: Option<&'a str>,
    seed: u64,
    scripted: bool,
    #[serde(default)]
    aim: Option<AimLine>,
    #[serde(default)]
    pause: Option<PauseLine>,
}

/// Reads runs, remembering what was read last.
#[derive(Debug, Default)]
pub(super) struct QuickRuns {
    program: Recent<Text>,
    driver: Recent<Text>,
    tree: Recent<Text>,
    procedure: Recent<Text>,
    other_lane: Recent<Text>,
    onset_grade: Recent<Text>,
    car: Recent<Shared<CarFacts>>,
    rig: Recent<Shared<RigPrint>>,
    offset: Recent<Shared<OffsetInForce>>,
    zone: Recent<Text>,
    with: Alike<Circumstances>,
    setup: Alike<CommonSetup>,
}

/// Values by the exact text they were read from.
#[derive(Debug)]
struct Recent<T>(Vec<(Box<str>, T)>);

/// Groups of facts that were put together last.
#[derive(Debug)]
struct Alike<T>(Vec<Shared<T>>);

impl QuickRuns {
    /// The run a value holds; `None` for any other value, and for one that is not read this way.
    pub fn read(&mut self, value: &str) -> Option<TrialRecord> {
        let line: QuickLine = serde_json::from_str(value).ok()?;
        if line.kind != TRIAL || line.v != TRIAL_VERSION || line.id.is_empty() {
            return None;
        }
        Some(TrialRecord {
            id: line.id.into(),
            began: Began::new(line.began, |zone| self.zone.text(zone)),
            with: self.with.group(Circumstances {
                program: self.program.text(line.program),
                driver: self.driver.text(line.driver),
                car: self.car.group::<CarFactsLine>(line.car)?,
                rig: self.rig.group::<RigPrintLine>(line.rig)?,
                offset: self.offset.group::<OffsetLine>(line.offset)?,
                onset_grade: self.onset_grade.text(line.onset_grade),
            }),
            setup: self.setup(line.setup),
            seen: SeenFacts {
                staging: line.staging.into(),
                lamps: line.lamps.into_iter().map(LampFact::from).collect(),
                amber_gaps_shown: line.amber_gaps_shown_ns.into_iter().map(Span::from_ns).collect(),
                hold: line.hold_ns.map(Span::from_ns),
                frame_period: Span::from_ns(line.frame_period_ns),
                launch: line.launch.map(LaunchFact::from),
            }
            .into(),
            amber_spacing_off: line.amber_spacing_off,
            outcome: line.outcome,
            parts: line.parts.map(Parts::from),
            colour_in_doubt: line.colour_in_doubt,
            hitch: line.hitch,
            lamp_corrected: line.lamp_corrected,
        })
    }

    fn setup(&mut self, setup: QuickSetup) -> SetupFacts {
        let common = CommonSetup {
            tree: self.tree.text(setup.tree),
            ambers: setup.ambers,
            amber_gap: Span::from_ns(setup.amber_gap_ns),
            interval: Span::from_ns(setup.interval_ns),
            procedure: self.procedure.text(setup.procedure),
            drill: setup.drill,
            style: setup.style,
            blank: setup.blank,
            lane: setup.lane,
            other_lane: setup.other_lane.map(|name| self.other_lane.text(name)),
            scripted: setup.scripted,
            aim: setup.aim.map(Aim::from),
        };
        let common = self.setup.group(common);
        SetupFacts { common, seed: setup.seed, pause: setup.pause.map(Pause::from) }
    }
}

impl<T> Default for Recent<T> {
    fn default() -> Self {
        Self(Vec::new())
    }
}

impl<T: Clone> Recent<T> {
    /// What was read from this very text, else what `read` makes of it.
    fn get(&mut self, text: &str, read: impl FnOnce() -> Option<T>) -> Option<T> {
        if let Some(place) = self.0.iter().position(|(known, _)| **known == *text) {
            // What is met often moves to the front.
            let ahead = place.saturating_sub(1);
            self.0.swap(ahead, place);
            return Some(self.0[ahead].1.clone());
        }
        let value = read()?;
        self.0.truncate(REMEMBERED - 1);
        self.0.push((text.into(), value.clone()));
        Some(value)
    }
}

impl Recent<Text> {
    fn text(&mut self, text: &str) -> Text {
        self.get(text, || Some(text.into())).unwrap_or_default()
    }
}

impl<T: Clone> Recent<Shared<T>> {
    /// A group of facts whose line is `L`.
    fn group<'a, L>(&mut self, raw: &'a RawValue) -> Option<Shared<T>>
    where
        L: Deserialize<'a> + Into<T>,
    {
        self.get(raw.get(), || {
            let line: L = serde_json::from_str(raw.get()).ok()?;
            Some(Shared::from(line.into()))
        })
    }
}

impl<T> Default for Alike<T> {
    fn default() -> Self {
        Self(Vec::new())
    }
}

impl<T: Clone + PartialEq> Alike<T> {
    /// The group that says the same, else this one.
    fn group(&mut self, facts: T) -> Shared<T> {
        if let Some(place) = self.0.iter().position(|known| **known == facts) {
            let ahead = place.saturating_sub(1);
            self.0.swap(ahead, place);
            return self.0[ahead].clone();
        }
        let group = Shared::from(facts);
        self.0.truncate(PUT_TOGETHER - 1);
        self.0.push(group.clone());
        group
    }
}

fn unknown() -> &'static str {
    "unknown"
}

#[cfg(test)]
mod tests {
    use super::super::line::{Decoded, Line, decode};
    use super::*;
    use crate::demo::demo_lines;

    /// What the thorough way makes of a value, as it is written.
    fn thorough(value: &str) -> Option<String> {
        match decode(value) {
            Ok(Decoded::Line(line @ Line::Trial(_))) => line.to_json().ok(),
            _ => None,
        }
    }

    fn quick(runs: &mut QuickRuns, value: &str) -> Option<String> {
        runs.read(value).map(|run| Line::from(run).to_json().unwrap())
    }

    #[test]
    fn every_run_as_it_is_written_is_read_and_says_the_same() {
        let runs = &mut QuickRuns::default();
        let mut read = 0;
        for line in demo_lines(5).unwrap() {
            let value = line.to_json().unwrap();
            let of_a_run = matches!(line, Line::Trial(_));
            assert_eq!(quick(runs, &value), of_a_run.then_some(value));
            read += usize::from(of_a_run);
        }
        assert!(read > 400, "{read}");
    }

    #[test]
    fn a_value_that_is_altered_is_read_as_thoroughly_or_left() {
        let lines = demo_lines(6).unwrap();
        let run = lines.into_iter().find(|line| matches!(line, Line::Trial(_))).unwrap();
        let value = run.to_json().unwrap();
        let runs = &mut QuickRuns::default();
        let mut taken = 0;
        // Each byte by itself taken out, doubled, or made another.
        for (i, byte) in value.bytes().enumerate() {
            let (before, after) = (&value[..i], &value[i + 1..]);
            for instead in ["", &"x".repeat(2), "0", "\"", "{", "}", ",", "-", " ", "\\u0041"] {
                let altered = format!("{before}{instead}{after}");
                if let Some(read) = quick(runs, &altered) {
                    assert_eq!(Some(read), thorough(&altered), "{altered}");
                    taken += 1;
                }
            }
            assert_ne!(byte, b'\n');
        }
        assert!(taken > 1000, "{taken}");
    }

    #[test]
    fn doubled_missing_and_unknown_fields_are_as_in_the_thorough_way() {
        let lines = demo_lines(6).unwrap();
        let run = lines.into_iter().find(|line| matches!(line, Line::Trial(_))).unwrap();
        let value = run.to_json().unwrap();
        let runs = &mut QuickRuns::default();
        let with = |more: &str| format!("{},{more}}}", &value[..value.len() - 1]);
        let nan = value.replace("\"sd\":0.01}", "\"sd\":\"nan\"}");
        for (altered, is_read) in [
            (with("\"later\":[1,{\"a\":null}]"), true),
            (with("\"v\":1"), false),
            (with("\"kind\":\"trial\""), false),
            (with("\"driver\":\"another\""), false),
            (value.replace("\"v\":1,", "\"v\":2,"), false),
            (value.replace("\"v\":1,", "\"v\":0,"), false),
            (value.replace("\"hitch\":false", "\"hitch\":null"), false),
            (value.replace("\"hitch\":false,", ""), false),
            (value.replace("\"amber_spacing_off\":false,", ""), true),
            (nan.clone(), true),
        ] {
            assert_ne!(altered, value);
            let read = quick(runs, &altered);
            assert_eq!(read.is_some(), is_read, "{altered}");
            assert_eq!(read, thorough(&altered), "{altered}");
        }
        assert!(quick(runs, &nan).unwrap().contains("\"nan\""));
    }

    #[test]
    fn what_runs_say_alike_is_kept_once_and_more_than_is_remembered_is_right() {
        let runs = &mut QuickRuns::default();
        let one = runs.car.get("a", || None);
        assert!(one.is_none());
        let texts: Vec<String> = (0..3 * REMEMBERED).map(|i| format!("text {i}")).collect();
        for _ in 0..3 {
            for text in &texts {
                assert_eq!(runs.driver.text(text), *text);
            }
        }
        assert_eq!(runs.driver.0.len(), REMEMBERED);
        let mut alike = Alike::<usize>::default();
        for i in 0..3 * PUT_TOGETHER {
            assert_eq!(*alike.group(i), i);
        }
        assert_eq!(alike.0.len(), PUT_TOGETHER);
        let (one, two) = (runs.driver.text("me"), runs.driver.text("me"));
        assert!(std::ptr::eq(one.as_str(), two.as_str()));
    }
}
