//! Controls as the words of a driver's settings.
//!
//! Owns the names of the choices and their words: for each act the names of its controls with spaces
//! between them, or `none`; for the car that rolls by itself `yes` or `no`. Refuses the file they stand
//! in, and to take what can't be: what is left out is told, and nothing panics.
//!
//! ```text
//! "controls launch": "Space PadButton304 PadAxis5 PadAxis9"
//! "controls back": "none"
//! "controls hold to brake": "no"
//! ```

use std::collections::{BTreeMap, BTreeSet};

use crate::controls::{Act, Controls, ControlsError, Set, words};
use crate::press::keys;

/// Name of the choice that has the car roll by itself.
const HOLD: &str = "controls hold to brake";
/// What stands for an act without a control.
const NONE: &str = "none";
/// Words that are named in one sentence, and how much of each. Chosen: a file may hold anything.
const MOST_NAMED: usize = 5;
const MOST_CHARS: usize = 24;
/// Words of an act that are read at all. Chosen: several times the keys of a keyboard.
const MOST_WORDS: usize = 1_000;

/// What reading gave.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct ReadControls {
    /// The controls; those at first where none could be read.
    pub controls: Controls,
    /// What to tell the driver, a sentence each.
    pub trouble: Vec<String>,
}

impl Controls {
    /// The choices to keep: their names and words.
    pub fn to_choices(&self) -> Vec<(String, String)> {
        let word = |act: Act| {
            let names: Vec<String> = self.controls_of(act).map(keys::key_name).collect();
            if names.is_empty() { NONE.to_owned() } else { names.join(" ") }
        };
        let acts = Act::ALL.map(|act| (choice_of(act), word(act)));
        let hold = if self.holds_to_brake() { "yes" } else { "no" };
        acts.into_iter().chain([(HOLD.to_owned(), hold.to_owned())]).collect()
    }

    /// The controls of these choices, whatever else is among them. An act without a choice of its own
    /// has what it has at first, as far as that is free; with nothing left to launch or to creep with
    /// all is as at first. A word that names no control, or one that can't be bound or is bound
    /// already, is left out and told of.
    pub fn from_choices(choices: &BTreeMap<String, String>) -> ReadControls {
        let mut reading = Reading { bound: Self::none(), trouble: Vec::new() };
        let (given, missing): (Vec<Act>, Vec<Act>) =
            Act::ALL.into_iter().partition(|act| choices.contains_key(&choice_of(*act)));
        if !given.is_empty() {
            given.iter().for_each(|act| reading.take(*act, &choices[&choice_of(*act)]));
            let at_first = Self::default();
            for act in missing {
                // What is taken is refused, and nothing is to be told: nobody asked for it.
                for control in at_first.controls_of(act) {
                    let _ = reading.bound.bind(act, control);
                }
            }
        }
        let hold = choices.get(HOLD).map(String::as_str);
        reading.finish(!given.is_empty(), hold)
    }
}

fn choice_of(act: Act) -> String {
    format!("controls {}", act.word())
}

struct Reading {
    bound: Controls,
    trouble: Vec<String>,
}

impl Reading {
    /// Takes the words of an act.
    fn take(&mut self, act: Act, text: &str) {
        let mut unknown: Vec<String> = Vec::new();
        let mut refused: Vec<String> = Vec::new();
        let mut seen = BTreeSet::new();
        let once = text.split_whitespace().filter(|word| *word != NONE && seen.insert(*word));
        for (place, word) in once.enumerate() {
            if place == MOST_WORDS {
                refused.push(format!("all after the first {MOST_WORDS} words"));
                break;
            }
            let Some(control) = keys::key_named(word) else {
                unknown.push(quoted(word));
                continue;
            };
            match self.bound.bind(act, control) {
                Ok(()) => {}
                Err(ControlsError::Reserved { why, .. }) => {
                    refused.push(format!("{} ({})", words(control), why.why()));
                }
                Err(ControlsError::Taken { has, .. }) => {
                    refused.push(format!("{} (for {has} already)", words(control)));
                }
                Err(other) => refused.push(other.to_string()),
            }
        }
        for (left_out, why) in [(unknown, "no control known here"), (refused, "not to be bound")] {
            if !left_out.is_empty() {
                let (choice, some) = (choice_of(act), some_of(&left_out));
                self.trouble.push(format!("Settings, \"{choice}\": left out, {why}: {some}."));
            }
        }
    }

    fn finish(mut self, given: bool, hold: Option<&str>) -> ReadControls {
        if given && !self.bound.works() {
            let set = Set::default().name();
            self.trouble.push(format!(
                "The settings leave nothing to launch or nothing to creep with: all controls are as at \
                 first, \"{set}\". Bind them anew."
            ));
        }
        let mut controls = if self.bound.works() { self.bound } else { Controls::default() };
        let wrong = match hold {
            None | Some("no") => None,
            Some("yes") => controls.set_hold_to_brake(true).err().map(|error| error.to_string()),
            Some(word) => Some(format!("{} is neither yes nor no.", quoted(word))),
        };
        if let Some(wrong) = wrong {
            let stands = "The car stands unless it is told to roll.";
            self.trouble.push(format!("Settings, \"{HOLD}\": {wrong} {stands}"));
        }
        ReadControls { controls, trouble: self.trouble }
    }
}

