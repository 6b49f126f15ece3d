//! The drills: what each one sets up.
//!
//! Owns, for every drill, its length, how the cars stand, who is in the other lane, which
//! runs are blank and which style a run is declared in. Refuses the run itself.

use crate::drill::night::LAUNCHES;
use crate::rules::Procedure;
use crate::seed::seed_of_run;
use crate::tree::{Company, OtherDriver};
use crate::trial::{Drill, Style};
use crate::units::Span;

/// In the order they take turns.
pub const DRILLS: [Drill; 7] = [
    Drill::RollUp,
    Drill::TreeOnly,
    Drill::ReactOrTime,
    Drill::GuessTest,
    Drill::OtherLaneFirst,
    Drill::HoldAnAim,
    Drill::TrackNight,
];
/// Launches of one style before the other one's turn. Chosen: short enough that warm-up and fatigue
/// fall on both styles alike.
pub const BLOCK: u32 = 10;
/// Share of blank runs in the guess test. Chosen: rare enough that reacting stays the habit.
const BLANK_SHARE: f64 = 0.20;
/// How much earlier the other lane's tree starts, ms. Chosen: the gaps of street cars' dial-ins.
const HEAD_START_MS: (u64, u64) = (400, 3_000);

/// Streams of a run's seed.
const OTHER_STREAM: u64 = 0;
const BLANK_STREAM: u64 = 1;
const HEAD_START_STREAM: u64 = 2;

/// The drill after this one.
pub fn next_drill(drill: Drill) -> Drill {
    let at = DRILLS.iter().position(|other| *other == drill).unwrap_or(0);
    DRILLS[(at + 1) % DRILLS.len()]
}

/// Runs of a round.
pub fn drill_length(drill: Drill) -> u32 {
    match drill {
        Drill::RollUp => 6,
        Drill::TreeOnly | Drill::OtherLaneFirst | Drill::HoldAnAim => 20,
        Drill::ReactOrTime | Drill::GuessTest => 40,
        Drill::TrackNight => LAUNCHES as u32,
    }
}

/// Whether the driver's car already stands in the beams.
pub fn starts_staged(drill: Drill) -> bool {
    !matches!(drill, Drill::RollUp | Drill::TrackNight)
}

/// How the start is given.
pub fn procedure(drill: Drill) -> Procedure {
    if starts_staged(drill) { Procedure::tree_only() } else { Procedure::bracket() }
}

/// Who stands in the other lane: of the company the driver wishes for, who may ask for the driver's own
/// lights (RT, s).
pub fn other_lane(
    drill: Drill,
    company: Company,
    own_lights_s: &[f64],
    seed: u64,
) -> Option<OtherDriver> {
    match drill {
        Drill::RollUp | Drill::OtherLaneFirst | Drill::TrackNight => {
            Some(company.driver(own_lights_s, seed_of_run(seed, OTHER_STREAM)))
        }
        Drill::TreeOnly | Drill::ReactOrTime | Drill::GuessTest | Drill::HoldAnAim => None,
    }
}

/// Whether the last amber of the run of this seed is withheld.
pub fn is_blank(drill: Drill, seed: u64) -> bool {
    drill == Drill::GuessTest && share(seed, BLANK_STREAM) < BLANK_SHARE
}

/// How much later than the other lane's the driver's tree starts.
pub fn own_delay(drill: Drill, seed: u64) -> Span {
    if drill != Drill::OtherLaneFirst {
        return Span::ZERO;
    }
    let (least, most) = HEAD_START_MS;
    let ms = least + seed_of_run(seed, HEAD_START_STREAM) % (most - least + 1);
    Span::from_ms(ms as i64)
}

/// 0 to 1, from a stream of a seed.
fn share(seed: u64, stream: u64) -> f64 {
    // The upper 53 bits: as many as a fraction of this type holds.
    (seed_of_run(seed, stream) >> 11) as f64 / (1_u64 << 53) as f64
}

/// The style a run is declared in; `place` counts the runs of the round from 0, `chosen` is the
/// driver's own.
pub fn declared_style(drill: Drill, place: u32, chosen: Style) -> Style {
    match drill {
        Drill::ReactOrTime if (place / BLOCK).is_multiple_of(2) => Style::React,
        Drill::ReactOrTime => Style::TimeIt,
        // Whoever times a launch does not wait for the last amber: the test is about reacting.
        Drill::GuessTest => Style::React,
        // A place in time is aimed at by the rhythm: waiting for the lamp leaves nothing to choose.
        Drill::HoldAnAim => Style::TimeIt,
        Drill::RollUp | Drill::TreeOnly | Drill::OtherLaneFirst | Drill::TrackNight => chosen,
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn every_drill_has_its_turn_and_comes_back() {
        let mut met = vec![Drill::RollUp];
        while met.len() < DRILLS.len() {
            met.push(next_drill(*met.last().unwrap()));
        }
        assert_eq!(met, DRILLS);
        assert_eq!(next_drill(met[DRILLS.len() - 1]), Drill::RollUp);
    }

    #[test]
    fn one_guess_test_run_in_five_is_blank_and_no_other_ever() {
        let blanks = (0..10_000).filter(|seed| is_blank(Drill::GuessTest, *seed)).count();
        // Three standard errors of 10,000 draws at .2.
        assert!((1_880..=2_120).contains(&blanks), "{blanks}");
        assert!((0..1_000).all(|seed| !is_blank(Drill::TreeOnly, seed)));
    }

    #[test]
    fn styles_take_turns_by_tens_and_elsewhere_the_drivers_choice_stands() {
        let style = |place| declared_style(Drill::ReactOrTime, place, Style::TimeIt);
        assert_eq!(
            [style(0), style(9), style(10), style(19), style(20)],
            [Style::React, Style::React, Style::TimeIt, Style::TimeIt, Style::React]
        );
        assert_eq!(declared_style(Drill::TreeOnly, 3, Style::TimeIt), Style::TimeIt);
    }

    #[test]
    fn the_other_lane_is_ahead_by_a_dial_in_of_street_cars() {
        let delays: Vec<Span> =
            (0..500).map(|seed| own_delay(Drill::OtherLaneFirst, seed)).collect();
        let (least, most) = (delays.iter().min().unwrap(), delays.iter().max().unwrap());
        assert!(*least >= Span::from_ms(400) && *most <= Span::from_ms(3_000));
        assert!(*most - *least > Span::from_ms(2_000));
        assert_eq!(own_delay(Drill::RollUp, 1), Span::ZERO);
    }
}
