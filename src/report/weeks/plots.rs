//! Plots of the page Weeks.
//!
//! Owns layers and axes, and how many marks a plot bears: more sessions than that stand together, and
//! the title says so. Refuses numbers of its own.

use crate::report::page::{Axis, Form, Hue, LayerKind, Plot};
use crate::stats::over_time::learning::{Learning, LearningCurve};
use crate::stats::over_time::sessions::SessionTrend;
use crate::stats::summary::quantile_of_sorted;
use crate::strategy::weeks::{Compared, SessionsBy, Weeks};
use jiff::civil::Date;

/// Marks a plot bears. Chosen: more are narrower than their own points.
const MOST_MARKS: usize = 200;

/// Spread of every session.
pub fn spread_plot(weeks: &Weeks, compared: &Compared) -> Plot {
    trend_plot(weeks, compared, &compared.spread, ["Spread", "spread, ms"])
}

/// Median of every session, and the learning curve.
pub fn level_plot(weeks: &Weeks, compared: &Compared) -> Plot {
    let plot = trend_plot(weeks, compared, &compared.level, ["Median", "last amber to launch, ms"]);
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
    // A smooth curve needs no more points than there are marks.
    let every = together(compared.charted.len());
    Some(compared.charted.iter().enumerate().step_by(every).map(at).collect())
}

fn trend_plot(
    weeks: &Weeks,
    compared: &Compared,
    trend: &SessionTrend,
    [what, label]: [&str; 2],
) -> Plot {
    let x = |place: usize| x_of(weeks, compared.charted[place]);
    let axis = match by_day(weeks) {
        true => Axis::new("day", Form::Day),
        false => Axis::new("session", Form::Plain(0)),
    };
    let together = together(trend.points.len());
    let marks = match together {
        1 => format!("{what} of each session with its interval"),
        n => format!(
            "{what} of {n} sessions at a time: the middle one, from the lowest to the highest"
        ),
    };
    let title = format!("{marks}; lines join stretches without a change");
    let mut plot = Plot::new(title, axis, Axis::new(label, Form::Millis));
    if let Some(limits) = &trend.limits {
        plot = plot
            .with("limits of a steady driver", Hue::Muted, LayerKind::Level(limits.high))
            .with("", Hue::Muted, LayerKind::Level(limits.low.max(0.0)));
    }
    let whiskers = trend.points.iter().enumerate();
    let whiskers: Vec<[f64; 4]> = whiskers.map(|(i, e)| [x(i), e.value, e.low, e.high]).collect();
    let whiskers = match together {
        1 => whiskers,
        n => whiskers.chunks(n).map(one_mark).collect(),
    };
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

/// How many sessions or days stand together so that a plot bears them.
fn together(all: usize) -> usize {
    all.div_ceil(MOST_MARKS).max(1)
}

/// Sessions in a row as one mark: the middle value between the lowest and the highest.
fn one_mark(sessions: &[[f64; 4]]) -> [f64; 4] {
    let mut values: Vec<f64> = sessions.iter().map(|[_, value, ..]| *value).collect();
    values.sort_by(f64::total_cmp);
    let last = values.len() - 1;
    let x = 0.5 * (sessions[0][0] + sessions[last][0]);
    [x, quantile_of_sorted(&values, 0.5), values[0], values[last]]
}

/// Launches a day, or where those are too many for a plot, in as many days as it takes.
pub fn calendar_plot(weeks: &Weeks) -> Plot {
    let days = weeks.calendar.iter().map(|(day, launches)| (days_since_1970(*day), *launches));
    let (first, last) = (days.clone().next(), days.clone().next_back());
    let span = first.zip(last).map_or(0.0, |((first, _), (last, _))| last - first + 1.0);
    let (title, wide) = match weeks.calendar.len() > MOST_MARKS {
        false => ("Launches on each day you practised".to_owned(), 1.0),
        true => {
            let weeks = (span / 7.0 / MOST_MARKS as f64).ceil();
            let title = match weeks {
                1.0 => "Launches in each seven days".to_owned(),
                _ => format!("Launches in each {weeks} weeks"),
            };
            (title, 7.0 * weeks)
        }
    };
    let begins = first.map_or(0.0, |(day, _)| day);
    let mut columns: Vec<[f64; 3]> = Vec::new();
    for (day, launches) in days {
        let from = begins + wide * ((day - begins) / wide).floor() - 0.4;
        let to = from + wide - 0.2;
        match columns.last_mut() {
            Some(column) if column[0] == from => column[2] += launches as f64,
            _ => columns.push([from, to, launches as f64]),
        }
    }
    Plot::new(title, Axis::new("day", Form::Day), Axis::new("launches", Form::Plain(0))).with(
        "",
        Hue::Driver,
        LayerKind::Columns(columns),
    )
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

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn few_sessions_stand_alone_and_many_stand_together_with_their_extremes() {
        assert_eq!([0, 1, 200, 201, 780].map(together), [1, 1, 1, 2, 4]);
        let sessions = [[1.0, 5.0, 4.0, 6.0], [2.0, 9.0, 8.0, 10.0], [3.0, 2.0, 1.0, 3.0]];
        assert_eq!(one_mark(&sessions), [2.0, 5.0, 2.0, 9.0]);
    }
}
