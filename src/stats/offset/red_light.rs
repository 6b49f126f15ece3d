//! What a doubt about the constant delay means for red lights.
//!
//! Owns the chance of red at the delay in force and one SD to either side of it, for a driver whose
//! times are normal. Refuses to be read as anybody's risk: a single normal law is sure of itself where
//! real drivers are not, and `risk` has the answer for those.

use crate::stats::StatsError;
use crate::stats::risk::check_sd;
use crate::stats::special::normal_cdf;

/// The chance of red for a driver with normal times, by the delay.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct RedLight {
    /// With the delay in force.
    pub in_force: f64,
    /// With a delay one SD shorter: the driver is later than was read.
    pub if_shorter: f64,
    /// With a delay one SD longer: the driver is earlier than was read.
    pub if_longer: f64,
}

/// The chance of red, Φ(−m/s), for RTs of mean m and SD s read with the delay in force, and
/// Φ(−(m ± o)/s) with the delay an SD o shorter (+) and longer (−). Seconds.
///
/// m = 0.020, s = 0.015: 9.1 %; with a delay 8 ms longer 21.2 % (normal tables: Φ(−1.333) = 0.0912,
/// Φ(−0.8) = 0.2119).
///
/// # Errors
/// [`StatsError::OutOfDomain`] unless m is finite, s above 0 and o 0 or more.
pub fn red_light(mean_s: f64, sd_s: f64, offset_sd_s: f64) -> Result<RedLight, StatsError> {
    if !mean_s.is_finite() {
        let (name, domain) = ("mean", "finite seconds");
        return Err(StatsError::OutOfDomain { name, value: mean_s, domain });
    }
    let (sd, doubt) = (check_sd("SD", sd_s)?, check_sd("delay's doubt", offset_sd_s)?);
    if sd == 0.0 {
        return Err(StatsError::NoSpread);
    }
    let red = |mean: f64| normal_cdf(-mean / sd);
    Ok(RedLight {
        in_force: red(mean_s),
        if_shorter: red(mean_s + doubt),
        if_longer: red(mean_s - doubt),
    })
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn eight_milliseconds_more_delay_more_than_double_the_red_lights() {
        let red = red_light(0.020, 0.015, 0.008).unwrap();
        assert!((red.in_force - 0.0912).abs() < 5e-5, "{}", red.in_force);
        assert!((red.if_longer - 0.2119).abs() < 5e-5, "{}", red.if_longer);
        // Φ(−28/15) = Φ(−1.8667) = 0.0310.
        assert!((red.if_shorter - 0.0310).abs() < 5e-5, "{}", red.if_shorter);
    }

    #[test]
    fn without_a_doubt_there_is_one_chance_and_nonsense_is_an_error() {
        let red = red_light(-0.010, 0.010, 0.0).unwrap();
        assert!(red.in_force == red.if_shorter && red.in_force == red.if_longer);
        assert!((red.in_force - 0.8413).abs() < 5e-5);
        assert!(red_light(f64::NAN, 0.01, 0.0).is_err() && red_light(0.0, -0.01, 0.0).is_err());
        assert_eq!(red_light(0.0, 0.0, 0.01), Err(StatsError::NoSpread));
    }
}
