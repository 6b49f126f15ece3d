//! Tables of slips in and out: what is taken, what is refused and where, and that nothing taken is
//! lost, whatever the bytes.
//!
//! Owns the checks of `slips::read_table` and `write_table`, with a corpus in `tests/data/slips` and
//! a mutating fuzzer. By default the fuzzer tries a few thousand tables; with `LASTAMBER_LONG` set it
//! goes on for ten minutes.

#[path = "fuzz_support/mod.rs"]
mod fuzz_support;

use fuzz_support::{again_and_again, any_slip, damage};
use lastamber::rules::{RtScale, SlipTime, TrackLength};
use lastamber::slips::{
    Cell, ImportOutcome, ImportReport, InLane, Slip, SlipsError, read_table, write_table,
};
use lastamber::tree::Lane;
use proptest::prelude::*;
use rand::RngExt;

fn corpus(name: &str) -> Vec<u8> {
    let folder = concat!(env!("CARGO_MANIFEST_DIR"), "/tests/data/slips");
    std::fs::read(format!("{folder}/{name}")).unwrap()
}

const CORPUS: [&str; 5] =
    ["printed_order.csv", "semicolons_and_commas.csv", "old_tabs.tsv", "latin1.csv", "torn.csv"];

fn read(bytes: &[u8]) -> ImportReport {
    read_table(bytes, &Slip::default()).unwrap()
}

fn time(text: &str) -> Option<SlipTime> {
    Some(text.parse().unwrap())
}

/// Line number and what was refused, in order.
fn refused(report: &ImportReport) -> Vec<(u64, String)> {
    let lines = report.lines.iter();
    lines
        .filter_map(|line| match &line.outcome {
            ImportOutcome::Refused(error) => Some((line.line, error.to_string())),
            ImportOutcome::Accepted { .. } => None,
        })
        .collect()
}

#[test]
fn a_table_in_the_printed_order_is_understood() {
    let report = read(&corpus("printed_order.csv"));
    let slips: Vec<&Slip> = report.accepted().collect();
    assert_eq!(slips.len(), 2);
    let own = &slips[0].own;
    assert_eq!((own.car_number.as_str(), own.class.as_str()), ("7", "Street"));
    assert_eq!((own.dial, own.rt), (time("13.40"), time(".045")));
    assert_eq!((own.t60, own.t330, own.t660), (time("1.963"), time("5.678"), time("8.637")));
    // The same title twice: the speed behind each distance.
    assert_eq!((own.mph660, own.mph1320), (Some(83.95), Some(105.04)));
    assert_eq!((own.t1000, own.t1320), (None, time("13.464")));
    assert_eq!((slips[0].lane, slips[1].lane), (Some(Lane::Left), Some(Lane::Right)));
    assert!(slips[1].is_red() && !slips[0].is_red());
}

#[test]
fn decimal_commas_quotes_and_blank_lines_are_understood() {
    let report = read(&corpus("semicolons_and_commas.csv"));
    let slips: Vec<&Slip> = report.accepted().collect();
    assert_eq!(slips.len(), 2);
    assert_eq!((slips[0].own.rt, slips[0].own.t1320), (time(".112"), time("13.52")));
    assert_eq!(slips[0].note, "first pass; cold");
    assert_eq!(slips[0].date.unwrap().to_string(), "2026-05-01");
    assert!(slips[1].is_red());
    // Every line is told by its place in the file, the blank one counted.
    let refused = refused(&report);
    assert_eq!(refused.len(), 1);
    assert_eq!(refused[0].0, 5);
    assert_eq!(refused[0].1, "rt_s: `,5x` is not a time like 13.464 or -.033");
}

#[test]
fn an_old_scale_and_an_eighth_mile_are_kept_as_printed() {
    let report = read(&corpus("old_tabs.tsv"));
    let slips: Vec<&Slip> = report.accepted().collect();
    assert_eq!(slips.len(), 2);
    assert_eq!((slips[0].length, slips[0].scale), (TrackLength::Eighth, RtScale::Old500));
    assert_eq!((slips[0].own.rt, slips[0].rt()), (time(".512"), time(".012")));
    assert_eq!((slips[0].own.t660, slips[0].own.t1320), (time("8.63"), None));
    assert_eq!(slips[1].launch_rpm, Some(3400.0));
    assert!(slips[1].is_red());
}

