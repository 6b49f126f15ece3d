//! What a driver declares, or is asked for, before a run besides the style.
//!
//! Owns the aim that is to be held and the pause that went before a launch. Refuses to judge either:
//! what came is in the run.

use crate::units::Span;

/// What the driver means to hit, declared before the run.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash)]
pub struct Aim {
    /// What is aimed with.
    pub of: AimOf,
    /// Where it is to fall.
    pub at: Span,
    /// Who chose it.
    pub from: AimFrom,
}

/// What is aimed with.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash)]
pub enum AimOf {
    /// Last amber shown → launch edge.
    DriverPart,
    /// The light.
    Light,
}

/// Who chose an aim.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash)]
pub enum AimFrom {
    /// The driver.
    Chosen,
    /// The program: the best aim it knew of.
    Advised,
}

impl Aim {
    /// The driver part that hits it with this car part and interval.
    pub fn driver_part(&self, car: Span, interval: Span) -> Span {
        match self.of {
            AimOf::DriverPart => self.at,
            AimOf::Light => self.at + interval - car,
        }
    }

    /// How much later than the aim a driver part fell; negative: earlier.
    pub fn missed_by(&self, driver: Span, car: Span, interval: Span) -> Span {
        driver - self.driver_part(car, interval)
    }
}

/// The pause a driver was asked to keep between the run before and this one.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash)]
pub struct Pause {
    /// How long it was to be.
    pub planned: Span,
    /// From the end of the run before to the start of this one.
    pub waited: Span,
}

impl Pause {
    /// It was not cut short.
    pub fn was_kept(&self) -> bool {
        self.waited >= self.planned
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_light_and_the_driver_part_that_makes_it_are_missed_by_the_same() {
        let (car, interval) = (Span::from_ms(289), Span::from_ms(500));
        let light = Aim { of: AimOf::Light, at: Span::from_ms(20), from: AimFrom::Chosen };
        // .020 + .500 − .289.
        assert_eq!(light.driver_part(car, interval), Span::from_ms(231));
        let part = Aim { of: AimOf::DriverPart, at: Span::from_ms(231), ..light };
        for driver in [200, 231, 260].map(Span::from_ms) {
            let missed = light.missed_by(driver, car, interval);
            assert_eq!(missed, part.missed_by(driver, car, interval));
            // The light itself less .020.
            assert_eq!(missed, driver + car - interval - Span::from_ms(20));
        }
    }

    #[test]
    fn a_pause_is_kept_from_its_whole_length_on() {
        let waited =
            |ms| Pause { planned: Span::from_ms(200), waited: Span::from_ms(ms) }.was_kept();
        assert_eq!([waited(199), waited(200), waited(900)], [false, true, true]);
    }
}
