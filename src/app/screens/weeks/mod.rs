//! Weeks: steadier than last month? Review: how did this session go?
//!
//! Owns working both out beside the frames, which runs are looked at, what lies on the table and the
//! keys. Refuses computing (the strategy room) and words (the report room).

mod choose;
mod keys;
mod replay;
mod runs;

use super::{rooms, sheet, ui};
use crate::app::background::Work;
use crate::app::book::Book;
use crate::app::trace_file::TraceFile;
use crate::app::{AppSystems, Screen, clock};
use crate::history::{ForecastLine, Loaded};
use crate::report::page::Page;
use crate::report::review::review_page;
use crate::report::weeks::weeks_page;
use crate::strategy::own::{OwnLines, OwnSetup, setups};
use crate::strategy::weeks::{Filter, Review, SessionsBy, Weeks, WeeksAsked};
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
            .add_systems(OnExit(screen), leave)
            .add_systems(Update, work_out.in_set(AppSystems::Analyse).run_if(in_state(screen)))
            .add_systems(Update, keys::work_keys.run_if(in_state(screen)))
            .add_systems(EguiPrimaryContextPass, weeks_ui.run_if(in_state(screen)));
    }
    app.add_systems(Update, keys::hear_failures.in_set(AppSystems::Record));
}

/// What is looked at.
#[derive(Debug, Clone, PartialEq, Default)]
struct Asked {
    screen: Screen,
    edition: u64,
    /// `None`: the set-up driven last.
    filter: Option<Filter>,
    by_gap: bool,
    /// A run of the session to review; `None`: the newest.
    of_run: Option<String>,
    /// The driver's own date.
    today: String,
}

/// What was worked out.
struct Answer {
    screen: Screen,
    page: Page,
    review: Option<Box<Review>>,
}

/// What lies on the table.
#[derive(Default)]
enum Leaf {
    #[default]
    Page,
    Choose(Box<choose::Choosing>),
    /// The runs of the session reviewed.
    Runs,
    /// Why the chosen one is to be left out.
    Reason(runs::Reason),
    Replay(Box<replay::Playing>),
}

impl Leaf {
    fn name(&self) -> &'static str {
        match self {
            Leaf::Page => "page",
            Leaf::Choose(_) => "choose",
            Leaf::Runs => "runs",
            Leaf::Reason(_) => "reason",
            Leaf::Replay(_) => "replay",
        }
    }
}

/// The room.
#[derive(Resource, Default)]
struct WeeksRoom {
    leaf: Leaf,
    setups: Vec<OwnSetup>,
    edition: u64,
    /// Which set-up the next one comes after.
    at: usize,
    filter: Option<Filter>,
    of_run: Option<String>,
    /// The run the keys are at.
    run: usize,
    by_gap: bool,
    made_for: Option<Asked>,
    answer: Option<Answer>,
    trouble: Option<String>,
    news: Option<String>,
    work: Work<(Screen, Result<Answer, String>)>,
}

impl WeeksRoom {
    /// The session reviewed, if that is what is up.
    fn review(&self) -> Option<&Review> {
        self.answer.as_ref().filter(|a| a.screen == Screen::Review)?.review.as_deref()
    }
}

fn enter(mut room: ResMut<WeeksRoom>, mut book: ResMut<Book>, mut trace: ResMut<TraceFile>) {
    (room.leaf, room.news, room.of_run, room.run) = (Leaf::Page, None, None, 0);
    book.want();
    trace.event("prompt Escape Esc: back to the lane");
}

fn leave(mut typing: ResMut<rooms::Typing>) {
    typing.0 = false;
}