/// A word out of a file, short and without anything that steers.
fn quoted(word: &str) -> String {
    let short: String = word.chars().take(MOST_CHARS).collect();
    let more = if short.len() < word.len() { "\u{2026}" } else { "" };
    format!("\"{}{more}\"", short.escape_debug())
}

/// The first few, and how many more there are.
fn some_of(all: &[String]) -> String {
    let named = all[..all.len().min(MOST_NAMED)].join(", ");
    match all.len().saturating_sub(MOST_NAMED) {
        0 => named,
        more => format!("{named} and {more} more"),
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::press::Control;

    fn choices(all: &[(&str, &str)]) -> BTreeMap<String, String> {
        all.iter().map(|(name, word)| ((*name).to_owned(), (*word).to_owned())).collect()
    }

    fn control(name: &str) -> Control {
        keys::key_named(name).unwrap()
    }

    #[test]
    fn the_words_are_the_names_of_the_controls() {
        let written: BTreeMap<String, String> =
            Controls::default().to_choices().into_iter().collect();
        assert_eq!(written["controls launch"], "Space PadButton304 PadAxis5 PadAxis9");
        assert_eq!(written["controls brake"], "ArrowDown PadButton310");
        assert_eq!(written[HOLD], "no");
        assert_eq!(Controls::from_choices(&written).controls, Controls::default());
    }

    #[test]
    fn without_a_choice_all_is_as_at_first_and_nothing_is_told() {
        let read = Controls::from_choices(&choices(&[("look", "dark"), ("company", "stranger")]));
        assert_eq!(read, ReadControls { controls: Controls::default(), trouble: vec![] });
    }

    #[test]
    fn an_act_without_a_choice_has_what_is_free_of_what_it_has_at_first() {
        let read = Controls::from_choices(&choices(&[("controls launch", "ArrowUp MouseLeft")]));
        let creep: Vec<Control> = read.controls.controls_of(Act::Creep).collect();
        assert_eq!(creep, [control("PadButton311")]);
        assert_eq!(read.controls.act(control("Space")), None);
        assert_eq!(read.trouble, Vec::<String>::new());
    }

    #[test]
    fn words_that_cannot_be_are_left_out_and_named() {
        let read = Controls::from_choices(&choices(&[
            ("controls launch", "Space Spaec \u{1b}[2J Escape"),
            ("controls creep", "KeyW Space KeyW none"),
            ("controls brake", "none"),
            ("controls back", ""),
            (HOLD, "perhaps"),
        ]));
        assert_eq!(read.controls.controls(), [control("Space"), control("KeyW")]);
        assert_eq!(
            read.trouble,
            [
                "Settings, \"controls launch\": left out, no control known here: \"Spaec\", \"\\u{1b}[2J\".",
                "Settings, \"controls launch\": left out, not to be bound: Escape (it always leads out of a \
                 run and to the settings).",
                "Settings, \"controls creep\": left out, not to be bound: Space (for launch already).",
                "Settings, \"controls hold to brake\": \"perhaps\" is neither yes nor no. The car stands \
                 unless it is told to roll.",
            ]
        );
    }

    #[test]
    fn with_nothing_left_to_launch_with_all_is_as_at_first_and_that_is_told() {
        for launch in ["", "none", "Escape", "Spaec"] {
            let read = Controls::from_choices(&choices(&[
                ("controls launch", launch),
                ("controls creep", "Space"),
                (HOLD, "yes"),
            ]));
            let mut at_first = Controls::default();
            at_first.set_hold_to_brake(true).unwrap();
            assert_eq!(read.controls, at_first, "{launch}");
            let told = read.trouble.last().unwrap();
            assert!(told.contains("as at first, \"right hand\""), "{told}");
        }
    }

    #[test]
    fn a_car_cannot_roll_by_itself_without_a_brake() {
        let read = Controls::from_choices(&choices(&[("controls brake", "none"), (HOLD, "yes")]));
        assert!(!read.controls.holds_to_brake());
        assert!(read.trouble[0].contains("Nothing is bound to brake"), "{:?}", read.trouble);
    }

    #[test]
    fn a_file_full_of_rubbish_is_told_in_a_few_words() {
        let rubbish: String = (0..50_000).map(|i| format!("{i}{} ", "ä".repeat(40))).collect();
        let read = Controls::from_choices(&choices(&[("controls launch", &rubbish)]));
        assert_eq!(read.controls, Controls::default());
        assert!(read.trouble[0].ends_with("\u{2026}\" and 995 more."), "{}", read.trouble[0]);
        assert!(read.trouble[1].contains("all after the first 1000 words"), "{}", read.trouble[1]);
        assert!(read.trouble.iter().all(|told| told.len() < 500));
    }
}
