//! `lastamber fit` from outside: files and pipes in, JSON or text out, and what it says to files
//! that are wrong.

use assert_cmd::Command;
use serde_json::Value;
use std::path::Path;

/// Runs `lastamber fit` on text given through standard input.
fn fit(text: &str, options: &[&str]) -> (i32, String, String) {
    let mut command = Command::new(env!("CARGO_BIN_EXE_lastamber"));
    command.args(["fit", "-", "--column", "rt"]).args(options).write_stdin(text);
    outcome(&mut command)
}

fn outcome(command: &mut Command) -> (i32, String, String) {
    let output = command.output().unwrap();
    let text = |bytes: Vec<u8>| String::from_utf8(bytes).unwrap();
    (output.status.code().unwrap(), text(output.stdout), text(output.stderr))
}

fn json(text: &str, options: &[&str]) -> Value {
    let (code, out, error) = fit(text, &[options, &["--json"]].concat());
    assert_eq!((code, error.as_str()), (0, ""));
    serde_json::from_str(&out).unwrap()
}

fn column(values: impl IntoIterator<Item = String>) -> String {
    std::iter::once("rt".to_owned()).chain(values).fold(String::new(), |all, x| all + &x + "\n")
}

/// A skewed column of `n` times in ms, given in units of 1/`per_second` s.
fn skewed(n: u32, per_second: f64) -> String {
    let value = |i: u32| {
        let p = (f64::from((i * 37) % n) + 0.5) / f64::from(n);
        // A crooked, reproducible shape: a logistic body with an exponential tail.
        200.0 + 15.0 * (p / (1.0 - p)).ln() - 30.0 * (1.0 - p).ln()
    };
    column((0..n).map(|i| format!("{}", value(i) / 1000.0 * per_second)))
}

/// The law's object in the answer.
fn law<'a>(answer: &'a Value, family: &str) -> &'a Value {
    let laws = answer["families"].as_array().unwrap();
    laws.iter().find(|law| law["family"] == family).unwrap()
}

fn number(value: &Value) -> f64 {
    value.as_f64().unwrap_or_else(|| panic!("{value} is no number"))
}

#[test]
fn the_example_of_20_values_is_answered_as_json() {
    let text = column(include_str!("data/rt20_example.csv").lines().map(str::to_owned));
    let answer = json(&text, &["--unit", "ms", "--seed", "3"]);
    assert_eq!(answer["n"], 20);
    assert_eq!(answer["unit"], "ms");
    assert_eq!(answer["preferred"], "normal");
    assert!(answer["caveats"][0].as_str().unwrap().contains("rough"));
    // mpmath, 40 digits: maximum likelihood of the ex-Gaussian on these values.
    let exg = law(&answer, "ex-gaussian");
    assert_eq!(exg["status"], "interior");
    assert!((number(&exg["log_likelihood"]) + 87.125_388_4).abs() < 5e-8);
    for (name, want) in [("mu", 32.03938927), ("sigma", 14.95709), ("tau", 12.15061)] {
        let got = number(&exg["parameters"][name]);
        assert!((got / want - 1.0).abs() < 1e-6, "{name} {got}");
    }
    assert!((number(&exg["aic"]) - 2.0 * (3.0 + 87.125_388_4)).abs() < 1e-6);
    let names: Vec<&str> = answer["families"]
        .as_array()
        .unwrap()
        .iter()
        .map(|law| law["family"].as_str().unwrap())
        .collect();
    let all = ["normal", "ex-gaussian", "shifted-lognormal", "shifted-wald", "anticipate-react"];
    assert_eq!(names, all);
}

#[test]
fn a_file_is_read_and_its_column_name_says_the_unit() {
    let file = Path::new(env!("CARGO_MANIFEST_DIR")).join("tests/data/synthetic_mixture_240.csv");
    let mut command = Command::new(env!("CARGO_BIN_EXE_lastamber"));
    command.arg("fit").arg(&file).args([
        "--column",
        "rt_ms",
        "--families",
        "ex-gaussian",
        "--json",
    ]);
    let (code, out, _) = outcome(&mut command);
    let answer: Value = serde_json::from_str(&out).unwrap();
    assert_eq!((code, answer["unit"].as_str()), (0, Some("ms")));
    assert_eq!(answer["families"].as_array().unwrap().len(), 1);
    let got = number(&law(&answer, "ex-gaussian")["log_likelihood"]);
    assert!((got + 1322.082441).abs() < 2e-6);
}

