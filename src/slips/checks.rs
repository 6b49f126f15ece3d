//! Questions about a slip whose numbers do not go together.
//!
//! Owns the bands and the words. Refuses to refuse: a slip with questions is as good as any, once
//! its driver has looked at it again.

use std::fmt;

use super::{Field, LaneSlip, Manner, Slip};
use crate::rules::{FEET_A_SECOND_TO_MPH, RtScale, SlipTime};

/// Which column of the slip a question is about.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash)]
pub enum Column {
    /// The driver's.
    Own,
    /// The other lane's.
    Other,
}

/// What does not go together.
#[derive(Debug, Clone, Copy, PartialEq)]
pub enum Doubt {
    /// A later split is not later.
    Order {
        /// The nearer one.
        near: Field,
        /// The further one.
        far: Field,
    },
    /// A split that is not above zero.
    BelowZero {
        /// Which.
        field: Field,
    },
    /// Time × speed at the finish lies outside its band.
    TimeTimesSpeed {
        /// ET × MPH.
        product: f64,
        /// The band.
        band: (f64, f64),
    },
    /// A trap speed does not go with the average speed of the stretch before it.
    TrapSpeed {
        /// The speed.
        field: Field,
        /// Trap speed over the average of the stretch.
        ratio: f64,
        /// The band.
        band: (f64, f64),
    },
    /// Quarter over eighth.
    EighthToQuarter {
        /// 1/4 over 1/8.
        ratio: f64,
    },
    /// Time at the finish over 60-foot time.
    SixtyFoot {
        /// ET over 60 ft.
        ratio: f64,
        /// The band.
        band: (f64, f64),
    },
    /// The quarter's speed is not above the eighth's.
    Slowing,
    /// A reaction time that would fit an older scale better.
    OlderScale,
    /// A reaction time that would fit today's scale better.
    ModernScale,
    /// A reaction time far from any launch.
    FarReaction,
    /// The red lamp is noted, the number is not red.
    RedWithoutNumber,
    /// A number nobody's car has: pressure, engine speed, depth, weather.
    Unusual {
        /// Which.
        what: &'static str,
        /// What was written.
        value: f64,
    },
    /// No date, so no order in time.
    NoDate,
    /// Nothing was written down that statistics could use.
    NoTimes,
}

/// One question.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Question {
    /// About which column.
    pub column: Column,
    /// What does not go together.
    pub doubt: Doubt,
}

// Bands. ET × MPH in a quarter mile: 1350 is pure constant power (derived), 1350–1480 is usual
// (common practice), below 1340 suggests a lift, a head wind or a slip of the pen. The eighth's are
// half of it: constant power gives 675.
const QUARTER_PRODUCT: (f64, f64) = (1340.0, 1480.0);
const EIGHTH_PRODUCT: (f64, f64) = (670.0, 740.0);
// Trap speed over the average of the stretch before it. Chosen around printed runs: 330–660 ft
// 1.094 and 1.104, 660–1320 ft 1.108 and 1.127, 1000–1320 ft 1.015, 1.023 and 1.028.
const HALF_STRETCH: (f64, f64) = (1.02, 1.20);
const LAST_STRETCH: (f64, f64) = (0.99, 1.06);
/// 1/4 over 1/8: 1.55–1.60 (common practice; printed runs 1.551 and 1.559), a hundredth of play.
const EIGHTH_TO_QUARTER: (f64, f64) = (1.54, 1.61);
// ET over 60-foot time. Chosen around printed runs (quarter 6.56 and 6.86, eighth 4.23 and 4.40) and
// kinds of cars (12 s at 1.8, 10.5 s at 1.45: 6.7 and 7.2).
const QUARTER_OVER_SIXTY: (f64, f64) = (5.8, 8.2);
const EIGHTH_OVER_SIXTY: (f64, f64) = (3.7, 5.2);

