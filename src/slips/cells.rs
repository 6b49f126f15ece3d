//! Everything a slip can say, each under one name, to be read from and written as text.
//!
//! Owns names, spellings and words of a slip's facts, for tables and the command line alike. Refuses
//! tables: `import` cuts them.

use super::quick::{read_number, read_speed, read_time};
use super::{
    Daylight, LampKind, LaneSlip, LaunchFeel, Manner, Slip, SlipOrigin, SlipTree, SlipsError,
    error::shown,
};
use crate::rules::{RtScale, SlipTime, TrackLength};
use crate::tree::Lane;

/// A fact of one lane's column.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash)]
pub enum InLane {
    /// Number on the window.
    CarNumber,
    /// Class.
    Class,
    /// Dial-in.
    Dial,
    /// Reaction time.
    Rt,
    /// 60 ft.
    T60,
    /// 330 ft.
    T330,
    /// 660 ft.
    T660,
    /// Speed there.
    Mph660,
    /// 1000 ft.
    T1000,
    /// 1320 ft.
    T1320,
    /// Speed there.
    Mph1320,
    /// The red lamp.
    Red,
    /// The time at the finish, wherever that is.
    Et,
    /// The speed at the finish.
    Mph,
}

/// A fact of a slip.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash)]
pub enum Cell {
    /// Day.
    Date,
    /// Time of day.
    Time,
    /// Driver.
    Driver,
    /// Car.
    Car,
    /// Track.
    Track,
    /// Quarter or eighth.
    Length,
    /// Scale of the reaction times.
    Scale,
    /// Kind of tree.
    Tree,
    /// Lane.
    Lane,
    /// The driver's column.
    Own(InLane),
    /// The other lane's column.
    Other(InLane),
    /// LEDs or bulbs.
    Lamps,
    /// Day, dusk, night.
    Light,
    /// Temperature, °F.
    TemperatureF,
    /// Dew point, °F.
    DewPointF,
    /// Station pressure, inHg.
    StationInhg,
    /// Front tyres, psi.
    FrontPsi,
    /// Rear tyres, psi.
    RearPsi,
    /// Engine speed at the launch.
    LaunchRpm,
    /// Staging depth, in.
    DepthIn,
    /// How the driver left.
    Manner,
    /// How the car left.
    Feel,
    /// First launch of the day.
    FirstOfDay,
    /// The practice run of a simulated slip.
    Simulated,
    /// Anything else.
    Note,
}

/// What kind of value a cell holds.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash)]
pub enum Shape {
    /// A number.
    Number,
    /// Yes or no.
    YesNo,
    /// Words.
    Words,
}

/// A lane's cells: the name, then other spellings, all as [`plain`] makes them.
const IN_LANE: [(InLane, &[&str]); 14] = [
    (InLane::CarNumber, &["car_number", "carnumber", "car#", "number", "no"]),
    (InLane::Class, &["class", "category"]),
    (InLane::Dial, &["dial_s", "dial", "dialin", "dial-in", "index"]),
    (InLane::Rt, &["rt_s", "rt", "r/t", "reaction", "reactiontime", "react"]),
    (InLane::T60, &["60_s", "60", "60ft", "60foot", "60s", "t60", "sixtyfoot"]),
    (InLane::T330, &["330_s", "330", "330ft", "330foot", "330s", "t330"]),
    (
        InLane::T660,
        &["660_s", "660", "660ft", "1/8", "1/8et", "1/8mile", "eighthet", "660s", "t660"],
    ),
    (InLane::Mph660, &["660_mph", "mph660", "660mph", "1/8mph", "eighthmph", "1/8speed"]),
    (InLane::T1000, &["1000_s", "1000", "1000ft", "1000foot", "1000s", "t1000"]),
    (
        InLane::T1320,
        &["1320_s", "1320", "1320ft", "1/4", "1/4et", "1/4mile", "quarteret", "1320s", "t1320"],
    ),
    (InLane::Mph1320, &["1320_mph", "mph1320", "1320mph", "1/4mph", "quartermph", "1/4speed"]),
    (InLane::Red, &["red", "redlight", "foul"]),
    (InLane::Et, &["et_s", "et", "e.t", "e.t.", "elapsed", "elapsedtime"]),
    (InLane::Mph, &["mph", "speed", "trap", "trapspeed"]),
];

