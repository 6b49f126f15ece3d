//! Steps a run: what was seen, what was pressed, what is due.
//!
//! Owns the order in which news reaches the machine and the rules of asking for a run. Refuses
//! judging and drawing.

use super::guide::Guide;
use super::live::{Ending, Live, Phase};
use super::prompt::{Names, Prompt, VERDICT_STANDS, holds, prompt};
use super::session::Session;
use super::words::{lamp_word, lane_word};
use crate::app::clock::{self, Now};
use crate::app::garage::Garage;
use crate::app::guest::{self, Guest};
use crate::app::onset::{Frames, ScreenPlace};
use crate::app::presses::{Act, Bindings, ControlNews, Edge, Presses, Who};
use crate::app::trace_file::TraceFile;
use crate::app::{AppSystems, Screen};
use crate::beams::Pedal;
use crate::car::EdgeAnswer;
use crate::drill::Moment;
use crate::press::EdgeKind;
use crate::tree::{AbandonReason, BreakOff, Lamp, LampSet, Lane, TreeEvent, VoidReason};
use crate::trial::Drill;
use crate::units::{Mark, Span};
use bevy::prelude::*;
use bevy::window::WindowCloseRequested;

/// A presented interval longer than this many running medians is a hitch (chosen).
const HITCH_PERIODS: i64 = 2;

/// A control that starts a run by being held has to be held this long first (chosen: a tap is no
/// start).
const HOLD_TO_START: Span = Span::from_ms(300);

pub(super) fn plugin(app: &mut App) {
    let steps = (see_frames, take_edges, take_breaks, begin_asked_run, poll_machine, arm_sources);
    // Edges before breaks: a launch edge and a lost focus of one update leave a run that counts.
    app.add_systems(
        Update,
        steps.chain().in_set(AppSystems::StepTree).run_if(in_state(Screen::Lane)),
    );
    app.add_systems(OnExit(Screen::Lane), disarm_sources);
    app.add_systems(
        Update,
        (decide_lamps, write_prompt)
            .chain()
            .in_set(AppSystems::Present)
            .run_if(in_state(Screen::Lane)),
    );
}

/// Tells the machine which lamps were seen, and notices hitches.
fn see_frames(
    frames: Res<Frames>,
    place: Res<ScreenPlace>,
    mut phase: ResMut<Phase>,
    mut trace: ResMut<TraceFile>,
    now: Res<Now>,
) {
    let Some(live) = phase.live_mut() else { return };
    for report in &frames.news {
        let (seen, later) = live.pending.iter().partition(|lamp| lamp.frame <= report.frame);
        live.pending = later;
        let seen: Vec<super::PendingLamp> = seen;
        for lamp in seen {
            let stamp = report.shown + place.delay_of(lamp.lane, lamp.lamp, &frames);
            live.machine.handle_shown(lamp.lane, lamp.lamp, stamp, frames.period());
            live.shown[lamp.lane.index()].push((lamp.lamp, stamp, report.grade));
            trace.event(format_args!(
                "shown {} {} {} {} {} {} {}",
                lane_word(lamp.lane),
                lamp_word(lamp.lamp),
                stamp.earliest().ns(),
                stamp.best().ns(),
                stamp.latest().ns(),
                report.decided.ns(),
                report.grade.word()
            ));
        }
        if let Ending::Told { drawn_in: Some(frame), seen, .. } = &mut live.ending
            && seen.is_none()
            && *frame <= report.frame
        {
            *seen = Some(report.shown.best());
        }
    }
    let late = frames.last_interval().filter(|_| !frames.news.is_empty());
    if live.is_running()
        && live.ambers_began(now.mark)
        && late.is_some_and(|gap| gap > frames.period() * HITCH_PERIODS)
    {
        live.hitch = true;
    }
}