/// Everything that does not go together on this slip; nothing for most.
pub fn check(slip: &Slip) -> Vec<Question> {
    let mut questions = Vec::new();
    check_column(slip, &slip.own, Column::Own, &mut questions);
    if let Some(other) = &slip.other {
        check_column(slip, other, Column::Other, &mut questions);
    }
    let mut ask = |doubt| questions.push(Question { column: Column::Own, doubt });
    for (what, value, low, high) in [
        ("the front tyres' pressure in psi", slip.front_psi, 5.0, 60.0),
        ("the rear tyres' pressure in psi", slip.rear_psi, 5.0, 60.0),
        ("the launch rpm", slip.launch_rpm, 500.0, 12_000.0),
        ("the depth in inches", slip.depth_in, 0.0, 13.0),
        ("the temperature in °F", slip.weather.temperature_f, 20.0, 120.0),
        ("the dew point in °F", slip.weather.dew_point_f, -20.0, 85.0),
        ("the station pressure in inHg", slip.weather.station_inhg, 22.0, 31.5),
    ] {
        if let Some(value) = value
            && !(low..=high).contains(&value)
        {
            ask(Doubt::Unusual { what, value });
        }
    }
    if slip.date.is_none() {
        ask(Doubt::NoDate);
    }
    let own = &slip.own;
    if own.rt.is_none() && !own.red && own.splits().iter().all(|(_, time)| time.is_none()) {
        ask(Doubt::NoTimes);
    }
    questions
}

fn check_column(slip: &Slip, lane: &LaneSlip, column: Column, questions: &mut Vec<Question>) {
    let mut ask = |doubt| questions.push(Question { column, doubt });
    check_reaction(slip, lane, &mut ask);
    let fields = [Field::T60, Field::T330, Field::T660, Field::T1000, Field::T1320];
    let splits: Vec<(Field, SlipTime)> =
        fields.into_iter().filter_map(|field| Some((field, field.time(lane)?))).collect();
    for pair in splits.windows(2) {
        if pair[1].1 <= pair[0].1 {
            ask(Doubt::Order { near: pair[0].0, far: pair[1].0 });
        }
    }
    if splits.first().is_some_and(|(_, time)| *time <= SlipTime::ZERO) {
        ask(Doubt::BelowZero { field: splits[0].0 });
    }
    check_speeds(lane, &mut ask);
    if let (Some(eighth), Some(quarter)) = (lane.t660, lane.t1320) {
        let ratio = quarter.seconds() / eighth.seconds();
        if outside(ratio, EIGHTH_TO_QUARTER) {
            ask(Doubt::EighthToQuarter { ratio });
        }
    }
    let finishes = [(lane.t1320, QUARTER_OVER_SIXTY), (lane.t660, EIGHTH_OVER_SIXTY)];
    let finish = finishes.into_iter().find_map(|(time, band)| Some((time?, band)));
    if let (Some(sixty), Some((et, band))) = (lane.t60, finish) {
        let ratio = et.seconds() / sixty.seconds();
        if outside(ratio, band) {
            ask(Doubt::SixtyFoot { ratio, band });
        }
    }
}

fn check_reaction(slip: &Slip, lane: &LaneSlip, ask: &mut impl FnMut(Doubt)) {
    let Some(rt) = lane.rt else { return };
    let modern = slip.scale.to_modern(rt);
    let reacted = matches!(slip.manner, Some(Manner::Reacted | Manner::Timed));
    let (least, most) =
        (SlipTime::from_ten_thousandths(3800), SlipTime::from_ten_thousandths(7000));
    if slip.scale == RtScale::Modern && reacted && (least..=most).contains(&rt) {
        ask(Doubt::OlderScale);
    }
    // A tenth before the ambers of an old scale is no launch; on today's scale it is a good one.
    if slip.scale != RtScale::Modern && rt < SlipTime::from_ten_thousandths(2000) {
        ask(Doubt::ModernScale);
    } else if !(-15_000..=30_000).contains(&modern.ten_thousandths()) {
        ask(Doubt::FarReaction);
    }
    if lane.red && modern >= SlipTime::ZERO {
        ask(Doubt::RedWithoutNumber);
    }
}

