//! Histories out and in: any lines come back byte for byte, and no damaged export or history makes the
//! program panic, lose a line that was there, or take one that does not read back equal.
//!
//! Owns the properties of `WholeHistory` and a mutating fuzzer of `history import` and `history merge`.
//! By default a few thousand files are damaged; with `LASTAMBER_LONG` set it goes on for ten minutes.

#[path = "fuzz_support/mod.rs"]
mod fuzz_support;
#[path = "history_support/mod.rs"]
mod support;

use fuzz_support::{again_and_again, any_slip, damage};
use lastamber::history::{
    DataFolder, ExclusionLine, ForecastLine, Line, RateLine, SlipLine, TrialLine, WholeHistory,
    WholeLine, history_file, load,
};
use lastamber::progress::Progress;
use lastamber::seed::Generator;
use lastamber::trial::Style;
use proptest::prelude::*;
use rand::RngExt;
use std::collections::HashSet;
use std::fs;
use std::path::Path;
use support::{any_number, file_of, fixed};

const ID: &str = "[0-9a-f-]{1,36}";
const TEXT: &str = "\\PC{0,12}";

fn any_slip_line() -> impl Strategy<Value = Line> {
    (ID, TEXT, prop::option::of(ID), any::<bool>(), any_slip()).prop_map(
        |(id, saved_at, corrects, withdrawn, slip)| {
            SlipLine { id, saved_at, corrects, withdrawn, slip }.into()
        },
    )
}

fn any_exclusion() -> impl Strategy<Value = Line> {
    (ID, TEXT, TEXT, any::<bool>(), "\\PC{1,40}").prop_map(
        |(id, saved_at, trial, excluded, reason)| {
            ExclusionLine { id, saved_at, trial, excluded, reason }.into()
        },
    )
}

fn any_rate() -> impl Strategy<Value = RateLine> {
    prop::collection::vec(any_number(), 6).prop_map(|x| RateLine {
        value: x[0],
        low: x[1],
        high: x[2],
        level: x[3],
        a: x[4],
        b: x[5],
    })
}

fn any_forecast() -> impl Strategy<Value = Line> {
    (
        ID,
        prop::collection::vec(TEXT, 8),
        (any::<i64>(), any::<u64>(), any::<u64>(), any::<bool>()),
        prop::collection::vec(any_number(), 5),
        (any_rate(), any_rate()),
    )
        .prop_map(|(id, mut words, (interval_ns, seed, n, react), x, (red, better))| {
            let mut word = || words.pop().unwrap_or_default();
            ForecastLine {
                id,
                saved_at: word(),
                program: word(),
                driver: word(),
                occasion: word(),
                occasion_id: word(),
                source: word(),
                car: word(),
                tree: word(),
                interval_ns,
                style: if react { Style::React } else { Style::TimeIt },
                declared_earlier_ms: x[0],
                seed,
                red,
                better_than_s: x[1],
                better,
                light_low_s: x[2],
                light_high_s: x[3],
                light_level: x[4],
                n,
            }
            .into()
        })
}

/// A line of any kind: runs, slips and their corrections, cars, rigs, films, forecasts, exclusions.
fn any_line() -> impl Strategy<Value = Line> {
    prop_oneof![
        support::run().prop_map(|run| TrialLine::from(run).into()),
        any_slip_line(),
        support::car().prop_map(Line::from),
        support::rig_test().prop_map(Line::from),
        support::film().prop_map(Line::from),
        any_forecast(),
        any_exclusion(),
    ]
}

proptest! {
    #![proptest_config(fixed(150))]

    #[test]
    fn any_history_goes_out_and_in_and_out_the_same_bytes(
        lines in prop::collection::vec(any_line(), 0..10),
        demo in any::<bool>(),
    ) {
        let bytes = file_of(&lines);
        let whole = WholeHistory::read(&bytes[..]).unwrap();
        prop_assert_eq!((whole.damaged.len(), whole.newer), (0, 0));
        let exports = [whole.to_json(demo), whole.to_csv(demo)];
        for export in &exports {
            let (back, of_demo) = WholeHistory::of_export(export.as_bytes()).unwrap();
            prop_assert_eq!(&back.lines, &whole.lines);
            // A table says so in its rows: without any there is nothing made up.
            prop_assert!(of_demo == demo || lines.is_empty());
            prop_assert_eq!(&[back.to_json(demo), back.to_csv(demo)], &exports);
            // What every line says is what was written first.
            for line in &back.lines {
                let understood = line.understood().expect("known kinds");
                let first = lines.iter().find(|l| (l.id(), l.kind()) == (&*line.id(), line.kind()));
                prop_assert_eq!(understood.to_json().unwrap(), first.unwrap().to_json().unwrap());
            }
        }
    }

    #[test]
    fn any_bytes_are_an_export_or_refused(bytes in prop::collection::vec(any::<u8>(), 0..300)) {
        let _ = WholeHistory::of_export(&bytes);
        prop_assert!(WholeHistory::read(&bytes[..]).is_ok());
    }
}

