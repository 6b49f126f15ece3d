//! The page Review: this session, launch by launch.
//!
//! Owns what stands on it and in which order. Refuses computing, and to leave a run out: every run of
//! the session is there.

use super::advice::chance;
use super::desk::counts_words;
use super::page::{Axis, Block, Form, Hue, LayerKind, Page, Plot, Table, TimeBar};
use super::words::{light_floored, light_with_interval, ms_with_interval};
use crate::stats::family::{Distribution, Model};
use crate::strategy::weeks::{Review, ReviewRun, StagingRecord};
use crate::tree::Outcome;

/// Runs whose time bars are drawn, the newest ones. Chosen: what a page of paper holds.
const MOST_BARS: usize = 20;
/// Runs in the table and ticks below the columns. Chosen: nobody reads more, and a window lays out each.
const MOST_RUNS: usize = 500;
/// Points of a curve.
const CURVE_POINTS: usize = 120;

/// The page; without a session what it takes to have one.
pub fn review_page(review: Option<&Review>) -> Page {
    let Some(review) = review else {
        let mut page = Page::new("No session to review yet.");
        page.text("Make a launch: the review of a session begins with its first run.");
        return page;
    };
    let mut page = Page::new(headline(review));
    page.note(format!("Session {} of {}: {}.", review.place.0, review.place.1, review.tally));
    if review.others > 0 {
        page.note(format!(
            "{} more that day in another car, on another tree or by another way to leave: a review of \
             their own.",
            review.others
        ));
    }
    push_launches(&mut page, review);
    push_reds(&mut page, review);
    page.heading("Staging");
    page.push(Block::Points(staging_words(&review.staging)));
    page.heading("Every run");
    page.push(Block::Table(runs_table(review)));
    if first_listed(review) > 0 {
        page.note(format!(
            "The last {MOST_RUNS} of {} runs; `lastamber history export csv` has all.",
            review.runs.len()
        ));
    }
    push_bars(&mut page, review);
    let own = &review.session.own;
    let counts = counts_words(&own.counts, &own.guess_test);
    if !counts.is_empty() {
        page.note(format!("Of these runs: {}.", counts.join(", ")));
    }
    page
}

fn headline(review: &Review) -> String {
    let session = &review.session;
    let day = session.day.map_or_else(|| "This session".to_owned(), |day| day.to_string());
    let starts = session.red.as_ref().map_or(0, |red| red.n);
    if starts == 0 {
        return format!("{day}: no start that counts.");
    }
    let reds = match session.reds {
        0 => "none red".to_owned(),
        reds => format!("{reds} red"),
    };
    let light = session
        .light_s
        .as_ref()
        .map(|light| format!("; median light {}", light_with_interval(light)));
    let start = if starts == 1 { "start" } else { "starts" };
    format!("{day}: {starts} {start}, {reds}{}.", light.unwrap_or_default())
}

fn push_launches(page: &mut Page, review: &Review) {
    let session = &review.session;
    if session.launches.is_empty() {
        return;
    }
    page.heading("Launches");
    match (&session.median_s, &session.spread_s) {
        (Some(median), Some(spread)) => page.text(format!(
            "Last amber to launch, after the day's first three: median {}, spread {}.",
            ms_with_interval(median),
            ms_with_interval(spread)
        )),
        _ => page.text(
            "From eight launches after the day's first three there is a median and a spread.",
        ),
    };
    page.push(Block::Plot(histogram(review)));
    page.push(Block::Plot(run_order(review)));
}

/// Width of a column: Freedman & Diaconis 1981, 2 IQR n^(−1/3), on a round number of ms.
fn column_s(sorted: &[f64]) -> f64 {
    let quantile = |p| crate::stats::summary::quantile_of_sorted(sorted, p);
    let width = 2.0 * (quantile(0.75) - quantile(0.25)) / (sorted.len() as f64).cbrt();
    let round = [0.002, 0.005, 0.010, 0.020, 0.050, 0.100];
    round.into_iter().find(|step| *step >= width).unwrap_or(0.100)
}

