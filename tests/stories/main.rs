//! Stories of the start line, each told through the whole timed machine.
//!
//! Owns what a driver would see happen, from rolling in to the outcome. Refuses clocks, windows and
//! frames: time is handed in.

mod breaking_off;
mod countdown;
mod double_red;
mod judging;
mod other_driver;
mod screen;
mod staging;
mod support;
mod waiting;
