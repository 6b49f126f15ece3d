//! When the made-up driver practises, and what.
//!
//! Owns the evenings, the nights at the track and the runs at which something goes wrong, of six weeks
//! and of years. Refuses how a run goes.

use crate::seed::Generator;
use crate::trial::{Drill, Style};
use jiff::Timestamp;
use jiff::civil::Date;
use jiff::tz::TimeZone;
use rand::RngExt;

/// A Monday. Fixed, so that the same seed gives the same lines.
const FIRST_DAY: Date = jiff::civil::date(2026, 4, 6);
/// Weeks of a season.
const WEEKS: usize = 6;
/// Evenings a week with drills of their own; where there are more, drills come again.
const EVENINGS: usize = 3;
/// Passes of a night at the track at the end of each week of a season.
const PASSES: [Option<usize>; WEEKS] = [None, Some(5), None, Some(5), None, Some(4)];
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

/// How often each happens in six weeks of three evenings; the more is driven, the more often.
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

/// How much is made up.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(super) struct Plan {
    /// Six weeks each, one after the other.
    pub seasons: usize,
    evenings: usize,
    rounds: usize,
    /// Evenings from one forecast to the next; each takes as long as a hundred runs.
    pub forecast_every: usize,
}

/// A day of practice.
#[derive(Debug, Clone, PartialEq, Eq)]
pub(super) struct Evening {
    /// Counted from the first day of all.
    pub day: usize,
    /// What is driven, in rounds with a rest between them.
    pub rounds: Vec<Vec<Planned>>,
    /// Passes of a night at the track on the Saturday after it, if there is one.
    pub passes: Option<usize>,
}

impl Plan {
    /// Six weeks of three evenings.
    pub const SIX_WEEKS: Self = Self { seasons: 1, evenings: 3, rounds: 1, forecast_every: 1 };

    /// Five evenings a week of a driver who cannot stop: 35,000 runs a year, more or less.
    pub fn years(years: usize) -> Self {
        let seasons = (52 * years).div_ceil(WEEKS);
        Self { seasons, evenings: 5, rounds: 5, forecast_every: 5 * WEEKS }
    }

    /// Evenings of all seasons.
    pub fn evenings(&self) -> usize {
        self.seasons * WEEKS * self.evenings
    }

    /// The first day, a Monday. All of it ends where the six weeks do.
    fn first_day(&self) -> Date {
        let earlier = WEEKS * (self.seasons - 1);
        FIRST_DAY.saturating_sub(jiff::Span::new().weeks(earlier as i64))
    }

    /// The evenings of a season.
    pub fn season(&self, season: usize, random: &mut Generator) -> Vec<Evening> {
        let evening = |i: usize| {
            let (week, of_week) = (i / self.evenings, i % self.evenings);
            let pattern = of_week * EVENINGS / self.evenings;
            Evening {
                day: 7 * (WEEKS * season + week) + self.day_of(of_week),
                rounds: (0..self.rounds).map(|_| runs(week, pattern)).collect(),
                passes: PASSES[week].filter(|_| of_week + 1 == self.evenings),
            }
        };
        let mut evenings: Vec<Evening> = (0..WEEKS * self.evenings).map(evening).collect();
        let share = self.evenings * self.rounds;
        for (mishap, times) in MISHAPS {
            for _ in 0..times * share / EVENINGS {
                befall(&mut evenings, mishap, random);
            }
        }
        evenings
    }

    fn day_of(&self, of_week: usize) -> usize {
        if self.evenings == EVENINGS { 2 * of_week } else { of_week }
    }

    /// When a day's practice begins.
    pub fn evening_begins(&self, day: usize, random: &mut Generator) -> Timestamp {
        at(self.first_day(), day, 18, random.random_range(0..150))
    }

    /// When the night after an evening begins: the Saturday of its week.
    pub fn night_begins(&self, day: usize) -> Timestamp {
        at(self.first_day(), day - day % 7 + 5, 17, 20)
    }
}

/// A round of an evening's drills.
fn runs(week: usize, evening: usize) -> Vec<Planned> {
    let styled = |drill, place: usize| match drill {
        Drill::ReactOrTime if (place / BLOCK).is_multiple_of(2) => Style::React,
        Drill::GuessTest => Style::React,
        _ => Style::TimeIt,
    };
    let drills = drills(week, evening).iter();
    let runs = drills.flat_map(|(drill, runs)| (0..*runs).map(|place| (*drill, place)));
    runs.map(|(drill, place)| Planned { drill, style: styled(drill, place), mishap: None })
        .collect()
}

/// Lets a mishap befall a launch that nothing befell yet.
fn befall(evenings: &mut [Evening], mishap: Mishap, random: &mut Generator) {
    let free = |run: &&mut Planned| run.drill == Drill::TreeOnly && run.mishap.is_none();
    let rounds = evenings.iter_mut().flat_map(|evening| &mut evening.rounds);
    let mut runs: Vec<&mut Planned> = rounds.flatten().filter(free).collect();
    let place = random.random_range(0..runs.len().max(1));
    if let Some(run) = runs.get_mut(place) {
        run.mishap = Some(mishap);
    }
}

/// So many minutes after the full hour, on a day counted from the first.
fn at(first: Date, day: usize, hour: i8, minutes: i64) -> Timestamp {
    let date = first.saturating_add(jiff::Span::new().days(day as i64));
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
        let evenings = Plan::SIX_WEEKS.season(0, &mut generator(1));
        assert_eq!(evenings.len(), 18);
        let runs: Vec<&Planned> = evenings.iter().flat_map(|e| &e.rounds).flatten().collect();
        assert!((440..=500).contains(&runs.len()), "{}", runs.len());
        for (mishap, times) in MISHAPS {
            assert_eq!(runs.iter().filter(|run| run.mishap == Some(mishap)).count(), times);
        }
        assert!(runs.iter().any(|run| run.style == Style::React));
    }

    #[test]
    fn nights_come_after_the_evenings_of_their_week() {
        let mut random = generator(1);
        for plan in [Plan::SIX_WEEKS, Plan::years(1)] {
            let evenings = plan.season(plan.seasons - 1, &mut random);
            assert_eq!(evenings.iter().filter(|evening| evening.passes.is_some()).count(), 3);
            for (i, evening) in evenings.iter().enumerate().filter(|(_, e)| e.passes.is_some()) {
                let last = plan.evening_begins(evening.day, &mut random);
                let night = plan.night_begins(evening.day);
                let next = evenings.get(i + 1).map(|e| plan.evening_begins(e.day, &mut random));
                assert!(last < night && next.is_none_or(|next| night < next));
                assert_eq!(
                    night.to_zoned_datetime(TimeZone::UTC).weekday(),
                    jiff::civil::Weekday::Saturday
                );
            }
        }
    }

    #[test]
    fn three_years_are_about_a_hundred_thousand_runs_and_end_where_six_weeks_do() {
        let plan = Plan::years(3);
        let mut random = generator(1);
        let evenings: Vec<Evening> =
            (0..plan.seasons).flat_map(|season| plan.season(season, &mut random)).collect();
        let runs: usize = evenings.iter().flat_map(|e| &e.rounds).map(Vec::len).sum();
        assert!((95_000..=106_000).contains(&runs), "{runs}");
        assert_eq!(evenings.len(), 780);
        let last = Plan::SIX_WEEKS.season(0, &mut random).last().unwrap().day;
        let ends = |plan: Plan, day| plan.night_begins(day);
        assert_eq!(ends(plan, evenings[779].day), ends(Plan::SIX_WEEKS, last));
    }
}
