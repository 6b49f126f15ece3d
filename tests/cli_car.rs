//! `lastamber rollout`, `pass` and `judge` from outside: their keys, their numbers, their refusals.

use assert_cmd::Command;
use serde_json::Value;

fn run(args: &[&str]) -> std::process::Output {
    Command::cargo_bin("lastamber").unwrap().args(args).output().unwrap()
}

fn json(args: &[&str]) -> Value {
    let run = run(&[args, &["--json"]].concat());
    let error = String::from_utf8_lossy(&run.stderr).into_owned();
    assert!(run.status.success(), "{args:?}: {error}");
    serde_json::from_slice(&run.stdout).unwrap()
}

/// Refused: exit code 1–99, nothing on standard output, one or two lines with `says` on standard
/// error.
#[track_caller]
fn refuses(args: &[&str], says: &str) {
    let run = run(args);
    let error = String::from_utf8(run.stderr).unwrap();
    let code = run.status.code().unwrap();
    assert!((1..=99).contains(&code), "{args:?} ended with {code}");
    assert!(run.stdout.is_empty(), "{args:?} wrote to standard output");
    assert!(error.contains(says), "{args:?} said: {error}");
}

fn keys(value: &Value) -> Vec<&str> {
    value.as_object().unwrap().keys().map(String::as_str).collect()
}

fn near(value: &Value, want: f64, within: f64) {
    let got = value.as_f64().unwrap();
    assert!((got - want).abs() <= within, "{got}, not {want} ± {within}");
}

#[test]
fn rollout_answers_with_its_keys_and_the_printed_eleven_and_a_half_inches() {
    // Published: a rigid 22 in wheel and a beam 1 5/8 in high give 11½ in. √(2·11.508 in/.7 g).
    let answer = json(&["rollout", "--tyre-in", "22", "--g", "0.7", "--lag", "0.1"]);
    let mut want = ["car_part_s", "chord_in", "ended_by", "remaining_in", "time_s"];
    want.sort_unstable();
    assert_eq!(keys(&answer), want);
    near(&answer["chord_in"], 11.508, 5e-4);
    near(&answer["remaining_in"], 11.508, 5e-4);
    assert_eq!(answer["ended_by"], "stage-beam");
    near(&answer["time_s"], 0.292, 5e-4);
    near(&answer["car_part_s"], 0.392, 5e-4);
    let deep = json(&[
        "rollout",
        "--tyre-in",
        "28",
        "--beam-in",
        "1.75",
        "--g",
        "0.5",
        "--depth-in",
        "6.55",
    ]);
    // Derived: a tall tyre is ended by the guard beam, 13.375 in away.
    assert_eq!(deep["ended_by"], "guard-beam");
    near(&deep["remaining_in"], 6.825, 1e-9);
}

#[test]
fn rollout_takes_sizes_sixty_foot_times_and_both_conventions() {
    let of = |more: &[&str]| json(&[&["rollout", "--tyre-size", "225/45R17"], more].concat());
    let geometric = of(&["--sixty-foot", "2.0"]);
    let simple = of(&["--sixty-foot", "2.0", "--convention", "simple"]);
    assert!(simple["time_s"].as_f64() < geometric["time_s"].as_f64());
    // The rule of thumb: .145 × the 60-foot time.
    near(&of(&["--sixty-foot", "2.0"])["time_s"], 0.30, 0.01);
    let loaded = of(&["--g", "0.7", "--deflection-in", "0.1"]);
    assert!(loaded["chord_in"].as_f64() > geometric["chord_in"].as_f64());
}

#[test]
fn rollout_refuses_what_cannot_be() {
    refuses(&["rollout", "--g", "0.7"], "--tyre-in or --tyre-size");
    refuses(&["rollout", "--tyre-in", "-22", "--g", "0.7"], "the tyre's diameter is -22 in");
    refuses(&["rollout", "--tyre-in", "22", "--g", "-0.7"], "the launch is -0.7 g");
    refuses(&["rollout", "--tyre-in", "22", "--g", "nan"], "the launch is NaN g");
    refuses(&["rollout", "--tyre-in", "22", "--g", "0.7", "--depth-in", "-1"], "0 to 30 in");
    refuses(&["rollout", "--tyre-in", "22", "--g", "0.7", "--lag", "-0.1"], "the lag");
    refuses(&["rollout", "--tyre-in", "22", "--g", "0.7", "--lag", "inf"], "the lag");
    refuses(&["rollout", "--tyre-size", "x", "--g", "0.7"], "e.g. 225/45R17");
    refuses(&["rollout", "--tyre-in", "22", "--sixty-foot", "20"], "give 0.8 to 5 s");
    refuses(&["rollout", "--tyre-in", "22"], "--sixty-foot");
}