/// Pause, lost focus, a lost pad, a window to be closed.
fn take_breaks(
    now: Res<Now>,
    mut news: MessageReader<ControlNews>,
    mut closing: MessageReader<WindowCloseRequested>,
    keyboard: Res<ButtonInput<KeyCode>>,
    mut phase: ResMut<Phase>,
    mut next: ResMut<NextState<Screen>>,
    mut trace: ResMut<TraceFile>,
) {
    let paused = keyboard.just_pressed(KeyCode::Escape);
    let closes = closing.read().next().is_some();
    let (mut focus_lost, mut pad_gone) = (false, false);
    for news in news.read() {
        match news {
            ControlNews::FocusLost => focus_lost = true,
            ControlNews::PadGone(_) => pad_gone = true,
        }
    }
    let why = match (closes, paused, focus_lost) {
        (true, _, _) => Some(AbandonReason::Closed),
        (_, true, _) => Some(AbandonReason::Paused),
        (_, _, true) => Some(AbandonReason::FocusLost),
        _ => None,
    };
    let mut may_open_menu = true;
    match &mut *phase {
        Phase::Live(live) if live.is_running() => {
            let you = live.you;
            let people = if live.beside.is_some() { &Lane::BOTH[..] } else { &[you][..] };
            for lane in people {
                if pad_gone && live.machine.launch(*lane).is_none() {
                    live.machine.void(now.mark, *lane, VoidReason::ControlLost);
                }
            }
            if let (Some(why), true) = (why, live.beside.is_some()) {
                live.machine.break_off(now.mark, you.other(), why);
            }
            match why.map(|why| live.machine.break_off(now.mark, you, why)) {
                Some(BreakOff::StoodDown) => {
                    trace.event("stood-down");
                    *phase = Phase::Ready;
                }
                // A launch edge was seen: the run goes on to its verdict, the menu can wait.
                Some(BreakOff::Counts) => may_open_menu = false,
                Some(BreakOff::Abandoned) | None => {}
            }
        }
        Phase::Asked { .. } if why.is_some() => *phase = Phase::Ready,
        _ => {}
    }
    if paused && may_open_menu {
        next.set(Screen::Menu);
    }
}

/// Whether the next run may be asked for, or something comes before it.
#[derive(bevy::ecs::system::SystemParam)]
struct Asking<'w> {
    session: ResMut<'w, Session>,
    guide: ResMut<'w, Guide>,
    guest_seat: Res<'w, Guest>,
    next: ResMut<'w, NextState<Screen>>,
}

impl Asking<'_> {
    fn ask(&mut self, phase: &mut Phase, now: Mark) {
        if self.guide.step(&self.session).is_some() {
            self.guide.go_on(&self.session);
            if self.guide.explains(&self.session) {
                return;
            }
        }
        // An aim is declared before it is held.
        if self.session.drill() == Drill::HoldAnAim && self.session.aim_to_hold().is_none() {
            return;
        }
        match self.session.night(now) {
            Some(Moment::Waiting { .. }) => {}
            Some(Moment::Over) => {
                *phase = Phase::Ready;
                self.next.set(Screen::Night);
            }
            Some(Moment::Called { .. }) | None => *phase = Phase::Asked { since: now },
        }
    }
}

/// Pedals, launches, and asking for the next run.
fn take_edges(
    now: Res<Now>,
    mut edges: MessageReader<Edge>,
    garage: Res<Garage>,
    mut asking: Asking,
    mut phase: ResMut<Phase>,
    mut trace: ResMut<TraceFile>,
) {
    for Edge { edge, act, who } in edges.read() {
        let down = edge.edge == EdgeKind::Down;
        if let Some(pedal) = act.pedal() {
            if let Some(live) = phase.live_mut()
                && let Some(lane) = live.lane_of(*who)
            {
                live.machine.handle_control(edge.stamp.best(), lane, pedal, down);
            }
            continue;
        }
        match &mut *phase {
            Phase::Live(live) if live.is_running() => {
                let Some(lane) = live.lane_of(*who) else { continue };
                let launches_on = match (who, &asking.guest_seat.seat) {
                    (Who::Guest, Some(seat)) => seat.garage.edge(),
                    _ => garage.edge(),
                };
                let is_launch = match launches_on {
                    EdgeAnswer::Press => down,
                    EdgeAnswer::Release => !down,
                };
                if is_launch && live.machine.handle_launch(lane, edge.stamp) {
                    live.launch_edges[lane.index()] = Some(*edge);
                    let [earliest, best, latest] =
                        [edge.stamp.earliest(), edge.stamp.best(), edge.stamp.latest()];
                    let (e, b, l) = (earliest.ns(), best.ns(), latest.ns());
                    trace.event(format_args!("launch {e} {b} {l} {}", now.mark.ns()));
                }
            }
            // Nobody is there to press it.
            _ if *who == Who::Guest && asking.guest_seat.seat.is_none() => {}
            Phase::Live(live) if down && may_go_on(live, now.mark) => {
                asking.ask(&mut phase, now.mark);
            }
            Phase::Ready if down => asking.ask(&mut phase, now.mark),
            Phase::Asked { .. } if !down && holds(&asking.session, garage.edge()) => {
                *phase = Phase::Ready;
            }
            _ => {}
        }
    }
}

