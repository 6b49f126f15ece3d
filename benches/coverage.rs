//! How often the risk's intervals hold the truth: the full report.
//!
//! `cargo bench --no-default-features --bench coverage -- --full [--trials N]` prints every cell and
//! the summary; without `--full` a shorter run of 100 trials. It uses every core it is given: put
//! `taskset -c 0 nice -n 19` before it to leave the others alone. Parts of it: `--next-session`,
//! `--method program` or `--method compared`, `--truth NAMES` (pieces of names between commas) and
//! `--n SIZES` (between commas); a cell is the same in a part as in the whole.
//! `--fresh` asks four drivers on whom none of the method's weights was chosen. `--weight N` tries
//! another weight of the model. The comparison method has right tails only, the priors' centre
//! fixed at 150 ms and half a launch to spare at any n.

#[path = "../tests/coverage_support/mod.rs"]
mod coverage_support;

use coverage_support::{
    Cells, LEVELS, RISKS, Tally, Truth, cover, cover_next_day, lines_ms, truths,
};
use indicatif::{ProgressBar, ProgressStyle};
use lastamber::seed::Generator;
use lastamber::stats::risk::Settings;
use rand::RngExt;
use rand_distr::{Distribution, Exp1, StandardNormal};
use std::sync::Mutex;
use std::sync::atomic::{AtomicUsize, Ordering};

const SIZES: [usize; 4] = [10, 20, 50, 200];

fn text(name: &str) -> Option<String> {
    let args: Vec<String> = std::env::args().collect();
    let at = args.iter().position(|a| a == name)?;
    args.get(at + 1).cloned()
}

fn option(name: &str) -> Option<f64> {
    text(name)?.parse().ok()
}

/// Whether the list after `name` holds something that `fits`, or there is no list.
fn wanted(name: &str, fits: impl Fn(&str) -> bool) -> bool {
    text(name).is_none_or(|list| list.split(',').any(|piece| fits(piece.trim())))
}

/// Drivers on whom no weight of the method was chosen.
fn fresh_truths() -> Vec<Truth> {
    let logistic = |r: &mut Generator| -> f64 {
        let u: f64 = r.random();
        200.0 + 18.0 * (u / (1.0 - u)).ln()
    };
    let waits = |r: &mut Generator| -> f64 {
        150.0 + 12.0 * (0..4).map(|_| -> f64 { Exp1.sample(r) }).sum::<f64>()
    };
    let hasty = |r: &mut Generator| -> f64 {
        let (z, e): (f64, f64) = (StandardNormal.sample(r), Exp1.sample(r));
        120.0 + 10.0 * z - 25.0 * e
    };
    let restless = |r: &mut Generator| -> f64 {
        let z: f64 = StandardNormal.sample(r);
        if r.random::<f64>() < 0.75 { 60.0 + 18.0 * z } else { 90.0 + 40.0 * z }
    };
    vec![
        Truth { name: "logistic", draw: Box::new(logistic) },
        Truth { name: "four waits", draw: Box::new(waits) },
        Truth { name: "hasty ex-Gaussian", draw: Box::new(hasty) },
        Truth { name: "restless", draw: Box::new(restless) },
    ]
}

/// Cells of one truth and one n by one method.
struct Job {
    truth: usize,
    n: usize,
    cells: Cells,
}

/// How many jobs are done and how long the others will take, on a terminal only. Ctrl-C loses nothing
/// but the table: nothing is written.
fn how_far(jobs: usize) -> ProgressBar {
    let words = "{pos} of {len} jobs [{bar:24}] {elapsed}, about {eta} left";
    let style = ProgressStyle::with_template(words);
    let bar = ProgressBar::new(jobs as u64);
    bar.tick();
    bar.with_style(style.unwrap_or_else(|_| ProgressStyle::default_bar()))
}

/// What `work` makes of each job, in the order of the jobs.
fn on_every_core<J: Sync, R: Send>(jobs: &[J], work: impl Fn(&J) -> R + Sync) -> Vec<R> {
    let (next, done) = (AtomicUsize::new(0), Mutex::new(Vec::new()));
    let bar = how_far(jobs.len());
    let cores = std::thread::available_parallelism().map_or(1, usize::from);
    std::thread::scope(|scope| {
        for _ in 0..cores {
            scope.spawn(|| {
                loop {
                    let i = next.fetch_add(1, Ordering::Relaxed);
                    let Some(job) = jobs.get(i) else { break };
                    let result = work(job);
                    bar.inc(1);
                    done.lock().unwrap().push((i, result));
                }
            });
        }
    });
    let mut done = done.into_inner().unwrap();
    done.sort_by_key(|(i, _)| *i);
    done.into_iter().map(|(_, result)| result).collect()
}

/// The program's own settings, or what the options make of them.
fn program(seed: u64) -> Settings {
    let mut settings = Settings { serial_correction: false, ..Settings::new(seed) };
    settings.concentration = option("--weight").unwrap_or(settings.concentration);
    settings.prior_centre_s = option("--centre").map(|c| c / 1000.0);
    settings
}

