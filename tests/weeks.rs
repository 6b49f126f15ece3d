//! Sessions over weeks, the pages Weeks and Review, and what they may claim.

mod desk_support;

use desk_support::{blocks, run, setup, timed};
use lastamber::demo::{demo_lines, truth};
use lastamber::history::{ExclusionLine, Line, Loaded, load_without_lock, write_demo};
use lastamber::report::review::review_page;
use lastamber::report::weeks::weeks_page;
use lastamber::report::{Document, html, page_text, text};
use lastamber::strategy::ledger::{Ahead, Occasion, forecast_ahead};
use lastamber::strategy::own::{OwnLines, OwnSetup};
use lastamber::strategy::weeks::{Choices, Filter, ROWS, Review, Row, SessionsBy, Weeks, What};
use lastamber::tree::{AbandonReason, Outcome, Staging, VoidReason};
use lastamber::trial::{Drill, SeenFacts, Style, TrialRecord};

fn demo() -> Loaded {
    let folder = tempfile::tempdir().unwrap();
    write_demo(folder.path(), 1, &demo_lines(1).unwrap()).unwrap();
    load_without_lock(folder.path()).unwrap()
}

fn weeks_of(loaded: &Loaded, filter: Option<Filter>) -> Weeks {
    Weeks::of_loaded(loaded, filter, SessionsBy::Day, 1).unwrap()
}

fn loaded(trials: Vec<TrialRecord>) -> Loaded {
    Loaded { trials, ..Loaded::default() }
}

fn out(trial: &str) -> ExclusionLine {
    let (id, at) = ("out".to_owned(), "2026-06-01T10:00:00+02:00[Europe/Oslo]".to_owned());
    ExclusionLine::leaving_out(id, at, trial, "the phone rang").unwrap()
}

#[test]
fn the_made_up_driver_reads_as_what_is_true_of_them() {
    let loaded = demo();
    let weeks = weeks_of(&loaded, None);
    let page = page_text(&weeks_page(&weeks));
    println!("{page}");
    let compared = weeks.compared.as_ref().unwrap();
    assert!(compared.charted.len() >= 6, "{}", compared.charted.len());
    let spread = compared.days.as_ref().unwrap().within;
    let (low, high) = (1000.0 * spread.low, 1000.0 * spread.high);
    assert!(low < 1.4 * truth::TIME_IT_SD_MS && high > truth::TIME_IT_SD_MS, "{low} to {high}");
    assert!(weeks.slips.as_ref().unwrap().slips.counts.lights > 5);
    assert!(weeks.board.is_some());
    for word in ["spread", "Days beat volume", "never mixed", "Forecast"] {
        assert!(page.contains(word), "{word}");
    }
}

#[test]
fn a_session_is_reviewed_run_by_run() {
    let loaded = demo();
    let newest = Review::of_loaded(&loaded, None, None).unwrap().unwrap();
    assert_eq!(newest.place, (18, 18));
    assert!(newest.law.is_none(), "nine launches have no shape");
    let rolled_in =
        |run: &&TrialRecord| run.setup.drill == Drill::RollUp && run.setup.style == Style::TimeIt;
    let id = &loaded.trials.iter().filter(rolled_in).nth(20).unwrap().id;
    let review = Review::of_loaded(&loaded, None, Some(&id.to_string())).unwrap().unwrap();
    let page = page_text(&review_page(Some(&review)));
    println!("{page}");
    assert_eq!(review.runs.len(), review.session.runs.len());
    assert!(page.contains("Courtesy kept") && page.contains("driver .") && page.contains("Run "));
    assert!(review.law.is_some());
    let of_it = Review::of_loaded(&loaded, None, Some(&review.runs[0].id)).unwrap().unwrap();
    assert_eq!(of_it.place, review.place);
    assert_eq!(Review::of_loaded(&Loaded::default(), None, None).unwrap(), None);
}

#[test]
fn no_run_and_one_run_have_pages_without_a_claim() {
    let empty = weeks_of(&Loaded::default(), None);
    assert!(weeks_page(&empty).headline.contains("Nothing to look back on"));
    let one = weeks_of(&loaded(vec![timed(0, 4, Style::React, 0.031)]), None);
    let page = page_text(&weeks_page(&one));
    assert!(page.contains("0 of 1 starts red"), "{page}");
    assert!(!page.contains("NaN") && !page.contains("inf"), "{page}");
}

