//! Time slips: real ones and practice ones, how they come in, what is asked about them.
//!
//! Owns the facts of a slip, their order and words, the checks that ask, tables of slips, practice
//! slips, explanations, and the pages a newcomer reads before a first visit. Refuses statistics, and
//! to change a slip: a correction is another one (`history` keeps both).

mod cells;
mod checks;
pub mod entry;
mod error;
mod explain;
mod field;
pub mod first_visit;
mod import;
mod practice;
mod quick;
mod slip;

pub use cells::{Cell, InLane, Shape};
pub use checks::{Column, Doubt, Question, check};
pub use error::SlipsError;
pub use explain::{Explanation, explain};
pub use field::{Field, PrintedLine};
pub use import::{ImportLine, ImportOutcome, ImportReport, read_table, write_table};
pub use practice::{OtherRun, practice_pass, practice_slip};
pub use quick::{FASTEST_MPH, QUICK_ORDER, read_column};
pub use slip::{
    Daylight, LampKind, LaneSlip, LaunchFeel, Manner, Slip, SlipOrigin, SlipTree, Weather,
};
