//! The forecast ledger: what goes in comes out, and the program's score of itself is counted right.

use lastamber::demo::demo_lines;
use lastamber::history::{ForecastLine, Line, Loaded, load};
use lastamber::seed::{generator, seed_of_run};
use lastamber::stats::Sample;
use lastamber::stats::risk::{CarPart, HomeToTrack, Pool};
use lastamber::strategy::StrategyError;
use lastamber::strategy::launches::{Launches, View};
use lastamber::strategy::law::RtLaw;
use lastamber::strategy::ledger::{
    Ahead, Came, Declared, Forecast, Held, Ledger, Occasion, Standing, board, forecast_ahead, score,
};
use lastamber::strategy::own::{OwnLines, OwnSetup};
use lastamber::trial::Style;
use lastamber::units::Span;

fn declared(id: &str, occasion: Occasion, occasion_id: &str, earlier_s: f64) -> Declared {
    Declared {
        id: id.to_owned(),
        saved_at: "2026-05-01T18:00:00+02:00[Europe/Oslo]".to_owned(),
        driver: "driver".to_owned(),
        occasion,
        occasion_id: occasion_id.to_owned(),
        car: "Bracket car".to_owned(),
        tree: "full".to_owned(),
        interval: Span::from_ms(500),
        style: Style::TimeIt,
        earlier_s,
    }
}

fn forecast(law: &RtLaw, n: usize, what: Declared, seed: u64) -> Forecast {
    let rng = &mut generator(seed);
    let parts = (0..n).map(|_| law.sample(rng) + 0.22).collect();
    let pool = Pool::new(Sample::new(parts).unwrap());
    let car = CarPart { mean_s: 0.28, doubt_sd_s: 0.0, run_sd_s: 0.0 };
    let home = HomeToTrack::prior(0.0).unwrap();
    let launches = Launches::practice(pool, car, 0.5, home).unwrap();
    let seen = launches.seen(View::ThisForm, seed, 0).unwrap();
    Forecast::new(what, &seen, 0.05, seed).unwrap()
}

fn came<'a>(first_id: &'a str, lights_s: &'a [f64]) -> Came<'a> {
    Came { first_id: first_id.into(), lights_s, left_before_tree: 0, lapses: 0 }
}

#[test]
fn a_forecast_goes_through_the_history_unchanged() {
    let law = RtLaw::normal(0.045, 0.025).unwrap();
    let made = forecast(&law, 40, declared("f1", Occasion::TrackNight, "night", 0.005), 1);
    let line = made.to_line("0.1.0");
    assert_eq!((line.occasion.as_str(), line.source.as_str()), ("track-night", "practice"));
    assert_eq!(line.declared_earlier_ms, 5.0);
    let loaded = load(Line::from(line.clone()).seal().unwrap().bytes()).unwrap();
    assert_eq!(Forecast::of_line(&loaded.forecasts[0]), Some(made));
    for broken in [
        ForecastLine { occasion: "feast".to_owned(), ..line.clone() },
        ForecastLine { source: "hearsay".to_owned(), ..line.clone() },
        ForecastLine { red: lastamber::history::RateLine { a: f64::NAN, ..line.red }, ..line },
    ] {
        assert_eq!(Forecast::of_line(&broken), None);
    }
}

#[test]
fn a_forecast_is_hidden_until_its_session_is_over() {
    let law = RtLaw::normal(0.045, 0.025).unwrap();
    let line = |id: &str, session: &str| {
        forecast(&law, 20, declared(id, Occasion::Session, session, 0.0), 2).to_line("0.1.0")
    };
    let lines = [line("a", "monday"), line("b", "tuesday")];
    let ledger = Ledger::new(&lines);
    let ids =
        |running| -> Vec<&str> { ledger.shown(running).map(|f| f.declared.id.as_str()).collect() };
    assert_eq!(ids(Some("tuesday")), ["a"]);
    assert_eq!(ids(None), ["a", "b"]);
    assert_eq!(ledger.of_occasion("tuesday").count(), 1);
}

