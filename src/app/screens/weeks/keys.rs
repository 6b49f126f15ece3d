//! What the keys of Weeks and Review do.
//!
//! Owns the keys of every leaf of the room. Refuses drawing.

use super::super::keep::Keeper;
use super::super::rooms;
use super::super::typing::{Typed, is_letter, typed};
use super::choose::Choosing;
use super::replay::Playing;
use super::{Leaf, WeeksRoom, runs};
use crate::app::Screen;
use crate::app::book::Book;
use crate::app::clock;
use crate::app::history_store::{SaveNews, Store};
use crate::form::Key;
use crate::history::{ExclusionLine, SaveEvent};
use crate::strategy::own::OwnLines;
use crate::strategy::weeks::{Choices, Filter};
use bevy::input::keyboard::KeyboardInput;
use bevy::prelude::*;

/// A step of the replay, and one with Shift, s.
const STEPS_S: (f64, f64) = (0.010, 0.001);

/// What the keys say of the page that is up.
pub fn words(screen: Screen, room: &WeeksRoom) -> String {
    let other = if room.setups.len() > 1 { "U: another car, tree or style    " } else { "" };
    let own = match screen {
        Screen::Review => {
            let beside =
                room.review().map_or([false; 2], |r| [0, 1].map(|i| r.beside[i].is_some()));
            let sessions = match beside {
                [true, true] => "\u{2190} \u{2192}: session before, after    ",
                [true, false] => "\u{2190}: the session before    ",
                [false, true] => "\u{2192}: the session after    ",
                [false, false] => "",
            };
            let runs = if room.review().is_some() { "R: its runs    " } else { "" };
            format!("{runs}{sessions}")
        }
        _ if room.by_gap => "G: sessions by days    ".to_owned(),
        _ => "G: sessions by pauses    ".to_owned(),
    };
    format!(
        "{own}F: which runs    {other}P: keep it as files    PgDn: read on    Esc: back to the lane"
    )
}

/// What a room needs to work its keys.
#[derive(bevy::ecs::system::SystemParam)]
pub struct Desk<'w> {
    book: Res<'w, Book>,
    store: Res<'w, Store>,
    keyboard: Res<'w, ButtonInput<KeyCode>>,
}

/// Works the keys of whatever lies on the table.
pub fn work_keys(
    mut events: MessageReader<KeyboardInput>,
    screen: Res<State<Screen>>,
    desk: Desk,
    mut keeper: Keeper,
    mut room: ResMut<WeeksRoom>,
    mut typing: ResMut<rooms::Typing>,
    mut next: ResMut<NextState<Screen>>,
) {
    let keys = typed(&mut events);
    if screen.is_changed() {
        return;
    }
    for key in keys {
        match room.leaf {
            Leaf::Page if key == Typed::Escape => next.set(Screen::Lane),
            Leaf::Page if is_letter(key, 'p') => {
                if let Some(answer) = room.answer.as_ref().filter(|a| a.screen == **screen) {
                    keeper.keep(
                        if **screen == Screen::Review { "Review" } else { "Weeks" },
                        &answer.page,
                    );
                }
            }
            Leaf::Page => work_page(&mut room, *screen.get(), key, &desk),
            Leaf::Choose(_) => work_choice(&mut room, key),
            Leaf::Runs => work_runs(&mut room, key, &desk),
            Leaf::Reason(_) => work_reason(&mut room, key, &desk),
            Leaf::Replay(_) => work_replay(&mut room, key, &desk),
        }
    }
    if desk.keyboard.just_pressed(KeyCode::Home)
        && let Leaf::Replay(playing) = &mut room.leaf
    {
        playing.restart();
    }
    let wanted = matches!(room.leaf, Leaf::Reason(_));
    if typing.0 != wanted {
        typing.0 = wanted;
    }
}

fn work_page(room: &mut WeeksRoom, screen: Screen, key: Typed, desk: &Desk) {
    let Typed::Key(key) = key else { return };
    let on_review = screen == Screen::Review;
    match key {
        Key::Letter('u' | 'U') if !room.setups.is_empty() => {
            room.at = (room.at + 1) % room.setups.len();
            room.filter = Some(Filter::of_setup(&room.setups[room.at]));
            room.of_run = None;
        }
        Key::Letter('g' | 'G') if !on_review => room.by_gap = !room.by_gap,
        Key::Letter('f' | 'F') => {
            let lines = OwnLines::from(&**desk.book.lines());
            let filter = room.filter.clone().or_else(|| Filter::of_newest(&lines));
            let today = clock::wall_time().get(..10).and_then(|day| day.parse().ok());
            let choices = Choices::of(&lines, &filter.unwrap_or_default(), today);
            room.leaf = Leaf::Choose(Box::new(Choosing::new(choices)));
        }
        Key::Letter('r' | 'R') if room.review().is_some() => room.leaf = Leaf::Runs,
        Key::Left | Key::Right if on_review => {
            let beside =
                room.review().and_then(|r| r.beside[usize::from(key == Key::Right)].clone());
            if beside.is_some() {
                (room.of_run, room.run) = (beside, 0);
            }
        }
        _ => {}
    }
}

