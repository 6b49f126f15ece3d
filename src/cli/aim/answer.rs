//! The answer of `lastamber aim` as JSON.
//!
//! Owns its keys. Refuses words.

use super::AimArgs;
use super::read::Starts;
use crate::report::advice::{headline_sentence, more_in_words, verdict_sentence};
use crate::stats::{Estimate, StatsError};
use crate::strategy::aim::{Aims, Headline};
use crate::strategy::launches::{Source, View};
use crate::strategy::lever::{Lever, LeverKind, Price};
use crate::strategy::own::GuessTest;
use crate::strategy::verdict::{By, Choice, Verdict};
use crate::trial::Style;
use serde::Serialize;

#[derive(Debug, Serialize)]
pub struct Answer {
    pub sources: Vec<SourceAnswer>,
    pub outcomes: Option<OutcomesAnswer>,
    pub levers: Vec<LeverAnswer>,
    pub react_or_time_it: Option<VerdictAnswer>,
    pub next: String,
    pub better_than_s: f64,
    pub level: f64,
    pub seed: u64,
    pub caveats: Vec<String>,
}

#[derive(Debug, Serialize)]
pub struct SourceAnswer {
    pub source: &'static str,
    pub style: Option<&'static str>,
    pub n: usize,
    pub headline: HeadlineAnswer,
    pub views: Vec<ViewAnswer>,
}

/// What rows count as besides launches with a time.
#[derive(Debug, Serialize)]
pub struct OutcomesAnswer {
    pub left_before_tree: usize,
    pub lapses: usize,
    pub left_out: usize,
    pub guess_test: Option<GuessTestAnswer>,
}

#[derive(Debug, Serialize)]
pub struct GuessTestAnswer {
    pub blanks: usize,
    pub guesses: usize,
    pub share_at_least: Range,
}

#[derive(Debug, Serialize)]
pub struct HeadlineAnswer {
    pub known: bool,
    pub red: Range,
    pub slips_would_tell: Option<usize>,
    pub sentence: String,
}

#[derive(Debug, Serialize)]
pub struct ViewAnswer {
    pub view: &'static str,
    pub rows: Vec<RowAnswer>,
    pub for_risk: Vec<ForRiskAnswer>,
}

#[derive(Debug, Serialize)]
pub struct RowAnswer {
    pub earlier_ms: f64,
    pub red: Range,
    pub green_light_s: Range,
    pub better: Range,
}

#[derive(Debug, Serialize)]
pub struct ForRiskAnswer {
    pub risk: f64,
    pub earlier_ms: Range,
}

#[derive(Debug, Clone, Copy, Serialize)]
pub struct Range {
    pub value: f64,
    pub low: f64,
    pub high: f64,
}

#[derive(Debug, Serialize)]
pub struct LeverAnswer {
    pub kind: &'static str,
    pub rt_ms: f64,
    pub et_ms: f64,
    pub for_a_reaction: bool,
    pub red: Range,
    pub win: Range,
    pub win_redialled: Option<Range>,
}

#[derive(Debug, Serialize)]
pub struct VerdictAnswer {
    pub verdict: &'static str,
    pub right: f64,
    pub more: Option<String>,
    pub worth: Range,
    pub best_earlier_ms: f64,
    pub flips_at_car_part_s: Vec<f64>,
    pub judgements: Vec<JudgementAnswer>,
    pub sentence: String,
}

#[derive(Debug, Serialize)]
pub struct JudgementAnswer {
    pub by: &'static str,
    pub view: &'static str,
    pub time_it_right: f64,
}

impl Answer {
    /// An answer to which levers, verdict and caveats are still to come.
    pub fn new(args: &AimArgs, sources: Vec<SourceAnswer>) -> Self {
        Self {
            sources,
            outcomes: None,
            levers: Vec::new(),
            react_or_time_it: None,
            next: String::new(),
            better_than_s: args.better_than,
            level: args.level,
            seed: args.seed,
            caveats: Vec::new(),
        }
    }
}

