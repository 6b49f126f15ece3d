//! The slip book on a page: all slips, what they come to, what they ask, and the next launch rpm.
//!
//! Owns the words and the order. Refuses to pool practice slips with real ones.

use super::page::{Axis, Block, Form, Hue, LayerKind, Page, Plot, Table};
use crate::history::SlipLine;
use crate::rules::TrackLength;
use crate::slips::{Slip, check};
use crate::stats::summary::quantile_with_interval;
use crate::stats::{Estimate, Sample};
use crate::strategy::rpm_steps::{RpmSteps, advise, runs_of};

/// Level of every interval here.
const LEVEL: f64 = 0.90;
/// Below this a median has no interval worth the name: chosen, five order statistics hold the median
/// with 94 %.
const LEAST_FOR_MEDIAN: usize = 5;
/// Questions listed; the rest are counted.
const MOST_QUESTIONS: usize = 12;

/// The page of a slip book: `lines` are those in force, in the order they were entered.
pub fn slip_book_page(lines: &[&SlipLine]) -> Page {
    let newest = newest_first(lines);
    let real: Vec<&Slip> =
        newest.iter().map(|line| &line.slip).filter(|slip| !slip.is_simulated()).collect();
    let mut page = Page::new(headline(&real));
    if real.is_empty() {
        page.text(
            "Enter the first one right after the run: half a minute, keys alone. From then on the program \
             corrects what it believes of your car and your rig.",
        );
    } else {
        medians(&real, &mut page);
        rpm(&real, &mut page);
    }
    questions(&newest, &mut page);
    if !newest.is_empty() {
        page.push(Block::Table(table(&newest)));
        let simulated = newest.len() - real.len();
        if simulated > 0 {
            page.note(format!(
                "{simulated} marked SIM are practice slips, simulated: they are in no figure above."
            ));
        }
    }
    page
}

/// The slips of a book, newest first: by day, then by time, then by when they were entered.
pub fn newest_first<'a>(lines: &[&'a SlipLine]) -> Vec<&'a SlipLine> {
    let mut newest: Vec<&SlipLine> = lines.to_vec();
    newest.sort_by_key(|line| (line.slip.date, line.slip.time));
    newest.reverse();
    newest
}

fn headline(real: &[&Slip]) -> String {
    if real.is_empty() {
        return "No slip yet.".to_owned();
    }
    let reds = real.iter().filter(|slip| slip.is_red()).count();
    let mut days: Vec<_> = real.iter().filter_map(|slip| slip.date).collect();
    days.sort_unstable();
    days.dedup();
    let plural =
        |n: usize, one: &str, many: &str| format!("{n} {}", if n == 1 { one } else { many });
    format!(
        "{} from {}, {} red.",
        plural(real.len(), "slip", "slips"),
        plural(days.len(), "day", "days"),
        if reds == 0 { "none".to_owned() } else { reds.to_string() }
    )
}

/// A figure of a slip that has a median.
struct Figure {
    name: &'static str,
    of: fn(&Slip) -> Option<f64>,
    form: Form,
}

const FIGURES: [Figure; 8] = [
    Figure { name: "R/T", of: |slip| slip.rt().map(|rt| rt.seconds()), form: Form::Light },
    Figure { name: "60'", of: |slip| slip.own.t60.map(|t| t.seconds()), form: Form::Plain(3) },
    Figure { name: "330'", of: |slip| slip.own.t330.map(|t| t.seconds()), form: Form::Plain(3) },
    Figure { name: "1/8", of: |slip| slip.own.t660.map(|t| t.seconds()), form: Form::Plain(3) },
    Figure { name: "MPH", of: |slip| slip.own.mph660, form: Form::Plain(2) },
    Figure { name: "1000'", of: |slip| slip.own.t1000.map(|t| t.seconds()), form: Form::Plain(3) },
    Figure { name: "1/4", of: |slip| slip.own.t1320.map(|t| t.seconds()), form: Form::Plain(3) },
    Figure { name: "MPH", of: |slip| slip.own.mph1320, form: Form::Plain(2) },
];

fn medians(real: &[&Slip], page: &mut Page) {
    let mut table = Table::new("Medians", &["", "median", "90 % interval", "slips", "best"]);
    for figure in &FIGURES {
        let values: Vec<f64> = real.iter().filter_map(|slip| (figure.of)(slip)).collect();
        let n = values.len();
        if n == 0 {
            continue;
        }
        let words = |x: f64| figure.form.words(x);
        let speed = figure.name == "MPH";
        let best = values.iter().copied().reduce(if speed { f64::max } else { f64::min });
        // The quickest light is no best: it may be red.
        let best = best.filter(|_| figure.name != "R/T").map_or_else(String::new, words);
        let found = Sample::new(values).and_then(|s| quantile_with_interval(&s, 0.5, LEVEL));
        let Ok(Estimate { value, low, high, n, .. }) = found else { continue };
        let interval = if n < LEAST_FOR_MEDIAN {
            "too few".to_owned()
        } else {
            format!("{} to {}", words(low), words(high))
        };
        table.push([figure.name.to_owned(), words(value), interval, n.to_string(), best]);
    }
    page.push(Block::Table(table));
    lights(real, page);
}

