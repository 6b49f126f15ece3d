//! Why a control can't be bound or let go, in the sentences people read.
//!
//! Owns the reasons and what is offered instead. Refuses to decide: `bound` does.

use thiserror::Error;

use crate::controls::{Act, Reserved, words};
use crate::press::Control;

/// Why a control stays what it is.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Error)]
pub enum ControlsError {
    /// The program needs it for something else.
    #[error("{} can't be bound: {}.", words(*.control), .why.why())]
    Reserved {
        /// The control.
        control: Control,
        /// Why it stays free.
        why: Reserved,
    },
    /// It has something else to do already.
    #[error("{} is for {has} already. {}", words(*.control), .offer.sentence(*.control, *.has, *.wants))]
    Taken {
        /// The control.
        control: Control,
        /// What it does.
        has: Act,
        /// What it was to do.
        wants: Act,
        /// What `Controls::swap` would do.
        offer: Offer,
    },
    /// Without it there is no way to do this.
    #[error("{} is the last control for {act}: bind another one first.", words(*.control))]
    Last {
        /// The control.
        control: Control,
        /// What it does.
        act: Act,
    },
    /// It does nothing that could be taken from it.
    #[error("{} is not bound to anything.", words(*.control))]
    NotBound {
        /// The control.
        control: Control,
    },
    /// A car that rolls by itself could not be held.
    #[error(
        "Nothing is bound to brake, and a car that rolls by itself needs it: bind a control to brake first."
    )]
    NoBrake,
}

/// What can be done about a control that has something else to do.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Offer {
    /// The two acts change controls: this one goes the other way.
    Swap(Control),
    /// The act it had does without it.
    TakeOver {
        /// Nothing else is bound to that act.
        leaves_none: bool,
    },
    /// Nothing: it is the last one for an act that is needed, and there is none to give for it.
    Nothing,
}

impl Offer {
    fn sentence(self, control: Control, has: Act, wants: Act) -> String {
        let name = words(control);
        match self {
            Self::Swap(other) => {
                format!("Swap them: {name} for {wants}, {} for {has}.", words(other))
            }
            Self::TakeOver { leaves_none: false } => {
                format!("Take it over: {name} for {wants}, no longer for {has}.")
            }
            Self::TakeOver { leaves_none: true } => {
                format!("Take it over: {name} for {wants}; {has} then has no control.")
            }
            Self::Nothing => format!(
                "It is the last one for {has}, and {wants} has none to give for it: bind another \
                 control to {has} first."
            ),
        }
    }
}
