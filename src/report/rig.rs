//! How well a rig times, what that means for the figure that matters, and how to do better.
//!
//! Owns the words about a self test and the delay in force.

use crate::history::{ClockBase, PollLine, RigLine};
use crate::stats::instrument::{Doubt, RunDoubt};
use crate::stats::offset::{ASSUMED, FILMED, GIVEN, RedLight, offset_words, red_light};
use crate::trial::OffsetInForce;

/// A steady driver close to the line, mean and SD of RT, s, for whom the doubt of a delay is worked out
/// (worked example; an unnoticed 8 ms turn 9.1 % red lights into 21.2 %).
pub const EXAMPLE_DRIVER_S: (f64, f64) = (0.020, 0.015);
/// A delay known to this is no longer what limits the red-light figure. Chosen.
const WELL_KNOWN_MS: f64 = 3.0;
/// A device that reports as seldom as this is worth replacing, ms. Chosen: it scatters by 1.2 ms,
/// more than all the rest of a good rig.
const SLOW_POLL_MS: f64 = 4.0;

/// What is to be said about a rig, most important first.
#[derive(Debug, Clone, PartialEq, Eq, Default)]
pub struct RigReport {
    /// The answer in one line.
    pub headline: String,
    /// The same with what times the presses and with the delay, where one line is all there is.
    pub one_line: String,
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
            report.one_line.clone_from(&report.headline);
            report.meaning.push(
                "Ten seconds tell how evenly it runs and how sharply it times you.".to_owned(),
            );
        }
        Some(line) => {
            report.headline = format!(
                "This rig times presses to {} and lamps to {}.",
                within(line.press_half_width_ms),
                within(line.lamp_half_width_ms)
            );
            report.one_line = one_line(line, offset);
            report.figures = figures(line);
        }
    }
    report.meaning.push(delay(offset));
    report.meaning.extend(worth(offset));
    report.meaning.extend(line.and_then(busy));
    for better in [better_source, better_device, better_display] {
        report.meaning.extend(line.and_then(better));
    }
    if offset.from != FILMED {
        report
            .meaning
            .push("A phone that films 240 frames a second measures that delay.".to_owned());
    }
    report
}

/// Red lights of [`EXAMPLE_DRIVER_S`], by the delay; none if the delay's doubt is no number.
pub fn example_red_light(offset: &OffsetInForce) -> Option<RedLight> {
    let (mean_s, sd_s) = EXAMPLE_DRIVER_S;
    red_light(mean_s, sd_s, offset.ms.sd / 1000.0).ok()
}

/// What is not known of a run's driver part on this rig, the constant delay apart.
pub fn run_doubt(line: &RigLine) -> RunDoubt {
    let within = |half_width_ms: f64| Doubt::Within(2.0 * half_width_ms / 1000.0);
    RunDoubt {
        press: within(line.press_half_width_ms),
        poll_period_s: line.poll.period_ms().map(|ms| ms / 1000.0),
        onset: within(line.lamp_half_width_ms),
    }
}

fn one_line(line: &RigLine, offset: &OffsetInForce) -> String {
    let not_filmed = if offset.from == ASSUMED { ", not filmed" } else { "" };
    format!(
        "This rig: presses {} ({}), lamps {}; constant delay {}{not_filmed}.",
        within(line.press_half_width_ms),
        source(&line.rig.source),
        within(line.lamp_half_width_ms),
        offset_words(offset)
    )
}

fn within(half_width_ms: f64) -> String {
    if half_width_ms.is_finite() {
        format!("\u{b1}{half_width_ms:.1} ms")
    } else {
        "an unknown width".to_owned()
    }
}

fn source(word: &str) -> &str {
    match word {
        "kernel" => "the kernel's own time",
        "server" => "own listener, X11",
        "pad" => "own listener, pad",
        "frame" => "the window's frames",
        other => other,
    }
}

fn delay(offset: &OffsetInForce) -> String {
    let (ms, sd) = (offset.ms.value, offset.ms.sd);
    match offset.from.as_str() {
        FILMED => format!(
            "Control and screen add {ms:.1} \u{b1} {sd:.1} ms, filmed on this rig; every result has it taken off."
        ),
        GIVEN => format!(
            "Control and screen add {ms:.1} \u{b1} {sd:.1} ms as you gave it; every result has it taken off."
        ),
        _ => format!(
            "Control and screen add some {ms:.0} \u{b1} {sd:.0} ms, which is assumed, not measured; every result has it taken off."
        ),
    }
}

/// What the doubt of the delay does to a red-light figure.
fn worth(offset: &OffsetInForce) -> Option<String> {
    let red = example_red_light(offset)?;
    if offset.ms.sd <= WELL_KNOWN_MS {
        return Some("That is sharp enough for a red-light figure.".to_owned());
    }
    Some(format!(
        "For a driver who averages .020 with a spread of .015 that doubt alone puts the true share of \
         red lights anywhere from {:.0} to {:.0} %: differences between your runs are sharp, the \
         colour near the line is not.",
        100.0 * red.if_shorter,
        100.0 * red.if_longer
    ))
}

