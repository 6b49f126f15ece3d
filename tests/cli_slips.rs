//! `lastamber slips` and `tech` from outside: a book that grows, a table taken line by line, what is
//! refused and how.

use assert_cmd::Command;
use serde_json::Value;
use std::path::Path;
use std::process::Output;

fn run(args: &[&str]) -> Output {
    Command::cargo_bin("lastamber").unwrap().args(args).output().unwrap()
}

fn text(args: &[&str]) -> String {
    let run = run(args);
    let error = String::from_utf8_lossy(&run.stderr).into_owned();
    assert!(run.status.success(), "{args:?}: {error}");
    String::from_utf8(run.stdout).unwrap()
}

fn json(args: &[&str]) -> Value {
    serde_json::from_str(&text(&[args, &["--json"]].concat())).unwrap()
}

#[track_caller]
fn refuses(args: &[&str], says: &str) {
    let run = run(args);
    let error = String::from_utf8(run.stderr).unwrap();
    let code = run.status.code().unwrap();
    assert!((1..=99).contains(&code), "{args:?} ended with {code}");
    assert!(run.stdout.is_empty(), "{args:?} wrote to standard output");
    assert!(error.contains(says), "{args:?} said: {error}");
}

/// A data folder of its own.
struct Book(tempfile::TempDir);

impl Book {
    fn new() -> Self {
        Self(tempfile::tempdir().unwrap())
    }

    fn folder(&self) -> &str {
        self.0.path().to_str().unwrap()
    }

    fn add(&self, args: &[&str]) -> Value {
        json(&[&["slips", "add", "--data", self.folder()], args].concat())
    }

    fn list(&self) -> Vec<Value> {
        let all = json(&["slips", "list", "--data", self.folder()]);
        all["slips"].as_array().unwrap().clone()
    }
}

fn corpus(name: &str) -> String {
    let folder = concat!(env!("CARGO_MANIFEST_DIR"), "/tests/data/slips");
    Path::new(folder).join(name).display().to_string()
}

#[test]
fn a_slip_goes_in_with_one_line_and_is_listed() {
    let book = Book::new();
    let added = book.add(&[
        "date=2026-05-01",
        "track=Our strip",
        "lane=left",
        "car=the old one",
        "--column",
        "-.012 1.963 5.678 8.637 83.95 - 13.464 105.04",
    ]);
    assert_eq!(added["questions"].as_array().unwrap().len(), 0);
    assert_eq!(added["slip"]["rt_s"], -0.012);
    let listed = book.list();
    assert_eq!(listed.len(), 1);
    assert_eq!(listed[0]["id"], added["id"]);
    for (key, value) in [("60_s", 1.963), ("1320_s", 13.464), ("1320_mph", 105.04)] {
        assert_eq!(listed[0][key], value, "{key}");
    }
    assert_eq!(listed[0]["track"], "Our strip");
    let line = text(&["slips", "list", "--data", book.folder()]);
    assert!(line.contains("1/4 13.464") && line.contains("· red"), "{line}");
}

#[test]
fn without_a_date_it_is_todays_and_a_dash_leaves_it_open() {
    let book = Book::new();
    assert!(book.add(&["rt=.1"])["slip"]["date"].is_string());
    let open = book.add(&["rt=.1", "date=-"]);
    assert!(open["slip"]["date"].is_null());
    assert!(open["questions"][0].as_str().unwrap().contains("no date"));
}