#[test]
fn seconds_and_milliseconds_give_the_same_answer() {
    let n = 120;
    let s = json(&skewed(n, 1.0), &["--unit", "s"]);
    let ms = json(&skewed(n, 1000.0), &["--unit", "ms"]);
    assert_eq!(s["preferred"], ms["preferred"]);
    let change = f64::from(n) * 1000f64.ln();
    for family in ["normal", "ex-gaussian", "shifted-lognormal", "shifted-wald"] {
        let (s, ms) = (law(&s, family), law(&ms, family));
        assert_eq!(s["status"], ms["status"]);
        let close = |a: f64, b: f64, what: &str| {
            assert!((a - b).abs() <= 1e-7 * b.abs().max(1e-3), "{family} {what}: {a} {b}");
        };
        for key in ["log_likelihood", "fold_log_score"] {
            close(number(&s[key]) - change, number(&ms[key]), key);
        }
        for key in ["aic", "aicc", "bic"] {
            close(number(&s[key]) + 2.0 * change, number(&ms[key]), key);
        }
        for key in ["ks", "ad", "cvm", "ks_p", "ad_p", "cvm_p"] {
            close(number(&s[key]), number(&ms[key]), key);
        }
        for (name, value) in s["parameters"].as_object().unwrap() {
            let scaled = match name.as_str() {
                "log_mean" => number(value) + 1000f64.ln(),
                "log_sd" => number(value),
                _ => number(value) * 1000.0,
            };
            close(scaled, number(&ms["parameters"][name]), name);
        }
    }
}

#[test]
fn the_same_seed_gives_the_same_bytes() {
    let text = skewed(60, 1.0);
    assert_eq!(fit(&text, &["--json", "--seed", "5"]), fit(&text, &["--json", "--seed", "5"]));
    assert_ne!(fit(&text, &["--json", "--seed", "5"]), fit(&text, &["--json", "--seed", "6"]));
}

#[test]
fn two_parts_are_fitted_in_the_inputs_unit_and_preferred_where_they_are() {
    let rows = include_str!("data/synthetic_mixture_240.csv").lines().skip(1);
    let ms: Vec<f64> = rows.map(|row| row.split(',').nth(1).unwrap().parse().unwrap()).collect();
    let in_ms = json(&column(ms.iter().map(f64::to_string)), &["--unit", "ms"]);
    let in_s = json(&column(ms.iter().map(|x| format!("{}", x / 1000.0))), &[]);
    // scipy 1.17.1, five starts: −ln L 1246.277650 per ms, AIC 2504.5553, BIC 2525.4391.
    let want = [
        ("anticipate_share", 0.629_318_11, 1.0),
        ("anticipate_mean", 29.409_850, 1000.0),
        ("anticipate_sd", 20.544_759, 1000.0),
        ("mu", 139.018_552, 1000.0),
        ("sigma", 15.121_573, 1000.0),
        ("tau", 24.644_284, 1000.0),
    ];
    let (ms, s) = (law(&in_ms, "anticipate-react"), law(&in_s, "anticipate-react"));
    for (name, value, unit) in want {
        let (in_ms, in_s) = (number(&ms["parameters"][name]), number(&s["parameters"][name]));
        assert!((in_ms / value - 1.0).abs() < 1e-5, "{name}: {in_ms}");
        assert!((in_s * unit / in_ms - 1.0).abs() < 1e-9, "{name}: {in_s}");
        assert!(number(&ms["standard_errors"][name]) > 0.0);
    }
    for answer in [&in_ms, &in_s] {
        assert_eq!(answer["preferred"], "anticipate-react");
    }
    assert_eq!((&ms["status"], &s["status"]), (&"interior".into(), &"interior".into()));
    for (key, value) in [("log_likelihood", -1246.277650), ("aic", 2504.5553), ("bic", 2525.4391)] {
        assert!((number(&ms[key]) - value).abs() < 1e-4, "{key}: {}", ms[key]);
    }
    let change = 240.0 * 1000f64.ln();
    for key in ["log_likelihood", "fold_log_score"] {
        assert!((number(&s[key]) - change - number(&ms[key])).abs() < 1e-6, "{key}");
    }
    for key in ["ks", "ad", "cvm"] {
        assert!((number(&s[key]) - number(&ms[key])).abs() < 1e-9, "{key}");
    }
}

