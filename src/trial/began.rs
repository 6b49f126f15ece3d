//! When a run began by the wall, in as few bytes as it needs.
//!
//! Owns that it is the same text it was made of. Refuses to correct it: a text that is no time stays one.

use std::fmt;

use jiff::civil::{Date, DateTime};

use super::Text;

/// Wall time, ISO 8601 with offset and zone. What nearly every run has is kept as seconds, nanoseconds and,
/// once for all runs, the offset and zone behind it; any other text as it is.
#[derive(Clone, PartialEq, Eq, Hash)]
pub struct Began {
    /// Local seconds after 1970-01-01T00:00:00.
    second: u32,
    /// Of the second; [`NO_TIME`] where all of the text is in `rest`.
    nanosecond: u32,
    /// The offset and zone.
    rest: Text,
}

/// No nanosecond is this.
const NO_TIME: u32 = u32::MAX;
/// `2026-05-01T10:00:00`.
const SECONDS_LONG: usize = 19;

impl Began {
    /// The time a text says; `rest` makes a text of what stands behind the seconds, so that many can have
    /// the same one.
    pub fn new(text: &str, rest: impl FnOnce(&str) -> Text) -> Self {
        Self::in_parts(text, rest).unwrap_or_else(|| Self {
            second: 0,
            nanosecond: NO_TIME,
            rest: text.into(),
        })
    }

    fn in_parts(text: &str, rest: impl FnOnce(&str) -> Text) -> Option<Self> {
        let (head, behind) = text.split_at_checked(SECONDS_LONG)?;
        let time: DateTime = head.parse().ok()?;
        let since = time.duration_since(DateTime::constant(1970, 1, 1, 0, 0, 0, 0));
        let second = u32::try_from(since.as_secs()).ok()?;
        let (nanosecond, behind) = match behind.strip_prefix('.') {
            Some(fraction) => {
                let digits = fraction.bytes().take_while(u8::is_ascii_digit).count();
                let (fraction, behind) = fraction.split_at(digits);
                (format!("{fraction:0<9}").parse().ok().filter(|_| digits <= 9)?, behind)
            }
            None => (0, behind),
        };
        // Other ways to write a time would not come back as they were.
        let written = Self { second, nanosecond, rest: Text::default() }.to_string();
        (text.strip_suffix(behind) == Some(&written)).then(|| Self {
            second,
            nanosecond,
            rest: rest(behind),
        })
    }

    /// From its parts, as [`Began::parts`] gives them.
    pub(crate) fn of_parts((second, nanosecond): (u32, u32), rest: Text) -> Self {
        Self { second, nanosecond, rest }
    }

    /// Its numbers, and what of it many runs have alike; `None` where it is kept as one text.
    pub(crate) fn parts(&self) -> ((u32, u32), &Text) {
        ((self.second, self.nanosecond), &self.rest)
    }

    /// The day, where it is a time.
    pub fn date(&self) -> Option<Date> {
        match self.time() {
            Some(time) => Some(time.date()),
            None => self.rest.get(..10)?.parse().ok(),
        }
    }

    /// Whether its text starts with another.
    pub fn starts_with(&self, start: &str) -> bool {
        self.to_string().starts_with(start)
    }

    fn time(&self) -> Option<DateTime> {
        if self.nanosecond == NO_TIME {
            return None;
        }
        let second = jiff::SignedDuration::from_secs(self.second.into());
        DateTime::constant(1970, 1, 1, 0, 0, 0, 0).checked_add(second).ok()
    }
}

impl From<&str> for Began {
    fn from(text: &str) -> Self {
        Self::new(text, |rest| rest.into())
    }
}

impl From<String> for Began {
    fn from(text: String) -> Self {
        text.as_str().into()
    }
}

impl From<Began> for String {
    fn from(began: Began) -> Self {
        began.to_string()
    }
}

impl PartialEq<str> for Began {
    fn eq(&self, other: &str) -> bool {
        let text = self.to_string();
        text == other
    }
}

impl PartialEq<&str> for Began {
    fn eq(&self, other: &&str) -> bool {
        *self == **other
    }
}

impl fmt::Display for Began {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        let Some(time) = self.time() else { return f.write_str(&self.rest) };
        let (date, clock) = (time.date(), time.time());
        let (hour, minute, second) = (clock.hour(), clock.minute(), clock.second());
        write!(f, "{date}T{hour:02}:{minute:02}:{second:02}")?;
        if self.nanosecond > 0 {
            let fraction = format!("{:09}", self.nanosecond);
            write!(f, ".{}", fraction.trim_end_matches('0'))?;
        }
        f.write_str(&self.rest)
    }
}

impl fmt::Debug for Began {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        fmt::Debug::fmt(&self.to_string(), f)
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn times_come_back_as_they_were_written_and_know_their_day() {
        for behind in
            ["+02:00[Europe/Oslo]", "Z", "+00:00[UTC]", "", ".345-03:30[America/St_Johns]"]
        {
            for head in ["2026-05-01T10:00:00", "1970-01-01T00:00:00", "2038-12-31T23:59:59"] {
                let text = format!("{head}{behind}");
                let began = Began::from(text.as_str());
                assert!(began.time().is_some(), "{text}");
                assert!(began == *text && began.starts_with(head));
                assert_eq!(began.date().unwrap().to_string(), head[..10]);
                assert_eq!(format!("{began:?}"), format!("{text:?}"));
            }
        }
    }

    #[test]
    fn what_is_no_time_or_another_way_to_write_one_is_kept_as_it_is() {
        for text in [
            "",
            "no time",
            "2026-02-30T10:00:00+01:00",
            "1969-12-31T23:59:59Z",
            "2200-01-01T00:00:00Z",
            "2026-05-01 10:00:00+02:00",
            "2026-05-01t10:00:00+02:00",
            "2026-05-01T10:00:60+02:00",
            "2026-05-01T10:00:00.500+02:00",
            "2026-05-01T10:00:00.+02:00",
            "2026-05-01T10:00:00.0+02:00",
            "2026-05-01T10:00:00.1234567891Z",
            "2026-05-01T10:00+02:00[Europe/Oslo]",
            "2026-05-01T10:00:0\u{660}",
        ] {
            let began = Began::from(text);
            assert!(began.time().is_none() && began == *text, "{text}");
            assert_eq!(began.date(), text.get(..10).and_then(|day| day.parse().ok()), "{text}");
        }
    }

    #[test]
    fn a_time_takes_sixteen_bytes() {
        assert_eq!(size_of::<Began>(), 16);
    }
}
