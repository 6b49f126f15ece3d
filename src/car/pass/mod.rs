//! The whole pass: from a standstill to the finish, as the clocks of a track print it.
//!
//! Owns forces, gears, the integration and what follows from two printed times. Refuses the driver
//! and everything before the car moves.
//!
//! # The model
//!
//! The tyres push until the engine cannot keep up, then the engine does, against air and rolling
//! resistance; at every shift the power is off for a while; turning parts make the car heavier in
//! low gears. Power is even within a gear, there is no wind, and the tyres never spin.
//!
//! # Model error
//!
//! Four runs are printed with their splits (magazines and event reports). For each the launch was
//! fitted to its first split and the power to its time at the finish; the rest is predicted. Gears
//! [`Gearbox::STREET`] for the three street cars, [`Gearbox::RACE`] for the fourth; everything else
//! as [`CarBody::street`] has it. Errors in per cent, predicted less printed:
//!
//! | run | 330 ft | 1/8 | mph | 1000 ft | mph |
//! |---|---|---|---|---|---|
//! | 1.963 / 5.678 / 8.637 at 83.95 / 13.464 at 105.04 | −0.70 | +0.19 | −2.19 | | −1.93 |
//! | 5.050 / at 88 / 10.300 / 12.320 at 111 | fitted | | +0.54 | −0.20 | −0.22 |
//! | 5.750 / at 83 / 11.200 / 13.310 at 105 | fitted | | +2.39 | −0.03 | +1.90 |
//! | 1.009 / 2.789 / 4.269 at 166.37 / 5.543 / 6.622 at 206.80 | −0.57 | −0.22 | −0.68 | −0.05 | +0.84 |
//!
//! Stated model error: splits within 1 %, speeds within 2.5 %, +0.1 % on the average. The same fit
//! without shifts and turning parts misses the first run's speeds by −4.3 and −5.3 %, and the street
//! cars' by −1.5 % on the average. `tests/pass.rs` holds the figures.

mod body;
mod forces;
mod gearbox;
mod quadrature;
mod reach;
mod scatter;
mod splits;
mod walk;

pub use body::{CarBody, HORSEPOWER_W, POUND_KG};
pub use forces::{Forces, Gear};
pub use gearbox::Gearbox;
pub use reach::{Fitted, fit, launch_for_sixty_foot, usual_launch};
pub use scatter::PassScatter;
pub use splits::{Pass, StartPlace, drive};
pub use walk::Energy;
