//! A folder that goes away, and names that lead elsewhere.
//!
//! Owns the removed and the replaced folder under a running writer, and symbolic links.

use super::program::{ask, slip_table, text};
use super::support;
use lastamber::history::{
    DataFolder, Line, SaveEvent, Settings, Writer, history_file, load_without_lock,
};
use std::fs;
use std::os::unix::fs::symlink;
use std::path::Path;
use std::time::Duration;

const PATIENCE: Duration = Duration::from_secs(20);

fn car(id: &str) -> Line {
    support::some_car(id).into()
}

fn writer_on(folder: &Path) -> Writer {
    Writer::start(DataFolder::open(folder).unwrap().open_log().unwrap()).unwrap()
}

fn next(writer: &mut Writer) -> SaveEvent {
    writer.wait_event(PATIENCE).expect("every line gets an answer")
}

fn saved(id: &str) -> SaveEvent {
    SaveEvent::Saved { id: id.to_owned() }
}

#[track_caller]
fn failed(writer: &mut Writer, line: &str) -> String {
    match next(writer) {
        SaveEvent::SaveFailed { id, why } if id == line => why,
        other => panic!("{other:?}"),
    }
}

fn ids(folder: &Path) -> Vec<String> {
    load_without_lock(folder).unwrap().cars.into_iter().map(|car| car.id).collect()
}

fn gone(folder: &Path) -> String {
    format!(
        "not saved: {} was removed or replaced while the program ran. Save again: it is made anew, \
         without what was in it before.",
        history_file(folder).display()
    )
}

#[test]
fn a_folder_removed_under_the_writer_is_told_of_and_made_anew() {
    let _alone = crate::alone();
    let place = tempfile::tempdir().unwrap();
    let folder = place.path().join("data");
    let mut writer = writer_on(&folder);
    writer.submit(car("before")).unwrap();
    assert_eq!(next(&mut writer), saved("before"));
    fs::remove_dir_all(&folder).unwrap();
    writer.submit(car("after")).unwrap();
    assert_eq!(failed(&mut writer, "after"), gone(&folder));
    let told = Settings::default().save(&folder);
    assert!(told.is_err() || folder.exists());
    writer.retry().unwrap();
    assert_eq!(next(&mut writer), saved("after"));
    writer.submit(car("next")).unwrap();
    assert_eq!(next(&mut writer), saved("next"));
    assert_eq!(ids(&folder), ["after", "next"]);
    // It is held as the first one was.
    let refused = ask(&["slips", "add", "rt=.045", "--data", text(&folder)]);
    assert!(refused.error.contains("is in use by another Last Amber"), "{}", refused.error);
    assert!(writer.finish().unsaved.is_empty());
    DataFolder::open(&folder).unwrap();
}

#[test]
fn a_removed_folder_that_cannot_be_made_anew_is_told_with_what_is_in_the_way() {
    let _alone = crate::alone();
    let place = tempfile::tempdir().unwrap();
    let folder = place.path().join("data");
    let mut writer = writer_on(&folder);
    fs::remove_dir_all(&folder).unwrap();
    fs::write(&folder, b"something else").unwrap();
    writer.submit(car("mine")).unwrap();
    failed(&mut writer, "mine");
    writer.retry().unwrap();
    let told = failed(&mut writer, "mine");
    assert!(told.contains("A file stands where a folder should: move it"), "{told}");
    fs::remove_file(&folder).unwrap();
    writer.retry().unwrap();
    assert_eq!(next(&mut writer), saved("mine"));
}

#[test]
fn a_folder_that_was_moved_keeps_its_lines_and_the_old_place_gets_the_next() {
    let _alone = crate::alone();
    let place = tempfile::tempdir().unwrap();
    let (folder, elsewhere) = (place.path().join("data"), place.path().join("elsewhere"));
    let mut writer = writer_on(&folder);
    writer.submit(car("one")).unwrap();
    assert_eq!(next(&mut writer), saved("one"));
    fs::rename(&folder, &elsewhere).unwrap();
    writer.submit(car("two")).unwrap();
    assert_eq!(failed(&mut writer, "two"), gone(&folder));
    writer.retry().unwrap();
    assert_eq!(next(&mut writer), saved("two"));
    drop(writer);
    assert_eq!(
        (ids(&elsewhere), ids(&folder)),
        (vec!["one".into(), "two".into()], vec!["two".into()])
    );
    ask(&["history", "merge", text(&elsewhere), "--data", text(&folder)]).well();
    let mut together = ids(&folder);
    together.sort();
    assert_eq!(together, ["one", "two"], "nothing is lost and nothing there twice");
}