#[test]
fn other_encodings_are_read_or_refused_with_the_cure() {
    let report = read(&corpus("latin1.csv"));
    assert!(report.read_as_latin1);
    assert_eq!(report.accepted().next().unwrap().track, "Fläche");
    let utf16 = b"\xff\xfer\0t\0";
    let error = read_table(utf16, &Slip::default()).unwrap_err().to_string();
    assert!(error.contains("save it as UTF-8"), "{error}");
}

#[test]
fn torn_lines_are_taken_as_far_as_they_go_or_refused_with_their_cell() {
    let report = read(&corpus("torn.csv"));
    let slips: Vec<&Slip> = report.accepted().collect();
    // Cells left off at the end are missing.
    assert_eq!((slips[0].own.rt, slips[0].own.t1320), (time(".05"), None));
    let refused = refused(&report);
    assert_eq!(refused[0].0, 3);
    assert!(refused[0].1.contains("column 6: `extra`"), "{refused:?}");
    assert!(refused[1].1.contains("`2026-13-01` is not a date like 2026-05-01"), "{refused:?}");
    assert_eq!(report.lines.len(), 4);
}

#[test]
fn questions_do_not_stand_in_the_way() {
    let report = read(b"date,rt,60,et,mph\n2026-05-01,.1,1.963,13.464,150\n");
    let ImportOutcome::Accepted { slip, questions } = &report.lines[0].outcome else {
        panic!("it is taken")
    };
    assert_eq!(slip.own.mph1320, Some(150.0));
    assert_eq!(questions.len(), 1);
}

#[test]
fn what_a_line_leaves_open_is_filled_in() {
    let usual = Slip {
        driver: "me".to_owned(),
        car: "the old one".to_owned(),
        length: TrackLength::Eighth,
        ..Slip::default()
    };
    let report = read_table(b"rt,et,driver\n.1,8.5,-\n.2,8.6,somebody\n", &usual).unwrap();
    let slips: Vec<&Slip> = report.accepted().collect();
    assert_eq!((slips[0].driver.as_str(), slips[0].own.t660), ("me", time("8.5")));
    assert_eq!((slips[1].driver.as_str(), slips[1].car.as_str()), ("somebody", "the old one"));
    // A quarter's finish makes it a quarter.
    let report = read_table(b"rt,1320\n.1,13.5\n", &usual).unwrap();
    assert_eq!(report.accepted().next().unwrap().length, TrackLength::Quarter);
}

#[test]
fn tables_that_hold_no_slips_are_refused_as_a_whole() {
    let error = |bytes: &[u8]| read_table(bytes, &Slip::default()).unwrap_err();
    assert_eq!(error(b""), SlipsError::Empty);
    assert_eq!(error(b"\n\n  \n"), SlipsError::Empty);
    assert_eq!(error(b"name,colour\nx,y\n"), SlipsError::NoColumn);
    assert!(matches!(
        error(b"rt,et,R/T\n.1,13,.2\n"),
        SlipsError::TwoColumns { first: 1, second: 3, .. }
    ));
    // A table of which a column is unknown is read without it, and says so.
    let report = read(b"rt,colour\n.1,blue\n");
    assert_eq!(report.columns[1], ("colour".to_owned(), None));
    assert_eq!(report.accepted().count(), 1);
}

#[test]
fn every_cell_has_a_name_that_means_it() {
    for cell in Cell::all() {
        assert_eq!(Cell::of_title(&cell.name()), Some(cell), "{}", cell.name());
    }
    for (title, cell) in [
        ("R/T", Cell::Own(InLane::Rt)),
        ("60'", Cell::Own(InLane::T60)),
        ("60 ft", Cell::Own(InLane::T60)),
        ("1/8 MPH", Cell::Own(InLane::Mph660)),
        ("E.T.", Cell::Own(InLane::Et)),
        ("Opponent R/T", Cell::Other(InLane::Rt)),
        ("other_dial", Cell::Other(InLane::Dial)),
        ("Dial-In", Cell::Own(InLane::Dial)),
        ("Launch RPM", Cell::LaunchRpm),
    ] {
        assert_eq!(Cell::of_title(title), Some(cell), "{title}");
    }
    assert_eq!(Cell::of_title("colour"), None);
}

