//! The wrapping of one line: its value and the checksum over the value's exact bytes.
//!
//! Owns the outer object `{"sum":"…","line":…}`. Refuses to know what is inside.

use serde::Deserialize;
use serde_json::value::RawValue;

/// The longest line, newline included, that is written or read, bytes. Chosen, because a run takes
/// about two thousand, and a reader must not be made to hold a file without newlines in memory.
pub const MAX_LINE_BYTES: usize = 1 << 20;

/// The longest value that makes such a line: what is around it and the newline take 27 bytes.
pub(super) const MAX_VALUE_BYTES: usize = MAX_LINE_BYTES - 27;

/// How every sealed line begins. Within a JSON string its quotes would be escaped.
const OPENING: &[u8] = br#"{"sum":""#;

/// What stands between a sealed line's sum and its value.
const BETWEEN: &[u8] = br#"","line":"#;

/// How often in one physical line a further opening is tried. Chosen, because a lost newline leaves
/// two lines in one, and a hostile line must not cost more than a few passes.
const MAX_OPENINGS: usize = 16;

#[derive(Deserialize)]
struct Envelope<'a> {
    sum: &'a str,
    #[serde(borrow)]
    line: &'a RawValue,
}

/// Why a line could not be opened.
#[derive(Debug, Clone, PartialEq, Eq)]
pub(super) enum Fault {
    /// The bytes end before the object does.
    CutShort,
    /// The bytes are not UTF-8.
    NotUtf8,
    /// Not such an object; the reason in words.
    NotALine(String),
    /// The checksum does not fit.
    SumDiffers,
}

/// The bytes of `value`, wrapped, with the newline.
pub(super) fn seal(value: &str) -> Vec<u8> {
    format!("{{\"sum\":\"{}\",\"line\":{value}}}\n", sum(value)).into_bytes()
}

/// The value in `bytes` if they are one whole sealed line, blanks around it allowed.
pub(super) fn open(bytes: &[u8]) -> Result<&str, Fault> {
    // Of millions of lines that are none, most begin as none does.
    let begins = bytes.trim_ascii_start().first();
    if begins.is_some_and(|byte| *byte != b'{') && std::str::from_utf8(bytes).is_ok() {
        return Err(Fault::NotALine("it does not begin with {".to_owned()));
    }
    match serde_json::from_slice::<Envelope>(bytes) {
        Ok(envelope) => check(&envelope),
        Err(error) => Err(fault(bytes, &error)),
    }
}

/// The value of a line that is sealed exactly as [`seal`] does it; `None` says nothing of one that is not.
/// What is inside has still to be read as JSON: only then is it known that no second value hides in it.
pub(super) fn open_own(bytes: &[u8]) -> Option<&str> {
    let (told, rest) = bytes.strip_prefix(OPENING)?.split_at_checked(8)?;
    let value = rest.strip_prefix(BETWEEN)?.strip_suffix(b"}")?;
    // Blanks around a value are not in its sum; here nobody would notice them.
    let is_object = value.first() == Some(&b'{') && value.last() == Some(&b'}');
    let value = std::str::from_utf8(value).ok().filter(|_| is_object)?;
    (sum_told(told)? == crc32fast::hash(value.as_bytes())).then_some(value)
}

/// The first sealed line that stands somewhere inside `bytes`, with the range it takes: what is
/// left of two lines whose newline was lost.
pub(super) fn find(bytes: &[u8]) -> Option<(std::ops::Range<usize>, &str)> {
    let starts = bytes.windows(OPENING.len()).enumerate().filter(|(_, window)| *window == OPENING);
    starts.take(MAX_OPENINGS).find_map(|(start, _)| {
        let mut values = serde_json::Deserializer::from_slice(&bytes[start..]).into_iter();
        let envelope: Envelope = values.next()?.ok()?;
        let value = check(&envelope).ok()?;
        Some((start..start + values.byte_offset(), value))
    })
}

fn fault(bytes: &[u8], error: &serde_json::Error) -> Fault {
    match std::str::from_utf8(bytes) {
        // Without a length the error is a character that was cut off at the very end.
        Err(utf8) if utf8.error_len().is_some() => Fault::NotUtf8,
        Err(_) => Fault::CutShort,
        Ok(_) if error.is_eof() || begins_well(bytes, error) => Fault::CutShort,
        Ok(_) => Fault::NotALine(error.to_string()),
    }
}

/// Whether nothing is wrong before the last byte: a lone `-` at the end, say, is no number yet.
fn begins_well(bytes: &[u8], error: &serde_json::Error) -> bool {
    bytes.starts_with(OPENING) && error.column() >= bytes.len()
}

fn check<'a>(envelope: &Envelope<'a>) -> Result<&'a str, Fault> {
    let value = envelope.line.get();
    if sum(value) == envelope.sum { Ok(value) } else { Err(Fault::SumDiffers) }
}

fn sum(value: &str) -> String {
    format!("{:08x}", crc32fast::hash(value.as_bytes()))
}

/// The sum eight lower-case hexadecimal digits say.
fn sum_told(digits: &[u8]) -> Option<u32> {
    digits.iter().try_fold(0, |sum, digit| {
        let value = match digit {
            b'0'..=b'9' => digit - b'0',
            b'a'..=b'f' => digit - b'a' + 10,
            _ => return None,
        };
        Some(sum << 4 | u32::from(value))
    })
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn the_sum_is_the_crc_of_gzip_and_png() {
        // The published check value of CRC-32/ISO-HDLC over the nine digits.
        assert_eq!(sum("123456789"), "cbf43926");
    }

    #[test]
    fn the_longest_value_makes_the_longest_line() {
        let value = format!("\"{}\"", "x".repeat(MAX_VALUE_BYTES - 2));
        assert_eq!(seal(&value).len(), MAX_LINE_BYTES);
    }

    #[test]
    fn what_is_sealed_opens_to_the_same_bytes() {
        let value = r#"{"a" : [1,  2], "b":"\n{\"sum\":\""}"#;
        assert_eq!(open(&seal(value)), Ok(value));
    }

    #[test]
    fn what_is_sealed_here_opens_the_short_way_and_nothing_else_does() {
        let value = r#"{"a":[1,{}],"b":"}"}"#;
        let sealed = seal(value);
        let line = &sealed[..sealed.len() - 1];
        assert_eq!(open_own(line), Some(value));
        for i in 0..line.len() {
            for bit in 0..8 {
                let mut altered = line.to_vec();
                altered[i] ^= 1 << bit;
                assert_eq!(open_own(&altered), None, "{i} {bit}");
            }
            assert_eq!(open_own(&line[..i]), None);
        }
        for other in ["7", " {}", "{} ", "[{}]"] {
            assert_eq!(open_own(seal(other).trim_ascii_end()), None, "{other}");
        }
    }

    #[test]
    fn two_lines_without_the_newline_between_are_both_found() {
        let (one, two) = (seal("1"), seal("2"));
        let joined = [&one[..one.len() - 1], b"x", &two[..]].concat();
        assert!(matches!(open(&joined), Err(Fault::NotALine(_))));
        let (first, value) = find(&joined).expect("the first is whole");
        assert_eq!((first.clone(), value), (0..one.len() - 1, "1"));
        let (second, value) = find(&joined[first.end..]).expect("the second is whole");
        assert_eq!((second, value), (1..two.len(), "2"));
    }

    #[test]
    fn a_line_made_of_openings_is_given_up_early() {
        let hostile = br#"{"sum":"x","line":"#.repeat(MAX_LINE_BYTES / 18);
        assert_eq!(find(&hostile), None);
    }
}