/// The lights one after the other, oldest first.
fn lights(real: &[&Slip], page: &mut Page) {
    let mut oldest: Vec<f64> =
        real.iter().rev().filter_map(|slip| slip.rt().map(|rt| rt.seconds())).collect();
    if oldest.len() < 2 {
        return;
    }
    let median = Sample::new(oldest.clone()).and_then(|s| quantile_with_interval(&s, 0.5, LEVEL));
    let n = oldest.len();
    let (green, red): (Vec<_>, Vec<_>) = oldest
        .drain(..)
        .enumerate()
        .map(|(i, light)| [i as f64 + 1.0, light])
        .partition(|[_, light]| *light >= 0.0);
    let mut plot = Plot::new(
        format!("Your {n} lights, one after the other"),
        Axis::new("slip", Form::Plain(0)).from_to(0.5, n as f64 + 0.5),
        Axis::new("R/T, s", Form::Light),
    );
    if let Some(median) = median.ok().filter(|median| median.n >= LEAST_FOR_MEDIAN) {
        let band = vec![[0.5, median.low, median.high], [n as f64 + 0.5, median.low, median.high]];
        plot = plot.with("median", Hue::Muted, LayerKind::Band(band));
    }
    plot = plot
        .with("", Hue::Muted, LayerKind::Level(0.0))
        .with("green", Hue::Driver, LayerKind::Points(green))
        .with("red", Hue::Risk, LayerKind::Points(red));
    page.push(Block::Plot(plot));
}

fn rpm(real: &[&Slip], page: &mut Page) {
    let runs = runs_of(real.iter().rev().copied());
    let Ok(steps) = RpmSteps::new(&runs) else { return };
    page.heading("Launch rpm");
    page.text(advise(&steps).to_string());
    let mut table = Table::new("Steps so far", &["rpm", "60 ft, median", "90 % interval", "runs"]);
    for step in &steps.steps {
        let Estimate { value, low, high, n, .. } = step.sixty_foot_s;
        table.push([
            format!("{:.0}", step.rpm),
            format!("{value:.3}"),
            format!("{low:.3} to {high:.3}"),
            n.to_string(),
        ]);
    }
    page.push(Block::Table(table));
    let whiskers = steps.steps.iter().map(|step| {
        let e = step.sixty_foot_s;
        [step.rpm, e.value, e.low, e.high]
    });
    let plot = Plot::new(
        "60-foot time at each launch rpm",
        Axis::new("launch rpm", Form::Plain(0)),
        Axis::new("60 ft, s", Form::Plain(2)),
    )
    .with("median with its 90 % interval", Hue::Car, LayerKind::Whiskers(whiskers.collect()));
    page.push(Block::Plot(plot));
    page.note("One change at a time; two or three runs a step, judged by their median.");
}

fn questions(newest: &[&SlipLine], page: &mut Page) {
    let asked = newest.iter().filter(|line| !line.slip.is_simulated()).flat_map(|line| {
        let day = line.slip.date.map_or_else(|| "no date".to_owned(), |date| date.to_string());
        check(&line.slip).into_iter().map(move |question| format!("{day}: {question}"))
    });
    let mut asked: Vec<String> = asked.collect();
    if asked.is_empty() {
        return;
    }
    let more = asked.len().saturating_sub(MOST_QUESTIONS);
    asked.truncate(MOST_QUESTIONS);
    if more > 0 {
        asked.push(format!("and {more} more"));
    }
    page.heading("Worth a second look");
    page.push(Block::Points(asked));
    page.note(
        "They count all the same. If one is mistyped, type it again: the old one stays on disk.",
    );
}

fn table(newest: &[&SlipLine]) -> Table {
    let eighth_only = newest.iter().all(|line| line.slip.length == TrackLength::Eighth);
    let mut columns = vec!["date", "track", "lane", "R/T", "60'", "330'", "1/8", "MPH"];
    if !eighth_only {
        columns.extend(["1000'", "1/4", "MPH"]);
    }
    let mut table = Table::new("Newest first", &columns);
    for SlipLine { slip, .. } in newest {
        let date = slip.date.map_or_else(|| "no date".to_owned(), |date| date.to_string());
        let date = if slip.is_simulated() { format!("{date} SIM") } else { date };
        let red = if slip.is_red() { " red" } else { "" };
        let light = slip.rt().map_or_else(String::new, |rt| rt.to_string());
        let time = |time: Option<crate::rules::SlipTime>| {
            time.map_or_else(String::new, |time| time.to_string())
        };
        let speed = |mph: Option<f64>| mph.map_or_else(String::new, |mph| format!("{mph:.2}"));
        let lane = slip.lane.map_or("", |lane| match lane {
            crate::tree::Lane::Left => "left",
            crate::tree::Lane::Right => "right",
        });
        let own = &slip.own;
        table.push([
            date,
            slip.track.clone(),
            lane.to_owned(),
            format!("{light}{red}"),
            time(own.t60),
            time(own.t330),
            time(own.t660),
            speed(own.mph660),
            time(own.t1000),
            time(own.t1320),
            speed(own.mph1320),
        ]);
    }
    table
}
