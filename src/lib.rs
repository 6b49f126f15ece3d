//! Last Amber: rehearse the drag-strip start line and know what the numbers are worth.
//!
//! The identity every room serves: **RT = driver part + car part − interval**, the parts measured
//! and stored apart and added only at the end.
//!
//! Rooms in the order data flows; a room uses only rooms to its left, and `units`, `seed`,
//! `progress` and `form`:
//! `rules → car → beams → onset → press → controls → tree → trial → drill → slips → history → stats → strategy → demo → report │ app`.
//! `sound` stands by itself and uses nothing but `seed`.
//! Only `app` knows the engine; it exists only with the feature of the same name.

pub mod beams;
pub mod car;
pub mod controls;
pub mod demo;
pub mod drill;
pub mod form;
pub mod history;
pub mod onset;
pub mod press;
pub mod progress;
pub mod report;
pub mod rules;
pub mod seed;
pub mod slips;
pub mod sound;
pub mod stats;
pub mod strategy;
pub mod tree;
pub mod trial;
pub mod units;

#[cfg(feature = "app")]
pub mod app;
pub mod cli;