#[test]
fn a_correction_is_a_new_line_in_the_place_of_the_old() {
    let book = Book::new();
    let first = book.add(&["date=2026-05-01", "rt=.45", "et=13.464", "note=cold"]);
    book.add(&["date=2026-05-02", "rt=.033", "et=13.5"]);
    let id = first["id"].as_str().unwrap();
    let corrected = book.add(&["--corrects", id, "rt=.045", "note=-"]);
    assert_eq!(corrected["corrects"], id);
    let listed = book.list();
    assert_eq!(listed.len(), 2);
    assert_eq!((&listed[0]["rt_s"], &listed[0]["1320_s"]), (&0.045.into(), &13.464.into()));
    assert!(listed[0]["note"].is_null());
    // What was written stays written.
    let history = std::fs::read_to_string(book.0.path().join("history.jsonl")).unwrap();
    assert_eq!(history.lines().count(), 3);
    assert!(history.contains("0.45"));
    // A correction names the slip in force; the old id is none any more.
    refuses(
        &["slips", "add", "--data", book.folder(), "--corrects", id, "rt=.1"],
        "no slip in force",
    );
    let new = corrected["id"].as_str().unwrap();
    book.add(&["--withdraws", new]);
    assert_eq!(book.list().len(), 1);
}

#[test]
fn a_table_is_taken_line_by_line_and_not_twice() {
    let book = Book::new();
    let file = corpus("semicolons_and_commas.csv");
    let import = |more: &[&str]| {
        json(&[&["slips", "import", &file, "--data", book.folder()], more].concat())
    };
    let dry = import(&["--dry-run"]);
    assert_eq!((&dry["accepted"], &dry["saved"]), (&2.into(), &false.into()));
    assert!(book.list().is_empty());
    let first = import(&["--set", "car=the old one"]);
    assert_eq!(
        (&first["accepted"], &first["refused"], &first["repeated"]),
        (&2.into(), &1.into(), &0.into())
    );
    let lines = first["lines"].as_array().unwrap();
    assert_eq!(lines[2]["line"], 5);
    assert!(lines[2]["why"].as_str().unwrap().contains("`,5x`"));
    assert!(lines[0]["id"].is_string() && lines[2]["id"].is_null());
    let listed = book.list();
    assert_eq!(listed.len(), 2);
    assert_eq!(listed[0]["car"], "the old one");
    let again = import(&["--set", "car=the old one"]);
    assert_eq!((&again["accepted"], &again["repeated"]), (&0.into(), &2.into()));
    assert_eq!(book.list().len(), 2);
}

#[test]
fn the_book_goes_out_as_a_table_and_in_again() {
    let book = Book::new();
    book.add(&["date=2026-05-01", "rt=-.0123", "length=eighth", "et=8.63", "other_rt=.1"]);
    let table = text(&["slips", "list", "--csv", "--data", book.folder()]);
    let file = book.0.path().join("out.csv");
    std::fs::write(&file, table).unwrap();
    let other = Book::new();
    let taken = json(&["slips", "import", file.to_str().unwrap(), "--data", other.folder()]);
    assert_eq!(taken["accepted"], 1);
    let (mut a, mut b) = (book.list(), other.list());
    for slip in [&mut a[0], &mut b[0]] {
        let slip = slip.as_object_mut().unwrap();
        slip.remove("id");
        slip.remove("saved_at");
    }
    assert_eq!(a, b);
}

#[test]
fn check_asks_about_the_book_or_a_table() {
    let book = Book::new();
    book.add(&["date=2026-05-01", "rt=.1", "et=13.464", "mph=150"]);
    book.add(&["date=2026-05-01", "rt=.1", "et=13.464", "mph=105"]);
    let asked = json(&["slips", "check", "--data", book.folder()]);
    assert_eq!(asked["checked"], 2);
    let slips = asked["slips"].as_array().unwrap();
    assert_eq!(slips.len(), 1);
    assert!(slips[0]["questions"][0].as_str().unwrap().contains("time × speed is 2020"));
    let table = json(&["slips", "check", &corpus("torn.csv")]);
    assert_eq!(table["checked"], 4);
    assert!(table["slips"].to_string().contains("it would be refused"));
}

