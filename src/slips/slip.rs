//! A time slip as facts: what the clocks printed, and what the driver knows around it.
//!
//! Owns the shape of a slip, for one lane and for both. Refuses to judge it: `checks` asks.

use jiff::civil::{Date, Time};

use crate::rules::{LaneRun, RtScale, SlipTime, TrackLength};
use crate::tree::Lane;

/// What one lane's column of a slip holds, as printed.
#[derive(Debug, Clone, PartialEq, Default)]
pub struct LaneSlip {
    /// The number on the window.
    pub car_number: String,
    /// The class.
    pub class: String,
    /// The time on the window, or the class's index.
    pub dial: Option<SlipTime>,
    /// Reaction time, on the slip's scale.
    pub rt: Option<SlipTime>,
    /// 60 ft, from the stage beam.
    pub t60: Option<SlipTime>,
    /// 330 ft.
    pub t330: Option<SlipTime>,
    /// 660 ft, the eighth mile.
    pub t660: Option<SlipTime>,
    /// Speed there, mph.
    pub mph660: Option<f64>,
    /// 1000 ft.
    pub t1000: Option<SlipTime>,
    /// 1320 ft, the quarter mile.
    pub t1320: Option<SlipTime>,
    /// Speed there, mph.
    pub mph1320: Option<f64>,
    /// The red lamp was on, whether or not a number says so.
    pub red: bool,
}

/// Kind of tree.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash)]
pub enum SlipTree {
    /// Ambers .500 s apart.
    Full,
    /// Ambers together, green .400 s later.
    Pro400,
    /// Ambers together, green .500 s later.
    Pro500,
}

/// What the lamps are.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash)]
pub enum LampKind {
    /// Light-emitting diodes: on at once.
    Led,
    /// Bulbs: they need some hundredths of a second to be bright.
    Bulb,
}

/// How light it was.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash)]
pub enum Daylight {
    /// Day.
    Day,
    /// Dusk.
    Dusk,
    /// Night.
    Night,
}

/// How the driver left.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash)]
pub enum Manner {
    /// In response to the last amber.
    Reacted,
    /// By the rhythm of the ambers.
    Timed,
    /// In response to green.
    OnGreen,
}

/// How the car left, by the driver's feeling.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash)]
pub enum LaunchFeel {
    /// The engine fell off its power.
    Bogged,
    /// The tyres spun.
    Spun,
    /// Neither.
    Clean,
}

/// Where a slip comes from.
#[derive(Debug, Clone, PartialEq, Eq, Hash, Default)]
pub enum SlipOrigin {
    /// A real track.
    #[default]
    Track,
    /// A practice run with a computed pass: marked wherever it is shown, never pooled with real ones.
    Simulated {
        /// Id of the run.
        trial: String,
    },
}

/// The weather, as far as it was written down.
#[derive(Debug, Clone, Copy, PartialEq, Default)]
pub struct Weather {
    /// °F.
    pub temperature_f: Option<f64>,
    /// °F.
    pub dew_point_f: Option<f64>,
    /// The station's own pressure, inHg.
    pub station_inhg: Option<f64>,
}

/// A time slip.
#[derive(Debug, Clone, PartialEq, Default)]
pub struct Slip {
    /// The day.
    pub date: Option<Date>,
    /// Time of day.
    pub time: Option<Time>,
    /// Who drove.
    pub driver: String,
    /// The driver's name for the car.
    pub car: String,
    /// The driver's own name for the track.
    pub track: String,
    /// How far was raced.
    pub length: TrackLength,
    /// The scale of its reaction times.
    pub scale: RtScale,
    /// The tree.
    pub tree: Option<SlipTree>,
    /// The driver's lane.
    pub lane: Option<Lane>,
    /// The driver's column.
    pub own: LaneSlip,
    /// The other lane's column.
    pub other: Option<LaneSlip>,
    /// LEDs or bulbs.
    pub lamps: Option<LampKind>,
    /// Day, dusk, night.
    pub light: Option<Daylight>,
    /// The weather.
    pub weather: Weather,
    /// Front tyres, psi.
    pub front_psi: Option<f64>,
    /// Rear tyres, psi.
    pub rear_psi: Option<f64>,
    /// Engine speed at the launch, turns a minute.
    pub launch_rpm: Option<f64>,
    /// How far past the point where the stage lamp lit, in.
    pub depth_in: Option<f64>,
    /// How the driver left.
    pub manner: Option<Manner>,
    /// How the car left.
    pub feel: Option<LaunchFeel>,
    /// The first launch of the day.
    pub first_of_day: Option<bool>,
    /// Where it comes from.
    pub origin: SlipOrigin,
    /// Anything else.
    pub note: String,
}

impl LaneSlip {
    /// Whether the lane was red on a slip of this scale.
    pub fn is_red(&self, scale: RtScale) -> bool {
        self.red || self.rt.is_some_and(|rt| rt < scale.perfect())
    }

    /// The time at the finish.
    pub const fn et(&self, length: TrackLength) -> Option<SlipTime> {
        match length {
            TrackLength::Eighth => self.t660,
            TrackLength::Quarter => self.t1320,
        }
    }

    /// The speed at the finish, mph.
    pub const fn mph(&self, length: TrackLength) -> Option<f64> {
        match length {
            TrackLength::Eighth => self.mph660,
            TrackLength::Quarter => self.mph1320,
        }
    }

