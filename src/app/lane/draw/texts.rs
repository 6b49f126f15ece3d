//! The words of the lane.
//!
//! Owns where each text stands, how large it is, and which words it shows now. From staged to
//! launch nothing here changes. Refuses to word verdicts and prompts: they come worded.

use super::panel::{depth, time_bar};
use super::place::Place;
use super::plan::{AMBERS, Scene, SceneItem, layer};
use crate::app::bindings::{Bindings, Who};
use crate::app::clock::Now;
use crate::app::data::DataPath;
use crate::app::garage::Garage;
use crate::app::guest::{Guest, Seat};
use crate::app::lane::paint::{Beam, TreeLayout};
use crate::app::lane::verdict::{Tone, figure};
use crate::app::lane::{Guide, Phase, Prompt, Session, Verdict, style_name};
use crate::app::theme::palette::{self, Rgb};
use crate::app::theme::{Fonts, color};
use crate::beams::BeamState;
use crate::controls::{Act, words as words_of};
use crate::report::help::drill_name;
use crate::tree::{Lamp, Lane, Outcome};
use crate::units::Span;
use bevy::prelude::*;
use bevy::sprite::Anchor;
use bevy::text::TextBounds;

/// What a text says.
#[derive(Component, Debug, Clone, Copy, PartialEq, Eq)]
pub enum Slot {
    Prompt,
    Sitting,
    TyreTitle,
    BeamName(Beam),
    TyreLine,
    RunTitle,
    Big,
    Word,
    Notes,
    Said,
    DriverPart,
    CarPart,
    AmberMark,
    GreenMark,
    DotsTitle,
    Hint,
    LampName(Lamp),
}

/// One of the last ten launches.
#[derive(Component, Debug, Clone, Copy)]
pub struct DotSprite(usize);

/// The line of perfect among the last ten.
#[derive(Component)]
pub struct ZeroLine;

/// A dot's place up or down covers this much of RT either way (chosen).
const DOT_RANGE: Span = Span::from_ms(250);

/// From the verdict's left edge to its word: a figure with its minus sign fits in between.
const WORD_AT: f32 = 196.0;

struct Spec {
    slot: Slot,
    at: (f32, f32),
    anchor: Anchor,
    size: f32,
    rgb: Rgb,
    medium: bool,
    wrap: Option<f32>,
}

/// Puts up every text of the lane, still empty.
pub fn spawn_texts(commands: &mut Commands, scene: &Scene, layout: &TreeLayout, fonts: &Fonts) {
    for spec in specs(scene, layout) {
        let place = &scene.place;
        // On whole pixels type stays sharp.
        let (x, y) = (spec.at.0.round(), spec.at.1.round());
        let font = if spec.medium { &fonts.medium } else { &fonts.regular };
        let size = place.length(place.at720(spec.size).max(10.0));
        let wrap = spec.wrap.map(|w| place.length(w));
        commands.spawn((
            SceneItem,
            spec.slot,
            Text2d::new(""),
            TextFont { font: font.clone(), ..TextFont::from_font_size(size) },
            TextColor(color(spec.rgb)),
            TextBounds { width: wrap, height: None },
            spec.anchor,
            Transform::from_translation(place.point(x, y, layer::TEXT)),
        ));
    }
    for i in 0..10 {
        let sprite = Sprite::from_color(color(palette::TEXT), Vec2::ONE);
        let at = Transform::from_xyz(0.0, 0.0, layer::BAR);
        commands.spawn((SceneItem, DotSprite(i), sprite, at, Visibility::Hidden));
    }
    let sprite = Sprite::from_color(color(palette::CLEAR).with_alpha(0.6), Vec2::ONE);
    let at = Transform::from_xyz(0.0, 0.0, layer::BAR - 0.5);
    commands.spawn((SceneItem, ZeroLine, sprite, at, Visibility::Hidden));
}

