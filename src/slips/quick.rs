//! A lane's column typed as one line, in the order of the slip.
//!
//! Owns the quick way in: figures from top to bottom, a `-` where the slip has none. Refuses words.

use super::{LaneSlip, SlipsError};
use crate::rules::SlipTime;

/// What a line holds, in order.
pub const QUICK_ORDER: &str = "R/T 60' 330' 1/8 MPH 1000' 1/4 MPH";

/// The fastest speed a slip may hold, mph. Chosen: what a computed pass of the wildest car may print
/// has to be read back; a real slip's is asked about long before.
pub const FASTEST_MPH: f64 = 1000.0;

/// Reads `rt 60 330 660 mph 1000 1320 mph`, separated by blanks; `-` where the slip has nothing.
/// What is left off at the end is missing.
///
/// # Errors
/// [`SlipsError::Figure`] for a word that is neither a figure nor `-`, [`SlipsError::TooMany`] for more
/// than eight.
pub fn read_column(text: &str) -> Result<LaneSlip, SlipsError> {
    let words: Vec<Option<&str>> =
        text.split_whitespace().map(|word| (word != "-").then_some(word)).collect();
    if words.len() > 8 {
        return Err(SlipsError::TooMany { got: words.len() });
    }
    let word = |place: usize| words.get(place).copied().flatten();
    let time =
        |place: usize, field: &'static str| word(place).map(|w| read_time(field, w)).transpose();
    let speed =
        |place: usize, field: &'static str| word(place).map(|w| read_speed(field, w)).transpose();
    Ok(LaneSlip {
        rt: time(0, "R/T")?,
        t60: time(1, "60'")?,
        t330: time(2, "330'")?,
        t660: time(3, "1/8")?,
        mph660: speed(4, "MPH at the 1/8")?,
        t1000: time(5, "1000'")?,
        t1320: time(6, "1/4")?,
        mph1320: speed(7, "MPH at the 1/4")?,
        ..LaneSlip::default()
    })
}

/// A time in a field called `field`.
pub(super) fn read_time(field: &str, word: &str) -> Result<SlipTime, SlipsError> {
    word.parse().map_err(|_| SlipsError::figure(field, word, "a time like 13.464 or -.033"))
}

/// A speed in a field called `field`: above 0, up to [`FASTEST_MPH`].
pub(super) fn read_speed(field: &str, word: &str) -> Result<f64, SlipsError> {
    let mph = read_number(word).filter(|mph| *mph > 0.0 && *mph <= FASTEST_MPH);
    mph.ok_or_else(|| SlipsError::figure(field, word, "a speed in mph like 105.04"))
}

/// A plain number with a point or a comma.
pub(super) fn read_number(word: &str) -> Option<f64> {
    let plain = |c: char| c.is_ascii_digit() || matches!(c, '.' | ',' | '-' | '+');
    let word = word.trim();
    if !word.chars().all(plain) {
        return None;
    }
    word.replace(',', ".").parse().ok().filter(|number: &f64| number.is_finite())
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_whole_slip_is_one_line() {
        let lane = read_column(".045 1.963 5.678 8.637 83.95 - 13,464 105.04").unwrap();
        assert_eq!(lane.rt.unwrap().to_string(), ".045");
        assert_eq!(lane.t1320.unwrap().to_string(), "13.464");
        assert_eq!((lane.mph660, lane.t1000, lane.mph1320), (Some(83.95), None, Some(105.04)));
        assert_eq!(read_column("").unwrap(), LaneSlip::default());
    }

    #[test]
    fn a_word_that_is_no_figure_is_named_with_its_field() {
        let refused = read_column(".045 two").unwrap_err().to_string();
        assert_eq!(refused, "60': `two` is not a time like 13.464 or -.033");
        let refused = read_column("- - - - -5").unwrap_err().to_string();
        assert_eq!(refused, "MPH at the 1/8: `-5` is not a speed in mph like 105.04");
        assert!(read_column("1 2 3 4 5 6 7 8 9").unwrap_err().to_string().contains("8 figures"));
    }
}
