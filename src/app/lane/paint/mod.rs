//! The pictures of the lane, painted once per window size on the processor.
//!
//! Owns how things look at rest: backdrop, tree, lamps, cars, the tyre over the beams. Refuses
//! the engine, time and text: whoever shows these pictures only places them.
//!
//! Every picture is a [`tiny_skia::Pixmap`]; hand it over with [`straight_rgba`]. Sizes are
//! clamped to 1..=8192, so no size panics.
//!
//! From back to front: backdrop, the other car from behind, the tree, the halos of lit lamps, all
//! dark lamps, the lit lamps. Halos lie under the dark lamps so that their neighbours keep their
//! own colour. Lower part: panel, the tyre, the beams' static layer, the bar that is left to roll,
//! the beams' dots. Colours are tuned for blending in linear light.

mod backdrop;
mod beam_panel;
mod beam_pictures;
mod car_rear;
mod car_side;
mod ground;
mod housing;
mod lamp;
mod panel;
mod pixel;
mod scenery;
mod side_window;
mod strip_lights;
mod time_bar;
mod tree_layout;

pub use backdrop::backdrop;
pub use beam_panel::{Beam, BeamPanel, BeamSetup};
pub use car_rear::{REAR_WIDTH_FT, other_car_rear, other_car_rear_at};
pub use car_side::other_car_side;
pub use housing::tree_housing;
pub use lamp::{LampKind, halo_sprite, lamp_sprite};
pub use panel::panel;
pub use pixel::straight_rgba;
pub use side_window::SideWindow;
pub use time_bar::{TimeBar, TimeBarInput};
pub use tree_layout::TreeLayout;