/// The other cells.
const OF_SLIP: [(Cell, &[&str]); 23] = [
    (Cell::Date, &["date", "day"]),
    (Cell::Time, &["time", "timeofday", "clock"]),
    (Cell::Driver, &["driver"]),
    (Cell::Car, &["car", "vehicle"]),
    (Cell::Track, &["track", "venue", "strip"]),
    (Cell::Length, &["length", "distance", "tracklength"]),
    (Cell::Scale, &["scale", "rtscale"]),
    (Cell::Tree, &["tree"]),
    (Cell::Lane, &["lane", "side"]),
    (Cell::Lamps, &["lamps", "bulbs", "lights"]),
    (Cell::Light, &["light", "daylight"]),
    (Cell::TemperatureF, &["temperature_f", "temperaturef", "temperature", "tempf", "temp"]),
    (Cell::DewPointF, &["dew_point_f", "dewpointf", "dewpoint", "dew"]),
    (Cell::StationInhg, &["station_inhg", "stationinhg", "station", "pressure", "baro"]),
    (Cell::FrontPsi, &["front_psi", "frontpsi", "front"]),
    (Cell::RearPsi, &["rear_psi", "rearpsi", "rear"]),
    (Cell::LaunchRpm, &["launch_rpm", "launchrpm", "rpm"]),
    (Cell::DepthIn, &["depth_in", "depthin", "depth"]),
    (Cell::Manner, &["manner", "how", "style", "left"]),
    (Cell::Feel, &["feel", "launchfeel", "thecar"]),
    (Cell::FirstOfDay, &["first", "firstofday", "firstofnight", "cold"]),
    (Cell::Simulated, &["simulated"]),
    (Cell::Note, &["note", "notes", "comment", "remarks"]),
];

const LENGTHS: [(TrackLength, &[&str]); 2] = [
    (TrackLength::Quarter, &["quarter", "1/4", "1320", "q"]),
    (TrackLength::Eighth, &["eighth", "1/8", "660", "e"]),
];
const SCALES: [(RtScale, &[&str]); 3] = [
    (RtScale::Modern, &["modern", "new", "000", ".000"]),
    (RtScale::Old500, &["old500", "old", "500", ".500"]),
    (RtScale::Old400, &["old400", "400", ".400"]),
];
const TREES: [(SlipTree, &[&str]); 3] = [
    (SlipTree::Full, &["full", "sportsman"]),
    (SlipTree::Pro400, &["pro", "pro400", ".400"]),
    (SlipTree::Pro500, &["pro500", ".500"]),
];
const LANES: [(Lane, &[&str]); 2] = [(Lane::Left, &["left", "l"]), (Lane::Right, &["right", "r"])];
const LAMPS: [(LampKind, &[&str]); 2] =
    [(LampKind::Led, &["led", "leds"]), (LampKind::Bulb, &["bulb", "bulbs"])];
const LIGHTS: [(Daylight, &[&str]); 3] =
    [(Daylight::Day, &["day"]), (Daylight::Dusk, &["dusk", "dawn"]), (Daylight::Night, &["night"])];
const MANNERS: [(Manner, &[&str]); 3] = [
    (Manner::Reacted, &["reacted", "react"]),
    (Manner::Timed, &["timed", "time-it", "timing"]),
    (Manner::OnGreen, &["on-green", "green"]),
];
const FEELS: [(LaunchFeel, &[&str]); 3] = [
    (LaunchFeel::Clean, &["clean", "good"]),
    (LaunchFeel::Bogged, &["bogged", "bog"]),
    (LaunchFeel::Spun, &["spun", "spin"]),
];
const YES_NO: [(bool, &[&str]); 2] =
    [(true, &["yes", "y", "true", "1", "x", "red"]), (false, &["no", "n", "false", "0", "green"])];

impl Slip {
    /// A slip made of cells; `usual` holds what they leave open. The length is read first, because a
    /// finish is where it says.
    ///
    /// # Errors
    /// As [`Cell::set`].
    pub fn of_cells<'a>(
        usual: &Slip,
        cells: impl IntoIterator<Item = (Cell, &'a str)>,
    ) -> Result<Slip, SlipsError> {
        let mut slip = usual.clone();
        let (lengths, others): (Vec<_>, Vec<_>) =
            cells.into_iter().partition(|(cell, _)| *cell == Cell::Length);
        for (cell, text) in lengths.into_iter().chain(others) {
            cell.set(&mut slip, text)?;
        }
        // An other lane of which nothing is said was none.
        slip.other = slip.other.filter(|other| *other != LaneSlip::default());
        // Whoever writes down a quarter's finish raced a quarter.
        if slip.own.t1320.is_some() {
            slip.length = TrackLength::Quarter;
        }
        Ok(slip)
    }
}