/// Lines of every kind and one of a newer program, ids counted from `from`.
fn some_lines(from: usize, random: &mut Generator) -> Vec<u8> {
    let mut runner = proptest::test_runner::TestRunner::new_with_rng(
        ProptestConfig::default(),
        proptest::test_runner::TestRng::from_seed(
            proptest::test_runner::RngAlgorithm::ChaCha,
            &random.random::<[u8; 32]>(),
        ),
    );
    let mut bytes = Vec::new();
    for i in 0..random.random_range(2..9) {
        let tree = any_line().new_tree(&mut runner).expect("no filter rejects");
        let value = proptest::strategy::ValueTree::current(&tree).to_json().unwrap();
        let mut value: serde_json::Value = serde_json::from_str(&value).unwrap();
        value["id"] = format!("{:04}", from + i).into();
        bytes.extend(sealed(&value.to_string()));
    }
    let odd = [
        r#"{"kind":"engine","v":3,"id":"0001","what":1e400,  "deep":[[[[[[1]]]]]]}"#,
        "{\"kind\":\"engine\",\"v\":1,\r\t\"id\":5}",
        r#"{"kind":"engine","v":1,"id":"a","id":"b"}"#,
        r#"{"kind":"engine","v":1}"#,
    ];
    bytes.extend(sealed(odd[random.random_range(0..odd.len())]));
    bytes
}

fn sealed(value: &str) -> Vec<u8> {
    let sum = crc32fast::hash(value.as_bytes());
    format!("{{\"sum\":\"{sum:08x}\",\"line\":{value}}}\n").into_bytes()
}

/// Damage that keeps the shape: rows moved, doubled, lost, blanks and other line ends put in, one id
/// or one word in place of another.
fn reshape(bytes: Vec<u8>, random: &mut Generator) -> Vec<u8> {
    let Ok(text) = String::from_utf8(bytes) else { return Vec::new() };
    let mut rows: Vec<&str> = text.split_inclusive('\n').collect();
    let place = |rows: &[&str], random: &mut Generator| random.random_range(0..rows.len().max(1));
    match random.random_range(0..6) {
        0 if !rows.is_empty() => {
            let row = rows[place(&rows, random)];
            rows.insert(place(&rows, random), row);
        }
        1 if !rows.is_empty() => drop(rows.remove(place(&rows, random))),
        2 if !rows.is_empty() => {
            let (a, b) = (place(&rows, random), place(&rows, random));
            rows.swap(a, b);
        }
        3 => {
            let pairs = [
                ("\r\n", "\n"),
                ("\"{", "\" {"),
                ("}\"", "} \r\""),
                (",", " ,\t"),
                (",no,", ",yes,"),
                ("\"id\":\"00", "\"id\":\"\\u0030\\u0030"),
                ("\"v\":1", "\"v\":2"),
                ("kind", "Kind"),
                ("\"slip\":{", "\"slip\":{\"rt_s\":1e99,"),
                ("0001", "0002"),
            ];
            let (from, to) = pairs[random.random_range(0..pairs.len())];
            return match random.random::<bool>() {
                true => text.replace(from, to),
                false => text.replacen(from, to, 1),
            }
            .into_bytes();
        }
        4 => return [b"\xef\xbb\xbf", text.as_bytes()].concat(),
        _ => {}
    }
    rows.concat().into_bytes()
}

