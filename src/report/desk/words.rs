//! Words of Aim and Odds: aims, chances, what it rests on, levers.
//!
//! Owns sentences. Refuses to compute anything but their numbers' form.

use crate::report::advice::percent;
use crate::report::page::Form;
use crate::rules::FoulRule;
use crate::rules::TrackLength;
use crate::stats::Estimate;
use crate::strategy::desk::{AIMS_S, Counted, Desk, PricedLever, Rival, Told, ViewTold};
use crate::strategy::launches::Source;
use crate::strategy::lever::LeverKind;
use crate::strategy::odds::{Finish, Level, Order, Race};
use crate::strategy::own::{GuessTest, OwnSetup, RunCounts};
use crate::trial::Style;

/// An aim closer to now than this is "as now", s.
const AS_NOW_S: f64 = 0.0005;
/// Declared aims no farther apart than this hardly widen a spread, s. Chosen.
const AIMS_ALIKE_S: f64 = 0.010;

/// A set-up in a line: `my car, full tree, by reaction, on the press`.
pub fn setup_words(setup: &OwnSetup) -> String {
    format!("{}, {}", name_or(&setup.car, "a car without a name"), start_words(setup))
}

/// How a set-up starts: `full tree, by reaction, on the press`.
pub fn start_words(setup: &OwnSetup) -> String {
    let style = match setup.style {
        Style::React => "by reaction",
        Style::TimeIt => "timing it",
    };
    let edge = match setup.launch_edge.as_str() {
        "release" => "on the release",
        _ => "on the press",
    };
    format!("{} tree, {style}, {edge}", setup.tree)
}

pub fn name_or<'a>(name: &'a str, otherwise: &'a str) -> &'a str {
    if name.is_empty() { otherwise } else { name }
}

/// `14 ms earlier`, `as now`, `6 ms later`.
pub fn aim_words(earlier_s: f64) -> String {
    if earlier_s.abs() < AS_NOW_S {
        return "as now".to_owned();
    }
    let way = if earlier_s > 0.0 { "earlier" } else { "later" };
    format!("{:.0} ms {way}", 1000.0 * earlier_s.abs())
}

/// Aims from here to there: `8 to 20 ms earlier`, `3 ms later to 12 ms earlier`. One off the slider's
/// scale is no more than that.
pub fn aim_range_words(low_s: f64, high_s: f64) -> String {
    if low_s < AIMS_S.0 - AS_NOW_S {
        return match aim_words(high_s) {
            _ if high_s < AIMS_S.0 => "off the scale".to_owned(),
            high => format!("far later to {high}"),
        };
    }
    let ms = |s: f64| format!("{:.0}", 1000.0 * s.abs());
    if low_s >= AS_NOW_S && high_s >= AS_NOW_S || low_s <= -AS_NOW_S && high_s <= -AS_NOW_S {
        return format!("{} to {}", ms(low_s), aim_words(high_s));
    }
    format!("{} to {}", aim_words(low_s), aim_words(high_s))
}

/// A risk as one launch in so many.
pub fn one_in(risk: f64) -> String {
    if risk < 0.005 {
        "less than 1 of 200".to_owned()
    } else if risk < 0.35 {
        format!("about 1 of {:.0}", 1.0 / risk)
    } else {
        format!("about {:.0} of 10", (10.0 * risk).round())
    }
}

/// Whole percent from 1 % on: what a reader keeps.
pub fn about(share: f64) -> String {
    if (0.01..=0.99).contains(&share) { format!("{:.0} %", 100.0 * share) } else { percent(share) }
}

/// A chance with its interval: `8 % (4 to 14)`.
pub fn chance(e: &Estimate) -> String {
    let bare = |share: f64| about(share).trim_end_matches(" %").to_owned();
    format!("{} ({} to {})", about(e.value), bare(e.low), bare(e.high))
}

/// A light with its interval.
pub fn light(e: &Estimate) -> String {
    let words = |x: f64| Form::Light.words(x);
    format!("{} ({} to {})", words(e.value), words(e.low), words(e.high))
}

