//! Figures as they are typed fastest: without their point.
//!
//! Owns where the point belongs. Refuses to guess: a figure that could be two stays as it was typed,
//! or is asked about.

use crate::form::{Unit, read_quantity};
use crate::slips::cells::{Cell, InLane};

/// Where times and speeds lie, chosen so wide that every street and race car fits and so narrow that
/// the highest is less than ten times the lowest: then a row of figures has one place for its point.
const SIXTY_S: (f64, f64) = (0.8, 5.0);
const T330_S: (f64, f64) = (2.0, 13.0);
const EIGHTH_S: (f64, f64) = (3.0, 20.0);
const T1000_S: (f64, f64) = (4.0, 26.0);
const QUARTER_S: (f64, f64) = (5.0, 32.0);
const DIAL_S: (f64, f64) = (3.5, 32.0);
const SPEED_MPH: (f64, f64) = (40.0, 350.0);

/// What was typed into a cell as the cell reads it: points put in, units changed to the cell's own.
///
/// # Errors
/// A sentence for the driver.
pub(super) fn as_read(cell: Cell, text: &str) -> Result<String, String> {
    let text = text.trim();
    let of_unit = |units: &[Unit]| {
        let read = read_quantity(text, units)?;
        // To a ten-thousandth: what a change of units leaves behind is nobody's reading.
        Ok(((read.value * 1e4).round() / 1e4).to_string())
    };
    match cell {
        Cell::Own(cell) | Cell::Other(cell) => in_lane(cell, text),
        Cell::DepthIn => of_unit(Unit::LENGTH_IN),
        Cell::FrontPsi | Cell::RearPsi => of_unit(Unit::PRESSURE_PSI),
        Cell::TemperatureF | Cell::DewPointF => of_unit(Unit::TEMPERATURE_F),
        Cell::StationInhg => of_unit(Unit::STATION_INHG),
        Cell::LaunchRpm => of_unit(Unit::RPM),
        _ => Ok(text.to_owned()),
    }
}

fn in_lane(cell: InLane, text: &str) -> Result<String, String> {
    let range = match cell {
        InLane::Rt => return light(text),
        InLane::T60 => SIXTY_S,
        InLane::T330 => T330_S,
        InLane::T660 => EIGHTH_S,
        InLane::T1000 => T1000_S,
        InLane::T1320 => QUARTER_S,
        InLane::Dial => DIAL_S,
        InLane::Mph660 | InLane::Mph1320 => SPEED_MPH,
        _ => return Ok(text.to_owned()),
    };
    Ok(with_point(text, range))
}

/// A row of figures with its point where the number lies in the range; as typed where there is no
/// such place or a point already.
fn with_point(text: &str, (low, high): (f64, f64)) -> String {
    if text.is_empty() || text.len() > 9 || !text.bytes().all(|byte| byte.is_ascii_digit()) {
        return text.to_owned();
    }
    let places = (0..=text.len()).map(|place| format!("{}.{}", &text[..place], &text[place..]));
    let fits =
        |number: &String| number.parse::<f64>().is_ok_and(|number| (low..=high).contains(&number));
    let mut fitting = places.filter(fits);
    match (fitting.next(), fitting.next()) {
        (Some(only), None) => only,
        _ => text.to_owned(),
    }
}

/// A reaction time: figures without a point are thousandths.
fn light(text: &str) -> Result<String, String> {
    let (sign, figures) = match text.strip_prefix(['-', '−']) {
        Some(figures) => ("-", figures),
        None => ("", text.strip_prefix('+').unwrap_or(text)),
    };
    if figures.is_empty() || !figures.bytes().all(|byte| byte.is_ascii_digit()) {
        return Ok(text.to_owned());
    }
    match figures.len() {
        1..=3 => Ok(format!("{sign}.{figures:0>3}")),
        4 if !figures.starts_with('0') => Ok(format!("{sign}{}.{}", &figures[..1], &figures[1..])),
        _ => Err(format!("`{text}` could be .{figures} or another; type the point")),
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_row_of_figures_has_one_place_for_its_point() {
        for (low, high) in [SIXTY_S, T330_S, EIGHTH_S, T1000_S, QUARTER_S, DIAL_S, SPEED_MPH] {
            assert!(high < 10.0 * low, "{low} to {high}");
        }
        let read = |cell, text: &str| as_read(Cell::Own(cell), text).unwrap();
        // A printed run (published with its splits).
        for (cell, typed, want) in [
            (InLane::T60, "1963", "1.963"),
            (InLane::T330, "5678", "5.678"),
            (InLane::T660, "8637", "8.637"),
            (InLane::Mph660, "8395", "83.95"),
            (InLane::T1320, "13464", "13.464"),
            (InLane::T1320, "1346", "13.46"),
            (InLane::Mph1320, "10504", "105.04"),
            (InLane::Mph1320, "105", "105."),
            (InLane::T60, "2013", "2.013"),
            (InLane::T60, "2", "2."),
            // No place at all, or typed with its point.
            (InLane::T60, "0", "0"),
            (InLane::T1320, "9.9", "9.9"),
            (InLane::T1320, "13,464", "13,464"),
        ] {
            assert_eq!(read(cell, typed), want, "{typed}");
        }
    }

    #[test]
    fn a_light_without_a_point_is_in_thousandths() {
        let read = |text: &str| as_read(Cell::Own(InLane::Rt), text);
        for (typed, want) in [
            ("45", ".045"),
            ("045", ".045"),
            ("512", ".512"),
            ("-33", "-.033"),
            ("−1", "-.001"),
            ("1023", "1.023"),
            (".0123", ".0123"),
            ("0", ".000"),
        ] {
            assert_eq!(read(typed).unwrap(), want, "{typed}");
        }
        assert!(read("0123").unwrap_err().contains("type the point"));
    }

    #[test]
    fn units_are_changed_to_the_slips_own() {
        assert_eq!(as_read(Cell::DepthIn, "5 cm").unwrap(), "1.9685");
        assert_eq!(as_read(Cell::RearPsi, "1.2bar").unwrap(), "17.4045");
        assert_eq!(as_read(Cell::TemperatureF, "20c").unwrap(), "68");
        assert_eq!(as_read(Cell::StationInhg, "1000 hPa").unwrap(), "29.53");
        assert!(as_read(Cell::LaunchRpm, "fast").is_err());
    }
}
