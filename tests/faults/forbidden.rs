//! What may not be read or written: folders, files, homes.
//!
//! Owns the rights taken away. The super-user may do everything, so there the program runs without the
//! powers that let it.

use super::program::{ask, ask_by, can, command, skipped, slip_table, text};
use lastamber::history::{Settings, history_file};
use std::fs::{self, Permissions};
use std::os::unix::fs::PermissionsExt;
use std::path::Path;

/// A super-user without powers is held to the rights of files as everybody is (capabilities(7)).
const POWERLESS: [&str; 3] = ["setpriv", "--bounding-set=-all", "--inh-caps=-all"];

/// The tool that makes rights count, and whether they do.
fn held_to_rights(place: &Path) -> Option<&'static [&'static str]> {
    let probe = place.join("probe");
    fs::create_dir(&probe).unwrap();
    allow(&probe, 0o500);
    let file = probe.join("file");
    let obeys = |tool: &[&str]| {
        !can(&[tool, &["touch", text(&file)]].concat()) && can(&[tool, &["true"]].concat())
    };
    let tool = [&[][..], &POWERLESS].into_iter().find(|tool| obeys(tool));
    allow(&probe, 0o700);
    tool
}

fn allow(path: &Path, mode: u32) {
    fs::set_permissions(path, Permissions::from_mode(mode)).unwrap();
}

const DENIED: &str = "Permission denied (os error 13)";
const CURE: &str =
    "Give yourself the right to write there, or choose another folder with --data DIR.";

#[test]
fn a_folder_that_may_only_be_read_is_read_and_everything_else_is_told_of() {
    let _alone = crate::alone();
    let place = tempfile::tempdir().unwrap();
    let Some(tool) = held_to_rights(place.path()) else {
        return skipped("rights of files: the super-user has them all, and setpriv is not here");
    };
    let (folder, table) = (place.path().join("own"), place.path().join("slips.csv"));
    let data = text(&folder);
    fs::write(&table, slip_table(0, 3)).unwrap();
    ask(&["slips", "import", text(&table), "--data", data]).well();
    fs::remove_file(folder.join("lock")).unwrap();
    let before = fs::read(history_file(&folder)).unwrap();
    allow(&folder, 0o500);
    let lock = folder.join("lock");
    let expected = format!("lastamber: cannot lock {}: {DENIED}.\n{CURE}", lock.display());
    let writing: [&[&str]; 5] = [
        &["slips", "add", "rt=.045"],
        &["slips", "import", text(&table)],
        &["history", "leave-out", "last", "--reason", "x"],
        &["history", "trim-test-data"],
        &["demo", "--no-window"],
    ];
    for words in writing {
        ask_by(tool, &[words, &["--data", data]].concat()).gave_up(&expected);
    }
    let reading: [&[&str]; 4] =
        [&["slips", "list"], &["slips", "check"], &["history", "check"], &["history", "export"]];
    for words in reading {
        let said = ask_by(tool, &[words, &["--data", data]].concat()).well();
        assert!(!said.is_empty(), "{words:?}");
    }
    allow(&folder, 0o700);
    assert_eq!(fs::read(history_file(&folder)).unwrap(), before);
    assert!(!lock.exists());
}

#[test]
fn a_history_that_may_not_be_read_or_written_is_named() {
    let _alone = crate::alone();
    let place = tempfile::tempdir().unwrap();
    let Some(tool) = held_to_rights(place.path()) else {
        return skipped("rights of files: the super-user has them all, and setpriv is not here");
    };
    let folder = place.path().join("own");
    let data = text(&folder);
    ask(&["slips", "add", "rt=.045", "--data", data]).well();
    let history = history_file(&folder);
    let expected = format!("lastamber: cannot open {}: {DENIED}.\n{CURE}", history.display());
    for mode in [0o000, 0o400] {
        allow(&history, mode);
        ask_by(tool, &["slips", "add", "rt=.045", "--data", data]).gave_up(&expected);
    }
    allow(&history, 0o000);
    for words in [["history", "check"], ["slips", "list"], ["history", "export"]] {
        ask_by(tool, &[&words[..], &["--data", data]].concat()).gave_up(&expected);
    }
    allow(&history, 0o600);
    assert_eq!(ask(&["slips", "list", "--data", data]).well().matches(".045").count(), 1);
    // A folder that may not even be entered.
    allow(&folder, 0o000);
    let told = ask_by(tool, &["slips", "add", "rt=.045", "--data", data]);
    told.gave_up(&format!("lastamber: cannot use {data} as the data folder: {DENIED}.\n{CURE}"));
    allow(&folder, 0o700);
}

