//! The id of a run, in as few bytes as it needs.
//!
//! Owns that an id is the same text it was made of. Refuses to know how ids are made, and what is in them.

use std::cmp::Ordering;
use std::fmt;

use uuid::Uuid;

/// An id. One that is a UUID as RFC 9562 writes it, in small letters, is kept as its sixteen bytes, any
/// other as its text.
#[derive(Clone, PartialEq, Eq, Hash)]
pub struct Id(Kept);

#[derive(Clone, PartialEq, Eq, Hash)]
enum Kept {
    Uuid(Uuid),
    Other(Box<str>),
}

impl Id {
    /// The UUID it is, if it is one.
    pub fn uuid(&self) -> Option<Uuid> {
        match self.0 {
            Kept::Uuid(uuid) => Some(uuid),
            Kept::Other(_) => None,
        }
    }

    /// Whether there is nothing in it.
    pub fn is_empty(&self) -> bool {
        *self == *""
    }

    /// What `look` makes of its text.
    fn with_text<T>(&self, look: impl FnOnce(&str) -> T) -> T {
        match &self.0 {
            Kept::Uuid(uuid) => look(uuid.hyphenated().encode_lower(&mut Uuid::encode_buffer())),
            Kept::Other(text) => look(text),
        }
    }
}

impl From<Uuid> for Id {
    fn from(uuid: Uuid) -> Self {
        Self(Kept::Uuid(uuid))
    }
}

impl From<&str> for Id {
    fn from(text: &str) -> Self {
        // Other ways to write a UUID would not come back as they were.
        let uuid = Uuid::try_parse(text).ok().map(Self::from).filter(|id| *id == *text);
        uuid.unwrap_or_else(|| Self(Kept::Other(text.into())))
    }
}

impl From<String> for Id {
    fn from(text: String) -> Self {
        text.as_str().into()
    }
}

impl From<&Id> for String {
    fn from(id: &Id) -> Self {
        id.with_text(str::to_owned)
    }
}

impl From<Id> for String {
    fn from(id: Id) -> Self {
        (&id).into()
    }
}

impl PartialEq<str> for Id {
    fn eq(&self, other: &str) -> bool {
        self.with_text(|text| text == other)
    }
}

impl PartialEq<&str> for Id {
    fn eq(&self, other: &&str) -> bool {
        *self == **other
    }
}

impl PartialEq<String> for Id {
    fn eq(&self, other: &String) -> bool {
        *self == **other
    }
}

impl PartialEq<Id> for String {
    fn eq(&self, other: &Id) -> bool {
        *other == **self
    }
}

impl Ord for Id {
    /// As their texts: hexadecimal digits stand in the order of the bytes they say.
    fn cmp(&self, other: &Self) -> Ordering {
        match (&self.0, &other.0) {
            (Kept::Uuid(a), Kept::Uuid(b)) => a.cmp(b),
            _ => self.with_text(|a| other.with_text(|b| a.cmp(b))),
        }
    }
}

impl PartialOrd for Id {
    fn partial_cmp(&self, other: &Self) -> Option<Ordering> {
        Some(self.cmp(other))
    }
}

impl fmt::Display for Id {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        self.with_text(|text| f.pad(text))
    }
}

impl fmt::Debug for Id {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        self.with_text(|text| fmt::Debug::fmt(text, f))
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    const UUID: &str = "01982f3a-0000-7000-8000-00000000abcd";

    #[test]
    fn every_id_comes_back_as_it_was_written() {
        let braced = format!("{{{UUID}}}");
        let urn = format!("urn:uuid:{UUID}");
        let (upper, simple) = (UUID.to_uppercase(), UUID.replace('-', ""));
        let others = ["", "run-1", &braced, &urn, &upper, &simple, &UUID[..35]];
        for text in others {
            let id = Id::from(text);
            let written = id.to_string();
            assert!(id.uuid().is_none() && id == *text && written == text, "{text}");
        }
        let id = Id::from(UUID);
        let written = String::from(&id);
        assert!(id.uuid().is_some() && id == UUID && written == UUID);
        assert_eq!((format!("{id:?}"), id.is_empty()), (format!("{UUID:?}"), false));
        assert!(Id::from("").is_empty() && format!("{id:>38}").starts_with("  0"));
    }

    #[test]
    fn ids_are_ordered_as_their_texts() {
        let mut texts = vec!["", "0", "01982f39", "01982f3b", "z", UUID];
        let more = ["01982f3a-0000-7000-8000-00000000abce", "ffffffff-ffff-7fff-bfff-ffffffffffff"];
        texts.extend(more);
        for a in &texts {
            for b in &texts {
                assert_eq!(Id::from(*a).cmp(&Id::from(*b)), a.cmp(b), "{a} {b}");
            }
        }
    }

    #[test]
    fn an_id_takes_no_more_than_a_text_in_memory() {
        assert_eq!(size_of::<Id>(), 24);
    }
}