#[test]
fn pass_answers_with_its_keys_and_splits_in_order() {
    let answer = json(&["pass", "--weight-lb", "3400", "--power-hp", "450"]);
    assert_eq!(keys(&answer), ["power_weight", "speed_mph", "splits_s"]);
    let splits = &answer["splits_s"];
    let order = ["60", "330", "660", "1000", "1320"].map(|key| splits[key].as_f64().unwrap());
    assert!(order.windows(2).all(|w| w[0] < w[1]), "{order:?}");
    assert_eq!(splits.as_object().unwrap().len(), 5);
    assert_eq!(keys(&answer["speed_mph"]), ["1320", "660"]);
    // Published: Fox gives 12.30 s and 117 mph for this car; the range is that of three formulas.
    let range = |key: &str, i: usize| answer["power_weight"][key][i].as_f64().unwrap();
    assert!(range("et_s", 0) <= 12.30 && 12.30 <= range("et_s", 1) + 0.01);
    assert!((range("et_s", 0)..=range("et_s", 1)).contains(&order[4]), "{order:?}");
    assert!((range("speed_mph", 0)..=range("speed_mph", 1)).contains(&117.0));
}

#[test]
fn pass_makes_the_sixty_foot_time_it_was_given_and_stops_at_the_eighth() {
    let of = |more: &[&str]| {
        json(&[&["pass", "--weight-lb", "3400", "--power-hp", "300"], more].concat())
    };
    let eighth = of(&["--sixty-foot", "2.05", "--length", "eighth"]);
    near(&eighth["splits_s"]["60"], 2.05, 1e-6);
    assert!(eighth["splits_s"]["1320"].is_null() && eighth["speed_mph"]["1320"].is_null());
    let et = |more: &[&str]| of(more)["splits_s"]["1320"].as_f64().unwrap();
    let weather = ["--temperature-f", "95", "--dew-point-f", "75", "--station-inhg", "28.5"];
    assert!(et(&weather) > et(&[]) + 0.05);
    assert!(et(&["--g", "0.5"]) > et(&["--g", "0.8"]));
    assert!(et(&["--grip", "0.8"]) > et(&["--grip", "1.2", "--driven", "all"]));
    assert!(et(&["--shifts", "0"]) < et(&["--shifts", "3"]));
    assert!(et(&["--depth-in", "4"]) > et(&["--depth-in", "0"]));
    assert_eq!(et(&["--seed", "3"]), et(&["--seed", "3"]));
    assert_ne!(et(&["--seed", "3"]), et(&["--seed", "4"]));
    let text = run(&[&["pass", "--weight-lb", "3400", "--power-hp", "300"][..], &weather].concat());
    let text = String::from_utf8(text.stdout).unwrap();
    // Derived by the US National Weather Service's method: 4306 ft.
    assert!(text.contains("Density altitude 430"), "{text}");
}

#[test]
fn pass_refuses_what_cannot_be() {
    let of = |args: &[&str], says: &str| {
        let all = [&["pass", "--weight-lb", "3400", "--power-hp", "300"], args].concat();
        refuses(&all, says);
    };
    refuses(&["pass", "--weight-lb", "-3400", "--power-hp", "300"], "the weight is -3400 lb");
    refuses(&["pass", "--weight-lb", "3400"], "--power-hp");
    of(&["--sixty-foot", "1.1"], "with 300 hp in 3400 lb it is");
    of(&["--g", "-1"], "the launch is -1 g");
    of(&["--shifts", "9"], "give 0 to 4");
    of(&["--shifts", "-1"], "invalid");
    of(&["--temperature-f", "95"], "--dew-point-f");
    of(&["--temperature-f", "60", "--dew-point-f", "75", "--station-inhg", "29"], "the dew point");
    of(&["--depth-in", "99"], "0 to 30 in");
}

