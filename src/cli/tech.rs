//! `lastamber tech`: what to ask the tech officials about.
//!
//! Owns the options and both shapes of the answer. Refuses advice: `rules` has the list.

use super::pass::Length;
use super::{CliError, print, print_json};
use crate::rules::{Applies, BodyKind, TECH_CAUTION, TechItem, TechQuestion, ask_tech};
use clap::{Args, ValueEnum};
use serde::Serialize;

/// What to ask tech about, by expected time or speed, body, model year and track length.
#[derive(Debug, Clone, Args)]
pub struct TechArgs {
    /// Expected time at the finish, seconds.
    #[arg(long, value_name = "S", allow_hyphen_values = true)]
    et: Option<f64>,

    /// Expected speed there, mph.
    #[arg(long, value_name = "MPH", allow_hyphen_values = true)]
    mph: Option<f64>,

    /// Where the finish is.
    #[arg(long, value_name = "LENGTH", default_value = "quarter")]
    length: Length,

    /// How the car is closed.
    #[arg(long, value_name = "BODY", default_value = "closed")]
    body: Body,

    /// Model year.
    #[arg(long, value_name = "YEAR", allow_hyphen_values = true)]
    model_year: Option<u16>,

    /// Prints JSON.
    #[arg(long)]
    json: bool,
}

#[derive(Debug, Clone, Copy, ValueEnum)]
enum Body {
    Closed,
    Convertible,
    TTop,
}

#[derive(Debug, Serialize)]
struct Answer {
    items: Vec<ItemAnswer>,
    caution: &'static str,
}

#[derive(Debug, Serialize)]
struct ItemAnswer {
    item: &'static str,
    applies: Option<bool>,
    threshold: String,
    source: &'static str,
    year: u16,
}

/// Runs the sub-command.
///
/// # Errors
/// [`CliError`] for a time, a speed or a year that is none.
pub fn run(args: &TechArgs) -> Result<(), CliError> {
    let within = |name: &str, value: Option<f64>, low: f64, high: f64, unit: &str| match value {
        Some(value) if !(low..=high).contains(&value) => Err(CliError::data(
            format!("{name} is {value}; give {low} to {high} {unit}").trim_end().to_owned(),
        )),
        fine => Ok(fine),
    };
    let year = args.model_year.map(f64::from);
    within("--model-year", year, 1886.0, 2200.0, "")?;
    let question = TechQuestion {
        et_s: within("--et", args.et, 2.0, 60.0, "s")?,
        mph: within("--mph", args.mph, 10.0, 400.0, "mph")?,
        length: args.length.into(),
        body: match args.body {
            Body::Closed => BodyKind::Closed,
            Body::Convertible => BodyKind::Convertible,
            Body::TTop => BodyKind::TTop,
        },
        model_year: args.model_year,
    };
    let items = ask_tech(&question);
    if args.json {
        let items = items.into_iter().map(ItemAnswer::from).collect();
        return print_json(&Answer { items, caution: TECH_CAUTION });
    }
    print(&in_words(&items))
}

impl From<TechItem> for ItemAnswer {
    fn from(item: TechItem) -> Self {
        let TechItem { item, applies, threshold, source, year, .. } = item;
        let applies = match applies {
            Applies::Yes => Some(true),
            Applies::No => Some(false),
            Applies::NotKnown => None,
        };
        Self { item, applies, threshold, source, year }
    }
}

fn in_words(items: &[TechItem]) -> String {
    let mut text = String::from("Ask tech about\n");
    for item in items {
        let mark = match item.applies {
            Applies::Yes => "yes",
            Applies::No => "no ",
            Applies::NotKnown => "?  ",
        };
        text.push_str(&format!(
            "  {mark}  {}: {} ({}, {})\n",
            item.item, item.threshold, item.source, item.year
        ));
        if !item.note.is_empty() {
            text.push_str(&format!("       {}\n", item.note));
        }
    }
    text + TECH_CAUTION
}
