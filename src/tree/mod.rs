//! The timed machine of the start line, two lanes.

mod facts;

pub use facts::{
    AbandonReason, Lamp, Lane, Outcome, Parts, SentBack, TraceLine, TreeEvent, VoidReason,
};
