//! Results in words and figures for people, one wording for every place that shows them.
//!
//! Owns sentences. Refuses computing and drawing.

pub mod advice;
pub mod rig;

pub use rig::{RigReport, rig_report};
