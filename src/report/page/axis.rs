//! The axis of a plot and how its numbers read.
//!
//! Owns units and wording of the numbers on an axis. Refuses where the ticks fall.

/// An axis.
#[derive(Debug, Clone, PartialEq)]
pub struct Axis {
    /// What is on it, unit included.
    pub label: String,
    /// How its numbers read.
    pub form: Form,
    /// What to show at least, low to high; everything drawn is shown in any case.
    pub at_least: Option<(f64, f64)>,
}

/// How a number reads.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Form {
    /// A share 0–1 in percent.
    Percent,
    /// Seconds the way the trade prints a light: `.032`, `-.005`.
    Light,
    /// Seconds in milliseconds.
    Millis,
    /// How much earlier, s: `20 earlier`, `now`, `10 later`, in ms.
    Earlier,
    /// A plain number with so many decimals.
    Plain(u8),
    /// A day: whole days since 1970-01-01.
    Day,
}

impl Axis {
    /// An axis that shows what is drawn and no more.
    pub fn new(label: impl Into<String>, form: Form) -> Self {
        Self { label: label.into(), form, at_least: None }
    }

    /// Shows this range at least.
    pub fn from_to(self, low: f64, high: f64) -> Self {
        Self { at_least: Some((low, high)), ..self }
    }
}

impl Form {
    /// The number in words.
    pub fn words(self, x: f64) -> String {
        match self {
            Form::Percent => format!("{} %", plain(100.0 * x, 1)),
            Form::Light => light(x),
            Form::Millis => plain(1000.0 * x, 1),
            Form::Earlier => match plain(1000.0 * x.abs(), 1) {
                zero if zero == "0" => "now".to_owned(),
                ms if x > 0.0 => format!("{ms} earlier"),
                ms => format!("{ms} later"),
            },
            Form::Plain(decimals) => format!("{x:.*}", usize::from(decimals)),
            Form::Day => day(x),
        }
    }

    /// A unit's size in what is plotted, so that ticks can fall on round numbers of what is read.
    pub fn per_unit(self) -> f64 {
        match self {
            Form::Percent => 0.01,
            Form::Millis | Form::Earlier => 0.001,
            Form::Light | Form::Plain(_) | Form::Day => 1.0,
        }
    }
}

/// At most so many decimals, none where they are zero.
fn plain(x: f64, decimals: usize) -> String {
    let text = format!("{x:.decimals$}");
    let text = match text.contains('.') {
        true => text.trim_end_matches('0').trim_end_matches('.').to_owned(),
        false => text,
    };
    if text == "-0" { "0".to_owned() } else { text }
}

fn light(x: f64) -> String {
    let text = format!("{:.3}", x.abs());
    let text = text.strip_prefix('0').unwrap_or(&text);
    if x < 0.0 && text != ".000" { format!("-{text}") } else { text.to_owned() }
}

fn day(x: f64) -> String {
    let epoch = jiff::civil::date(1970, 1, 1);
    let days = jiff::Span::new().try_days(x.round() as i64);
    match days.and_then(|days| epoch.checked_add(days)) {
        Ok(date) => date.to_string(),
        Err(_) => String::new(),
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn numbers_read_as_the_trade_writes_them() {
        assert_eq!(Form::Light.words(0.0321), ".032");
        assert_eq!(Form::Light.words(-0.005), "-.005");
        assert_eq!(Form::Light.words(-0.0001), ".000");
        assert_eq!(Form::Light.words(1.25), "1.250");
        assert_eq!(Form::Percent.words(0.25), "25 %");
        assert_eq!(Form::Percent.words(0.025), "2.5 %");
        assert_eq!(Form::Millis.words(0.0305), "30.5");
        assert_eq!(Form::Earlier.words(0.02), "20 earlier");
        assert_eq!(Form::Earlier.words(-0.01), "10 later");
        assert_eq!(Form::Earlier.words(0.000_01), "now");
        assert_eq!(Form::Plain(2).words(1.005), "1.00");
        assert_eq!(Form::Day.words(0.0), "1970-01-01");
        assert_eq!(Form::Day.words(20_000.0), "2024-10-04");
        assert_eq!(Form::Day.words(1e300), "");
    }
}
