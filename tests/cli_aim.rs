//! `lastamber aim` from outside: what it prints, what it refuses and how.

mod cli_support;

use cli_support::options;
use lastamber::cli::aim::{AimArgs, run};
use lastamber::cli::risk::RiskError;
use serde_json::Value;
use std::io::Write;

fn ask(arguments: &str, input: &str) -> Result<String, RiskError> {
    cli_support::ask(run, arguments, input)
}

fn json(arguments: &str, input: &str) -> Value {
    cli_support::json(run, arguments, input)
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

/// A file of slips with these R/Ts, ms.
fn slips_of(rts_ms: impl Iterator<Item = u32>) -> tempfile::NamedTempFile {
    let mut slips = tempfile::NamedTempFile::new().unwrap();
    let rows: String = rts_ms.map(|ms| format!("{:.3}\n", f64::from(ms) / 1000.0)).collect();
    slips.write_all(format!("rt\n{rows}").as_bytes()).unwrap();
    slips
}

#[test]
fn slips_that_waited_for_green_are_named_and_no_way_to_the_track() {
    let ordinary = || (0..12).map(|i| 20 + 6 * i);
    let at_the_track = |slips: &tempfile::NamedTempFile| {
        let path = slips.path().display();
        let question = format!("{CAR} --earlier 0 --slips {path} --slips-column rt");
        let answer = json(&question, &blocks());
        let view = answer["sources"][0]["views"][2].clone();
        assert_eq!(view["view"], "at the track in this car");
        let said: Vec<String> = answer["caveats"]
            .as_array()
            .unwrap()
            .iter()
            .filter_map(|c| c.as_str())
            .filter(|c| c.contains("waited for green"))
            .map(str::to_owned)
            .collect();
        (view, said, ask(&question, &blocks()).unwrap())
    };
    let (without, said, _) = at_the_track(&slips_of(ordinary()));
    assert!(said.is_empty(), "{said:?}");
    let (with, said, text) = at_the_track(&slips_of(ordinary().chain([520, 560])));
    assert_eq!(without, with, "what waited for green moves nothing");
    assert_eq!(said.len(), 1, "{said:?}");
    assert!(said[0].starts_with("2 of 14 slips read as if you had waited for green"), "{said:?}");
    assert!(text.contains(&format!("note: {}", said[0])), "{text}");
    // A light that home could have driven counts, and moves it.
    let (later, said, _) = at_the_track(&slips_of(ordinary().chain([250, 260])));
    assert!(said.is_empty() && later != without, "{said:?}");
}

/// The same launches, and after each block rows of every other outcome.
fn with_outcomes(others: &str) -> String {
    let mut out = String::new();
    for (i, row) in blocks().lines().enumerate() {
        let outcome = if i == 0 { "outcome" } else { "green" };
        out += &format!("{row},{outcome}\n");
        if i > 0 && i % 10 == 0 {
            let (start, _) = row.rsplit_once(',').unwrap();
            out.extend(others.split_whitespace().map(|word| format!("{start},,{word}\n")));
        }
    }
    out
}

#[test]
fn outcomes_make_reds_and_late_ones_of_rows_without_a_time_and_pool_no_blank_run() {
    let asked = format!("{CAR} --earlier 0 --style style");
    let plain = json(&asked, &blocks());
    assert!(plain["outcomes"].is_null());
    let asked = format!("{asked} --outcome outcome");
    // Only what is no start: not a number changes.
    let kept_apart = json(&asked, &with_outcomes("stayed guessed stayed void timed-out abandoned"));
    for key in ["sources", "react_or_time_it", "next", "caveats"] {
        assert_eq!(kept_apart[key], plain[key], "{key}");
    }
    let outcomes = &kept_apart["outcomes"];
    assert_eq!((&outcomes["left_before_tree"], &outcomes["left_out"]), (&0.into(), &24.into()));
    let test = &outcomes["guess_test"];
    assert_eq!((&test["blanks"], &test["guesses"]), (&24.into(), &8.into()));
    // Clopper-Pearson of 8 in 24, 90 %, from sums of binomial terms in double precision.
    let share = |key: &str| test["share_at_least"][key].as_f64().unwrap();
    assert!((share("value") - 1.0 / 3.0).abs() < 1e-12);
    assert!((share("low") - 0.177_960_625_284).abs() < 1e-9, "{test}");
    assert!((share("high") - 0.521_422_894_807).abs() < 1e-9, "{test}");
    let red = |answer: &Value| {
        answer["sources"][1]["views"][0]["rows"][0]["red"]["value"].as_f64().unwrap()
    };
    let reds = json(&asked, &with_outcomes("left-before-tree red"));
    assert_eq!(reds["outcomes"]["left_before_tree"], 16);
    assert_eq!(reds["sources"][1]["n"], 40, "of launches with a time");
    // Eight of 48 starts more: about a sixth of what was green before.
    let (before, more) = (red(&plain), red(&reds));
    assert!((more - (40.0 * before + 8.0) / 48.0).abs() < 0.02, "{before} {more}");
    let late = json(&asked, &with_outcomes("lapse lapse"));
    assert_eq!(
        (&late["outcomes"]["lapses"], &late["outcomes"]["guess_test"]),
        (&16.into(), &Value::Null)
    );
    assert!(red(&late) < before, "who never left was not red");
    // Without the columns before it, too: no column stands for another.
    let alone = "- --column part --car-part 0.28,0.01,0.004 --interval 0.5 --outcome outcome";
    let alone = json(alone, &with_outcomes("lapse stayed"));
    assert_eq!((&alone["sources"][0]["n"], &alone["outcomes"]["lapses"]), (&80.into(), &8.into()));
    let text = ask(&asked, &with_outcomes("stayed guessed lapse")).unwrap();
    for part in ["8 never left (late)", "guess test: left in 8 of 16 blank runs"] {
        assert!(text.contains(part), "{text}");
    }
}

#[test]
fn what_is_wrong_is_told_in_a_line_with_its_place() {
    let wrong = |arguments: &str, input: &str| cli_support::wrong(run, arguments, input);
    let odd = "day,style,part\n1,guess,0.2\n";
    let told = wrong(&format!("{CAR} --style style"), odd);
    assert!(told.contains("row 1") && told.contains("`guess`"), "{told}");
    let outcomes = format!("{CAR} --outcome outcome");
    let odd = "day,part,outcome\n1,0.2,green\n1,0.2,fled\n";
    let told = wrong(&outcomes, odd);
    assert!(told.contains("row 2") && told.contains("`fled`"), "{told}");
    assert!(told.contains("lapse") && told.ends_with("or remove the row"), "{told}");
    let told = wrong(&outcomes, "day,part,outcome\n1,,green\n");
    assert!(told.contains("row 1") && told.contains("column `part`"), "{told}");
    assert!(wrong(&outcomes, "day,part,outcome\n1,x,void\n").contains("no number"));
    let blank = "day,style,part,outcome\n1,react,,stayed\n";
    assert!(wrong(&outcomes, blank).contains("0 of the"));
    assert!(wrong(&format!("{outcomes} --style style"), blank).contains("0 of the"));
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
        assert!(options::<AimArgs>(&arguments).is_err(), "{arguments}");
    }
    let minus = format!("{CAR} --earlier -5,-2.5 --better-than -0.01");
    assert_eq!(
        json(&minus, &blocks())["sources"][0]["views"][0]["rows"].as_array().unwrap().len(),
        2
    );
}
