//! What a driver does with a control.
//!
//! Owns the acts and their names. Refuses controls.

use std::fmt;

use crate::beams::Pedal;

/// What a control does.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord, Hash)]
pub enum Act {
    /// Launch, and "next".
    Launch,
    /// Creep forward.
    Creep,
    /// Brake.
    Brake,
    /// Roll back.
    Back,
}

impl Act {
    /// All of them, in the order a start needs them most.
    pub const ALL: [Self; 4] = [Self::Launch, Self::Creep, Self::Brake, Self::Back];

    /// Its name for people.
    pub fn name(self) -> &'static str {
        match self {
            Self::Launch => "launch",
            Self::Creep => "creep",
            Self::Brake => "brake",
            Self::Back => "roll back",
        }
    }

    /// One word for files.
    pub fn word(self) -> &'static str {
        match self {
            Self::Launch => "launch",
            Self::Creep => "creep",
            Self::Brake => "brake",
            Self::Back => "back",
        }
    }

    /// The act of that word; `None` for any other text.
    pub fn of_word(word: &str) -> Option<Self> {
        Self::ALL.into_iter().find(|act| act.word() == word)
    }

    /// The pedal it works near the start line; none for the launch.
    pub fn pedal(self) -> Option<Pedal> {
        match self {
            Self::Launch => None,
            Self::Creep => Some(Pedal::Creep),
            Self::Brake => Some(Pedal::Brake),
            Self::Back => Some(Pedal::Back),
        }
    }
}

impl fmt::Display for Act {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        f.write_str(self.name())
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn every_act_reads_back_from_its_own_word_which_is_one() {
        for act in Act::ALL {
            assert_eq!(Act::of_word(act.word()), Some(act));
            assert!(act.word().chars().all(|c| c.is_ascii_lowercase()), "{act}");
        }
        assert_eq!(Act::of_word("Launch"), None);
    }

    #[test]
    fn all_but_the_launch_are_pedals() {
        let pedals = Act::ALL.map(Act::pedal);
        assert_eq!(pedals, [None, Some(Pedal::Creep), Some(Pedal::Brake), Some(Pedal::Back)]);
    }
}
