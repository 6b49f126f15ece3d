//! Kinds of drivers one meets in the other lane, as data.
//!
//! Owns, for every temper, the law of its lights and its ways on the way in, each with its standing.
//! The driver in the lane and the odds of a race are drawn from this one table. Refuses acting on it
//! (`other_driver`) and cars.

/// The 95 % point of the standard normal law: nine in ten lie within it to either side.
const NINE_IN_TEN: f64 = 1.644_853_626_951_472_7;

/// What kind of driver.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash)]
pub enum Temper {
    /// Rolls in at once, waits for the other lane's pre-stage lamp, stages without delay.
    Prompt,
    /// Does everything right, in its own good time.
    Slow,
    /// Rolls straight through pre-stage into stage and waits for nobody.
    ForgetsCourtesy,
    /// The first visits: looks for the beams, lets the other go first, leaves late or very late.
    NewToIt,
    /// Knows the car and the tree; now and then deep.
    Sharp,
    /// In and out in a hurry: good lights and reds.
    Hasty,
    /// Would sooner lose a tenth than light the red, lets the other stage first.
    PlaysLate,
}

/// A temper in numbers.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Habits {
    /// Nine in ten lights (RT) lie in it, s, the others evenly to either side of it: a normal law. On
    /// a tree with .500 s from last amber to green; on another the driver is as quick, not the light.
    pub light_s: (f64, f64),
    /// Where the lights come from.
    pub light_because: &'static str,
    /// From the start to the first roll, s, evenly spread.
    pub arrives_s: (f64, f64),
    /// From being free to stage to rolling on, s, evenly spread.
    pub thinks_s: (f64, f64),
    /// The chance to wait in pre-stage for the other lane's pre-stage lamp; else rolls through.
    pub courtesy: f64,
    /// The chance to stage without waiting for the other lane's stage lamp.
    pub goes_first: f64,
    /// The chance to roll on until pre-stage goes out.
    pub deep: f64,
    /// The chance to meet such a one among strangers.
    pub met: f64,
    /// Where its ways come from.
    pub ways_because: &'static str,
}

impl Habits {
    /// The mean light, s.
    pub fn mean_light_s(&self) -> f64 {
        0.5 * (self.light_s.0 + self.light_s.1)
    }

    /// The spread of lights, SD, s: half the band over 1.645.
    pub fn sd_light_s(&self) -> f64 {
        0.5 * (self.light_s.1 - self.light_s.0) / NINE_IN_TEN
    }
}

/// Waits for pre-stage, stages at once and shallow: what is asked of everybody.
const PROPER: Habits = Habits {
    light_s: (0.060, 0.250),
    light_because: "chosen, because it lies between first-timers and competent foot-brake racers; \
                    no source gives a band",
    arrives_s: (0.2, 0.8),
    thinks_s: (0.5, 1.2),
    courtesy: 1.0,
    goes_first: 1.0,
    deep: 0.0,
    met: 0.30,
    ways_because: "courtesy staging as tracks' racer information asks for it; times chosen, because \
                   they are a foot's and a look's",
};

impl Temper {
    /// All.
    pub const ALL: [Self; 7] = [
        Self::Prompt,
        Self::Slow,
        Self::ForgetsCourtesy,
        Self::NewToIt,
        Self::Sharp,
        Self::Hasty,
        Self::PlaysLate,
    ];