impl OutcomesAnswer {
    pub fn new(starts: &Starts, level: f64) -> Result<Self, StatsError> {
        let (left_before_tree, lapses) = starts.unmeasured();
        let GuessTest { blanks, guesses, .. } = starts.guess_test;
        let share = starts.guess_test.share(level)?;
        let guess_test =
            share.map(|share| GuessTestAnswer { blanks, guesses, share_at_least: share.into() });
        Ok(Self { left_before_tree, lapses, left_out: starts.left_out, guess_test })
    }
}

impl SourceAnswer {
    pub fn new(
        source: Source,
        style: Option<Style>,
        n: usize,
        headline: &Headline,
        views: Vec<ViewAnswer>,
    ) -> Self {
        let slips_would_tell = match headline {
            Headline::Known(_) => None,
            Headline::NotKnown { slips, .. } => *slips,
        };
        let headline = HeadlineAnswer {
            known: matches!(headline, Headline::Known(_)),
            red: headline.risk().into(),
            slips_would_tell,
            sentence: headline_sentence(headline),
        };
        let style = style.map(|style| match style {
            Style::React => "react",
            Style::TimeIt => "time-it",
        });
        Self { source: source.name(), style, n, headline, views }
    }
}

impl ViewAnswer {
    pub fn new(view: View, aims: &Aims) -> Self {
        let rows = aims.rows.iter().map(|row| RowAnswer {
            earlier_ms: 1000.0 * row.earlier_s,
            red: row.red.into(),
            green_light_s: row.green_light_s.into(),
            better: row.better.into(),
        });
        let for_risk = aims.for_risk.iter().map(|aim| ForRiskAnswer {
            risk: aim.risk,
            earlier_ms: Range::from(aim.earlier_s).times(1000.0),
        });
        Self { view: view.name(), rows: rows.collect(), for_risk: for_risk.collect() }
    }
}

impl Range {
    fn times(self, factor: f64) -> Self {
        Self { value: factor * self.value, low: factor * self.low, high: factor * self.high }
    }
}

impl From<Estimate> for Range {
    fn from(e: Estimate) -> Self {
        Self { value: e.value, low: e.low, high: e.high }
    }
}

impl From<(&Lever, &Price)> for LeverAnswer {
    fn from((lever, price): (&Lever, &Price)) -> Self {
        let kind = match lever.kind {
            LeverKind::Timing => "timing",
            LeverKind::DelayBox => "box",
            LeverKind::Depth => "depth",
            LeverKind::Tyre => "tyre",
            LeverKind::Strength => "strength",
        };
        Self {
            kind,
            rt_ms: 1000.0 * lever.rt_s,
            et_ms: 1000.0 * lever.et_s,
            for_a_reaction: lever.for_a_reaction(),
            red: price.red.into(),
            win: price.win.into(),
            win_redialled: price.win_redialled.map(Into::into),
        }
    }
}

impl From<&Verdict> for VerdictAnswer {
    fn from(told: &Verdict) -> Self {
        let (verdict, more) = match told.choice {
            Choice::TimeIt => ("time it", None),
            Choice::React => ("react", None),
            Choice::NotEnough(more) => ("not enough yet", Some(more_in_words(more))),
        };
        let judgements = told.judgements.iter().map(|j| JudgementAnswer {
            by: match j.by {
                By::Stakes => "stakes",
                By::RiskAtEqualLight => "risk at an equal light",
                By::Spread => "spread",
            },
            view: j.view.name(),
            time_it_right: j.time_it_right,
        });
        Self {
            verdict,
            right: told.right,
            more,
            worth: told.worth.into(),
            best_earlier_ms: 1000.0 * told.best_earlier_s,
            flips_at_car_part_s: told.flips_at_car_part_s.clone(),
            judgements: judgements.collect(),
            sentence: verdict_sentence(told),
        }
    }
}