fn specs(scene: &Scene, layout: &TreeLayout) -> Vec<Spec> {
    let p = &scene.place;
    let px = |v: f32| p.at720(v);
    let (width, height) = (p.width as f32, p.height as f32);
    let bottom = scene.view.scene_height_px() as f32;
    let housing = layout.housing();
    let (margin, gap) = (px(40.0), px(30.0));
    let right = width - margin;
    let verdict = scene.verdict_x();
    let bar = scene.bar_area();
    // The prompt stands on the own side of the tree, the count of the sitting on the other.
    let left_room = housing.x - gap - margin;
    let right_room = right - housing.right() - gap;
    let beside = housing.right() + gap;
    let (prompt_at, prompt_room, sitting_at, sitting_anchor) = match scene.lane {
        Lane::Left => (margin, left_room, right, Anchor::TOP_RIGHT),
        Lane::Right => (beside, right_room, margin, Anchor::TOP_LEFT),
    };
    let spec = |slot, at, anchor, size, rgb| Spec {
        slot,
        at,
        anchor,
        size,
        rgb,
        medium: false,
        wrap: None,
    };
    let (tl, tc) = (Anchor::TOP_LEFT, Anchor::TOP_CENTER);
    let (muted, text) = (palette::MUTED, palette::TEXT);
    let mut specs = vec![
        Spec {
            medium: true,
            wrap: Some(prompt_room),
            ..spec(Slot::Prompt, (prompt_at, px(30.0)), tl, 28.0, text)
        },
        spec(Slot::Sitting, (sitting_at, px(34.0)), sitting_anchor, 16.0, text),
        spec(Slot::TyreTitle, (margin, bottom + px(14.0)), tl, 14.0, muted),
        spec(Slot::TyreLine, (margin, bottom + px(192.0)), tl, 15.0, text),
        spec(Slot::RunTitle, (verdict, bottom + px(14.0)), tl, 14.0, muted),
        Spec { medium: true, ..spec(Slot::Big, (verdict, bottom + px(30.0)), tl, 62.0, text) },
        Spec {
            medium: true,
            ..spec(Slot::Word, (verdict + px(WORD_AT), bottom + px(38.0)), tl, 22.0, text)
        },
        Spec {
            wrap: Some(right - verdict - px(WORD_AT)),
            ..spec(Slot::Notes, (verdict + px(WORD_AT), bottom + px(70.0)), tl, 14.0, muted)
        },
        Spec {
            wrap: Some(prompt_room),
            ..spec(Slot::Said, (prompt_at, px(108.0)), tl, 17.0, text)
        },
        spec(Slot::DriverPart, (0.0, 0.0), Anchor::CENTER, 15.0, palette::PANEL),
        spec(Slot::CarPart, (0.0, 0.0), Anchor::CENTER, 15.0, palette::PANEL),
        spec(Slot::AmberMark, (0.0, bar.bottom() + px(12.0)), tl, 13.0, muted),
        spec(Slot::GreenMark, (0.0, bar.bottom() + px(14.0)), tc, 13.0, palette::CLEAR),
        spec(Slot::DotsTitle, (width - margin - px(230.0), bottom + px(14.0)), tl, 14.0, muted),
        spec(Slot::Hint, (right, height - px(12.0)), Anchor::BOTTOM_RIGHT, 13.0, muted),
    ];
    for beam in Beam::ALL {
        let (x, y) = scene.beams.label_anchor(beam);
        let at = (scene.beams_at.0 + x, scene.beams_at.1 + y + px(2.0));
        specs.push(spec(Slot::BeamName(beam), at, tc, 13.0, muted));
    }
    // The names of the lamps stand beside the far column, where they hide nothing.
    let far = match scene.lane {
        Lane::Left => (housing.right() + px(14.0), Anchor::TOP_LEFT),
        Lane::Right => (housing.x - px(14.0), Anchor::TOP_RIGHT),
    };
    for lamp in [Lamp::PreStage, Lamp::Stage, Lamp::Amber(2), Lamp::Green, Lamp::Red] {
        if let Some(spot) = layout.lamp(Lane::Left, lamp) {
            let at = (far.0, spot.centre.1 - px(9.0));
            specs.push(spec(Slot::LampName(lamp), at, far.1, 14.0, text));
        }
    }
    specs
}