#[test]
fn a_home_that_may_not_be_written_is_told_of_with_the_way_out() {
    let _alone = crate::alone();
    let place = tempfile::tempdir().unwrap();
    let Some(tool) = held_to_rights(place.path()) else {
        return skipped("rights of files: the super-user has them all, and setpriv is not here");
    };
    let home = place.path().join("home");
    fs::create_dir(&home).unwrap();
    allow(&home, 0o500);
    let at_home = |home: &Path| {
        let mut command = command(tool);
        command.args(["slips", "add", "rt=.045"]).env("HOME", home);
        super::program::Told::from(command.output().unwrap())
    };
    let folder = home.join(".local/share/lastamber");
    at_home(&home).gave_up(&format!(
        "lastamber: cannot use {} as the data folder: {DENIED}.\n{CURE}",
        folder.display()
    ));
    // Its way out.
    let data = place.path().join("other");
    let mut command = command(tool);
    command.args(["slips", "add", "rt=.045", "--data", text(&data)]).env("HOME", &home);
    assert!(command.status().unwrap().success());
    allow(&home, 0o700);
    // A file where the home should be.
    let file = place.path().join("file");
    fs::write(&file, "").unwrap();
    at_home(&file).gave_up(&format!(
        "lastamber: cannot use {} as the data folder: Not a directory (os error 20).\nA file stands where \
         a folder should: move it, or choose another folder with --data DIR.",
        file.join(".local/share/lastamber").display()
    ));
}

#[test]
fn things_of_another_kind_under_the_names_of_files_are_told_of() {
    let _alone = crate::alone();
    let place = tempfile::tempdir().unwrap();
    let data = text(place.path());
    let history = history_file(place.path());
    fs::create_dir(&history).unwrap();
    let what = "Is a directory (os error 21)";
    let cure =
        "A folder stands where a file should: move it, or choose another folder with --data DIR.";
    ask(&["slips", "add", "rt=.045", "--data", data]).gave_up(&format!(
        "lastamber: reading {} failed after byte 0: {what}.\n{cure}",
        history.display()
    ));
    for words in [["history", "check"], ["slips", "list"], ["history", "export"]] {
        let told = ask(&[&words[..], &["--data", data]].concat());
        told.gave_up(&format!(
            "lastamber: reading {} failed after byte 0: {what}.\n{cure}",
            history.display()
        ));
    }
    // A pipe nobody writes to would be waited for, a device read, for ever.
    fs::remove_dir(&history).unwrap();
    assert!(can(&["mkfifo", text(&history)]));
    for words in [["history", "check"], ["slips", "list"], ["slips", "check"]] {
        ask(&[&words[..], &["--data", data]].concat()).gave_up(&format!(
            "lastamber: cannot open {}: it is no plain file.\nMove it away, or choose another folder with \
             --data DIR.",
            history.display()
        ));
    }
    let settings = place.path().join("settings.json");
    assert!(can(&["mkfifo", text(&settings)]));
    let read = Settings::read(place.path());
    assert_eq!(
        read.trouble.unwrap(),
        format!(
            "{} can't be read (it is no plain file); it is kept as {}, and everything is as it was at first.",
            settings.display(),
            place.path().join("settings.json.damaged").display()
        )
    );
}

#[test]
fn settings_that_cannot_be_saved_are_told_of_by_name_and_stay_as_they_were() {
    let _alone = crate::alone();
    let place = tempfile::tempdir().unwrap();
    let settings = place.path().join("settings.json");
    let mut old = Settings::default();
    old.tick("belts");
    old.save(place.path()).unwrap();
    // A folder where the new file would be written: also the super-user cannot.
    fs::create_dir(place.path().join("settings.json.new")).unwrap();
    let error = Settings::default().save(place.path()).unwrap_err();
    assert_eq!(
        error.to_string(),
        format!(
            "{}: Is a directory (os error 21). A folder stands where a file should: move it, or choose \
             another folder with --data DIR.",
            settings.display()
        )
    );
    assert_eq!(Settings::read(place.path()).settings, old);
}