#[test]
fn a_red_left_out_stays_red_and_both_risks_are_told() {
    let mut trials = vec![timed(0, 4, Style::React, -0.02)];
    trials.extend((1..12).map(|i| timed(i, 4, Style::React, 0.03 + 0.001 * i as f64)));
    trials.push(run(12, 4, Style::React, Outcome::Void(VoidReason::NoOnset), None));
    trials.push(run(13, 4, Style::React, Outcome::Abandoned(AbandonReason::Paused), None));
    trials.push(run(14, 4, Style::React, Outcome::Lapse, None));
    let mut loaded = loaded(trials);
    loaded.exclusions = vec![out("run-0"), out("run-5")];
    let weeks = weeks_of(&loaded, None);
    assert_eq!((weeks.reds, weeks.counts.excluded, weeks.counts.excluded_reds), (1, 1, 1));
    // Eleven launches that count, one lapse; with exclusions back in one more.
    assert_eq!(weeks.red.unwrap().n, 12);
    assert_eq!(weeks.red_without_exclusions.unwrap().n, 13);
    let session = &weeks.sessions[0];
    assert_eq!((session.red.unwrap().n, session.red_without_exclusions.unwrap().n), (12, 13));
    let left_out = session.launches.iter().filter(|launch| launch.excluded);
    assert_eq!(left_out.map(|launch| launch.run).collect::<Vec<_>>(), [5]);
    let page = page_text(&weeks_page(&weeks));
    for word in ["1 excluded, 1 void, 1 abandoned, 1 lapsed", "With the runs you left out back in"]
    {
        assert!(page.replace('\n', " ").contains(word), "{word}: {page}");
    }
    let review = Review::of_loaded(&loaded, None, None).unwrap().unwrap();
    assert!(page_text(&review_page(Some(&review))).contains("left out: the phone rang"));
    // Taken in again, everything is as before.
    let (id, at) = ("in".to_owned(), String::new());
    loaded.exclusions.push(ExclusionLine::taking_in(id, at, "run-5", ""));
    assert_eq!(weeks_of(&loaded, None).red.unwrap().n, 13);
}

#[test]
fn nights_at_the_track_are_held_against_their_forecasts_and_told_first() {
    let mut loaded = demo();
    let newest = loaded.trials.iter().rev().find(|run| run.setup.style == Style::TimeIt).unwrap();
    let filter = Filter::of_setup(&OwnSetup::of(newest));
    let first = weeks_of(&loaded, Some(filter.clone())).board.unwrap().first;
    assert_eq!(first.occasion, Occasion::TrackNight);
    let night = loaded.slips.iter().filter_map(|line| line.slip.date).max();
    let of_it = loaded.slips.iter().filter(|line| line.slip.date == night);
    let reds = of_it.clone().filter(|line| line.slip.is_red()).count();
    assert_eq!((first.starts, first.reds), (of_it.count(), reds));
    let page = page_text(&weeks_page(&weeks_of(&loaded, Some(filter.clone()))));
    assert!(
        page.replace('\n', " ").contains("Forecast of your newest night at the track"),
        "{page}"
    );
    // Without its slips a night has no score yet.
    loaded.slips.clear();
    let first = weeks_of(&loaded, Some(filter)).board.unwrap().first;
    assert_eq!(first.occasion, Occasion::Session);
}

