//! Plots of the page Weeks.
//!
//! Owns layers and axes. Refuses numbers of its own.

use crate::report::page::{Axis, Form, Hue, LayerKind, Plot};
use crate::stats::over_time::learning::{Learning, LearningCurve};
use crate::stats::over_time::sessions::SessionTrend;
use crate::strategy::weeks::{Compared, SessionsBy, Weeks};
use jiff::civil::Date;

/// Spread of every session.
pub fn spread_plot(weeks: &Weeks, compared: &Compared) -> Plot {
    let title = "Spread of each session with its interval; lines join stretches without a change";
    trend_plot(weeks, compared, &compared.spread, title, "spread, ms")
}

/// Median of every session, and the learning curve.
pub fn level_plot(weeks: &Weeks, compared: &Compared) -> Plot {
    let title = "Median of each session with its interval; lines join stretches without a change";
    let plot = trend_plot(weeks, compared, &compared.level, title, "last amber to launch, ms");
    let Some(curve) = &compared.learning else { return plot };
    if curve.outcome == Learning::NoneToSee {
        return plot;
    }
    match learnt(weeks, compared, curve) {
        Some(line) => plot.with("learning curve", Hue::Text, LayerKind::Dashed(line)),
        None => plot,
    }
}

fn learnt(weeks: &Weeks, compared: &Compared, curve: &LearningCurve) -> Option<Vec<[f64; 2]>> {
    let best = curve.fits.iter().min_by(|a, b| a.aicc.total_cmp(&b.aicc))?;
    let at = |(i, place): (usize, &usize)| [x_of(weeks, *place), best.at(i as f64 + 1.0)];
    Some(compared.charted.iter().enumerate().map(at).collect())
}

fn trend_plot(
    weeks: &Weeks,
    compared: &Compared,
    trend: &SessionTrend,
    title: &str,
    label: &str,
) -> Plot {
    let x = |place: usize| x_of(weeks, compared.charted[place]);
    let axis = match by_day(weeks) {
        true => Axis::new("day", Form::Day),
        false => Axis::new("session", Form::Plain(0)),
    };
    let mut plot = Plot::new(title, axis, Axis::new(label, Form::Millis));
    if let Some(limits) = &trend.limits {
        plot = plot
            .with("limits of a steady driver", Hue::Muted, LayerKind::Level(limits.high))
            .with("", Hue::Muted, LayerKind::Level(limits.low.max(0.0)));
    }
    let whiskers = trend.points.iter().enumerate();
    let whiskers = whiskers.map(|(i, e)| [x(i), e.value, e.low, e.high]).collect();
    plot = plot.with("", Hue::Driver, LayerKind::Whiskers(whiskers));
    if trend.stretches.len() > 1 {
        for stretch in &trend.stretches {
            let inside = &trend.points[stretch.clone()];
            let mean = inside.iter().map(|e| e.value).sum::<f64>() / inside.len() as f64;
            let line = vec![[x(stretch.start), mean], [x(stretch.end - 1), mean]];
            plot = plot.with("", Hue::Text, LayerKind::Line(line));
        }
    }
    let odd: Vec<[f64; 2]> = trend.odd.iter().map(|i| [x(*i), trend.points[*i].value]).collect();
    match odd.is_empty() {
        true => plot,
        false => plot.with("odd", Hue::Risk, LayerKind::Points(odd)),
    }
}

/// Launches a day.
pub fn calendar_plot(weeks: &Weeks) -> Plot {
    let column = |(day, launches): &(Date, usize)| {
        let x = days_since_1970(*day);
        [x - 0.4, x + 0.4, *launches as f64]
    };
    let columns = weeks.calendar.iter().map(column).collect();
    Plot::new(
        "Launches on each day you practised",
        Axis::new("day", Form::Day),
        Axis::new("launches", Form::Plain(0)),
    )
    .with("", Hue::Driver, LayerKind::Columns(columns))
}

/// Whether sessions lie on a calendar.
fn by_day(weeks: &Weeks) -> bool {
    weeks.asked.by == SessionsBy::Day && weeks.sessions.iter().all(|s| s.day.is_some())
}

fn x_of(weeks: &Weeks, place: usize) -> f64 {
    match weeks.sessions[place].day {
        Some(day) if by_day(weeks) => days_since_1970(day),
        _ => place as f64 + 1.0,
    }
}

fn days_since_1970(day: Date) -> f64 {
    let epoch = jiff::civil::date(1970, 1, 1);
    epoch.until(day).map_or(0.0, |span| f64::from(span.get_days()))
}
