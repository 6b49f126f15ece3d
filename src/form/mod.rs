//! A form filled by keys alone: fields one below the other, one of them being filled.
//!
//! Owns the cursor, typing, choices and the place of an error. Refuses meaning: whoever has the form
//! knows what belongs in a field, and nothing here ever stands in the way of the rest.

mod field;
mod quantity;

pub use field::{Choice, Field, Kind};
pub use quantity::{Quantity, Unit, read_quantity};

/// A key as a form takes it.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Key {
    /// A letter, typed into the field; in a choice it goes to the next that begins with it.
    Letter(char),
    /// Takes the last letter back.
    Erase,
    /// Empties the field.
    Clear,
    /// To the field below.
    Next,
    /// To the field above.
    Previous,
    /// The choice before.
    Left,
    /// The choice after.
    Right,
}

/// Fields in order; there is always one being filled.
#[derive(Debug, Clone, PartialEq)]
pub struct Form<K> {
    fields: Vec<Field<K>>,
    active: usize,
}

impl<K: Copy + PartialEq> Form<K> {
    /// A form of at least one field; the first is being filled.
    pub fn new(fields: Vec<Field<K>>) -> Self {
        Self { fields, active: 0 }
    }

    /// The fields on show, top to bottom.
    pub fn fields(&self) -> impl Iterator<Item = &Field<K>> {
        self.fields.iter().filter(|field| field.on_show)
    }

    /// The field being filled.
    pub fn active(&self) -> &Field<K> {
        &self.fields[self.active]
    }

    /// The field of this key.
    pub fn field(&self, key: K) -> Option<&Field<K>> {
        self.fields.iter().find(|field| field.key == key)
    }

    /// What stands in a field that is on show; empty otherwise.
    pub fn text(&self, key: K) -> &str {
        self.field(key).filter(|field| field.on_show).map_or("", Field::text)
    }

    /// Works a key. True when what a field says has changed.
    pub fn take(&mut self, key: Key) -> bool {
        match key {
            Key::Next => self.step(1),
            Key::Previous => self.step(self.fields.len() - 1),
            Key::Letter(letter) => return self.fields[self.active].letter(letter),
            Key::Erase => return self.fields[self.active].erase(),
            Key::Clear => return self.fields[self.active].put("", false),
            Key::Left => return self.fields[self.active].choose(false),
            Key::Right => return self.fields[self.active].choose(true),
        }
        false
    }

    /// Goes to a field, as a click does; one not on show stays where it is.
    pub fn go_to(&mut self, key: K) {
        let place = self.fields.iter().position(|field| field.key == key && field.on_show);
        self.active = place.unwrap_or(self.active);
    }

    /// Writes into a field; `from_before` if the driver did not type it, so that the next letter
    /// begins anew.
    pub fn set(&mut self, key: K, text: &str, from_before: bool) {
        if let Some(field) = self.fields.iter_mut().find(|field| field.key == key) {
            field.put(text, from_before);
        }
    }

    /// Says what is wrong with a field, or that nothing is.
    pub fn say(&mut self, key: K, wrong: Option<String>) {
        if let Some(field) = self.fields.iter_mut().find(|field| field.key == key) {
            field.wrong = wrong;
        }
    }

    /// Shows a field or puts it away. The one being filled never goes away.
    pub fn show(&mut self, key: K, on_show: bool) {
        if let Some(place) = self.fields.iter().position(|field| field.key == key) {
            self.fields[place].on_show = on_show || place == self.active;
        }
    }

    fn step(&mut self, by: usize) {
        let n = self.fields.len();
        let turns = (1..=n).map(|i| (self.active + i * by) % n);
        self.active = turns.into_iter().find(|i| self.fields[*i].on_show).unwrap_or(self.active);
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    const SIDES: &[Choice] =
        &[Choice::new("", "not said"), Choice::new("l", "left"), Choice::new("r", "right")];

    fn form() -> Form<u8> {
        let mut form = Form::new(vec![
            Field::typed(0, "Name", ""),
            Field::typed(1, "Hidden", ""),
            Field::choice(2, "Side", "", SIDES),
        ]);
        form.show(1, false);
        form
    }

    fn take(form: &mut Form<u8>, keys: &[Key]) {
        keys.iter().for_each(|key| {
            form.take(*key);
        });
    }

    #[test]
    fn keys_go_round_the_fields_on_show() {
        let mut form = form();
        form.take(Key::Next);
        assert_eq!(form.active().key, 2);
        form.take(Key::Next);
        assert_eq!(form.active().key, 0);
        form.take(Key::Previous);
        assert_eq!(form.active().key, 2);
        form.go_to(1);
        assert_eq!(form.active().key, 2);
    }

    #[test]
    fn a_choice_takes_arrows_and_first_letters() {
        let mut form = form();
        form.go_to(2);
        take(&mut form, &[Key::Right, Key::Right]);
        assert_eq!((form.text(2), form.active().shown()), ("r", "right"));
        take(&mut form, &[Key::Right]);
        assert_eq!(form.active().shown(), "not said");
        take(&mut form, &[Key::Letter('L')]);
        assert_eq!(form.text(2), "l");
        take(&mut form, &[Key::Left, Key::Left]);
        assert_eq!(form.text(2), "r");
        assert!(!form.take(Key::Letter('x')));
    }

    #[test]
    fn typing_over_what_was_there_before_begins_anew() {
        let mut form = form();
        form.set(0, "before", true);
        assert!(form.active().from_before());
        take(&mut form, &[Key::Letter('a'), Key::Letter('b')]);
        assert_eq!((form.text(0), form.active().from_before()), ("ab", false));
        form.set(0, "before", true);
        take(&mut form, &[Key::Erase]);
        assert_eq!(form.text(0), "befor");
        take(&mut form, &[Key::Clear]);
        assert_eq!(form.text(0), "");
    }

    #[test]
    fn a_field_put_away_says_nothing_and_one_being_filled_stays() {
        let mut form = form();
        form.set(1, "secret", false);
        assert_eq!(form.text(1), "");
        form.show(0, false);
        assert_eq!(form.fields().map(|field| field.key).collect::<Vec<_>>(), [0, 2]);
    }
}