#[test]
fn unlike_rigs_and_trees_are_asked_about_first() {
    let mut trials: Vec<TrialRecord> =
        (0..30).map(|i| timed(i, 4 + (i / 10) as u8, Style::React, 0.03)).collect();
    for run in &mut trials[20..] {
        run.rig.display = "x11 1920x1080 full".to_owned();
        run.rig.refresh_hz = 144;
    }
    let mut loaded = loaded(trials);
    let weeks = weeks_of(&loaded, None);
    assert_eq!(weeks.unlike.iter().map(|u| u.what).collect::<Vec<_>>(), [What::Rig]);
    assert!(weeks.compared.is_none());
    assert!(weeks_page(&weeks).headline.starts_with("2 rigs"), "{:?}", weeks_page(&weeks).headline);
    let together = Filter { together: true, ..weeks.asked.filter.clone() };
    assert!(weeks_of(&loaded, Some(together)).compared.is_some());
    let one = Filter { rig: Some((*loaded.trials[29].rig).clone()), ..weeks.asked.filter.clone() };
    let one = weeks_of(&loaded, Some(one));
    assert_eq!((one.sessions.len(), one.unlike.len()), (1, 0));
    loaded.trials[12].driver = "another demo driver".into();
    let all = weeks_of(&loaded, Some(Filter::default()));
    assert!(all.unlike.iter().any(|u| u.what == What::Driver && u.kinds.len() == 2));
    // Who drove last, and the rig used last, are offered first.
    let mut choices = Choices::of(&OwnLines::from(&loaded), &Filter::default(), None);
    let mut offered = |row| {
        choices.turn(row, true);
        choices.words(row)
    };
    assert_eq!([Row::Driver; 2].map(&mut offered), ["demo driver", "another demo driver"]);
    let rigs = [Row::Rig; 2].map(offered);
    assert!(rigs[0].ends_with("1920x1080 full") && rigs[1].ends_with("1280x720 full"), "{rigs:?}");
    let day = |day| Some(jiff::civil::date(2026, 5, day));
    let some = Filter { from: day(5), to: day(6), ..Filter::default() };
    assert_eq!([4, 5, 6, 7].map(|i| some.holds_day(day(i))), [false, true, true, false]);
    loaded.trials[25].setup.tree = "pro".into();
    let all = Filter { driver: weeks.asked.filter.driver.clone(), ..Filter::default() };
    let asked = weeks_of(&loaded, Some(all));
    assert!(asked.unlike.iter().any(|u| u.what == What::Tree));
}

#[test]
fn sessions_are_cut_by_day_or_by_a_pause() {
    let mut trials: Vec<TrialRecord> = (0..24).map(|i| timed(i, 4, Style::React, 0.03)).collect();
    for (i, run) in trials.iter_mut().enumerate() {
        let hour = if i < 12 { 10 } else { 18 };
        run.began = format!("2026-05-04T{hour}:{:02}:00+02:00[Europe/Oslo]", i % 12).into();
    }
    let loaded = loaded(trials);
    assert_eq!(weeks_of(&loaded, None).sessions.len(), 1);
    let by_pause = Weeks::of_loaded(&loaded, None, SessionsBy::GapMin(30), 1).unwrap();
    assert_eq!(by_pause.sessions.len(), 2);
    // Cold are the first three of the day, not of each session.
    let cold = |i: usize| by_pause.sessions[i].driver_parts_s(true).len();
    assert_eq!((cold(0), cold(1)), (3, 0));
    assert!(page_text(&weeks_page(&by_pause)).contains("2026-05-04 #2"));
    let _ = Line::from(out("run-1"));
}

#[test]
fn one_lucky_guess_is_no_best() {
    let mut lights: Vec<f64> = vec![0.03; 14];
    lights[5] = 0.0;
    let trials = lights.iter().enumerate().map(|(i, l)| timed(i, 4, Style::React, *l)).collect();
    let mut all = loaded(trials);
    let ten = weeks_of(&all, None).compared.unwrap().bests.ten.unwrap();
    assert!((ten.median_s - 0.03).abs() < 1e-9, "{ten:?}");
    // So does a start without a launch: seven and seven are no ten.
    let mut lapsed = all.clone();
    lapsed.trials.insert(7, run(20, 4, Style::React, Outcome::Lapse, None));
    assert_eq!(weeks_of(&lapsed, None).compared.unwrap().bests.ten, None);
    // A launch 80 ms after the lamp breaks the row: twelve more do not make ten around it.
    let parts = all.trials[5].parts.as_mut().unwrap();
    parts.driver_raw = parts.offset + lastamber::units::Span::from_ms(80);
    parts.car = parts.interval - lastamber::units::Span::from_ms(70);
    assert_eq!(weeks_of(&all, None).compared.unwrap().bests.ten, None);
}

/// Runs on every second day of three years.
fn three_years(runs: usize) -> Loaded {
    let law = lastamber::strategy::law::RtLaw::ex_gaussian(0.028, 0.018, 0.015).unwrap();
    let random = &mut lastamber::seed::generator(5);
    let first = jiff::civil::date(2023, 1, 2);
    let days = 548;
    let trials = (0..runs).map(|i| {
        let day = i * days / runs;
        let date = first.checked_add(jiff::Span::new().days(2 * day as i64)).unwrap();
        let mut run = timed(i, 1, Style::React, law.sample(random));
        run.began = format!("{date}T20:{:02}:{:02}+01:00", i / 60 % 60, i % 60).into();
        run.id = format!("run-{i:07}").into();
        run
    });
    loaded(trials.collect())
}

