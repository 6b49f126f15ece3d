//! How well a rig times, what that means for the figure that matters, and how to do better.
//!
//! Owns the words about a self test and the delay in force.

use crate::history::{ClockBase, PollLine, RigLine};
use crate::stats::special::normal_cdf;
use crate::trial::OffsetInForce;

/// A steady driver close to the line, for whom the doubt of a delay is worked out: RT .020 on average,
/// spread .015 (worked example; an unnoticed 8 ms turn 9.1 % red lights into 21.2 %).
const EXAMPLE_MEAN_MS: f64 = 20.0;
const EXAMPLE_SD_MS: f64 = 15.0;
/// A delay known to this is no longer what limits the red-light figure. Chosen.
const WELL_KNOWN_MS: f64 = 3.0;

/// What is to be said about a rig, most important first.
#[derive(Debug, Clone, PartialEq, Eq, Default)]
pub struct RigReport {
    /// The answer in one line.
    pub headline: String,
    /// What it means and how to do better, a sentence each.
    pub meaning: Vec<String>,
    /// The figures behind it, a line each.
    pub figures: Vec<String>,
}

/// The report on the newest self test, if there was one, with the delay in force.
pub fn rig_report(line: Option<&RigLine>, offset: &OffsetInForce) -> RigReport {
    let mut report = RigReport::default();
    match line {
        None => {
            report.headline = "This rig has not been looked at yet.".to_owned();
            report.meaning.push(
                "Ten seconds tell how evenly it runs and how sharply it times you.".to_owned(),
            );
        }
        Some(line) => {
            report.headline = format!(
                "This rig times presses to \u{b1}{:.1} ms and lamps to \u{b1}{:.1} ms.",
                line.press_half_width_ms, line.lamp_half_width_ms
            );
            report.figures = figures(line);
        }
    }
    report.meaning.push(delay(offset));
    report.meaning.push(worth(offset));
    report.meaning.extend(line.and_then(better_source));
    if offset.from != "filmed" {
        report.meaning.push(
            "A phone that films 240 frames a second measures that delay in three minutes."
                .to_owned(),
        );
    }
    report
}

fn delay(offset: &OffsetInForce) -> String {
    let (ms, sd) = (offset.ms.value, offset.ms.sd);
    match offset.from.as_str() {
        "filmed" => format!(
            "Control and screen add {ms:.1} \u{b1} {sd:.1} ms, filmed on this rig; every result has it taken off."
        ),
        "given" => format!(
            "Control and screen add {ms:.1} \u{b1} {sd:.1} ms as you gave it; every result has it taken off."
        ),
        _ => format!(
            "Control and screen add some {ms:.0} \u{b1} {sd:.0} ms, which is assumed, not measured; every result has it taken off."
        ),
    }
}

/// What the doubt of the delay does to a red-light figure.
fn worth(offset: &OffsetInForce) -> String {
    if offset.ms.sd <= WELL_KNOWN_MS {
        return "That is sharp enough for a red-light figure.".to_owned();
    }
    let red = |shift_ms: f64| 100.0 * normal_cdf((-EXAMPLE_MEAN_MS + shift_ms) / EXAMPLE_SD_MS);
    format!(
        "For a driver who averages .020 with a spread of .015 that doubt alone puts the true share of \
         red lights anywhere from {:.0} to {:.0} %: differences between your runs are sharp, the \
         colour near the line is not.",
        red(-offset.ms.sd),
        red(offset.ms.sd)
    )
}

fn better_source(line: &RigLine) -> Option<String> {
    let reason = line.source_reason.as_ref()?;
    Some(format!("Presses could be timed better: {reason}."))
}

fn figures(line: &RigLine) -> Vec<String> {
    let base = match line.clock_base {
        ClockBase::Holds => "the events' clock is the program's",
        ClockBase::Fails => "the events' clock is another: only arrivals count",
        ClockBase::Unknown => "nothing is known of the events' clock",
    };
    let polled = match &line.poll {
        PollLine::Found { period_ms, presses } => format!(
            "Your control is asked every {period_ms:.0} ms (from {presses} presses): \u{b1}{:.1} ms \
             more on every run",
            period_ms / 12.0_f64.sqrt()
        ),
        PollLine::NotFound { why, .. } => format!("Rhythm in which your control is asked: {why}"),
    };
    let load = line.load_average.map_or_else(String::new, |load| format!(", load {load:.1}"));
    vec![
        format!(
            "Lamps by {}; {:.1} frames a second ({}); frames {:.2} ms off at the median, {:.1} \
             at worst",
            grade(&line.onset_grade),
            line.refresh_hz,
            line.rig.present_mode,
            line.loop_time.jitter_median_ms,
            line.loop_time.jitter_worst_ms
        ),
        format!(
            "A sleeping thread wakes {:.2} ms late at the median, {:.1} at worst; {base}",
            line.wake_up.median_ms, line.wake_up.worst_ms
        ),
        polled,
        format!("Looked at {} for {:.0} s{load}", day(&line.saved_at), line.ran_s),
    ]
}

fn grade(word: &str) -> &str {
    match word {
        "feedback" => "the display server's own word",
        "grid" => "the display's refresh grid",
        "present" => "the moment a frame was handed over",
        "frame" => "the frame they came in",
        other => other,
    }
}

/// Day and minute of an ISO 8601 time.
fn day(time: &str) -> String {
    time.get(..16).unwrap_or(time).replace('T', " ")
}
