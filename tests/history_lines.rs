//! Lines: nothing is lost on the way to disk and back, and newer lines are left alone.

#[path = "history_support/mod.rs"]
mod support;

use lastamber::history::{
    CarLine, ForecastLine, Found, HistoryError, Line, MAX_LINE_BYTES, RateLine, Reader, TrialLine,
    Why, load,
};
use lastamber::trial::TrialRecord;
use proptest::prelude::*;
use serde_json::{Value, json};

/// A sealed line around any value.
fn sealed(value: &str) -> Vec<u8> {
    let sum = crc32fast::hash(value.as_bytes());
    format!("{{\"sum\":\"{sum:08x}\",\"line\":{value}}}\n").into_bytes()
}

/// The bits of every number in a run count, so that -0.0 and 0.0 are told apart.
fn bits(run: &TrialRecord) -> Vec<u64> {
    let measured = [run.car.car_part_s, run.car.lag_s, run.car.launch_g, run.offset.ms];
    let lengths = [run.car.tyre_diameter.0, run.seen.launch().map_or(0.0, |launch| launch.depth.0)];
    let values = measured.iter().flat_map(|m| [m.value, m.sd]).chain(lengths);
    values.map(f64::to_bits).collect()
}

proptest! {
    #![proptest_config(support::fixed(512))]

    #[test]
    fn a_run_comes_back_exactly(run in support::run()) {
        let loaded = load(Line::from(run.clone()).seal().unwrap().bytes()).unwrap();
        prop_assert_eq!(&loaded.damaged, &[]);
        prop_assert_eq!(bits(&loaded.trials[0]), bits(&run));
        prop_assert_eq!(&loaded.trials, &[run]);
    }

    #[test]
    fn answers_about_a_car_come_back_exactly(car in support::car()) {
        let loaded = load(Line::from(car.clone()).seal().unwrap().bytes()).unwrap();
        prop_assert_eq!(&loaded.damaged, &[]);
        prop_assert_eq!(loaded.cars, [car]);
    }

    #[test]
    fn a_self_test_and_a_film_come_back_exactly(
        rig in support::rig_test(), film in support::film(),
    ) {
        let lines = [Line::from(rig.clone()), Line::from(film.clone())];
        let loaded = load(&support::file_of(&lines)[..]).unwrap();
        prop_assert_eq!(&loaded.damaged, &[]);
        prop_assert_eq!((loaded.rigs, loaded.films), (vec![rig], vec![film]));
    }

    #[test]
    fn any_line_is_one_physical_line(run in support::run()) {
        let sealed = Line::from(run).seal().unwrap();
        let newlines = sealed.bytes().iter().filter(|&&byte| byte == b'\n').count();
        prop_assert_eq!((newlines, sealed.bytes().last()), (1, Some(&b'\n')));
    }

    #[test]
    fn any_bytes_at_all_can_be_loaded(bytes in proptest::collection::vec(any::<u8>(), 0..400)) {
        let loaded = load(&bytes[..]).unwrap();
        prop_assert_eq!((loaded.trials.len(), loaded.cars.len()), (0, 0));
    }
}

#[test]
fn a_run_with_a_broken_number_is_still_stored_and_recognised() {
    let mut run = support::some_runs(1).remove(0);
    run.car.lag_s.sd = f64::NAN;
    run.offset.ms.value = f64::NEG_INFINITY;
    let bytes = Line::from(run).seal().unwrap().bytes().repeat(2);
    let loaded = load(&bytes[..]).unwrap();
    assert!(loaded.trials[0].car.lag_s.sd.is_nan());
    assert_eq!(loaded.trials[0].offset.ms.value, f64::NEG_INFINITY);
    assert_eq!((loaded.trials.len(), loaded.repeated_count, loaded.damaged_count), (1, 1, 0));
}

#[test]
fn the_words_on_disk_are_plain() {
    let mut line = TrialLine::from(support::some_runs(1).remove(0));
    line.outcome = lastamber::tree::Outcome::Void(lastamber::tree::VoidReason::LampLate {
        lamp: lastamber::tree::Lamp::Amber(2),
        late_ns: 21_000_000,
    });
    line.setup.style = lastamber::trial::Style::TimeIt;
    let value: Value = serde_json::from_str(&Line::from(line).to_json().unwrap()).unwrap();
    assert_eq!(value["kind"], "trial");
    assert_eq!(value["v"], 1);
    assert_eq!(value["setup"]["style"], "time-it");
    let expected = json!({"void": {"lamp-late": {"lamp": {"amber": 2}, "late_ns": 21_000_000}}});
    assert_eq!(value["outcome"], expected);
    assert!(value["setup"]["interval_ns"].is_i64());
}