/// `LASTAMBER_LONG=1 cargo test --release --no-default-features --test weeks three_years -- --nocapture`
#[test]
fn three_years_are_worked_out_in_two_seconds() {
    let long = std::env::var_os("LASTAMBER_LONG").is_some();
    let loaded = three_years(if long { 100_000 } else { 5_000 });
    let start = std::time::Instant::now();
    let weeks = weeks_of(&loaded, None);
    let worked_out = start.elapsed();
    let start = std::time::Instant::now();
    let page = weeks_page(&weeks);
    let built = start.elapsed();
    let start = std::time::Instant::now();
    let review = Review::of_loaded(&loaded, None, None).unwrap();
    let reviewed = start.elapsed();
    let pages =
        vec![("Weeks".to_owned(), page), ("Review".to_owned(), review_page(review.as_ref()))];
    let start = std::time::Instant::now();
    let document = Document { title: "Three years".to_owned(), pages, ..Document::default() };
    let (text, page) = (text(&document), html(&document));
    println!(
        "{} runs in {} sessions: weeks {worked_out:?}, page {built:?}, review {reviewed:?}, text and \
         HTML {:?} ({} and {} bytes)",
        loaded.trials.len(),
        weeks.sessions.len(),
        start.elapsed(),
        text.len(),
        page.len()
    );
    assert_eq!(weeks.sessions.len(), 548);
    assert!(page.len() < 1_000_000);
    if long {
        assert!(worked_out + reviewed < std::time::Duration::from_secs(2));
    }
}

#[test]
fn what_is_chosen_is_what_is_looked_at() {
    let loaded = demo();
    let lines = OwnLines::from(&loaded);
    let filter = Filter::of_newest(&lines).unwrap();
    let today = loaded.trials.last().unwrap().began.date();
    let mut choices = Choices::of(&lines, &filter, today);
    let held = |filter: &Filter| loaded.trials.iter().filter(|run| filter.holds(run)).count();
    assert_eq!(held(&choices.filter()), held(&filter));
    for row in ROWS {
        let (before, words) = (choices.filter(), choices.words(row));
        if !choices.is_open(row) {
            choices.turn(row, true);
            assert_eq!((choices.filter(), choices.words(row)), (before, words));
            continue;
        }
        let mut seen = vec![words];
        loop {
            choices.turn(row, true);
            let words = choices.words(row);
            if words == seen[0] {
                break;
            }
            assert!(!seen.contains(&words), "{words}");
            seen.push(words);
        }
        assert!(seen.len() > 1);
        assert_eq!(choices.filter(), before, "once round");
        choices.turn(row, true);
        choices.turn(row, false);
        assert_eq!(choices.filter(), before, "there and back");
    }
    assert!(choices.is_open(Row::Style));
    while choices.words(Row::Style) != "all 2" {
        choices.turn(Row::Style, true);
    }
    let all = weeks_of(&loaded, Some(choices.filter()));
    assert!(all.compared.is_none() && all.unlike.iter().any(|unlike| unlike.what == What::Style));
    choices.turn(Row::Together, true);
    assert!(weeks_of(&loaded, Some(choices.filter())).compared.is_some());
}

#[test]
fn sessions_lead_to_those_beside_them() {
    let loaded = demo();
    let mut at = Review::of_loaded(&loaded, None, None).unwrap().unwrap();
    assert_eq!(at.beside[1], None);
    let all = at.place.1;
    for place in (1..all).rev() {
        let before = at.beside[0].clone().unwrap();
        let earlier = Review::of_loaded(&loaded, None, Some(&before)).unwrap().unwrap();
        assert_eq!(earlier.place, (place, all));
        let back = earlier.beside[1].clone().unwrap();
        assert!(at.runs.iter().any(|run| run.id == back));
        at = earlier;
    }
    assert_eq!(at.beside[0], None);
}

