//! What to ask the tech officials about, by how quick a car is.
//!
//! Owns the data file of thresholds (`assets/tech.csv`, every row with source and year) and which of
//! them a car meets. Refuses advice: the list says what to ask, the track says what holds.

use std::sync::LazyLock;

use super::TrackLength;

/// What the list is worth; said wherever it is shown.
pub const TECH_CAUTION: &str = "The current year's rulebook was not read. These figures come from the \
     sources and years beside them; rules change and tracks have their own. Ask the track: its word \
     is final.";

/// How a car is closed.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash, Default)]
pub enum BodyKind {
    /// A fixed roof.
    #[default]
    Closed,
    /// A soft or folding roof.
    Convertible,
    /// Roof panels that come out; taken as open, which is stricter.
    TTop,
}

/// A car as tech asks about it; what is not known stays open.
#[derive(Debug, Clone, Copy, PartialEq, Default)]
pub struct TechQuestion {
    /// Expected time at the finish, s.
    pub et_s: Option<f64>,
    /// Expected speed there, mph.
    pub mph: Option<f64>,
    /// Where the finish is.
    pub length: TrackLength,
    /// How the car is closed.
    pub body: BodyKind,
    /// Model year.
    pub model_year: Option<u16>,
}

/// Whether an item applies to a car; from no to yes, so that "or" is the larger.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord, Hash)]
pub enum Applies {
    /// By the figures given, not.
    No,
    /// The figures given leave it open.
    NotKnown,
    /// By the figures given.
    Yes,
}

impl TechQuestion {
    /// Smallest and largest time and speed that the figures given allow. One of the two stands for a
    /// range of the other: time × speed is 1340 to 1480 in a quarter mile (common practice), half of
    /// it in an eighth.
    fn ranges(&self) -> (Range, Range) {
        let share = self.length.feet() / TrackLength::Quarter.feet();
        let (low, high) = (1340.0 * share, 1480.0 * share);
        let over = |figure: f64| (low / figure, high / figure);
        let (et, mph) = self.given();
        (et.or(self.mph.map(over)), mph.or(self.et_s.map(over)))
    }

    /// The figures given, as ranges of no width.
    fn given(&self) -> (Range, Range) {
        let exactly = |figure: f64| (figure, figure);
        (self.et_s.map(exactly), self.mph.map(exactly))
    }
}

/// Smallest and largest value of a figure; none where nothing is known of it.
type Range = Option<(f64, f64)>;

/// Whether every, no or some value of a range meets a limit.
fn whether(range: Range, meets: impl Fn(f64) -> bool) -> Applies {
    match range.map(|(low, high)| (meets(low), meets(high))) {
        Some((true, true)) => Applies::Yes,
        Some((false, false)) => Applies::No,
        _ => Applies::NotKnown,
    }
}

/// One thing to ask about.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct TechItem {
    /// What.
    pub item: &'static str,
    /// Whether it applies.
    pub applies: Applies,
    /// From when on, in words.
    pub threshold: String,
    /// Who printed it.
    pub source: &'static str,
    /// When; a chart of the early 2000s, whose own year is not printed, stands under 2003.
    pub year: u16,
    /// What else the source says; often nothing.
    pub note: &'static str,
}

/// The data file.
const TABLE: &str = include_str!("../../assets/tech.csv");

/// What a row asks for.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
enum Kind {
    /// Of everybody.
    Always,
    /// Of cars as quick or as fast as this.
    At,
    /// Nothing more, of cars no quicker and no faster than this.
    DownTo,
}

#[derive(Debug, Clone)]
struct Row {
    item: String,
    kind: Kind,
    /// `Some(true)` for open cars only, `Some(false)` for closed ones only.
    open: Option<bool>,
    model_years: (Option<u16>, Option<u16>),
    quarter_s: Option<f64>,
    eighth_s: Option<f64>,
    mph: Option<f64>,
    source: String,
    year: u16,
    note: String,
}

static ROWS: LazyLock<Vec<Row>> =
    LazyLock::new(|| read(TABLE).expect("the data file is part of the program, a test reads it"));

/// The list for one car, in the order of the file. Items that ask nothing of such a car (a convertible's
/// of a closed one, an allowance of another model year) are left out.
pub fn ask_tech(question: &TechQuestion) -> Vec<TechItem> {
    let open = question.body != BodyKind::Closed;
    ROWS.iter()
        .filter(|row| row.open.is_none_or(|only| only == open))
        .filter(|row| row.allows_year(question.model_year))
        .map(|row| TechItem {
            item: &row.item,
            applies: row.applies(question),
            threshold: row.threshold(question.length),
            source: &row.source,
            year: row.year,
            note: &row.note,
        })
        .collect()
}

