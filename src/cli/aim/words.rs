//! The answer of `lastamber aim` as text.
//!
//! Owns its layout: sentence first, then rows. Refuses numbers of its own.

use super::answer::{Answer, OutcomesAnswer, Range, SourceAnswer, VerdictAnswer, ViewAnswer};
use crate::report::advice::percent;
use std::fmt::Write;

/// The whole answer.
pub fn in_words(answer: &Answer) -> String {
    let mut out = String::new();
    for source in &answer.sources {
        tell_source(&mut out, source, answer.better_than_s);
    }
    if let Some(outcomes) = &answer.outcomes {
        tell_outcomes(&mut out, outcomes);
    }
    for lever in &answer.levers {
        let redialled = lever.win_redialled.map(|win| format!(", redialled {}", chance(&win)));
        line(
            &mut out,
            format_args!(
                "lever {} ({:+.0} ms RT, {:+.0} ms ET): win {}{}, red {}{}",
                lever.kind,
                lever.rt_ms,
                lever.et_ms,
                chance(&lever.win),
                redialled.unwrap_or_default(),
                chance(&lever.red),
                if lever.for_a_reaction { "" } else { "; only for one who times it" }
            ),
        );
    }
    if let Some(verdict) = &answer.react_or_time_it {
        tell_verdict(&mut out, verdict);
    }
    line(&mut out, format_args!("next: {}", answer.next));
    for caveat in &answer.caveats {
        line(&mut out, format_args!("note: {caveat}"));
    }
    out
}

fn line(out: &mut String, text: std::fmt::Arguments) {
    writeln!(out, "{text}").expect("a string takes every line");
}

fn chance(range: &Range) -> String {
    format!("{} ({} to {})", percent(range.value), percent(range.low), percent(range.high))
}

fn tell_source(out: &mut String, source: &SourceAnswer, better_than_s: f64) {
    line(out, format_args!("{}", source.headline.sentence));
    let style = source.style.map(|style| format!(" ({style})")).unwrap_or_default();
    line(out, format_args!("from {}{style}, {} launches", source.source, source.n));
    for view in &source.views {
        tell_view(out, view, better_than_s);
    }
}

fn tell_outcomes(out: &mut String, outcomes: &OutcomesAnswer) {
    line(
        out,
        format_args!(
            "besides launches with a time: {} left before the last amber (red), {} never left (late), {} \
             left out",
            outcomes.left_before_tree, outcomes.lapses, outcomes.left_out
        ),
    );
    if let Some(test) = &outcomes.guess_test {
        let share = chance(&test.share_at_least);
        line(
            out,
            format_args!(
                "guess test: left in {} of {} blank runs, so at least {share} are guesses",
                test.guesses, test.blanks
            ),
        );
    }
}

fn tell_view(out: &mut String, view: &ViewAnswer, better_than_s: f64) {
    line(out, format_args!("{}", view.view));
    for row in &view.rows {
        line(
            out,
            format_args!(
                "  {} ms earlier: red {}, light if green {:.3} ({:.3} to {:.3}), below {} {}",
                row.earlier_ms,
                chance(&row.red),
                row.green_light_s.value,
                row.green_light_s.low,
                row.green_light_s.high,
                better_than_s,
                chance(&row.better)
            ),
        );
    }
    for aim in &view.for_risk {
        line(
            out,
            format_args!(
                "  for {} red: {:.0} ms earlier ({:.0} to {:.0})",
                percent(aim.risk),
                aim.earlier_ms.value,
                aim.earlier_ms.low,
                aim.earlier_ms.high
            ),
        );
    }
}

fn tell_verdict(out: &mut String, verdict: &VerdictAnswer) {
    line(out, format_args!("{}", verdict.sentence));
    line(
        out,
        format_args!(
            "  timing at its best aim ({:+.0} ms earlier) is worth {:+.1} points ({:+.1} to {:+.1})",
            verdict.best_earlier_ms,
            100.0 * verdict.worth.value,
            100.0 * verdict.worth.low,
            100.0 * verdict.worth.high
        ),
    );
    for j in &verdict.judgements {
        let right = percent(j.time_it_right);
        line(out, format_args!("  by {}, {}: timing is right with {right}", j.by, j.view));
    }
    for part in &verdict.flips_at_car_part_s {
        line(out, format_args!("  with a car part of {part:.3} s both are worth the same"));
    }
}
