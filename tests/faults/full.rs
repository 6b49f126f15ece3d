//! Full disks: no room, a limit on files, a small file system. The real disk is never filled.
//!
//! Owns what is said, that no half line counts, and that all goes on once there is room.

use super::program::{Told, ask, ask_by, can, skipped, slip_table, text};
use super::support;
use lastamber::demo::demo_lines;
use lastamber::history::{
    DataFolder, SaveEvent, WholeHistory, Writer, history_file, load_without_lock,
};
use std::fs;
use std::os::unix::fs::symlink;
use std::path::Path;
use std::time::Duration;

const PATIENCE: Duration = Duration::from_secs(20);

#[test]
fn a_disk_without_room_is_told_of_with_file_and_cure() {
    let _alone = crate::alone();
    if !Path::new("/dev/full").exists() {
        return skipped("a disk without room: there is no /dev/full here");
    }
    let place = tempfile::tempdir().unwrap();
    let history = history_file(place.path());
    // Linux: every write to it fails as on a full disk (full(4)).
    symlink("/dev/full", &history).unwrap();
    let full = "No space left on device (os error 28)";
    let folder = DataFolder::open(place.path()).unwrap();
    let mut writer = Writer::start(folder.open_log().unwrap()).unwrap();
    let id = writer.submit(support::some_car("car-0")).unwrap();
    let why =
        format!("not saved in {}: {full}. Free some space, then save again.", history.display());
    assert_eq!(writer.wait_event(PATIENCE), Some(SaveEvent::SaveFailed { id, why }));
    // It is not lost: as soon as there is room it is saved.
    assert_eq!(writer.finish().unsaved.len(), 1);
    let own = tempfile::tempdir().unwrap();
    let to = |out: &str| ask(&["history", "export", "--out", out, "--data", text(own.path())]);
    to("/dev/full").gave_up(&format!(
        "lastamber: /dev/full: cannot be written: {full}; free some space, or name another place."
    ));
}

#[test]
fn standard_output_without_room_is_an_error_and_not_a_short_answer() {
    let _alone = crate::alone();
    if !Path::new("/dev/full").exists() {
        return skipped("a full standard output: there is no /dev/full here");
    }
    for words in [
        &["tech"][..],
        &["history", "schema"],
        &["rollout", "--tyre-in", "26", "--g", "0.5"],
        &["history", "export"],
    ] {
        let place = tempfile::tempdir().unwrap();
        let mut command = super::program::command(&[]);
        command.args(words).env("XDG_DATA_HOME", place.path());
        command.stdout(fs::OpenOptions::new().write(true).open("/dev/full").unwrap());
        let told = Told::from(command.output().unwrap());
        assert_eq!(told.code, Some(1), "{words:?}: {told:?}");
        assert!(told.error.contains("standard output: cannot be written"), "{words:?}: {told:?}");
    }
}

/// The program with files that may not grow beyond so many bytes (setrlimit(2), RLIMIT_FSIZE).
fn limited(bytes: usize, words: &[&str]) -> Told {
    // The signal that comes with the limit is ignored by the shell, and so by what it becomes.
    let script = format!("trap '' XFSZ; exec prlimit --fsize={bytes} -- \"$0\" \"$@\"");
    ask_by(&["sh", "-c", &script], words)
}

#[test]
fn a_file_that_may_not_grow_keeps_what_it_has_and_goes_on_later() {
    let _alone = crate::alone();
    if !can(&["prlimit", "--version"]) {
        return skipped("a limit on files: prlimit (util-linux) is not here");
    }
    let place = tempfile::tempdir().unwrap();
    let (folder, table) = (place.path().join("own"), place.path().join("slips.csv"));
    fs::write(&table, slip_table(0, 40)).unwrap();
    let words = ["slips", "import", text(&table), "--data", text(&folder)];
    let told = limited(5000, &words);
    let history = history_file(&folder);
    let there = load_without_lock(&folder).unwrap();
    let kept = there.slips.len();
    assert!(kept > 3 && kept < 40 && there.torn_tail, "{kept}");
    told.gave_up(&format!(
        "lastamber: {kept} of 40 slips are in the book, then: not saved in {}: File too large (os error \
         27). The file may not grow: raise its limit (ulimit -f), or choose another folder with --data \
         DIR; import the table again, what is there is not taken twice.",
        history.display()
    ));
    // The torn line is named with its place, and the rest goes on a line of its own.
    let torn = &there.damaged[0];
    let checked = ask(&["history", "check", "--data", text(&folder)]).well();
    let place_of = format!("line {} (byte {}): cut short", kept + 1, torn.byte_offset);
    assert!(checked.contains(&place_of), "{checked}");
    ask(&words).well();
    let whole = load_without_lock(&folder).unwrap();
    assert_eq!((whole.slips.len(), whole.damaged_count), (40, 1));
    assert_eq!(whole.slips[..kept], there.slips[..]);
}

