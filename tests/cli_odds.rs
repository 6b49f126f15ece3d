//! `lastamber odds` from outside: what it prints, what it refuses and how.

mod cli_support;

use cli_support::options;
use lastamber::cli::odds::{OddsArgs, run};
use lastamber::cli::risk::RiskError;
use serde_json::Value;

fn ask(arguments: &str, input: &str) -> Result<String, RiskError> {
    cli_support::ask(run, arguments, input)
}

fn json(arguments: &str, input: &str) -> Value {
    cli_support::json(run, arguments, input)
}

fn near(value: &Value, want: f64, tolerance: f64) {
    let got = value.as_f64().unwrap();
    assert!((got - want).abs() <= tolerance, "{got} is not {want}");
}

/// Sixty driver parts about .245 s, made up.
fn launches(scale: f64) -> String {
    let row = |i: u32| 0.205 + 0.0014 * f64::from(i * 23 % 60);
    let rows: String = (0..60).map(|i| format!("{i},{}\n", row(i) * scale)).collect();
    format!("launch,part\n{rows}")
}

const CAR: &str = "--car-part 0.3 --interval 0.5";

#[test]
fn the_worked_examples_come_out_of_the_command_line() {
    // An opponent always a second late in a car .94 ± .035 s quicker: margin N(.060, .035²).
    let never_red = "--opponent rt=1,0 --et-gap -0.94,0.035 --earlier -20,-10,0,10,20,30,50";
    let a = json(&format!("--model normal=0.245,0.025 {CAR} {never_red}"), "");
    let wins = [
        0.449_199_704_46,
        0.532_747_196_51,
        0.601_356_464_192,
        0.640_657_507_027,
        0.636_988_639_35,
        0.583_558_705_818,
        0.364_149_029_167,
    ];
    for (row, win) in a["rows"].as_array().unwrap().iter().zip(wins) {
        near(&row["win"]["value"], win, 1e-8);
        assert_eq!(row["win"]["low"], row["win"]["value"]);
        assert_eq!(row["red"]["high"], row["red"]["value"]);
    }
    near(&a["best"]["earlier_ms"], 14.304_803_992_8, 1e-5);
    near(&a["best"]["win"]["value"], 0.644_977_899_168, 1e-8);
    near(&a["best"]["red"]["value"], 0.109_759_555_894, 1e-8);
    let b = "--model ex-gaussian=0.230,0.018,0.015";
    let two = "--opponent rt=0.060,0.030 --et-gap 0,0.020 --leave first --foul first";
    let example = json(&format!("{b} {CAR} {two} --earlier 0,10"), "");
    near(&example["rows"][0]["win"]["value"], 0.647_459_564_486, 1e-8);
    near(&example["rows"][1]["win"]["value"], 0.693_802_110_566, 1e-8);
    near(&example["best"]["win"]["value"], 0.698_406_115_717, 1e-8);
}

#[test]
fn the_answer_has_every_key() {
    let question =
        "- --column part --car-part 0.3,0.01,0.005 --interval 0.5 --opponent rt=0.06,0.03";
    let answer = json(&format!("{question} --et-gap 0,0.03 --rounds 3"), &launches(1.0));
    let rows = answer["rows"].as_array().unwrap();
    let shifts: Vec<f64> = rows.iter().map(|r| r["earlier_ms"].as_f64().unwrap()).collect();
    assert_eq!((shifts.len(), shifts[0], shifts[1], shifts[24]), (25, -60.0, -55.0, 60.0));
    let best = &answer["best"];
    for chance in rows.iter().chain([best]).flat_map(|r| [&r["red"], &r["win"]]) {
        let number = |key: &str| chance[key].as_f64().unwrap();
        assert!(number("low") <= number("value") && number("value") <= number("high"));
        assert!(number("low") >= 0.0 && number("high") <= 1.0);
    }
    let number = |value: &Value| value.as_f64().unwrap();
    assert!(number(&best["flat_low_ms"]) <= number(&best["earlier_ms"]));
    assert!(number(&best["earlier_ms"]) <= number(&best["flat_high_ms"]));
    let most = rows.iter().map(|r| number(&r["win"]["value"])).fold(0.0, f64::max);
    assert!(number(&best["win"]["value"]) >= most - 1e-3);
    assert!(number(&answer["worth_of_1ms_spread"]) > number(&answer["worth_of_1ms_aim"]));
    let (once, thrice) = (number(&best["win"]["value"]), number(&answer["survive_rounds"]));
    assert!(thrice < once && thrice > once.powi(3) - 1e-3, "{once} {thrice}");
    assert!(answer["caveats"].is_array());
}

