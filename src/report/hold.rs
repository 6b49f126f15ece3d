//! Hold an aim: how far a launch fell from what was declared, and what a block of them comes to.
//!
//! Owns its sentences and its page. Refuses to say where the aim should be.

use super::advice::chance;
use super::page::{Axis, Block, Form, Hue, LayerKind, Page, Plot};
use super::words::{ms, ms_with_interval, signed_ms};
use crate::stats::Estimate;
use crate::stats::held::{CLOSE_S, Costs, FEWEST, Held};
use crate::strategy::hold::HeldBlock;
use crate::trial::{Aim, AimFrom, AimOf};
use crate::units::Span;

/// The aim in words: `231 ms after the last amber, as advised`.
pub fn aim_words(aim: &Aim) -> String {
    let at = match aim.of {
        AimOf::DriverPart => format!("{} ms after the last amber", ms(aim.at.as_secs_f64())),
        AimOf::Light => format!("a light of {}", Form::Light.words(aim.at.as_secs_f64())),
    };
    match aim.from {
        AimFrom::Chosen => at,
        AimFrom::Advised => format!("{at}, as advised"),
    }
}

/// The line under a verdict: `6.2 ms later than your aim (a light of .020).`
pub fn missed_sentence(aim: &Aim, missed: Span) -> String {
    let off_s = missed.as_secs_f64();
    let aim = aim_words(aim);
    // Half a tenth of a millisecond: what reads as zero.
    if off_s.abs() < 0.000_05 {
        return format!("On your aim ({aim}).");
    }
    let way = if off_s > 0.0 { "later" } else { "earlier" };
    format!("{:.1} ms {way} than your aim ({aim}).", 1000.0 * off_s.abs())
}

/// The page of the newest block, the ones before it below; without any, what it takes.
pub fn hold_page(blocks: &[HeldBlock]) -> Page {
    let Some((newest, before)) = blocks.split_last() else {
        let mut page = Page::new("No aim was held yet.");
        page.text(
            "Say before the run where the launch is to fall, then launch. After each run stands how far \
             off it was; after five, whether you are off on the average or scatter.",
        );
        return page;
    };
    let mut page = Page::new(headline(newest));
    page.note(format!("Aim: {}.", aim_words(&newest.aim)));
    if !newest.deviations_s.is_empty() {
        page.push(Block::Plot(run_order(newest)));
    }
    if let Some(held) = &newest.held {
        page.push(Block::Points(figures(held)));
        page.text(what_to_do(held));
        for caveat in &held.caveats {
            page.note(format!("{caveat}."));
        }
    }
    let missing = missing_words(newest);
    if !missing.is_empty() {
        page.note(missing.join(" "));
    }
    if !before.is_empty() {
        page.heading("Blocks before");
        let said = before.iter().rev().map(|block| {
            let day = block.day.map_or_else(String::new, |day| format!("{day}: "));
            format!("{day}{} Aim: {}.", headline(block), aim_words(&block.aim))
        });
        page.push(Block::Points(said.collect()));
    }
    page
}

fn headline(block: &HeldBlock) -> String {
    let Some(held) = &block.held else {
        let n = block.deviations_s.len();
        return match n {
            n if n >= FEWEST => format!("All {n} launches fell on the same place."),
            _ => format!("{n} launches so far: from {FEWEST} on there is a bias and a spread."),
        };
    };
    let close = format!("Within {} ms of your aim: {}", ms(CLOSE_S), close_words(held));
    match held.costs {
        Costs::Bias => format!(
            "{close}. What costs most: you are {} on the average.",
            late_words(held.bias.value)
        ),
        Costs::Spread => format!("{close}. What costs most: your launches scatter."),
        Costs::NotClear => format!("{close}. Too close to call what costs most."),
    }
}

fn close_words(held: &Held) -> String {
    let close = (held.close.value * held.close.n as f64).round();
    format!("{close:.0} of {}", held.close.n)
}

fn late_words(bias_s: f64) -> String {
    let way = if bias_s > 0.0 { "late" } else { "early" };
    format!("{} ms {way}", ms(bias_s.abs()))
}

fn figures(held: &Held) -> Vec<String> {
    let signed = |e: &Estimate| {
        format!(
            "{} ms ({} to {}, n = {})",
            signed_ms(e.value),
            signed_ms(e.low),
            signed_ms(e.high),
            e.n
        )
    };
    let d = &held.bias_in_spreads;
    vec![
        format!("Bias, above 0 late: {}.", signed(&held.bias)),
        format!("Spread (standard deviation): {}.", ms_with_interval(&held.spread)),
        format!(
            "Within {} ms: {}, which is {}.",
            ms(CLOSE_S),
            close_words(held),
            chance(&held.close)
        ),
        format!(
            "The bias is {:.1} spreads ({:.1} to {:.1}): above 1 the bias costs more, below 1 the \
             spread.",
            d.value, d.low, d.high
        ),
    ]
}