/// The verdict has stood long enough to be read, and is not only waiting for the disk.
fn may_go_on(live: &Live, now: Mark) -> bool {
    match &live.ending {
        Ending::Told { seen: Some(seen), .. } => now - *seen >= VERDICT_STANDS,
        _ => false,
    }
}

/// Begins the run that was asked for, once the launch control is up (or has been held).
fn begin_asked_run(
    now: Res<Now>,
    presses: Res<Presses>,
    bindings: Res<Bindings>,
    garage: Res<Garage>,
    guest: Res<Guest>,
    mut session: ResMut<Session>,
    mut phase: ResMut<Phase>,
    mut trace: ResMut<TraceFile>,
) {
    let Phase::Asked { since } = *phase else { return };
    let is_down =
        |who| bindings.controls_of(who, Act::Launch).into_iter().any(|c| presses.is_held(c));
    let held = is_down(Who::Driver) || (!holds(&session, garage.edge()) && is_down(Who::Guest));
    let ready = if holds(&session, garage.edge()) {
        held && now.mark - since >= HOLD_TO_START
    } else {
        !held
    };
    if ready {
        let number = session.run_of_drill();
        let seat = guest.in_drill(session.drill());
        let seat = seat.map(|seat| (seat, guest::offset(&session, &presses)));
        let began = clock::wall_time();
        let creeps_in_gear = bindings.driver.holds_to_brake();
        let driver = (&*garage, creeps_in_gear);
        let mut live = Live::start(&mut session, driver, seat, now.mark, began);
        if creeps_in_gear
            && bindings.controls_of(Who::Driver, Act::Brake).into_iter().any(|c| presses.is_held(c))
        {
            // Who comes with a foot on the brake stands.
            let you = live.you;
            live.machine.handle_control(now.mark, you, Pedal::Brake, true);
        }
        let drill = super::words::drill_word(live.drill);
        trace.event(format_args!("run {number} {drill}"));
        *phase = Phase::Live(Box::new(live));
    }
}

/// Brings the machine up to now and writes its news to the trace.
fn poll_machine(now: Res<Now>, mut phase: ResMut<Phase>, mut trace: ResMut<TraceFile>) {
    let Some(live) = phase.live_mut() else { return };
    live.machine.poll(now.mark);
    for line in live.machine.take_events() {
        match line.event {
            TreeEvent::Armed { first_amber } => {
                trace.event(format_args!("armed {}", first_amber.ns()));
            }
            TreeEvent::LampDue { lane, lamp } => trace.event(format_args!(
                "due {} {} {}",
                lane_word(lane),
                lamp_word(lamp),
                line.at.ns()
            )),
            TreeEvent::Beams { lane, state } => {
                trace.event(format_args!("beams {} {state:?} {}", lane_word(lane), line.at.ns()))
            }
            TreeEvent::LampShown { .. } | TreeEvent::Launch { .. } => {}
            TreeEvent::SentBack { lane, why } => {
                trace.event(format_args!("sent-back {} {why:?}", lane_word(lane)));
            }
            TreeEvent::CourtesyBroken { lane } => {
                trace.event(format_args!("courtesy-broken {}", lane_word(lane)));
            }
            TreeEvent::Steady { lane } => {
                trace.event(format_args!("steady {}", lane_word(lane)));
            }
            TreeEvent::TimeOutStarted { lane, ends } => {
                trace.event(format_args!("time-out {} {}", lane_word(lane), ends.ns()))
            }
            TreeEvent::TimedOut { lane } => {
                trace.event(format_args!("timed-out {}", lane_word(lane)));
            }
            TreeEvent::Disarmed => trace.event("disarmed"),
            TreeEvent::Cleared { lane } => {
                trace.event(format_args!("cleared {} {}", lane_word(lane), line.at.ns()))
            }
            TreeEvent::Settled { lane, outcome } => {
                trace.event(format_args!("settled {} {outcome:?}", lane_word(lane)));
            }
            TreeEvent::FoulLoses { lane } => {
                trace.event(format_args!("foul-loses {}", lane_word(lane)));
            }
        }
    }
}

