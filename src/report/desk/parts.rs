//! Parts that Aim and Odds share: the plot, the views, the sources, levers, counts.
//!
//! Owns what is in them. Refuses the order on a page.

use super::words::{
    about, aim_range_words, aim_words, chance, change, cold_words, count, counted_words,
    counts_words, lever_name, lever_note, light, source_words,
};
use crate::report::advice::{practise_sentence, verdict_sentence};
use crate::report::page::{Axis, Form, Hue, LayerKind, Page, Plot, Table};
use crate::stats::Estimate;
use crate::strategy::desk::{AIMS_S, Desk, ReactOrTime, Told, ViewTold};
use crate::strategy::launches::{Source, View};
use crate::strategy::verdict::{By, Verdict};

/// The curve of a view with the slider where it stands.
pub fn curve_plot(desk: &Desk, told: &Told, view: &ViewTold, aim_s: f64) -> Plot {
    let title = match view.curve.wins() {
        Some(_) => "Chance to win the round and to be red, by aim",
        None => "Chance to be red, by aim",
    };
    let x = Axis::new("aim, ms", Form::Earlier).from_to(AIMS_S.0, AIMS_S.1);
    let y = Axis::new("", Form::Percent).from_to(0.0, 1.0);
    let rows = view.curve.rows();
    let red = |of: fn(&Estimate) -> f64| rows.iter().map(move |row| [row.earlier_s, of(&row.red)]);
    let band = rows.iter().map(|row| [row.earlier_s, row.red.low, row.red.high]).collect();
    let mut plot = Plot::new(title, x, y);
    if let Some(wins) = view.curve.wins() {
        let best = &view.at_best.best;
        let inside = |aim: f64| aim.clamp(AIMS_S.0, AIMS_S.1);
        let stripe = LayerKind::Stripe(inside(best.flat_low_s), inside(best.flat_high_s));
        plot = plot.with("as good as the best", Hue::Driver, stripe);
        plot = plot.with("", Hue::Risk, LayerKind::Band(band));
        let line = rows.iter().zip(wins).map(|(row, win)| [row.earlier_s, win.value]).collect();
        plot = plot.with("chance to win the round", Hue::Text, LayerKind::Line(line));
    } else {
        plot = plot.with("", Hue::Risk, LayerKind::Band(band));
    }
    let mut dots = vec![[aim_s, view.curve.red(aim_s).value]];
    dots.extend(view.curve.win(aim_s).map(|win| [aim_s, win.value]));
    plot.with("red light", Hue::Risk, LayerKind::Line(red(|e| e.value).collect()))
        .with("", Hue::Muted, LayerKind::Rug(rug(desk, told.source, view.view)))
        .with("", Hue::Text, LayerKind::Upright(aim_s))
        .with("", Hue::Text, LayerKind::Points(dots))
}

/// Where own launches turn red, as far as they lie on the plot.
fn rug(desk: &Desk, source: Source, view: View) -> Vec<f64> {
    let mut rug = desk.rug_s(source, view);
    rug.retain(|aim| (AIMS_S.0..=AIMS_S.1).contains(aim));
    rug
}

/// The named views beside each other at the slider.
pub fn views_table(desk: &Desk, told: &Told, aim_s: f64) -> Table {
    let good = format!("better than {}", Form::Light.words(desk.asked.better_than_s));
    let mut columns = vec!["", "red", "light when green", good.as_str()];
    if desk.asked.against.is_some() {
        columns.push("win");
    }
    let mut table = Table::new(format!("From near to far, {}", aim_words(aim_s)), &columns);
    for view in told.views().iter().filter(|view| shown(told, view.view)) {
        let mut row = vec![
            view.view.name().to_owned(),
            chance(&view.curve.red(aim_s)),
            light(&view.curve.green_light_s(aim_s)),
            chance(&view.curve.better(aim_s)),
        ];
        row.extend(view.curve.win(aim_s).map(|win| chance(&win)));
        table.push(row);
    }
    table
}

/// Slips are the track: for them it is the next session.
fn shown(told: &Told, view: View) -> bool {
    told.source == Source::Practice || view != View::NextSession
}

