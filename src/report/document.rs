//! Pages bound together: what a report is before it is printed.
//!
//! Owns the order and the mark of a demo. Refuses how it looks.

use super::page::Page;

/// A report.
#[derive(Debug, Clone, PartialEq, Default)]
pub struct Document {
    /// Its title.
    pub title: String,
    /// What it covers, a line each.
    pub about: Vec<String>,
    /// Everything in it is made up.
    pub demo: bool,
    /// The pages with their names, in order.
    pub pages: Vec<(String, Page)>,
}

/// What is said over everything made up.
pub const DEMO_WORDS: &str = "DEMO: everything here is made up.";