impl Slip {
    /// The same slip without what stands in these cells. What is simulated stays so.
    ///
    /// # Errors
    /// [`SlipsError`] for a slip that says what no slip can, as one made by hand may.
    pub fn without(&self, cells: &[Cell]) -> Result<Slip, SlipsError> {
        let finish = |cell: InLane| match (cell, self.length) {
            (InLane::Et, TrackLength::Quarter) => InLane::T1320,
            (InLane::Et, TrackLength::Eighth) => InLane::T660,
            (InLane::Mph, TrackLength::Quarter) => InLane::Mph1320,
            (InLane::Mph, TrackLength::Eighth) => InLane::Mph660,
            (cell, _) => cell,
        };
        let emptied: Vec<Cell> = cells
            .iter()
            .map(|cell| match *cell {
                Cell::Own(cell) => Cell::Own(finish(cell)),
                Cell::Other(cell) => Cell::Other(finish(cell)),
                cell => cell,
            })
            .filter(|cell| *cell != Cell::Simulated)
            .collect();
        let kept = Cell::all().filter(|cell| !emptied.contains(cell));
        let said: Vec<(Cell, String)> = kept.map(|cell| (cell, cell.get(self))).collect();
        let said = said.iter().filter(|(_, text)| !text.is_empty());
        Slip::of_cells(&Slip::default(), said.map(|(cell, text)| (*cell, text.as_str())))
    }
}

/// How titles and words are compared: small letters, without blanks and quotation marks.
fn plain(text: &str) -> String {
    let skipped = |c: &char| !c.is_whitespace() && !matches!(c, '\'' | '"' | '’' | '′' | ':');
    text.chars().filter(skipped).flat_map(char::to_lowercase).collect()
}

impl Cell {
    /// Every cell that is written to a table, in order.
    pub fn all() -> impl Iterator<Item = Cell> {
        let lane = |of: fn(InLane) -> Cell| {
            IN_LANE
                .iter()
                .map(|(cell, _)| *cell)
                .filter(|cell| !matches!(cell, InLane::Et | InLane::Mph))
                .map(of)
        };
        let place = OF_SLIP.iter().position(|(cell, _)| *cell == Cell::Lamps).unwrap_or_default();
        let (before, after) = OF_SLIP.split_at(place);
        let plain = |cells: &'static [(Cell, &[&str])]| cells.iter().map(|(cell, _)| *cell);
        plain(before).chain(lane(Cell::Own)).chain(lane(Cell::Other)).chain(plain(after))
    }

    /// What kind of value it holds.
    pub const fn shape(self) -> Shape {
        match self {
            Cell::Own(cell) | Cell::Other(cell) => match cell {
                InLane::CarNumber | InLane::Class => Shape::Words,
                InLane::Red => Shape::YesNo,
                _ => Shape::Number,
            },
            Cell::TemperatureF
            | Cell::DewPointF
            | Cell::StationInhg
            | Cell::FrontPsi
            | Cell::RearPsi
            | Cell::LaunchRpm
            | Cell::DepthIn => Shape::Number,
            Cell::FirstOfDay => Shape::YesNo,
            _ => Shape::Words,
        }
    }

    /// The name it is written under, the unit last.
    pub fn name(self) -> String {
        let in_lane = |cell: InLane| {
            IN_LANE.iter().find(|(c, _)| *c == cell).map_or("", |(_, names)| names[0])
        };
        match self {
            Cell::Own(cell) => in_lane(cell).to_owned(),
            Cell::Other(cell) => format!("other_{}", in_lane(cell)),
            cell => OF_SLIP.iter().find(|(c, _)| *c == cell).map_or("", |(_, n)| n[0]).to_owned(),
        }
    }

    /// The cell a title means; `None` for a title nobody knows.
    pub fn of_title(title: &str) -> Option<Cell> {
        let title = plain(title);
        let in_lane = |title: &str| {
            let bare = title.trim_start_matches(['_', '-', '.']);
            let found = IN_LANE.iter().find(|(_, names)| names.iter().any(|n| plain(n) == bare));
            found.map(|(cell, _)| *cell)
        };
        for other in ["other", "opponent", "opp", "their"] {
            if let Some(rest) = title.strip_prefix(other)
                && let Some(cell) = in_lane(rest)
            {
                return Some(Cell::Other(cell));
            }
        }
        let of_slip = OF_SLIP.iter().find(|(_, names)| names.iter().any(|n| plain(n) == title));
        of_slip.map(|(cell, _)| *cell).or_else(|| in_lane(&title).map(Cell::Own))
    }