#[test]
fn what_is_no_slip_is_refused_with_the_cure() {
    let book = Book::new();
    let add = |args: &[&str], says: &str| {
        refuses(&[&["slips", "add", "--data", book.folder()], args].concat(), says);
    };
    add(&[], "nothing to add");
    add(&["rt=soon"], "rt_s: `soon` is not a time like 13.464 or -.033");
    add(&["speed"], "has no `=`");
    add(&["moon=full"], "`moon` is no part of a slip; choose from date, ");
    add(&["--column", "1 2 3 4 5 6 7 8 9"], "8 figures");
    add(&["--column", "-.012 two"], "60': `two`");
    add(&["--column", " "], "a column without a figure; write it like");
    add(
        &["rt=.1", "other_rt=.2", "RT=.3"],
        "rt_s is given twice, as `.1` and as `.3`; give it once",
    );
    add(&["rt=.1", "rt=-"], "rt_s is given twice");
    add(&["--corrects", "nobody", "rt=.1"], "no slip in force has the id `nobody`");
    // Nothing of all this was written.
    assert!(book.list().is_empty());
    refuses(&["slips", "import", "/no/such/file"], "/no/such/file: cannot be read");
    refuses(&["slips", "import", "/no/such/file"], "; check its name and the folder it is in");
    refuses(&["slips", "check", book.folder()], "; that is a folder, name a file in it");
    let set =
        |value: &str| ["slips", "import", &corpus("latin1.csv"), "--set", value].map(str::to_owned);
    let set_refuses =
        |value: &str, says: &str| refuses(&set(value).each_ref().map(String::as_str), says);
    set_refuses("length=mile", "quarter, eighth");
    set_refuses("rt=NaN", "--set: rt_s: `NaN` is not a time like");
    let empty = book.0.path().join("empty.csv");
    std::fs::write(&empty, "").unwrap();
    refuses(&["slips", "import", empty.to_str().unwrap()], "there is no line in it");
}

#[test]
fn a_book_nobody_has_is_empty_and_a_damaged_line_is_told_of() {
    let book = Book::new();
    assert!(book.list().is_empty());
    book.add(&["rt=.1"]);
    let path = book.0.path().join("history.jsonl");
    let mut history = std::fs::read(&path).unwrap();
    history.extend_from_slice(b"{\"sum\":\"00000000\",\"line\":{}}\n");
    std::fs::write(&path, history).unwrap();
    let run = run(&["slips", "list", "--data", book.folder(), "--json"]);
    assert!(run.status.success());
    assert!(String::from_utf8(run.stderr).unwrap().contains("1 damaged"));
    assert_eq!(book.list().len(), 1);
}

#[test]
fn tech_answers_with_its_keys_and_its_caution() {
    let answer = json(&["tech", "--et", "11.2", "--model-year", "2016"]);
    let keys: Vec<&String> = answer.as_object().unwrap().keys().collect();
    assert_eq!(keys, ["caution", "items"]);
    assert!(answer["caution"].as_str().unwrap().contains("rulebook was not read"));
    let items = answer["items"].as_array().unwrap();
    for item in items {
        let keys: Vec<&String> = item.as_object().unwrap().keys().collect();
        assert_eq!(keys, ["applies", "item", "source", "threshold", "year"]);
    }
    let of = |start: &str| {
        items.iter().find(|item| item["item"].as_str().unwrap().starts_with(start)).unwrap()
    };
    // NHRA quick-reference chart of the early 2000s: roll bar at 11.49, cage at 10.99.
    assert_eq!(of("Roll bar, harness")["applies"], true);
    assert_eq!(of("Roll cage")["applies"], false);
    assert_eq!(of("Helmet")["threshold"], "13.99 s and quicker, quarter mile");
    assert_eq!(of("Allowance for factory cars of 2014")["year"], 2022);
    let eighth = json(&["tech", "--length", "eighth", "--body", "t-top"]);
    assert!(eighth.to_string().contains("8.59 s and quicker, eighth mile"));
    let words = text(&["tech", "--mph", "152"]);
    assert!(words.contains("yes  Parachute") && words.contains("its word is final"), "{words}");
    refuses(&["tech", "--et", "-3"], "--et is -3; give 2 to 60 s");
    refuses(&["tech", "--mph", "nan"], "--mph is NaN");
    refuses(&["tech", "--model-year", "1500"], "--model-year");
    refuses(&["tech", "--body", "van"], "t-top");
}