/// What a folder holds now is what it held and what was taken, each line as it was, and the old file
/// stays.
fn goes_together(
    own: &WholeHistory,
    from: &WholeHistory,
    (folder, old): (&Path, &[u8]),
) -> Result<(), String> {
    let mut union = own.clone();
    let new = union.add(from.lines.iter().cloned());
    let held = DataFolder::open(folder).map_err(|e| e.to_string())?;
    let kept = union.replace(&held, &Progress::default()).map_err(|e| e.to_string())?;
    let kept = kept.ok_or("nothing stays of the old file")?;
    if fs::read(&kept).ok().as_deref() != Some(old) {
        return Err("the old file is another".to_owned());
    }
    let bytes = fs::read(history_file(folder)).map_err(|e| e.to_string())?;
    let (back, loaded) = (WholeHistory::read(&bytes[..]), load(&bytes[..]));
    let (back, loaded) = (back.map_err(|e| e.to_string())?, loaded.map_err(|e| e.to_string())?);
    if back.lines != union.lines || !back.damaged.is_empty() || loaded.damaged_count > 0 {
        return Err(format!("not what was taken: {:?} {:?}", back.damaged, loaded.damaged));
    }
    let there: HashSet<&WholeLine> = back.lines.iter().collect();
    if let Some(lost) = own.lines.iter().find(|line| !there.contains(line)) {
        return Err(format!("lost: {lost:?}"));
    }
    if back.lines.len() != own.lines.len() + new {
        return Err("lines out of nothing".to_owned());
    }
    let named = |line: &WholeLine| (line.kind().to_owned(), line.id().into_owned());
    let names: HashSet<_> = back.lines.iter().map(named).collect();
    match from.lines.iter().find(|line| !names.contains(&named(line))) {
        Some(lost) => Err(format!("not taken: {lost:?}")),
        None => Ok(()),
    }
}

/// Lines that no damage touched are found, whatever stands around them.
fn untouched_are_found(before: &[u8], after: &[u8], found: &WholeHistory) -> Result<(), String> {
    let rows: HashSet<&[u8]> = after.split(|byte| *byte == b'\n').collect();
    let known: HashSet<String> =
        found.lines.iter().chain(&found.contrary).map(|line| line.json().into_owned()).collect();
    let untouched = before.split(|byte| *byte == b'\n').filter(|row| rows.contains(row));
    for row in untouched.filter(|row| !row.is_empty()) {
        let value = std::str::from_utf8(&row[25..row.len() - 1]).unwrap();
        if !known.contains(value) {
            return Err(format!("untouched and lost: {value}"));
        }
    }
    Ok(())
}

/// One damaged file against one's own history; whether it could be taken.
fn one_try(folder: &Path, random: &mut Generator) -> Result<bool, String> {
    let (mine, theirs) = (some_lines(0, random), some_lines(3, random));
    let old = [&mine[..], b"{\"sum\":\"torn"].concat();
    fs::write(history_file(folder), &old).unwrap();
    let own = WholeHistory::read(&old[..]).map_err(|e| e.to_string())?;
    untouched_are_found(&mine, &mine, &own)?;
    let other = WholeHistory::read(&theirs[..]).map_err(|e| e.to_string())?;
    let whole = [other.to_json(false), other.to_csv(false)].map(String::into_bytes);
    let kind = random.random_range(0..3);
    let mut bytes = if kind == 2 { theirs.clone() } else { whole[kind].clone() };
    if random.random::<bool>() {
        bytes = reshape(bytes, random);
    }
    if random.random::<bool>() && !bytes.is_empty() {
        damage(&mut bytes, &[mine, theirs.clone(), whole[0].clone(), whole[1].clone()], random);
    }
    let from = if kind == 2 {
        let read = WholeHistory::read(&bytes[..]).map_err(|e| e.to_string())?;
        untouched_are_found(&theirs, &bytes, &read)?;
        read
    } else {
        match WholeHistory::of_export(&bytes) {
            Ok((read, _)) => read,
            Err(error) if error.to_string().contains('\n') => {
                return Err(format!("an error of several lines: {error}"));
            }
            Err(_) => return Ok(false),
        }
    };
    let told = goes_together(&own, &from, (folder, &old));
    told.map(|()| true).map_err(|why| format!("{why}\nfrom {:?}", String::from_utf8_lossy(&bytes)))
}

/// In memory where the system has such a folder: thousands of files are synced.
fn a_folder() -> tempfile::TempDir {
    let memory = Path::new("/dev/shm");
    let made = tempfile::tempdir_in(memory);
    made.or_else(|_| tempfile::tempdir()).unwrap()
}

/// `LASTAMBER_LONG=1 cargo test --release --no-default-features --test history_fuzz -- --nocapture`
#[test]
fn no_damaged_file_costs_a_line_or_brings_a_wrong_one() {
    let mut taken = 0_u64;
    let tries = again_and_again("files", 1500, [2027, 601], |i, random| {
        let folder = a_folder();
        match one_try(folder.path(), random) {
            Ok(took) => taken += u64::from(took),
            Err(why) => panic!("try {i}: {why}"),
        }
    });
    println!("{tries} files, {taken} taken");
    assert!(taken * 4 > tries, "many damaged files can still be taken: {taken} of {tries}");
}
