//! The fields of a slip in the order the trade prints them.
//!
//! Owns their order, their titles and what is printed in each. Refuses their meaning: `explain`
//! tells it.

use super::{LaneSlip, Slip};
use crate::rules::{SlipTime, TrackLength};
use crate::tree::Lane;

/// One line of a slip.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord, Hash)]
pub enum Field {
    /// Left or right.
    Lane,
    /// The number on the window.
    CarNumber,
    /// The class.
    Class,
    /// The time on the window.
    Dial,
    /// Reaction time.
    Rt,
    /// 60 ft.
    T60,
    /// 330 ft.
    T330,
    /// 660 ft.
    T660,
    /// Speed at 660 ft.
    Mph660,
    /// 1000 ft.
    T1000,
    /// 1320 ft.
    T1320,
    /// Speed at 1320 ft.
    Mph1320,
}

impl Field {
    /// All, in the order the trade prints them (published: tracks' explanations of their slips).
    pub const IN_ORDER: [Field; 12] = [
        Field::Lane,
        Field::CarNumber,
        Field::Class,
        Field::Dial,
        Field::Rt,
        Field::T60,
        Field::T330,
        Field::T660,
        Field::Mph660,
        Field::T1000,
        Field::T1320,
        Field::Mph1320,
    ];

    /// As a slip titles it.
    pub const fn title(self) -> &'static str {
        match self {
            Field::Lane => "LANE",
            Field::CarNumber => "CAR #",
            Field::Class => "CLASS",
            Field::Dial => "DIAL",
            Field::Rt => "R/T",
            Field::T60 => "60'",
            Field::T330 => "330'",
            Field::T660 => "1/8",
            Field::Mph660 | Field::Mph1320 => "MPH",
            Field::T1000 => "1000'",
            Field::T1320 => "1/4",
        }
    }

    /// Whether a track of this length prints it.
    pub const fn printed_at(self, length: TrackLength) -> bool {
        match self {
            Field::T1000 | Field::T1320 | Field::Mph1320 => {
                matches!(length, TrackLength::Quarter)
            }
            _ => true,
        }
    }

    /// The time in this field, if it holds one.
    pub const fn time(self, lane: &LaneSlip) -> Option<SlipTime> {
        match self {
            Field::Dial => lane.dial,
            Field::Rt => lane.rt,
            Field::T60 => lane.t60,
            Field::T330 => lane.t330,
            Field::T660 => lane.t660,
            Field::T1000 => lane.t1000,
            Field::T1320 => lane.t1320,
            Field::Lane | Field::CarNumber | Field::Class | Field::Mph660 | Field::Mph1320 => None,
        }
    }

    /// What a slip prints in this field for one of its columns; empty where nothing is known.
    pub fn printed(self, lane: Option<Lane>, column: &LaneSlip) -> String {
        let speed = |mph: Option<f64>| mph.map_or_else(String::new, |mph| format!("{mph:.2}"));
        match self {
            Field::Lane => match lane {
                Some(Lane::Left) => "left".to_owned(),
                Some(Lane::Right) => "right".to_owned(),
                None => String::new(),
            },
            Field::CarNumber => column.car_number.clone(),
            Field::Class => column.class.clone(),
            Field::Mph660 => speed(column.mph660),
            Field::Mph1320 => speed(column.mph1320),
            _ => self.time(column).map_or_else(String::new, |time| time.to_string()),
        }
    }
}

/// One printed line: the field and what stands in each lane's column, left first.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct PrintedLine {
    /// Which.
    pub field: Field,
    /// Left and right; empty where nothing is known.
    pub columns: [String; 2],
}

impl Slip {
    /// The lines a slip of this length prints, both lanes. A driver of no known lane stands left.
    pub fn lines(&self) -> Vec<PrintedLine> {
        let nobody = LaneSlip::default();
        let own_lane = self.lane.unwrap_or(Lane::Left);
        let other = self.other.as_ref().unwrap_or(&nobody);
        let other_lane = self.other.as_ref().map(|_| own_lane.other());
        Field::IN_ORDER
            .into_iter()
            .filter(|field| field.printed_at(self.length))
            .map(|field| {
                let own = field.printed(self.lane, &self.own);
                let other = field.printed(other_lane.filter(|_| self.lane.is_some()), other);
                let columns = if own_lane == Lane::Left { [own, other] } else { [other, own] };
                PrintedLine { field, columns }
            })
            .collect()
    }

    /// The slip as plain text, 40 columns wide; a simulated one says so above and below.
    pub fn to_text(&self) -> String {
        let mark = if self.is_simulated() { "PRACTICE - SIMULATED" } else { "" };
        let date = self.date.map_or_else(String::new, |date| date.to_string());
        let time = self.time.map_or_else(String::new, |time| time.strftime("%H:%M").to_string());
        let mut text = String::new();
        let mut line = |words: &str| {
            text.push_str(words.trim_end());
            text.push('\n');
        };
        for heading in [mark, self.track.as_str(), format!("{date} {time}").trim()] {
            if !heading.is_empty() {
                line(&format!("{heading:^40}"));
            }
        }
        for PrintedLine { field, columns: [left, right] } in self.lines() {
            line(&format!("{left:>14}  {:^8}  {right}", field.title()));
        }
        if !mark.is_empty() {
            line(&format!("{mark:^40}"));
        }
        text
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::slips::SlipOrigin;

    #[test]
    fn a_slip_prints_in_the_trades_order() {
        let titles: Vec<&str> = Field::IN_ORDER.iter().map(|field| field.title()).collect();
        assert_eq!(
            titles,
            [
                "LANE", "CAR #", "CLASS", "DIAL", "R/T", "60'", "330'", "1/8", "MPH", "1000'",
                "1/4", "MPH"
            ]
        );
    }

    #[test]
    fn an_eighth_mile_slip_ends_at_its_finish() {
        let slip = Slip { length: TrackLength::Eighth, ..Slip::default() };
        assert_eq!(slip.lines().last().unwrap().field, Field::Mph660);
        assert_eq!(slip.lines().len(), 9);
    }

    #[test]
    fn each_lane_stands_on_its_side() {
        let slip = Slip {
            lane: Some(Lane::Right),
            own: LaneSlip { rt: ".045".parse().ok(), ..LaneSlip::default() },
            other: Some(LaneSlip { rt: "-.010".parse().ok(), ..LaneSlip::default() }),
            ..Slip::default()
        };
        let line = |field| slip.lines().into_iter().find(|l| l.field == field).unwrap().columns;
        assert_eq!(line(Field::Lane), ["left", "right"]);
        assert_eq!(line(Field::Rt), ["-.010", ".045"]);
    }

    #[test]
    fn a_practice_slip_says_so_at_both_ends() {
        let origin = SlipOrigin::Simulated { trial: "t1".to_owned() };
        let text = Slip { origin, ..Slip::default() }.to_text();
        let lines: Vec<&str> = text.lines().map(str::trim).collect();
        assert_eq!(lines.first(), lines.last());
        assert_eq!(lines[0], "PRACTICE - SIMULATED");
        assert!(!Slip::default().to_text().contains("SIMULATED"));
    }
}
