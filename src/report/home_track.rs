//! Home against the track on a page: the slip beside practice, the likely reasons, one thing to try.
//!
//! Owns the words. Refuses to split the offset: slips know only the sum of rig, limb, car and track.

use super::my_car::source_words;
use super::page::{Axis, Block, Form, Hue, LayerKind, Page, Plot, Table};
use super::words::{light_with_interval, ms, ms_with_interval};
use crate::stats::Estimate;
use crate::stats::left_on_green::GREEN_LIGHT_S;
use crate::strategy::own::{Bridge, LikelyReason, Reason, WANTED_S};

/// Reasons shown.
const MOST_REASONS: usize = 5;

/// The page; without a bridge what it takes to have one.
pub fn home_to_track_page(bridge: Option<&Bridge>) -> Page {
    let Some(bridge) = bridge else {
        let mut page = Page::new("There is no slip to hold against home yet.");
        page.text(
            "It takes a slip with an R/T, not left on green, and two launches here in the same car, on the \
             same tree, in the same style. One slip already tells something.",
        );
        return page;
    };
    let mut page = Page::new(headline(bridge));
    page.push(Block::Plot(plot(bridge)));
    page.push(Block::Table(figures(bridge)));
    if let Some(said) = left_on_green_words(bridge.left_on_green, bridge.slips_s.len()) {
        page.push(Block::Caution(format!(
            "{said}. Set aside for the difference and the offset. If so, mark it as left on green; if its \
             track counts from the last amber, give its scale."
        )));
    }
    page.heading("Likely reasons, the likeliest first");
    let reasons = bridge.reasons.iter().take(MOST_REASONS).map(reason_words);
    page.push(Block::Points(reasons.collect()));
    page.heading("One thing to try");
    page.text(one_thing(bridge));
    page.heading("What it changes");
    page.text(format!(
        "At the track you are {} than here, all causes together. It is put on the R/T once, where the \
         program speaks of the track; your car part and your rig's delay stay as they are until a film says \
         otherwise.",
        later_or_earlier(&bridge.offset_s)
    ));
    page.note(format!(
        "Before any slip it was 0 ± {} ms: ± 40 ms chosen for pedal, seat and nerves, and what is not known \
         of your car.",
        ms(bridge.prior_sd_s)
    ));
    page.text("How many slips it takes to know it this well:");
    page.push(Block::Points(slips_wanted(bridge)));
    page
}

fn headline(bridge: &Bridge) -> String {
    let Some(rt) = bridge.newest.rt() else {
        return "The newest slip has no R/T.".to_owned();
    };
    let gap_s = bridge.gap_s();
    let way = if gap_s >= 0.0 { "later" } else { "earlier" };
    let home = Form::Light.words(bridge.home_s.value);
    let within = if gap_s.abs() <= 1.645 * bridge.home_sd_s {
        "that is no more than your launches differ anyway"
    } else {
        "that is more than your launches differ"
    };
    format!("Slip {rt}, home {home}: {} ms {way}; {within}.", ms(gap_s.abs()))
}

/// A shift with its interval, its sign in a word.
fn later_or_earlier(shift_s: &Estimate) -> String {
    if shift_s.value >= 0.0 {
        return format!("{} later", ms_with_interval(shift_s));
    }
    let turned =
        Estimate { value: -shift_s.value, low: -shift_s.high, high: -shift_s.low, ..*shift_s };
    format!("{} earlier", ms_with_interval(&turned))
}

fn plot(bridge: &Bridge) -> Plot {
    let slips = &bridge.slips_s;
    let n = slips.len() as f64;
    let (home, sd) = (bridge.home_s.value, bridge.home_sd_s);
    let wide = |low: f64, high: f64| vec![[0.5, low, high], [n + 0.5, low, high]];
    let points = slips.iter().enumerate().map(|(i, rt)| [i as f64 + 1.0, *rt]);
    let offset = bridge.offset_s;
    Plot::new(
        "Your slips against what home and My car expect",
        Axis::new("slip", Form::Plain(0)).from_to(0.5, n + 0.5),
        Axis::new("R/T, s", Form::Light),
    )
    .with(
        "nine in ten at home",
        Hue::Muted,
        LayerKind::Band(wide(home - 1.645 * sd, home + 1.645 * sd)),
    )
    .with(
        "where slips put the average",
        Hue::Driver,
        LayerKind::Band(wide(home + offset.low, home + offset.high)),
    )
    .with("home", Hue::Text, LayerKind::Level(home))
    .with("slips", Hue::Driver, LayerKind::Points(points.collect()))
}

/// Which of some slips read as if they had waited for green; no words where none does.
pub fn left_on_green_words(aside: usize, all: usize) -> Option<String> {
    let (first, last) = GREEN_LIGHT_S;
    let lights = format!("{} to {}", Form::Light.words(first), Form::Light.words(last));
    let some = match aside {
        0 => return None,
        1 => format!("One of {all} slips reads as if you had waited for green"),
        _ => format!("{aside} of {all} slips read as if you had waited for green"),
    };
    Some(format!("{some}, with an R/T from {lights} where home is far quicker"))
}