fn compared(seed: u64) -> Settings {
    Settings {
        serial_correction: false,
        prior_centre_s: Some(0.150),
        either_tail: false,
        concentration: 50.0,
        spare_launch: Some(0.5),
        ..Settings::new(seed)
    }
}

fn run(
    truths: &[Truth],
    lines: &[Vec<f64>],
    trials: usize,
    method: fn(u64) -> Settings,
) -> Vec<Job> {
    // The long ones first, so that no core is left with one at the end.
    let sizes = SIZES.into_iter().rev().filter(|n| wanted("--n", |piece| piece == n.to_string()));
    let chosen = |t: &usize| wanted("--truth", |piece| truths[*t].name.contains(piece));
    let jobs: Vec<(usize, usize)> =
        sizes.flat_map(|n| (0..truths.len()).filter(chosen).map(move |t| (t, n))).collect();
    let mut jobs = on_every_core(&jobs, |&(truth, n)| Job {
        truth,
        n,
        cells: cover(&truths[truth], &lines[truth], n, trials, method),
    });
    jobs.sort_by_key(|j| (j.truth, j.n));
    jobs
}

fn print_cells(truths: &[Truth], jobs: &[Job]) {
    println!("| truth | n | risk | held of 80/90/95 % | below (90 %) | width 90 % |");
    println!("|---|---|---|---|---|---|");
    for job in jobs {
        for (risk, [a, b, c]) in RISKS.iter().zip(&job.cells) {
            println!(
                "| {} | {} | {risk} | {:.3} / {:.3} / {:.3} | {:.3} | {:.4} |",
                truths[job.truth].name,
                job.n,
                a.coverage(),
                b.coverage(),
                c.coverage(),
                b.below_share(),
                b.mean_width(),
            );
        }
    }
}

fn print_summary(what: &str, truths: &[Truth], jobs: &[Job]) {
    println!("\n{what}");
    for (l, level) in LEVELS.iter().enumerate() {
        let cells: Vec<(&Job, f64, Tally)> = jobs
            .iter()
            .flat_map(|j| RISKS.iter().enumerate().map(move |(i, r)| (j, i, *r)))
            .map(|(j, i, r)| (j, r, j.cells[i][l]))
            .collect();
        let mean = |f: &dyn Fn(&Tally) -> f64| {
            cells.iter().map(|c| f(&c.2)).sum::<f64>() / cells.len() as f64
        };
        let worst = cells.iter().min_by_key(|c| c.2.held).expect("there are cells");
        let most_below = cells.iter().max_by_key(|c| c.2.below).expect("there are cells");
        let at =
            |c: &(&Job, f64, Tally)| format!("{}, n {}, {}", truths[c.0.truth].name, c.0.n, c.1);
        println!(
            "{:.0} %: held {:.3}, least {:.3} ({}); below {:.3}, most {:.3} ({}); mean width {:.4}",
            100.0 * level,
            mean(&Tally::coverage),
            worst.2.coverage(),
            at(worst),
            mean(&Tally::below_share),
            most_below.2.below_share(),
            at(most_below),
            mean(&Tally::mean_width)
        );
    }
}

fn print_next_session(trials: usize) {
    println!("\nNext session, 90 %, days of 20 launches:");
    let cells: Vec<(usize, f64)> =
        [5, 10, 20].into_iter().flat_map(|k| [0.0, 5.0, 10.0].map(|sd| (k, sd))).collect();
    let tallies = on_every_core(&cells, |(days, sd)| cover_next_day(*days, *sd, trials));
    for ((days, day_sd), t) in cells.iter().zip(tallies) {
        println!(
            "{days} days, day SD {day_sd} ms: held {:.3}, below {:.3}, width {:.4}",
            t.coverage(),
            t.below_share(),
            t.mean_width()
        );
    }
}

/// The methods asked for, with what to call them.
fn methods() -> Vec<(&'static str, fn(u64) -> Settings)> {
    let all: [(&str, &'static str, fn(u64) -> Settings); 2] = [
        ("program", "The program's method:", program),
        (
            "compared",
            "Right tails, centre fixed at 150 ms, weight 50, half a spare launch:",
            compared,
        ),
    ];
    let asked = all.into_iter().filter(|(name, ..)| wanted("--method", |piece| piece == *name));
    asked.map(|(_, title, settings)| (title, settings)).collect()
}

fn main() {
    let full = std::env::args().any(|a| a == "--full");
    let trials = option("--trials").map_or(if full { 1000 } else { 100 }, |t| t as usize);
    if std::env::args().any(|a| a == "--next-session") {
        return print_next_session(trials);
    }
    let truths = if std::env::args().any(|a| a == "--fresh") { fresh_truths() } else { truths() };
    println!("{trials} trials a cell");
    let size = if full { 4_000_000 } else { 1_000_000 };
    let lines: Vec<Vec<f64>> = truths.iter().map(|t| lines_ms(t, size)).collect();
    for (title, settings) in methods() {
        let jobs = run(&truths, &lines, trials, settings);
        print_cells(&truths, &jobs);
        print_summary(title, &truths, &jobs);
    }
    if text("--method").is_none() && text("--truth").is_none() && text("--n").is_none() {
        print_next_session(trials);
    }
}