/// The aims for accepted risks.
pub fn risks_table(view: &ViewTold) -> Table {
    let win = view.curve.wins().is_some();
    let columns = ["red in", "aim", "somewhere between", "light when green", "win"];
    let columns = &columns[..if win { 5 } else { 4 }];
    let mut table = Table::new("How early for a risk you accept", columns);
    for aim in &view.for_risk {
        let e = &aim.earlier_s;
        let on_curve = (AIMS_S.0..=AIMS_S.1).contains(&e.value);
        let at = |words: String| if on_curve { words } else { "off the scale".to_owned() };
        let mut row = vec![
            about(aim.risk),
            aim_words(e.value),
            aim_range_words(e.low, e.high),
            at(light(&view.curve.green_light_s(e.value))),
        ];
        row.extend(view.curve.win(e.value).map(|win| at(chance(&win))));
        table.push(row);
    }
    table
}

/// Practice and slips beside each other; `None` unless both have something to say.
pub fn sources_table(desk: &Desk) -> Option<Table> {
    if desk.practice_counts.is_none() || desk.slip_counts.is_none() {
        return None;
    }
    let columns = ["", source_words(Source::Practice), source_words(Source::Slips)];
    let mut table = Table::new("Practice and slips, never mixed", &columns);
    let each = |of: &dyn Fn(&Told) -> String| {
        [&desk.practice, &desk.slips_alone].map(|told| match told {
            Some(told) => of(told),
            None => "too few".to_owned(),
        })
    };
    let counts = [&desk.practice_counts, &desk.slip_counts].map(|counted| match counted {
        Some(counted) => format!("{} of {}", counted.reds, counted.share.n),
        None => String::new(),
    });
    let track = |told: &Told, of: &dyn Fn(&ViewTold) -> String| {
        told.view(View::AtTheTrack).map_or_else(String::new, of)
    };
    let red = each(&|told| track(told, &|view| chance(&view.curve.red(0.0))));
    let green = each(&|told| track(told, &|view| light(&view.curve.green_light_s(0.0))));
    let mut push = |name: &str, [practice, slips]: [String; 2]| {
        table.push([name.to_owned(), practice, slips]);
    };
    push("red as counted", counts);
    push("red at the track, as now", red);
    push("light when green", green);
    if desk.asked.against.is_some() {
        let best = each(&|told| track(told, &|view| aim_words(view.at_best.best.earlier_s)));
        push("best aim", best);
    }
    Some(table)
}

/// Levers as pairs.
pub fn levers_table(desk: &Desk) -> Option<Table> {
    let first = desk.levers.first()?;
    let redialled = desk.levers.iter().any(|l| l.price.is_some_and(|p| p.win_redialled.is_some()));
    let mut columns = vec!["", "RT", "ET", "red"];
    if first.price.is_some() {
        columns.push("win");
    }
    if redialled {
        columns.push("win, dialled anew");
    }
    let title = format!("What would make you {}", aim_words(-first.lever.rt_s));
    let mut table = Table::new(title, &columns);
    for priced in &desk.levers {
        let mut row = vec![
            format!("{} ({})", lever_name(priced), lever_note(priced)),
            change("", priced.lever.rt_s).trim().to_owned(),
            change("", priced.lever.et_s).trim().to_owned(),
            chance(&priced.red),
        ];
        if let Some(price) = &priced.price {
            row.push(chance(&price.win));
            row.extend(price.win_redialled.map(|win| chance(&win)));
        }
        table.push(row);
    }
    Some(table)
}

/// React or time it.
pub fn push_styles(page: &mut Page, desk: &Desk) {
    page.heading("React or time it?");
    match &desk.react_or_time_it {
        ReactOrTime::NoRhythm => {
            page.text(
                "On this tree all ambers light at once: there is no rhythm to time by, so react.",
            );
        }
        ReactOrTime::NoBlocks => {
            page.text(
                "Not asked yet. Drive ten launches by reaction, then ten by timing, and the same \
                 once more: blocks in turn compare the two fairly.",
            );
        }
        ReactOrTime::Told(verdict) => push_verdict(page, desk, verdict),
    }
}

