//! A number with its unit as people type it.
//!
//! Owns suffixes, decimal commas and a doubt behind a ±. Refuses limits: whoever asked knows them.

/// A unit that may stand behind a number.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Unit {
    /// Its sign, small letters.
    pub sign: &'static str,
    /// One of it in the unit that is kept.
    pub factor: f64,
    /// Its zero in the unit that is kept.
    pub zero: f64,
}

impl Unit {
    /// A unit with the same zero.
    pub const fn of(sign: &'static str, factor: f64) -> Self {
        Self { sign, factor, zero: 0.0 }
    }

    /// Inches kept; centimetres and millimetres by the international inch of 25.4 mm (1959).
    pub const LENGTH_IN: &'static [Self] = &[
        Self::of("in", 1.0),
        Self::of("cm", 1.0 / 2.54),
        Self::of("mm", 1.0 / 25.4),
        Self::of("\"", 1.0),
    ];
    /// Pounds kept; kilograms by the international pound of .453 592 37 kg (1959).
    pub const WEIGHT_LB: &'static [Self] =
        &[Self::of("lb", 1.0), Self::of("lbs", 1.0), Self::of("kg", 1.0 / 0.453_592_37)];
    /// Mechanical horsepower kept (745.70 W); kilowatts, and metric horsepower of 735.49875 W.
    pub const POWER_HP: &'static [Self] = &[
        Self::of("hp", 1.0),
        Self::of("kw", 1000.0 / 745.699_871_582_270_2),
        Self::of("ps", 735.498_75 / 745.699_871_582_270_2),
    ];
    /// Pounds a square inch kept (6894.757 Pa); bar and kilopascals.
    pub const PRESSURE_PSI: &'static [Self] = &[
        Self::of("psi", 1.0),
        Self::of("bar", 100_000.0 / 6_894.757_293),
        Self::of("kpa", 1000.0 / 6_894.757_293),
    ];
    /// Inches of mercury kept (3386.389 Pa); hectopascals.
    pub const STATION_INHG: &'static [Self] = &[
        Self::of("inhg", 1.0),
        Self::of("hpa", 100.0 / 3386.389),
        Self::of("mb", 100.0 / 3386.389),
    ];
    /// Seconds kept; milliseconds.
    pub const TIME_S: &'static [Self] = &[Self::of("s", 1.0), Self::of("ms", 0.001)];
    /// Degrees Fahrenheit kept; Celsius.
    pub const TEMPERATURE_F: &'static [Self] = &[
        Self::of("f", 1.0),
        Self { sign: "c", factor: 1.8, zero: 32.0 },
        Self::of("°f", 1.0),
        Self { sign: "°c", factor: 1.8, zero: 32.0 },
    ];
    /// A bare number.
    pub const NONE: &'static [Self] = &[Self::of("", 1.0)];
    /// Turns a minute.
    pub const RPM: &'static [Self] = &[Self::of("rpm", 1.0)];
    /// Standard gravity.
    pub const G: &'static [Self] = &[Self::of("g", 1.0)];
}

/// A number as it was typed, in the unit that is kept.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Quantity {
    /// The number.
    pub value: f64,
    /// What stood behind ±.
    pub doubt: Option<f64>,
}

