//! Rules of the house that the compiler does not know, over the whole source.
//!
//! Each test reads the files as text and names every place that breaks its rule.

use std::fs;
use std::path::{Path, PathBuf};
use std::process::Command;

/// Rooms in the order data flows. A room uses only rooms to its left.
const ROOMS: [&str; 17] = [
    "sound", "rules", "car", "beams", "onset", "press", "controls", "tree", "trial", "drill",
    "slips", "history", "stats", "strategy", "demo", "report", "app",
];
/// Usable from everywhere.
const COMMON: [&str; 4] = ["units", "seed", "form", "progress"];

struct Source {
    path: String,
    text: String,
}

impl Source {
    /// The room a file of `src` belongs to.
    fn room(&self) -> &str {
        let inside = self.path.trim_start_matches("src/");
        inside.split(['/', '.']).next().unwrap_or_default()
    }

    /// The lines above the file's unit tests, numbered from 1; none of a file that is nothing else.
    fn lines(&self) -> impl Iterator<Item = (usize, &str)> {
        let end = match self.path.ends_with("/tests.rs") {
            true => 0,
            false => self.text.find("#[cfg(test)]").unwrap_or(self.text.len()),
        };
        self.text[..end].lines().enumerate().map(|(i, line)| (i + 1, line))
    }

    /// The same lines without comments.
    fn code(&self) -> impl Iterator<Item = (usize, &str)> {
        self.lines().map(|(i, line)| (i, line.split("//").next().unwrap_or_default()))
    }
}

fn sources(folder: &str) -> Vec<Source> {
    let root = Path::new(env!("CARGO_MANIFEST_DIR"));
    let mut found = Vec::new();
    let mut folders = vec![root.join(folder)];
    while let Some(folder) = folders.pop() {
        let entries: Vec<PathBuf> = fs::read_dir(&folder)
            .expect("folders of the project can be read")
            .map(|entry| entry.expect("entries of the project can be read").path())
            .collect();
        for path in entries {
            if path.is_dir() {
                folders.push(path);
            } else if path.extension().is_some_and(|e| e == "rs") {
                let text = fs::read_to_string(&path).expect("sources are UTF-8");
                let relative = path.strip_prefix(root).expect("it was found below the root");
                found.push(Source { path: relative.display().to_string(), text });
            }
        }
    }
    assert!(!found.is_empty(), "no source below {folder}");
    found
}

fn all_sources() -> Vec<Source> {
    ["src", "tests", "benches"].into_iter().flat_map(sources).collect()
}

fn assert_none(broken: Vec<String>) {
    assert!(broken.is_empty(), "{} places:\n{}", broken.len(), broken.join("\n"));
}

#[test]
fn every_file_says_what_it_owns() {
    let silent = all_sources().into_iter().filter(|s| !s.text.starts_with("//!"));
    assert_none(silent.map(|s| s.path).collect());
}

#[test]
fn no_file_has_two_subjects_worth_of_lines() {
    let long = all_sources().into_iter().filter(|s| s.text.lines().count() > 500);
    assert_none(long.map(|s| format!("{}: {} lines", s.path, s.text.lines().count())).collect());
}

#[test]
fn a_room_uses_only_rooms_to_its_left() {
    let mut broken = Vec::new();
    for source in sources("src") {
        let Some(place) = ROOMS.iter().position(|room| *room == source.room()) else {
            if COMMON.contains(&source.room()) {
                let uses = source.code().filter(|(_, line)| line.contains("crate::"));
                let uses = uses.filter(|(_, line)| !line.contains("crate::units"));
                broken.extend(uses.map(|(i, line)| format!("{}:{i}: {line}", source.path)));
            }
            continue;
        };
        for (i, line) in source.code() {
            for room in &ROOMS[place + 1..] {
                if line.contains(&format!("crate::{room}")) {
                    broken.push(format!("{}:{i}: {line}", source.path));
                }
            }
        }
    }
    assert_none(broken);
}

#[test]
fn only_the_app_knows_the_engine_and_the_devices() {
    let engine = ["bevy", "winit::", "x11rb", "gilrs", "egui", "tiny_skia"];
    // The painter is no engine: one file of the report makes pictures of cards and plots with it.
    let paints = |source: &Source| source.path == "src/report/picture/canvas.rs";
    let mut broken = Vec::new();
    for source in sources("src").iter().filter(|s| s.room() != "app") {
        let barred = |line: &str| {
            let mut engine = engine.iter().filter(|e| !(paints(source) && **e == "tiny_skia"));
            engine.any(|e| line.contains(e))
        };
        for (i, line) in source.code().filter(|(_, line)| barred(line)) {
            broken.push(format!("{}:{i}: {line}", source.path));
        }
    }
    assert_none(broken);
}

