//! The page Aim: how hard to push.
//!
//! Owns its sentence and its order. On a test-and-tune there is no winner on it and no odds.

use super::parts::{
    curve_plot, levers_table, push_end, push_styles, risks_table, sources_table, views_table,
};
use super::words::{
    aim_words, chance, count, counted_words, counts_words, flat_words, light, one_in, rests_on,
    setup_words,
};
use crate::report::advice::headline_sentence;
use crate::report::page::{Block, Form, Page};
use crate::strategy::aim::Headline;
use crate::strategy::desk::{Desk, Told, ViewTold, on_the_slider};
use crate::strategy::launches::{Source, View};
use crate::trial::Style;

/// Aim with the slider at `aim_s`, s earlier than now.
pub fn aim_page(desk: &Desk, aim_s: f64) -> Page {
    let aim_s = on_the_slider(aim_s);
    match desk.main().and_then(|told| Some((told, told.view(View::AtTheTrack)?))) {
        Some((told, view)) => full(desk, told, view, aim_s),
        None => without_an_answer(desk, "how hard to push"),
    }
}

fn full(desk: &Desk, told: &Told, view: &ViewTold, aim_s: f64) -> Page {
    let mut page = Page::new(sentence(desk, told, view));
    page.text(format!("{} {}", rests_on(desk), at_stake(desk, view)));
    let style = desk.asked.setup.style;
    if style == Style::React && view.at_best.best.flat_low_s > 0.0 && desk.asked.against.is_some() {
        page.text("A reaction cannot be willed earlier: the levers below are the ways there.");
    }
    page.text(at_slider(desk, view, aim_s));
    page.push(Block::Plot(curve_plot(desk, told, view, aim_s)));
    page.note(plot_note(told));
    page.push(Block::Table(views_table(desk, told, aim_s)));
    page.push(Block::Table(risks_table(view)));
    if let Some(levers) = levers_table(desk) {
        page.push(Block::Table(levers));
    }
    push_styles(&mut page, desk);
    if let Some(sources) = sources_table(desk) {
        page.push(Block::Table(sources));
    }
    push_end(&mut page, desk, Some(told));
    page
}

/// The first sentence.
fn sentence(desk: &Desk, told: &Told, view: &ViewTold) -> String {
    let best = &view.at_best.best;
    let stay = best.holds_now();
    let race = desk.asked.against.is_some();
    let headline = if race && !stay { &told.headline_at_best } else { &told.headline };
    let place = match told.source {
        Source::Practice => "At your track",
        Source::Slips => "By your slips",
    };
    let Headline::Known(red) = headline else {
        let mut sentence = match told.source {
            Source::Practice => headline_sentence(headline),
            Source::Slips => by_slips(headline),
        };
        if race && !stay {
            sentence +=
                &format!(" As far as can be told, {} wins most.", aim_words(best.earlier_s));
        }
        return sentence;
    };
    if !race {
        return match told.source {
            Source::Practice => headline_sentence(headline),
            Source::Slips => by_slips(headline),
        };
    }
    let one_in = one_in(red.value);
    if stay {
        return format!(
            "{place}: aim as you do now; nothing wins noticeably more. Red in {one_in}."
        );
    }
    format!("{place}: {} wins most rounds, red in {one_in}.", aim_words(best.earlier_s))
}

fn by_slips(headline: &Headline) -> String {
    match headline {
        Headline::Known(risk) => format!("By your slips: red {}.", chance(risk)),
        Headline::NotKnown { risk, slips } => format!(
            "Not known from your slips yet: {} would tell. (Red {}.)",
            count(slips.unwrap_or(1), "more slip", "more slips"),
            chance(risk)
        ),
    }
}

/// What the best aim brings, in a race; the best light without one.
fn at_stake(desk: &Desk, view: &ViewTold) -> String {
    let (best, red) = (&view.at_best.best, chance(&view.at_best.red));
    if desk.asked.against.is_none() {
        let good = Form::Light.words(desk.asked.better_than_s);
        return format!(
            "A light from .000 to {good} is likeliest {}: {}, red {red} there.",
            aim_words(best.earlier_s),
            chance(&view.at_best.win)
        );
    }
    format!(
        "Best aim {}: wins {}, red {red} there (90 %). {}",
        aim_words(best.earlier_s),
        chance(&view.at_best.win),
        flat_words(view)
    )
}

fn at_slider(desk: &Desk, view: &ViewTold, aim_s: f64) -> String {
    let good = Form::Light.words(desk.asked.better_than_s);
    let win = match view.curve.win(aim_s) {
        Some(win) => format!(", win {}", chance(&win)),
        None => String::new(),
    };
    format!(
        "Slider {}: red {}, light when green {}, better than {good} in {}{win}.",
        aim_words(aim_s),
        chance(&view.curve.red(aim_s)),
        light(&view.curve.green_light_s(aim_s)),
        chance(&view.curve.better(aim_s))
    )
}

fn plot_note(told: &Told) -> &'static str {
    match told.source {
        Source::Practice => {
            "At the track in this car. The ticks are your launches: where the slider passes one, it \
             would have been red."
        }
        Source::Slips => {
            "The ticks are your slips: where the slider passes one, it would have been red."
        }
    }
}

/// Fewer than ten launches and ten lights on slips: counts, and what fills the page.
pub fn without_an_answer(desk: &Desk, question: &str) -> Page {
    let (launches, slips) = (desk.runs.counts.launches, desk.slips.counts.lights);
    if desk.practice_counts.is_none() && desk.slip_counts.is_none() {
        let mut page = Page::new(format!("No launches yet, so nobody can say {question}."));
        page.text(format!("This is about {}.", setup_words(&desk.asked.setup)));
        page.push(Block::Points(vec![
            "Make ten launches on the lane: five minutes, and there is a first answer.".to_owned(),
            "Or enter ten time slips of this car: they need no practice.".to_owned(),
            "Describe your car in My car: it is half of every light.".to_owned(),
        ]));
        push_left_out(&mut page, desk);
        return page;
    }
    let more = count(desk.missing(), "more launch", "more launches");
    let mut page = Page::new(format!("Counts only: {more}, and the answer begins."));
    page.text(rests_on(desk));
    if let Some(counted) = &desk.practice_counts {
        page.text(format!("At home, in this car: {}", counted_words(counted, ["start", "starts"])));
    }
    if let Some(counted) = &desk.slip_counts {
        page.text(format!("By your slips: {}", counted_words(counted, ["slip", "slips"])));
    }
    page.heading("What fills this page");
    let mut points = vec![format!(
        "{more} in this set-up ({launches} of 10 so far): then risk, aims and the plot are here."
    )];
    if slips < 10 {
        let slips_more = count(10 - slips, "more slip", "more slips");
        points.push(format!("Or {slips_more} of this car: they are told on their own."));
    }
    if desk.runs.days() < 3 {
        points
            .push("Launches on three days: then it is known how much your days differ.".to_owned());
    }
    if desk.car.assumed {
        points.push("The questions of My car: the car is half of every light.".to_owned());
    }
    page.push(Block::Points(points));
    push_left_out(&mut page, desk);
    page
}

fn push_left_out(page: &mut Page, desk: &Desk) {
    let counts = counts_words(&desk.runs.counts, &desk.runs.guess_test);
    if !counts.is_empty() {
        page.note(format!("Of your runs: {}.", counts.join(", ")));
    }
}