#[test]
fn the_red_risk_is_the_one_the_command_risk_tells() {
    let line = "- --column part --car-part 0.3,0.01 --interval 0.5 --earlier -5,0,5";
    let risk = cli_support::json(lastamber::cli::risk::run, line, &launches(1.0));
    let odds = json(&format!("{line} --opponent sharp --et-gap 0,0.03"), &launches(1.0));
    for i in 0..3 {
        for key in ["value", "low", "high"] {
            assert_eq!(odds["rows"][i]["red"][key], risk["rows"][i][key]);
        }
    }
}

#[test]
fn seconds_milliseconds_and_seeds_do_not_matter_or_are_told() {
    let question = |unit: &str| {
        let rest = "--opponent weekend --et-gap -0.02,0.05 --earlier 0,7.5 --seed 5";
        format!("- --column part --unit {unit} {CAR} {rest}")
    };
    let (s, ms) = (json(&question("s"), &launches(1.0)), json(&question("ms"), &launches(1000.0)));
    for key in ["rows", "best", "survive_rounds"] {
        assert_eq!(s[key], ms[key]);
    }
    assert_eq!(s["seed"], 5);
}

#[test]
fn a_level_or_oneself_can_be_the_opponent() {
    let rest = "--et-gap 0,0.03 --earlier 0";
    let like_me = json(&format!("--model normal=0.245,0.025 {CAR} --opponent like-me {rest}"), "");
    near(&like_me["rows"][0]["win"]["value"], 0.5, 1e-8);
    let drawn = format!("- --column part {CAR} --opponent like-me {rest}");
    near(&json(&drawn, &launches(1.0))["rows"][0]["win"]["value"], 0.5, 0.02);
    let against = |who: &str| {
        let question = format!("--model normal=0.245,0.025 {CAR} --opponent {who} {rest}");
        json(&question, "")["rows"][0]["win"]["value"].as_f64().unwrap()
    };
    assert!(against("first-timer") > against("weekend"));
    assert!(against("weekend") > against("sharp"));
}

#[test]
fn dial_ins_bring_breakouts_and_a_head_start() {
    let base = format!("--model normal=0.245,0.025 {CAR} --opponent rt=0.02,0.03 --earlier 10");
    let dialled = "--me-et 13.02,0.03 --opponent-et 12.03,0.03 --me-dial 13 --opponent-dial 12";
    let win = |more: &str| {
        json(&format!("{base} {dialled} {more}"), "")["rows"][0]["win"]["value"].as_f64().unwrap()
    };
    // The slower car leaves first, by a second: the same as leaving first.
    assert!((win("") - win("--head-start 1")).abs() < 1e-12);
    assert!((win("") - win("--leave first")).abs() < 1e-9);
    assert!(win("--leave second") > win("--leave together"));
    assert!(win("--leave together") > win("--leave first"));
    assert!((win("--foul worst --leave second") - win("--foul worst")).abs() < 1e-12);
    let told = json(&format!("{base} {dialled} --head-start 0.5"), "")["caveats"].to_string();
    assert!(told.contains("dial-ins"), "{told}");
    let gap = json(&format!("{base} --et-gap 0,0.03 --head-start 0.5"), "")["caveats"].to_string();
    assert!(gap.contains("left after it"), "{gap}");
}

