//! Where lights come from, and from how far they are looked at.
//!
//! Owns the two sources, practice and slips, and the three views of either: this form, next session,
//! at the track. Refuses to pool the sources: nothing here takes both. Slips need no rig and no car
//! part; they are the track already.

use super::StrategyError;
use super::lights::Lights;
use crate::stats::risk::{CarPart, HomeToTrack, Pool, RedLine, RiskDraws, Settings};
use crate::stats::{Caveat, Estimate};

/// Where lights come from.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash)]
pub enum Source {
    /// Runs at home: driver parts, with a car and a tree.
    Practice,
    /// Time slips: the lights themselves.
    Slips,
}

impl Source {
    /// The name on screens and in reports.
    pub fn name(self) -> &'static str {
        match self {
            Self::Practice => "practice",
            Self::Slips => "slips",
        }
    }
}

/// From how far the lights are looked at.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash)]
pub enum View {
    /// The next launch, now, where the launches were made.
    ThisForm,
    /// A launch on another day.
    NextSession,
    /// Another day, at the track, in this car. From slips the same as the next session.
    AtTheTrack,
}

impl View {
    /// All, the nearest first.
    pub const ALL: [Self; 3] = [Self::ThisForm, Self::NextSession, Self::AtTheTrack];

    /// The name on screens and in reports.
    pub fn name(self) -> &'static str {
        match self {
            Self::ThisForm => "this form",
            Self::NextSession => "next session",
            Self::AtTheTrack => "at the track in this car",
        }
    }
}

/// Launches of one source, one style and one tree.
#[derive(Debug, Clone, PartialEq)]
pub struct Launches {
    source: Source,
    pool: Pool,
    line: RedLine,
    home: Option<HomeToTrack>,
    /// What stands for launches at the track, if not all of them.
    cold: Option<Pool>,
}

impl Launches {
    /// Practice with a car, a tree and what is known of the way to the track.
    ///
    /// # Errors
    /// [`StrategyError::Stats`] for a car or an interval outside its domain.
    pub fn practice(
        pool: Pool,
        car: CarPart,
        interval_s: f64,
        home: HomeToTrack,
    ) -> Result<Self, StrategyError> {
        let line = RedLine::of_car(car, interval_s)?;
        Ok(Self { source: Source::Practice, pool, line, home: Some(home), cold: None })
    }

    /// Slips: a pool of RTs, s.
    ///
    /// # Errors
    /// None.
    pub fn slips(rts: Pool) -> Result<Self, StrategyError> {
        let line = RedLine::at(0.0)?;
        Ok(Self { source: Source::Slips, pool: rts, line, home: None, cold: None })
    }

    /// The same with cold launches, the first few of every day, standing for those at the track.
    pub fn with_cold(self, cold: Pool) -> Self {
        Self { cold: Some(cold), ..self }
    }

    /// Where they come from.
    pub fn source(&self) -> Source {
        self.source
    }

    /// The launches.
    pub fn pool(&self) -> &Pool {
        &self.pool
    }

    /// The launches that stand for those in a view.
    pub fn pool_of(&self, view: View) -> &Pool {
        match (view, &self.cold) {
            (View::AtTheTrack, Some(cold)) => cold,
            _ => &self.pool,
        }
    }

    /// Below this a launch is red.
    pub fn line(&self) -> &RedLine {
        &self.line
    }

    /// What is known of the way to the track; slips have none to go.
    pub fn home(&self) -> Option<&HomeToTrack> {
        self.home.as_ref()
    }

    /// The launches in a view. Seeds of track and car are shared by all launches seen with the same
    /// `seed`; `stream` tells those apart that are to be compared.
    ///
    /// # Errors
    /// [`StrategyError::Stats`] below ten launches.
    pub fn seen(&self, view: View, seed: u64, stream: u64) -> Result<Seen, StrategyError> {
        let draws = self.draws(view, seed, stream)?;
        let draws = match (view, &self.home) {
            (View::AtTheTrack, Some(home)) => draws.at_the_track(home, seed),
            _ => draws,
        };
        Ok(self.with(draws, view, seed, stream))
    }

    /// The launches that stand for those at the track, as they are before the way to it is gone.
    pub(super) fn before_the_track(&self, seed: u64) -> Result<Seen, StrategyError> {
        Ok(self.with(self.draws(View::AtTheTrack, seed, 0)?, View::AtTheTrack, seed, 0))
    }

    fn draws(&self, view: View, seed: u64, stream: u64) -> Result<RiskDraws, StrategyError> {
        let settings = Settings::new(crate::seed::seed_of_run(seed, 100 + stream));
        let pool = self.pool_of(view);
        Ok(match view {
            View::ThisForm => RiskDraws::this_form(pool, &settings)?,
            _ => RiskDraws::next_session(pool, &settings)?,
        })
    }

    /// The same as they would be seen once `home` is known.
    pub(super) fn at_the_track_after(
        &self,
        before: &Seen,
        home: &HomeToTrack,
        seed: u64,
    ) -> Seen {
        let draws = before.draws.clone().at_the_track(home, seed);
        self.with(draws, View::AtTheTrack, seed, 0)
    }

    fn with(&self, draws: RiskDraws, view: View, seed: u64, stream: u64) -> Seen {
        let lights = Lights::new(&draws, self.pool_of(view), &self.line, seed).told_apart(seed, stream);
        Seen { source: self.source, view, draws, lights, line: self.line }
    }
}

/// Launches in a view, ready to be asked.
#[derive(Debug, Clone)]
pub struct Seen {
    source: Source,
    view: View,
    draws: RiskDraws,
    lights: Lights,
    line: RedLine,
}

impl Seen {
    /// The same on the days of others, to be compared with them.
    pub(super) fn on_the_days_of(self, other: &Seen) -> Self {
        Self { lights: self.lights.on_the_days_of(&other.lights), ..self }
    }

    /// Where they come from.
    pub fn source(&self) -> Source {
        self.source
    }

    /// From how far.
    pub fn view(&self) -> View {
        self.view
    }

    /// The lights they allow.
    pub fn lights(&self) -> &Lights {
        &self.lights
    }

    /// What to say beside every answer.
    pub fn caveats(&self) -> &[Caveat] {
        self.draws.caveats()
    }

    /// The risk of red at each aim.
    ///
    /// # Errors
    /// [`StrategyError::Stats`] for a level outside 0–1 or an aim that is not finite.
    pub fn red(&self, earlier_s: &[f64], level: f64) -> Result<Vec<Estimate>, StrategyError> {
        Ok(self.draws.curve(&self.line, earlier_s, level)?)
    }
}
