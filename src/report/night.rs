//! Track night: what the lane says between the five launches, and the page after the last.
//!
//! Owns the words. Refuses every number of a launch until the night is over.

use super::advice::{chance, percent};
use super::page::{Block, Form, Page, Table};
use super::slip::{SIMULATED, paper};
use super::words::{light_floored, light_with_interval, signed_ms};
use crate::drill::Moment;
use crate::drill::night::LAUNCHES;
use crate::strategy::night::{Night, NightLaunch, Ordinary};
use crate::tree::Outcome;

/// What the lane says; `cut_short` is the key that ends a pause, as the window names it.
pub fn moment_sentence(moment: Moment, cut_short: &str) -> String {
    match moment {
        Moment::Waiting { launch, left } => {
            let seconds = left.as_secs_f64();
            let left = match (seconds / 60.0).ceil() {
                minutes if minutes > 1.0 => format!("about {minutes:.0} minutes"),
                _ => "less than a minute".to_owned(),
            };
            format!(
                "Launch {launch} of {LAUNCHES} in {left}. Walk about, do not practise. \
                 {cut_short}: go now, and it does not count as cold"
            )
        }
        Moment::Called { launch, cold: true } => {
            format!("Launch {launch} of {LAUNCHES}: you are called to the line")
        }
        Moment::Called { launch, cold: false } => {
            format!("Launch {launch} of {LAUNCHES}, not cold: you are called to the line")
        }
        Moment::Over => "That was the night. Here are your slips".to_owned(),
    }
}

/// What stands where a verdict would, after a run that was `counted` or has to be made again.
pub fn no_verdict_sentence(made: usize, counted: bool) -> String {
    if !counted {
        return "That run is none of the five: it is made again.".to_owned();
    }
    match LAUNCHES.saturating_sub(made) {
        0 => "All five are in.".to_owned(),
        1 => "It is in. The slips come after the next one.".to_owned(),
        left => format!("It is in. The slips come after {left} more."),
    }
}

/// The page of a night; while it runs, that it does.
pub fn night_page(night: Option<&Night>) -> Page {
    let Some(night) = night else {
        let mut page = Page::new("No track night yet.");
        page.text(
            "Five launches, minutes apart, and no number until the last slip: that is how a night at a \
             track feels. It shows what you do cold.",
        );
        return page;
    };
    if !night.is_over() {
        let n = night.launches.len();
        let mut page = Page::new(format!("{n} of {LAUNCHES} launches are made."));
        page.text("The slips come after the last one.");
        return page;
    }
    let mut page = Page::new(headline(night));
    push_forecast(&mut page, night);
    push_ordinary(&mut page, night);
    page.push(Block::Table(launches_table(night)));
    let warm = night.launches.iter().filter(|launch| !launch.cold).count();
    if warm > 0 {
        let are = if warm == 1 { "is" } else { "are" };
        page.note(format!("{warm} of the five {are} not cold: no whole pause went before."));
    }
    push_slips(&mut page, night);
    page
}

fn headline(night: &Night) -> String {
    let reds = match night.reds {
        0 => "none red".to_owned(),
        reds => format!("{reds} red"),
    };
    let cold = night.launches.iter().filter(|launch| launch.cold).count();
    let n = night.launches.len();
    let cold = if cold == n { "cold".to_owned() } else { format!("{cold} of them cold") };
    let against = match night.ordinary.as_ref().and_then(|ordinary| ordinary.difference_s) {
        Some(d) if d.low > 0.0 => "; later than your ordinary runs",
        Some(d) if d.high < 0.0 => "; earlier than your ordinary runs",
        Some(_) => "; no difference to see from your ordinary runs",
        None => "",
    };
    format!("{n} launches, {cold}: {reds}{against}.")
}

fn push_forecast(page: &mut Page, night: &Night) {
    page.heading("Against the forecast");
    let Some((forecast, score)) = &night.forecast else {
        page.text(
            "No forecast is older than this night's first launch: one is made on a day's first visit to \
             the lane, once there are ten launches.",
        );
        return;
    };
    let (low, high) = score.expected_reds;
    let red = &forecast.red.estimate;
    let held = if score.hit { "that held" } else { "that did not hold" };
    let reds = if low == high { low.to_string() } else { format!("{low} to {high}") };
    page.text(format!(
        "Forecast before the first launch, from {} launches: red {}. That makes {reds} of {}; {} came, \
         {held}.",
        forecast.n,
        chance(red),
        score.starts,
        score.reds
    ));
    let (first, last) = forecast.lights_s;
    let words = |x: f64| Form::Light.words(x);
    page.text(format!(
        "Nine in ten lights were to fall from {} to {}: {} of {} did.",
        words(first),
        words(last),
        score.inside.0,
        score.inside.1
    ));
}

