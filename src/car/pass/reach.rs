//! From times on a slip back to the car: what launch makes this 60-foot time, what power this ET.
//!
//! Owns the two searches. Refuses times no such car can make, with the reason.

use super::body::{CarBody, et_name};
use super::splits::{Pass, StartPlace, drive};
use crate::car::CarError;
use crate::car::launch::{LAUNCH_G, SIXTY_FOOT_S};
use crate::rules::TrackLength;

/// How near a time has to come, relative.
const NEAR: f64 = 1e-10;

/// The launch, in units of standard gravity, that gives `body` this 60-foot time from `start`,
/// its power included: a weak car runs out of power before 60 ft.
///
/// # Errors
/// [`CarError::OutOfReach`] when no launch of .05–6 g does, [`CarError::OutOfRange`] for a time
/// outside .8–5 s or a body that is no car.
pub fn launch_for_sixty_foot(
    body: &CarBody,
    start: StartPlace,
    t60_s: f64,
) -> Result<f64, CarError> {
    SIXTY_FOOT_S.check(t60_s)?;
    let time = |g: f64| -> Result<f64, CarError> {
        Ok(drive(&body.forces(g)?, start, TrackLength::Eighth)?.t60_s)
    };
    let out_of_reach = |g: f64| -> Result<CarError, CarError> {
        let best_s = time(g)?;
        let why = format!(
            "with {:.0} hp in {:.0} lb it is {best_s:.3} s at best; check power, weight and time",
            body.power_hp, body.weight_lb
        );
        Ok(CarError::OutOfReach { what: "a 60-foot time", got_s: t60_s, why })
    };
    match falling_root(LAUNCH_G.low, LAUNCH_G.high, t60_s, time)? {
        Found::Root(g) => Ok(g),
        Found::TooSlow => Err(out_of_reach(LAUNCH_G.low)?),
        Found::TooQuick => Err(out_of_reach(LAUNCH_G.high)?),
    }
}

/// The launch of a car of which only weight and power are known: that of its
/// [usual 60-foot time](CarBody::usual_sixty_foot_s), or 1 g where its power is too weak for that.
///
/// # Errors
/// [`CarError::OutOfRange`] for a body that is no car.
pub fn usual_launch(body: &CarBody, start: StartPlace) -> Result<f64, CarError> {
    match launch_for_sixty_foot(body, start, body.usual_sixty_foot_s()) {
        Err(CarError::OutOfReach { .. }) => Ok(1.0),
        found => found,
    }
}

/// A car fitted to two printed times.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Fitted {
    /// Its launch in units of standard gravity.
    pub launch_g: f64,
    /// Its power at the crank, hp.
    pub power_hp: f64,
    /// The pass it makes.
    pub pass: Pass,
}

/// The launch and the power with which `body` makes both this early split and this time at the
/// finish; every other split is then a prediction.
///
/// `early` picks the early split from a pass: the 60-foot time, or the 330-foot time of a slip
/// without one.
///
/// # Errors
/// [`CarError::OutOfReach`] when no such car exists; [`CarError::OutOfRange`] for a body that is no
/// car.
pub fn fit(
    body: &CarBody,
    start: StartPlace,
    length: TrackLength,
    (early, early_s): (fn(&Pass) -> f64, f64),
    et_s: f64,
) -> Result<Fitted, CarError> {
    let pass = |g: f64, power_hp: f64| -> Result<Pass, CarError> {
        drive(&CarBody { power_hp, ..*body }.forces(g)?, start, length)
    };
    // For every power the launch that makes the early split; a stronger one never takes longer.
    let launch = |power_hp: f64| -> Result<f64, CarError> {
        let time = |g: f64| Ok(early(&pass(g, power_hp)?));
        Ok(match falling_root(LAUNCH_G.low, LAUNCH_G.high, early_s, time)? {
            Found::Root(g) => g,
            Found::TooSlow => LAUNCH_G.low,
            Found::TooQuick => LAUNCH_G.high,
        })
    };
    let et = |power_hp: f64| Ok(pass(launch(power_hp)?, power_hp)?.et_s());
    let (low, high) = (3.0, 15_000.0);
    let found = falling_root(low, high, et_s, et)?;
    let refuse = |why: &str| CarError::OutOfReach {
        what: et_name(length),
        got_s: et_s,
        why: why.to_owned(),
    };
    let power_hp = match found {
        Found::Root(power_hp) => power_hp,
        _ => return Err(refuse("no power of 3 to 15000 hp makes both times; check them")),
    };
    let launch_g = launch(power_hp)?;
    let pass = pass(launch_g, power_hp)?;
    if (early(&pass) / early_s - 1.0).abs() > 1e-6 {
        return Err(refuse("the early split does not go with it; check both times"));
    }
    Ok(Fitted { launch_g, power_hp, pass })
}

enum Found {
    Root(f64),
    /// Slower than `low` makes it.
    TooSlow,
    /// Quicker than `high` makes it.
    TooQuick,
}

/// The x in `low..=high` (both above 0) where `f`, which never rises with x, is `goal`: regula falsi
/// in ln x with the Illinois rule (Dowell & Jarratt 1971), which keeps the root between two ends.
fn falling_root(
    low: f64,
    high: f64,
    goal: f64,
    f: impl Fn(f64) -> Result<f64, CarError>,
) -> Result<Found, CarError> {
    let (mut a, mut b) = (low.ln(), high.ln());
    let (mut fa, mut fb) = (f(low)? - goal, f(high)? - goal);
    if fa < 0.0 {
        return Ok(Found::TooSlow);
    }
    if fb > 0.0 {
        return Ok(Found::TooQuick);
    }
    let mut side = 0;
    let mut x = b;
    for _ in 0..100 {
        let straight = (a * fb - b * fa) / (fb - fa);
        x = if straight > a && straight < b { straight } else { a + (b - a) / 2.0 };
        let fx = f(x.exp())? - goal;
        if fx.abs() <= NEAR * goal || (b - a) <= NEAR * 1e-3 {
            break;
        }
        if fx > 0.0 {
            (a, fa) = (x, fx);
            if side == 1 {
                fb /= 2.0;
            }
            side = 1;
        } else {
            (b, fb) = (x, fx);
            if side == -1 {
                fa /= 2.0;
            }
            side = -1;
        }
    }
    Ok(Found::Root(x.exp()))
}