#[test]
fn the_rig_lines_on_disk_are_what_their_documentation_shows() {
    let value = |line: Line| -> Value { serde_json::from_str(&line.to_json().unwrap()).unwrap() };
    let rig = value(support::some_rig_test("r").into());
    assert_eq!((&rig["kind"], &rig["v"]), (&json!("rig"), &json!(1)));
    assert_eq!(rig["rig"]["threshold"], Value::Null);
    assert_eq!(rig["loop"]["jitter_worst_ms"], 1.9);
    assert_eq!(rig["clock_base"], "holds");
    assert_eq!(rig["poll"], json!({"found": {"period_ms": 8.0, "presses": 40}}));
    let film = value(support::some_film("f").into());
    assert_eq!((&film["kind"], &film["v"]), (&json!("film"), &json!(1)));
    assert_eq!(film["frames"], json!([9.0, 10.5, 30.0]));
    assert_eq!(film["rig"], rig["rig"]);

    let mut film = support::some_film("f");
    (film.frames[0], film.own_ms[1]) = (f64::NAN, f64::INFINITY);
    let bytes = Line::from(film).seal().unwrap().bytes().repeat(2);
    let loaded = load(&bytes[..]).unwrap();
    assert!(loaded.films[0].frames[0].is_nan());
    assert_eq!(loaded.films[0].own_ms[1], f64::INFINITY);
    assert_eq!((loaded.films.len(), loaded.repeated_count, loaded.damaged_count), (1, 1, 0));
}

#[test]
fn a_run_from_before_the_rig_was_measured_is_still_read_and_counts_once() {
    let old = include_bytes!("data/history_trial_v1_first.jsonl");
    let loaded = load(&old.repeat(2)[..]).unwrap();
    assert_eq!((loaded.trials.len(), loaded.repeated_count, loaded.damaged_count), (1, 1, 0));
    let run = &loaded.trials[0];
    assert_eq!((run.onset_grade.as_str(), run.rig.threshold), ("unknown", None));
    assert_eq!((&run.seen.facts().amber_gaps_shown[..], run.amber_spacing_off), (&[][..], false));
    // 6.003, 6.502 and 7.008 s were shown: the second gap is 6 ms long of its 500.
    let spacing = lastamber::trial::amber_spacing(&run.seen.lamps());
    let ms = lastamber::units::Span::from_ms;
    assert_eq!((spacing.gaps, spacing.off), (vec![ms(499), ms(506)], true));
}

#[test]
fn the_newest_line_of_each_rig_is_found() {
    let test = |id: &str, display: &str| {
        let mut line = support::some_rig_test(id);
        line.rig.display = display.to_owned();
        Line::from(line)
    };
    let film = |id: &str, control: &str| {
        let mut line = support::some_film(id);
        line.rig.control = control.to_owned();
        Line::from(line)
    };
    let lines = [
        test("r1", "x11 1280x720"),
        film("f1", "Space"),
        test("r2", "x11 1920x1080"),
        film("f2", "Space"),
        test("r3", "x11 1279x720"),
        film("f3", "KeyJ"),
    ];
    let loaded = load(&support::file_of(&lines)[..]).unwrap();
    let rigs: Vec<&str> = loaded.newest_rigs().iter().map(|line| line.id.as_str()).collect();
    let films: Vec<&str> = loaded.newest_films().iter().map(|line| line.id.as_str()).collect();
    assert_eq!((rigs, films), (vec!["r3", "r2"], vec!["f3", "f2"]));
}

#[test]
fn a_forecast_comes_back_exactly_and_its_words_are_plain() {
    let rate = RateLine { value: 0.06, low: 0.02, high: 0.13, level: 0.9, a: 2.9, b: 45.1 };
    let forecast = ForecastLine {
        id: "f1".into(),
        saved_at: "2026-05-01T10:00:00+02:00[Europe/Oslo]".into(),
        program: "0.1.0".into(),
        driver: "driver".into(),
        occasion: "track-night".into(),
        occasion_id: "night".into(),
        source: "slips".into(),
        car: "Bracket car".into(),
        tree: "full".into(),
        interval_ns: 500_000_000,
        style: lastamber::trial::Style::TimeIt,
        declared_earlier_ms: -2.5,
        seed: 7,
        red: rate,
        better_than_s: 0.05,
        better: RateLine { value: 0.5, b: f64::INFINITY, ..rate },
        light_low_s: -0.01,
        light_high_s: 0.09,
        light_level: 0.9,
        n: 60,
    };
    let line = Line::from(forecast.clone());
    let value: Value = serde_json::from_str(&line.to_json().unwrap()).unwrap();
    assert_eq!((&value["kind"], &value["v"]), (&json!("forecast"), &json!(1)));
    assert_eq!((&value["style"], &value["red"]["a"]), (&json!("time-it"), &json!(2.9)));
    let loaded = load(&line.seal().unwrap().bytes().repeat(2)[..]).unwrap();
    assert_eq!((loaded.repeated_count, loaded.damaged_count), (1, 0));
    assert_eq!(loaded.forecasts, [forecast]);
}