type Words<'w, 's> = Query<
    'w,
    's,
    (
        &'static Slot,
        &'static mut Text2d,
        &'static mut Transform,
        &'static mut TextColor,
        &'static mut TextFont,
    ),
>;

/// What the words are made of.
#[derive(bevy::ecs::system::SystemParam)]
pub struct Known<'w> {
    now: Res<'w, Now>,
    phase: Res<'w, Phase>,
    prompt: Res<'w, Prompt>,
    session: Res<'w, Session>,
    garage: Res<'w, Garage>,
    verdict: Res<'w, Verdict>,
    guide: Res<'w, Guide>,
    guest: Res<'w, Guest>,
    bindings: Res<'w, Bindings>,
    data: Option<Res<'w, DataPath>>,
}

/// Writes every text that changed.
pub fn write_texts(scene: Option<Res<Scene>>, known: Known, mut texts: Words) {
    let Some(scene) = scene else { return };
    let bar = time_bar(&scene, &known.verdict);
    for (slot, mut text, mut at, mut ink, mut font) in &mut texts {
        let words = words(*slot, &known, &scene);
        if text.0 != words {
            text.0 = words;
        }
        match slot {
            Slot::Big => {
                // A figure is large; words have to fit.
                let is_figure = known.verdict.parts.is_some();
                let size = if is_figure { 62.0 } else { 34.0 };
                let size = scene.place.length(scene.place.at720(size)).into();
                if font.font_size != size {
                    font.font_size = size;
                }
            }
            Slot::Word => ink.0 = color(tone(known.verdict.tone)),
            Slot::Notes => {
                // Beside a figure, under words.
                let p = &scene.place;
                let below = scene.view.scene_height_px() as f32;
                let (x, y) = match known.verdict.parts {
                    Some(_) => (scene.verdict_x() + p.at720(WORD_AT), below + p.at720(70.0)),
                    None => (scene.verdict_x(), below + p.at720(78.0)),
                };
                at.translation = p.point(x, y, layer::TEXT);
            }
            _ => {}
        }
        let Some(bar) = &bar else { continue };
        let z = at.translation.z;
        match slot {
            Slot::DriverPart => at.translation = scene.place.middle(bar.driver, z),
            Slot::CarPart => at.translation = scene.place.middle(bar.car, z),
            Slot::AmberMark => at.translation.x = scene.place.point(bar.amber_x, 0.0, z).x,
            Slot::GreenMark => at.translation.x = scene.place.point(bar.green_x, 0.0, z).x,
            _ => {}
        }
    }
}

fn tone(tone: Tone) -> Rgb {
    match tone {
        Tone::Plain => palette::TEXT,
        Tone::Clear => palette::CLEAR,
        Tone::Foul => palette::RISK,
    }
}

