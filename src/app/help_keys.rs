//! The keys of the window, for its Help.
//!
//! Owns one line a key. Refuses what else is in Help (the report room).

use super::presses::{Act, Bindings, Who};
use crate::car::EdgeAnswer;
use crate::controls::words;
use crate::report::help::KeyHelp;

/// Keys that are the same for everybody.
const FIXED: [(&str, &str); 14] = [
    ("Esc", "pause, and everything that can be set; in a room: back"),
    ("0 to 9", "from a pause: the rooms by their numbers"),
    ("F1", "this page"),
    ("D", "in the lane between runs: the next drill"),
    ("T", "in the lane between runs: react, or time it"),
    ("L", "in the lane between runs: the other lane"),
    ("P", "in the lane after a run: its slip; in a room: keep the page as a file"),
    ("G", "in the lane between runs: the guided first run, or end it"),
    ("\u{2212} and +", "hold an aim: 5 ms earlier or later"),
    ("A, H", "hold an aim: as advised; how you held it"),
    ("N", "track night: wait no longer"),
    ("F", "in Review and Weeks: which runs are looked at"),
    ("R", "in Review: run by run, each to be seen again"),
    ("Page Up, Page Down", "a page up or down"),
];

/// A line a key; launching is pressing or letting go, as the car has it.
pub fn help_keys(bindings: &Bindings, edge: EdgeAnswer) -> Vec<KeyHelp> {
    let launch = match edge {
        EdgeAnswer::Press => "launch: press it; between runs: go on",
        EdgeAnswer::Release => "launch: hold it, then let go; between runs: go on",
    };
    let acts = [
        (Act::Launch, launch),
        (Act::Creep, "roll forward gently, while held"),
        (Act::Brake, "brake"),
        (Act::Back, "roll back"),
    ];
    let own = acts.into_iter().map(|(act, does)| {
        let bound = bindings.controls_of(Who::Driver, act).into_iter();
        let names: Vec<String> = bound.map(words).collect();
        KeyHelp { key: names.join(", "), does: does.to_owned() }
    });
    let fixed = FIXED.map(|(key, does)| KeyHelp { key: key.to_owned(), does: does.to_owned() });
    own.chain(fixed).collect()
}