pub fn count(n: usize, one: &str, many: &str) -> String {
    format!("{n} {}", if n == 1 { one } else { many })
}

/// What the answer rests on: `60 launches on 4 days, 22 slips; my car, full tree, …`.
pub fn rests_on(desk: &Desk) -> String {
    let of = |n: usize, days: usize, one: &str, many: &str| match n {
        0 => format!("no {many}"),
        _ => format!("{} on {}", count(n, one, many), count(days, "day", "days")),
    };
    let launches = of(desk.runs.counts.launches, desk.runs.days(), "launch", "launches");
    let launches = if launches.starts_with("no ") { "No practice".to_owned() } else { launches };
    let slips = desk.slips.counts.lights + desk.slips.counts.reds_without_number;
    let slips = of(slips, desk.slips.days, "slip", "slips");
    format!("{launches}, {slips}; {}.", setup_words(&desk.asked.setup))
}

/// How the launches that stand for the track were chosen.
pub fn cold_words(told: &Told) -> Option<String> {
    let cold = told.cold?;
    Some(format!(
        "At the track counts the first three starts of a day, cold as there: {cold} of the {} \
         launches.",
        told.n
    ))
}

/// What did not count, and what counts without a time.
pub fn counts_words(counts: &RunCounts, test: &GuessTest) -> Vec<String> {
    let mut said = Vec::new();
    let mut say = |n: usize, one: &str, many: &str| {
        if n > 0 {
            said.push(format!("{n} {}", if n == 1 { one } else { many }));
        }
    };
    say(
        counts.left_before_tree,
        "left or rolled out before the last amber, which is red",
        "left or rolled out before the last amber, which are red",
    );
    say(counts.lapses, "never left, which is late", "never left, which are late");
    say(
        counts.excluded_reds,
        "excluded red that counts all the same",
        "excluded reds that count all the same",
    );
    say(counts.excluded, "excluded by you and left out", "excluded by you and left out");
    say(counts.timed_out, "not staged in time and left out", "not staged in time and left out");
    say(counts.void, "void and left out", "void and left out");
    say(counts.abandoned, "broken off and left out", "broken off and left out");
    say(counts.scripted, "driven by a script and left out", "driven by a script and left out");
    say(test.blanks + test.lit, "of the guess test, kept apart", "of the guess test, kept apart");
    if let Some(aimed) = aimed_words(counts) {
        said.push(aimed);
    }
    said
}

/// Launches at a declared aim count like the others; aims that differ are a spread of their own.
fn aimed_words(counts: &RunCounts) -> Option<String> {
    let (first, last) = counts.aims?;
    let apart_s = (last - first).as_secs_f64();
    Some(if apart_s > AIMS_ALIKE_S {
        format!(
            "{} at declared aims up to {:.0} ms apart, counted with the others: that widens the spread",
            counts.aimed,
            1000.0 * apart_s
        )
    } else {
        format!("{} at a declared aim, counted with the others", counts.aimed)
    })
}

/// Reds counted, with what such a count allows.
pub fn counted_words(counted: &Counted, what: [&str; 2]) -> String {
    let n = count(counted.share.n, what[0], what[1]);
    let (low, high) = (about(counted.share.low), about(counted.share.high));
    format!("{} red of {n}: anything from {low} to {high} fits that (90 %).", counted.reds)
}

/// The opponent in words.
pub fn rival_words(rival: &Rival) -> String {
    match rival {
        Rival::Level(Level::FirstTimer) => "a first-timer".to_owned(),
        Rival::Level(Level::Weekend) => "a weekend racer".to_owned(),
        Rival::Level(Level::Sharp) => "a sharp racer".to_owned(),
        Rival::Level(Level::Hasty) => "a hasty racer".to_owned(),
        Rival::Level(Level::Late) => "one who plays it late".to_owned(),
        Rival::LikeMe => "somebody like you".to_owned(),
        Rival::Light { mean_s, sd_s } => {
            let words = |x: f64| Form::Light.words(x);
            format!("a racer about {} ± {}", words(*mean_s), words(*sd_s))
        }
        Rival::Slips(rts) => format!("the racer of {}", count(rts.len(), "slip", "slips")),
    }
}