impl Row {
    fn allows_year(&self, model_year: Option<u16>) -> bool {
        let (from, to) = self.model_years;
        match model_year {
            None => from.is_none() && to.is_none(),
            Some(year) => from.is_none_or(|from| year >= from) && to.is_none_or(|to| year <= to),
        }
    }

    fn limit_s(&self, length: TrackLength) -> Option<f64> {
        match length {
            TrackLength::Quarter => self.quarter_s,
            TrackLength::Eighth => self.eighth_s,
        }
    }

    /// `At`: as quick as the time or as fast as the speed. `DownTo`: neither quicker nor faster.
    ///
    /// A figure that was given decides; what it says of the other figure only where it has no limit of
    /// its own here. A limit that is not printed leaves an allowance open and asks nothing else.
    fn applies(&self, question: &TechQuestion) -> Applies {
        let limit_s = self.limit_s(question.length);
        let given = (question.et_s.is_some() && limit_s.is_some())
            || (question.mph.is_some() && self.mph.is_some());
        let (et, mph) = if given { question.given() } else { question.ranges() };
        let decides = |range: Range| range.is_some() || !given;
        let by = |range: Range, limit: Option<f64>, meets: fn(f64, f64) -> bool| {
            let limit = limit.filter(|_| decides(range))?;
            Some(whether(range, |figure| meets(figure, limit)))
        };
        let (at_most, at_least): (fn(f64, f64) -> bool, fn(f64, f64) -> bool) =
            (|figure, limit| figure <= limit, |figure, limit| figure >= limit);
        match self.kind {
            Kind::Always => Applies::Yes,
            Kind::At => {
                let parts = [by(et, limit_s, at_most), by(mph, self.mph, at_least)];
                parts.into_iter().flatten().max().unwrap_or(Applies::NotKnown)
            }
            Kind::DownTo if limit_s.is_none() => Applies::NotKnown,
            Kind::DownTo => {
                let parts = [by(et, limit_s, at_least), by(mph, self.mph, at_most)];
                parts.into_iter().flatten().min().unwrap_or(Applies::NotKnown)
            }
        }
    }

    fn threshold(&self, length: TrackLength) -> String {
        let (quick, fast, and) = match self.kind {
            Kind::Always => return "every car".to_owned(),
            Kind::At => (" and quicker", " and faster", " or "),
            Kind::DownTo => (" and slower", " and below", ", "),
        };
        let time = self.limit_s(length).map(|s| format!("{s:.2} s{quick}"));
        let speed = self.mph.map(|mph| format!("{mph} mph{fast}"));
        let both: Vec<String> = time.into_iter().chain(speed).collect();
        if both.is_empty() {
            return format!("none printed for the {length} mile");
        }
        format!("{}, {length} mile", both.join(and))
    }
}

fn read(table: &str) -> Result<Vec<Row>, String> {
    let mut reader = csv::Reader::from_reader(table.as_bytes());
    reader.records().map(|record| row(&record.map_err(|e| e.to_string())?)).collect()
}

fn row(record: &csv::StringRecord) -> Result<Row, String> {
    let cell = |place: usize| record.get(place).unwrap_or_default().trim();
    let wrong =
        |place: usize| format!("{:?}: column {}: {}", record.position(), place, cell(place));
    fn maybe<T: std::str::FromStr>(text: &str) -> Result<Option<T>, T::Err> {
        if text.is_empty() { Ok(None) } else { text.parse().map(Some) }
    }
    let seconds = |place: usize| maybe::<f64>(cell(place)).map_err(|_| wrong(place));
    let years = |place: usize| maybe::<u16>(cell(place)).map_err(|_| wrong(place));
    Ok(Row {
        item: cell(0).to_owned(),
        kind: match cell(1) {
            "always" => Kind::Always,
            "at" => Kind::At,
            "down-to" => Kind::DownTo,
            _ => return Err(wrong(1)),
        },
        open: match cell(2) {
            "any" => None,
            "open" => Some(true),
            "closed" => Some(false),
            _ => return Err(wrong(2)),
        },
        model_years: (years(3)?, years(4)?),
        quarter_s: seconds(5)?,
        eighth_s: seconds(6)?,
        mph: seconds(7)?,
        source: cell(8).to_owned(),
        year: years(9)?.ok_or_else(|| wrong(9))?,
        note: cell(10).to_owned(),
    })
}

#[cfg(test)]
mod tests {
    use super::*;

    fn items(question: TechQuestion) -> Vec<(&'static str, Applies)> {
        ask_tech(&question).into_iter().map(|item| (item.item, item.applies)).collect()
    }

