//! Which screen is up.
//!
//! Owns the states and the way in: notice once, then the five questions once, then the lane.
//! Refuses content.

use super::AppSystems;
use super::garage::Garage;
use super::trace_file::TraceFile;
use bevy::prelude::*;

/// The screens.
#[derive(States, Debug, Clone, Copy, PartialEq, Eq, Hash, Default)]
pub enum Screen {
    /// Safe practice and flashing lights, before anything else.
    #[default]
    Notice,
    /// My car in five questions.
    Questions,
    /// The start line.
    Lane,
    /// Paused: everything that can be changed between runs.
    Menu,
    /// How this session went.
    Review,
    /// How hard to push, and whether to time it.
    Aim,
    /// Steadier than last month?
    Weeks,
    /// Against whom.
    Odds,
    /// What the car adds.
    Car,
    /// Time slips.
    Slips,
    /// What a newcomer reads.
    Visit,
    /// How well this rig times, and what that means.
    Rig,
    /// Ten seconds of looking at the rig.
    SelfTest,
    /// Filming the delay of control and screen.
    FilmShoot,
    /// Frame counts from the film.
    FilmCounts,
    /// Lamps, keys, drills, words and cautions.
    Help,
    /// The slips of a track night.
    Night,
    /// How an aim was held.
    Held,
    /// The drivers of this machine, and who sits in the other lane.
    Drivers,
    /// Which control does what.
    Controls,
    /// True size: the screen and the eye before it.
    Sight,
    /// How loud each sound is.
    Sounds,
    /// A long history is being read.
    Opening,
    /// Another Last Amber holds the data folder, or it can't be used.
    Locked,
}

impl Screen {
    /// The screen after the notice.
    pub fn after_notice(garage: &Garage) -> Screen {
        if garage.asked() { Screen::Lane } else { Screen::Questions }
    }

    fn word(self) -> &'static str {
        match self {
            Screen::Notice => "notice",
            Screen::Questions => "questions",
            Screen::Lane => "lane",
            Screen::Menu => "menu",
            Screen::Review => "review",
            Screen::Aim => "aim",
            Screen::Weeks => "weeks",
            Screen::Odds => "odds",
            Screen::Car => "car",
            Screen::Slips => "slips",
            Screen::Visit => "first-visit",
            Screen::Rig => "rig",
            Screen::SelfTest => "self-test",
            Screen::FilmShoot => "film",
            Screen::FilmCounts => "film-counts",
            Screen::Help => "help",
            Screen::Night => "night",
            Screen::Held => "held",
            Screen::Drivers => "drivers",
            Screen::Controls => "controls",
            Screen::Sight => "true-size",
            Screen::Sounds => "sounds",
            Screen::Opening => "opening",
            Screen::Locked => "locked",
        }
    }
}

pub(super) fn plugin(app: &mut App) {
    app.init_state::<Screen>().add_systems(Update, trace_screen.in_set(AppSystems::Present));
}

fn trace_screen(
    screen: Res<State<Screen>>,
    mut told: Local<Option<Screen>>,
    mut trace: ResMut<TraceFile>,
) {
    if *told != Some(**screen) {
        *told = Some(**screen);
        trace.event(format_args!("screen {}", screen.word()));
    }
}