#[test]
fn pass_takes_a_stored_car_by_its_name() {
    use lastamber::car::{Answers, BeamLine, Details, Strength, TyreAnswer};
    use lastamber::history::{CarLine, DataFolder, Line};
    use lastamber::units::{Inches, Measured};
    let folder = tempfile::tempdir().unwrap();
    let path = folder.path().to_str().unwrap();
    let details = Details {
        weight_lb: Some(3400.0),
        power_hp: Some(310.0),
        strength: Some(Strength::Launch(Measured::new(0.7, 0.02))),
        ..Details::default()
    };
    let answers = Answers { tyre: TyreAnswer::Diameter(Inches(25.0)), ..Answers::default() };
    let car = |name: &str, details: &Details| CarLine {
        id: name.to_owned(),
        name: name.to_owned(),
        ..CarLine::describing(&answers, details, BeamLine::default())
    };
    let mut log = DataFolder::open(folder.path()).unwrap().open_log().unwrap();
    log.append(&Line::from(car("the old one", &details))).unwrap();
    log.append(&Line::from(car("unknown", &Details::default()))).unwrap();
    drop(log);
    let of =
        |more: &[&str]| json(&[&["pass", "--data", path, "--car", "the old one"], more].concat());
    let et = |answer: &Value| answer["splits_s"]["1320"].as_f64().unwrap();
    let by_hand = json(&[
        "pass",
        "--weight-lb",
        "3400",
        "--power-hp",
        "310",
        "--g",
        "0.7",
        "--tyre-in",
        "25",
        "--depth-in",
        "1",
    ]);
    // Nobody said how deep: 1 in is what is then assumed.
    near(&of(&[])["splits_s"]["1320"], et(&by_hand), 1e-9);
    assert!(et(&of(&["--power-hp", "400"])) < et(&of(&[])) - 0.5);
    refuses(&["pass", "--data", path, "--car", "nobody"], "`the old one`, `unknown`");
    refuses(&["pass", "--data", path, "--car", "unknown"], "give --weight-lb and --power-hp");
}

#[test]
fn every_car_that_is_one_has_a_pass() {
    for (weight, power) in [("300", "15000"), ("12000", "3"), ("300", "3"), ("12000", "15000")] {
        let answer = json(&["pass", "--weight-lb", weight, "--power-hp", power]);
        assert!(answer["splits_s"]["1320"].as_f64().unwrap() > 0.0);
    }
}

#[test]
fn judge_answers_with_its_keys() {
    // Published: case 10, head start 1.20, the slower car wins by .010.
    let answer = json(&[
        "judge",
        "--left",
        "dial=14.20,rt=.020,et=14.32,mph=95",
        "--right",
        "dial=13.00,rt=.050,et=13.10,mph=103.5",
    ]);
    assert_eq!(keys(&answer), ["margin_ft", "margin_s", "packages_s", "reason", "winner"]);
    assert_eq!((&answer["winner"], &answer["reason"]), (&"left".into(), &"package".into()));
    assert_eq!(answer["margin_s"], 0.01);
    assert_eq!(answer["packages_s"], serde_json::json!([0.14, 0.15]));
    near(&answer["margin_ft"], 0.010 * 103.5 * 22.0 / 15.0, 1e-9);
}

#[test]
fn judge_knows_both_foul_rules_scales_and_flags() {
    let winner = |args: &[&str]| json(&[&["judge"], args].concat())["winner"].clone();
    let reds = ["--left", "dial=15.00,rt=-.004", "--right", "dial=13.00,rt=-.120"];
    assert_eq!(winner(&[&reds[..], &["--foul", "first"]].concat()), "right");
    assert_eq!(winner(&[&reds[..], &["--foul", "worst"]].concat()), "left");
    let old = ["--left", "rt=.432,et=6.924", "--right", "rt=.457,et=6.908", "--scale", "old400"];
    assert_eq!(winner(&old), "left");
    assert_eq!(winner(&["--left", "red", "--right", ""]), "right");
    assert_eq!(winner(&["--left", "left_early", "--right", "red"]), "right");
    // A tie has no winner and is no error.
    let tie = json(&["judge", "--left", "rt=.1,et=10", "--right", "rt=.2,et=9.9"]);
    assert_eq!((&tie["winner"], &tie["reason"]), (&"none".into(), &"tie".into()));
    assert_eq!((&tie["margin_s"], &tie["margin_ft"]), (&0.0.into(), &Value::Null));
}

#[test]
fn judge_refuses_what_it_cannot_judge() {
    refuses(&["judge", "--left", "rt=.1", "--right", "rt=.1,et=9"], "the left lane's et");
    refuses(&["judge", "--left", "rt=x", "--right", ""], "write seconds like 13.464");
    refuses(&["judge", "--left", "speed=1", "--right", ""], "no part of a lane");
    refuses(&["judge", "--left", ""], "--right");
    refuses(&["judge", "--left", "", "--right", "", "--foul", "other"], "worst");
}
