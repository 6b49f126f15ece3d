//! One field of a form.
//!
//! Owns what stands in it and how keys change it. Refuses what it means.

/// The longest text a field takes, letters.
const LONGEST: usize = 120;

/// What may be chosen: what stands for it and how it reads.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub struct Choice {
    /// What stands for it; empty for "not said".
    pub value: &'static str,
    /// How it reads.
    pub words: &'static str,
}

impl Choice {
    /// What stands for it, and how it reads.
    pub const fn new(value: &'static str, words: &'static str) -> Self {
        Self { value, words }
    }
}

/// How a field is filled.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Kind {
    /// By typing.
    Typed,
    /// By choosing one of these.
    Choice(&'static [Choice]),
}

/// A field.
#[derive(Debug, Clone, PartialEq)]
pub struct Field<K> {
    /// Which.
    pub key: K,
    /// Its name.
    pub label: &'static str,
    /// What belongs in it.
    pub hint: &'static str,
    /// How it is filled.
    pub kind: Kind,
    /// What is wrong with it.
    pub wrong: Option<String>,
    pub(super) on_show: bool,
    text: String,
    from_before: bool,
}

impl<K> Field<K> {
    /// An empty field to type in.
    pub fn typed(key: K, label: &'static str, hint: &'static str) -> Self {
        Self {
            key,
            label,
            hint,
            kind: Kind::Typed,
            wrong: None,
            on_show: true,
            text: String::new(),
            from_before: false,
        }
    }

    /// A field to choose in; the first choice stands.
    pub fn choice(
        key: K,
        label: &'static str,
        hint: &'static str,
        choices: &'static [Choice],
    ) -> Self {
        let text = choices.first().map_or("", |choice| choice.value).to_owned();
        Self { kind: Kind::Choice(choices), text, ..Self::typed(key, label, hint) }
    }

    /// What stands in it: the text, or what stands for the choice.
    pub fn text(&self) -> &str {
        &self.text
    }

    /// How it reads.
    pub fn shown(&self) -> &str {
        match self.kind {
            Kind::Typed => &self.text,
            Kind::Choice(choices) => choices
                .iter()
                .find(|choice| choice.value == self.text)
                .map_or(self.text.as_str(), |choice| choice.words),
        }
    }

    /// What stands there was there before: the driver has not touched it.
    pub const fn from_before(&self) -> bool {
        self.from_before
    }

    /// One of several, not typed.
    pub const fn is_choice(&self) -> bool {
        matches!(self.kind, Kind::Choice(_))
    }

    pub(super) fn put(&mut self, text: &str, from_before: bool) -> bool {
        self.wrong = None;
        let text = match self.kind {
            Kind::Typed => text.chars().take(LONGEST).collect(),
            Kind::Choice(choices) => match choices.iter().find(|choice| choice.value == text) {
                Some(choice) => choice.value.to_owned(),
                None => choices.first().map_or("", |choice| choice.value).to_owned(),
            },
        };
        self.from_before = from_before && !text.is_empty();
        let changed = self.text != text;
        self.text = text;
        changed
    }

    pub(super) fn letter(&mut self, letter: char) -> bool {
        match self.kind {
            Kind::Choice(choices) => {
                let here = self.place(choices);
                let begins = |i: &usize| {
                    let first = choices[*i].words.chars().next();
                    first.is_some_and(|first| first.to_lowercase().eq(letter.to_lowercase()))
                };
                let turns = (1..=choices.len()).map(|i| (here + i) % choices.len());
                let found = turns.into_iter().find(begins);
                found.is_some_and(|i| self.put(choices[i].value, false))
            }
            Kind::Typed if letter.is_control() => false,
            Kind::Typed => {
                let kept = if self.from_before { "" } else { &self.text };
                let text = format!("{kept}{letter}");
                self.put(&text, false)
            }
        }
    }

    pub(super) fn erase(&mut self) -> bool {
        match self.kind {
            Kind::Choice(_) => self.put("", false),
            Kind::Typed => {
                let mut text = self.text.clone();
                text.pop();
                self.put(&text, false)
            }
        }
    }

    pub(super) fn choose(&mut self, onward: bool) -> bool {
        let Kind::Choice(choices) = self.kind else { return false };
        let step = if onward { 1 } else { choices.len() - 1 };
        let next = choices[(self.place(choices) + step) % choices.len()];
        self.put(next.value, false)
    }

    fn place(&self, choices: &[Choice]) -> usize {
        choices.iter().position(|choice| choice.value == self.text).unwrap_or_default()
    }
}