#[test]
fn a_removed_folder_that_another_program_has_by_now_is_left_to_it() {
    let _alone = crate::alone();
    let place = tempfile::tempdir().unwrap();
    let folder = place.path().join("data");
    let mut writer = writer_on(&folder);
    fs::remove_dir_all(&folder).unwrap();
    let other = DataFolder::open(&folder).unwrap();
    writer.submit(car("mine")).unwrap();
    failed(&mut writer, "mine");
    writer.retry().unwrap();
    let expected = format!(
        "not saved in {}: another Last Amber has the folder now. Close the other one, then save again.",
        history_file(&folder).display()
    );
    assert_eq!(failed(&mut writer, "mine"), expected);
    other.open_log().unwrap().append(&car("theirs")).unwrap();
    drop(other);
    writer.retry().unwrap();
    assert_eq!(next(&mut writer), saved("mine"));
    assert_eq!(ids(&folder), ["theirs", "mine"]);
}

#[test]
fn a_history_replaced_by_another_program_gets_the_line_that_missed_it() {
    let _alone = crate::alone();
    let place = tempfile::tempdir().unwrap();
    let folder = place.path().join("data");
    let mut writer = writer_on(&folder);
    writer.submit(car("one")).unwrap();
    assert_eq!(next(&mut writer), saved("one"));
    // As file synchronisers do it.
    let copy = folder.join("history.jsonl.sync");
    fs::copy(history_file(&folder), &copy).unwrap();
    fs::rename(&copy, history_file(&folder)).unwrap();
    writer.submit(car("two")).unwrap();
    assert_eq!(failed(&mut writer, "two"), gone(&folder));
    let finished = writer.finish();
    assert_eq!((finished.events, finished.unsaved.len()), (vec![saved("two")], 0));
    assert_eq!(ids(&folder), ["one", "two"]);
}

#[test]
fn a_linked_folder_is_the_folder_it_leads_to() {
    let _alone = crate::alone();
    let place = tempfile::tempdir().unwrap();
    let (real, link) = (place.path().join("real"), place.path().join("link"));
    fs::create_dir(&real).unwrap();
    symlink(&real, &link).unwrap();
    let table = place.path().join("slips.csv");
    fs::write(&table, slip_table(0, 3)).unwrap();
    ask(&["slips", "import", text(&table), "--data", text(&link)]).well();
    assert_eq!(load_without_lock(&real).unwrap().slips.len(), 3);
    // One lock, whichever name it is opened by.
    let held = DataFolder::open(&real).unwrap();
    let refused = ask(&["slips", "add", "rt=.045", "--data", text(&link)]);
    refused.gave_up(&format!(
        "lastamber: {} is in use by another Last Amber.\nClose that one first, or choose another folder \
         with --data DIR.",
        link.display()
    ));
    drop(held);
    // A lone file may be a link as well: lines go where it leads.
    let away = place.path().join("away.jsonl");
    fs::rename(history_file(&real), &away).unwrap();
    symlink(&away, history_file(&real)).unwrap();
    ask(&["slips", "add", "rt=.045", "--data", text(&link)]).well();
    assert_eq!(fs::read_to_string(&away).unwrap().lines().count(), 4);
    // A union takes the link's place; what it led to stays, under both names.
    let (export, others) = (place.path().join("export.json"), place.path().join("others"));
    ask(&["slips", "add", "rt=.055", "--data", text(&others)]).well();
    ask(&["history", "export", "--out", text(&export), "--data", text(&others)]).well();
    ask(&["history", "import", text(&export), "--data", text(&link)]).well();
    assert_eq!(load_without_lock(&real).unwrap().slips.len(), 5);
    assert_eq!(fs::read_to_string(&away).unwrap().lines().count(), 4);
    let kept = fs::read_to_string(real.join("history.jsonl.old-1")).unwrap();
    assert_eq!(kept, fs::read_to_string(&away).unwrap());
}

#[test]
fn a_link_that_leads_nowhere_is_told_of_by_its_name() {
    let _alone = crate::alone();
    let place = tempfile::tempdir().unwrap();
    let link = place.path().join("link");
    symlink(place.path().join("unplugged"), &link).unwrap();
    ask(&["slips", "add", "rt=.045", "--data", text(&link)]).gave_up(&format!(
        "lastamber: cannot use {} as the data folder: File exists (os error 17).\nA file stands where a \
         folder should: move it, or choose another folder with --data DIR.",
        link.display()
    ));
}
