//! How likely the next launch is red, and how well that is known.
//!
//! Owns P(RT < 0) for any car part and any shift of aim, as three named numbers: **this form** (the
//! next launch at home), **next session** (another day) and **at the track in this car**. A flexible
//! model of driver parts is pulled towards the counts; what is not known about car, clock and track
//! widens the interval, what scatters from run to run is drawn per launch. Refuses single-family
//! answers: a shifted model says 0 below its threshold, and one normal or one ex-Gaussian is sure of
//! itself where real drivers are not.
//!
//! ```
//! use lastamber::stats::risk::{CarPart, Pool, RedLine, RiskDraws, Settings};
//! use lastamber::stats::Sample;
//!
//! let driver_parts = (0..40).map(|i| 0.30 + 0.002 * f64::from(i % 20)).collect();
//! let pool = Pool::new(Sample::new(driver_parts)?);
//! let draws = RiskDraws::this_form(&pool, &Settings::new(1))?;
//! let car = CarPart { mean_s: 0.21, doubt_sd_s: 0.01, run_sd_s: 0.004 };
//! let risk = draws.risk(&RedLine::of_car(car, 0.5)?, 0.0, 0.90)?;
//! assert!(risk.estimate.low <= risk.estimate.value && risk.estimate.value <= risk.estimate.high);
//! # Ok::<(), lastamber::stats::StatsError>(())
//! ```

mod beta_draws;
mod counts;
mod curve;
mod days;
mod draws;
mod model;
mod pool;
mod quick;
mod sampler;
mod search;
mod subsample;
mod track;

pub use counts::count_interval;
pub use draws::{DriverDraw, LEAST_FOR_RISK, Risk, RiskDraws, Settings};
pub(in crate::stats) use pool::check_sd;
pub use pool::{CarPart, Pool, RedLine};
pub use track::{HOME_TO_TRACK_PRIOR_SD_S, HomeToTrack};
