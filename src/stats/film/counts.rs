//! Frame counts as they are typed in.
//!
//! Owns their spelling and their limits, and errors that name the place. Refuses rates and delays.

use super::FilmError;

/// The most frames a press may take. Chosen: two seconds of the fastest film accepted are a slip of
/// the finger.
pub const MAX_FRAMES: u32 = 4000;

/// Counts of frames from text such as `9, 10 9.5;11`: numbers with a decimal point, separated by
/// blanks, line ends, a comma or a semicolon.
///
/// # Errors
/// [`FilmError::NotACount`], [`FilmError::Missing`] or [`FilmError::OutOfRange`] with the place,
/// counted from 1.
pub fn frame_counts(text: &str) -> Result<Vec<f64>, FilmError> {
    let mut counts = Vec::new();
    let pieces: Vec<&str> = text.split([',', ';']).collect();
    for (i, piece) in pieces.iter().enumerate() {
        let position = counts.len() + 1;
        // A separator behind the last number is no gap.
        if piece.trim().is_empty() && i + 1 < pieces.len() {
            return Err(FilmError::Missing { position });
        }
        for word in piece.split_whitespace() {
            let position = counts.len() + 1;
            let wrong = |_| FilmError::NotACount { position, text: word.to_owned() };
            counts.push(word.parse().map_err(wrong)?);
        }
    }
    check(&counts)?;
    Ok(counts)
}

/// Whether every count can be.
pub(super) fn check(counts: &[f64]) -> Result<(), FilmError> {
    let domain = 0.0..=f64::from(MAX_FRAMES);
    match counts.iter().position(|count| !domain.contains(count)) {
        Some(i) => Err(FilmError::OutOfRange { position: i + 1, value: counts[i] }),
        None => Ok(()),
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn any_usual_way_of_writing_a_list_is_read() {
        let want = vec![9.0, 10.0, 9.5, 11.0];
        for text in ["9, 10 9.5;11", " 9\n10\n\n9.5\t11 ", "9,10,9.5,11,", "9;10;9.5;11;\n"] {
            assert_eq!(frame_counts(text), Ok(want.clone()), "{text:?}");
        }
        assert_eq!(frame_counts("  "), Ok(vec![]));
    }

    #[test]
    fn what_is_wrong_is_named_with_its_place() {
        let says = |text: &str| frame_counts(text).unwrap_err().to_string();
        assert_eq!(
            says("9 10 ten"),
            "reading 3: `ten` is no count of frames; write it like 9 or 9.5"
        );
        assert_eq!(says("9,,10"), "reading 2 is missing: nothing stands between two separators");
        assert_eq!(says(",9"), "reading 1 is missing: nothing stands between two separators");
        assert_eq!(says("9 -1"), "reading 2: -1 frames cannot be; count again, 0 to 4000");
        assert!(says("9 nan").starts_with("reading 2: NaN frames cannot be"));
        assert!(says("9 9 1e9").starts_with("reading 3: 1000000000 frames cannot be"));
    }
}
