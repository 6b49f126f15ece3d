//! Edges of the bound controls, stamped.
//!
//! Owns the meeting of the window's key events with the sources, the bindings, and which controls
//! are held. Refuses what a control does.

pub use super::bindings::{Bindings, Who};
use super::clock::Now;
use super::press_sources::evdev::EvdevSource;
use super::press_sources::pad::{PadFact, PadSource};
use super::press_sources::x11::X11Source;
use super::trace_file::TraceFile;
pub use crate::controls::Act;
use crate::press::analog::Threshold;
use crate::press::{
    ClockBase, Control, EdgeKind, Matcher, Origin, SourceFact, StampedEdge, WindowEdge, keys,
};
use crate::units::Span;
use bevy::input::ButtonState;
use bevy::input::keyboard::KeyboardInput;
use bevy::input::mouse::{MouseButton, MouseButtonInput};
use bevy::prelude::*;
use bevy::window::WindowFocused;
use std::sync::Mutex;
use std::sync::mpsc::{Receiver, Sender, channel};

/// How much earlier than the last drain an event may have been sent and still only be in this one:
/// the window's own connection may lag behind the source's. Chosen; contradictions are counted.
const DRAIN_MARGIN: Span = Span::from_ms(3);

/// Where a trigger or pedal counts as down before anybody says otherwise: the decoder's own default.
const USUAL_THRESHOLD: f64 = 0.125;

/// A stamped edge of a bound control.
#[derive(Message, Debug, Clone, Copy)]
pub struct Edge {
    /// The edge.
    pub edge: StampedEdge,
    /// What the control does.
    pub act: Act,
    /// Whose it is.
    pub who: Who,
}

/// Something that happened to the controls as a whole.
#[derive(Message, Debug, Clone, PartialEq, Eq)]
pub enum ControlNews {
    /// The window lost the focus.
    FocusLost,
    /// A pad is gone.
    PadGone(String),
}

/// The matcher and the sources that feed it.
#[derive(Resource)]
pub struct Presses {
    matcher: Matcher,
    facts: Mutex<Receiver<SourceFact>>,
    pad_facts: Mutex<Receiver<PadFact>>,
    /// Kept so that the channel stays open where no source runs.
    _to: (Sender<SourceFact>, Sender<PadFact>),
    x11: Option<X11Source>,
    kernel: Option<EvdevSource>,
    pad: Option<PadSource>,
    armed: bool,
    /// The launch controls used last, the driver's and the second person's.
    launched_with: [Option<Control>; 2],
    /// What went down since the last update, bound or not: for binding anew.
    touched: Vec<Control>,
    /// Where a trigger or pedal counts as down, share of its travel.
    threshold: f64,
    /// Why the best source can't run here, in plain words.
    reason: Option<String>,
}

impl Presses {
    /// Without any source: every edge is only as sharp as a frame.
    pub fn frame_only() -> Self {
        Self::new(Matcher::default())
    }

    /// With the best sources that run here.
    pub fn with_sources() -> Self {
        let mut presses = Self::frame_only();
        match X11Source::start(presses._to.0.clone()) {
            Ok((source, clock)) => {
                presses.matcher = Matcher::new(1, clock);
                presses.x11 = Some(source);
            }
            Err(reason) => presses.reason = Some(reason),
        }
        presses.start_pads();
        presses
    }

    /// With the kernel's own events as well, which needs leave to read the keyboards.
    pub fn and_kernel(mut self) -> Self {
        match EvdevSource::start(&self._to.0) {
            Ok(source) => (self.kernel, self.reason) = (Some(source), None),
            Err(reason) => self.reason = Some(reason),
        }
        self
    }

    /// With pads only; `reason` says in plain words why keys have no source.
    pub fn pads_only(reason: &str) -> Self {
        let mut presses = Self::frame_only();
        presses.reason = Some(reason.to_owned());
        presses.start_pads();
        presses
    }

    fn start_pads(&mut self) {
        match PadSource::start(self._to.1.clone()) {
            Ok(source) => self.pad = Some(source),
            Err(reason) => info!("{reason}"),
        }
    }

    fn new(matcher: Matcher) -> Self {
        let (fact_to, facts) = channel();
        let (pad_to, pad_facts) = channel();
        Self {
            matcher,
            facts: Mutex::new(facts),
            pad_facts: Mutex::new(pad_facts),
            _to: (fact_to, pad_to),
            x11: None,
            kernel: None,
            pad: None,
            armed: false,
            launched_with: [None; 2],
            touched: Vec::new(),
            threshold: USUAL_THRESHOLD,
            reason: None,
        }
    }

