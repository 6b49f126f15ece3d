//! What one source of launches tells, from near to far.
//!
//! Owns the three views with their curves, best aims and caveats. Refuses to mix sources.

use super::curve::{Curve, aims_s};
use super::{Asked, LEVEL};
use crate::stats::{Caveat, Estimate};
use crate::strategy::StrategyError;
use crate::strategy::aim::{AimForRisk, AimQuestion, Headline, aims, headline};
use crate::strategy::launches::{Launches, Seen, Source, View};
use crate::strategy::odds::Best;
use crate::strategy::verdict::Stakes;

/// The best aim and what is there.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct AtBest {
    /// The best aim and its flat top; its `win` is the chance of a good light on a test-and-tune.
    pub best: Best,
    /// The same chance with its interval.
    pub win: Estimate,
    /// As things are.
    pub now: Estimate,
    /// What going there brings.
    pub gain: Estimate,
    /// P(red) there.
    pub red: Estimate,
    /// What a millisecond less spread is worth there.
    pub worth_of_1ms_spread: Estimate,
    /// What is lost by aiming a millisecond beside it.
    pub worth_of_1ms_aim: Estimate,
    /// The chance to come through the rounds asked for.
    pub survive: Estimate,
}

/// One view.
#[derive(Debug, Clone, PartialEq)]
pub struct ViewTold {
    /// Which.
    pub view: View,
    /// Measured launches it rests on.
    pub n: usize,
    /// Everything by aim.
    pub curve: Curve,
    /// The aims for accepted risks.
    pub for_risk: Vec<AimForRisk>,
    /// The best aim.
    pub at_best: AtBest,
    /// What to say beside it.
    pub caveats: Vec<Caveat>,
}

/// What a source tells.
#[derive(Debug, Clone, PartialEq)]
pub struct Told {
    /// Practice or slips.
    pub source: Source,
    /// Measured launches.
    pub n: usize,
    /// Cold launches that stand for those at the track; `None` if all do.
    pub cold: Option<usize>,
    /// The risk at the track as things are.
    pub headline: Headline,
    /// The same at the best aim.
    pub headline_at_best: Headline,
    views: Vec<ViewTold>,
}

impl Told {
    pub(super) fn new(
        launches: &Launches,
        stakes: &Stakes,
        asked: &Asked,
    ) -> Result<Self, StrategyError> {
        let seen = |view| launches.seen(view, asked.seed, 0);
        let views = View::ALL.map(|view| ViewTold::new(&seen(view)?, stakes, asked));
        let n = launches.pool().driver_parts().n();
        let at_the_track = launches.pool_of(View::AtTheTrack).driver_parts().n();
        let views = views.into_iter().collect::<Result<Vec<ViewTold>, StrategyError>>()?;
        let track = views.iter().find(|told| told.view == View::AtTheTrack);
        let best_s = track.map_or(0.0, |told| told.at_best.best.earlier_s);
        Ok(Self {
            source: launches.source(),
            n,
            cold: (at_the_track != n).then_some(at_the_track),
            headline: headline(launches, 0.0, asked.seed)?,
            headline_at_best: headline(launches, best_s, asked.seed)?,
            views,
        })
    }

    /// All views, the nearest first.
    pub fn views(&self) -> &[ViewTold] {
        &self.views
    }

    /// One of them; there always is one of each.
    pub fn view(&self, view: View) -> Option<&ViewTold> {
        self.views.iter().find(|told| told.view == view)
    }
}

impl ViewTold {
    fn new(seen: &Seen, stakes: &Stakes, asked: &Asked) -> Result<Self, StrategyError> {
        let question =
            AimQuestion { earlier_s: aims_s(), better_than_s: asked.better_than_s, level: LEVEL };
        let found = aims(seen, &question)?;
        let odds = stakes.over(seen);
        let best = odds.best()?;
        let win = match asked.against {
            Some(_) => Some(odds.win(&question.earlier_s, LEVEL)?),
            None => None,
        };
        let [now, there] = [0.0, best.earlier_s].map(|aim| odds.win(&[aim], LEVEL));
        let rounds = asked.against.as_ref().map_or(1, |against| against.rounds);
        let at_best = AtBest {
            win: there?[0],
            now: now?[0],
            gain: odds.worth_of_best_aim(&best, LEVEL)?,
            red: seen.red(&[best.earlier_s], LEVEL)?[0],
            worth_of_1ms_spread: odds.worth_of_1ms_spread(&best, LEVEL)?,
            worth_of_1ms_aim: odds.worth_of_1ms_aim(&best, LEVEL)?,
            survive: odds.survive(best.earlier_s, rounds, LEVEL)?,
            best,
        };
        Ok(Self {
            view: seen.view(),
            n: seen.lights().n(),
            curve: Curve::new(found.rows, win),
            for_risk: found.for_risk,
            at_best,
            caveats: seen.caveats().to_vec(),
        })
    }
}
