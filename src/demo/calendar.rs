//! When the made-up driver practises, and what.
//!
//! Owns the eighteen evenings, the three nights at the track and the runs at which something goes
//! wrong. Refuses how a run goes.

use crate::seed::Generator;
use crate::trial::{Drill, Style};
use jiff::Timestamp;
use jiff::civil::Date;
use jiff::tz::TimeZone;
use rand::RngExt;

/// A Monday. Fixed, so that the same seed gives the same lines.
const FIRST_DAY: Date = jiff::civil::date(2026, 4, 6);
/// Weeks of practice.
pub(super) const WEEKS: usize = 6;
/// Evenings a week, two days apart.
pub(super) const EVENINGS: usize = 3;
/// Launches of one style before the other one's turn.
const BLOCK: usize = 10;

/// Something that spoils a run or takes its light.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(super) enum Mishap {
    /// The display shows the last amber far too late.
    Late,
    /// The window loses the focus in the middle.
    FocusLost,
    /// The driver breaks it off.
    Paused,
    /// The driver never leaves.
    Asleep,
    /// The driver leaves before the tree comes down.
    TooSoon,
}

/// How often each happens in the six weeks.
const MISHAPS: [(Mishap, usize); 5] = [
    (Mishap::Late, 4),
    (Mishap::FocusLost, 2),
    (Mishap::Paused, 3),
    (Mishap::Asleep, 3),
    (Mishap::TooSoon, 3),
];

/// A run that is planned.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(super) struct Planned {
    pub drill: Drill,
    pub style: Style,
    pub mishap: Option<Mishap>,
}

/// Drills of an evening with their numbers of runs.
fn drills(week: usize, evening: usize) -> &'static [(Drill, usize)] {
    match (evening, week.is_multiple_of(2)) {
        (0, _) => &[(Drill::RollUp, 6), (Drill::TreeOnly, 14)],
        (1, true) => &[(Drill::ReactOrTime, 40)],
        (1, false) => &[(Drill::TreeOnly, 20), (Drill::OtherLaneFirst, 10)],
        (_, true) => &[(Drill::TreeOnly, 20)],
        (_, false) => &[(Drill::GuessTest, 20), (Drill::TreeOnly, 10)],
    }
}

/// The runs of every evening.
pub(super) fn evenings(random: &mut Generator) -> Vec<Vec<Planned>> {
    let styled = |drill, place: usize| match drill {
        Drill::ReactOrTime if (place / BLOCK).is_multiple_of(2) => Style::React,
        Drill::GuessTest => Style::React,
        _ => Style::TimeIt,
    };
    let mut evenings: Vec<Vec<Planned>> = (0..WEEKS * EVENINGS)
        .map(|evening| {
            let drills = drills(evening / EVENINGS, evening % EVENINGS).iter();
            let runs = drills.flat_map(|(drill, runs)| (0..*runs).map(|place| (*drill, place)));
            runs.map(|(drill, place)| Planned { drill, style: styled(drill, place), mishap: None })
                .collect()
        })
        .collect();
    for (mishap, times) in MISHAPS {
        for _ in 0..times {
            befall(&mut evenings, mishap, random);
        }
    }
    evenings
}

/// Lets a mishap befall a launch that nothing befell yet.
fn befall(evenings: &mut [Vec<Planned>], mishap: Mishap, random: &mut Generator) {
    let free = |run: &&mut Planned| run.drill == Drill::TreeOnly && run.mishap.is_none();
    let mut runs: Vec<&mut Planned> = evenings.iter_mut().flatten().filter(free).collect();
    let place = random.random_range(0..runs.len().max(1));
    if let Some(run) = runs.get_mut(place) {
        run.mishap = Some(mishap);
    }
}

/// When an evening begins.
pub(super) fn evening_begins(evening: usize, random: &mut Generator) -> Timestamp {
    let day = 7 * (evening / EVENINGS) + 2 * (evening % EVENINGS);
    at(day, 18, random.random_range(0..150))
}

/// The nights at the track: the evening after which each comes, and its passes.
pub(super) const NIGHTS: [(usize, usize); 3] = [(5, 5), (11, 5), (17, 4)];

/// When the night after an evening begins: the Saturday of its week.
pub(super) fn night_begins(evening: usize) -> Timestamp {
    at(7 * (evening / EVENINGS) + 5, 17, 20)
}

/// So many minutes after the full hour, on a day counted from the first.
fn at(day: usize, hour: i8, minutes: i64) -> Timestamp {
    let date = FIRST_DAY.saturating_add(jiff::Span::new().days(day as i64));
    let begins = date.at(hour, 0, 0, 0).to_zoned_datetime(TimeZone::UTC);
    let begins = begins.expect("every time of day exists in UTC").timestamp();
    begins + jiff::Span::new().minutes(minutes)
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::seed::generator;

    #[test]
    fn six_weeks_have_eighteen_evenings_and_every_mishap() {
        let evenings = evenings(&mut generator(1));
        assert_eq!(evenings.len(), 18);
        let runs: Vec<&Planned> = evenings.iter().flatten().collect();
        assert!((440..=500).contains(&runs.len()), "{}", runs.len());
        for (mishap, times) in MISHAPS {
            assert_eq!(runs.iter().filter(|run| run.mishap == Some(mishap)).count(), times);
        }
        assert!(runs.iter().any(|run| run.style == Style::React));
    }

    #[test]
    fn nights_come_after_the_evenings_of_their_week() {
        let mut random = generator(1);
        for (evening, _) in NIGHTS {
            let last = evening_begins(evening, &mut random);
            let night = night_begins(evening);
            assert!(last < night && night < evening_begins(evening + 1, &mut random));
            assert_eq!(
                night.to_zoned_datetime(TimeZone::UTC).weekday(),
                jiff::civil::Weekday::Saturday
            );
        }
    }
}