/// The race in words.
pub fn race_words(race: &Race) -> String {
    let finish = match race.finish {
        Finish::Gap(gap) => {
            let ms = |s: f64| format!("{:.0} ms", 1000.0 * s.abs());
            let gap_words = if gap.value.abs() < AS_NOW_S {
                "equal cars".to_owned()
            } else {
                let way = if gap.value > 0.0 { "quicker" } else { "slower" };
                format!("your car {} {way}", ms(gap.value))
            };
            format!("First at the finish wins; {gap_words}, ± {} from race to race", ms(gap.sd))
        }
        Finish::OverDial { mine, opponent } => {
            let over = |et: f64| {
                let way = if et < 0.0 { "under" } else { "over" };
                format!("{:.0} ms {way}", 1000.0 * et.abs())
            };
            format!(
                "Against dial-ins: you run {} yours, the other {}; under it breaks out",
                over(mine.value),
                over(opponent.value)
            )
        }
    };
    let order = match race.order {
        Order::First => "you leave first".to_owned(),
        Order::Second => "you leave second".to_owned(),
        Order::Together => "both leave together".to_owned(),
        Order::HeadStart(s) if s >= 0.0 => format!("you leave {s:.2} s before the other"),
        Order::HeadStart(s) => format!("you leave {:.2} s after the other", -s),
    };
    let foul = match race.foul {
        FoulRule::First => "of two reds the first loses",
        FoulRule::Worst => "of two reds the worse loses",
    };
    format!("{finish}; {order}; {foul}.")
}

/// A lever in a few words.
pub fn lever_name(priced: &PricedLever) -> String {
    let amount = priced.amount.abs();
    match priced.lever.kind {
        LeverKind::Timing => "Timing it".to_owned(),
        LeverKind::DelayBox => "Delay box".to_owned(),
        LeverKind::Depth => {
            let way = if priced.amount > 0.0 { "deeper" } else { "shallower" };
            format!("{amount:.1} in {way}")
        }
        LeverKind::Tyre if priced.unit == "psi" => {
            let way = if priced.amount > 0.0 { "more" } else { "less" };
            format!("{amount:.0} psi {way} in front")
        }
        LeverKind::Tyre => {
            let way = if priced.amount > 0.0 { "taller" } else { "lower" };
            format!("A front tyre {amount:.1} in {way}")
        }
        LeverKind::Strength => format!("A 60-foot time {amount:.2} s quicker"),
    }
}

/// What a lever costs, in words.
pub fn lever_note(priced: &PricedLever) -> &'static str {
    match priced.lever.kind {
        LeverKind::Timing => "free of ET, only for one who anticipates",
        LeverKind::DelayBox => "free of ET, where the class allows it",
        LeverKind::Depth | LeverKind::Tyre => "ET pays it back",
        LeverKind::Strength => "ET improves too",
    }
}

/// `RT -.014`: a change the way a slip prints it.
pub fn change(what: &str, seconds: f64) -> String {
    let sign = if seconds < 0.0 { "" } else { "+" };
    match Form::Light.words(seconds).as_str() {
        ".000" => format!("{what} .000"),
        words => format!("{what} {sign}{words}"),
    }
}

/// The name of a source at the head of a column.
pub fn source_words(source: Source) -> &'static str {
    match source {
        Source::Practice => "practice",
        Source::Slips => "slips alone",
    }
}

/// The flat top in words.
pub fn flat_words(view: &ViewTold) -> String {
    let best = &view.at_best.best;
    let range = aim_range_words(best.flat_low_s, best.flat_high_s);
    format!("Anything from {range} costs under half a percent.")
}

/// Eighth or quarter mile.
pub fn length_words(length: TrackLength) -> &'static str {
    match length {
        TrackLength::Eighth => "eighth mile",
        TrackLength::Quarter => "quarter mile",
    }
}