    /// What gives the time of key presses.
    pub fn key_origin(&self) -> Origin {
        if self.kernel.as_ref().is_some_and(EvdevSource::is_listening) {
            Origin::Kernel
        } else if self.x11.as_ref().is_some_and(X11Source::is_listening) {
            Origin::Server
        } else {
            Origin::Frame
        }
    }

    /// One line on how presses are timed here.
    pub fn describe(&self) -> String {
        let how = match self.key_origin() {
            Origin::Kernel => "timed by the kernel",
            Origin::Server => "timed by a listener of their own (X11)",
            _ => "only as sharp as a frame",
        };
        match &self.reason {
            Some(reason) => format!("Presses: {how} ({reason})"),
            None => format!("Presses: {how}"),
        }
    }

    /// Why nothing better gives the time, in plain words.
    pub fn reason(&self) -> Option<&str> {
        self.reason.as_deref()
    }

    /// How the source in use has been doing, in one line.
    pub fn health(&self) -> String {
        let source = match self.launch_control() {
            Control::Key(_) | Control::Mouse(_) => self.key_origin(),
            _ => Origin::Pad,
        };
        self.matcher.health(source).sentence()
    }

    /// Where a trigger or pedal counts as down, share of its travel.
    pub fn threshold(&self) -> f64 {
        self.threshold
    }

    /// What is known of the display server's clock.
    pub fn clock_base(&self) -> ClockBase {
        self.matcher.server_clock().base()
    }

    /// The driver's launch control used last; the keyboard's until one was.
    pub fn launch_control(&self) -> Control {
        self.launch_control_of(Who::Driver)
    }

    /// A person's launch control used last; the keyboard's until one was.
    pub fn launch_control_of(&self, who: Who) -> Control {
        let name = if who == Who::Driver { "Space" } else { "KeyF" };
        let usual = || keys::key_named(name).expect("both names are in the table");
        self.launched_with[who as usize].unwrap_or_else(usual)
    }

    /// Where this control counts as down, share of its travel; none for a switch.
    pub fn threshold_of(&self, control: Control) -> Option<f64> {
        matches!(control, Control::PadAxis(_)).then_some(self.threshold)
    }

    /// Has triggers and pedals count as down at this share of their travel, 0 to 1; it is up again
    /// at half of it.
    pub fn set_threshold(&mut self, share: f64) {
        let Ok(threshold) = Threshold::new(share, share / 2.0) else { return };
        self.threshold = share;
        if let Some(pad) = &self.pad {
            pad.set_threshold(threshold);
        }
    }

    /// What went down since the last update, bound or not. Pads tell of what is not bound only while they
    /// are asked to.
    pub fn touched(&self) -> &[Control] {
        &self.touched
    }

    /// A pad's fact as its thread would send it.
    #[cfg(test)]
    pub fn tell_of_pad(&self, fact: PadFact) {
        self._to.1.send(fact).unwrap();
    }

    /// Has pads tell of everything that is pressed, or again of what is bound alone.
    pub fn hear_any_pad(&self, on: bool) {
        if let Some(pad) = &self.pad {
            pad.hear_any(on);
        }
    }

    /// Whether a control is down.
    pub fn is_held(&self, control: Control) -> bool {
        self.matcher.is_held(control)
    }

    /// Listens to the bound controls, or to nothing. Raw sources hear keys wherever the focus is,
    /// so they are armed only while a run is staged and the window has the focus.
    pub fn arm(&mut self, on: bool, bindings: &Bindings) {
        if self.armed == on {
            return;
        }
        self.armed = on;
        let controls = if on { bindings.controls() } else { Vec::new() };
        if let Some(kernel) = &self.kernel {
            kernel.arm(&controls);
            self.matcher.set_source_active(Origin::Kernel, on && kernel.is_listening());
        }
        if let Some(x11) = &self.x11 {
            let worked = x11.arm(&controls).is_ok() && x11.is_listening();
            self.matcher.set_source_active(Origin::Server, on && worked);
        }
    }
}

pub(super) fn plugin(app: &mut App) {
    app.add_message::<Edge>()
        .add_message::<ControlNews>()
        .add_systems(Update, read_presses.in_set(super::AppSystems::ReadPresses))
        .add_systems(Update, trace_listening.in_set(super::AppSystems::Present));
}