fn push_verdict(page: &mut Page, desk: &Desk, verdict: &Verdict) {
    page.text(verdict_sentence(verdict));
    let worth = &verdict.worth;
    let what = if desk.asked.against.is_some() { "races" } else { "good lights" };
    let points = |x: f64| format!("{:.1}", 100.0 * x);
    page.text(format!(
        "Timing, aimed best ({}), is worth {} {what} in a hundred more than reacting ({} to {}).",
        aim_words(verdict.best_earlier_s),
        points(worth.value),
        points(worth.low),
        points(worth.high)
    ));
    let mut table = Table::new(
        "The chance that timing is the better of the two",
        &["", "this form", "next session", "at the track in this car"],
    );
    for (by, name) in [
        (By::Stakes, if desk.asked.against.is_some() { "by winning" } else { "by good lights" }),
        (By::RiskAtEqualLight, "by red lights at the same mean light"),
        (By::Spread, "by an even launch"),
    ] {
        let of = |view: View| {
            let found = verdict.judgements.iter().find(|j| j.by == by && j.view == view);
            found.map_or_else(String::new, |judged| about(judged.time_it_right))
        };
        let row = [View::ThisForm, View::NextSession, View::AtTheTrack].map(of);
        table.push(std::iter::once(name.to_owned()).chain(row));
    }
    page.push(crate::report::page::Block::Table(table));
    let parts: Vec<String> =
        verdict.flips_at_car_part_s.iter().map(|part| Form::Light.words(*part)).collect();
    if !parts.is_empty() {
        let now = Form::Light.words(desk.car.part.mean_s);
        page.note(format!(
            "The two are worth the same with a car part of {}; yours is {now}.",
            parts.join(" or ")
        ));
    }
}

/// What to practise next, what did not count, and every doubt.
pub fn push_end(page: &mut Page, desk: &Desk, told: Option<&Told>) {
    page.heading("What to practise next");
    page.text(practise_sentence(&desk.next));
    let counts = counts_words(&desk.runs.counts, &desk.runs.guess_test);
    if !counts.is_empty() {
        page.note(format!("Of your runs: {}.", counts.join(", ")));
    }
    if let Some(red) = &desk.red_without_exclusions {
        page.note(format!("With the excluded runs back in: red {} in this form.", chance(red)));
    }
    if let Some(counted) = &desk.practice_counts {
        page.note(format!("Counted: {}", counted_words(counted, ["start", "starts"])));
    }
    if desk.runs.colours.green_to_red + desk.runs.colours.red_to_green > 0 {
        page.note(format!("Read with the delay of today, {}.", desk.runs.colours));
    }
    if let Ok(Some(share)) = desk.runs.guess_test.share(crate::strategy::desk::LEVEL) {
        page.note(format!(
            "Guess test: left in {} of {} blank runs, so at least {} are guesses.",
            desk.runs.guess_test.guesses,
            desk.runs.guess_test.blanks,
            chance(&share)
        ));
    }
    if let Some(cold) = told.and_then(cold_words) {
        page.note(cold);
    }
    if desk.slips.counts.not_said > 0 {
        page.note(format!(
            "{} of the slips do not say driver, car, tree or how you left; they are taken as fitting.",
            desk.slips.counts.not_said
        ));
    }
    if desk.slips.counts.of_others > 0 {
        page.note(format!(
            "{} left out: of another driver, car, tree, launch edge or way to leave.",
            count(desk.slips.counts.of_others, "slip", "slips")
        ));
    }
    if desk.car.assumed && desk.practice.is_some() {
        page.note("Part of the car is assumed: My car has the questions.");
    }
    let mut said: Vec<String> = Vec::new();
    for view in told.iter().flat_map(|told| told.views()) {
        said.extend(view.caveats.iter().map(ToString::to_string));
    }
    said.extend(desk.doubts.iter().map(ToString::to_string));
    let mut seen = std::collections::HashSet::new();
    for doubt in said.into_iter().filter(|doubt| seen.insert(doubt.clone())) {
        page.note(capital(&doubt));
    }
}

/// A doubt as a sentence.
fn capital(words: &str) -> String {
    let mut letters = words.chars();
    let first: String = letters.next().into_iter().flat_map(char::to_uppercase).collect();
    format!("{first}{}.", letters.as_str())
}
