//! The pages Aim and Odds.
//!
//! Owns what stands on them and in which order, for every state there is: enough launches, a few,
//! none. Refuses computing: a `Desk` has everything, and a page is made anew for every place of the
//! slider.

mod aim;
mod odds;
mod parts;
mod words;

pub use aim::aim_page;
pub use odds::odds_page;
pub(super) use words::counts_words;
pub use words::{setup_words, start_words};