/// Reads `3400`, `1540 kg`, `12,5`, `63.5cm`, `2.05 ± .02 s`, `2.05+-.02`. Without a unit the first of
/// `units` is meant.
///
/// # Errors
/// A sentence for the driver.
pub fn read_quantity(text: &str, units: &[Unit]) -> Result<Quantity, String> {
    let plain = text.trim().to_lowercase().replace("+/-", "±").replace("+-", "±").replace(',', ".");
    let (value, doubt) = match plain.split_once('±') {
        Some((value, doubt)) => (value, Some(doubt)),
        None => (plain.as_str(), None),
    };
    let wrong = || {
        let shown: String = text.trim().chars().take(24).collect();
        let signs: Vec<&str> = units.iter().map(|unit| unit.sign).collect();
        match signs[..] {
            [] | [""] => format!("`{shown}` is not a number"),
            [one] => format!("`{shown}` is not a number of {one}"),
            [first, second, ..] => {
                format!("`{shown}` is not a number; write {first}, or {second} behind it")
            }
        }
    };
    let read = |part: &str, usual: Option<Unit>| {
        let part = part.trim();
        let plain = |c: char| c.is_ascii_digit() || matches!(c, '.' | '-' | '+' | '−');
        let end = part.find(|c| !plain(c)).unwrap_or(part.len());
        let number: f64 = part[..end].replace('−', "-").parse().ok()?;
        let sign = part[end..].trim();
        let unit = match sign {
            "" => usual?,
            _ => *units.iter().find(|unit| unit.sign == sign)?,
        };
        number.is_finite().then_some((number, unit))
    };
    // A unit at the very end is meant for both numbers.
    let doubt =
        doubt.map(|doubt| read(doubt, units.first().copied()).ok_or_else(wrong)).transpose()?;
    let last = doubt.map(|(_, unit)| unit).or(units.first().copied());
    let (number, unit) = read(value, last).ok_or_else(wrong)?;
    let doubt = match (doubt, plain.split_once('±')) {
        // … and one behind the first number alone for the doubt as well.
        (Some((size, own)), Some((_, part))) => {
            let said = part.trim().ends_with(|c: char| c.is_alphabetic() || c == '"');
            Some((size * if said { own.factor } else { unit.factor }).abs())
        }
        _ => None,
    };
    Ok(Quantity { value: number * unit.factor + unit.zero, doubt })
}

#[cfg(test)]
mod tests {
    use super::*;

    fn read(text: &str, units: &[Unit]) -> (f64, Option<f64>) {
        let got = read_quantity(text, units).unwrap();
        let round = |x: f64| (x * 1000.0).round() / 1000.0;
        (round(got.value), got.doubt.map(round))
    }

    #[test]
    fn a_number_takes_the_unit_behind_it() {
        assert_eq!(read("3400", Unit::WEIGHT_LB), (3400.0, None));
        assert_eq!(read("1542,2 kg", Unit::WEIGHT_LB), (3399.969, None));
        assert_eq!(read("63.5cm", Unit::LENGTH_IN), (25.0, None));
        assert_eq!(read("25.5\"", Unit::LENGTH_IN), (25.5, None));
        assert_eq!(read("100 kW", Unit::POWER_HP), (134.102, None));
        assert_eq!(read("2 bar", Unit::PRESSURE_PSI), (29.008, None));
        assert_eq!(read("20 °C", Unit::TEMPERATURE_F), (68.0, None));
        assert_eq!(read("-40c", Unit::TEMPERATURE_F), (-40.0, None));
    }

    #[test]
    fn a_doubt_shares_the_unit_unless_it_has_its_own() {
        assert_eq!(read("60 ± 10 ms", Unit::TIME_S), (0.06, Some(0.01)));
        assert_eq!(read("60ms+-10", Unit::TIME_S), (0.06, Some(0.01)));
        assert_eq!(read(".06 +/- 10ms", Unit::TIME_S), (0.000, Some(0.01)));
        assert_eq!(read(".06 s ± 10 ms", Unit::TIME_S), (0.06, Some(0.01)));
        assert_eq!(read("1.5±.3", Unit::LENGTH_IN), (1.5, Some(0.3)));
    }

    #[test]
    fn what_is_no_number_is_told_with_its_units() {
        let says = |text: &str| read_quantity(text, Unit::WEIGHT_LB).unwrap_err();
        assert_eq!(says("heavy"), "`heavy` is not a number; write lb, or lbs behind it");
        for wrong in ["", "3400 st", "1e3", "nan", "±3", "3±", "--3", "3 ± x"] {
            assert!(read_quantity(wrong, Unit::WEIGHT_LB).is_err(), "{wrong}");
        }
    }
}
