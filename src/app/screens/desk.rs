//! What Aim and Odds stand on: the desk, worked out beside the frames.
//!
//! Owns which set-up is looked at, the slider, and working everything out anew when runs, car or race
//! changed. Refuses words: pages are the report room's.

use super::race_form::RaceForm;
use crate::app::background::Work;
use crate::app::book::Book;
use crate::app::garage::Garage;
use crate::app::lane::Session;
use crate::app::settings::InForce;
use crate::app::setup::setup_now;
use crate::app::{AppSystems, Screen};
use crate::report::desk::{aim_page, odds_page};
use crate::report::page::Page;
use crate::strategy::desk::{Asked, Desk};
use crate::strategy::own::{OwnLines, OwnSetup, SetupCount, setups};
use bevy::prelude::*;
use std::sync::Arc;

/// Seed of everything drawn here: the same launches give the same answer.
const SEED: u64 = 1;
/// How far the slider goes, ms.
pub const FARTHEST_MS: i32 = 60;

/// The desk and what is looked at on it.
#[derive(Resource, Default)]
pub struct DeskRoom {
    /// The slider, ms earlier than now.
    pub aim_ms: i32,
    /// Set-ups there are, newest first.
    setups: Vec<SetupCount>,
    /// Which of them is looked at.
    at: usize,
    /// What the desk was worked out from.
    made_from: Option<(u64, Asked)>,
    desk: Option<Desk>,
    trouble: Option<String>,
    work: Work<Result<Desk, String>>,
    /// The page as last made, and for what.
    page: Option<(Screen, i32, Arc<Page>)>,
}

pub(super) fn plugin(app: &mut App) {
    app.init_resource::<DeskRoom>().add_systems(
        Update,
        work_out
            .in_set(AppSystems::Analyse)
            .run_if(in_state(Screen::Aim).or_else(in_state(Screen::Odds))),
    );
    for screen in [Screen::Aim, Screen::Odds] {
        app.add_systems(OnEnter(screen), want_newest);
    }
}

fn want_newest(mut book: ResMut<Book>) {
    book.want();
}

fn work_out(
    screen: Res<State<Screen>>,
    mut book: ResMut<Book>,
    session: Res<Session>,
    garage: Res<Garage>,
    in_force: Res<InForce>,
    mut room: ResMut<DeskRoom>,
) {
    let room = &mut *room;
    if let Some(answer) = room.work.answer() {
        room.page = None;
        match answer {
            Ok(desk) => (room.desk, room.trouble) = (Some(desk), None),
            Err(why) => room.trouble = Some(why),
        }
    }
    if let Some(trouble) = book.trouble() {
        room.trouble = Some(trouble.to_owned());
    }
    if !book.is_current() {
        book.want();
        return;
    }
    if room.made_from.as_ref().is_none_or(|(edition, _)| *edition != book.edition()) {
        let lines = OwnLines::from(&**book.lines());
        room.setups = setups(&lines);
        let now = setup_now(&session, &garage);
        // A set-up nobody has launched in yet is one all the same, where there is no other.
        room.at = room.setups.iter().position(|count| count.setup == now).unwrap_or(0);
    }
    let setup = match room.setups.get(room.at) {
        Some(count) => count.setup.clone(),
        None => setup_now(&session, &garage),
    };
    let asked = asked(setup, **screen, &in_force);
    let wanted = (book.edition(), asked.clone());
    if room.made_from.as_ref() == Some(&wanted) || room.work.is_under_way() {
        return;
    }
    room.made_from = Some(wanted);
    let lines = book.lines().clone();
    room.work.start("desk", move || {
        let excluded = lines.excluded();
        let lines = OwnLines { excluded: &excluded, ..OwnLines::from(&*lines) };
        Desk::new(&lines, asked).map_err(|error| error.to_string())
    });
}

/// Aim is a test-and-tune's question; Odds has an opponent.
fn asked(setup: OwnSetup, screen: Screen, in_force: &InForce) -> Asked {
    let mut asked = Asked::test_and_tune(setup, SEED);
    if screen == Screen::Odds {
        asked.against = RaceForm::of(in_force).against().ok();
    }
    asked
}

impl DeskRoom {
    /// Looks at the next set-up.
    pub fn next_setup(&mut self) {
        if !self.setups.is_empty() {
            self.at = (self.at + 1) % self.setups.len();
        }
    }

    /// How many set-ups there are.
    pub fn setups(&self) -> usize {
        self.setups.len()
    }

    /// Moves the slider.
    pub fn shift(&mut self, ms: i32) {
        self.aim_ms = (self.aim_ms + ms).clamp(-FARTHEST_MS, FARTHEST_MS);
    }

    /// The best aim, ms, where there is one.
    pub fn best_ms(&self) -> Option<i32> {
        use crate::strategy::launches::View;
        let view = self.desk.as_ref()?.main()?.view(View::AtTheTrack)?;
        Some((1000.0 * view.at_best.best.earlier_s).round() as i32)
    }

    /// What there is to show: the page, or why there is none yet.
    pub fn page(&mut self, screen: Screen) -> Result<Arc<Page>, String> {
        let right_desk = self.desk.as_ref().filter(|desk| {
            // The desk of the other screen answers another question.
            desk.asked.against.is_some() == (screen == Screen::Odds)
        });
        let Some(desk) = right_desk else {
            return Err(self
                .trouble
                .clone()
                .unwrap_or_else(|| "Working it out\u{2026}".to_owned()));
        };
        if let Some((of, ms, page)) = &self.page
            && (*of, *ms) == (screen, self.aim_ms)
        {
            return Ok(page.clone());
        }
        let aim_s = f64::from(self.aim_ms) / 1000.0;
        let page = Arc::new(match screen {
            Screen::Odds => odds_page(desk, aim_s),
            _ => aim_page(desk, aim_s),
        });
        self.page = Some((screen, self.aim_ms, page.clone()));
        Ok(page)
    }

    /// Newer runs are being worked on.
    pub fn is_working(&self) -> bool {
        self.work.is_under_way()
    }
}