/// Columns, the fitted curve in launches a column, and each launch below.
fn histogram(review: &Review) -> Plot {
    let counted = review.session.launches.iter().filter(|launch| !launch.excluded);
    let mut parts: Vec<f64> = counted.map(|launch| launch.driver_part_s).collect();
    parts.sort_by(f64::total_cmp);
    let mut plot = Plot::new(
        "How the launches of this session fall",
        Axis::new("last amber to launch, ms", Form::Millis),
        Axis::new("launches", Form::Plain(0)),
    );
    let (Some(first), Some(last)) = (parts.first(), parts.last()) else { return plot };
    let width = column_s(&parts);
    let (from, to) = ((first / width).floor() as i64, (last / width).floor() as i64);
    // One launch minutes late would ask for columns without end.
    if to - from < 400 {
        let column = |i: i64| {
            let (low, high) = (i as f64 * width, (i + 1) as f64 * width);
            let inside = parts.iter().filter(|x| (**x / width).floor() as i64 == i).count();
            [low, high, inside as f64]
        };
        plot = plot.with("", Hue::Driver, LayerKind::Columns((from..=to).map(column).collect()));
    }
    if let Some(model) = review.law.as_ref().and_then(|law| law.model.as_ref()) {
        let curve = curve(model, (*first, *last), width * parts.len() as f64);
        plot = plot.with("fitted curve", Hue::Text, LayerKind::Line(curve));
    }
    match parts.len() <= MOST_RUNS {
        true => plot.with("", Hue::Muted, LayerKind::Rug(parts)),
        // So many ticks would be a bar; the columns count them all.
        false => plot,
    }
}

fn curve(model: &Model, (low, high): (f64, f64), scale: f64) -> Vec<[f64; 2]> {
    let air = 0.1 * (high - low);
    let step = (high - low + 2.0 * air) / (CURVE_POINTS - 1) as f64;
    let at = |i: usize| low - air + i as f64 * step;
    let points = (0..CURVE_POINTS).map(|i| [at(i), scale * model.pdf(at(i))]);
    points.filter(|[_, y]| y.is_finite()).collect()
}

/// The place of the first run that is listed.
fn first_listed(review: &Review) -> usize {
    review.runs.len().saturating_sub(MOST_RUNS)
}

/// Lights in the order they were driven.
fn run_order(review: &Review) -> Plot {
    let begins = first_listed(review);
    let title = match begins {
        0 => "Lights in the order of the runs; below .000 is red".to_owned(),
        _ => format!("Lights of the last {MOST_RUNS} runs in their order; below .000 is red"),
    };
    let mut plot =
        Plot::new(title, Axis::new("run", Form::Plain(0)), Axis::new("light", Form::Light));
    let at = |wanted: &dyn Fn(&ReviewRun, f64) -> bool| {
        let runs = review.runs.iter().enumerate().skip(begins);
        let lights = runs.filter_map(|(i, run)| Some((i, run, run.light_s?)));
        let lights = lights.filter(|(_, run, light)| wanted(run, *light));
        lights.map(|(i, _, light)| [i as f64 + 1.0, light]).collect::<Vec<[f64; 2]>>()
    };
    let is_out = |run: &ReviewRun| run.left_out.is_some() || run.scripted;
    plot = plot.with("green", Hue::Muted, LayerKind::Level(0.0));
    if let Some(light) = &review.session.light_s {
        plot = plot.with("median", Hue::Text, LayerKind::Level(light.value));
    }
    for (hue, points) in [
        (Hue::Driver, at(&|run, light| light >= 0.0 && !is_out(run))),
        (Hue::Risk, at(&|_, light| light < 0.0)),
        (Hue::Muted, at(&|run, light| light >= 0.0 && is_out(run))),
    ] {
        if !points.is_empty() {
            plot = plot.with("", hue, LayerKind::Points(points));
        }
    }
    plot
}

fn push_reds(page: &mut Page, review: &Review) {
    let session = &review.session;
    let Some(red) = &session.red else { return };
    page.heading("Red lights");
    page.text(format!("{} of {} starts red: {}.", session.reds, red.n, chance(red)));
    if let Some(all) = &session.red_without_exclusions {
        page.note(format!(
            "With the runs you left out back in: {} of {}, {}.",
            session.reds,
            all.n,
            chance(all)
        ));
    }
    if let Some(score) = &session.score {
        let (low, high) = score.expected_reds;
        let held = if score.hit { "it held" } else { "it did not hold" };
        page.text(format!(
            "Forecast before the first launch: {low} to {high} red of {}; {} came, {held}.",
            score.starts, score.reds
        ));
    }
}