fn check_speeds(lane: &LaneSlip, ask: &mut impl FnMut(Doubt)) {
    let mut product = |et: Option<SlipTime>, mph: Option<f64>, band| {
        if let (Some(et), Some(mph)) = (et, mph) {
            let product = et.seconds() * mph;
            if outside(product, band) {
                ask(Doubt::TimeTimesSpeed { product, band });
            }
        }
    };
    product(lane.t660, lane.mph660, EIGHTH_PRODUCT);
    product(lane.t1320, lane.mph1320, QUARTER_PRODUCT);
    let mut stretch =
        |field, mph: Option<f64>, feet, near: Option<SlipTime>, far: Option<SlipTime>, band| {
            let (Some(mph), Some(near), Some(far)) = (mph, near, far) else { return };
            let seconds = (far - near).seconds();
            let ratio = mph / (feet / seconds * FEET_A_SECOND_TO_MPH);
            if seconds > 0.0 && outside(ratio, band) {
                ask(Doubt::TrapSpeed { field, ratio, band });
            }
        };
    stretch(Field::Mph660, lane.mph660, 330.0, lane.t330, lane.t660, HALF_STRETCH);
    if lane.t1000.is_some() {
        stretch(Field::Mph1320, lane.mph1320, 320.0, lane.t1000, lane.t1320, LAST_STRETCH);
    } else {
        stretch(Field::Mph1320, lane.mph1320, 660.0, lane.t660, lane.t1320, HALF_STRETCH);
    }
    if let (Some(eighth), Some(quarter)) = (lane.mph660, lane.mph1320)
        && quarter <= eighth
    {
        ask(Doubt::Slowing);
    }
}

/// Outside a band; what is not a number is.
fn outside(value: f64, (low, high): (f64, f64)) -> bool {
    !(low..=high).contains(&value)
}

impl fmt::Display for Question {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        if self.column == Column::Other {
            f.write_str("other lane: ")?;
        }
        fmt::Display::fmt(&self.doubt, f)
    }
}

impl fmt::Display for Doubt {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        match self {
            Doubt::Order { near, far } => write!(
                f,
                "{} is not later than {}; was one mistyped?",
                far.title(),
                near.title()
            ),
            Doubt::BelowZero { field } => {
                write!(f, "{} is not above zero; is it mistyped?", field.title())
            }
            Doubt::TimeTimesSpeed { product, band: (low, high) } => write!(
                f,
                "time × speed is {product:.0}, usual are {low:.0} to {high:.0}; {}",
                if product < low {
                    "did you lift, was there a head wind, or is a figure mistyped?"
                } else {
                    "is a figure mistyped?"
                }
            ),
            Doubt::TrapSpeed { field, ratio, band: (low, high) } => write!(
                f,
                "{} at the {} is {ratio:.3} times the average of the stretch before it, usual are \
                 {low:.2} to {high:.2}; did you lift, or is a figure mistyped?",
                field.title(),
                if *field == Field::Mph660 { "1/8" } else { "1/4" },
            ),
            Doubt::EighthToQuarter { ratio } => write!(
                f,
                "1/4 over 1/8 is {ratio:.3}, usual are 1.55 to 1.60; did you lift, or is a figure \
                 mistyped?"
            ),
            Doubt::SixtyFoot { ratio, band: (low, high) } => write!(
                f,
                "the finish is {ratio:.2} times the 60-foot time, usual are {low:.1} to {high:.1}; \
                 did it spin or bog, or is a figure mistyped?"
            ),
            Doubt::Slowing => f.write_str(
                "the speed at the 1/4 is not above that at the 1/8; did you lift, or are they \
                 swapped?",
            ),
            Doubt::OlderScale => f.write_str(
                "an R/T near .5 on today's scale is what waiting for green gives; is this slip on \
                 the old scale, where .500 or .400 is perfect?",
            ),
            Doubt::ModernScale => f.write_str(
                "an R/T below .2 on an old scale is no launch; is this slip on today's scale, where \
                 .000 is perfect?",
            ),
            Doubt::FarReaction => {
                f.write_str("this R/T is far from any launch; is it mistyped?")
            }
            Doubt::RedWithoutNumber => {
                f.write_str("red is noted, but the R/T is not red; is its minus missing?")
            }
            Doubt::Unusual { what, value } => write!(f, "{what} is {value}; is it mistyped?"),
            Doubt::NoDate => f.write_str("there is no date; without one it has no place in time"),
            Doubt::NoTimes => f.write_str("there is no R/T and no split; is anything missing?"),
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    /// `rt 60 330 660 mph 1000 1320 mph` with `-` for what is missing, on a dated slip.
    fn slip(words: &str) -> Slip {
        let own = super::super::quick::read_column(words).unwrap();
        Slip { date: Some(jiff::civil::date(2026, 5, 1)), own, ..Slip::default() }
    }

    fn asks(words: &str) -> Vec<String> {
        check(&slip(words)).iter().map(ToString::to_string).collect()
    }

