//! `lastamber report` on 100,000 runs: how long it takes, and that it says what fewer runs let expect.
//!
//! `LASTAMBER_LONG=1 cargo test --release --no-default-features --test report_speed -- --nocapture`

use assert_cmd::cargo::CommandCargoExt;
use lastamber::demo::demo_lines;
use lastamber::history::{Line, write_demo};
use lastamber::seed::generator;
use lastamber::tree::Outcome;
use lastamber::trial::TrialRecord;
use lastamber::units::Span;
use rand_distr::{Distribution, Normal};
use std::path::Path;
use std::process::Command;
use std::time::{Duration, Instant};

/// Stretches of six weeks that follow each other; more runs make their evenings fuller.
const STRETCHES: usize = 30;

/// The made-up weeks over and over: every run has another launch by a few milliseconds.
fn years(runs: usize) -> Vec<Line> {
    let random = &mut generator(7);
    let jitter = Normal::new(0.0, 6.0).unwrap();
    let (trials, mut lines): (Vec<Line>, Vec<Line>) =
        demo_lines(1).unwrap().into_iter().partition(|line| matches!(line, Line::Trial(_)));
    let trials = trials.into_iter().filter_map(|line| match line {
        Line::Trial(trial) => Some(TrialRecord::from(*trial)),
        _ => None,
    });
    let trials: Vec<TrialRecord> = trials.collect();
    let mut many: Vec<TrialRecord> = Vec::with_capacity(runs);
    for i in 0..runs {
        let (stretch, run) = (i / trials.len() % STRETCHES, &trials[i % trials.len()]);
        let began: jiff::ZonedDateTime = run.began.to_string().parse().unwrap();
        let began = began.checked_add(jiff::Span::new().days(42 * stretch as i64)).unwrap();
        let mut run = TrialRecord { began: began.to_string().into(), ..run.clone() };
        if let (Some(parts), Outcome::Green | Outcome::Red) = (&mut run.parts, run.outcome) {
            parts.driver_raw += Span::from_ms_f64(jitter.sample(random));
            let light = parts.driver_raw - parts.offset + parts.car - parts.interval;
            run.outcome = if light < Span::ZERO { Outcome::Red } else { Outcome::Green };
        }
        many.push(run);
    }
    many.sort_by_cached_key(|run| run.began.to_string());
    for (i, run) in many.iter_mut().enumerate() {
        run.id = format!("run-{i:07}").into();
    }
    lines.extend(many.into_iter().map(Line::from));
    lines
}

fn report(folder: &Path, more: &[&str]) -> (String, Duration) {
    let mut command = Command::cargo_bin("lastamber").unwrap();
    command.args(["report", "--data"]).arg(folder).args(more);
    let start = Instant::now();
    let out = command.output().unwrap();
    let took = start.elapsed();
    assert!(out.status.success(), "{}", String::from_utf8_lossy(&out.stderr));
    (String::from_utf8(out.stdout).unwrap(), took)
}

#[test]
fn years_of_runs_are_told_in_two_seconds() {
    let long = std::env::var_os("LASTAMBER_LONG").is_some();
    let runs = if long { 100_000 } else { 4_000 };
    let folder = tempfile::tempdir().unwrap();
    write_demo(folder.path(), 7, &years(runs)).unwrap();
    if let Some(keep) = std::env::var_os("LASTAMBER_KEEP") {
        write_demo(Path::new(&keep), 7, &years(runs)).unwrap();
    }
    let card = folder.path().join("card.png");
    let forms: [&[&str]; 4] = [
        &["--format", "text"],
        &["--format", "json"],
        &["--format", "html"],
        &["--card", card.to_str().unwrap()],
    ];
    for form in forms {
        let (said, took) = report(folder.path(), form);
        println!("{runs} runs, {form:?}: {took:.2?}, {} bytes", said.len());
        // The processor may be shared: what is measured is said, and only a wide bar is held.
        assert!(!long || took < Duration::from_secs(10), "{form:?}: {took:?}");
    }
    let (json, _) = report(folder.path(), &["--format", "json"]);
    let json: serde_json::Value = serde_json::from_str(&json).unwrap();
    let told = json["sessions"].as_array().unwrap().iter().map(|s| &s["launches"]);
    let launches: u64 = told.map(|n| n.as_u64().unwrap()).sum();
    assert!(launches as usize > runs / 2, "{launches}");
}
