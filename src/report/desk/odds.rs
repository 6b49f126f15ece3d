//! The page Odds: against whom, and what winning takes.
//!
//! Owns its sentence and its order. Without an opponent it asks for one.

use super::aim::without_an_answer;
use super::parts::{curve_plot, levers_table, push_end, sources_table, views_table};
use super::words::{
    about, aim_words, chance, flat_words, length_words, one_in, race_words, rests_on, rival_words,
};
use crate::report::page::{Block, Page, Table};
use crate::strategy::aim::Headline;
use crate::strategy::desk::{Against, Desk, Told, ViewTold, on_the_slider};
use crate::strategy::launches::View;

/// Odds with the slider at `aim_s`, s earlier than now.
pub fn odds_page(desk: &Desk, aim_s: f64) -> Page {
    let aim_s = on_the_slider(aim_s);
    let Some(against) = &desk.asked.against else { return without_an_opponent() };
    match desk.main().and_then(|told| Some((told, told.view(View::AtTheTrack)?))) {
        Some((told, view)) => full(desk, against, told, view, aim_s),
        None => {
            let mut page = without_an_answer(desk, "how you would do against anybody");
            page.note(format!(
                "Asked: against {}. {}",
                rival_words(&against.rival),
                race_words(&against.race)
            ));
            page
        }
    }
}

fn without_an_opponent() -> Page {
    let mut page = Page::new("Nobody in the other lane yet: choose an opponent.");
    page.text(
        "A level (first-timer, weekend racer, sharp, hasty, late), somebody like you, or the lights \
         from a rival's slips. On a test-and-tune there is no winner: Aim is the page for that.",
    );
    page
}

fn full(desk: &Desk, against: &Against, told: &Told, view: &ViewTold, aim_s: f64) -> Page {
    let who = rival_words(&against.rival);
    let mut page = Page::new(sentence(&who, told, view));
    page.text(format!("{} {}", race_words(&against.race), rests_on(desk)));
    if let Some(win) = view.curve.win(aim_s) {
        let red = chance(&view.curve.red(aim_s));
        page.text(format!("Slider {}: win {}, red {red}.", aim_words(aim_s), chance(&win)));
    }
    page.push(Block::Plot(curve_plot(desk, told, view, aim_s)));
    page.push(Block::Table(best_table(against, told)));
    page.note(flat_words(view));
    page.push(Block::Table(views_table(desk, told, aim_s)));
    page.text(worth(view));
    if let Some(levers) = levers_table(desk) {
        page.push(Block::Table(levers));
        page.note(format!("ET over the {}.", length_words(desk.asked.length)));
    }
    if let Some(sources) = sources_table(desk) {
        page.push(Block::Table(sources));
    }
    push_end(&mut page, desk, Some(told));
    page
}

fn sentence(who: &str, told: &Told, view: &ViewTold) -> String {
    let (best, now) = (&view.at_best, &view.at_best.now);
    let not_known = match told.headline_at_best {
        Headline::Known(_) => "",
        Headline::NotKnown { .. } => {
            " Your car's red lights are not known yet, so take it as a guess."
        }
    };
    if best.best.holds_now() {
        return format!(
            "Against {who} you win {} of the rounds as you aim now, and no aim wins noticeably \
             more.{not_known}",
            about(now.value)
        );
    }
    format!(
        "Against {who} you win {} of the rounds as you aim now, {} if you aim {}, red in {}.{not_known}",
        about(now.value),
        about(best.win.value),
        aim_words(best.best.earlier_s),
        one_in(best.red.value)
    )
}

/// The best aim in every view.
fn best_table(against: &Against, told: &Told) -> Table {
    let rounds = format!("all {} rounds", against.rounds);
    let mut columns = vec!["", "aim", "win", "red"];
    if against.rounds > 1 {
        columns.push(&rounds);
    }
    let mut table = Table::new("The aim that wins most", &columns);
    for view in told.views() {
        let at = &view.at_best;
        let mut row = vec![
            view.view.name().to_owned(),
            aim_words(at.best.earlier_s),
            chance(&at.win),
            chance(&at.red),
        ];
        if against.rounds > 1 {
            row.push(chance(&at.survive));
        }
        table.push(row);
    }
    table
}

/// A millisecond of spread against a millisecond of aim.
fn worth(view: &ViewTold) -> String {
    let in_a_thousand = |x: f64| format!("{:.1}", 1000.0 * x.max(0.0));
    let (spread, aim) = (&view.at_best.worth_of_1ms_spread, &view.at_best.worth_of_1ms_aim);
    format!(
        "At the best aim a millisecond less spread wins {} rounds in a thousand more ({} to {}); aiming \
         a millisecond beside it loses {} ({} to {}).",
        in_a_thousand(spread.value),
        in_a_thousand(spread.low),
        in_a_thousand(spread.high),
        in_a_thousand(aim.value),
        in_a_thousand(aim.low),
        in_a_thousand(aim.high)
    )
}