    fn of(question: TechQuestion, start: &str) -> Option<Applies> {
        items(question).into_iter().find(|(item, _)| item.starts_with(start)).map(|(_, a)| a)
    }

    #[test]
    fn the_published_thresholds_are_met() {
        // NHRA quick-reference chart of the early 2000s and a track's sheet of 2020: quarter, eighth.
        for (start, body, quarter_s, eighth_s) in [
            ("Helmet", BodyKind::Closed, 13.99, 8.59),
            ("Roll bar, harness", BodyKind::Closed, 11.49, 7.35),
            ("Roll bar, convertible", BodyKind::Convertible, 13.49, 8.25),
            ("Roll bar, convertible", BodyKind::TTop, 13.49, 8.25),
            ("Roll cage", BodyKind::Closed, 10.99, 6.99),
            ("Roll cage, no", BodyKind::Closed, 9.99, 6.39),
            ("Competition licence", BodyKind::Closed, 9.99, 6.39),
        ] {
            for (length, limit_s) in
                [(TrackLength::Quarter, quarter_s), (TrackLength::Eighth, eighth_s)]
            {
                let at = |et_s| {
                    of(TechQuestion { et_s: Some(et_s), length, body, ..Default::default() }, start)
                };
                assert_eq!(at(limit_s), Some(Applies::Yes), "{start} {length}");
                assert_eq!(at(limit_s + 0.01), Some(Applies::No), "{start} {length}");
            }
        }
        let fast = |mph| TechQuestion { mph: Some(mph), ..Default::default() };
        assert_eq!(of(fast(150.0), "Parachute"), Some(Applies::Yes));
        assert_eq!(of(fast(149.9), "Parachute"), Some(Applies::No));
        assert_eq!(of(fast(135.0), "Competition licence"), Some(Applies::Yes));
    }

    #[test]
    fn allowances_belong_to_their_model_years() {
        // Announced March 2022: 2014 and later to 9.00 s and 150 mph, 2008–13 to 10.00 s and 135 mph.
        let of_year = |year: Option<u16>, et_s: f64| {
            let question =
                TechQuestion { et_s: Some(et_s), model_year: year, ..Default::default() };
            of(question, "Allowance")
        };
        assert_eq!(of_year(Some(2014), 9.00), Some(Applies::Yes));
        assert_eq!(of_year(Some(2020), 8.99), Some(Applies::No));
        assert_eq!(of_year(Some(2013), 10.00), Some(Applies::Yes));
        assert_eq!(of_year(Some(2008), 9.99), Some(Applies::No));
        assert_eq!(of_year(Some(2007), 12.0), None);
        assert_eq!(of_year(None, 12.0), None);
    }

    #[test]
    fn what_is_not_given_stays_open() {
        let nothing = TechQuestion::default();
        assert_eq!(of(nothing, "Helmet"), Some(Applies::NotKnown));
        assert_eq!(of(nothing, "Long trousers"), Some(Applies::Yes));
        // A speed alone settles what a speed can.
        let fast = TechQuestion { mph: Some(140.0), ..Default::default() };
        assert_eq!(of(fast, "Competition licence"), Some(Applies::Yes));
        // 100 mph may take 13.4 to 14.8 s: a helmet is open, a licence is not asked for.
        let slow = TechQuestion { mph: Some(100.0), ..Default::default() };
        assert_eq!(of(slow, "Helmet"), Some(Applies::NotKnown));
        assert_eq!(of(slow, "Competition licence"), Some(Applies::No));
        let quick = TechQuestion { et_s: Some(12.0), ..Default::default() };
        assert_eq!(of(quick, "Parachute"), Some(Applies::No));
        // No figure for the eighth mile is printed.
        let eighth = TechQuestion {
            et_s: Some(7.0),
            length: TrackLength::Eighth,
            model_year: Some(2020),
            ..Default::default()
        };
        assert_eq!(of(eighth, "Allowance"), Some(Applies::NotKnown));
    }

    #[test]
    fn every_row_has_its_source_and_year() {
        let rows = read(TABLE).unwrap();
        assert!(rows.len() >= 10);
        for row in rows {
            assert!(!row.item.is_empty() && row.source.len() > 3, "{row:?}");
            assert!((1990..=2100).contains(&row.year), "{row:?}");
        }
        assert!(read("item,kind\nx,sometimes\n").is_err());
    }

    #[test]
    fn a_closed_car_is_not_asked_a_convertibles_questions() {
        let items = items(TechQuestion { et_s: Some(12.0), ..Default::default() });
        assert!(items.iter().all(|(item, _)| !item.contains("convertible")));
        assert!(TECH_CAUTION.contains("was not read") && TECH_CAUTION.contains("final"));
    }
}
