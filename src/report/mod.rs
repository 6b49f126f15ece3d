//! Results in words and figures for people, one wording for every place that shows them.
//!
//! Owns sentences, pages as data (`page`) and the colours. Refuses computing and drawing.

pub mod advice;
pub mod desk;
pub mod page;
pub mod palette;
pub mod rig;

pub use rig::{RigReport, rig_report};
