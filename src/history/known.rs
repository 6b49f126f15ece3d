//! Which ids a history has by now, and on which line each stood first.
//!
//! Owns the question whether an id was there before, in next to no memory while ids come in their order, as
//! one program makes them. Refuses to keep the ids: who asks has the lines.

use std::hash::{BuildHasher, RandomState};

use crate::trial::Id;

/// Ids of one kind of line. Each has a place, counted from 0.
#[derive(Debug, Default)]
pub(super) struct Known {
    greatest: Option<Id>,
    count: usize,
    /// Places and their line numbers, where these do not go on from the place before.
    lines: Vec<(usize, u64)>,
    /// From the first id on that came out of order.
    table: Option<Table>,
}

/// Places by a number made of their id, or where that is taken, the next free one.
#[derive(Debug)]
struct Table {
    /// A place and one; nothing where it is zero. At least half of them are.
    slots: Vec<u32>,
    hasher: RandomState,
}

impl Known {
    /// The place and line number of an id that was there before; none, and it gets the next place, if it was
    /// not. `id_at` says what id a place has.
    pub fn first_of(
        &mut self,
        id: &Id,
        line_number: u64,
        id_at: impl Fn(usize) -> Option<Id>,
    ) -> Option<(usize, u64)> {
        if self.greatest.as_ref().is_none_or(|greatest| id > greatest) {
            self.greatest = Some(id.clone());
        } else {
            let table = self.table.get_or_insert_with(|| Table::of(self.count, &id_at));
            if let Some(place) = table.find(id, &id_at) {
                return Some((place, self.line_of(place)));
            }
        }
        if self.lines.is_empty() || self.line_of(self.count) != line_number {
            self.lines.push((self.count, line_number));
        }
        if let Some(table) = &mut self.table {
            if 2 * (self.count + 1) > table.slots.len() {
                *table = Table::of(self.count, &id_at);
            }
            table.put(id, self.count);
        }
        self.count += 1;
        None
    }

    /// The line of a place, or, of the one behind the last, where it would be if it followed at once.
    fn line_of(&self, place: usize) -> u64 {
        let behind = self.lines.partition_point(|(first, _)| *first <= place);
        self.lines[..behind].last().map_or(0, |(first, line)| line + (place - first) as u64)
    }

    /// Places and line numbers where these do not go on, as [`Known::restored`] takes them.
    pub fn lines(&self) -> &[(usize, u64)] {
        &self.lines
    }

    /// The greatest of the ids.
    pub fn greatest(&self) -> Option<&Id> {
        self.greatest.as_ref()
    }

    /// What was known of so many ids.
    pub fn restored(count: usize, lines: Vec<(usize, u64)>, greatest: Option<Id>) -> Self {
        Self { greatest, count, lines, table: None }
    }
}

impl Table {
    /// So many ids from the first place on, and room for as many again.
    fn of(count: usize, id_at: &impl Fn(usize) -> Option<Id>) -> Self {
        let slots = vec![0; (2 * count + 2).next_power_of_two()];
        let mut table = Self { slots, hasher: RandomState::new() };
        for place in 0..count {
            if let Some(id) = id_at(place) {
                table.put(&id, place);
            }
        }
        table
    }

    fn put(&mut self, id: &Id, place: usize) {
        let mut slot = self.slot_of(id);
        while self.slots[slot] != 0 {
            slot = self.next(slot);
        }
        self.slots[slot] = u32::try_from(place + 1).expect("no memory holds so many lines");
    }

    fn find(&self, id: &Id, id_at: &impl Fn(usize) -> Option<Id>) -> Option<usize> {
        let mut slot = self.slot_of(id);
        while self.slots[slot] != 0 {
            let place = self.slots[slot] as usize - 1;
            if id_at(place).as_ref() == Some(id) {
                return Some(place);
            }
            slot = self.next(slot);
        }
        None
    }

    fn slot_of(&self, id: &Id) -> usize {
        self.hasher.hash_one(id) as usize & (self.slots.len() - 1)
    }

    fn next(&self, slot: usize) -> usize {
        (slot + 1) & (self.slots.len() - 1)
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use proptest::prelude::*;
    use std::collections::HashMap;

    /// Ids one after the other, against a plain map.
    fn check(ids: &[(Id, u64)]) {
        let mut known = Known::default();
        let (mut kept, mut plain) = (Vec::<Id>::new(), HashMap::new());
        for (i, (id, gap)) in ids.iter().enumerate() {
            let line = 10 * i as u64 + gap;
            let found = known.first_of(id, line, |place| kept.get(place).cloned());
            assert_eq!(found, plain.get(id).copied(), "{i} {id}");
            if found.is_none() {
                plain.insert(id.clone(), (kept.len(), line));
                kept.push(id.clone());
            }
            if i == ids.len() / 2 {
                let greatest = kept.iter().max().cloned();
                known = Known::restored(kept.len(), known.lines().to_vec(), greatest);
            }
        }
    }

    proptest! {
        #[test]
        fn an_id_is_known_from_its_first_line_on(
            ids in prop::collection::vec((0_u32..60, 0_u64..3), 0..200),
        ) {
            let as_text = |n: u32| match n % 3 {
                0 => format!("run-{n}"),
                _ => format!("0198{n:04x}-0000-7000-8000-000000000000"),
            };
            let ids: Vec<_> =
                ids.into_iter().map(|(n, gap)| (as_text(n).as_str().into(), gap)).collect();
            check(&ids);
        }
    }

    #[test]
    fn a_table_is_half_empty_at_least_and_ids_are_all_over_it() {
        let id = |i: usize| Id::from(format!("{i:08x}-0000-7000-8000-000000000000").as_str());
        let mut known = Known::default();
        // From the last to the first: all but one are out of order.
        for place in 0..1_000 {
            let id_at = |place: usize| Some(id(1_000 - place));
            assert_eq!(known.first_of(&id(1_000 - place), place as u64, id_at), None);
            let slots = known.table.as_ref().map_or(0, |table| table.slots.len());
            let held = place + 1;
            assert!(place == 0 || (2 * held..=8 * held).contains(&slots), "{slots} for {held}");
        }
        assert_eq!(known.greatest(), Some(&id(1_000)));
        let table = known.table.unwrap();
        let places: std::collections::HashSet<_> =
            (1..=1_000).map(|i| table.slot_of(&id(i))).collect();
        assert!(places.len() > 500, "{} places of their own", places.len());
    }

    #[test]
    fn ids_in_their_order_on_lines_one_after_the_other_take_no_memory() {
        let mut known = Known::default();
        for i in 0..10_000_u64 {
            let id = format!("{i:08x}-0000-7000-8000-000000000000").as_str().into();
            assert_eq!(known.first_of(&id, 7 + i, |_| unreachable!()), None);
        }
        assert_eq!((known.lines(), known.table.is_none()), (&[(0, 7)][..], true));
        assert_eq!(known.line_of(9_999), 10_006);
    }
}
