//! What a slip's form asks, in order, and what the last slip answers in advance.
//!
//! Owns names, hints and choices. Refuses reading what was typed.

use crate::form::{Choice, Field};
use crate::slips::cells::{Cell, InLane};

/// A field of the form.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash)]
pub enum EntryField {
    /// What a slip says.
    Cell(Cell),
    /// Whether the other lane is typed in as well.
    OtherLane,
}

const NOT_SAID: Choice = Choice::new("", "not said");
pub(super) const YES: &str = "yes";

const LENGTHS: &[Choice] =
    &[Choice::new("quarter", "quarter mile"), Choice::new("eighth", "eighth mile")];
const SCALES: &[Choice] = &[
    Choice::new("modern", "today's, .000 perfect"),
    Choice::new("old500", "old, .500 perfect"),
    Choice::new("old400", "old, .400 perfect"),
];
const TREES: &[Choice] = &[
    NOT_SAID,
    Choice::new("full", "full, three ambers in turn"),
    Choice::new("pro", "pro, .400"),
    Choice::new("pro500", ".500 pro"),
];
const LANES: &[Choice] = &[NOT_SAID, Choice::new("left", "left"), Choice::new("right", "right")];
const LAMPS: &[Choice] = &[NOT_SAID, Choice::new("led", "LED"), Choice::new("bulb", "bulbs")];
const LIGHTS: &[Choice] = &[
    NOT_SAID,
    Choice::new("day", "day"),
    Choice::new("dusk", "twilight"),
    Choice::new("night", "night"),
];
const MANNERS: &[Choice] = &[
    NOT_SAID,
    Choice::new("reacted", "reacted to the amber"),
    Choice::new("timed", "timed it"),
    Choice::new("on-green", "waited for green"),
];
const FEELS: &[Choice] = &[
    NOT_SAID,
    Choice::new("clean", "clean"),
    Choice::new("bogged", "bogged"),
    Choice::new("spun", "spun"),
];
const FIRSTS: &[Choice] =
    &[NOT_SAID, Choice::new("yes", "first of the day"), Choice::new("no", "later")];
const REDS: &[Choice] = &[Choice::new("", "no, or the time says so"), Choice::new(YES, "yes")];
const OTHERS: &[Choice] = &[Choice::new("", "leave it out"), Choice::new(YES, "type it in")];

const TIME: &str = "the point can be left out";

/// The column of a lane.
const COLUMN: [(InLane, &str, &str, &str); 9] = [
    (InLane::Rt, "R/T", "Other R/T", "45 reads .045, -12 reads -.012"),
    (InLane::T60, "60'", "Other 60'", "2013 reads 2.013"),
    (InLane::T330, "330'", "Other 330'", TIME),
    (InLane::T660, "1/8", "Other 1/8", TIME),
    (InLane::Mph660, "MPH at the 1/8", "Other MPH, 1/8", "8395 reads 83.95"),
    (InLane::T1000, "1000'", "Other 1000'", TIME),
    (InLane::T1320, "1/4", "Other 1/4", "13464 reads 13.464"),
    (InLane::Mph1320, "MPH at the 1/4", "Other MPH, 1/4", "10504 reads 105.04"),
    (InLane::Red, "Red lamp", "Other red lamp", "where no time shows it"),
];

/// What the form of the next slip takes from the last one.
pub(super) const KEPT: [Cell; 10] = [
    Cell::Car,
    Cell::Track,
    Cell::Length,
    Cell::Scale,
    Cell::Tree,
    Cell::Lane,
    Cell::Lamps,
    Cell::FrontPsi,
    Cell::RearPsi,
    Cell::Own(InLane::Dial),
];
/// The same on the same day.
pub(super) const KEPT_THAT_DAY: [Cell; 4] =
    [Cell::Light, Cell::TemperatureF, Cell::DewPointF, Cell::StationInhg];

/// The fields, top to bottom: what stays from slip to slip, the slip's own column, how it was left,
/// the day, the other lane.
pub(super) fn fields() -> Vec<Field<EntryField>> {
    let typed = |cell, label, hint| Field::typed(EntryField::Cell(cell), label, hint);
    let one_of = |cell, label, choices| Field::choice(EntryField::Cell(cell), label, "", choices);
    let mut fields = vec![
        typed(Cell::Date, "Date", "like 2026-05-01"),
        typed(Cell::Track, "Track", "your own name for it"),
        typed(Cell::Car, "Car", "your own name for it"),
        one_of(Cell::Length, "Length", LENGTHS),
        one_of(Cell::Scale, "R/T scale", SCALES),
        one_of(Cell::Tree, "Tree", TREES),
        typed(Cell::Own(InLane::Dial), "Dial-in", "nothing at a test-and-tune"),
        one_of(Cell::Lane, "Lane", LANES),
    ];
    fields.extend(COLUMN.map(|(cell, label, _, hint)| in_lane(Cell::Own(cell), label, hint)));
    fields.extend([
        one_of(Cell::Manner, "You", MANNERS),
        one_of(Cell::Feel, "The car left", FEELS),
        one_of(Cell::FirstOfDay, "Launch", FIRSTS),
        typed(Cell::LaunchRpm, "Launch rpm", "at the moment you left"),
        typed(Cell::DepthIn, "Depth", "inches past the stage lamp's first light, or cm"),
        typed(Cell::FrontPsi, "Front tyres", "psi, or bar"),
        typed(Cell::RearPsi, "Rear tyres", "psi, or bar"),
        one_of(Cell::Lamps, "Tree's lamps", LAMPS),
        one_of(Cell::Light, "It was", LIGHTS),
        typed(Cell::TemperatureF, "Temperature", "°F, or 20 C"),
        typed(Cell::DewPointF, "Dew point", "°F, or 12 C"),
        typed(Cell::StationInhg, "Station pressure", "inHg, or hPa; not reduced to sea level"),
        typed(Cell::Note, "Note", ""),
        Field::choice(EntryField::OtherLane, "Other lane", "", OTHERS),
        typed(Cell::Other(InLane::Dial), "Other dial-in", ""),
    ]);
    fields.extend(COLUMN.map(|(cell, _, label, _)| in_lane(Cell::Other(cell), label, "")));
    fields
}

fn in_lane(cell: Cell, label: &'static str, hint: &'static str) -> Field<EntryField> {
    match cell {
        Cell::Own(InLane::Red) | Cell::Other(InLane::Red) => {
            Field::choice(EntryField::Cell(cell), label, hint, REDS)
        }
        _ => Field::typed(EntryField::Cell(cell), label, hint),
    }
}

/// Whether a cell belongs to the quarter mile alone.
pub(super) const fn of_the_quarter(cell: Cell) -> bool {
    matches!(
        cell,
        Cell::Own(InLane::T1000 | InLane::T1320 | InLane::Mph1320)
            | Cell::Other(InLane::T1000 | InLane::T1320 | InLane::Mph1320)
    )
}