fn work_out(
    screen: Res<State<Screen>>,
    time: Res<Time<Real>>,
    mut book: ResMut<Book>,
    mut room: ResMut<WeeksRoom>,
) {
    let room = &mut *room;
    if let Leaf::Replay(playing) = &mut room.leaf {
        playing.pass(time.delta_secs_f64());
    }
    if let Some((_, answer)) = room.work.answer() {
        match answer {
            Ok(answer) => (room.answer, room.trouble) = (Some(answer), None),
            Err(why) => room.trouble = Some(why),
        }
        let last = room.review().map_or(0, |review| review.runs.len().saturating_sub(1));
        room.run = room.run.min(last);
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
    }
    let asked = Asked {
        screen: **screen,
        edition: room.edition,
        filter: room.filter.clone(),
        by_gap: room.by_gap,
        of_run: room.of_run.clone().filter(|_| **screen == Screen::Review),
        today: clock::wall_time().chars().take(10).collect(),
    };
    if room.made_for.as_ref() == Some(&asked) || room.work.is_under_way() {
        return;
    }
    room.made_for = Some(asked.clone());
    let lines = book.lines().clone();
    room.work.start("weeks", move || (asked.screen, answer_of(&lines, &asked)));
}

/// What is asked, worked out.
fn answer_of(lines: &Loaded, asked: &Asked) -> Result<Answer, String> {
    let filter = asked.filter.clone();
    let by = if asked.by_gap { SessionsBy::GapMin(GAP_MIN) } else { SessionsBy::Day };
    let answer = match asked.screen {
        Screen::Review => {
            Review::of_loaded(lines, filter, asked.of_run.as_deref()).map(|review| Answer {
                screen: asked.screen,
                page: review_page(review.as_ref()),
                review: review.map(Box::new),
            })
        }
        _ => {
            let excluded = lines.excluded();
            let own = OwnLines { excluded: &excluded, ..OwnLines::from(lines) };
            let filter = filter.or_else(|| Filter::of_newest(&own)).unwrap_or_default();
            // What is expected of today stays hidden until it is over.
            let over = lines.forecasts.iter().filter(|told| told.occasion_id != asked.today);
            let over: Vec<ForecastLine> = over.cloned().collect();
            let weeks = Weeks::new(&own, &over, WeeksAsked { filter, by, seed: SEED });
            weeks.map(|weeks| Answer {
                screen: asked.screen,
                page: weeks_page(&weeks),
                review: None,
            })
        }
    };
    answer.map_err(|error| error.to_string())
}

fn weeks_ui(
    mut contexts: EguiContexts,
    screen: Res<State<Screen>>,
    mut room: ResMut<WeeksRoom>,
    mut next: ResMut<NextState<Screen>>,
) -> Result {
    let ctx = contexts.ctx_mut()?;
    if !ui::dress(ctx) {
        return Ok(());
    }
    // What moves is drawn again; where nothing moves nothing is marked as changed.
    let room = room.bypass_change_detection();
    let led =
        rooms::room_ui(ctx, **screen, room.leaf.name(), |page| leaf_ui(page, *screen.get(), room));
    if let Leaf::Replay(playing) = &room.leaf
        && playing.is_moving()
    {
        ctx.request_repaint();
    }
    if let Some(screen) = led {
        next.set(screen);
    }
    Ok(())
}

fn leaf_ui(page: &mut bevy_egui::egui::Ui, screen: Screen, room: &mut WeeksRoom) {
    let review = room.answer.as_ref().and_then(|answer| answer.review.as_deref());
    match (&mut room.leaf, review) {
        (Leaf::Choose(choosing), _) => return choose::choose_ui(page, choosing),
        (Leaf::Replay(playing), _) => return replay::replay_ui(page, playing),
        (Leaf::Runs, Some(review)) => {
            if let Some(i) = runs::runs_ui(page, review, room.run, room.news.as_deref()) {
                room.run = i;
            }
            return;
        }
        (Leaf::Reason(form), Some(review)) => {
            if let Some(run) = review.runs.get(room.run) {
                return runs::reason_ui(page, form, room.run, run);
            }
        }
        _ => {}
    }
    match room.answer.as_ref().filter(|answer| answer.screen == screen) {
        Some(answer) => {
            sheet::page_ui(page, &answer.page);
        }
        None => {
            let words = room.trouble.as_deref().unwrap_or("Working it out\u{2026}");
            ui::headline(page, words);
        }
    }
    if room.work.is_under_way() {
        ui::aside(page, "Being worked out\u{2026}");
    }
    ui::keys(page, &keys::words(screen, room));
}
