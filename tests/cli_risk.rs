//! `lastamber risk` from outside: what it prints, what it refuses and how.

use clap::Parser;
use lastamber::cli::risk::{RiskArgs, RiskError, run};
use serde_json::Value;

#[derive(Debug, Parser)]
struct Command {
    #[command(flatten)]
    risk: RiskArgs,
}

fn ask(arguments: &[&str], input: &str) -> Result<String, RiskError> {
    let all = ["risk"].iter().chain(arguments);
    let command = Command::try_parse_from(all).expect("the arguments are well formed");
    let mut out = Vec::new();
    run(&command.risk, &mut input.as_bytes(), &mut out)?;
    Ok(String::from_utf8(out).unwrap())
}

fn json(arguments: &[&str], input: &str) -> Value {
    let mut all = arguments.to_vec();
    all.push("--json");
    serde_json::from_str(&ask(&all, input).unwrap()).unwrap()
}

fn table(unit: f64) -> String {
    let rows = include_str!("data/rt20_example.csv").lines().enumerate();
    let row = |(i, ms): (usize, &str)| {
        let ms: f64 = ms.trim().parse().unwrap();
        format!("{},day {},{}\n", i + 1, i / 5, ms / unit)
    };
    "launch,date,rt\n".to_owned() + &rows.map(row).collect::<String>()
}

#[test]
fn the_answer_has_every_key_and_a_row_per_shift() {
    let arguments = [
        "-",
        "--column",
        "rt",
        "--unit",
        "ms",
        "--threshold",
        "0",
        "--earlier",
        "-5,0,12.5",
        "--day",
        "date",
        "--level",
        "0.8",
        "--seed",
        "11",
    ];
    let answer = json(&arguments, &table(1.0));
    assert_eq!(answer["n"], 20);
    assert_eq!(answer["threshold"], 0.0);
    assert_eq!(answer["level"], 0.8);
    assert_eq!(answer["seed"], 11);
    assert!(answer["method"].as_str().unwrap().contains("counts"));
    assert!(answer["caveats"].is_array());
    for rows in [&answer["rows"], &answer["next_session"]] {
        let rows = rows.as_array().unwrap();
        assert_eq!(rows.len(), 3);
        let shifts: Vec<f64> = rows.iter().map(|r| r["earlier_ms"].as_f64().unwrap()).collect();
        assert_eq!(shifts, [-5.0, 0.0, 12.5]);
        let reds: Vec<u64> = rows.iter().map(|r| r["reds"].as_u64().unwrap()).collect();
        assert_eq!(reds, [0, 0, 1]);
        for row in rows {
            let number = |key: &str| row[key].as_f64().unwrap();
            assert!(number("low") <= number("value") && number("value") <= number("high"));
            assert!(number("value") > 0.0 && number("count_low") <= number("count_high"));
        }
    }
}

#[test]
fn the_same_times_in_seconds_and_milliseconds_have_the_same_risk() {
    let ask = |unit: &str, table: String, threshold: &str| {
        json(&["-", "--column", "rt", "--unit", unit, "--threshold", threshold], &table)
    };
    let (ms, s) = (ask("ms", table(1.0), "10"), ask("s", table(1000.0), "0.010"));
    assert_eq!(ms["rows"], s["rows"]);
    let text = |threshold| ["-", "--column", "rt", "--threshold", threshold, "--seed", "3"];
    assert_eq!(json(&text("0.01"), &table(1000.0)), json(&text("0.01"), &table(1000.0)));
}

#[test]
fn a_columns_name_may_say_its_unit_here_too() {
    let named = table(1.0).replace("rt", "rt_ms");
    let told = json(&["-", "--column", "rt_ms", "--threshold", "10"], &named);
    let asked = json(&["-", "--column", "rt_ms", "--unit", "ms", "--threshold", "10"], &named);
    assert_eq!((told["unit"].as_str(), &told), (Some("ms"), &asked));
}

#[test]
fn a_car_and_an_interval_are_a_threshold() {
    let car = |part: &str, interval: &str| {
        let a = ["-", "--column", "rt", "--unit", "ms", "--car-part", part, "--interval", interval];
        json(&a, &table(1.0))
    };
    let (known, same) = (car("0.490", "0.500"), car("0.49,0,0", "0.5"));
    assert!((known["threshold"].as_f64().unwrap() - 10.0).abs() < 1e-9);
    assert_eq!(known["rows"], same["rows"]);
    let doubtful = car("0.490,0.020,0.005", "0.5");
    let width =
        |a: &Value| a["rows"][0]["high"].as_f64().unwrap() - a["rows"][0]["low"].as_f64().unwrap();
    assert!(width(&doubtful) > width(&known));
}

