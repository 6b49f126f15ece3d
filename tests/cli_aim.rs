//! `lastamber aim` from outside: what it prints, what it refuses and how.

use clap::Parser;
use lastamber::cli::aim::{AimArgs, run};
use lastamber::cli::risk::RiskError;
use serde_json::Value;
use std::io::Write;

#[derive(Parser)]
struct Command {
    #[command(flatten)]
    aim: AimArgs,
}

fn ask(arguments: &str, input: &str) -> Result<String, RiskError> {
    let all = ["aim"].into_iter().chain(arguments.split_whitespace());
    let command = Command::try_parse_from(all).expect("the arguments are well formed");
    let mut out = Vec::new();
    run(&command.aim, &mut input.as_bytes(), &mut out)?;
    Ok(String::from_utf8(out).unwrap())
}

fn json(arguments: &str, input: &str) -> Value {
    serde_json::from_str(&ask(&format!("{arguments} --json"), input).unwrap()).unwrap()
}

/// Four blocks of ten on each of two days, in turn; the reactions later and tighter. Made up.
fn blocks() -> String {
    let mut out = "day,style,part\n".to_owned();
    for i in 0..80_u32 {
        let (block, place) = (i / 10, i % 10);
        let (style, middle, width) =
            if block % 2 == 0 { ("react", 0.31, 0.02) } else { ("time-it", 0.25, 0.05) };
        let part = middle + width * (f64::from(place * 7 % 10) - 4.5) / 4.5;
        out += &format!("day {},{style},{part:.4}\n", i / 40);
    }
    out
}

const CAR: &str = "- --column part --car-part 0.28,0.01,0.004 --interval 0.5 --day day";

#[test]
fn every_view_has_rows_and_aims_for_accepted_risks() {
    let answer = json(&format!("{CAR} --earlier -10,0,10 --better-than 0.06"), &blocks());
    let source = &answer["sources"][0];
    assert_eq!((source["source"].as_str(), source["n"].as_u64()), (Some("practice"), Some(80)));
    assert!(source["headline"]["sentence"].as_str().unwrap().ends_with(['.', ')']));
    let views = source["views"].as_array().unwrap();
    let names: Vec<&str> = views.iter().map(|v| v["view"].as_str().unwrap()).collect();
    assert_eq!(names, ["this form", "next session", "at the track in this car"]);
    for view in views {
        let rows = view["rows"].as_array().unwrap();
        assert_eq!((rows.len(), view["for_risk"].as_array().unwrap().len()), (3, 4));
        let reds: Vec<f64> = rows.iter().map(|r| r["red"]["value"].as_f64().unwrap()).collect();
        assert!(reds[0] < reds[1] && reds[1] < reds[2], "{reds:?}");
        for row in rows {
            for key in ["red", "green_light_s", "better"] {
                let number = |limit: &str| row[key][limit].as_f64().unwrap();
                assert!(number("low") <= number("value") && number("value") <= number("high"));
            }
        }
    }
    assert!(answer["react_or_time_it"].is_null() && answer["next"].is_string());
    assert_eq!(answer["better_than_s"], 0.06);
}

#[test]
fn declared_styles_in_turn_get_a_verdict_and_are_told_apart() {
    let rest = "--style style --opponent weekend --et-gap 0,0.05 --earlier 0";
    let answer = json(&format!("{CAR} {rest} --lever depth=-20,19 --lever box=-10,0"), &blocks());
    let styles: Vec<&str> =
        answer["sources"].as_array().unwrap().iter().filter_map(|s| s["style"].as_str()).collect();
    assert_eq!(styles, ["react", "time-it"]);
    let told = &answer["react_or_time_it"];
    assert!(told["right"].as_f64().unwrap() >= 0.5);
    assert_eq!(told["judgements"].as_array().unwrap().len(), 9);
    for lever in answer["levers"].as_array().unwrap() {
        assert!(lever["win"]["value"].as_f64().unwrap() > 0.0 && lever["win_redialled"].is_null());
    }
    let text = ask(&format!("{CAR} {rest}"), &blocks()).unwrap();
    for part in ["from practice (react), 40 launches", "timing", "next: ", "note: "] {
        assert!(text.contains(part), "{text}");
    }
}

#[test]
fn slips_stand_beside_practice() {
    let mut slips = tempfile::NamedTempFile::new().unwrap();
    let rows: String = (0..20).map(|i| format!("{:.3}\n", 0.02 + 0.004 * f64::from(i))).collect();
    slips.write_all(format!("rt\n{rows}").as_bytes()).unwrap();
    let path = slips.path().display();
    let question = format!("{CAR} --earlier 0 --slips {path} --slips-column rt");
    let answer = json(&question, &blocks());
    let sources = answer["sources"].as_array().unwrap();
    assert_eq!((sources.len(), sources[1]["source"].as_str()), (2, Some("slips")));
    assert_eq!((sources[0]["n"].as_u64(), sources[1]["n"].as_u64()), (Some(80), Some(20)));
    let width = |answer: &Value| {
        let red = &answer["sources"][0]["headline"]["red"];
        red["high"].as_f64().unwrap() - red["low"].as_f64().unwrap()
    };
    assert!(width(&answer) < width(&json(&format!("{CAR} --earlier 0"), &blocks())));
}

#[test]
fn what_is_wrong_is_told_in_a_line_with_its_place() {
    let wrong = |arguments: &str, input: &str| {
        let error = ask(arguments, input).unwrap_err();
        let text = error.to_string();
        assert!(text.lines().count() <= 2 && text.len() < 400, "{text}");
        assert!((1..=99).contains(&error.exit_code()));
        text
    };
    let odd = "day,style,part\n1,guess,0.2\n";
    let told = wrong(&format!("{CAR} --style style"), odd);
    assert!(told.contains("row 1") && told.contains("`guess`"), "{told}");
    let styled = format!("{CAR} --style style");
    assert!(wrong(&format!("{styled} --tree pro"), &blocks()).contains("no rhythm"));
    let sorted: String = {
        let text = blocks();
        let (react, rest): (Vec<&str>, Vec<&str>) =
            text.lines().skip(1).partition(|line| line.contains("react"));
        format!("day,style,part\n{}\n{}\n", react.join("\n"), rest.join("\n"))
    };
    assert!(wrong(&styled, &sorted).contains("take turns"));
    assert!(wrong(CAR, "day,part\n1,0.2\n1,0.3\n").contains("2 of the 10"));
    assert!(wrong(&format!("{CAR} --level 2"), &blocks()).contains("level"));
    assert!(wrong(&format!("{CAR} --earlier 20000"), &blocks()).contains("aim"));
    assert!(
        wrong(&format!("{CAR} --slips none.csv --slips-column rt"), &blocks()).contains("none")
    );
}

#[test]
fn a_question_has_to_be_whole() {
    for arguments in [
        format!("{CAR} --lever depth=-20,19"),
        format!("{CAR} --opponent weekend"),
        format!("{CAR} --et-gap 0,0.1"),
        format!("{CAR} --slips slips.csv"),
        "- --column part --interval 0.5".to_owned(),
    ] {
        let all = ["aim"].into_iter().chain(arguments.split_whitespace());
        assert!(Command::try_parse_from(all).is_err(), "{arguments}");
    }
    let minus = format!("{CAR} --earlier -5,-2.5 --better-than -0.01");
    assert_eq!(
        json(&minus, &blocks())["sources"][0]["views"][0]["rows"].as_array().unwrap().len(),
        2
    );
}