fn work_choice(room: &mut WeeksRoom, key: Typed) {
    let Leaf::Choose(choosing) = &mut room.leaf else { return };
    match key {
        Typed::Key(Key::Next) => choosing.step(true),
        Typed::Key(Key::Previous) => choosing.step(false),
        Typed::Key(Key::Left) => choosing.turn(false),
        Typed::Key(Key::Right) => choosing.turn(true),
        Typed::Enter => {
            room.filter = Some(choosing.choices.filter());
            (room.of_run, room.run, room.leaf) = (None, 0, Leaf::Page);
        }
        Typed::Escape => room.leaf = Leaf::Page,
        Typed::Key(_) => {}
    }
}

fn work_runs(room: &mut WeeksRoom, key: Typed, desk: &Desk) {
    let Some(review) = room.review() else {
        room.leaf = Leaf::Page;
        return;
    };
    let last = review.runs.len().saturating_sub(1);
    let Some(run) = review.runs.get(room.run).cloned() else { return };
    match key {
        Typed::Key(Key::Next) => room.run = (room.run + 1).min(last),
        Typed::Key(Key::Previous) => room.run = room.run.saturating_sub(1),
        Typed::Escape => (room.leaf, room.news) = (Leaf::Page, None),
        Typed::Key(Key::Letter('x' | 'X')) if run.left_out.is_some() => {
            room.news = Some(hand_in(desk, runs::taking_in(&run.id), "It counts again."));
        }
        Typed::Key(Key::Letter('x' | 'X')) => room.leaf = Leaf::Reason(runs::reason_form()),
        Typed::Enter => {
            let record = desk.book.lines().trials.get(run.run).filter(|record| record.id == run.id);
            match record.and_then(|record| Playing::new(record, room.run, run)) {
                Some(playing) => room.leaf = Leaf::Replay(Box::new(playing)),
                None => {
                    room.news = Some("Of this run no lamp and no launch was recorded.".to_owned())
                }
            }
        }
        Typed::Key(_) => {}
    }
}

fn work_reason(room: &mut WeeksRoom, key: Typed, desk: &Desk) {
    let id = room.review().and_then(|review| Some(review.runs.get(room.run)?.id.clone()));
    let Leaf::Reason(form) = &mut room.leaf else { return };
    match (key, id) {
        (Typed::Key(key), _) => {
            form.take(key);
        }
        (Typed::Enter, Some(id)) => match runs::leaving_out(&id, form.text(())) {
            Ok(line) => {
                let done = "Left out; if it was red, it stays counted as one.";
                room.news = Some(hand_in(desk, line, done));
                room.leaf = Leaf::Runs;
            }
            Err(error) => form.say((), Some(error.to_string())),
        },
        (Typed::Enter | Typed::Escape, _) => room.leaf = Leaf::Runs,
    }
}

/// Hands a line to the writer; what is said of it.
fn hand_in(desk: &Desk, line: ExclusionLine, done: &str) -> String {
    match desk.store.submit(line) {
        Ok(_) => done.to_owned(),
        Err(error) => format!("Not saved: {error}"),
    }
}

/// A line that could not be saved is said.
pub fn hear_failures(mut news: MessageReader<SaveNews>, mut room: ResMut<WeeksRoom>) {
    for SaveNews(event) in news.read() {
        if let SaveEvent::SaveFailed { why, .. } = event
            && room.news.is_some()
        {
            room.news = Some(format!("Not saved: {why}. It is tried again."));
        }
    }
}

fn work_replay(room: &mut WeeksRoom, key: Typed, desk: &Desk) {
    let shift = desk.keyboard.any_pressed([KeyCode::ShiftLeft, KeyCode::ShiftRight]);
    let step = if shift { STEPS_S.1 } else { STEPS_S.0 };
    let Leaf::Replay(playing) = &mut room.leaf else { return };
    match key {
        Typed::Key(Key::Right) => playing.step(step),
        Typed::Key(Key::Left) => playing.step(-step),
        Typed::Key(Key::Previous) => playing.faster(true),
        Typed::Key(Key::Next) => playing.faster(false),
        Typed::Key(Key::Letter(' ')) => playing.toggle(),
        Typed::Enter | Typed::Escape => room.leaf = Leaf::Runs,
        Typed::Key(_) => {}
    }
}