#[test]
fn a_forecast_made_after_the_first_launch_is_not_scored() {
    let law = RtLaw::normal(0.045, 0.025).unwrap();
    let made = forecast(&law, 20, declared("m", Occasion::Session, "s", 0.0), 3);
    let late = score(&made, &came("a", &[0.05]));
    assert!(matches!(late, Err(StrategyError::MadeTooLate { .. })));
    assert_eq!(score(&made, &came("z", &[])), Ok(None));
}

#[test]
fn hit_brier_and_coverage_are_counted() {
    let law = RtLaw::normal(0.045, 0.025).unwrap();
    let made = forecast(&law, 200, declared("m", Occasion::Session, "s", 0.0), 4);
    let p = made.red.estimate.value;
    let lights = [0.05, 0.04, -0.01, 0.30];
    let all = Came { left_before_tree: 1, lapses: 1, ..came("z", &lights) };
    let told = score(&made, &all).unwrap().unwrap();
    assert_eq!((told.starts, told.reds, told.inside), (6, 2, (2, 4)));
    let brier = (2.0 * (1.0 - p).powi(2) + 4.0 * p * p) / 6.0;
    assert!((told.brier - brier).abs() < 1e-15);
    // About 4 %: two reds in six are a miss, none is a hit.
    assert!(!told.hit && told.expected_reds.1 < 2, "{told:?}");
    let green = score(&made, &came("z", &[0.05; 6])).unwrap().unwrap();
    assert!(green.hit);
    let night = forecast(&law, 20, declared("n", Occasion::TrackNight, "t", 0.0), 5);
    let night = score(&night, &came("z", &lights)).unwrap().unwrap();
    let whole = board(&[night, told, green]).unwrap();
    assert_eq!(whole.first, night, "the track night is shown first, however old");
    assert_eq!((whole.hits.n, whole.coverage.unwrap().n), (3, 14));
    assert!(whole.bands.iter().all(|band| band.from <= band.forecast && band.forecast < band.to));
    // Every start counts once: four, six and six of them.
    let squares: f64 = 4.0 * night.brier + 6.0 * told.brier + 6.0 * green.brier;
    assert!((whole.brier - squares / 16.0).abs() < 1e-15, "{}", whole.brier);
    assert_eq!(board(&[]), None);
}

/// Forecasts of a driver who does not change: about nine in ten hit, nine in ten lights are inside.
#[test]
fn a_driver_who_does_not_change_is_forecast_rightly() {
    let law = RtLaw::ex_gaussian(0.03, 0.018, 0.015).unwrap();
    let scores: Vec<_> = (0..60)
        .map(|i| {
            let seed = seed_of_run(31, i);
            let made = forecast(&law, 60, declared("a", Occasion::Session, "s", 0.01), seed);
            let rng = &mut generator(seed_of_run(32, i));
            let lights: Vec<f64> = (0..30).map(|_| law.sample(rng) - 0.01).collect();
            score(&made, &came("b", &lights)).unwrap().unwrap()
        })
        .collect();
    let whole = board(&scores).unwrap();
    println!("{:?} hit, {:?} inside, Brier {:.4}", whole.hits, whole.coverage, whole.brier);
    // Standard errors .039 and about .01.
    assert!(whole.hits.value > 0.9 - 3.0 * 0.039, "{:?}", whole.hits);
    let coverage = whole.coverage.unwrap().value;
    assert!((coverage - 0.90).abs() < 0.04, "{coverage}");
    // Where the forecast is right the Brier score is p(1 − p) of the true risk.
    let p = law.below(0.01);
    assert!((whole.brier - p * (1.0 - p)).abs() < 0.01, "{}", whole.brier);
}