#[test]
fn a_union_or_an_export_that_does_not_fit_leaves_what_was_there() {
    let _alone = crate::alone();
    if !can(&["prlimit", "--version"]) {
        return skipped("a limit on files: prlimit (util-linux) is not here");
    }
    let place = tempfile::tempdir().unwrap();
    let at = |name: &str| place.path().join(name);
    let (folder, big) = (at("own"), at("big.json"));
    let lines = demo_lines(1).unwrap();
    let bytes: Vec<u8> =
        lines.iter().take(200).flat_map(|line| line.seal().unwrap().into_bytes()).collect();
    fs::write(&big, WholeHistory::read(&bytes[..]).unwrap().to_json(true)).unwrap();
    let import = ["history", "import", text(&big), "--data", text(&folder)];
    limited(20_000, &import).gave_up(&format!(
        "lastamber: not saved in {}: File too large (os error 27). The file may not grow: raise its limit \
         (ulimit -f), or choose another folder with --data DIR.",
        folder.join("history.jsonl.new").display()
    ));
    assert!(!history_file(&folder).exists() && !folder.join("history.jsonl.new").exists());
    ask(&import).well();
    let before = fs::read(history_file(&folder)).unwrap();
    let (out, report) = (at("out.csv"), at("report.html"));
    for file in [&out, &report] {
        fs::write(file, "the old one").unwrap();
    }
    let export = ["history", "export", "csv", "--out", text(&out), "--data", text(&folder)];
    let reporting = ["report", "--format", "html", "--out", text(&report), "--data", text(&folder)];
    for (words, file) in [(&export[..], &out), (&reporting, &report)] {
        limited(10_000, words).gave_up(&format!(
            "lastamber: {}: cannot be written: File too large (os error 27); name another place.",
            file.display()
        ));
        assert_eq!(fs::read(file).unwrap(), b"the old one");
    }
    assert_eq!(fs::read(history_file(&folder)).unwrap(), before);
    assert_eq!(fs::read_dir(place.path()).unwrap().count(), 4, "nothing half is left behind");
}

/// What happens on a file system of 64 kB in memory that only these steps see.
const STEPS: &str = r#"
    set -u
    mount -t tmpfs -o size=64k none "$2/small" || exit 77
    program=$1; place=$2; data=$place/small/data
    run() { name=$1; shift; "$program" "$@" >"$place/$name.out" 2>"$place/$name.error"; echo $? >"$place/$name.code"; }
    run import slips import "$place/slips.csv" --data "$data"
    cp "$data/history.jsonl" "$place/full.jsonl"
    run add slips add rt=.045 --data "$data"
    run check history check --data "$data"
    run list slips list --json --data "$data"
    run export history export --data "$data" --out "$place/small/out.json"
    ls "$place/small" >"$place/left.txt"
    mount -o remount,size=1m "$place/small"
    run again slips import "$place/slips.csv" --data "$data"
    cp "$data/history.jsonl" "$place/after.jsonl"
    mount -o remount,ro "$place/small"
    run forbidden slips add rt=.045 --data "$data"
    run read slips list --json --data "$data"
"#;

#[test]
fn a_small_file_system_fills_up_is_told_of_and_serves_again_when_it_has_room() {
    let _alone = crate::alone();
    let spaces = if can(&["unshare", "-m", "true"]) { "-m" } else { "-rm" };
    if !can(&["unshare", spaces, "true"]) {
        return skipped("a small file system: no right to mount one here");
    }
    let place = tempfile::tempdir().unwrap();
    let at = |name: &str| fs::read_to_string(place.path().join(name)).unwrap();
    fs::create_dir(place.path().join("small")).unwrap();
    fs::write(place.path().join("slips.csv"), slip_table(0, 500)).unwrap();
    let mut command = std::process::Command::new("unshare");
    command.args([spaces, "sh", "-c", STEPS, "sh", super::program::PROGRAM, text(place.path())]);
    let status = command.env_remove("DISPLAY").status().unwrap();
    if status.code() == Some(77) {
        return skipped("a small file system: no right to mount one here");
    }
    let history = history_file(&place.path().join("small/data"));
    let kept = lastamber::history::load(at("full.jsonl").as_bytes()).unwrap();
    let n = kept.slips.len();
    assert!(n > 50 && n < 500 && kept.damaged_count <= 1, "{n}");
    let full = "No space left on device (os error 28)";
    let expected = format!(
        "lastamber: {n} of 500 slips are in the book, then: not saved in {}: {full}. Free some space, then \
         save again; import the table again, what is there is not taken twice.\n",
        history.display()
    );
    assert_eq!((at("import.error"), at("import.code")), (expected, "1\n".to_owned()));
    let expected = format!(
        "lastamber: not saved in {}: {full}. Free some space, then save again.\n",
        history.display()
    );
    assert_eq!((at("add.error"), at("add.out")), (expected, String::new()));
    // Reading needs no room.
    assert_eq!((at("check.code"), at("list.code")), ("0\n".to_owned(), "0\n".to_owned()));
    let out = place.path().join("small/out.json");
    let expected = format!(
        "lastamber: {}: cannot be written: {full}; free some space, or name another place.\n",
        out.display()
    );
    assert!(at("export.error").ends_with(&expected), "{}", at("export.error"));
    assert_eq!(at("left.txt"), "data\n", "no half export is left");
    assert_eq!((at("again.code"), at("again.error")), ("0\n".to_owned(), String::new()));
    let after = lastamber::history::load(at("after.jsonl").as_bytes()).unwrap();
    assert_eq!((after.slips.len(), &after.slips[..n]), (500, &kept.slips[..]));
    let data = place.path().join("small/data");
    let expected = format!(
        "lastamber: cannot lock {}: Read-only file system (os error 30).\nThe disk is read-only: choose \
         another folder with --data DIR.\n",
        data.join("lock").display()
    );
    assert_eq!((at("forbidden.error"), at("read.code")), (expected, "0\n".to_owned()));
}
