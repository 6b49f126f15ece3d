//! Ids of lines: unique for all machines, ordered by time.
//!
//! Owns the order: an id is younger than every line this program has read or made, also where the clock
//! was set back, because corrections and unions go by it. Refuses to say when something was.

use std::sync::{Mutex, PoisonError};

use uuid::Uuid;

use crate::trial::Id;

/// The youngest id that was made or read.
static YOUNGEST: Mutex<u128> = Mutex::new(0);

/// A new id: a UUID of version 7 (RFC 9562), its time now, or as little as possible beyond the youngest
/// one known where that one is of later.
pub fn new_id() -> String {
    let mut youngest = YOUNGEST.lock().unwrap_or_else(PoisonError::into_inner);
    let id = younger(Uuid::now_v7(), *youngest);
    *youngest = id.as_u128();
    id.to_string()
}

/// Remembers an id that was read; one that is no UUID of version 7 is of somebody else's order.
pub(super) fn remember(id: Option<Uuid>) {
    if let Some(id) = id {
        let mut youngest = YOUNGEST.lock().unwrap_or_else(PoisonError::into_inner);
        *youngest = id.as_u128().max(*youngest);
    }
}

/// An id as one of ours.
pub(super) fn of_our_order(id: &Id) -> Option<Uuid> {
    let uuid = id.uuid().or_else(|| Uuid::try_parse(&id.to_string()).ok());
    uuid.filter(|id| id.get_version_num() == 7)
}

fn younger(now: Uuid, youngest: u128) -> Uuid {
    if now.as_u128() > youngest {
        return now;
    }
    // The random part counts on; where it is used up there is no younger one, and now has to do.
    let next = youngest.checked_add(1).map(Uuid::from_u128);
    next.filter(|next| next.get_version_num() == 7).unwrap_or(now)
}

#[cfg(test)]
mod tests {
    use super::*;

    const LATER: &str = "0fffffff-ffff-7abc-8def-0123456789ab";

    #[test]
    fn an_id_is_younger_than_one_of_a_later_clock() {
        let later = of_our_order(&LATER.into()).unwrap();
        let id = younger(Uuid::now_v7(), later.as_u128());
        assert_eq!(id.to_string(), "0fffffff-ffff-7abc-8def-0123456789ac");
        assert!(id.to_string().as_str() > LATER);
    }

    #[test]
    fn with_a_clock_that_goes_on_ids_are_of_now() {
        let now = Uuid::now_v7();
        assert_eq!(younger(now, now.as_u128() - 5), now);
        // The same moment to the last bit is the next id.
        assert_eq!(younger(now, now.as_u128()).as_u128(), now.as_u128() + 1);
    }

    #[test]
    fn ids_of_another_order_are_not_remembered() {
        for id in ["", "run-1", "6ba7b810-9dad-11d1-80b4-00c04fd430c8", "x0ffffff"] {
            assert_eq!(of_our_order(&id.into()), None, "{id}");
        }
        let last = Uuid::from_u128(u128::MAX).as_u128();
        assert_eq!(younger(Uuid::now_v7(), last).get_version_num(), 7);
    }
}
