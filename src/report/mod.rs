//! Results in words and figures for people, one wording for every place that shows them.
//!
//! Owns sentences, pages as data (`page`) and the colours. Refuses computing and drawing.

pub mod advice;
pub mod desk;
pub mod home_track;
pub mod my_car;
pub mod page;
pub mod palette;
pub mod rig;
pub mod slip;
pub mod slip_book;
pub mod visit;
pub mod words;

pub use rig::{RigReport, rig_report};