#[test]
fn a_doubtful_car_makes_several_rounds_go_together() {
    let question = |car: &str| {
        let rest = "--opponent rt=0.06,0.03 --et-gap 0,0.03 --rounds 4 --earlier 0";
        json(&format!("--model normal=0.245,0.02 --car-part {car} --interval 0.5 {rest}"), "")
    };
    // The same lights in one round; but a doubt is the same in all rounds, a scatter is not.
    let (doubt, scatter) = (question("0.3,0.02"), question("0.3,0,0.02"));
    let number = |a: &Value, key: &str| a[key].as_f64().unwrap();
    near(&doubt["best"]["win"]["value"], number(&scatter["best"]["win"], "value"), 1e-9);
    assert!(number(&doubt, "survive_rounds") > number(&scatter, "survive_rounds") + 0.005);
}

#[test]
fn words_name_the_numbers_without_json() {
    let question = format!("- --column part {CAR} --opponent sharp --et-gap 0,0.03 --rounds 2");
    let text = ask(&question, &launches(1.0)).unwrap();
    for part in ["Best aim", "win", "red", "All 2 rounds", "ms less spread", "note:"] {
        assert!(text.contains(part), "{text}");
    }
}

#[test]
fn what_is_wrong_is_told_in_a_line() {
    let wrong = |arguments: &str, input: &str| cli_support::wrong(run, arguments, input);
    let race = "--opponent rt=0.06,0.03 --et-gap 0,0.03";
    let file = format!("- --column part {CAR} {race}");
    assert!(wrong(&file, "part\n0.1\nx\n").contains("line 3"));
    assert!(wrong(&file, "part\n0.1\n0.2\n").contains("2 of the 10"));
    assert!(wrong(&format!("no-such.csv --column part {CAR} {race}"), "").contains("no-such.csv"));
    let model = format!("--model normal=0.245,0.025 {CAR}");
    assert!(wrong(&format!("{model} {race} --earlier 20000"), "").contains("shift"));
    assert!(wrong(&format!("--model normal=0.2,0 {CAR} {race}"), "").contains("spread"));
    let dialled =
        "--opponent sharp --me-et 13,0 --opponent-et 12,0 --me-dial 13 --opponent-dial 12";
    assert!(wrong(&format!("{model} {dialled}"), "").contains("dial-in"));
    let far =
        "--opponent sharp --me-et 13,0.1 --opponent-et 12,0.1 --me-dial 130 --opponent-dial 12";
    assert!(wrong(&format!("{model} {far}"), "").contains("99.999"));
}

#[test]
fn a_question_has_to_be_whole() {
    let race = "--opponent sharp --et-gap 0,0.03";
    for arguments in [
        format!("{CAR} {race}"),
        format!("- {CAR} {race}"),
        format!("- --column part --model normal=1,1 {CAR} {race}"),
        format!("--model normal=1,1 --interval 0.5 {race}"),
        format!("--model normal=1,1 {CAR} --opponent sharp"),
        format!("--model normal=1,1 {CAR} --et-gap 0,0.1"),
        format!("--model normal=1,1 {CAR} --opponent sharp --me-et 12,0.1"),
        format!("--model normal=1,1 {CAR} --opponent sharp --et-gap 0,1 --me-dial 12"),
        format!("--model normal=1,1 {CAR} {race} --head-start 1 --leave first"),
        format!("--model normal=1,1 {CAR} {race} --rounds 0"),
        format!("--model normal=1,1 --car-part 0.3 --interval -0.5 {race}"),
        format!("--model normal=1,1 --car-part 0.3 --interval 500 {race}"),
    ] {
        assert!(options::<OddsArgs>(&arguments).is_err(), "{arguments}");
    }
    let minus = format!("--model normal=-0.2,0.03 --car-part -0.3 --interval 0.5 {race}");
    let minus = format!("{minus} --earlier -5,-2.5 --head-start -0.2");
    assert_eq!(json(&minus, "")["rows"].as_array().unwrap().len(), 2);
}
