//! One slip on a page: as paper, and explained line by line.
//!
//! Owns the sentence above it and the mark of a practice slip. Refuses to judge the driver.

use super::page::{Block, Page, Table};
use crate::car::CarKind;
use crate::rules::TrackLength;
use crate::slips::{Slip, check, explain};
use crate::tree::Lane;

/// The mark every practice slip carries.
pub const SIMULATED: &str = "PRACTICE · SIMULATED";

/// The page of a slip; `kind` says what is typical, where the car is known by kind.
pub fn slip_page(slip: &Slip, kind: Option<CarKind>) -> Page {
    let mut page = Page::new(headline(slip));
    if slip.is_simulated() {
        page.caution(
            "Simulated: your launch was timed, the pass was computed from My car. It is no slip of a \
             track and counts as none.",
        );
    }
    page.push(Block::Paper(paper(slip)));
    for question in check(slip) {
        page.note(format!("Asked: {question}"));
    }
    let around = around(slip);
    if !around.is_empty() {
        page.note(around.join(" · "));
    }
    page.heading("Line by line");
    let mut table =
        Table::new("Your column explained", &["here", "what it is", "typical", "what changes it"]);
    for line in explain(slip, kind) {
        table.push([line.here, line.what.to_owned(), line.typical, line.changes.to_owned()]);
    }
    page.push(Block::Table(table));
    page
}

/// The slip as paper: a name, then a column for each lane, left first, in the order the trade prints.
pub fn paper(slip: &Slip) -> Table {
    let title = if slip.is_simulated() {
        SIMULATED.to_owned()
    } else {
        let date = slip.date.map(|date| date.to_string());
        let head: Vec<String> = [Some(slip.track.clone()).filter(|track| !track.is_empty()), date]
            .into_iter()
            .flatten()
            .collect();
        head.join("  ")
    };
    let own = slip.lane.unwrap_or(Lane::Left);
    let of = |lane: Lane| if lane == own { "you" } else { "other lane" };
    let mut table = Table::new(title, &["", of(Lane::Left), of(Lane::Right)]);
    for line in slip.lines() {
        let [left, right] = line.columns;
        table.push([line.field.title().to_owned(), left, right]);
    }
    table
}

fn headline(slip: &Slip) -> String {
    let red = if slip.is_red() { ", red" } else { "" };
    let light = match slip.rt() {
        Some(rt) => format!("R/T {rt}{red}"),
        None if slip.is_red() => "Red, without a time".to_owned(),
        None => "No R/T".to_owned(),
    };
    let own = &slip.own;
    let finish = match (own.et(slip.length), own.mph(slip.length)) {
        (Some(et), Some(mph)) => format!("{et} at {mph:.2} mph"),
        (Some(et), None) => et.to_string(),
        (None, Some(mph)) => format!("{mph:.2} mph"),
        (None, None) => "no finish".to_owned(),
    };
    let length = match slip.length {
        TrackLength::Quarter => "quarter mile",
        TrackLength::Eighth => "eighth mile",
    };
    let what = if slip.is_simulated() { "Practice, simulated: " } else { "" };
    format!("{what}{light}; {finish} in the {length}.")
}

/// What stands around the figures.
fn around(slip: &Slip) -> Vec<String> {
    use crate::slips::{Cell, InLane};
    const WORDS: [(Cell, &str, &str); 15] = [
        (Cell::Car, "", ""),
        (Cell::Tree, "", " tree"),
        (Cell::Lamps, "", ""),
        (Cell::Light, "", ""),
        (Cell::Manner, "", ""),
        (Cell::Feel, "", ""),
        (Cell::LaunchRpm, "", " rpm"),
        (Cell::DepthIn, "", " in deep"),
        (Cell::FrontPsi, "front ", " psi"),
        (Cell::RearPsi, "rear ", " psi"),
        (Cell::TemperatureF, "", " °F"),
        (Cell::DewPointF, "dew point ", " °F"),
        (Cell::StationInhg, "", " inHg"),
        (Cell::Own(InLane::Red), "red lamp: ", ""),
        (Cell::Note, "", ""),
    ];
    let said = WORDS.iter().filter_map(|(cell, before, after)| {
        let text = cell.get(slip);
        (!text.is_empty()).then(|| format!("{before}{text}{after}"))
    });
    let first = slip.first_of_day.filter(|first| *first).map(|_| "first of the day".to_owned());
    said.chain(first).collect()
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::slips::{LaneSlip, SlipOrigin, read_column};

    fn slip() -> Slip {
        Slip {
            own: read_column(".045 1.963 5.678 8.637 83.95 - 13.464 105.04").unwrap(),
            other: Some(LaneSlip { rt: "-.010".parse().ok(), red: true, ..LaneSlip::default() }),
            lane: Some(Lane::Right),
            track: "our strip".to_owned(),
            date: Some(jiff::civil::date(2026, 5, 1)),
            ..Slip::default()
        }
    }

    fn the_paper(page: &Page) -> &Table {
        page.blocks
            .iter()
            .find_map(|b| if let Block::Paper(t) = b { Some(t) } else { None })
            .unwrap()
    }

    #[test]
    fn a_slip_is_paper_in_the_trades_order_with_both_lanes() {
        let page = slip_page(&slip(), None);
        assert_eq!(page.headline, "R/T .045; 13.464 at 105.04 mph in the quarter mile.");
        let table = the_paper(&page);
        assert_eq!(table.title, "our strip  2026-05-01");
        assert_eq!(table.columns, ["", "other lane", "you"]);
        let names: Vec<&str> = table.rows.iter().map(|row| row[0].as_str()).collect();
        assert_eq!(names[4..7], ["R/T", "60'", "330'"]);
        assert_eq!(table.rows[4], ["R/T", "-.010", ".045"]);
        // Explained line by line.
        let explained = page.blocks.iter().find_map(|block| match block {
            Block::Table(table) => Some(table.rows.len()),
            _ => None,
        });
        assert_eq!(explained, Some(table.rows.len()));
    }

    #[test]
    fn a_practice_slip_says_so_on_paper_above_it_and_in_its_first_sentence() {
        let origin = SlipOrigin::Simulated { trial: "t1".to_owned() };
        let page = slip_page(&Slip { origin, ..slip() }, None);
        assert!(page.headline.starts_with("Practice, simulated"));
        assert!(
            matches!(&page.blocks[0], Block::Caution(text) if text.contains("no slip of a track"))
        );
        assert_eq!(the_paper(&page).title, SIMULATED);
    }
}