/// Whatever the bytes: no panic, every line told of, every accepted slip survives being written.
fn holds(bytes: &[u8]) -> Result<(), String> {
    let Ok(report) = read_table(bytes, &Slip::default()) else { return Ok(()) };
    let accepted: Vec<Slip> = report.accepted().cloned().collect();
    let again = read_table(write_table(&accepted).as_bytes(), &Slip::default());
    let again = again.map_err(|e| format!("a written table is not read: {e}"))?;
    let back: Vec<&Slip> = again.accepted().collect();
    if back != accepted.iter().collect::<Vec<_>>() {
        return Err(format!("written and read back as\n{back:?}\nfrom\n{accepted:?}"));
    }
    let in_order = report.lines.windows(2).all(|pair| pair[0].line < pair[1].line);
    if !in_order {
        return Err("lines are not in order".to_owned());
    }
    if let Some(lines) = lines_without_quotes(bytes)
        && lines != report.lines.len() + 1
    {
        return Err(format!("{} lines with the header, {} told of", lines, report.lines.len()));
    }
    Ok(())
}

/// Lines with anything but separators in them, counted by hand; only where no quote can join two.
fn lines_without_quotes(bytes: &[u8]) -> Option<usize> {
    if bytes.contains(&b'"') || std::str::from_utf8(bytes).is_err() {
        return None;
    }
    let text = std::str::from_utf8(bytes).ok()?;
    let text = text.strip_prefix('\u{feff}').unwrap_or(text);
    let first = text.split(['\n', '\r']).find(|line| !line.trim().is_empty())?;
    let count = |c: char| first.matches(c).count();
    let separators = [',', ';', '\t'];
    let most = separators.into_iter().map(count).max()?;
    let separator = separators.into_iter().find(|c| count(*c) == most)?;
    let filled = |line: &&str| line.split(separator).any(|cell| !cell.trim().is_empty());
    Some(text.split(['\n', '\r']).filter(filled).count())
}

#[test]
fn fuzz_no_bytes_break_the_importer() {
    let seeds: Vec<Vec<u8>> = CORPUS.iter().map(|name| corpus(name)).collect();
    let mut read = 0_u64;
    let tries = again_and_again("tables", 3000, [2026, 600], |_, random| {
        let mut bytes = seeds[random.random_range(0..seeds.len())].clone();
        damage(&mut bytes, &seeds, random);
        if let Err(why) = holds(&bytes) {
            panic!("{why}\nfrom {:?}", String::from_utf8_lossy(&bytes));
        }
        read += u64::from(read_table(&bytes, &Slip::default()).is_ok());
    });
    println!("{tries} tables, {read} read");
    assert!(read * 2 > tries, "most damaged tables are still tables: {read} of {tries}");
}

proptest! {
    #[test]
    fn any_slip_survives_being_written_and_read(slips in prop::collection::vec(any_slip(), 0..5)) {
        let table = write_table(&slips);
        let report = read_table(table.as_bytes(), &Slip::default()).unwrap();
        let back: Vec<Slip> = report.accepted().cloned().collect();
        prop_assert_eq!(back, slips, "{}", table);
    }

    #[test]
    fn any_bytes_are_read_or_refused(bytes in prop::collection::vec(any::<u8>(), 0..300)) {
        prop_assert_eq!(holds(&bytes), Ok(()));
    }

    #[test]
    fn any_text_below_a_header_is_told_of(text in "[-0-9.,;a-z\"\n ]{0,200}") {
        prop_assert_eq!(holds(format!("date,rt,60,et,mph,note\n{text}").as_bytes()), Ok(()));
    }
}
