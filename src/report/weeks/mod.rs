//! The page Weeks: am I getting steadier?
//!
//! Owns what stands on it and in which order, for none, one and many sessions. Refuses computing: a
//! [`Weeks`] has everything.

mod parts;
mod plots;
mod words;

pub(super) use words::unlike_words;
pub use words::{changed_words, headline};

use super::page::{Block, Page};
use crate::strategy::weeks::{Compared, Weeks};

/// The page.
pub fn weeks_page(weeks: &Weeks) -> Page {
    let mut page = Page::new(headline(weeks));
    if weeks.sessions.is_empty() {
        page.text("Launch on a few days, three is better than one long one. Every session then has a line here.");
        return page;
    }
    parts::push_unlike(&mut page, weeks);
    if let Some(compared) = &weeks.compared {
        push_compared(&mut page, weeks, compared);
    }
    page.heading("Red lights");
    parts::push_reds(&mut page, weeks);
    page.heading("Days");
    parts::push_calendar(&mut page, weeks);
    if let Some(compared) = &weeks.compared {
        page.heading("What a session does to you");
        parts::push_within(&mut page, compared);
        parts::push_bests(&mut page, weeks, &compared.bests);
    }
    page.heading("Sessions");
    page.push(Block::Table(parts::sessions_table(weeks)));
    parts::push_end(&mut page, weeks);
    page
}

fn push_compared(page: &mut Page, weeks: &Weeks, compared: &Compared) {
    page.heading("Steadier?");
    page.text(words::spread_sentence(compared));
    if !compared.charted.is_empty() {
        page.push(Block::Plot(plots::spread_plot(weeks, compared)));
    }
    page.heading("Earlier?");
    page.text(words::level_sentence(compared));
    if !compared.charted.is_empty() {
        page.push(Block::Plot(plots::level_plot(weeks, compared)));
    }
    page.text(words::learning_sentence(weeks, compared));
    for note in words::odd_notes(weeks, compared) {
        page.note(note);
    }
}
