//! Weeks: steadier than last month? Review: how did this session go?
//!
//! Owns working both out beside the frames, which set-up is looked at, and the keys. Refuses
//! computing (the strategy room) and words (the report room).

use super::typing::{Typed, typed};
use super::{rooms, sheet, ui};
use crate::app::background::Work;
use crate::app::book::Book;
use crate::app::trace_file::TraceFile;
use crate::app::{AppSystems, Screen, clock};
use crate::form::Key;
use crate::history::{ForecastLine, Loaded};
use crate::report::page::Page;
use crate::report::review::review_page;
use crate::report::weeks::weeks_page;
use crate::strategy::own::{OwnLines, OwnSetup, setups};
use crate::strategy::weeks::{Filter, Review, SessionsBy, Weeks, WeeksAsked};
use bevy::input::keyboard::KeyboardInput;
use bevy::prelude::*;
use bevy_egui::{EguiContexts, EguiPrimaryContextPass};

/// Seed of everything drawn here: the same launches give the same answer.
const SEED: u64 = 1;
/// A pause that ends a session where days do not, min. Chosen.
const GAP_MIN: u32 = 45;

pub(super) fn plugin(app: &mut App) {
    app.init_resource::<WeeksRoom>();
    for screen in [Screen::Weeks, Screen::Review] {
        app.add_systems(OnEnter(screen), enter)
            .add_systems(Update, work_out.in_set(AppSystems::Analyse).run_if(in_state(screen)))
            .add_systems(Update, work_keys.run_if(in_state(screen)))
            .add_systems(EguiPrimaryContextPass, weeks_ui.run_if(in_state(screen)));
    }
}

/// What is looked at.
#[derive(Debug, Clone, PartialEq, Default)]
struct Asked {
    screen: Screen,
    edition: u64,
    setup: Option<OwnSetup>,
    by_gap: bool,
    /// The driver's own date.
    today: String,
}

/// The room.
#[derive(Resource, Default)]
struct WeeksRoom {
    setups: Vec<OwnSetup>,
    edition: u64,
    at: usize,
    by_gap: bool,
    made_for: Option<Asked>,
    page: Option<(Screen, Page)>,
    trouble: Option<String>,
    work: Work<(Screen, Result<Page, String>)>,
}

fn enter(mut book: ResMut<Book>, mut trace: ResMut<TraceFile>) {
    book.want();
    trace.event("prompt Escape Esc: back to the lane");
}

fn work_out(screen: Res<State<Screen>>, mut book: ResMut<Book>, mut room: ResMut<WeeksRoom>) {
    let room = &mut *room;
    if let Some((of, answer)) = room.work.answer() {
        match answer {
            Ok(page) => (room.page, room.trouble) = (Some((of, page)), None),
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
    if room.edition != book.edition() {
        room.edition = book.edition();
        let all = setups(&OwnLines::from(&**book.lines()));
        room.setups = all.into_iter().map(|count| count.setup).collect();
        room.at = 0;
    }
    let asked = Asked {
        screen: **screen,
        edition: room.edition,
        setup: room.setups.get(room.at).cloned(),
        by_gap: room.by_gap,
        today: clock::wall_time().chars().take(10).collect(),
    };
    if room.made_for.as_ref() == Some(&asked) || room.work.is_under_way() {
        return;
    }
    room.made_for = Some(asked.clone());
    let lines = book.lines().clone();
    room.work.start("weeks", move || (asked.screen, page_of(&lines, &asked)));
}

/// The page of what is asked.
fn page_of(lines: &Loaded, asked: &Asked) -> Result<Page, String> {
    let filter = asked.setup.as_ref().map(Filter::of_setup);
    let by = if asked.by_gap { SessionsBy::GapMin(GAP_MIN) } else { SessionsBy::Day };
    let page = match asked.screen {
        Screen::Review => {
            Review::of_loaded(lines, filter, None).map(|review| review_page(review.as_ref()))
        }
        _ => {
            let excluded = lines.excluded();
            let own = OwnLines { excluded: &excluded, ..OwnLines::from(lines) };
            let filter = filter.or_else(|| Filter::of_newest(&own)).unwrap_or_default();
            // What is expected of today stays hidden until it is over.
            let over = lines.forecasts.iter().filter(|told| told.occasion_id != asked.today);
            let over: Vec<ForecastLine> = over.cloned().collect();
            let weeks = Weeks::new(&own, &over, WeeksAsked { filter, by, seed: SEED });
            weeks.map(|weeks| weeks_page(&weeks))
        }
    };
    page.map_err(|error| error.to_string())
}

fn work_keys(
    mut events: MessageReader<KeyboardInput>,
    screen: Res<State<Screen>>,
    mut room: ResMut<WeeksRoom>,
    mut next: ResMut<NextState<Screen>>,
) {
    let keys = typed(&mut events);
    if screen.is_changed() {
        return;
    }
    for key in keys {
        match key {
            Typed::Escape => next.set(Screen::Lane),
            Typed::Key(Key::Letter('u' | 'U')) if !room.setups.is_empty() => {
                room.at = (room.at + 1) % room.setups.len();
            }
            Typed::Key(Key::Letter('g' | 'G')) => room.by_gap = !room.by_gap,
            _ => {}
        }
    }
}

fn weeks_ui(
    mut contexts: EguiContexts,
    screen: Res<State<Screen>>,
    room: Res<WeeksRoom>,
    mut next: ResMut<NextState<Screen>>,
) -> Result {
    let ctx = contexts.ctx_mut()?;
    if !ui::dress(ctx) {
        return Ok(());
    }
    let led = rooms::room_ui(ctx, **screen, "", |page| {
        match room.page.as_ref().filter(|(of, _)| of == screen.get()) {
            Some((_, shown)) => {
                sheet::page_ui(page, shown);
            }
            None => {
                let words = room.trouble.as_deref().unwrap_or("Working it out\u{2026}");
                ui::headline(page, words);
            }
        }
        if room.work.is_under_way() {
            ui::aside(page, "Being worked out\u{2026}");
        }
        let other = if room.setups.len() > 1 { "U: another car, tree or style    " } else { "" };
        let by = match (screen.get(), room.by_gap) {
            (Screen::Review, _) => "",
            (_, true) => "G: sessions by days    ",
            (_, false) => "G: sessions by pauses    ",
        };
        let words = format!("{other}{by}PgDn: read on    Esc: back to the lane");
        ui::keys(page, &words);
    });
    if let Some(screen) = led {
        next.set(screen);
    }
    Ok(())
}
