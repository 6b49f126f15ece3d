//! What many runs say alike, kept once: words, and whole groups of facts.
//!
//! Owns cheap copies of what never changes. Refuses to change under another run's feet: whoever writes
//! gets a copy of his own.

use std::fmt;
use std::ops::{Deref, DerefMut};
use std::sync::Arc;

/// A word or a name. Copies are the same bytes in memory, and a copy takes no more than a pointer.
#[derive(Clone, PartialEq, Eq, PartialOrd, Ord, Hash)]
pub struct Text(Arc<Box<str>>);

/// A group of facts. Copies are the same bytes in memory until one of them is written to.
#[derive(Clone, PartialEq)]
pub struct Shared<T>(Arc<T>);

impl Text {
    /// The text.
    pub fn as_str(&self) -> &str {
        &self.0
    }
}

impl Default for Text {
    fn default() -> Self {
        "".into()
    }
}

impl Deref for Text {
    type Target = str;

    fn deref(&self) -> &str {
        &self.0
    }
}

impl<A: Into<Box<str>>> From<A> for Text {
    fn from(text: A) -> Self {
        Self(Arc::new(text.into()))
    }
}

impl From<Text> for String {
    fn from(text: Text) -> Self {
        text.as_str().to_owned()
    }
}

impl PartialEq<str> for Text {
    fn eq(&self, other: &str) -> bool {
        self.as_str() == other
    }
}

impl PartialEq<&str> for Text {
    fn eq(&self, other: &&str) -> bool {
        self.as_str() == *other
    }
}

impl PartialEq<String> for Text {
    fn eq(&self, other: &String) -> bool {
        self.as_str() == other
    }
}

impl PartialEq<Text> for String {
    fn eq(&self, other: &Text) -> bool {
        self == other.as_str()
    }
}

impl fmt::Display for Text {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        self.as_str().fmt(f)
    }
}

impl fmt::Debug for Text {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        fmt::Debug::fmt(self.as_str(), f)
    }
}

impl<T> Deref for Shared<T> {
    type Target = T;

    fn deref(&self) -> &T {
        &self.0
    }
}

impl<T: Clone> DerefMut for Shared<T> {
    fn deref_mut(&mut self) -> &mut T {
        Arc::make_mut(&mut self.0)
    }
}

impl<T> From<T> for Shared<T> {
    fn from(facts: T) -> Self {
        Self(Arc::new(facts))
    }
}

impl<T: Clone> Shared<T> {
    /// Where the facts are in memory: what is at one place says the same, as long as it is there.
    pub(crate) fn place(&self) -> *const T {
        Arc::as_ptr(&self.0)
    }

    /// The facts, taken out.
    pub fn into_inner(self) -> T {
        Arc::unwrap_or_clone(self.0)
    }
}

impl<T: fmt::Debug> fmt::Debug for Shared<T> {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        self.0.fmt(f)
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn who_writes_writes_to_a_copy_of_his_own() {
        let one: Shared<Vec<u8>> = vec![1].into();
        let mut two = one.clone();
        two.push(2);
        assert_eq!((one.len(), two.into_inner()), (1, vec![1, 2]));
    }

    #[test]
    fn a_text_compares_and_reads_as_its_letters() {
        let text = Text::from("full");
        assert!(text == "full" && text == *"full");
        let owned = String::from("full");
        assert!(text == owned);
        assert_eq!(
            (format!("{text:>6}"), format!("{text:?}")),
            ("  full".into(), "\"full\"".into())
        );
        assert_eq!(String::from(text.clone()).len(), text.len());
    }
}
