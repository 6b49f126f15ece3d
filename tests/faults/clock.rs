//! The wall clock set back, and the hours that come twice or never: order and sessions stay right.
//!
//! Owns the child's clock and its zone (by `faketime` and `TZ`). Refuses to set this machine's.

use super::program::{PROGRAM, Told, can, skipped, text};
use lastamber::history::{Loaded, SlipLine, load_without_lock, slips_in_force};
use lastamber::strategy::weeks::{SessionsBy, Weeks};
use lastamber::trial::TrialRecord;
use std::path::Path;
use std::process::Command;

use super::support;

/// The program at a moment (seconds of Unix time) in a zone.
fn ask_at(moment: i64, zone: &str, words: &[&str]) -> String {
    let mut command = Command::new("faketime");
    command.args(["-f", &format!("@{moment}"), PROGRAM]).args(words);
    command.env("FAKETIME_FMT", "%s").env("TZ", zone);
    Told::from(command.output().unwrap()).well()
}

fn can_set_clocks() -> bool {
    let here = can(&["faketime", "-f", "@0", "true"]);
    if !here {
        skipped("clocks that jump: faketime is not here");
    }
    here
}

fn lines(folder: &Path) -> Vec<SlipLine> {
    load_without_lock(folder).unwrap().slips
}

/// The history after an export was taken in by another folder, where lines are ordered by their ids.
fn taken_elsewhere(folder: &Path, place: &Path) -> Vec<SlipLine> {
    let (file, other) = (place.join("export.json"), place.join("other"));
    super::program::ask(&["history", "export", "--out", text(&file), "--data", text(folder)])
        .well();
    super::program::ask(&["history", "import", text(&file), "--data", text(&other)]).well();
    lines(&other)
}

const NOON: i64 = 1_777_723_200;
const DAY: i64 = 86_400;

#[test]
fn a_correction_made_after_the_clock_was_set_back_a_day_stays_one() {
    let _alone = crate::alone();
    if !can_set_clocks() {
        return;
    }
    let place = tempfile::tempdir().unwrap();
    let folder = place.path().join("own");
    let data = text(&folder);
    let said = ask_at(NOON, "UTC", &["slips", "add", "rt=.145", "--data", data]);
    let first = said.lines().next().unwrap().strip_prefix("saved ").unwrap();
    let words = ["slips", "add", "rt=.045", "--corrects", first, "--data", data];
    ask_at(NOON - DAY, "UTC", &words);
    ask_at(NOON - DAY + 60, "UTC", &["slips", "add", "rt=.200", "--data", data]);
    let there = lines(&folder);
    assert!(there.is_sorted_by(|a, b| a.id < b.id), "an id is younger than all before it");
    assert!(there[0].saved_at.starts_with("2026-05-02T12:00:00"), "{}", there[0].saved_at);
    assert!(there[1].saved_at.starts_with("2026-05-01T12:00:00"), "{}", there[1].saved_at);
    let elsewhere = taken_elsewhere(&folder, place.path());
    assert_eq!(elsewhere, there, "the same order on another machine");
    for lines in [&there, &elsewhere] {
        let in_force = slips_in_force(lines);
        let lights: Vec<String> =
            in_force.iter().map(|line| line.slip.own.rt.unwrap().to_string()).collect();
        assert_eq!(lights, [".045", ".200"], "the wrong one is gone");
    }
}