fn push_ordinary(page: &mut Page, night: &Night) {
    page.heading("Against your ordinary runs");
    let Some(ordinary) = &night.ordinary else {
        page.text(format!(
            "{} ordinary launches before it: from twenty on the night is held against them.",
            night.ordinary_launches
        ));
        return;
    };
    page.push(Block::Points(ordinary_words(ordinary)));
    page.note(
        "Five launches say little on their own: the interval is wide for that. Nights add up.",
    );
}

fn ordinary_words(ordinary: &Ordinary) -> Vec<String> {
    let words = |x: f64| Form::Light.words(x);
    let (first, last) = ordinary.range_s;
    let red = &ordinary.red;
    let mut said = vec![
        format!("Ordinary runs, mean light: {}.", light_with_interval(&ordinary.mean_s)),
        format!(
            "Ordinary runs, red: {} ({} to {}, n = {}).",
            percent(red.value),
            percent(red.low),
            percent(red.high),
            red.n
        ),
        format!(
            "Nine in ten of them fall from {} to {}: {} of {} of this night did.",
            words(first),
            words(last),
            ordinary.inside.0,
            ordinary.inside.1
        ),
    ];
    if let Some(d) = &ordinary.difference_s {
        said.insert(
            0,
            format!(
                "This night less ordinary runs, above 0 later: {} ms ({} to {}, n = {}).",
                signed_ms(d.value),
                signed_ms(d.low),
                signed_ms(d.high),
                d.n
            ),
        );
    }
    said
}

fn launches_table(night: &Night) -> Table {
    let mut table = Table::new("The five", &["launch", "light", "ended", "pause", "cold"]);
    for (i, launch) in night.launches.iter().enumerate() {
        let pause = launch.run.setup.pause.map(|pause| {
            let minutes = pause.waited.as_secs_f64() / 60.0;
            format!("{minutes:.1} min")
        });
        table.push([
            (i + 1).to_string(),
            launch.light_s.map_or_else(String::new, light_floored),
            ended(launch).to_owned(),
            pause.unwrap_or_default(),
            if launch.cold { "yes" } else { "no" }.to_owned(),
        ]);
    }
    table
}

fn ended(launch: &NightLaunch) -> &'static str {
    match (launch.run.outcome, launch.light_s) {
        (Outcome::LeftBeforeTree, _) => "left before the tree: red",
        (Outcome::Lapse, _) => "never left",
        (_, Some(light)) if light >= 0.0 => "green",
        _ => "red",
    }
}

fn push_slips(page: &mut Page, night: &Night) {
    page.heading("The slips");
    page.caution(format!(
        "{SIMULATED}: the launches were timed, the passes computed from My car. They are no slips of a \
         track and count as none."
    ));
    for (i, launch) in night.launches.iter().enumerate() {
        match &launch.slip {
            Some(slip) => {
                page.note(format!("Launch {}", i + 1));
                page.push(Block::Paper(paper(slip)));
            }
            None => {
                page.note(format!("Launch {}: you never left, so there is no slip.", i + 1));
            }
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::units::Span;

    #[test]
    fn between_launches_stands_no_number_of_a_launch() {
        let waiting = Moment::Waiting { launch: 2, left: Span::from_ms(200_000) };
        let said = moment_sentence(waiting, "N");
        assert!(said.starts_with("Launch 2 of 5 in about 4 minutes"), "{said}");
        assert!(said.ends_with("N: go now, and it does not count as cold"));
        let soon = Moment::Waiting { launch: 2, left: Span::from_ms(59_000) };
        assert!(moment_sentence(soon, "N").contains("less than a minute"));
        let warm = moment_sentence(Moment::Called { launch: 3, cold: false }, "N");
        assert!(warm.contains("not cold"), "{warm}");
        assert_eq!(no_verdict_sentence(2, true), "It is in. The slips come after 3 more.");
        assert!(no_verdict_sentence(2, false).contains("made again"));
        assert_eq!(no_verdict_sentence(5, true), "All five are in.");
    }

    #[test]
    fn no_night_says_what_one_is() {
        assert!(night_page(None).headline.starts_with("No track night yet"));
    }
}