    /// The temper's name.
    pub fn name(self) -> &'static str {
        match self {
            Temper::Prompt => "prompt",
            Temper::Slow => "slow",
            Temper::ForgetsCourtesy => "forgets courtesy",
            Temper::NewToIt => "new to it",
            Temper::Sharp => "sharp",
            Temper::Hasty => "hasty",
            Temper::PlaysLate => "plays it late",
        }
    }

    /// The temper of a name.
    pub fn named(name: &str) -> Option<Self> {
        Self::ALL.into_iter().find(|temper| temper.name() == name)
    }

    /// The table.
    pub fn habits(self) -> Habits {
        match self {
            Temper::Prompt => PROPER,
            Temper::Slow => Habits {
                light_s: (0.080, 0.320),
                light_because: "chosen, because who takes time to stage is seldom quick to leave",
                arrives_s: (1.5, 3.0),
                thinks_s: (3.0, 5.0),
                met: 0.15,
                ways_because: "chosen, because it tries the patience of the lane beside it and stays \
                               within a bracket start's time-out of 10 s",
                ..PROPER
            },
            Temper::ForgetsCourtesy => Habits {
                arrives_s: (0.1, 0.5),
                thinks_s: (0.0, 0.0),
                courtesy: 0.0,
                met: 0.10,
                ways_because: "rolling straight through both beams is rude and met with (common \
                               practice, no single source)",
                ..PROPER
            },
            Temper::NewToIt => Habits {
                light_s: (0.100, 0.700),
                light_because: "first-timers (common practice, no single source)",
                arrives_s: (1.0, 2.5),
                thinks_s: (1.5, 4.0),
                courtesy: 0.8,
                goes_first: 0.3,
                met: 0.20,
                ways_because: "fears that first-timers name in print: staging itself, rolling \
                               through, not waiting; shares chosen, because most of them wait and watch",
                ..PROPER
            },
            Temper::Sharp => Habits {
                light_s: (0.020, 0.060),
                light_because: "competent foot-brake racers (common practice, no single source)",
                thinks_s: (0.4, 1.5),
                courtesy: 0.95,
                goes_first: 0.5,
                deep: 0.2,
                met: 0.10,
                ways_because: "chosen, because a practised racer is courteous, goes first as often \
                               as not and deep only where it pays",
                ..PROPER
            },
            Temper::Hasty => Habits {
                light_s: (-0.030, 0.130),
                light_because: "chosen, because one light in seven is red, the upper end of worked \
                                best red rates (2 to 16 %)",
                arrives_s: (0.1, 0.4),
                thinks_s: (0.1, 0.5),
                courtesy: 0.5,
                goes_first: 0.9,
                deep: 0.1,
                met: 0.10,
                ways_because: "chosen, because hurry on the way in goes with hurry on the tree",
            },
            Temper::PlaysLate => Habits {
                light_s: (0.120, 0.220),
                light_because: "chosen, because the quickest of them still lie above a sharp racer's \
                                slowest and none is red",
                thinks_s: (1.0, 2.5),
                goes_first: 0.1,
                met: 0.05,
                ways_because: "chosen, because the careful would sooner see the other lane's lamps \
                               first",
                ..PROPER
            },
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn every_temper_can_be_told_by_name_and_says_where_its_numbers_come_from() {
        for temper in Temper::ALL {
            let h = temper.habits();
            assert_eq!(Temper::named(temper.name()), Some(temper));
            let standings =
                ["chosen, because", "no single source", "in print", "racer information"];
            for why in [h.light_because, h.ways_because] {
                assert!(standings.iter().any(|standing| why.contains(standing)), "{why}");
            }
            for chance in [h.courtesy, h.goes_first, h.deep, h.met] {
                assert!((0.0..=1.0).contains(&chance), "{temper:?}");
            }
            for (low, high) in [h.light_s, h.arrives_s, h.thinks_s] {
                assert!(low <= high && high < 10.0, "{temper:?}");
            }
        }
        assert_eq!(Temper::named("nobody"), None);
    }

    #[test]
    fn every_temper_is_what_its_name_says_beside_the_prompt_one() {
        let [prompt, slow, forgets, new, sharp, hasty, late] = Temper::ALL.map(Temper::habits);
        let width = |(low, high): (f64, f64)| high - low;
        let others = [&prompt, &slow, &forgets, &sharp, &hasty, &late];
        assert!(slow.mean_light_s() > prompt.mean_light_s());
        assert!(slow.arrives_s.0 > prompt.arrives_s.1 && slow.thinks_s.0 > prompt.thinks_s.1);
        assert!(forgets.arrives_s.1 < prompt.arrives_s.1);
        assert_eq!((forgets.thinks_s, forgets.courtesy), ((0.0, 0.0), 0.0));
        assert!(others.iter().all(|h| width(new.light_s) > width(h.light_s)));
        assert!(new.arrives_s.0 > prompt.arrives_s.1 && new.thinks_s.0 > prompt.thinks_s.1);
        assert!(new.courtesy < 1.0 && new.goes_first < 0.5);
        assert!(others.iter().all(|h| width(sharp.light_s) <= width(h.light_s)));
        assert!(sharp.mean_light_s() > 0.0 && sharp.thinks_s.1 > prompt.thinks_s.1);
        assert!((0.9..1.0).contains(&sharp.courtesy) && sharp.goes_first == 0.5);
        assert!(others.iter().all(|h| sharp.deep >= h.deep) && sharp.deep > hasty.deep);
        assert!(hasty.arrives_s.1 < prompt.arrives_s.1 && hasty.thinks_s.1 <= prompt.thinks_s.0);
        assert!(late.light_s.0 > sharp.light_s.1 && late.thinks_s.1 > prompt.thinks_s.1);
        assert!(late.goes_first < new.goes_first);
    }

    #[test]
    fn one_light_in_seven_of_the_hasty_one_is_red() {
        use statrs::distribution::{ContinuousCDF, Normal};
        let hasty = Temper::Hasty.habits();
        let law = Normal::new(hasty.mean_light_s(), hasty.sd_light_s()).unwrap();
        assert!((1.0 / law.cdf(0.0) - 7.0).abs() < 0.5, "{}", law.cdf(0.0));
    }

    #[test]
    fn what_was_chosen_otherwise_than_the_proper_way_says_why_by_itself() {
        for temper in Temper::ALL {
            let h = temper.habits();
            let own_light = h.light_s != PROPER.light_s;
            assert_eq!(own_light, h.light_because != PROPER.light_because, "{temper:?}");
            let alike = Temper::ALL.map(|other| other.habits().ways_because == h.ways_because);
            assert_eq!(alike.iter().filter(|same| **same).count(), 1, "{temper:?}");
        }
    }

    #[test]
    fn the_shares_of_strangers_are_a_whole() {
        let all: f64 = Temper::ALL.iter().map(|temper| temper.habits().met).sum();
        assert!((all - 1.0).abs() < 1e-12, "{all}");
    }
}
