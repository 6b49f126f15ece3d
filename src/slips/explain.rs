//! A slip explained line by line: what it is, what is typical, what changes it.
//!
//! Owns the words and the bands of "typical". Refuses to judge the driver.

use super::{Field, LaneSlip, Slip};
use crate::car::CarKind;
use crate::rules::{RtScale, SlipTime};

/// One field explained.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Explanation {
    /// Which field.
    pub field: Field,
    /// What stands there, with its title.
    pub here: String,
    /// What it is.
    pub what: &'static str,
    /// What is typical for this kind of car.
    pub typical: String,
    /// What changes it.
    pub changes: &'static str,
}

/// Splits over the 60-foot time of two printed runs (published with their splits: a street car of
/// 13.464 s and a race car of 6.622 s): 330 ft, 1/8, 1000 ft, 1/4. The street car's 1000 ft are not
/// printed; 5.7 is chosen between the race car's 5.49 and what its quarter asks for.
const OVER_SIXTY: [(Field, f64, f64); 4] = [
    (Field::T330, 2.76, 2.90),
    (Field::T660, 4.23, 4.40),
    (Field::T1000, 5.49, 5.75),
    (Field::T1320, 6.56, 6.86),
];
/// Time × speed at a finish: 1350–1480 for the quarter (common practice), half of it for the eighth.
const TIME_TIMES_SPEED: [(Field, f64, f64); 2] =
    [(Field::Mph660, 675.0, 740.0), (Field::Mph1320, 1350.0, 1480.0)];

/// Every line this slip prints, explained for the driver's column and this kind of car; `None` for a
/// car nobody has described.
pub fn explain(slip: &Slip, kind: Option<CarKind>) -> Vec<Explanation> {
    let line = |field: Field| Explanation {
        field,
        here: here(field, slip),
        what: what(field, slip.scale),
        typical: typical(field, &slip.own, slip.scale, kind),
        changes: changes(field),
    };
    Field::IN_ORDER.into_iter().filter(|field| field.printed_at(slip.length)).map(line).collect()
}

fn here(field: Field, slip: &Slip) -> String {
    let printed = field.printed(slip.lane, &slip.own);
    let red = if field == Field::Rt && slip.is_red() { ", red" } else { "" };
    if printed.is_empty() {
        format!("{}: not on this slip", field.title())
    } else {
        format!("{}: {printed}{red}", field.title())
    }
}

const fn what(field: Field, scale: RtScale) -> &'static str {
    match field {
        Field::Lane => "Which side you ran on, as seen from behind the start line.",
        Field::CarNumber => "The number on your window. With it the tower finds your slip.",
        Field::Class => "What you ran in; at a test-and-tune often nothing.",
        Field::Dial => {
            "The time you said your car would run. In bracket racing the slower car starts first by \
             the difference of the two."
        }
        Field::Rt => match scale {
            RtScale::Modern => {
                "From green to your tyre leaving the stage beam. .000 is perfect, below it the light \
                 is red. Your own reaction and your car's roll are both in it. It is not part of the \
                 elapsed time."
            }
            RtScale::Old500 | RtScale::Old400 => {
                "From the last amber to your tyre leaving the stage beam, as slips counted until \
                 2003: .500 is perfect on a full tree, .400 on a pro tree, below it the light is red."
            }
        },
        Field::T60 => {
            "From the stage beam to 60 ft down the track: how well the car left. It begins when your \
             tyre leaves the beam, not at green."
        }
        Field::T330 => "From the stage beam to 330 ft down the track.",
        Field::T660 => "From the stage beam to 660 ft: the finish of an eighth-mile track.",
        Field::Mph660 => "Your average speed over the 66 ft before the eighth mile.",
        Field::T1000 => "From the stage beam to 1000 ft, the finish of some classes.",
        Field::T1320 => {
            "The elapsed time: from the stage beam to the finish. Waiting at the line costs nothing \
             here, red or not."
        }
        Field::Mph1320 => {
            "Your average speed over the last 66 ft. It tells of power, not of launch."
        }
    }
}