#[test]
fn a_forecast_ahead_rests_on_ten_launches_at_least_and_on_the_view_of_its_occasion() {
    let loaded = demo();
    let setup = OwnSetup::of(loaded.trials.last().unwrap());
    let ahead = |occasion| Ahead {
        occasion,
        occasion_id: "2026-06-01".to_owned(),
        id: "ahead".to_owned(),
        saved_at: "2026-06-01T18:00:00+02:00[Europe/Oslo]".to_owned(),
        earlier_s: 0.0,
        seed: 5,
    };
    let of = |lines: &OwnLines, occasion| forecast_ahead(lines, &setup, ahead(occasion)).unwrap();
    let lines = OwnLines::from(&loaded);
    let home = of(&lines, Occasion::Session).unwrap();
    let track = of(&lines, Occasion::TrackNight).unwrap();
    assert_eq!((home.declared.style, home.n > 100), (setup.style, true));
    // The way to the track is in the second alone: its lights spread wider.
    let width = |forecast: &Forecast| forecast.lights_s.1 - forecast.lights_s.0;
    assert!(width(&track) > width(&home), "{track:?} {home:?}");
    let few = OwnLines { trials: &loaded.trials[..5], ..lines };
    assert_eq!(of(&few, Occasion::Session), None);
}

fn held(loaded: &Loaded, running: Option<&str>) -> Vec<Held> {
    Ledger::new(&loaded.forecasts).held_against(&OwnLines::from(loaded), running)
}

#[test]
fn forecasts_are_held_against_the_runs_and_the_slips_that_followed() {
    let loaded = demo();
    let all = held(&loaded, None);
    assert_eq!(all.len(), loaded.forecasts.len());
    let of = |occasion| all.iter().filter(move |h| h.forecast.declared.occasion == occasion);
    let starts = |occasion| -> Vec<usize> {
        of(occasion).filter_map(|h| Some(h.standing.score()?.starts)).collect()
    };
    // Three nights of five, five and four passes, with every slip typed in.
    assert_eq!(starts(Occasion::TrackNight), [5, 5, 4]);
    let sessions = starts(Occasion::Session);
    assert_eq!(sessions.len(), of(Occasion::Session).count());
    // As many starts as were driven that day in that style, counted by hand from the lines.
    let first = of(Occasion::Session).next().unwrap();
    let driven = loaded.trials.iter().filter(|run| {
        use lastamber::tree::Outcome as O;
        run.began.starts_with(&first.forecast.declared.occasion_id)
            && run.setup.style == Style::TimeIt
            && matches!(run.outcome, O::Green | O::Red | O::LeftBeforeTree | O::Lapse)
    });
    assert_eq!(sessions[0], driven.count());
    // The one that is still going on is not shown at all.
    let day = &loaded.forecasts.last().unwrap().occasion_id;
    let shown = held(&loaded, Some(day));
    assert!(shown.len() < all.len());
    assert!(shown.iter().all(|h| h.forecast.declared.occasion_id != *day));
}

#[test]
fn a_night_waits_for_its_slips_and_a_forecast_after_its_first_pass_is_not_scored() {
    let mut loaded = demo();
    let night = loaded.forecasts.iter().position(|f| f.occasion == "track-night").unwrap();
    let standing = |loaded: &Loaded| held(loaded, None)[night].standing;
    assert!(matches!(standing(&loaded), Standing::Scored(_)));
    let before = loaded.forecasts[night].clone();
    let day = before.occasion_id.clone();
    let all_slips = loaded.slips.clone();
    loaded.slips.retain(|line| line.slip.date.unwrap().to_string() != day);
    assert_eq!(standing(&loaded), Standing::NothingYet);
    loaded.slips = all_slips;
    // On the same evening, after the first pass, though no slip was typed in yet.
    loaded.forecasts[night].saved_at = format!("{day}T23:30:00+00:00[UTC]");
    assert_eq!(standing(&loaded), Standing::MadeTooLate);
    loaded.forecasts[night] = ForecastLine { id: "zzz".to_owned(), ..before };
    assert_eq!(standing(&loaded), Standing::MadeTooLate);
    let session = loaded.forecasts.iter().position(|f| f.occasion == "session").unwrap();
    loaded.forecasts[session].id = "zzz".to_owned();
    assert_eq!(held(&loaded, None)[session].standing, Standing::MadeTooLate);
    loaded.trials.clear();
    assert_eq!(held(&loaded, None)[session].standing, Standing::NothingYet);
}

fn demo() -> Loaded {
    let mut bytes = Vec::new();
    for line in demo_lines(1).unwrap() {
        bytes.extend_from_slice(line.seal().unwrap().bytes());
    }
    load(&*bytes).unwrap()
}
