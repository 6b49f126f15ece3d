//! Pictures in pixels, whatever they show: a canvas, and the shipped type.
//!
//! Owns painting and why it may fail. Refuses to know what is painted: cards and plots do.

mod canvas;
mod typeface;

pub use canvas::{Canvas, Pen};
use thiserror::Error;
pub use typeface::Type;

/// Why there is no picture.
#[derive(Debug, Clone, PartialEq, Error)]
pub enum PictureError {
    /// No such picture can be held in memory.
    #[error("a picture of {width} by {height} pixels cannot be made")]
    Size {
        /// Pixels across.
        width: f64,
        /// Pixels down.
        height: f64,
    },
    /// The file could not be made of the pixels.
    #[error("the picture cannot be written as PNG: {why}")]
    Png {
        /// What the encoder said.
        why: String,
    },
}
