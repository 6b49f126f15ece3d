//! The page of the controls: what does what, what can't be bound and why, and the sets.
//!
//! Owns the page. Refuses binding: the room `controls` has its rules and the sentences of its refusals.

use super::page::{Block, Page, Table};
use crate::controls::{Act, Controls, ControlsError, Reserved, Set, reserved_keys, words};

/// What is said of keys once.
const PLACES: &str = "A key is a place on the keyboard, called as on a US one: on yours it may print another letter.";

/// What an act is for.
fn does(act: Act) -> &'static str {
    match act {
        Act::Launch => "leave the line; between runs: the next one",
        Act::Creep => "roll gently forward into the beams",
        Act::Brake => "stop and stand",
        Act::Back => "roll back out of the beams",
    }
}

/// The page; `refused` is why the latest wish was not done, `trouble` what was told when the settings
/// were read.
pub fn controls_page(
    controls: &Controls,
    refused: Option<&ControlsError>,
    trouble: &[String],
) -> Page {
    let mut page = Page::new(headline(controls));
    if let Some(refused) = refused {
        page.caution(sentence(&refused.to_string()));
    }
    trouble.iter().for_each(|told| {
        page.caution(told);
    });
    let mut table = Table::new("What does what", &["", "controls", "to"]);
    for act in Act::ALL {
        table.push([act.name().to_owned(), controls_words(controls, act), does(act).to_owned()]);
    }
    page.push(Block::Table(table));
    page.text(rolling_words(controls));
    page.note(PLACES);
    page.heading("Sets to begin with");
    page.push(Block::Points(Set::ALL.map(|set| set_words(set, controls)).to_vec()));
    page.heading("Keys that stay as they are");
    let mut table = Table::new("", &["keys", "why"]);
    for (keys, why) in reserved_words() {
        table.push([keys, sentence(why.why())]);
    }
    page.push(Block::Table(table));
    page
}

/// The controls of an act in words: `Space, pad's lower button`.
pub fn controls_words(controls: &Controls, act: Act) -> String {
    let all: Vec<String> = controls.controls_of(act).map(words).collect();
    if all.is_empty() { "nothing".to_owned() } else { all.join(", ") }
}

/// The first control of an act, which is named in a prompt.
fn first(controls: &Controls, act: Act) -> String {
    controls.controls_of(act).next().map_or_else(|| "nothing".to_owned(), words)
}

fn headline(controls: &Controls) -> String {
    let [launch, creep, brake] =
        [Act::Launch, Act::Creep, Act::Brake].map(|act| first(controls, act));
    sentence(&match controls.holds_to_brake() {
        true => format!("{launch} launches; the car rolls by itself, and {brake} holds it."),
        false => format!("{launch} launches, {creep} rolls the car in."),
    })
}

fn rolling_words(controls: &Controls) -> String {
    match controls.holds_to_brake() {
        true => {
            "The car rolls by itself, as an automatic does in gear: hold the brake to stand, let it go \
             to roll on, keep it held until you launch."
        }
        false => "The car stands unless you let it creep.",
    }
    .to_owned()
}

fn set_words(set: Set, controls: &Controls) -> String {
    let name = set.name();
    let in_force = if controls.set() == Some(set) { " (in force)" } else { "" };
    format!("{}{in_force}: {}", sentence(name), set.why())
}

/// Reserved keys with one reason together, in the order of the list.
fn reserved_words() -> Vec<(String, Reserved)> {
    let mut rows: Vec<(String, Reserved)> = Vec::new();
    for (control, why) in reserved_keys() {
        match rows.last_mut().filter(|(_, last)| *last == why) {
            Some((keys, _)) => *keys = format!("{keys} {}", words(control)),
            None => rows.push((words(control), why)),
        }
    }
    rows
}

/// With a capital letter.
fn sentence(text: &str) -> String {
    let mut chars = text.chars();
    chars.next().map_or_else(String::new, |first| first.to_uppercase().chain(chars).collect())
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::press::keys::key_named;
    use crate::report::page_text;

    #[test]
    fn the_page_says_what_does_what_and_what_stays_as_it_is() {
        let page = controls_page(&Controls::default(), None, &[]);
        assert_eq!(page.headline, "Space launches, \u{2191} rolls the car in.");
        let said = page_text(&page);
        for words in [
            "Space, pad's lower button, pad's right trigger, gas pedal",
            "Right hand (in force): The arrows",
            "Left hand: W, S and X",
            "1 2 3 4 5 6 7 8 9 0",
            "D T L A P N G H",
            "Escape",
        ] {
            assert!(said.contains(words), "{words}: {said}");
        }
        assert!(!page.blocks.iter().any(|block| matches!(block, Block::Caution(_))));
    }

    #[test]
    fn a_refusal_and_the_trouble_of_reading_come_before_the_table() {
        let mut controls = Controls::of(Set::LeftHand);
        let mouse = key_named("MouseLeft").unwrap();
        controls.bind(Act::Back, mouse).unwrap();
        let refused = controls.bind(Act::Launch, mouse).unwrap_err();
        let trouble = ["Settings, \"controls launch\": left out.".to_owned()];
        let page = controls_page(&controls, Some(&refused), &trouble);
        let Block::Caution(first) = &page.blocks[0] else { panic!("{:?}", page.blocks[0]) };
        assert!(
            first.starts_with("Left mouse button is for roll back already. Take it over"),
            "{first}"
        );
        assert_eq!(page.blocks[1], Block::Caution(trouble[0].clone()));
        assert!(!page_text(&page).contains("in force"));
    }

    #[test]
    fn a_car_that_rolls_by_itself_is_said_to_and_an_act_without_a_control_has_nothing() {
        let mut controls = Controls::of(Set::LeftHand);
        controls.set_hold_to_brake(true).unwrap();
        for back in controls.controls_of(Act::Back).collect::<Vec<_>>() {
            controls.unbind(back).unwrap();
        }
        let page = controls_page(&controls, None, &[]);
        assert_eq!(page.headline, "Space launches; the car rolls by itself, and S holds it.");
        let said = page_text(&page);
        assert!(said.contains("nothing"), "{said}");
        assert!(said.contains("keep it held until you launch"), "{said}");
    }
}