#[test]
fn unknown_fields_are_ignored_and_missing_answers_stay_missing() {
    let value = r#"{"v":1,"colour":{"deep":[1]},"kind":"car","saved_at":"t","id":"c","name":"n"}"#;
    let loaded = load(&sealed(value)[..]).unwrap();
    let expected =
        CarLine { id: "c".into(), saved_at: "t".into(), name: "n".into(), ..CarLine::default() };
    assert_eq!((loaded.damaged, loaded.cars), (vec![], vec![expected]));
}

#[test]
fn newer_and_unknown_lines_are_counted_and_handed_out_untouched() {
    let values = [
        r#"{"kind":"trial","v":2,"id":"x","anything":[1e400, -0]}"#,
        r#"{ "kind" : "moon-phase" , "v" : 1 }"#,
        r#"{"kind":"car","v":18446744073709551615}"#,
        r#"{"kind":"rig","v":2,"id":"x","lamps":"new"}"#,
        r#"{"kind":"film","v":2}"#,
    ];
    let mut bytes = file_of_car("before");
    values.iter().for_each(|value| bytes.extend(sealed(value)));
    bytes.extend(file_of_car("after"));

    let loaded = load(&bytes[..]).unwrap();
    assert_eq!((loaded.newer_count, loaded.damaged_count, loaded.cars.len()), (5, 0, 2));
    let raw: Vec<String> = Reader::new(&bytes[..])
        .filter_map(|found| match found.unwrap() {
            Found::Newer { raw, .. } => Some(raw),
            _ => None,
        })
        .collect();
    assert_eq!(raw, values);
}

#[test]
fn a_line_that_does_not_keep_its_promise_is_reported_with_its_reason() {
    let whys: Vec<Why> = [
        r#"{"kind":"car","v":1,"id":"c","saved_at":"t"}"#,
        r#"{"kind":"car","v":0,"id":"c","saved_at":"t","name":"n"}"#,
        r#"{"kind":"car","v":1,"id":"","saved_at":"t","name":"n"}"#,
        r#"{"kind":"car","v":1,"id":"c","saved_at":"t","name":"n","sixty_foot_s":"fast"}"#,
        r#"{"v":1}"#,
        "7",
        r#"{"kind":"film","v":1,"id":"f"}"#,
        r#"{"kind":"rig","v":0,"id":"r"}"#,
    ]
    .iter()
    .map(|value| load(&sealed(value)[..]).unwrap().damaged.remove(0).why)
    .collect();
    assert!(whys.iter().all(|why| matches!(why, Why::Unreadable(_))), "{whys:?}");
    assert!(whys[0].to_string().contains("missing field `name`"), "{}", whys[0]);
    assert!(whys[3].to_string().contains("\"fast\" is not a number"), "{}", whys[3]);
}

#[test]
fn the_same_line_twice_counts_once_but_a_contradiction_is_reported() {
    let first = support::some_car("c1");
    let other = CarLine { name: "another".into(), ..first.clone() };
    let lines = [first.clone(), first.clone(), other, support::some_car("c2")].map(Line::from);
    let loaded = load(&support::file_of(&lines)[..]).unwrap();
    assert_eq!(loaded.cars, [first, support::some_car("c2")]);
    assert_eq!((loaded.repeated_count, loaded.damaged_count), (1, 1));
    let damaged = &loaded.damaged[0];
    assert_eq!(damaged.line_number, 3);
    assert_eq!(damaged.why, Why::IdTaken { id: "c1".into(), first_line_number: 1 });
}

#[test]
fn a_run_and_a_car_may_have_the_same_id() {
    let run = support::some_runs(1).remove(0);
    let lines = [Line::from(support::some_car(&run.id.to_string())), Line::from(run)];
    let loaded = load(&support::file_of(&lines)[..]).unwrap();
    assert_eq!((loaded.trials.len(), loaded.cars.len(), loaded.damaged_count), (1, 1, 0));
}

#[test]
fn a_line_no_reader_would_accept_is_refused_before_it_is_written() {
    let long = |bytes| CarLine { id: "c".into(), name: "x".repeat(bytes), ..CarLine::default() };
    let around = Line::from(long(0)).seal().unwrap().bytes().len();
    let fits = Line::from(long(MAX_LINE_BYTES - around)).seal().unwrap();
    assert_eq!(load(fits.bytes()).unwrap().cars.len(), 1);
    let refused = Line::from(long(MAX_LINE_BYTES - around + 1)).seal();
    assert!(matches!(refused, Err(HistoryError::TooLong { .. })));
    assert!(matches!(Line::from(CarLine::default()).seal(), Err(HistoryError::NoId)));
}

#[test]
fn what_is_shown_of_a_damaged_line_cannot_drive_a_terminal() {
    let loaded = load(&b"\x1b[2J\x07\xff hello\n"[..]).unwrap();
    let text = &loaded.damaged[0].text;
    assert!(text.contains("hello") && !text.contains(char::is_control), "{text:?}");
    assert_eq!(loaded.damaged[0].why, Why::NotUtf8);
}

fn file_of_car(id: &str) -> Vec<u8> {
    support::file_of(&[Line::from(support::some_car(id))])
}
