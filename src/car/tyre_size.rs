//! The size on a tyre's sidewall, read into a diameter.
//!
//! Owns the two ways of writing a size. Refuses loads, speeds and fit.

use std::fmt;
use std::str::FromStr;

use super::CarError;
use super::tyre::Tyre;
use crate::units::Inches;

/// A tyre size as it stands on the sidewall.
#[derive(Debug, Clone, Copy, PartialEq)]
pub enum TyreSize {
    /// Width in millimetres, height of the sidewall in per cent of it, rim in inches: `225/45R17`.
    Metric {
        /// Section width, mm.
        width_mm: f64,
        /// Sidewall height, % of the width.
        aspect_percent: f64,
        /// Rim diameter, in.
        rim_in: f64,
    },
    /// Diameter and width of the tyre in inches, then the rim: `31x10.50R15`, `28x10.5-15`.
    Inch {
        /// Outer diameter, in.
        diameter_in: f64,
        /// Section width, in.
        width_in: f64,
        /// Rim diameter, in.
        rim_in: f64,
    },
}

impl TyreSize {
    /// The nominal outer diameter: rim + 2·width·aspect for a metric size (standard tyre-size
    /// arithmetic, common practice), as written for an inch size. Not checked against the limits
    /// of [`Tyre`].
    pub fn diameter(&self) -> Inches {
        match *self {
            TyreSize::Metric { width_mm, aspect_percent, rim_in } => {
                let sidewall = Inches::from_metres(width_mm * 1e-3 * aspect_percent / 100.0);
                Inches(rim_in + 2.0 * sidewall.0)
            }
            TyreSize::Inch { diameter_in, .. } => Inches(diameter_in),
        }
    }
}

impl fmt::Display for TyreSize {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        match self {
            TyreSize::Metric { width_mm, aspect_percent, rim_in } => {
                write!(f, "{width_mm}/{aspect_percent}R{rim_in}")
            }
            TyreSize::Inch { diameter_in, width_in, rim_in } => {
                write!(f, "{diameter_in}x{width_in}R{rim_in}")
            }
        }
    }
}

impl FromStr for TyreSize {
    type Err = CarError;

    /// Reads `225/45R17`, `P225/45ZR17 94W`, `LT245/75-16`, `31x10.50R15LT`, `28x10.5-15`: letters
    /// before the first figure, letters around the rim's and everything after the rim are skipped.
    ///
    /// # Errors
    /// [`CarError::TyreSize`] when it is neither form, or when the diameter it gives is not one of
    /// a front tyre (18–40 in).
    fn from_str(text: &str) -> Result<Self, CarError> {
        let refuse = |why| CarError::TyreSize { text: text.trim().chars().take(40).collect(), why };
        let upper = text.trim().to_uppercase();
        let body = upper.trim_start_matches(|c: char| c.is_ascii_alphabetic() || c == ' ');
        let (first, rest) = number(body).ok_or_else(|| refuse("it begins with no number"))?;
        let rest = rest.trim_start();
        let metric = rest.starts_with('/');
        if !metric && !rest.starts_with(['X', '×']) {
            return Err(refuse("a '/' or an 'x' belongs after the first number"));
        }
        let rest = rest.trim_start_matches(['/', 'X', '×', ' ']);
        let (second, rest) = number(rest).ok_or_else(|| refuse("the second number is missing"))?;
        let construction =
            |c: char| matches!(c, 'Z' | 'V' | 'H' | 'S' | 'R' | 'B' | 'D' | '-' | ' ');
        let rim_text = rest.trim_start_matches(construction);
        let (rim_in, _) = number(rim_text)
            .filter(|_| rim_text.len() < rest.len())
            .ok_or_else(|| refuse("the rim is missing"))?;
        let size = if metric {
            TyreSize::Metric { width_mm: first, aspect_percent: second, rim_in }
        } else {
            TyreSize::Inch { diameter_in: first, width_in: second, rim_in }
        };
        let plausible = Tyre::rigid(size.diameter()).is_ok()
            && (8.0..=30.0).contains(&rim_in)
            && rim_in < size.diameter().0;
        if plausible { Ok(size) } else { Err(refuse("no front tyre of 18 to 40 in has this size")) }
    }
}

/// The figure at the start of `text` and what follows it.
fn number(text: &str) -> Option<(f64, &str)> {
    let end = text.find(|c: char| !c.is_ascii_digit() && c != '.').unwrap_or(text.len());
    let value = text[..end].parse().ok()?;
    Some((value, &text[end..]))
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn sizes_are_read_as_they_stand_on_the_sidewall() {
        // rim + 2·width·aspect/25.4, worked by hand.
        for (text, diameter_in) in [
            ("225/45R17", 24.972),
            (" p225/45zr17 94W ", 24.972),
            ("205/55 R 16", 24.878),
            ("LT245/75-16", 30.469),
            ("31x10.50R15LT", 31.0),
            ("28X10.5-15", 28.0),
            ("26.0 x 8.5 - 15", 26.0),
        ] {
            let size = text.parse::<TyreSize>();
            let got = size.unwrap_or_else(|e| panic!("{text}: {e}")).diameter().0;
            assert!((got - diameter_in).abs() < 1e-3, "{text}: {got}");
        }
    }

    #[test]
    fn a_printed_size_reads_back_as_itself() {
        for text in ["225/45R17", "31x10.5R15"] {
            let size: TyreSize = text.parse().unwrap();
            assert_eq!(size.to_string(), text);
        }
    }

    #[test]
    fn what_is_no_tyre_size_is_refused_with_an_example() {
        for text in [
            "",
            "tyre",
            "225",
            "225/",
            "225/45",
            "225/4517",
            "225-45-17",
            "225/45R",
            "1/1R1",
            "999/99R99",
            "..../45R17",
            "31x",
            "31x10.5",
            "60x10R15",
            "é/é",
            "225/45R17.1.1",
        ] {
            let refused = text.parse::<TyreSize>().unwrap_err().to_string();
            assert!(refused.contains("e.g. 225/45R17"), "{text}: {refused}");
        }
    }
}
