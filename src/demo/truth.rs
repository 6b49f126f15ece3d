//! What is true of the made-up driver, rig and track: the numbers a screen should find again.
//!
//! Owns them all, each once. Refuses luck: `person` draws. Every number is chosen, so that a driver
//! of a quick street car comes out who has something to learn in six weeks.

use crate::trial::Style;

/// Who drives.
pub const DRIVER: &str = "Demo driver";
/// The car.
pub const CAR: &str = "Demo coupe";
/// Where the slips come from.
pub const TRACK: &str = "Demo strip";

/// Driver part a reacting driver ends up at, ms.
pub const REACT_PLATEAU_MS: f64 = 231.0;
/// Driver part a timing driver ends up at, ms.
pub const TIME_IT_PLATEAU_MS: f64 = 190.0;
/// How much later the very first launch is, ms. What is left of it falls by the factor e every
/// [`LEARNING_LAUNCHES`].
pub const REACT_GAIN_MS: f64 = 18.0;
/// The same for a timing driver.
pub const TIME_IT_GAIN_MS: f64 = 26.0;
/// Launches of either style in which what is left to learn falls by the factor e.
pub const LEARNING_LAUNCHES: f64 = 80.0;

/// From launch to launch a reacting driver is normal with this SD, ms,
pub const REACT_SD_MS: f64 = 13.0;
/// plus exponential with this mean, ms (taken off again, so that the level is the mean).
pub const REACT_TAIL_MS: f64 = 13.0;
/// From launch to launch a timing driver is normal with this SD, ms.
pub const TIME_IT_SD_MS: f64 = 22.0;
/// The spread of the first launch is larger by this share; it is learnt as the level is.
pub const SPREAD_GAIN: f64 = 0.40;

/// Days differ by this SD, ms, at home and at the track alike.
pub const DAY_SD_MS: f64 = 8.0;
/// The first three launches of a day come this much later, ms.
pub const COLD_MS: f64 = 12.0;
/// Launches of a day that are cold.
pub const COLD_LAUNCHES: usize = 3;
/// From the twenty-fifth launch of a day on, each ten come this much later, ms.
pub const TIRED_MS: f64 = 3.0;
/// The launch of a day from which the driver tires.
pub const TIRED_FROM: usize = 25;

/// Share of declared reactions that were a guess.
pub const GUESS_SHARE: f64 = 0.06;
/// A guess comes this long after the last amber is due, ms, with the next SD.
pub const GUESS_MS: f64 = 75.0;
/// SD of a guess, ms.
pub const GUESS_SD_MS: f64 = 30.0;
/// Share of timed launches that fell back to a reaction.
pub const FELL_BACK_SHARE: f64 = 0.07;

/// The rig's constant delay, ms: assumed to be 35 until the driver films it on [`FILM_DAY`].
pub const RIG_DELAY_MS: f64 = 27.4;
/// Practice day, from 0, on which the rig is filmed.
pub const FILM_DAY: usize = 5;
/// The keyboard looks at its keys this often, ms.
pub const POLL_MS: f64 = 8.0;
/// A stamp of a press is off by up to this, ms.
pub const PRESS_DOUBT_MS: f64 = 0.5;
/// A stamp of a lamp is off by up to this, ms.
pub const LAMP_DOUBT_MS: f64 = 0.7;

/// From home to the track in this car: lights come this much later there, ms.
pub const HOME_TO_TRACK_MS: f64 = 18.0;
/// Run-to-run SD of the car part at the track, ms.
pub const CAR_RUN_MS: f64 = 9.0;

/// The level of a style after so many launches of it, ms.
pub fn level_ms(style: Style, launches: usize) -> f64 {
    let (plateau, gain) = match style {
        Style::React => (REACT_PLATEAU_MS, REACT_GAIN_MS),
        Style::TimeIt => (TIME_IT_PLATEAU_MS, TIME_IT_GAIN_MS),
    };
    plateau + gain * left_to_learn(launches)
}

/// The spread as a multiple of the final one after so many launches.
pub fn spread_factor(launches: usize) -> f64 {
    1.0 + SPREAD_GAIN * left_to_learn(launches)
}

fn left_to_learn(launches: usize) -> f64 {
    (-(launches as f64) / LEARNING_LAUNCHES).exp()
}
