//! Advice in sentences: the headline of Aim, react or time it, and what to practise next.
//!
//! Owns the words, the same on every screen and in every report. Refuses to compute.

use crate::stats::Estimate;
use crate::strategy::aim::Headline;
use crate::strategy::practise::Practise;
use crate::strategy::verdict::{Choice, More, Verdict};
use crate::trial::Style;

/// A share in percent; something small is never told as nothing.
pub fn percent(share: f64) -> String {
    if share == 0.0 {
        "0 %".to_owned()
    } else if share > 0.0 && share < 0.0005 {
        "below 0.1 %".to_owned()
    } else {
        format!("{:.1} %", 100.0 * share)
    }
}

/// A chance with its interval.
pub fn chance(e: &Estimate) -> String {
    format!("{} ({} to {})", percent(e.value), percent(e.low), percent(e.high))
}

/// The first sentence of Aim.
pub fn headline_sentence(headline: &Headline) -> String {
    match headline {
        Headline::Known(risk) => format!("At the track in this car: red {}.", chance(risk)),
        Headline::NotKnown { risk, slips } => {
            let tell = match slips {
                Some(1) => "a film or 1 slip would tell".to_owned(),
                Some(slips) => format!("a film or {slips} slips would tell"),
                None => "your days differ too much for slips to tell; more days would".to_owned(),
            };
            let (low, high) = (percent(risk.low), percent(risk.high));
            format!("Not known for your car yet: {tell}. (Red anywhere from {low} to {high}.)")
        }
    }
}

/// React or time it, in one sentence.
pub fn verdict_sentence(verdict: &Verdict) -> String {
    let right = percent(verdict.right);
    match verdict.choice {
        Choice::TimeIt => format!("Time it: right with a probability of {right}."),
        Choice::React => format!("React: right with a probability of {right}."),
        Choice::NotEnough(more) => {
            let likelier = if verdict.judgements.first().is_some_and(|j| j.time_it_right > 0.5) {
                "timing"
            } else {
                "reacting"
            };
            let more = more_in_words(more);
            format!("Not enough yet ({right} for {likelier}): {more}.")
        }
    }
}

/// How many more launches would settle it.
pub fn more_in_words(more: More) -> String {
    match more {
        More::Of(Style::React, n) => format!("{n} more of reacting"),
        More::Of(Style::TimeIt, n) => format!("{n} more of timing"),
        More::OfEach(n) => format!("{n} more of each"),
        More::TooClose => "the two are so close that it does not matter which".to_owned(),
    }
}

/// The one thing to practise next, with its reason and what it brings.
pub fn practise_sentence(practise: &Practise) -> String {
    let points = |share: &f64| format!("{:.1} points", 100.0 * share);
    let gained = |Estimate { value, low, high, .. }: &Estimate| {
        format!("{} ({:.1} to {:.1})", points(value), 100.0 * low, 100.0 * high)
    };
    match practise {
        Practise::Launch { more } => {
            format!("Make {more} more launches: below ten only counts can be told.")
        }
        Practise::FilmOrSlips { slips, width } => {
            let what = match slips {
                Some(1) => "Film a launch, or enter a slip".to_owned(),
                Some(slips) => format!("Film a launch, or enter {slips} slips"),
                None => "Practise on more days".to_owned(),
            };
            format!("{what}: the risk at the track is known to {} only.", points(width))
        }
        Practise::Blocks { more } => format!(
            "Go on with blocks in turn ({}): whether to react or to time it is open.",
            more_in_words(*more)
        ),
        Practise::AnotherDay { days } => format!(
            "Practise on another day ({days} so far): how much your days differ is assumed, three \
             measure it."
        ),
        Practise::Aim { earlier_s, gain } => {
            let way = if *earlier_s >= 0.0 { "earlier" } else { "later" };
            let ms = 1000.0 * earlier_s.abs();
            format!("Aim {ms:.0} ms {way}: it brings {}.", gained(gain))
        }
        Practise::Spread { by_ms, gain } => {
            format!("Launch more evenly: {by_ms:.0} ms less spread brings {}.", gained(gain))
        }
        Practise::KnowTheRisk { more, to } => {
            format!("Make {more} more launches: then the risk is known to ± {}.", points(to))
        }
        Practise::KeepTheForm => "Keep the form: nothing stands out.".to_owned(),
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_headline_says_what_would_tell() {
        let risk = Estimate { value: 0.2, low: 0.02, high: 0.6, level: 0.9, n: 60 };
        let sentence = headline_sentence(&Headline::NotKnown { risk, slips: Some(6) });
        assert!(sentence.starts_with("Not known for your car yet: a film or 6 slips would tell."));
        let known = Estimate { low: 0.1, high: 0.25, ..risk };
        assert_eq!(
            headline_sentence(&Headline::Known(known)),
            "At the track in this car: red 20.0 % (10.0 % to 25.0 %)."
        );
        let never = headline_sentence(&Headline::NotKnown { risk, slips: None });
        assert!(never.contains("more days"), "{never}");
    }

    #[test]
    fn every_recommendation_has_a_reason() {
        let gain = Estimate { value: 0.031, low: -0.004, high: 0.062, level: 0.9, n: 60 };
        let all = [
            Practise::Launch { more: 3 },
            Practise::FilmOrSlips { slips: Some(1), width: 0.4 },
            Practise::Blocks { more: More::Of(Style::React, 20) },
            Practise::AnotherDay { days: 1 },
            Practise::Aim { earlier_s: -0.012, gain },
            Practise::Spread { by_ms: 3.0, gain },
            Practise::KnowTheRisk { more: 40, to: 0.05 },
        ];
        for practise in all {
            let sentence = practise_sentence(&practise);
            assert!(sentence.contains(": ") && sentence.ends_with('.'), "{sentence}");
        }
        let later = practise_sentence(&all[4]);
        assert_eq!(later, "Aim 12 ms later: it brings 3.1 points (-0.4 to 6.2).");
    }
}