fn figures(bridge: &Bridge) -> Table {
    let mut table = Table::new("Home and track", &["", "R/T or ms"]);
    table.push(["home, mean (90 %)".to_owned(), light_with_interval(&bridge.home_s)]);
    let spread = match &bridge.home_spread_s {
        Some(spread) => ms_with_interval(spread),
        None => format!("{} ms (no interval, n = {})", ms(bridge.home_sd_s), bridge.home_s.n),
    };
    table.push(["home, spread (90 %)".to_owned(), spread]);
    let newest = bridge.newest.rt().map_or_else(String::new, |rt| rt.to_string());
    table.push(["newest slip".to_owned(), newest]);
    let difference = match &bridge.difference {
        Some(difference) => ms_with_interval(&difference.seconds),
        None => "two slips give the first".to_owned(),
    };
    table.push(["slips less home (90 %)".to_owned(), difference]);
    table.push(["offset in force (90 %)".to_owned(), ms_with_interval(&bridge.offset_s)]);
    table
}

fn reason_words(likely: &LikelyReason) -> String {
    let worth = ms(likely.worth_s);
    match likely.reason {
        Reason::Chance => {
            format!("Chance: one of your launches differs from the next by ± {worth} ms.")
        }
        Reason::WaitedForGreen => {
            format!("It looks like waiting for green, which costs the whole interval: {worth} ms.")
        }
        Reason::OlderScale => {
            "The slip may count on the old scale, .500 or .400 for perfect: look at it again."
                .to_owned()
        }
        Reason::Car(source) => format!(
            "Your car part is known to ± {worth} ms only; most of it is the {}.",
            source_words(source)
        ),
        Reason::RigDelay => format!(
            "The delay of control and screen here is known to ± {worth} ms only: it was never filmed."
        ),
        Reason::Bulbs => format!(
            "Bulbs take some {worth} ms to be bright (from memory, not looked up); the lamps here do not."
        ),
        Reason::Depth => {
            format!("You stood at another depth than My car says; that alone is worth {worth} ms.")
        }
        Reason::FirstLaunch => {
            format!("It was the day's first launch; those differ by some {worth} ms (chosen).")
        }
        Reason::OtherDay => format!("Days differ: some {worth} ms until yours are measured."),
        Reason::TrackItself => {
            format!("Another pedal, another seat, other nerves: some {worth} ms (chosen).")
        }
    }
}

/// What to do about the likeliest reason that anything can be done about.
fn one_thing(bridge: &Bridge) -> &'static str {
    let first = bridge.reasons.iter().find(|likely| likely.reason != Reason::OtherDay);
    match first.map(|likely| likely.reason) {
        Some(Reason::Chance) | None => {
            "Nothing yet: make the next runs as this one, and enter their slips."
        }
        Some(Reason::WaitedForGreen) => {
            "Next run: leave on the last amber, whatever the eyes say of green."
        }
        Some(Reason::OlderScale) => {
            "Look at a slip of somebody who waited: .5 there means today's scale."
        }
        Some(Reason::Car(_)) => {
            "Film one start line: a friend, a phone at 240 frames a second, three launches. It measures your \
             car part."
        }
        Some(Reason::RigDelay) => {
            "Film this rig: ten minutes with a phone, under This rig in the menu."
        }
        Some(Reason::Bulbs) => {
            "Write LED or bulbs on every slip, and do not mix the two in your head."
        }
        Some(Reason::Depth) => "Stage at one depth, the same every time, and write it on the slip.",
        Some(Reason::FirstLaunch) => {
            "Enter the later slips of that night as well: the first is its own."
        }
        Some(Reason::OtherDay | Reason::TrackItself) => {
            "Practise with the foot and the pedal you race with, on more than one day."
        }
    }
}

fn slips_wanted(bridge: &Bridge) -> Vec<String> {
    let have = bridge.slips_s.len() as u64;
    let known_s = (bridge.offset_s.high - bridge.offset_s.low) / 2.0;
    let from =
        if bridge.slips_own_spread { "your slips' own spread" } else { "your spread at home" };
    let wanted = WANTED_S.iter().zip(bridge.slips_wanted);
    wanted
        .map(|(half, slips)| match slips {
            _ if known_s <= *half => format!("± {} ms: there already.", ms(*half)),
            Some(slips) => {
                // A spread seen in few slips is mixed with the one at home: the count may lag behind.
                let more = slips.saturating_sub(have).max(1);
                let word = if more == 1 { "slip" } else { "slips" };
                format!("± {} ms: about {more} more {word}, by {from}.", ms(*half))
            }
            None => format!(
                "± {} ms: no number of slips is enough, because home itself is not known that well; \
                 practise on more days.",
                ms(*half)
            ),
        })
        .collect()
}