const fn changes(field: Field) -> &'static str {
    match field {
        Field::Lane => "Where the tower sends you; lanes differ in grip.",
        Field::CarNumber | Field::Class => "What you wrote on your card.",
        Field::Dial => "You, until the car is called to the line.",
        Field::Rt => {
            "Leaving earlier or later, how deep you stage, front tyre size and pressure, how quickly \
             the car takes up the launch."
        }
        Field::T60 => "Grip, tyre pressure, launch rpm, weight, staging depth.",
        Field::T330 => "The 60-foot time, the first shift, power.",
        Field::T660 => "The 60-foot time (what it loses grows on the way), shifts, power, air.",
        Field::Mph660 => "Power and weight, air, a lift; the launch hardly.",
        Field::T1000 => "As the eighth, and the last shifts.",
        Field::T1320 => {
            "The 60-foot time (.1 s there is .15 to .2 s here), power, weight, air, shifts, wind."
        }
        Field::Mph1320 => "Power and weight, air, wind, and lifting before the last beam.",
    }
}

fn typical(field: Field, lane: &LaneSlip, scale: RtScale, kind: Option<CarKind>) -> String {
    match field {
        Field::Lane | Field::CarNumber | Field::Class => "Nothing to compare.".to_owned(),
        Field::Dial => "A hundredth or two above what the car has been running.".to_owned(),
        Field::Rt => {
            let on = |thousandths: i64| {
                SlipTime::from_ten_thousandths(thousandths * 10) + scale.perfect()
            };
            format!(
                "Competent foot-brake racers {} to {}, a first night anywhere from {} to {}; waiting \
                 for green gives about {} (common practice).",
                on(20),
                on(60),
                on(100),
                on(700),
                on(500)
            )
        }
        Field::T60 => {
            let (sixty, of) = match kind {
                Some(kind) => (kind.sixty_foot_s(), kind_words(kind)),
                None => return "From 1.5 on slicks to 2.4 for an ordinary car.".to_owned(),
            };
            format!("{:.2} to {:.2} for {of}.", sixty.value - sixty.sd, sixty.value + sixty.sd)
        }
        Field::T330 | Field::T660 | Field::T1000 | Field::T1320 => by_sixty(field, lane, kind),
        Field::Mph660 | Field::Mph1320 => by_time(field, lane),
    }
}

/// A later split from the slip's own 60-foot time, or the kind's.
fn by_sixty(field: Field, lane: &LaneSlip, kind: Option<CarKind>) -> String {
    let own = lane.t60.map(SlipTime::seconds);
    let (from, of) = match (own, kind) {
        (Some(seconds), _) => (seconds, "with this 60-foot time".to_owned()),
        (None, Some(kind)) => (kind.sixty_foot_s().value, format!("for {}", kind_words(kind))),
        (None, None) => return "It follows from the 60-foot time, which is missing.".to_owned(),
    };
    OVER_SIXTY.into_iter().find(|(f, _, _)| *f == field).map_or_else(
        String::new,
        |(_, low, high)| {
            format!("{:.2} to {:.2} {of}, by two printed runs.", from * low, from * high)
        },
    )
}

fn by_time(field: Field, lane: &LaneSlip) -> String {
    let time = if field == Field::Mph660 { lane.t660 } else { lane.t1320 };
    let Some(seconds) = time.map(SlipTime::seconds).filter(|seconds| *seconds > 0.0) else {
        return "It follows from the time beside it, which is missing.".to_owned();
    };
    let band = TIME_TIMES_SPEED.into_iter().find(|(f, _, _)| *f == field);
    band.map_or_else(String::new, |(_, low, high)| {
        format!(
            "{:.0} to {:.0} mph with this time: time × speed is {low:.0} to {high:.0} (common \
             practice).",
            low / seconds,
            high / seconds
        )
    })
}