fn staging_words(record: &StagingRecord) -> Vec<String> {
    let n = record.rolled_in;
    if n == 0 {
        return vec!["Launches only in this session: nothing was rolled in.".to_owned()];
    }
    let mut said = vec![
        format!("Courtesy kept {} of {n} times.", record.courtesy_kept),
        format!(
            "Rolled through the stage beam {}, sent back {}, staged deep {}.",
            times(record.rolled_through),
            times(record.sent_back),
            times(record.deep)
        ),
    ];
    if let Some(took) = &record.took_s {
        said.push(format!(
            "From pre-stage to steady {:.1} s ({:.1} to {:.1}, n = {}).",
            took.value, took.low, took.high, took.n
        ));
    }
    if let Some(depth) = &record.depth_in {
        let e = &depth.median;
        said.push(format!(
            "Stood {:.1} in past the beam ({:.1} to {:.1}, n = {}), from {:.1} to {:.1} in.",
            e.value, e.low, e.high, e.n, depth.range.0, depth.range.1
        ));
    }
    said
}

fn times(n: usize) -> String {
    match n {
        0 => "never".to_owned(),
        1 => "once".to_owned(),
        n => format!("{n} times"),
    }
}

fn runs_table(review: &Review) -> Table {
    let columns = ["", "light", "driver", "car", "interval", "ended", "remark"];
    let mut table =
        Table::new("With the delay of today; +driver +car -interval is the light", &columns);
    for (i, run) in review.runs.iter().enumerate().skip(first_listed(review)) {
        let part = |k: usize| run.parts_s.map_or_else(String::new, |p| Form::Light.words(p[k]));
        table.push([
            (i + 1).to_string(),
            run.light_s.map_or_else(String::new, light_floored),
            part(0),
            part(1),
            part(2),
            ended(run.outcome).to_owned(),
            remarks(run),
        ]);
    }
    table
}

/// A run in a line; `number` counts from 0.
pub fn run_words(number: usize, run: &ReviewRun) -> String {
    let light = run.light_s.map(|light| format!("   light {}", light_floored(light)));
    let remarks = remarks(run);
    let said = if remarks.is_empty() { String::new() } else { format!("   {remarks}") };
    format!("Run {}{}   {}{said}", number + 1, light.unwrap_or_default(), ended(run.outcome))
}

fn ended(outcome: Outcome) -> &'static str {
    match outcome {
        Outcome::Green => "green",
        Outcome::Red => "red",
        Outcome::LeftBeforeTree => "left before the tree: red",
        Outcome::TimedOut => "not staged in time",
        Outcome::Lapse => "never left",
        Outcome::Stayed => "stayed, rightly",
        Outcome::Guessed { .. } => "guessed",
        Outcome::Abandoned(_) => "broken off",
        Outcome::Void(_) => "void",
    }
}

fn remarks(run: &ReviewRun) -> String {
    let mut said = Vec::new();
    if let Some(reason) = &run.left_out {
        said.push(format!("left out: {reason}"));
    }
    let is_red = run.light_s.is_some_and(|light| light < 0.0);
    match run.outcome {
        Outcome::Green if is_red => said.push("red with today's delay".to_owned()),
        Outcome::Red if run.light_s.is_some() && !is_red => {
            said.push("green with today's delay".to_owned());
        }
        _ => {}
    }
    if run.scripted {
        said.push("by a script, counts nowhere".to_owned());
    }
    if run.flagged {
        said.push("flagged".to_owned());
    }
    said.join("; ")
}

fn push_bars(page: &mut Page, review: &Review) {
    let timed: Vec<(usize, [f64; 3])> =
        review.runs.iter().enumerate().filter_map(|(i, run)| Some((i + 1, run.parts_s?))).collect();
    if timed.is_empty() {
        return;
    }
    page.heading("Each run in its parts");
    if timed.len() > MOST_BARS {
        let table = if first_listed(review) == 0 { "; the table has all" } else { "" };
        page.note(format!("The last {MOST_BARS} of {}{table}.", timed.len()));
    }
    for (number, [driver_s, car_s, interval_s]) in timed.iter().rev().take(MOST_BARS).rev() {
        page.note(format!("Run {number}"));
        let bar = TimeBar { driver_s: *driver_s, car_s: *car_s, interval_s: *interval_s };
        page.push(Block::TimeBar(bar));
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn no_session_says_what_it_takes() {
        assert!(review_page(None).headline.contains("No session"));
    }
}
