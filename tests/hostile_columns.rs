//! Columns no one would call data, through both commands: an answer or a clear error, never a panic
//! or a NaN.
//!
//! Thirty thousand rows run with the other tests. Ten million take the release build some seconds and a
//! test build a minute:
//! `LASTAMBER_LONG=1 cargo test --release --no-default-features --test hostile_columns -- --nocapture`.

use assert_cmd::Command;
use serde_json::Value;
use std::io::Write;

struct Outcome {
    code: i32,
    out: String,
    error: String,
}

impl Outcome {
    fn of(command: &mut Command) -> Self {
        let output = command.output().unwrap();
        let text = |bytes: Vec<u8>| String::from_utf8(bytes).unwrap();
        let code = output.status.code().expect("no signal ends it");
        Self { code, out: text(output.stdout), error: text(output.stderr) }
    }

    /// Either JSON that names no NaN, or nothing but one or two lines of error.
    fn assert_clean(&self, what: &str) -> Option<Value> {
        assert!(!self.error.contains("panicked"), "{what}: {}", self.error);
        if self.code == 0 {
            assert!(self.error.is_empty(), "{what}: {}", self.error);
            assert!(!self.out.contains("NaN") && !self.out.contains("inf"), "{what}: {}", self.out);
            return Some(serde_json::from_str(&self.out).unwrap());
        }
        assert!((1..=99).contains(&self.code) && self.out.is_empty(), "{what}: {}", self.code);
        let lines = self.error.trim_end().lines().count();
        assert!((1..=2).contains(&lines) && self.error.len() < 400, "{what}: {}", self.error);
        None
    }
}

/// The command's words for both questions, for a column `rt` of `file`.
fn both(file: &str) -> [Vec<String>; 2] {
    let words = |words: &str| words.split(' ').map(str::to_owned).collect::<Vec<String>>();
    [
        words(&format!("fit {file} --column rt --json")),
        words(&format!("risk {file} --column rt --threshold 0.15 --earlier -5,0,20 --json")),
    ]
}

/// The answers of `fit` and `risk`, or what they were refused with.
fn ask(text: &[u8]) -> [Outcome; 2] {
    both("-").map(|words| {
        let mut command = Command::new(env!("CARGO_BIN_EXE_lastamber"));
        Outcome::of(command.args(words).write_stdin(text))
    })
}

fn column(values: impl IntoIterator<Item = String>) -> Vec<u8> {
    let rows: String = values.into_iter().map(|value| value + "\n").collect();
    ("rt\n".to_owned() + &rows).into_bytes()
}

/// A reproducible shape with a long tail.
fn time(i: usize) -> f64 {
    let p = ((i * 7_919) % 100_003) as f64 / 100_003.0;
    0.17 + 0.02 * (i % 13) as f64 / 13.0 - 0.03 * (1.0 - p).ln()
}

#[test]
fn columns_without_numbers_are_refused_with_place_and_cure() {
    let cases: [(&str, &[u8], &str); 12] = [
        ("nothing", b"", "is empty"),
        ("a header alone", b"rt\n", "no line below the header"),
        ("line ends alone", b"\n\n\n", "is empty"),
        ("NaN", b"rt\n0.2\nNaN\n", "line 3"),
        ("infinity", b"rt\n0.2\ninf\n", "line 3"),
        ("minus infinity", b"rt\n0.2\n-inf\n", "line 3"),
        ("1e308", b"rt\n0.2\n1e308\n", "line 3"),
        ("beyond a double", b"rt\n0.2\n1e999\n", "line 3"),
        ("words", b"rt\n0.2\nfast\n", "line 3"),
        ("a comma for a point", b"rt\n0.2\n\"0,2\"\n", "line 3"),
        ("no text at all", b"\xff\xfe\x00\x01\n\x80\x81\n", "line 1"),
        ("another column", b"time\n0.2\n", "no column `rt`"),
    ];
    for (what, text, place) in cases {
        for outcome in ask(text) {
            assert!(outcome.assert_clean(what).is_none(), "{what}: {}", outcome.out);
            assert!(outcome.error.contains(place), "{what}: {}", outcome.error);
        }
    }
}

