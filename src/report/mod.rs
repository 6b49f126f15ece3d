//! Results in words and figures for people, one wording for every place that shows them.
//!
//! Owns sentences, pages as data (`page`) and the colours. Refuses computing and drawing.

pub mod advice;
pub mod beside;
pub mod card;
pub mod controls;
pub mod desk;
mod document;
mod figure;
pub mod help;
pub mod hold;
pub mod home_track;
mod html;
pub mod my_car;
pub mod night;
pub mod pacing;
pub mod page;
pub mod palette;
mod picture;
mod plot_png;
mod plot_table;
pub mod replay;
pub mod review;
pub mod rig;
mod safe_text;
pub mod slip;
pub mod slip_book;
mod svg;
mod text;
mod text_plot;
pub mod visit;
pub mod weeks;
pub mod welcome;
pub mod words;

pub use document::{DEMO_WORDS, Document};
pub use html::html;
pub use picture::PictureError;
pub use plot_png::png_file;
pub use plot_table::plot_csv;
pub use rig::{RigReport, rig_report};
pub use safe_text::{escaped, tame};
pub use svg::{svg, svg_file};
pub use text::{page_text, text};
