//! Stories through the whole app without a window: the chain of systems, saving before showing, breaks,
//! hitches, drills.

mod drills;
mod first_run;
mod rig;
mod soak;
mod start_line;
mod two_people;
