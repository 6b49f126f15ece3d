//! The pages of a first visit: the walk through, the card for when it goes wrong, the car's checklist,
//! the night card, what to ask tech.
//!
//! Owns their order and what is said above them. Refuses the words themselves: `slips::first_visit` and
//! `rules::tech` have them with their standing.

use super::page::{Block, Page, Table, Tick};
use crate::car::TyreSize;
use crate::rules::{Applies, TECH_CAUTION, TechQuestion, ask_tech};
use crate::slips::first_visit::{
    CAR_CHECKLIST, FEARS, Step, TyreKind, WHEN_IT_GOES_WRONG, night_card, starting_pressure,
    walk_through,
};
use std::collections::BTreeSet;

/// How well founded the walk through and the cards are.
const STANDING: &str = "Common practice, from tracks' pages for newcomers; no single source. Your track's \
                        people and rules always win.";

/// The walk through for these tyres; `size` is the driven tyres', where it is known.
pub fn first_visit_page(tyres: TyreKind, size: Option<TyreSize>) -> Page {
    let mut page =
        Page::new("Your first night: go to a test-and-tune, say it is your first, and run.");
    steps(&walk_through(tyres), &mut page);
    page.heading("Where to start with pressure");
    let start = starting_pressure(tyres, size);
    let psi = start.psi.map_or_else(String::new, |psi| format!("{psi:.0} psi. "));
    page.text(format!("{psi}{}", start.text));
    page.note(format!("Standing: {}.", start.standing));
    page.heading("What others feared");
    steps(&FEARS, &mut page);
    page.note(STANDING);
    page
}

/// The card *When it goes wrong*.
pub fn when_it_goes_wrong_page() -> Page {
    let mut page = Page::new("When it goes wrong: nobody minds, and there is a next run.");
    steps(&WHEN_IT_GOES_WRONG, &mut page);
    page.note(STANDING);
    page
}

/// The car's checklist with what is ticked, by key.
pub fn car_checklist_page(ticked: &BTreeSet<String>) -> Page {
    let ticks: Vec<Tick> = CAR_CHECKLIST
        .iter()
        .map(|text| {
            let key = tick_key(text);
            Tick { done: ticked.contains(&key), key, text: (*text).to_owned() }
        })
        .collect();
    let done = ticks.iter().filter(|tick| tick.done).count();
    let mut page = Page::new(if done == ticks.len() {
        "The car is looked over.".to_owned()
    } else {
        format!("{} of {} to see to before the car goes.", ticks.len() - done, ticks.len())
    });
    page.push(Block::Ticks(ticks));
    page.note(STANDING);
    page
}

/// The key of a line of the checklist: its first words, small, joined by a dash.
fn tick_key(text: &str) -> String {
    let plain: String = text
        .chars()
        .map(|c| if c.is_alphanumeric() { c.to_ascii_lowercase() } else { ' ' })
        .collect();
    plain.split_whitespace().take(3).collect::<Vec<_>>().join("-")
}

/// The night card: blanks for six slips, to print.
pub fn night_card_page() -> Page {
    let mut page = Page::new("Night card: print it, take a pen, fill in a column a run.");
    let card = night_card();
    let mut lines = card.lines();
    let head: Vec<&str> = lines.by_ref().skip(1).take_while(|line| !line.is_empty()).collect();
    page.push(Block::Points(head.into_iter().map(str::to_owned).collect()));
    let mut table = Table::new("", &["run", "1", "2", "3", "4", "5", "6"]);
    let foot = lines.clone().last().unwrap_or_default();
    for line in lines.filter(|line| line.contains('|')).skip(1) {
        let cells = line.split('|').map(str::trim);
        table.push(cells);
    }
    page.push(Block::Table(table));
    page.note(foot);
    page
}

/// What to ask the tech officials about, for a car this quick.
pub fn ask_tech_page(question: &TechQuestion) -> Page {
    let items = ask_tech(question);
    let asked = items.iter().filter(|item| item.applies == Applies::Yes).count();
    let open = items.iter().filter(|item| item.applies == Applies::NotKnown).count();
    let known = question.et_s.is_some() || question.mph.is_some();
    let mut page = Page::new(if known {
        format!("Ask tech about {asked} things; {open} more are open.")
    } else {
        "Say how quick or how fast you expect to be, and the list shortens itself.".to_owned()
    });
    page.caution(TECH_CAUTION);
    let mut table = Table::new("Ask tech about", &["what", "applies", "from", "source, year"]);
    let order = [Applies::Yes, Applies::NotKnown, Applies::No];
    for wanted in order {
        for item in items.iter().filter(|item| item.applies == wanted) {
            let applies = match item.applies {
                Applies::Yes => "yes",
                Applies::NotKnown => "ask",
                Applies::No => "no",
            };
            let note =
                if item.note.is_empty() { String::new() } else { format!(" ({})", item.note) };
            table.push([
                format!("{}{note}", item.item),
                applies.to_owned(),
                item.threshold.clone(),
                format!("{}, {}", item.source, item.year),
            ]);
        }
    }
    page.push(Block::Table(table));
    page
}

fn steps(steps: &[Step], page: &mut Page) {
    for step in steps {
        page.heading(step.title);
        page.text(step.text);
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn keys_of_the_checklist_differ_and_ticks_come_back() {
        let keys: BTreeSet<String> = CAR_CHECKLIST.iter().map(|text| tick_key(text)).collect();
        assert_eq!(keys.len(), CAR_CHECKLIST.len());
        let some: BTreeSet<String> = keys.iter().take(3).cloned().collect();
        let page = car_checklist_page(&some);
        let Block::Ticks(ticks) = &page.blocks[0] else { panic!() };
        assert_eq!(ticks.iter().filter(|tick| tick.done).count(), 3);
        assert!(page.headline.starts_with("9 of 12"));
        assert_eq!(car_checklist_page(&keys).headline, "The car is looked over.");
    }

    #[test]
    fn the_night_card_has_six_blank_columns() {
        let page = night_card_page();
        let table = page
            .blocks
            .iter()
            .find_map(|block| if let Block::Table(table) = block { Some(table) } else { None })
            .unwrap();
        assert_eq!((table.columns.len(), table.rows.len()), (7, 16));
        assert!(
            table
                .rows
                .iter()
                .all(|row| !row[0].is_empty() && row[1..].iter().all(String::is_empty))
        );
    }

    #[test]
    fn tech_says_that_the_years_book_was_not_read_and_who_has_the_last_word() {
        let page = ask_tech_page(&TechQuestion { et_s: Some(11.0), ..TechQuestion::default() });
        assert!(matches!(&page.blocks[0], Block::Caution(text)
            if text.contains("was not read") && text.contains("its word is final")));
        let Block::Table(table) = &page.blocks[1] else { panic!() };
        assert!(table.rows.iter().all(|row| row[3].len() > 6));
        assert_eq!(table.rows[0][1], "yes");
    }

    #[test]
    fn a_drag_radial_starts_at_its_rim_with_its_standing() {
        let page = first_visit_page(TyreKind::DragRadial, "275/60R15".parse().ok());
        let words = format!("{page:?}");
        assert!(words.contains("15 psi. Start near") && words.contains("no single source"));
        assert!(
            format!("{:?}", first_visit_page(TyreKind::Street, None)).contains("round the water")
        );
        assert!(format!("{:?}", when_it_goes_wrong_page()).contains("Finish the run"));
    }
}