fn words(slot: Slot, known: &Known, scene: &Scene) -> String {
    let verdict = &known.verdict;
    let told = *verdict.as_ref() != Verdict::default();
    let parts = verdict.parts;
    let narrow = |span: Span| scene.bar_area().width * span.as_secs_f64() as f32 / 0.63;
    let fits = |span: Span| narrow(span) > scene.place.at720(90.0);
    match slot {
        Slot::Prompt => known.prompt.text.clone(),
        Slot::Sitting => {
            let beside = known.guest.in_drill(known.session.drill());
            let beside = beside.map(|seat| beside_words(seat, &known.bindings)).unwrap_or_default();
            sitting(&known.session, known.data.as_deref().is_some_and(DataPath::is_demo)) + &beside
        }
        Slot::TyreTitle => "Front tyre over the beams, to scale".to_owned(),
        Slot::BeamName(beam) => match beam {
            Beam::PreStage => "pre-stage",
            Beam::Stage => "stage",
            Beam::Guard => "guard",
        }
        .to_owned(),
        Slot::TyreLine => tyre_line(known),
        Slot::RunTitle if told => format!("Run {}", known.session.tally().total()),
        Slot::Big => verdict.big.clone(),
        Slot::Word if parts.is_some() => verdict.word.clone(),
        Slot::Notes => verdict.notes.join("\n"),
        Slot::Said => verdict.said.join("\n"),
        Slot::DriverPart => match parts {
            Some(p) if fits(p.driver()) => format!("you {}", figure(p.driver())),
            _ => String::new(),
        },
        Slot::CarPart => match parts {
            Some(p) if fits(p.car) => format!("car {}", figure(p.car)),
            _ => String::new(),
        },
        Slot::AmberMark if parts.is_some() => "last amber".to_owned(),
        Slot::GreenMark => parts.map(|p| format!("green {}", p.interval)).unwrap_or_default(),
        Slot::DotsTitle if told && shows_dots(&known.session) => "Last ten".to_owned(),
        Slot::Hint if known.verdict.parts.is_some() => "P: its slip    Esc: menu".to_owned(),
        Slot::Hint if known.phase.live().is_none() => "F1: help    Esc: menu".to_owned(),
        Slot::Hint => "Esc: menu".to_owned(),
        Slot::LampName(lamp) => {
            let name = lamp_name(lamp);
            match (points_at(known, lamp), scene.lane) {
                (false, _) => name.to_owned(),
                // An arrow from the name to the lamps.
                (true, Lane::Left) => format!("\u{2190} {name}"),
                (true, Lane::Right) => format!("{name} \u{2192}"),
            }
        }
        _ => String::new(),
    }
}

/// Whether the guide speaks of this lamp now; the name of the last amber stands for all of them.
fn points_at(known: &Known, lamp: Lamp) -> bool {
    let step = known.guide.step(&known.session);
    let lamps = step.map(|step| step.lamps(AMBERS)).unwrap_or_default();
    lamps.contains(&lamp)
}

fn lamp_name(lamp: Lamp) -> &'static str {
    match lamp {
        Lamp::PreStage => "pre-stage",
        Lamp::Stage => "stage",
        Lamp::Amber(_) => "last amber",
        Lamp::Green => "green",
        Lamp::Red => "red light",
    }
}

/// Who drives the other lane, with which keys, and how it went.
fn beside_words(seat: &Seat, bindings: &Bindings) -> String {
    let key = |act| bindings.controls_of(Who::Guest, act).into_iter().next().map(words_of);
    let keys = Act::ALL.into_iter().filter_map(|act| Some(format!("{}: {act}", key(act)?)));
    let keys: Vec<String> = keys.collect();
    let keys = keys.chunks(2).map(|two| two.join("   ")).collect::<Vec<_>>().join("\n");
    let tally = if seat.tally.total() == 0 { String::new() } else { format!("\n{}", seat.tally) };
    format!("\n\n{} in the other lane\n{keys}{tally}", seat.profile.name)
}

fn sitting(session: &Session, demo: bool) -> String {
    let marked = if demo { "DEMO, all made up\n" } else { "" };
    let tally = session.tally();
    let counted = if tally.total() == 0 || !session.shows_numbers() {
        String::new()
    } else {
        format!("\n{tally}")
    };
    format!(
        "{marked}{}, run {} of {}\n{}{counted}",
        drill_name(session.drill()),
        session.run_of_drill(),
        session.drill_length(),
        match style_name(session.style()) {
            "react" => "You react to the last amber",
            _ => "You time the last amber",
        },
    )
}

