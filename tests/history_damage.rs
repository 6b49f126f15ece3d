//! Damage: every cut and every flipped byte costs at most the line it hits.

#[path = "history_support/mod.rs"]
mod support;

use std::fs;
use std::io::{self, BufReader, Read};
use std::ops::Range;

use lastamber::history::{Line, Loaded, Log, MAX_LINE_BYTES, MAX_REPORTED, Why, load};

/// A small log of runs and of every other kind of line, and the bytes each line takes, newline included.
fn small_log() -> (Vec<Line>, Vec<u8>, Vec<Range<usize>>) {
    let mut lines: Vec<Line> = support::some_runs(2).into_iter().map(Line::from).collect();
    lines.insert(1, support::some_car("car-0").into());
    lines.push(support::some_rig_test("rig-0").into());
    lines.push(support::some_film("film-0").into());
    let mut ranges = Vec::new();
    let mut bytes = Vec::new();
    for line in &lines {
        let start = bytes.len();
        bytes.extend_from_slice(line.seal().unwrap().bytes());
        ranges.push(start..bytes.len());
    }
    (lines, bytes, ranges)
}

/// The lines that were read, kind by kind.
fn read_back(loaded: &Loaded) -> Vec<Line> {
    let trials = loaded.trials.iter().cloned().map(Line::from);
    let cars = loaded.cars.iter().cloned().map(Line::from);
    let rigs = loaded.rigs.iter().cloned().map(Line::from);
    let films = loaded.films.iter().cloned().map(Line::from);
    let forecasts = loaded.forecasts.iter().cloned().map(Line::from);
    trials.chain(cars).chain(rigs).chain(films).chain(forecasts).collect()
}

/// The same order for lines as written.
fn by_kind(lines: impl IntoIterator<Item = Line>) -> Vec<Line> {
    let mut lines: Vec<Line> = lines.into_iter().collect();
    lines.sort_by_key(|line| match line {
        Line::Trial(_) => 0,
        Line::Car(_) => 1,
        Line::Rig(_) => 2,
        Line::Film(_) => 3,
        Line::Forecast(_) => 4,
        Line::Slip(_) => 5,
        Line::Exclusion(_) => 6,
    });
    lines
}

#[test]
fn a_log_cut_anywhere_gives_every_line_before_the_cut() {
    let (lines, bytes, ranges) = small_log();
    for cut in 0..=bytes.len() {
        let loaded = load(&bytes[..cut]).unwrap();
        // The newline alone may be missing: the checksum says that the line is whole.
        let whole = ranges.iter().filter(|range| range.end - 1 <= cut).count();
        let torn =
            !ranges.iter().any(|range| [range.start, range.end - 1, range.end].contains(&cut));
        assert_eq!(read_back(&loaded), by_kind(lines[..whole].to_vec()), "cut at {cut}");
        assert_eq!(loaded.torn_tail, torn, "cut at {cut}");
        assert_eq!(loaded.damaged_count, usize::from(torn), "cut at {cut}");
        if torn {
            let damaged = &loaded.damaged[0];
            assert_eq!(damaged.byte_offset, ranges[whole].start as u64);
            assert_eq!(damaged.line_number, whole as u64 + 1);
            assert_eq!(damaged.why, Why::CutShort, "cut at {cut}");
            let place = format!("line {} (byte {})", whole + 1, ranges[whole].start);
            assert_eq!(damaged.to_string(), format!("{place}: cut short"));
        }
    }
}

#[test]
fn a_log_cut_anywhere_goes_on_with_the_next_line() {
    let (lines, bytes, ranges) = small_log();
    let folder = tempfile::tempdir().unwrap();
    let path = folder.path().join("cut.jsonl");
    let next = Line::from(support::some_car("next"));
    // Every place in the second and third line, which are a short and a long one, and both ends.
    for cut in ranges[1].start..=ranges[2].end {
        fs::write(&path, &bytes[..cut]).unwrap();
        Log::open(&path).unwrap().append(&next).unwrap();
        let after = fs::read(&path).unwrap();
        let fresh: &[u8] = if bytes[cut - 1] == b'\n' { b"" } else { b"\n" };
        let expected = [&bytes[..cut], fresh, next.seal().unwrap().bytes()].concat();
        assert_eq!(after, expected, "what was there stays, the rest is a line of its own");
        let loaded = load(&after[..]).unwrap();
        let whole = ranges.iter().filter(|range| range.end - 1 <= cut).count();
        let expected = lines[..whole].iter().cloned().chain([next.clone()]);
        assert_eq!(read_back(&loaded), by_kind(expected), "cut at {cut}");
        assert!(!loaded.torn_tail);
    }
}