    #[test]
    fn printed_runs_raise_no_question() {
        // Published runs with their splits.
        for words in [
            ".050 1.963 5.678 8.637 83.95 - 13.464 105.04",
            ".102 - 5.050 - 88 10.300 12.320 111",
            ".020 - 5.750 - 83 11.200 13.310 105",
            ".034 1.009 2.789 4.269 166.37 5.543 6.622 206.80",
            // A red light is welcome.
            "-.033 1.963 5.678 8.637 83.95 - 13.464 105.04",
            // As little as an R/T is a slip.
            ".045",
        ] {
            assert_eq!(asks(words), Vec::<String>::new(), "{words}");
        }
    }

    #[test]
    fn figures_that_do_not_go_together_are_asked_about() {
        for (words, says) in [
            (".050 1.963 5.678 5.637 - - - -", "1/8 is not later than 330'"),
            (".050 1.963 5.678 8.637 83.95 - 13.464 150.04", "time × speed is 2020"),
            (".050 1.963 5.678 8.637 38.95 - 13.464 105.04", "MPH at the 1/8 is"),
            (".050 1.963 5.678 8.637 83.95 13.0 13.464 105.04", "MPH at the 1/4 is"),
            (".050 1.963 5.678 7.637 - - 13.464 -", "1/4 over 1/8 is 1.763"),
            (".050 0.963 5.678 8.637 - - 13.464 -", "13.98 times the 60-foot time"),
            (".050 1.963 5.678 8.637 105.04 - 13.464 83.95", "not above that at the 1/8"),
            (".050 -1.963 5.678 8.637 - - 13.464 -", "60' is not above zero"),
            ("55 1.963 - - - - - -", "far from any launch"),
            ("- - - - - - - -", "no R/T and no split"),
        ] {
            let asked = asks(words);
            assert!(asked.iter().any(|question| question.contains(says)), "{words}: {asked:?}");
        }
    }

    #[test]
    fn a_lift_is_told_from_a_slow_car() {
        // 13.464 s at 95 mph: 1279, below the band.
        let asked = asks(".050 1.963 5.678 8.637 83.95 - 13.464 95.00");
        assert!(asked.iter().any(|question| question.contains("did you lift")), "{asked:?}");
        // A slow car is in the band as well.
        assert_eq!(asks(".3 2.50 7.05 10.85 65.2 - 16.90 82.0"), Vec::<String>::new());
    }

    #[test]
    fn a_scale_that_does_not_fit_is_asked_about() {
        let on = |scale, rt: &str, manner| {
            let slip = Slip { scale, manner, ..slip(rt) };
            check(&slip).iter().map(|q| q.doubt).collect::<Vec<Doubt>>()
        };
        assert_eq!(on(RtScale::Modern, ".512", Some(Manner::Reacted)), [Doubt::OlderScale]);
        // Who waits for green does have such a time.
        assert_eq!(on(RtScale::Modern, ".512", Some(Manner::OnGreen)), []);
        assert_eq!(on(RtScale::Old500, ".512", Some(Manner::Reacted)), []);
        assert_eq!(on(RtScale::Old500, ".045", None), [Doubt::ModernScale]);
    }

    #[test]
    fn the_other_lane_is_checked_and_named() {
        let other = super::super::quick::read_column(".1 2.0 1.9").unwrap();
        let slip = Slip { other: Some(other), ..slip(".05 2.0") };
        let asked: Vec<String> = check(&slip).iter().map(ToString::to_string).collect();
        assert_eq!(asked, ["other lane: 330' is not later than 60'; was one mistyped?"]);
    }

    #[test]
    fn odd_conditions_and_a_missing_date_are_asked_about() {
        let odd = Slip {
            date: None,
            front_psi: Some(320.0),
            launch_rpm: Some(f64::NAN),
            own: LaneSlip { red: true, rt: ".03".parse().ok(), ..LaneSlip::default() },
            ..Slip::default()
        };
        let asked: Vec<String> = check(&odd).iter().map(ToString::to_string).collect();
        assert!(asked[0].contains("minus missing"), "{asked:?}");
        assert!(asked[1].contains("front tyres' pressure in psi is 320"), "{asked:?}");
        assert!(asked[2].contains("launch rpm is NaN"), "{asked:?}");
        assert!(asked[3].contains("no date"), "{asked:?}");
    }
}
