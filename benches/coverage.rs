//! How often the risk's intervals hold the truth: the full report.
//!
//! `cargo bench --no-default-features --bench coverage -- --full [--trials N]` prints every cell and
//! the summary; without `--full` a shorter run of 100 trials. It uses every core it is given: put
//! `taskset -c 0 nice -n 19` before it to leave the others alone. `--next-session` prints that part alone, `--weight N` tries another weight of the
//! model. The comparison method has right tails only and the priors' centre fixed at 150 ms.

#[path = "../tests/coverage_support/mod.rs"]
mod coverage_support;

use coverage_support::{
    Cells, LEVELS, RISKS, Tally, Truth, cover, cover_next_day, lines_ms, truths,
};
use lastamber::stats::risk::Settings;
use std::sync::Mutex;
use std::sync::atomic::{AtomicUsize, Ordering};

const SIZES: [usize; 4] = [10, 20, 50, 200];

fn option(name: &str) -> Option<f64> {
    let args: Vec<String> = std::env::args().collect();
    let at = args.iter().position(|a| a == name)?;
    args.get(at + 1)?.parse().ok()
}

struct Job {
    truth: usize,
    n: usize,
    ours: Cells,
    compared: Cells,
}

fn run(truths: &[Truth], trials: usize, size: usize) -> Vec<Job> {
    let jobs: Vec<(usize, usize)> = (0..truths.len()).flat_map(|t| SIZES.map(|n| (t, n))).collect();
    let (next, done) = (AtomicUsize::new(0), Mutex::new(Vec::new()));
    let weight = option("--weight");
    let centre = option("--centre");
    let ours = |seed| {
        let mut settings = Settings { serial_correction: false, ..Settings::new(seed) };
        settings.concentration = weight.unwrap_or(settings.concentration);
        settings.prior_centre_s = centre.map(|c| c / 1000.0);
        settings
    };
    let compared = |seed| Settings {
        serial_correction: false,
        prior_centre_s: Some(0.150),
        either_tail: false,
        concentration: 50.0,
        ..Settings::new(seed)
    };
    let cores = std::thread::available_parallelism().map_or(1, usize::from);
    std::thread::scope(|scope| {
        for _ in 0..cores {
            scope.spawn(|| {
                while let Some((truth, n)) = jobs.get(next.fetch_add(1, Ordering::Relaxed)) {
                    let (t, n) = (&truths[*truth], *n);
                    let lines = lines_ms(t, size);
                    let job = Job {
                        truth: *truth,
                        n,
                        ours: cover(t, &lines, n, trials, ours),
                        compared: cover(t, &lines, n, trials, compared),
                    };
                    done.lock().unwrap().push(job);
                }
            });
        }
    });
    let mut jobs = done.into_inner().unwrap();
    jobs.sort_by_key(|j| (j.truth, j.n));
    jobs
}

fn print_cells(truths: &[Truth], jobs: &[Job]) {
    println!(
        "| truth | n | risk | held of 80/90/95 % | below (90 %) | width 90 % | compared: held 90 %, width |"
    );
    println!("|---|---|---|---|---|---|---|");
    for job in jobs {
        for (i, risk) in RISKS.iter().enumerate() {
            let [a, b, c] = job.ours[i];
            let other = job.compared[i][1];
            println!(
                "| {} | {} | {risk} | {:.3} / {:.3} / {:.3} | {:.3} | {:.4} | {:.3}, {:.4} |",
                truths[job.truth].name,
                job.n,
                a.coverage(),
                b.coverage(),
                c.coverage(),
                b.below_share(),
                b.mean_width(),
                other.coverage(),
                other.mean_width()
            );
        }
    }
}

fn print_summary(what: &str, truths: &[Truth], jobs: &[Job], of: impl Fn(&Job) -> &Cells) {
    println!("\n{what}");
    for (l, level) in LEVELS.iter().enumerate() {
        let cells: Vec<(&Job, f64, Tally)> = jobs
            .iter()
            .flat_map(|j| RISKS.iter().enumerate().map(move |(i, r)| (j, i, *r)))
            .map(|(j, i, r)| (j, r, of(j)[i][l]))
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
    for days in [5, 10, 20] {
        for day_sd in [0.0, 5.0, 10.0] {
            let t = cover_next_day(days, day_sd, trials);
            println!(
                "{days} days, day SD {day_sd} ms: held {:.3}, below {:.3}, width {:.4}",
                t.coverage(),
                t.below_share(),
                t.mean_width()
            );
        }
    }
}

fn main() {
    let full = std::env::args().any(|a| a == "--full");
    let trials = option("--trials").map_or(if full { 1000 } else { 100 }, |t| t as usize);
    if std::env::args().any(|a| a == "--next-session") {
        return print_next_session(trials);
    }
    let truths = truths();
    println!("{trials} trials a cell");
    let jobs = run(&truths, trials, if full { 4_000_000 } else { 1_000_000 });
    if full {
        print_cells(&truths, &jobs);
    }
    print_summary("The program's method:", &truths, &jobs, |j| &j.ours);
    print_summary("Right tails, centre fixed at 150 ms, weight 50:", &truths, &jobs, |j| {
        &j.compared
    });
    print_next_session(trials);
}