#[test]
fn only_the_clock_reads_clocks() {
    // The pad reader samples both clocks at one moment to convert what its library dates.
    let allowed = ["src/app/clock.rs", "src/app/press_sources/pad.rs", "src/cli/wall.rs"];
    let clocks = ["Instant::now", "SystemTime::now", "clock_gettime", "ZonedDateTime::now"];
    let mut broken = Vec::new();
    for source in sources("src").iter().filter(|s| !allowed.contains(&s.path.as_str())) {
        for (i, line) in source.code().filter(|(_, l)| clocks.iter().any(|c| l.contains(c))) {
            broken.push(format!("{}:{i}: {line}", source.path));
        }
    }
    assert_none(broken);
}

#[test]
fn only_the_history_and_the_command_line_speak_serde() {
    let mut broken = Vec::new();
    for source in sources("src").iter().filter(|s| !["history", "cli"].contains(&s.room())) {
        for (i, line) in source.code().filter(|(_, l)| l.contains("serde")) {
            broken.push(format!("{}:{i}: {line}", source.path));
        }
    }
    assert_none(broken);
}

#[test]
fn nothing_unwraps_outside_tests() {
    let mut broken = Vec::new();
    for source in sources("src") {
        for (i, line) in source.code() {
            let panics = [".unwrap()", "panic!(", "todo!(", "unimplemented!(", "dbg!("];
            if panics.iter().any(|p| line.contains(p)) {
                broken.push(format!("{}:{i}: {line}", source.path));
            }
        }
    }
    assert_none(broken);
}

/// Files that may do what the compiler cannot check, and why.
const UNSAFE: [(&str, &str); 1] =
    [("src/app/press_sources/evdev.rs", "the kernel's clock for a device is set by an ioctl")];

#[test]
fn nothing_is_unsafe_but_in_files_that_say_why() {
    let manifest = include_str!("../Cargo.toml");
    let lints = manifest.split("[lints.rust]").nth(1).expect("the manifest has lints");
    let lints = lints.split("\n[").next().unwrap_or_default();
    assert!(lints.contains("unsafe_code = \"deny\""), "the compiler refuses it everywhere else");
    // Put together here, so that this file does not find itself.
    let word = ["unsafe", "_code"].concat();
    let mut allowed = Vec::new();
    for source in all_sources() {
        let lines = source.text.lines().enumerate();
        for (i, _) in lines.filter(|(_, line)| line.contains("allow(") && line.contains(&word)) {
            allowed.push((source.path.clone(), i + 1));
        }
    }
    let known = |path: &str| UNSAFE.iter().any(|(file, why)| *file == path && !why.is_empty());
    let unknown = allowed.iter().filter(|(path, _)| !known(path));
    assert_none(unknown.map(|(path, line)| format!("{path}:{line}")).collect());
    assert_eq!(allowed.len(), UNSAFE.len(), "a file that needs it no more: {allowed:?}");
}

#[test]
fn nothing_is_left_for_later_and_no_machine_is_named() {
    // Put together here, so that this file does not find itself.
    let words = [["TO", "DO"], ["FIX", "ME"], ["/ro", "ot/"], ["/ho", "me/"], ["/wo", "rk/"]];
    let words: Vec<String> = words.iter().map(|parts| parts.concat()).collect();
    let mut broken = Vec::new();
    for source in all_sources() {
        for (i, line) in source.text.lines().enumerate() {
            if words.iter().any(|word| line.contains(word)) {
                broken.push(format!("{}:{}: {line}", source.path, i + 1));
            }
        }
    }
    assert_none(broken);
}

#[test]
fn the_core_has_no_engine_window_audio_or_pad_crate() {
    let tree = Command::new(env!("CARGO"))
        .args(["tree", "--offline", "--locked", "--no-default-features"])
        .args(["--edges", "normal,build", "--prefix", "none"])
        .current_dir(env!("CARGO_MANIFEST_DIR"))
        .output()
        .expect("cargo that built this test can be run");
    assert!(tree.status.success(), "{}", String::from_utf8_lossy(&tree.stderr));
    let tree = String::from_utf8(tree.stdout).expect("names of crates are ASCII");
    assert!(tree.contains("serde_json"), "it lists the crates of the core");
    let barred = ["bevy", "winit", "wgpu", "egui", "x11rb", "gilrs", "cpal", "kira", "evdev"];
    let found = tree.lines().filter(|line| barred.iter().any(|crate_| line.starts_with(crate_)));
    assert_none(found.map(str::to_owned).collect());
}