const fn kind_words(kind: CarKind) -> &'static str {
    match kind {
        CarKind::OrdinaryStreet => "an ordinary car on ordinary tyres",
        CarKind::QuickStreet => "a quick car on good street tyres",
        CarKind::StickyTyres => "a car on sticky road-legal tyres",
        CarKind::Slicks => "a car on slicks",
        CarKind::ElectricOrAllWheel => "an electric or all-wheel-drive car",
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::rules::TrackLength;
    use crate::slips::read_column;

    fn slip(words: &str) -> Slip {
        Slip { own: read_column(words).unwrap(), ..Slip::default() }
    }

    fn of(slip: &Slip, kind: Option<CarKind>, field: Field) -> Explanation {
        explain(slip, kind).into_iter().find(|line| line.field == field).unwrap()
    }

    #[test]
    fn every_printed_line_is_explained_in_full() {
        for length in [TrackLength::Quarter, TrackLength::Eighth] {
            let slip = Slip { length, ..slip(".045 1.963 5.678 8.637 83.95 - 13.464 105.04") };
            let lines = explain(&slip, None);
            assert_eq!(lines.len(), slip.lines().len());
            for line in lines {
                let words = [line.here.as_str(), line.what, line.typical.as_str(), line.changes];
                assert!(words.iter().all(|words| words.len() > 5), "{line:?}");
            }
        }
    }

    #[test]
    fn what_is_typical_holds_a_printed_run() {
        // Published: 1.963/5.678/8.637 at 83.95/13.464 at 105.04.
        let slip = slip(".045 1.963 5.678 8.637 83.95 - 13.464 105.04");
        let says = |field| of(&slip, Some(CarKind::QuickStreet), field).typical;
        assert_eq!(says(Field::T60), "1.90 to 2.20 for a quick car on good street tyres.");
        assert!(says(Field::T1320).starts_with("12.88 to 13.47"), "{}", says(Field::T1320));
        assert!(says(Field::Mph1320).starts_with("100 to 110 mph"), "{}", says(Field::Mph1320));
    }

    #[test]
    fn sixty_feet_by_kind_of_car_hold_what_is_usual() {
        // Common practice: high 1.9s to low 2s on good street tyres. Published in a magazine: above 2.2
        // on mild street radials, about 1.8 for a 12 s car on sticky tyres, about 1.45 on slicks.
        for (kind, usual_s) in [
            (CarKind::OrdinaryStreet, [2.25, 2.5]),
            (CarKind::QuickStreet, [1.95, 2.1]),
            (CarKind::StickyTyres, [1.8, 1.8]),
            (CarKind::Slicks, [1.45, 1.45]),
        ] {
            let sixty = kind.sixty_foot_s();
            let (low, high) = (sixty.value - sixty.sd, sixty.value + sixty.sd);
            assert!(usual_s.iter().all(|t| (low..=high).contains(t)), "{kind:?}: {low} to {high}");
            let says = of(&slip(".1"), Some(kind), Field::T60).typical;
            assert!(says.starts_with(&format!("{low:.2} to {high:.2}")), "{says}");
        }
    }

    #[test]
    fn an_old_slip_is_explained_on_its_own_scale() {
        let slip = Slip { scale: RtScale::Old500, ..slip(".489") };
        let line = of(&slip, None, Field::Rt);
        assert!(line.typical.contains(".520 to .560"), "{}", line.typical);
        assert_eq!(line.here, "R/T: .489, red");
        assert!(line.what.contains("last amber"));
    }

    #[test]
    fn a_line_that_is_not_on_the_slip_says_so() {
        assert_eq!(of(&slip(".1"), None, Field::T60).here, "60': not on this slip");
        assert!(of(&slip(".1"), None, Field::T660).typical.contains("which is missing"));
    }
}