#[test]
fn the_hour_that_comes_twice_keeps_its_order_and_both_its_names() {
    let _alone = crate::alone();
    if !can_set_clocks() {
        return;
    }
    let place = tempfile::tempdir().unwrap();
    let folder = place.path().join("own");
    // 2026-10-25 in central Europe: 02:30 in summer time, an hour later 02:30 in winter time.
    let summer = 1_792_888_200;
    for (hour, rt) in [(0, "rt=.010"), (1, "rt=.020"), (2, "rt=.030")] {
        ask_at(
            summer + 3600 * hour,
            "Europe/Berlin",
            &["slips", "add", rt, "--data", text(&folder)],
        );
    }
    // 2026-03-29: the hour from two to three does not come.
    let there = lines(&folder);
    if there[0].saved_at.ends_with("[UTC]") {
        return skipped("hours that come twice: no time zones are here");
    }
    let times: Vec<&str> = there.iter().map(|line| line.saved_at.as_str()).collect();
    assert_eq!(
        times,
        [
            "2026-10-25T02:30:00+02:00[Europe/Berlin]",
            "2026-10-25T02:30:00+01:00[Europe/Berlin]",
            "2026-10-25T03:30:00+01:00[Europe/Berlin]",
        ]
    );
    assert!(there.is_sorted_by(|a, b| a.id < b.id));
    assert_eq!(taken_elsewhere(&folder, place.path()), there);
}

/// Runs that began then, as places in their sessions.
fn sessions(began: &[&str], by: SessionsBy) -> Vec<Vec<usize>> {
    let runs = support::some_runs(1);
    let mut trials: Vec<TrialRecord> = Vec::new();
    for (i, began) in began.iter().enumerate() {
        let mut run = TrialRecord { id: format!("run-{i}").into(), ..runs[0].clone() };
        run.began = (*began).into();
        run.setup.scripted = false;
        trials.push(run);
    }
    let loaded = Loaded { trials, ..Loaded::default() };
    let weeks = Weeks::of_loaded(&loaded, None, by, 1).unwrap();
    weeks.sessions.into_iter().map(|session| session.runs).collect()
}

#[test]
fn a_sitting_through_the_night_of_the_clocks_is_one_session() {
    let _alone = crate::alone();
    let autumn = [
        "2026-10-25T02:50:00+02:00[Europe/Berlin]",
        "2026-10-25T02:05:00+01:00[Europe/Berlin]",
        "2026-10-25T02:20:00+01:00[Europe/Berlin]",
    ];
    let spring =
        ["2026-03-29T01:55:00+01:00[Europe/Berlin]", "2026-03-29T03:05:00+02:00[Europe/Berlin]"];
    for by in [SessionsBy::Day, SessionsBy::GapMin(30)] {
        assert_eq!(sessions(&autumn, by), [[0, 1, 2]], "fifteen minutes apart, {by:?}");
        assert_eq!(sessions(&spring, by), [[0, 1]], "ten minutes apart, {by:?}");
    }
    // By the hands of the clock half an hour, in truth an hour and a half.
    let pause =
        ["2026-10-25T02:10:00+02:00[Europe/Berlin]", "2026-10-25T02:40:00+01:00[Europe/Berlin]"];
    assert_eq!(sessions(&pause, SessionsBy::GapMin(60)), [vec![0], vec![1]]);
}

#[test]
fn a_clock_set_back_in_the_middle_of_a_sitting_loses_no_run_and_no_order() {
    let _alone = crate::alone();
    let back = [
        "2026-05-02T20:00:00+02:00[Europe/Oslo]",
        "2026-05-02T20:05:00+02:00[Europe/Oslo]",
        "2026-05-01T20:10:00+02:00[Europe/Oslo]",
        "2026-05-01T20:15:00+02:00[Europe/Oslo]",
    ];
    // By day a session ends where the day changes; by pause there was none.
    assert_eq!(sessions(&back, SessionsBy::Day), [[0, 1], [2, 3]]);
    assert_eq!(sessions(&back, SessionsBy::GapMin(30)), [[0, 1, 2, 3]]);
    let loaded = Loaded {
        trials: support::some_runs(2)
            .into_iter()
            .zip([back[0], back[2]])
            .map(|(run, began)| TrialRecord { began: began.into(), ..run })
            .collect(),
        ..Loaded::default()
    };
    let weeks = Weeks::of_loaded(&loaded, None, SessionsBy::Day, 1).unwrap();
    let days: Vec<_> = weeks.calendar.iter().map(|(day, _)| *day).collect();
    assert!(days.is_sorted(), "the calendar is in its own order: {days:?}");
}
