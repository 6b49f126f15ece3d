//! The air of the day: how thin it is, and what that does to power and drag.
//!
//! Owns density altitude, density and the power share. Refuses wind.

use super::CarError;
use super::error::Limits;

/// Pascals in one inch of mercury (conventional, 0 °C).
const INCH_OF_MERCURY_PA: f64 = 3386.389;
/// Gas constant of dry air, J/(kg·K) (U.S. Standard Atmosphere, 1976).
const DRY_AIR_J_KG_K: f64 = 287.053;
/// Kelvin at 0 °C.
const ZERO_C_K: f64 = 273.15;

/// The weather at the track. The pressure is the station's own, not reduced to sea level.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Air {
    temperature_f: f64,
    dew_point_f: f64,
    station_inhg: f64,
}

impl Air {
    /// The air engines are rated in: 77 °F (25 °C) and 99 kPa of dry air (SAE J1349). Dry stands
    /// here for a dew point of −148 °F.
    pub const RATED: Self =
        Self { temperature_f: 77.0, dew_point_f: -148.0, station_inhg: 29.2347 };

    /// Air of a temperature (−40 to 130 °F), a dew point (−148 °F to the temperature) and a station
    /// pressure (18–32 inHg).
    ///
    /// # Errors
    /// [`CarError::OutOfRange`] outside these limits.
    pub fn new(temperature_f: f64, dew_point_f: f64, station_inhg: f64) -> Result<Self, CarError> {
        let limits = |what, low, high, unit| Limits { what, low, high, unit };
        let temperature_f =
            limits("the air's temperature", -40.0, 130.0, "°F").check(temperature_f)?;
        Ok(Self {
            temperature_f,
            dew_point_f: limits("the dew point", -148.0, temperature_f, "°F").check(dew_point_f)?,
            station_inhg: limits("the station pressure", 18.0, 32.0, "inHg").check(station_inhg)?,
        })
    }

    /// Water vapour, hPa: e = 6.11·10^(7.5·Td/(237.7 + Td)), Td the dew point in °C (US National
    /// Weather Service).
    fn vapour_hpa(&self) -> f64 {
        let dew_c = celsius(self.dew_point_f);
        6.11 * 10_f64.powf(7.5 * dew_c / (237.7 + dew_c))
    }

    /// The temperature dry air would need to be as thin, K: Tv = T / (1 − (e/p)·(1 − .622)) (US
    /// National Weather Service).
    fn virtual_k(&self) -> f64 {
        let pressure_hpa = self.station_inhg * INCH_OF_MERCURY_PA / 100.0;
        (celsius(self.temperature_f) + ZERO_C_K)
            / (1.0 - self.vapour_hpa() / pressure_hpa * (1.0 - 0.622))
    }

    /// The height of the standard atmosphere at which air is as thin, ft:
    /// 145366·(1 − (17.326·p/Tv)^.235), p in inHg and Tv in °R (US National Weather Service,
    /// "Density altitude" calculator and its formula sheet).
    pub fn density_altitude_ft(&self) -> f64 {
        let virtual_r = (celsius_to_f(self.virtual_k() - ZERO_C_K)) + 459.69;
        145_366.0 * (1.0 - (17.326 * self.station_inhg / virtual_r).powf(0.235))
    }

    /// Density, kg/m³: p/(R·Tv).
    pub fn density_kg_m3(&self) -> f64 {
        self.station_inhg * INCH_OF_MERCURY_PA / (DRY_AIR_J_KG_K * self.virtual_k())
    }

    /// What an engine without a blower gives in this air, as a share of its rated power: 1/cf with
    /// cf = 1.18·(990/pd)·√((T + 273)/298) − .18, pd the pressure of the dry air alone in hPa and T
    /// in °C (SAE J1349, as printed on several pages; the standard itself not read).
    pub fn power_share(&self) -> f64 {
        let dry_hpa = self.station_inhg * INCH_OF_MERCURY_PA / 100.0 - self.vapour_hpa();
        let kelvin = celsius(self.temperature_f) + 273.0;
        1.0 / (1.18 * (990.0 / dry_hpa) * (kelvin / 298.0).sqrt() - 0.18)
    }
}

fn celsius(fahrenheit: f64) -> f64 {
    (fahrenheit - 32.0) / 1.8
}

fn celsius_to_f(celsius: f64) -> f64 {
    celsius * 1.8 + 32.0
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn rated_air_gives_rated_power() {
        assert!((Air::RATED.power_share() - 1.0).abs() < 1e-4, "{}", Air::RATED.power_share());
        // 99 kPa at 298.15 K: 99000/(287.053·298.15) = 1.1568.
        assert!((Air::RATED.density_kg_m3() - 1.1568).abs() < 2e-4);
    }

    #[test]
    fn thin_air_takes_power_away() {
        // Worked example on a page of the formula: 850 hPa dry at 25 °C has cf 1.19 (1.1944).
        let thin = Air::new(77.0, -148.0, 850.0 * 100.0 / INCH_OF_MERCURY_PA).unwrap();
        assert!((1.0 / thin.power_share() - 1.1944).abs() < 1e-3, "{}", thin.power_share());
    }

    #[test]
    fn air_nobody_breathes_is_refused() {
        for (t, dew, p) in
            [(200.0, 60.0, 29.9), (80.0, 81.0, 29.9), (80.0, 60.0, 99.0), (f64::NAN, 60.0, 29.9)]
        {
            assert!(Air::new(t, dew, p).is_err(), "{t} {dew} {p}");
        }
    }
}
