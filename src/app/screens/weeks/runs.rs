//! The runs of a session as a list: to be seen again, left out with a reason, taken in again.
//!
//! Owns the list on the screen and the line that leaves a run out. Refuses to leave one out without a
//! reason.

use super::super::{form_ui, ui};
use crate::app::clock;
use crate::form::{Field, Form};
use crate::history::{self, ExclusionLine, HistoryError};
use crate::report::review::run_words;
use crate::strategy::weeks::{Review, ReviewRun};
use bevy_egui::egui::Ui;

/// Rows drawn at once, around the chosen one.
const ROWS: usize = 9;

/// The one field of the form that asks why.
pub type Reason = Form<()>;

/// An empty form that asks why.
pub fn reason_form() -> Reason {
    Form::new(vec![Field::typed((), "Why", "in your words: the phone rang, the wrong key …")])
}

/// The line that leaves a run out.
pub fn leaving_out(run: &str, why: &str) -> Result<ExclusionLine, HistoryError> {
    ExclusionLine::leaving_out(history::new_id(), clock::wall_time(), run, why)
}

/// The line that takes it in again.
pub fn taking_in(run: &str) -> ExclusionLine {
    ExclusionLine::taking_in(history::new_id(), clock::wall_time(), run, "")
}

/// The list; the row that was clicked.
pub fn runs_ui(page: &mut Ui, review: &Review, at: usize, news: Option<&str>) -> Option<usize> {
    ui::headline(page, "The runs of this session.");
    if let Some(news) = news {
        ui::body(page, news);
    }
    let first = at.saturating_sub(ROWS / 2).min(review.runs.len().saturating_sub(ROWS));
    let mut clicked = None;
    for (i, run) in review.runs.iter().enumerate().skip(first).take(ROWS) {
        if ui::choice(page, &run_words(i, run), i == at) {
            clicked = Some(i);
        }
    }
    ui::aside(page, &format!("Run {} of {}.", at + 1, review.runs.len()));
    let leave = if is_out(review, at) { "X: count it again" } else { "X: leave it out" };
    ui::keys(
        page,
        &format!("\u{2191} \u{2193}: run    Enter: see it again    {leave}    Esc: the review"),
    );
    clicked
}

/// Whether the driver leaves that run out.
pub fn is_out(review: &Review, at: usize) -> bool {
    review.runs.get(at).is_some_and(|run| run.left_out.is_some())
}

/// The form that asks why.
pub fn reason_ui(page: &mut Ui, form: &mut Reason, number: usize, run: &ReviewRun) {
    ui::headline(page, "Leave this run out?");
    ui::body(page, &run_words(number, run));
    ui::aside(
        page,
        "It stays in your history and can be counted again at any time. A red stays counted as a red. \
         Every summary says how many runs were left out, and the risk with them back in.",
    );
    page.add_space(8.0);
    form_ui::fields_ui(page, form.fields(), ());
    ui::keys(page, "Enter: leave it out    Esc: let it count");
}