    /// Writes `text` into this cell of `slip`. A length has to be in before an `Et` or `Mph` goes in.
    ///
    /// # Errors
    /// [`SlipsError::Figure`] or [`SlipsError::Word`] for a text that does not belong there.
    pub fn set(self, slip: &mut Slip, text: &str) -> Result<(), SlipsError> {
        let text = text.trim();
        let name = self.name();
        let number = |field: &str| {
            let read = read_number(text);
            read.ok_or_else(|| SlipsError::figure(field, text, "a number like 32.5"))
        };
        match self {
            Cell::Date => slip.date = Some(read_date(text)?),
            Cell::Time => slip.time = Some(read_clock(text)?),
            Cell::Driver => text.clone_into(&mut slip.driver),
            Cell::Car => text.clone_into(&mut slip.car),
            Cell::Track => text.clone_into(&mut slip.track),
            Cell::Note => text.clone_into(&mut slip.note),
            Cell::Length => slip.length = word(&name, text, &LENGTHS)?,
            Cell::Scale => slip.scale = word(&name, text, &SCALES)?,
            Cell::Tree => slip.tree = Some(word(&name, text, &TREES)?),
            Cell::Lane => slip.lane = Some(word(&name, text, &LANES)?),
            Cell::Own(cell) => cell.set(&mut slip.own, slip.length, &name, text)?,
            Cell::Other(cell) => {
                let other = slip.other.get_or_insert_with(LaneSlip::default);
                cell.set(other, slip.length, &name, text)?;
            }
            Cell::Lamps => slip.lamps = Some(word(&name, text, &LAMPS)?),
            Cell::Light => slip.light = Some(word(&name, text, &LIGHTS)?),
            Cell::TemperatureF => slip.weather.temperature_f = Some(number(&name)?),
            Cell::DewPointF => slip.weather.dew_point_f = Some(number(&name)?),
            Cell::StationInhg => slip.weather.station_inhg = Some(number(&name)?),
            Cell::FrontPsi => slip.front_psi = Some(number(&name)?),
            Cell::RearPsi => slip.rear_psi = Some(number(&name)?),
            Cell::LaunchRpm => slip.launch_rpm = Some(number(&name)?),
            Cell::DepthIn => slip.depth_in = Some(number(&name)?),
            Cell::Manner => slip.manner = Some(word(&name, text, &MANNERS)?),
            Cell::Feel => slip.feel = Some(word(&name, text, &FEELS)?),
            Cell::FirstOfDay => slip.first_of_day = Some(word(&name, text, &YES_NO)?),
            Cell::Simulated => slip.origin = SlipOrigin::Simulated { trial: text.to_owned() },
        }
        Ok(())
    }

    /// What this cell of `slip` says; empty where it says nothing. [`Cell::set`] reads it back.
    pub fn get(self, slip: &Slip) -> String {
        let number = |value: Option<f64>| {
            value.filter(|v| v.is_finite()).map_or_else(String::new, |v| v.to_string())
        };
        match self {
            Cell::Date => slip.date.map_or_else(String::new, |date| date.to_string()),
            Cell::Time => slip.time.map_or_else(String::new, |time| time.to_string()),
            Cell::Driver => slip.driver.clone(),
            Cell::Car => slip.car.clone(),
            Cell::Track => slip.track.clone(),
            Cell::Note => slip.note.clone(),
            Cell::Length => name_of(Some(slip.length), &LENGTHS),
            Cell::Scale => name_of(Some(slip.scale), &SCALES),
            Cell::Tree => name_of(slip.tree, &TREES),
            Cell::Lane => name_of(slip.lane, &LANES),
            Cell::Own(cell) => cell.get(&slip.own, slip.length),
            Cell::Other(cell) => {
                slip.other.as_ref().map_or_else(String::new, |lane| cell.get(lane, slip.length))
            }
            Cell::Lamps => name_of(slip.lamps, &LAMPS),
            Cell::Light => name_of(slip.light, &LIGHTS),
            Cell::TemperatureF => number(slip.weather.temperature_f),
            Cell::DewPointF => number(slip.weather.dew_point_f),
            Cell::StationInhg => number(slip.weather.station_inhg),
            Cell::FrontPsi => number(slip.front_psi),
            Cell::RearPsi => number(slip.rear_psi),
            Cell::LaunchRpm => number(slip.launch_rpm),
            Cell::DepthIn => number(slip.depth_in),
            Cell::Manner => name_of(slip.manner, &MANNERS),
            Cell::Feel => name_of(slip.feel, &FEELS),
            Cell::FirstOfDay => name_of(slip.first_of_day, &YES_NO),
            Cell::Simulated => match &slip.origin {
                SlipOrigin::Track => String::new(),
                // The mark must not get lost with the name.
                SlipOrigin::Simulated { trial } if trial.is_empty() => "practice".to_owned(),
                SlipOrigin::Simulated { trial } => trial.clone(),
            },
        }
    }
}

