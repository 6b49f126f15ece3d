//! A slip typed in by keys alone, in less than half a minute.
//!
//! Owns the form of a slip: what it takes from the last one, what is wrong where, the questions, and
//! the slip that comes out. Refuses to refuse what is merely unusual: it asks once, and the next Enter
//! is the answer. Nothing is stored here: a slip that was typed again corrects the one it came from.

mod fields;
mod figures;

pub use fields::EntryField;

use super::cells::{Cell, InLane};
use super::{Question, Slip, SlipsError, check};
use crate::form::{Field, Form, Key};
use fields::{KEPT, KEPT_THAT_DAY, YES, fields, of_the_quarter};
use jiff::civil::Date;

/// The letter that copies what the last slip had: the ditto mark.
pub const DITTO: char = '"';

/// What Enter came to.
#[derive(Debug, Clone, PartialEq)]
pub enum Entered {
    /// Something is missing or cannot be read; the form stands at that field and says why.
    NotYet,
    /// It reads, but does not go together: [`SlipForm::questions`] has the questions. Enter again
    /// saves it as it is.
    Asked,
    /// To be saved.
    Slip(Box<Slip>),
}

/// The form of one slip.
#[derive(Debug, Clone, PartialEq)]
pub struct SlipForm {
    form: Form<EntryField>,
    /// Holds what no field shows.
    base: Slip,
    last: Option<Slip>,
    corrects: Option<String>,
    questions: Vec<Question>,
}

impl SlipForm {
    /// The form of a new slip of this day. What stays from slip to slip (car, track, length, scale,
    /// tree, lane, lamps, pressures, dial-in) stands there as on the `last` one, or as in `usual` where
    /// there is none; on the same day the weather too. Whether it is the day's first follows from it.
    pub fn new(date: Option<Date>, usual: &Slip, last: Option<&Slip>) -> Self {
        let mut new = Self {
            form: Form::new(fields()),
            base: Slip { driver: usual.driver.clone(), ..Slip::default() },
            last: last.cloned(),
            corrects: None,
            questions: Vec::new(),
        };
        let dated = Slip { date, ..Slip::default() };
        new.write(&dated, &[Cell::Date]);
        new.write(usual, &KEPT);
        let same_day = last.is_some_and(|last| last.date.is_some() && last.date == date);
        if let Some(last) = last {
            new.write(last, &KEPT);
            if same_day {
                new.write(last, &KEPT_THAT_DAY);
            }
            // Another day begins with a first launch; a second slip of a day is none.
            let first = Slip { first_of_day: Some(!same_day), ..Slip::default() };
            new.write(&first, &[Cell::FirstOfDay]);
        }
        new.put_away();
        let begin = if last.is_some() { Cell::Lane } else { Cell::Date };
        new.form.go_to(EntryField::Cell(begin));
        new
    }

    /// The form of the slip after this one, on the same day: a pile of them is typed without a word
    /// twice.
    pub fn after(slip: &Slip) -> Self {
        Self::new(slip.date, slip, Some(slip))
    }

    /// The form of a slip that is there, to be typed again; what comes out corrects it.
    pub fn edit(id: &str, slip: &Slip) -> Self {
        let mut new = Self {
            form: Form::new(fields()),
            base: slip.clone(),
            last: Some(slip.clone()),
            corrects: Some(id.to_owned()),
            questions: Vec::new(),
        };
        let shown: Vec<Cell> = new.cells().collect();
        new.write(slip, &shown);
        if slip.other.is_some() {
            new.form.set(EntryField::OtherLane, YES, true);
        }
        new.put_away();
        new.form.go_to(EntryField::Cell(Cell::Own(InLane::Rt)));
        new
    }

    /// The fields on show, top to bottom.
    pub fn fields(&self) -> impl Iterator<Item = &Field<EntryField>> {
        self.form.fields()
    }

    /// The field being filled.
    pub fn active(&self) -> &Field<EntryField> {
        self.form.active()
    }

    /// What is asked, if the slip was entered and does not go together.
    pub fn questions(&self) -> &[Question] {
        &self.questions
    }

    /// The id of the slip it corrects.
    pub fn corrects(&self) -> Option<&str> {
        self.corrects.as_deref()
    }

    /// Goes to a field, as a click does.
    pub fn go_to(&mut self, key: EntryField) {
        self.look_at_active();
        self.form.go_to(key);
    }

    /// Works a key. A field is looked at when it is left; the ditto mark in an empty field, or one that
    /// holds a figure, copies what the last slip had.
    pub fn take(&mut self, key: Key) {
        if matches!(key, Key::Next | Key::Previous) {
            self.look_at_active();
        }
        if key == Key::Letter(DITTO) && self.copy_last() {
            self.questions.clear();
            return;
        }
        if self.form.take(key) {
            self.questions.clear();
            self.put_away();
        }
    }

