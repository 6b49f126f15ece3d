//! Work done one piece after the other, or two pieces at a time.
//!
//! Owns nothing but the choice. Refuses to choose: beside a start line the second processor is the
//! display's.

use std::panic::resume_unwind;
use std::thread;

/// How many processors work.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Hands {
    /// One: pieces are worked out in order.
    One,
    /// Two: pieces that do not need each other are worked out side by side.
    Two,
}

impl Hands {
    /// Two pieces of work that do not need each other.
    pub(super) fn both<A, B: Send>(
        self,
        one: impl FnOnce() -> A,
        other: impl FnOnce() -> B + Send,
    ) -> (A, B) {
        match self {
            Self::One => (one(), other()),
            Self::Two => thread::scope(|scope| {
                let other = scope.spawn(other);
                let one = one();
                (one, other.join().unwrap_or_else(|panic| resume_unwind(panic)))
            }),
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn either_way_both_answers_come_back_in_their_places() {
        for hands in [Hands::One, Hands::Two] {
            assert_eq!(hands.both(|| 1, || "two"), (1, "two"));
        }
    }
}