#[test]
fn every_run_of_every_session_is_counted_once() {
    let of = |id, day, outcome| run(id, day, Style::React, outcome, None);
    let day = |first: usize, day: u8, times: usize| {
        let mut runs = Vec::new();
        for i in 0..times {
            let id = first + 10 * i;
            let mut lit = timed(id + 6, day, Style::React, 0.030);
            lit.setup.drill = Drill::GuessTest;
            let mut scripted = timed(id + 8, day, Style::React, -0.010);
            scripted.setup.scripted = true;
            runs.extend([
                timed(id, day, Style::React, 0.020),
                of(id + 1, day, Outcome::TimedOut),
                of(id + 2, day, Outcome::Void(VoidReason::NoOnset)),
                of(id + 3, day, Outcome::Abandoned(AbandonReason::Paused)),
                of(id + 4, day, Outcome::Stayed),
                of(id + 5, day, Outcome::Guessed { after_due_ns: 40_000_000 }),
                lit,
                of(id + 7, day, Outcome::Lapse),
                scripted,
            ]);
        }
        runs
    };
    let mut trials = day(100, 4, 2);
    trials.extend(day(200, 6, 3));
    // A day without a launch is no day of the calendar.
    trials.push(of(300, 8, Outcome::Lapse));
    let weeks = weeks_of(&loaded(trials), None);
    let c = weeks.counts;
    assert_eq!(weeks.sessions.len(), 3);
    assert_eq!((c.launches, c.timed_out, c.void, c.abandoned, c.lapses), (5, 5, 5, 5, 6));
    assert_eq!((c.scripted, weeks.reds, weeks.red.unwrap().n), (5, 0, 11));
    let test = weeks.guess_test;
    assert_eq!((test.blanks, test.guesses, test.lit), (10, 5, 5));
    // Those of the guess test were launches of their day as well.
    let days = [(jiff::civil::date(2026, 5, 4), 4), (jiff::civil::date(2026, 5, 6), 6)];
    assert_eq!(weeks.calendar, days);
}

#[test]
fn a_forecast_is_held_against_the_session_of_its_day_alone() {
    let mut trials = blocks(&[(Style::TimeIt, 1), (Style::TimeIt, 2)], 4);
    let ahead = Ahead {
        occasion: Occasion::Session,
        occasion_id: "2026-05-05".to_owned(),
        id: "run-1999".to_owned(),
        saved_at: "2026-05-05T20:00:00+02:00[Europe/Oslo]".to_owned(),
        earlier_s: 0.0,
        seed: 3,
    };
    let before = loaded(trials.clone());
    let told = forecast_ahead(&OwnLines::from(&before), &setup(Style::TimeIt), ahead).unwrap();
    for day in [5, 7] {
        trials.extend((0..10).map(|i| timed(100 * day + i, day as u8, Style::TimeIt, 0.030)));
    }
    let forecasts = vec![told.unwrap().to_line("0.1.0")];
    let weeks = weeks_of(&Loaded { forecasts, ..loaded(trials) }, None);
    let scored: Vec<bool> = weeks.sessions.iter().map(|s| s.score.is_some()).collect();
    assert_eq!(scored, [false, false, true, false]);
}

#[test]
fn how_the_car_was_rolled_in_is_added_up_over_a_session() {
    let rolled = |id: usize, staging: Staging| {
        let mut run = timed(id, 4, Style::React, 0.030);
        run.setup.drill = Drill::RollUp;
        run.seen = SeenFacts { staging, ..run.seen.facts() }.into();
        run
    };
    let deep = Staging { deep: true, courtesy_broken: true, ..Staging::default() };
    let through = Staging { rolled_through: 2, sent_back: 3, ..Staging::default() };
    let mut trials = vec![rolled(0, deep), rolled(1, through)];
    trials.extend([rolled(2, deep), rolled(3, Staging::default())]);
    // Beside the beams: by the tree alone, and a script.
    let mut scripted = rolled(4, through);
    scripted.setup.scripted = true;
    trials.extend([timed(5, 4, Style::React, 0.030), scripted]);
    let record = Review::of_loaded(&loaded(trials), None, Some("run-0")).unwrap().unwrap().staging;
    assert_eq!((record.rolled_in, record.courtesy_kept, record.deep), (4, 2, 2));
    assert_eq!((record.rolled_through, record.sent_back), (2, 3));
    assert!(record.took_s.is_none());
}