    /// This column where it says something, `under` where it does not.
    pub fn over(self, under: &LaneSlip) -> LaneSlip {
        let words = |own: String, under: &String| if own.is_empty() { under.clone() } else { own };
        LaneSlip {
            car_number: words(self.car_number, &under.car_number),
            class: words(self.class, &under.class),
            dial: self.dial.or(under.dial),
            rt: self.rt.or(under.rt),
            t60: self.t60.or(under.t60),
            t330: self.t330.or(under.t330),
            t660: self.t660.or(under.t660),
            mph660: self.mph660.or(under.mph660),
            t1000: self.t1000.or(under.t1000),
            t1320: self.t1320.or(under.t1320),
            mph1320: self.mph1320.or(under.mph1320),
            red: self.red || under.red,
        }
    }

    /// The five splits with their distances in ft, in order.
    pub const fn splits(&self) -> [(f64, Option<SlipTime>); 5] {
        [
            (60.0, self.t60),
            (330.0, self.t330),
            (660.0, self.t660),
            (1000.0, self.t1000),
            (1320.0, self.t1320),
        ]
    }

    /// The lane as the rules judge it; the scale is the slip's.
    pub fn run(&self, length: TrackLength) -> LaneRun {
        let (dial, rt, red) = (self.dial, self.rt, self.red);
        let (et, mph) = (self.et(length), self.mph(length));
        LaneRun { dial, rt, et, mph, red, ..LaneRun::default() }
    }
}

impl Slip {
    /// The driver's reaction time on today's scale.
    pub fn rt(&self) -> Option<SlipTime> {
        self.own.rt.map(|rt| self.scale.to_modern(rt))
    }

    /// Whether the driver was red.
    pub fn is_red(&self) -> bool {
        self.own.is_red(self.scale)
    }

    /// Whether it is no real slip.
    pub fn is_simulated(&self) -> bool {
        self.origin != SlipOrigin::Track
    }

    /// How far the driver is ahead of the other lane at the start of the clocks and at every split
    /// both have, in time: (other's RT + split) − (own RT + split), the head start included.
    /// Positive is ahead. Empty without another lane or a reaction time.
    pub fn gaps(&self) -> Vec<(f64, SlipTime)> {
        let Some(other) = &self.other else { return Vec::new() };
        let (Some(own_rt), Some(other_rt)) = (self.own.rt, other.rt) else { return Vec::new() };
        let head_start = match (self.own.dial, other.dial) {
            // The slower car leaves first: the other's clock starts later by the difference.
            (Some(own), Some(other)) => own - other,
            _ => SlipTime::ZERO,
        };
        let at_start = head_start + other_rt - own_rt;
        let pairs = self.own.splits().into_iter().zip(other.splits());
        std::iter::once((0.0, at_start))
            .chain(
                pairs
                    .filter_map(|((feet, own), (_, other))| Some((feet, at_start + other? - own?))),
            )
            .collect()
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    fn lane(words: &str) -> LaneSlip {
        let times: Vec<Option<SlipTime>> = words.split(' ').map(|w| w.parse().ok()).collect();
        let [rt, t60, t330, t660, t1320] = times[..] else { panic!("five words") };
        LaneSlip { rt, t60, t330, t660, t1320, ..LaneSlip::default() }
    }

    #[test]
    fn the_gaps_of_a_printed_race_are_met() {
        // Published in an event report (worked case 5): the other lane is behind by .002 at 60 ft, by
        // .021 at 330, by .017 at 660, and wins by .044.
        let slip = Slip {
            own: lane(".069 .913 2.327 3.304 4.150"),
            other: Some(lane(".083 .901 2.334 3.307 4.092")),
            ..Slip::default()
        };
        let got: Vec<String> =
            slip.gaps().iter().map(|(feet, gap)| format!("{feet} {gap}")).collect();
        assert_eq!(got, ["0 .014", "60 .002", "330 .021", "660 .017", "1320 -.044"]);
    }

    #[test]
    fn the_slower_car_is_ahead_by_its_head_start() {
        let dialled = |dial: &str, rt: &str, et: &str| LaneSlip {
            dial: dial.parse().ok(),
            rt: rt.parse().ok(),
            t1320: et.parse().ok(),
            ..LaneSlip::default()
        };
        // Published (worked case 10): head start 1.20, the slower car wins by .010.
        let slip = Slip {
            own: dialled("14.20", ".020", "14.32"),
            other: Some(dialled("13.00", ".050", "13.10")),
            ..Slip::default()
        };
        let [(_, start), (_, finish)] = slip.gaps()[..] else { panic!("start and finish") };
        assert_eq!((start.to_string(), finish.to_string()), ("1.230".into(), ".010".into()));
    }

    #[test]
    fn an_old_slips_perfect_light_is_zero_today() {
        let old = |rt: &str, scale| Slip {
            scale,
            own: LaneSlip { rt: rt.parse().ok(), ..LaneSlip::default() },
            ..Slip::default()
        };
        let slip = old(".512", RtScale::Old500);
        assert_eq!((slip.rt().unwrap().to_string().as_str(), slip.is_red()), (".012", false));
        let slip = old(".399", RtScale::Old400);
        assert_eq!((slip.rt().unwrap().to_string().as_str(), slip.is_red()), ("-.001", true));
    }
}