#[test]
fn car_part_and_interval_are_seconds_whatever_the_columns_unit() {
    let refusal = |part: &str, interval: &str| {
        let words = ["risk", "-", "--column", "rt", "--unit", "ms"];
        let given = ["--car-part", part, "--interval", interval];
        Command::try_parse_from(words.iter().chain(&given)).unwrap_err().to_string()
    };
    let first_line = |text: &str| text.lines().next().unwrap().to_owned();
    for (part, interval, cure) in [
        ("490,0,0", "0.5", "0.49"),
        ("0.49", "500", "0.5"),
        ("0.49,20", "0.5", "0.02"),
        ("0.49,0.02,5", "0.5", "0.005"),
    ] {
        let line = first_line(&refusal(part, interval));
        assert!(line.contains("write milliseconds as seconds") && line.contains(cure), "{line}");
    }
    assert!(refusal("0.49,-0.02", "0.5").contains("below 0"));
    assert!(refusal("0.49", "-0.5").contains("below 0"));
    for nonsense in ["NaN", "inf", "", "a", "0.4,0,0,0"] {
        assert!(refusal(nonsense, "0.5").contains("write"), "{nonsense}");
    }
}

#[test]
fn below_ten_launches_only_counts_are_told() {
    let few: String = table(1.0).lines().take(8).map(|l| l.to_owned() + "\n").collect();
    let answer = json(&["-", "--column", "rt", "--unit", "ms", "--threshold", "20"], &few);
    let row = &answer["rows"][0];
    assert_eq!(answer["n"], 7);
    assert!(row["value"].is_null() && row["low"].is_null() && row["high"].is_null());
    assert_eq!(row["reds"], 1);
    assert!(row["count_high"].as_f64().unwrap() > 1.0 / 7.0);
    assert!(answer["caveats"][0].as_str().unwrap().contains("only counts"));
}

#[test]
fn many_launches_are_answered_from_a_named_part() {
    let rows: String = (0..3000).map(|i| format!("{}\n", 180 + (i * 7919) % 101)).collect();
    let answer = json(
        &["-", "--column", "rt", "--unit", "ms", "--threshold", "190"],
        &("rt\n".to_owned() + &rows),
    );
    assert_eq!(answer["n"], 3000);
    let caveats = answer["caveats"].to_string();
    assert!(caveats.contains("300 of 3000"), "{caveats}");
    // Ten of 101 values lie below: the counts of all decide.
    let value = answer["rows"][0]["value"].as_f64().unwrap();
    assert!((value - 10.0 / 101.0).abs() < 0.01, "{value}");
}

#[test]
fn words_name_the_numbers_without_json() {
    let arguments = ["-", "--column", "rt", "--unit", "ms", "--threshold", "0", "--day", "date"];
    let text = ask(&arguments, &table(1.0)).unwrap();
    for part in ["20 launches", "this form", "next session", "counted 0 of 20"] {
        assert!(text.contains(part), "{text}");
    }
}

#[test]
fn what_is_wrong_is_told_in_a_line_with_its_place() {
    let wrong = |arguments: &[&str], input: &str| {
        let error = ask(arguments, input).unwrap_err();
        let text = error.to_string();
        assert!(text.lines().count() <= 2 && text.len() < 400, "{text}");
        assert!((1..=99).contains(&error.exit_code()));
        text
    };
    let plain = ["-", "--column", "rt", "--threshold", "0"];
    assert!(wrong(&plain, "rt\n0.1\nNaN\n").contains("line 3"));
    assert!(wrong(&plain, "rt\n0.1\n1e999\n").contains("line 3"));
    assert!(wrong(&plain, "rt,x\n0.1,1\n,2\n").contains("line 3"));
    assert!(wrong(&plain, "rt,x\n0.1,1\n2\n").contains("line 3"));
    assert!(wrong(&plain, "time\n0.1\n").contains("no column `rt`"));
    assert!(wrong(&plain, "rt\n").contains("no line below the header"));
    assert!(wrong(&plain, "").contains("is empty"));
    let level = ["-", "--column", "rt", "--threshold", "0", "--level", "1.5"];
    assert!(wrong(&level, &table(1.0)).contains("level"));
    let missing = ["no such file.csv", "--column", "rt", "--threshold", "0"];
    assert!(wrong(&missing, "").contains("no such file.csv"));
}

#[test]
fn a_line_must_be_given_once() {
    for wrong in [
        &["risk", "-", "--column", "rt"][..],
        &["risk", "-", "--column", "rt", "--car-part", "0.2"],
        &["risk", "-", "--column", "rt", "--interval", "0.5"],
        &[
            "risk",
            "-",
            "--column",
            "rt",
            "--threshold",
            "0",
            "--car-part",
            "0.2",
            "--interval",
            "1",
        ],
        &["risk", "-", "--column", "rt", "--car-part", "0.2,-1", "--interval", "0.5"],
    ] {
        assert!(Command::try_parse_from(wrong).is_err(), "{wrong:?}");
    }
    let minus = ["-", "--column", "rt", "--threshold", "-0.010", "--earlier", "-3,-2.5"];
    assert_eq!(json(&minus, &table(1000.0))["rows"].as_array().unwrap().len(), 2);
}
