//! A history of years: made up, opened, worked out and told in a moment, on pages of a bounded size.
//!
//! Owns the checks of a long history as a window meets it. By default of one season's worth; with
//! `LASTAMBER_LONG` set of three years, a hundred thousand runs, with the times it took.

use lastamber::demo::demo_years;
use lastamber::history::{Loaded, load};
use lastamber::progress::Progress;
use lastamber::report::page::{Block, LayerKind, Page};
use lastamber::report::review::review_page;
use lastamber::report::weeks::weeks_page;
use lastamber::report::{Document, html, text};
use lastamber::strategy::weeks::{Review, SessionsBy, Weeks};
use std::time::{Duration, Instant};

/// What it is, and how long it took.
fn timed<T>(what: &str, work: impl FnOnce() -> T) -> (T, Duration) {
    let began = Instant::now();
    let made = work();
    let took = began.elapsed();
    println!("{what}: {took:.2?}");
    (made, took)
}

fn history() -> (Loaded, bool) {
    let long = std::env::var_os("LASTAMBER_LONG").is_some();
    let years = if long { 3 } else { 1 };
    let (lines, _) = timed("made up", || demo_years(years, 1, &Progress::default()).unwrap());
    let bytes: Vec<u8> =
        lines.iter().flat_map(|line| line.seal().unwrap().bytes().to_vec()).collect();
    println!("{} bytes", bytes.len());
    let (loaded, _) = timed("loaded", || load(&bytes[..]).unwrap());
    (loaded, long)
}

/// Marks of the fullest plot, and rows of the longest table.
fn most(page: &Page) -> (usize, usize) {
    let marks = |kind: &LayerKind| match kind {
        LayerKind::Line(x) | LayerKind::Dashed(x) | LayerKind::Points(x) => x.len(),
        LayerKind::Whiskers(x) => x.len(),
        LayerKind::Columns(x) => x.len(),
        LayerKind::Rug(x) => x.len(),
        _ => 1,
    };
    page.blocks.iter().fold((0, 0), |(points, rows), block| match block {
        Block::Plot(plot) => {
            (points.max(plot.layers.iter().map(|layer| marks(&layer.kind)).sum()), rows)
        }
        Block::Table(table) => (points, rows.max(table.rows.len())),
        _ => (points, rows),
    })
}

fn page_text(page: &Page) -> String {
    format!("{page:?}")
}

/// `LASTAMBER_LONG=1 cargo test --release --no-default-features --test long_history -- --nocapture`
#[test]
fn years_are_opened_in_a_moment_and_their_pages_stay_small() {
    let (loaded, long) = history();
    let runs = loaded.trials.len();
    let (weeks, first) =
        timed("weeks", || Weeks::of_loaded(&loaded, None, SessionsBy::Day, 1).unwrap());
    let (review, second) = timed("review", || Review::of_loaded(&loaded, None, None).unwrap());
    let (weeks_told, third) = timed("page of the weeks", || weeks_page(&weeks));
    let (review_told, fourth) = timed("page of the review", || review_page(review.as_ref()));
    println!("{runs} runs in {} sessions", weeks.sessions.len());
    println!("weeks {:?}, review {:?} (marks, rows)", most(&weeks_told), most(&review_told));
    assert!([&weeks_told, &review_told].map(most).iter().all(|m| m.0 <= 700 && m.1 <= 500));
    assert!(page_text(&weeks_told).contains(if long { "of 4 sessions at a time" } else { "of 2" }));
    if long {
        assert!(runs > 100_000 && weeks.sessions.len() > 600);
        // On an idle machine a quarter of it.
        assert!(first + second + third + fourth < Duration::from_secs(2));
    }
    let pages = vec![("Weeks".to_owned(), weeks_told), ("Review".to_owned(), review_told)];
    let document = Document { title: "Years".to_owned(), pages, ..Document::default() };
    let (_, _) = timed("text and HTML", || (text(&document), html(&document)));
}

#[test]
fn one_day_of_thousands_of_runs_is_summed_up_and_says_so() {
    let lines = demo_years(1, 2, &Progress::default()).unwrap();
    let bytes: Vec<u8> =
        lines.iter().flat_map(|line| line.seal().unwrap().bytes().to_vec()).collect();
    let mut loaded = load(&bytes[..]).unwrap();
    loaded.trials.truncate(3_000);
    loaded.trials.iter_mut().for_each(|run| run.began = "2026-04-06T18:00:00+00:00[UTC]".into());
    let review = Review::of_loaded(&loaded, None, None).unwrap().unwrap();
    assert!(review.runs.len() > 1_000, "{}", review.runs.len());
    let page = review_page(Some(&review));
    let (marks, rows) = most(&page);
    assert!(marks <= 700 && rows == 500, "{marks} {rows}");
    let said = page_text(&page);
    assert!(said.contains("Lights of the last 500 runs") && said.contains("The last 500 of"));
}