/// Depth, what is left to roll, and the car part with what it rests on.
fn tyre_line(known: &Known) -> String {
    let depth = depth(&known.phase, &known.garage, *known.now);
    let zones = known.garage.zones();
    let model = known.garage.model();
    let rests = if model.assumed() { " (assumed)" } else { "" };
    let car = |part: Span| {
        format!(
            "car part {part} \u{b1} {}{rests}",
            Span::from_secs_f64(model.car_part().seconds.sd)
        )
    };
    let told = known.phase.live().filter(|live| !live.is_running());
    if let Some(launch) = told.and_then(|live| live.machine.launch(live.you)) {
        let part = car(launch.clears - launch.stamp.best());
        return format!("{:.1} in deep at your launch: {part}", launch.depth.0);
    }
    match zones.state(depth) {
        BeamState::Out | BeamState::PreStaged => format!("{:.1} in to the stage beam", -depth.0),
        BeamState::Past => "through the beams".to_owned(),
        BeamState::Staged | BeamState::Deep => {
            let (left, part) = (zones.remaining(depth).0, car(known.garage.car_part_at(depth)));
            format!("{:.1} in deep, {left:.1} in left to roll: {part}", depth.0)
        }
    }
}

type Dots<'w, 's> = Query<
    'w,
    's,
    (&'static DotSprite, &'static mut Sprite, &'static mut Transform, &'static mut Visibility),
    Without<ZeroLine>,
>;

/// Places the last ten launches about the line of perfect.
pub fn place_dots(
    scene: Option<Res<Scene>>,
    session: Res<Session>,
    verdict: Res<Verdict>,
    mut dots: Dots,
    mut line: Query<(&mut Sprite, &mut Transform, &mut Visibility), With<ZeroLine>>,
) {
    let Some(scene) = scene else { return };
    let told = *verdict != Verdict::default() && shows_dots(&session);
    let area = dots_area(&scene);
    let visible = |on| if on { Visibility::Inherited } else { Visibility::Hidden };
    for (mut sprite, mut at, mut shown) in &mut line {
        shown.set_if_neq(visible(told));
        let rect = crate::app::lane::view::RectPx::new(area.0, area.1 - 1.0, area.2, 2.0);
        sprite.custom_size = Some(scene.place.size(rect));
        let z = at.translation.z;
        at.translation = scene.place.middle(rect, z);
    }
    let newest = session.dots().len().saturating_sub(1);
    for (dot, mut sprite, mut at, mut shown) in &mut dots {
        let found = session.dots().get(dot.0).filter(|_| told);
        shown.set_if_neq(visible(found.is_some()));
        let Some(found) = found else { continue };
        let share = found.rt.map_or(-1.0, |rt| {
            (rt.as_secs_f64() / DOT_RANGE.as_secs_f64()).clamp(-1.0, 1.0) as f32
        });
        let x = area.0 + (dot.0 as f32 + 0.5) / 10.0 * area.2;
        let y = area.1 - share * area.3;
        let size = scene.place.at720(if dot.0 == newest { 9.0 } else { 7.0 });
        let foul = !matches!(found.outcome, Outcome::Green);
        sprite.color = color(match (foul, dot.0 == newest) {
            (true, _) => palette::RISK,
            (false, true) => palette::TEXT,
            (false, false) => palette::MUTED,
        });
        sprite.custom_size = Some(Vec2::splat(scene.place.length(size)));
        let z = at.translation.z;
        at.translation = scene.place.point(x, y, z);
    }
}

/// Whether there are dots to be seen, and numbers may be.
fn shows_dots(session: &Session) -> bool {
    session.dots().len() > 1 && session.shows_numbers()
}

/// Left edge, line of perfect, width and half height of the last ten, px.
fn dots_area(scene: &Scene) -> (f32, f32, f32, f32) {
    let p: &Place = &scene.place;
    let width = p.at720(140.0);
    let left = p.width as f32 - p.at720(40.0) - width;
    let middle = scene.view.scene_height_px() as f32 + p.at720(34.0);
    (left, middle, width, p.at720(22.0))
}
