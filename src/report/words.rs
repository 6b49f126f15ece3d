//! Numbers in the words every page shares.
//!
//! Owns milliseconds, inches and intervals as text. Refuses units that are not said beside them.

use super::page::{Form, TimeBar};
use crate::stats::Estimate;

/// Seconds in whole milliseconds.
pub fn ms(seconds: f64) -> String {
    let text = format!("{:.0}", 1000.0 * seconds);
    if text == "-0" { "0".to_owned() } else { text }
}

/// The same with its sign.
pub fn signed_ms(seconds: f64) -> String {
    let text = format!("{:+.1}", 1000.0 * seconds);
    if text == "-0.0" || text == "+0.0" { "0".to_owned() } else { text }
}

/// Inches to a tenth.
pub fn inches(inches: f64) -> String {
    let text = format!("{inches:.1}");
    if text == "-0.0" { "0.0".to_owned() } else { text }
}

/// A value with its interval, in milliseconds.
pub fn ms_with_interval(e: &Estimate) -> String {
    format!("{} ms ({} to {}, n = {})", ms(e.value), ms(e.low), ms(e.high), e.n)
}

/// A light with its interval.
pub fn light_with_interval(e: &Estimate) -> String {
    let [value, low, high] = [e.value, e.low, e.high].map(|x| Form::Light.words(x));
    format!("{value} ({low} to {high}, n = {})", e.n)
}

/// A light floored to the thousandth, s, as verdicts are: a red never reads `.000`.
pub fn light_floored(light_s: f64) -> String {
    // A millionth of a thousandth more: times are whole nanoseconds, and .010 must not read .009.
    Form::Light.words((light_s * 1000.0 + 1e-6).floor() / 1000.0)
}

/// The parts of a launch against the interval, and the light that is left.
pub fn bar_words(bar: &TimeBar) -> String {
    let [driver, car, interval] =
        [bar.driver_s, bar.car_s, bar.interval_s].map(|seconds| Form::Light.words(seconds));
    let light = light_floored(bar.driver_s + bar.car_s - bar.interval_s);
    format!("driver {driver} + car {car} - interval {interval} = {light}")
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_red_never_reads_zero() {
        assert_eq!(light_floored(-0.0001), "-.001");
        assert_eq!(light_floored(0.010), ".010");
        assert_eq!(light_floored(0.0109), ".010");
    }

    #[test]
    fn nothing_has_no_sign() {
        assert_eq!(
            (ms(-0.0001), signed_ms(0.00001), inches(-0.01)),
            ("0".into(), "0".into(), "0.0".into())
        );
        assert_eq!((ms(-0.0126), signed_ms(0.0126)), ("-13".to_owned(), "+12.6".to_owned()));
    }
}
