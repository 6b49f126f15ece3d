//! What every sound goes through last: no direct current, no click, the same peak.
//!
//! Owns the two ends of it, for a loop and for a sound that is played once. Refuses what is heard.

use super::PEAK;

/// A loop: its mean taken off, its peak set.
pub(super) fn round(mut sound: Vec<f64>) -> Vec<f32> {
    let mean = sound.iter().sum::<f64>() / sound.len().max(1) as f64;
    for x in &mut sound {
        *x -= mean;
    }
    to_peak(&sound)
}

/// A sound played once, with the strength `envelope` gives at every second. Begins and ends where
/// that is 0; what is left of a mean is taken off in its shape, so that the ends stay there.
pub(super) fn once(mut sound: Vec<f64>, rate: f64, envelope: impl Fn(f64) -> f64) -> Vec<f32> {
    let strengths: Vec<f64> = (0..sound.len()).map(|i| envelope(i as f64 / rate)).collect();
    let mut sum = 0.0;
    for (x, strength) in sound.iter_mut().zip(&strengths) {
        *x *= strength;
        sum += *x;
    }
    let share = sum / strengths.iter().sum::<f64>().max(f64::MIN_POSITIVE);
    for (x, strength) in sound.iter_mut().zip(&strengths) {
        *x -= share * strength;
    }
    to_peak(&sound)
}

/// A line through `points` of (s, value), level before the first and after the last.
pub(super) fn along(points: &[(f64, f64)], at_s: f64) -> f64 {
    let next = points.partition_point(|(s, _)| *s <= at_s);
    let Some(before) = next.checked_sub(1).map(|i| points[i]) else {
        return points.first().map_or(0.0, |(_, value)| *value);
    };
    let Some(after) = points.get(next) else { return before.1 };
    before.1 + (after.1 - before.1) * (at_s - before.0) / (after.0 - before.0)
}

fn to_peak(sound: &[f64]) -> Vec<f32> {
    let peak = sound.iter().fold(f64::MIN_POSITIVE, |peak, x| peak.max(x.abs()));
    let factor = f64::from(PEAK) / peak;
    sound.iter().map(|x| ((x * factor) as f32).clamp(-PEAK, PEAK)).collect()
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_line_goes_through_its_points_and_stays_level_beyond_them() {
        let points = [(1.0, 10.0), (2.0, 20.0), (4.0, 0.0)];
        let values = [0.0, 1.0, 1.5, 2.0, 3.0, 4.0, 9.0].map(|at| along(&points, at));
        assert_eq!(values, [10.0, 10.0, 15.0, 20.0, 10.0, 0.0, 0.0]);
        assert_eq!(along(&[], 1.0), 0.0);
    }

    #[test]
    fn a_mean_is_taken_off_without_lifting_the_ends() {
        let fade = |s: f64| along(&[(0.0, 0.0), (0.5, 1.0), (1.0, 0.0)], s);
        let sound: Vec<f64> = (0..=1_000).map(|i| 0.3 + (f64::from(i) * 0.2).sin()).collect();
        let sound = once(sound, 1_000.0, fade);
        let mean = sound.iter().map(|x| f64::from(*x)).sum::<f64>() / sound.len() as f64;
        assert!(mean.abs() < 1e-6, "{mean}");
        assert_eq!((sound[0], sound[1_000]), (0.0, 0.0));
        assert_eq!(sound.iter().fold(0.0_f32, |peak, x| peak.max(x.abs())), PEAK);
    }
}