#[test]
fn few_or_equal_values_get_what_can_be_said_of_them() {
    for n in [1, 2, 9] {
        let [fit, risk] = ask(&column((0..n).map(|i| time(i).to_string())));
        let fit = fit.assert_clean("few").expect("few values have counts");
        assert_eq!((&fit["n"], &fit["preferred"]), (&Value::from(n), &Value::Null));
        let risk = risk.assert_clean("few").expect("few values have counts");
        for row in risk["rows"].as_array().unwrap() {
            assert!(row["value"].is_null() && row["count_high"].as_f64().unwrap() > 0.0);
        }
    }
    let [fit, risk] = ask(&column((0..40).map(|_| "0.2".to_owned())));
    assert!(fit.assert_clean("equal").is_none() && fit.error.contains("all values are the same"));
    let risk = risk.assert_clean("equal").expect("equal values have a risk");
    let value = risk["rows"][1]["value"].as_f64().unwrap();
    assert!(value > 0.0 && value < 0.2, "{value}");
}

#[test]
fn wild_values_are_answered_with_finite_numbers() {
    let plain = || (0..60).map(time);
    let cases: [(&str, Vec<f64>); 8] = [
        ("ends of the range", plain().chain([1e9, -1e9]).collect()),
        ("all huge", plain().map(|x| 1e9 * x).collect()),
        ("all tiny", plain().map(|x| 1e-300 * x).collect()),
        ("denormal", (0..60).map(|i| f64::from(i) * f64::MIN_POSITIVE / 8.0).collect()),
        ("two values", (0..60).map(|i| f64::from(i % 2)).collect()),
        ("one odd one", (0..60).map(|i| if i == 7 { 0.3 } else { 0.2 }).collect()),
        ("far from 0", plain().map(|x| 1e8 + x).collect()),
        ("a ramp", (0..60).map(|i| 0.1 * f64::from(i)).collect()),
    ];
    for (what, values) in cases {
        for outcome in ask(&column(values.iter().map(|x| format!("{x:e}")))) {
            outcome.assert_clean(what);
        }
    }
}

/// Processor time of the commands that have ended, s: what they would take on an idle machine.
fn spent() -> f64 {
    let stat = std::fs::read_to_string("/proc/self/stat").unwrap();
    let fields: Vec<&str> = stat[stat.rfind(')').unwrap()..].split(' ').collect();
    // Fields 16 and 17 of proc_pid_stat(5), in hundredths; the second field ends with the bracket.
    (fields[14].parse::<f64>().unwrap() + fields[15].parse::<f64>().unwrap()) / 100.0
}

/// Both answers for `n` rows from a file, and the seconds they took.
fn many(n: usize) -> [(Value, f64); 2] {
    let mut file = tempfile::NamedTempFile::new().unwrap();
    let mut out = std::io::BufWriter::new(file.as_file_mut());
    writeln!(out, "rt").unwrap();
    for i in 0..n {
        writeln!(out, "{:.5}", time(i)).unwrap();
    }
    out.flush().unwrap();
    drop(out);
    both(file.path().to_str().unwrap()).map(|words| {
        let begun = spent();
        let mut command = Command::new(env!("CARGO_BIN_EXE_lastamber"));
        let outcome = Outcome::of(command.args(words));
        let seconds = spent() - begun;
        println!("{n} rows: {seconds:.1} s");
        (outcome.assert_clean("many").expect("many rows have an answer"), seconds)
    })
}

fn assert_subsamples_are_named(n: usize, [(fit, _), (risk, _)]: &[(Value, f64); 2]) {
    assert_eq!((&fit["n"], &risk["n"]), (&Value::from(n), &Value::from(n)));
    let caveats = fit["caveats"].to_string();
    assert!(caveats.contains(&format!("2000 of the {n}")), "{caveats}");
    let caveats = risk["caveats"].to_string();
    assert!(caveats.contains(&format!("300 of {n}")), "{caveats}");
}

#[test]
fn very_many_rows_are_answered_from_named_parts_within_ten_seconds() {
    let long = std::env::var("LASTAMBER_LONG").is_ok_and(|v| v == "1");
    let n = if long { 10_000_000 } else { 30_000 };
    let answers = many(n);
    assert_subsamples_are_named(n, &answers);
    // A test build and a busy machine may take longer; the promise is the release build's.
    if long && !cfg!(debug_assertions) {
        assert!(answers.iter().all(|(_, seconds)| *seconds < 10.0));
    }
}
