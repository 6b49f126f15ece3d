//! The car at the start line: tyre and beams → roll, launch → time to clear, answers → a model.
//!
//! Owns geometry, constant-acceleration kinematics and the driver's five answers about the car.
//! Refuses creep and brake (where the tyre is when), lamps, and any claim the answers cannot carry.

mod air;
mod answers;
mod beam_line;
mod details;
mod entry;
mod error;
mod launch;
mod levers;
mod model;
pub mod pass;
mod power_weight;
mod reanswer;
mod rollout;
mod traction;
mod tyre;
mod tyre_size;

pub use air::Air;
pub use answers::{
    Answers, CarKind, DepthAnswer, EdgeAnswer, LeaveAnswer, Limb, PressAnswer, Question,
    StrengthAnswer, TyreAnswer,
};
pub use beam_line::BeamLine;
pub use details::{DepthHabit, Details, FilmedPart, LAUNCH_RUN_SHARE, Strength};
pub use entry::{CarField, CarForm, Described};
pub use error::CarError;
pub use launch::{
    Launch, STANDARD_GRAVITY_M_S2, SixtyFootConvention, g_from_sixty_foot, staging_depth,
    time_to_roll,
};
pub use levers::{DepthRow, GuardCap, Lever, LeverKind};
pub use model::{CarModel, CarPart, Contribution, Source};
pub use power_weight::{PowerWeight, PowerWeightRange, power_weight_range};
pub use reanswer::{Reanswered, Standing, reanswer};
pub use rollout::{EndedBy, Rollout, prestage_out_depth, rollout};
pub use traction::{DrivenEnd, Traction};
pub use tyre::Tyre;
pub use tyre_size::TyreSize;