impl InLane {
    fn set(
        self,
        lane: &mut LaneSlip,
        length: TrackLength,
        name: &str,
        text: &str,
    ) -> Result<(), SlipsError> {
        let time = || read_time(name, text).map(Some);
        let speed = || read_speed(name, text).map(Some);
        match (self, length) {
            (InLane::CarNumber, _) => text.clone_into(&mut lane.car_number),
            (InLane::Class, _) => text.clone_into(&mut lane.class),
            (InLane::Dial, _) => lane.dial = time()?,
            (InLane::Rt, _) => lane.rt = time()?,
            (InLane::T60, _) => lane.t60 = time()?,
            (InLane::T330, _) => lane.t330 = time()?,
            (InLane::T660, _) | (InLane::Et, TrackLength::Eighth) => lane.t660 = time()?,
            (InLane::Mph660, _) | (InLane::Mph, TrackLength::Eighth) => lane.mph660 = speed()?,
            (InLane::T1000, _) => lane.t1000 = time()?,
            (InLane::T1320, _) | (InLane::Et, TrackLength::Quarter) => lane.t1320 = time()?,
            (InLane::Mph1320, _) | (InLane::Mph, TrackLength::Quarter) => lane.mph1320 = speed()?,
            (InLane::Red, _) => lane.red = word(name, text, &YES_NO)?,
        }
        Ok(())
    }

    fn get(self, lane: &LaneSlip, length: TrackLength) -> String {
        let time = |time: Option<SlipTime>| time.map_or_else(String::new, |t| t.to_string());
        let speed = |mph: Option<f64>| mph.map_or_else(String::new, |mph| mph.to_string());
        match self {
            InLane::CarNumber => lane.car_number.clone(),
            InLane::Class => lane.class.clone(),
            InLane::Dial => time(lane.dial),
            InLane::Rt => time(lane.rt),
            InLane::T60 => time(lane.t60),
            InLane::T330 => time(lane.t330),
            InLane::T660 => time(lane.t660),
            InLane::Mph660 => speed(lane.mph660),
            InLane::T1000 => time(lane.t1000),
            InLane::T1320 => time(lane.t1320),
            InLane::Mph1320 => speed(lane.mph1320),
            InLane::Red => if lane.red { "yes" } else { "" }.to_owned(),
            InLane::Et => time(lane.et(length)),
            InLane::Mph => speed(lane.mph(length)),
        }
    }
}

fn read_date(text: &str) -> Result<jiff::civil::Date, SlipsError> {
    text.parse().map_err(|_| SlipsError::figure("date", text, "a date like 2026-05-01"))
}

fn read_clock(text: &str) -> Result<jiff::civil::Time, SlipsError> {
    // "9:05" is meant, "09:05" is read.
    let padded = if text.find(':') == Some(1) { format!("0{text}") } else { text.to_owned() };
    padded.parse().map_err(|_| SlipsError::figure("time", text, "a time of day like 19:35"))
}

/// The value whose list of spellings holds `text`.
fn word<T: Copy>(field: &str, text: &str, words: &[(T, &[&str])]) -> Result<T, SlipsError> {
    let found = words.iter().find(|(_, spellings)| spellings.contains(&plain(text).as_str()));
    found.map(|(value, _)| *value).ok_or_else(|| {
        let choices: Vec<&str> = words.iter().map(|(_, spellings)| spellings[0]).collect();
        let choices = choices.join(", ");
        SlipsError::Word { field: field.to_owned(), word: shown(text), choices }
    })
}

/// The first spelling of a value.
fn name_of<T: PartialEq>(value: Option<T>, words: &[(T, &[&str])]) -> String {
    let found = words.iter().find(|(v, _)| Some(v) == value.as_ref());
    found.map_or_else(String::new, |(_, spellings)| spellings[0].to_owned())
}