#[test]
fn a_byte_altered_anywhere_costs_at_most_its_own_line_and_never_alters_a_run() {
    let (lines, bytes, ranges) = small_log();
    for (place, &byte) in bytes.iter().enumerate() {
        let hit = ranges.iter().position(|range| range.contains(&place)).unwrap();
        let others: Vec<Line> =
            lines.iter().enumerate().filter(|(i, _)| *i != hit).map(|(_, l)| l.clone()).collect();
        let single_bits = (0..8).map(|bit| byte ^ (1 << bit));
        for altered in single_bits.chain([b'\n', b'"', 0, 0xff]).filter(|&b| b != byte) {
            let mut damaged = bytes.clone();
            damaged[place] = altered;
            let loaded = load(&damaged[..]).unwrap();
            let read = read_back(&loaded);
            // Blanks and newlines around a value may change and leave it whole.
            let unharmed = read == by_kind(lines.clone());
            assert!(
                unharmed || read == by_kind(others.clone()),
                "byte {place} {byte} -> {altered}: {read:?}"
            );
            assert!(unharmed || loaded.damaged_count > 0, "byte {place} {byte} -> {altered}");
            // Where something is set aside, it is named by the line that was hit.
            for damaged in &loaded.damaged {
                let told =
                    (damaged.line_number, ranges[hit].contains(&(damaged.byte_offset as usize)));
                let of_it = [hit as u64 + 1, hit as u64 + 2].contains(&told.0) && told.1;
                assert!(of_it, "byte {place} {byte} -> {altered}: {damaged}");
            }
        }
    }
}

#[test]
fn a_lost_newline_costs_no_line() {
    let (lines, mut bytes, ranges) = small_log();
    bytes.remove(ranges[1].end - 1);
    let loaded = load(&bytes[..]).unwrap();
    assert_eq!(read_back(&loaded), by_kind(lines));
    assert_eq!(loaded.damaged, []);
}

#[test]
fn a_line_written_onto_a_torn_one_by_another_program_is_found() {
    let (lines, bytes, ranges) = small_log();
    let mut joined = bytes[..ranges[0].end - 40].to_vec();
    joined.extend_from_slice(&bytes[ranges[1].clone()]);
    let loaded = load(&joined[..]).unwrap();
    assert_eq!(read_back(&loaded), lines[1..2]);
    assert_eq!((loaded.damaged_count, loaded.damaged[0].byte_offset), (1, 0));
}

#[test]
fn a_line_without_end_is_reported_and_the_next_one_read() {
    let (_, bytes, ranges) = small_log();
    let long = io::repeat(b'x').take(64 << 20).chain(&b"\n"[..]);
    let loaded = load(BufReader::new(long.chain(&bytes[ranges[1].clone()]))).unwrap();
    assert_eq!(loaded.cars.len(), 1);
    assert_eq!(loaded.damaged[0].why, Why::TooLong { bytes: 64 << 20 });
    assert!(loaded.damaged[0].text.len() < 200);
    assert!(!loaded.torn_tail);

    let endless = io::repeat(b'x').take(MAX_LINE_BYTES as u64 + 1);
    assert!(load(BufReader::new(endless)).unwrap().torn_tail);
}

#[test]
fn a_file_of_nothing_but_damage_is_counted_but_not_listed_whole() {
    let loaded = load(&b"x\n".repeat(5 * MAX_REPORTED)[..]).unwrap();
    assert_eq!((loaded.damaged_count, loaded.damaged.len()), (5 * MAX_REPORTED, MAX_REPORTED));
}

#[test]
fn an_empty_file_and_blank_lines_are_no_damage() {
    assert_eq!(load(&b""[..]).unwrap(), Loaded::default());
    assert_eq!(load(&b"\n\r\n  \n\n"[..]).unwrap(), Loaded::default());
}

#[test]
fn a_reader_that_breaks_off_is_an_error_with_its_place() {
    struct Broken;
    impl Read for Broken {
        fn read(&mut self, _: &mut [u8]) -> io::Result<usize> {
            Err(io::Error::other("the disk went away"))
        }
    }
    let (_, bytes, _) = small_log();
    let error = load(BufReader::new(bytes.as_slice().chain(Broken))).unwrap_err();
    let expected = format!("after byte {}", bytes.len());
    assert!(error.to_string().contains(&expected), "{error}");
}