fn what_to_do(held: &Held) -> String {
    match held.costs {
        Costs::Bias => {
            let way = if held.bias.value > 0.0 { "earlier" } else { "later" };
            format!(
                "You launch evenly beside your aim: leave {} ms {way}.",
                ms(held.bias.value.abs())
            )
        }
        Costs::Spread => {
            "The average is fine. Leave the aim where it is and make every launch the \
                          same: same seat, same foot, same look."
                .to_owned()
        }
        Costs::NotClear => {
            "Hold the same aim for another block: more launches tell bias and spread apart."
                .to_owned()
        }
    }
}

/// Deviations in the order of the runs.
fn run_order(block: &HeldBlock) -> Plot {
    let points = block.deviations_s.iter().enumerate();
    let points: Vec<[f64; 2]> = points.map(|(i, off)| [i as f64 + 1.0, *off]).collect();
    let n = points.len() as f64;
    let band = vec![[0.5, -CLOSE_S, CLOSE_S], [n + 0.5, -CLOSE_S, CLOSE_S]];
    let mut plot = Plot::new(
        "How far each launch fell from the aim; above 0 is late",
        Axis::new("launch", Form::Plain(0)),
        Axis::new("off the aim, ms", Form::Millis).from_to(-2.0 * CLOSE_S, 2.0 * CLOSE_S),
    )
    .with("", Hue::Clear, LayerKind::Band(band))
    .with("aim", Hue::Muted, LayerKind::Level(0.0));
    if let Some(held) = &block.held {
        plot = plot.with("average", Hue::Text, LayerKind::Level(held.bias.value));
    }
    plot.with("", Hue::Driver, LayerKind::Points(points))
}

/// What of a block has no deviation, and its reds.
fn missing_words(block: &HeldBlock) -> Vec<String> {
    let mut said = Vec::new();
    let mut say = |n: usize, what: &str| {
        if n > 0 {
            said.push(format!("{what}: {n}."));
        }
    };
    say(block.reds, "Red among these");
    say(block.left_before_tree, "More that left before the last amber, red as well");
    say(block.lapses, "More that never left");
    say(block.left_out, "void, broken off, not staged in time or left out by you");
    said
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::stats::Sample;

    fn block(off_ms: &[f64]) -> HeldBlock {
        let deviations_s: Vec<f64> = off_ms.iter().map(|ms| ms / 1000.0).collect();
        let sample = Sample::new(deviations_s.clone()).unwrap();
        HeldBlock {
            aim: Aim { of: AimOf::Light, at: Span::from_ms(20), from: AimFrom::Chosen },
            day: None,
            held: Held::new(&sample, 0.9).ok(),
            deviations_s,
            reds: 1,
            left_before_tree: 0,
            lapses: 0,
            left_out: 0,
        }
    }

    #[test]
    fn the_line_of_a_verdict_says_how_far_and_which_way() {
        let aim = Aim { of: AimOf::DriverPart, at: Span::from_ms(231), from: AimFrom::Advised };
        assert_eq!(
            missed_sentence(&aim, Span::from_us(-6_240)),
            "6.2 ms earlier than your aim (231 ms after the last amber, as advised)."
        );
        assert!(missed_sentence(&aim, Span::from_us(12_000)).starts_with("12.0 ms later"));
        assert!(missed_sentence(&aim, Span::ZERO).starts_with("On your aim"));
    }

    #[test]
    fn the_first_sentence_says_what_costs_most() {
        let steady: Vec<f64> = (0..20).map(|i| 14.0 + f64::from(i * 7 % 5) - 2.0).collect();
        let page = hold_page(&[block(&steady)]);
        assert_eq!(
            page.headline,
            "Within 10 ms of your aim: 0 of 20. What costs most: you are 14 ms late on the average."
        );
        let words = format!("{page:?}");
        assert!(words.contains("leave 14 ms earlier") && words.contains("Red among these: 1."));
        let scattered: Vec<f64> = (0..20).map(|i| 4.0 * f64::from(i * 7 % 20) - 36.0).collect();
        let page = hold_page(&[block(&steady), block(&scattered)]);
        assert!(page.headline.ends_with("your launches scatter."), "{}", page.headline);
        assert!(format!("{page:?}").contains("Blocks before"));
    }

    #[test]
    fn few_or_no_launches_say_what_it_takes() {
        assert_eq!(hold_page(&[]).headline, "No aim was held yet.");
        let few = hold_page(&[block(&[3.0, 4.0])]);
        assert!(few.headline.starts_with("2 launches so far: from 5 on"), "{}", few.headline);
        let same = hold_page(&[block(&[3.0; 6])]);
        assert!(same.headline.starts_with("All 6 launches"), "{}", same.headline);
    }
}