    /// Enter, wherever it stands.
    pub fn enter(&mut self) -> Entered {
        let keys: Vec<EntryField> = self.form.fields().map(|field| field.key).collect();
        for key in keys {
            if let Err(wrong) = self.read(key) {
                self.form.say(key, Some(wrong));
                self.form.go_to(key);
                return Entered::NotYet;
            }
        }
        let slip = match self.slip() {
            Ok(slip) => slip,
            Err(wrong) => return self.stay_at(Cell::Own(InLane::Rt), wrong.to_string()),
        };
        let own = &slip.own;
        if own.rt.is_none() && !own.red && own.splits().iter().all(|(_, time)| time.is_none()) {
            let wrong = "a slip has at least an R/T, a time or a red lamp".to_owned();
            return self.stay_at(Cell::Own(InLane::Rt), wrong);
        }
        let questions = check(&slip);
        if !questions.is_empty() && questions != self.questions {
            self.questions = questions;
            return Entered::Asked;
        }
        Entered::Slip(Box::new(slip))
    }

    fn stay_at(&mut self, cell: Cell, wrong: String) -> Entered {
        self.form.say(EntryField::Cell(cell), Some(wrong));
        self.form.go_to(EntryField::Cell(cell));
        Entered::NotYet
    }

    /// The cells the form has a field for.
    fn cells(&self) -> impl Iterator<Item = Cell> + use<> {
        fields().into_iter().filter_map(|field| match field.key {
            EntryField::Cell(cell) => Some(cell),
            EntryField::OtherLane => None,
        })
    }

    fn write(&mut self, slip: &Slip, cells: &[Cell]) {
        for cell in cells {
            let text = cell.get(slip);
            if !text.is_empty() {
                self.form.set(EntryField::Cell(*cell), &text, true);
            }
        }
    }

    fn copy_last(&mut self) -> bool {
        let (Some(last), EntryField::Cell(cell)) = (&self.last, self.form.active().key) else {
            return false;
        };
        let words = matches!(cell, Cell::Track | Cell::Car | Cell::Note);
        if words && !self.form.active().text().is_empty() {
            return false;
        }
        let text = cell.get(last);
        self.form.set(EntryField::Cell(cell), &text, true);
        !text.is_empty()
    }

    /// Fields that do not belong to this length, or to a lane left out, are put away.
    fn put_away(&mut self) {
        let quarter = self.form.text(EntryField::Cell(Cell::Length)) != "eighth";
        let other = self.form.text(EntryField::OtherLane) == YES;
        let cells: Vec<Cell> = self.cells().collect();
        for cell in cells {
            let on_show =
                (quarter || !of_the_quarter(cell)) && (other || !matches!(cell, Cell::Other(_)));
            self.form.show(EntryField::Cell(cell), on_show);
        }
    }

    fn look_at_active(&mut self) {
        let key = self.form.active().key;
        let wrong = self.read(key).err();
        self.form.say(key, wrong);
    }

    /// What stands in a field as its cell reads it; nothing for an empty one.
    fn read(&self, key: EntryField) -> Result<Option<(Cell, String)>, String> {
        let EntryField::Cell(cell) = key else { return Ok(None) };
        let text = self.form.text(key).trim();
        if text.is_empty() {
            return Ok(None);
        }
        let text = figures::as_read(cell, text)?;
        match cell.set(&mut Slip::default(), &text) {
            Ok(()) => Ok(Some((cell, text))),
            Err(wrong) => Err(wrong.in_its_field()),
        }
    }

    fn slip(&self) -> Result<Slip, SlipsError> {
        let kept: Vec<(Cell, String)> = {
            let shown: Vec<Cell> = self.cells().collect();
            let hidden = Cell::all().filter(|cell| !shown.contains(cell));
            hidden.map(|cell| (cell, cell.get(&self.base))).collect()
        };
        let typed = self.form.fields().filter_map(|field| self.read(field.key).ok().flatten());
        let all: Vec<(Cell, String)> = kept.into_iter().chain(typed).collect();
        let said = all.iter().filter(|(_, text)| !text.is_empty());
        let mut slip =
            Slip::of_cells(&Slip::default(), said.map(|(cell, text)| (*cell, text.as_str())))?;
        if self.form.text(EntryField::OtherLane) != YES {
            slip.other = None;
        }
        Ok(slip)
    }
}

#[cfg(test)]
mod tests;