#[test]
fn few_values_are_answered_with_counts_only() {
    for n in [1, 9] {
        let answer = json(&skewed(n, 1.0), &[]);
        assert_eq!(answer["n"], n);
        assert_eq!(answer["preferred"], Value::Null);
        assert!(answer["caveats"][0].as_str().unwrap().contains("only counts"));
        let exg = law(&answer, "ex-gaussian");
        assert_eq!((exg["status"].as_str(), &exg["log_likelihood"]), (Some("none"), &Value::Null));
    }
}

#[test]
fn a_law_at_its_edge_is_called_so() {
    // Flat values have no skew and thin tails: three laws run into the normal one.
    let answer = json(&column((0..41).map(|i| format!("{}", 0.2 + 0.001 * f64::from(i)))), &[]);
    assert_eq!(answer["preferred"], "normal");
    let exg = law(&answer, "ex-gaussian");
    assert_eq!(
        (exg["status"].as_str(), &exg["parameters"]["tau"]),
        (Some("boundary"), &Value::from(0.0))
    );
    let wald = law(&answer, "shifted-wald");
    assert_eq!(
        (wald["status"].as_str(), &wald["parameters"]["shift"]),
        (Some("boundary"), &Value::Null)
    );
    assert_eq!(wald["log_likelihood"], law(&answer, "normal")["log_likelihood"]);
}

#[test]
fn text_begins_with_a_sentence() {
    let (code, out, error) = fit(&skewed(60, 1.0), &[]);
    assert_eq!((code, error.as_str()), (0, ""));
    assert!(out.starts_with("Of the laws tried, the "), "{out}");
    assert!(out.contains("ex-gaussian") && out.contains("anticipate-react"), "{out}");
}

/// Exit code 1, nothing on standard output, one or two lines on standard error with these words.
fn assert_refused(outcome: (i32, String, String), words: &[&str]) {
    let (code, out, error) = outcome;
    assert_eq!((code, out.as_str()), (1, ""), "{error}");
    assert!((1..=2).contains(&error.trim_end().lines().count()), "{error}");
    for word in words {
        assert!(error.contains(word), "`{word}` is not in: {error}");
    }
}

#[test]
fn wrong_files_are_refused_with_place_and_cure() {
    assert_refused(fit("", &[]), &["standard input", "is empty"]);
    assert_refused(fit("rt\n", &[]), &["no line below the header"]);
    assert_refused(fit("0.2\n0.3\n", &[]), &["no header", "`rt`"]);
    assert_refused(fit("a,b\n1,2\n", &[]), &["no column `rt`", "`a`, `b`"]);
    assert_refused(fit("rt\n0.2\nNaN\n", &[]), &["line 3", "`NaN` is no number"]);
    assert_refused(fit("rt\n0.2\n1e308\n", &[]), &["line 3", "is no time"]);
    assert_refused(fit("rt\n0.2\n\"\"\n0.3\n", &[]), &["line 3", "no number"]);
    let same = column((0..30).map(|_| "0.2".to_owned()));
    assert_refused(fit(&same, &[]), &["all values are the same"]);
    let mut command = Command::new(env!("CARGO_BIN_EXE_lastamber"));
    command.args(["fit", "no-such-file.csv", "--column", "rt"]);
    assert_refused(outcome(&mut command), &["no-such-file.csv", "cannot be opened"]);
}

#[test]
fn extreme_but_possible_values_are_answered_without_nan() {
    let mut values: Vec<String> =
        (0..30).map(|i| format!("{}", 0.2 + 0.002 * f64::from(i))).collect();
    values.push("1e9".to_owned());
    values.push("-1e9".to_owned());
    let (code, out, error) = fit(&column(values), &["--json"]);
    assert_eq!(code, 0, "{error}");
    assert!(!out.contains("NaN"));
    let near = column((0..30).map(|i| format!("{}", 1e8 + f64::from(i % 3))));
    assert_eq!(fit(&near, &["--json"]).0, 0);
}

#[test]
fn a_wrong_command_line_is_exit_code_2() {
    for wrong in [&["--unit", "min"][..], &["--families", "gamma"], &["--seed", "-1"]] {
        let (code, out, error) = fit("rt\n0.2\n", wrong);
        assert_eq!((code, out.as_str()), (2, ""), "{error}");
    }
}