fn busy(line: &RigLine) -> Option<String> {
    let worst_ms = line.loop_time.jitter_worst_ms.max(line.wake_up.worst_ms);
    (worst_ms > line.loop_time.period_ms / 2.0).then(|| {
        format!(
            "Something else kept this machine busy: frames or wake-ups came up to {worst_ms:.0} ms off. \
             Close other programs and look again."
        )
    })
}

fn better_source(line: &RigLine) -> Option<String> {
    let reason = line.source_reason.as_ref()?;
    Some(format!("Presses could be timed better: {reason}."))
}

fn better_device(line: &RigLine) -> Option<String> {
    let slow = line.poll.period_ms().is_some_and(|ms| ms >= SLOW_POLL_MS);
    slow.then(|| "A control that is asked every millisecond would scatter less.".to_owned())
}

fn better_display(line: &RigLine) -> Option<String> {
    let coarse = ["frame", "none"].contains(&line.onset_grade.as_str());
    coarse.then(|| {
        "Nothing here says where in a frame a lamp lights; an X11 session with the graphics card's own \
         driver may."
            .to_owned()
    })
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

#[cfg(test)]
mod tests {
    use super::*;
    use crate::history::{LoopLine, WakeUpLine};
    use crate::trial::RigPrint;
    use crate::units::Measured;

    fn offset(ms: f64, sd: f64, from: &str) -> OffsetInForce {
        OffsetInForce { ms: Measured::new(ms, sd), from: from.to_owned() }
    }

    fn line() -> RigLine {
        let rig = RigPrint {
            device: "keyboard".into(),
            control: "Space".into(),
            launch_edge: "press".into(),
            threshold: None,
            limb: "right hand".into(),
            source: "server".into(),
            display: "x11 1920x1080 full".into(),
            refresh_hz: 60,
            present_mode: "fifo".into(),
        };
        RigLine {
            id: "a".into(),
            saved_at: "2026-05-01T20:15:07.1+02:00[Europe/Oslo]".into(),
            program: "0".into(),
            rig: rig.into(),
            source_reason: None,
            onset_grade: "grid".into(),
            loop_time: LoopLine { period_ms: 16.7, jitter_median_ms: 0.06, jitter_worst_ms: 1.9 },
            wake_up: WakeUpLine { median_ms: 0.1, p95_ms: 0.3, worst_ms: 2.2 },
            clock_base: ClockBase::Holds,
            poll: PollLine::Found { period_ms: 8.0, presses: 40 },
            refresh_hz: 59.94,
            self_paced: false,
            press_half_width_ms: 0.5,
            lamp_half_width_ms: 0.7,
            load_average: Some(0.4),
            ran_s: 10.0,
        }
    }

    #[test]
    fn the_doubt_of_the_delay_is_told_as_red_lights() {
        // Worked: Φ(−35/15) = .0098 and Φ(−5/15) = .3694; 8 ms are Φ(−28/15) = .031, Φ(−12/15) = .212.
        let fifteen = rig_report(None, &offset(35.0, 15.0, "assumed"));
        assert!(fifteen.meaning.iter().any(|s| s.contains("from 1 to 37 %")), "{fifteen:?}");
        let eight = rig_report(None, &offset(35.0, 8.0, "given"));
        assert!(eight.meaning.iter().any(|s| s.contains("from 3 to 21 %")), "{eight:?}");
        let filmed = rig_report(None, &offset(28.3, 1.1, "filmed"));
        assert!(filmed.meaning.iter().all(|s| !s.contains('%') && !s.contains("phone")));
    }

    #[test]
    fn the_answer_stands_in_the_first_line_and_its_figures_below() {
        let report = rig_report(Some(&line()), &offset(35.0, 15.0, "assumed"));
        assert_eq!(report.headline, "This rig times presses to ±0.5 ms and lamps to ±0.7 ms.");
        let all = report.figures.join("\n");
        for said in
            ["the display's refresh grid; 59.9 frames", "every 8 ms", "±2.3 ms", "2026-05-01 20:15"]
        {
            assert!(all.contains(said), "{said} in {all}");
        }
        assert!(report.meaning.iter().all(|s| !s.contains("busy")));
    }

    #[test]
    fn what_would_do_better_is_said_once_it_is_known() {
        let mut line = line();
        line.source_reason = Some("not an X11 session".into());
        line.loop_time.jitter_worst_ms = 44.0;
        let report = rig_report(Some(&line), &offset(35.0, 15.0, "assumed"));
        let all = report.meaning.join("\n");
        assert!(
            all.contains("up to 44 ms off") && all.contains("better: not an X11 session."),
            "{all}"
        );
    }

    #[test]
    fn a_time_that_is_none_is_shown_as_it_stands() {
        assert_eq!(day("x"), "x");
    }
}