/// Raw sources listen from staged to launch, and only while the window has the focus.
fn arm_sources(
    phase: Res<Phase>,
    bindings: Res<Bindings>,
    windows: Query<&Window>,
    mut presses: ResMut<Presses>,
) {
    let focused = windows.iter().next().is_none_or(|window| window.focused);
    let staged = phase.live().is_some_and(|live| {
        live.is_running()
            && live.people().any(|lane| {
                live.machine.launch(lane).is_none()
                    && live.machine.beams(lane).is_some_and(|beams| beams.lights_stage())
            })
    });
    presses.arm(staged && focused, &bindings);
}

fn disarm_sources(mut presses: ResMut<Presses>, bindings: Res<Bindings>) {
    presses.arm(false, &bindings);
}

/// Finds the words for now; they are traced when they change.
pub(super) fn write_prompt(
    now: Res<Now>,
    phase: Res<Phase>,
    session: Res<Session>,
    garage: Res<Garage>,
    guide: Res<Guide>,
    bindings: Res<Bindings>,
    mut shown: ResMut<Prompt>,
    mut trace: ResMut<TraceFile>,
) {
    let wanted = prompt(&phase, &session, &guide, &Names::of(&bindings), garage.edge(), now.mark);
    if *shown != wanted {
        trace.event(wanted.event());
        *shown = wanted;
    }
}

/// Decides which lamps the frame of this update shows. Lamps of the countdown light in the frame
/// that will be seen nearest their due mark.
fn decide_lamps(now: Res<Now>, frames: Res<Frames>, mut phase: ResMut<Phase>) {
    let Some(live) = phase.live_mut() else { return };
    let show_at = now.mark + frames.lead() + frames.period().half();
    for lane in Lane::BOTH {
        let lit = live.machine.lamps(lane, now.mark, show_at);
        let before = std::mem::replace(&mut live.lit[lane.index()], lit);
        let ambers = live.machine.setup().kind.ambers();
        let lamps = [Lamp::PreStage, Lamp::Stage, Lamp::Green, Lamp::Red]
            .into_iter()
            .chain((0..ambers).map(Lamp::Amber));
        for lamp in lamps.filter(|lamp| is_lit(&lit, *lamp) && !is_lit(&before, *lamp)) {
            live.pending.push(super::PendingLamp { frame: now.frame, lane, lamp });
        }
    }
}

/// Lights a lamp of a set.
pub(super) fn light(lit: &mut LampSet, lamp: Lamp) {
    match lamp {
        Lamp::PreStage => lit.pre_stage = true,
        Lamp::Stage => lit.stage = true,
        Lamp::Amber(i) => {
            if let Some(amber) = lit.ambers.get_mut(usize::from(i)) {
                *amber = true;
            }
        }
        Lamp::Green => lit.green = true,
        Lamp::Red => lit.red = true,
    }
}

/// Whether a lamp is lit.
pub(super) fn is_lit(lit: &LampSet, lamp: Lamp) -> bool {
    match lamp {
        Lamp::PreStage => lit.pre_stage,
        Lamp::Stage => lit.stage,
        Lamp::Amber(i) => lit.ambers.get(usize::from(i)).copied().unwrap_or(false),
        Lamp::Green => lit.green,
        Lamp::Red => lit.red,
    }
}