/// Turns the window's key events and the sources' facts into stamped edges.
pub(super) fn read_presses(
    now: Res<Now>,
    bindings: Res<Bindings>,
    mut presses: ResMut<Presses>,
    mut keyboard: MessageReader<KeyboardInput>,
    mut mouse: MessageReader<MouseButtonInput>,
    mut focus: MessageReader<WindowFocused>,
    mut edges: MessageWriter<Edge>,
    mut news: MessageWriter<ControlNews>,
    mut trace: ResMut<TraceFile>,
) {
    let presses = &mut *presses;
    presses.touched.clear();
    if let Ok(facts) = presses.facts.lock() {
        facts.try_iter().for_each(|fact| presses.matcher.source_fact(fact));
    }
    if let Some(pad) = presses.pad.as_ref().filter(|_| bindings.is_changed()) {
        // Pads speak to nobody else: they may be listened to all the time.
        pad.arm(&bindings.controls());
    }
    if let Ok(facts) = presses.pad_facts.lock() {
        for fact in facts.try_iter() {
            match fact {
                PadFact::Edge(fact) => {
                    if fact.edge == EdgeKind::Down {
                        presses.touched.push(fact.control);
                    }
                    presses.matcher.pad_edge(fact);
                }
                PadFact::Connected(name) => info!("pad: {name}"),
                PadFact::Disconnected(name, held) => {
                    presses.matcher.release_pad(&held);
                    news.write(ControlNews::PadGone(name));
                }
            }
        }
    }
    let of_keys = keyboard
        .read()
        .filter_map(|event| Some((control_of(event.key_code)?, event.state, event.repeat)));
    let of_mouse = mouse
        .read()
        .filter_map(|event| Some((mouse_control_of(event.button)?, event.state, false)));
    for (control, state, repeat) in of_keys.chain(of_mouse) {
        if state == ButtonState::Pressed && !repeat {
            presses.touched.push(control);
        }
        if bindings.act(control).is_none() {
            continue;
        }
        let edge = match state {
            ButtonState::Pressed => EdgeKind::Down,
            ButtonState::Released => EdgeKind::Up,
        };
        let drained = (now.before - DRAIN_MARGIN, now.mark);
        presses.matcher.window_edge(WindowEdge { control, edge, repeat, drained });
    }
    if focus.read().any(|event| !event.focused) {
        presses.matcher.release_all();
        news.write(ControlNews::FocusLost);
    }
    for edge in presses.matcher.poll(now.mark) {
        let bound = bindings.act(edge.control).zip(bindings.who(edge.control));
        let Some((act, who)) = bound else { continue };
        if act == Act::Launch {
            presses.launched_with[who as usize] = Some(edge.control);
        }
        trace.event(describe(&edge));
        edges.write(Edge { edge, act, who });
    }
}

/// Says when the raw source begins and ceases to listen, and what it has heard by then.
fn trace_listening(
    presses: Res<Presses>,
    mut told: Local<Option<bool>>,
    mut trace: ResMut<TraceFile>,
) {
    let Some(x11) = &presses.x11 else { return };
    if *told != Some(presses.armed) {
        *told = Some(presses.armed);
        let word = if presses.armed { "yes" } else { "no" };
        trace.event(format_args!("listening {word} {}", x11.events_seen()));
    }
}

/// The control a key of the window stands for; both sides use the W3C names of key positions.
pub fn control_of(key: KeyCode) -> Option<Control> {
    keys::key_named(&format!("{key:?}"))
}

/// The control a mouse button stands for.
fn mouse_control_of(button: MouseButton) -> Option<Control> {
    let name = match button {
        MouseButton::Left => "MouseLeft",
        MouseButton::Right => "MouseRight",
        MouseButton::Middle => "MouseMiddle",
        MouseButton::Back => "MouseBack",
        MouseButton::Forward => "MouseForward",
        MouseButton::Other(number) => return keys::mouse_from_x11(number.into()),
    };
    keys::key_named(name)
}

fn describe(edge: &StampedEdge) -> String {
    let direction = match edge.edge {
        EdgeKind::Down => "down",
        EdgeKind::Up => "up",
    };
    format!(
        "edge {} {direction} {} {} {} {}",
        keys::key_name(edge.control),
        edge.stamp.earliest().ns(),
        edge.stamp.best().ns(),
        edge.stamp.latest().ns(),
        origin_word(edge.origin),
    )
}

/// One word for what gave a time.
pub fn origin_word(origin: Origin) -> &'static str {
    match origin {
        Origin::Kernel => "kernel",
        Origin::Server => "server",
        Origin::Pad => "pad",
        Origin::Frame => "frame",
    }
}
