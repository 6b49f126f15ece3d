//! The kernel's input events: raw records of one device to edges with the kernel's time.
//!
//! Owns the meaning of a record and what a lost one leaves unknown. Refuses devices: records, key
//! states and arrivals are handed in.
//!
//! Codes are those of the public header `linux/input-event-codes.h`, their meaning that of the
//! kernel's `Documentation/input/event-codes.rst`: a key's value is 1 for down, 0 for up, 2 for an
//! auto-repeat; after SYN_DROPPED everything up to and including the next SYN_REPORT is to be
//! ignored and the device's state read anew. The device must have been told to date its events on
//! the monotonic clock (`EVIOCSCLOCKID`), which is ours; a record dated otherwise is noticed, and
//! then only its arrival counts.

use std::collections::{BTreeMap, BTreeSet};

use crate::press::analog::AnalogAxis;
use crate::press::keys::mouse_button;
use crate::press::server_time::WORST_DELIVERY;
use crate::press::{Control, EdgeKind, Origin, Reading, SourceFact};
use crate::units::{Mark, Span, Stamp};

const EV_SYN: u16 = 0;
const EV_KEY: u16 = 1;
const EV_ABS: u16 = 3;
const SYN_REPORT: u16 = 0;
const SYN_DROPPED: u16 = 3;

/// Codes of EV_KEY that are buttons: from BTN_MISC up to KEY_OK, the buttons of a directional pad,
/// and BTN_TRIGGER_HAPPY1 to 40.
const BUTTONS: [std::ops::Range<u16>; 3] = [0x100..0x160, 0x220..0x224, 0x2c0..0x2e8];

/// Of these the buttons of a mouse, BTN_MOUSE to BTN_TASK; a joystick's begin after them.
const MICE: std::ops::Range<u16> = 0x110..0x118;

/// One record of a device, the fields of the kernel's `struct input_event`.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub struct InputRecord {
    /// Whole seconds of its time.
    pub sec: i64,
    /// Microseconds of its time.
    pub usec: i64,
    /// The type of the event.
    pub kind: u16,
    /// Which key, axis or other part.
    pub code: u16,
    /// Its new value.
    pub value: i32,
}

impl InputRecord {
    /// Its time, if the device dates events on the monotonic clock.
    pub fn at(&self) -> Mark {
        let us = self.sec.saturating_mul(1_000_000).saturating_add(self.usec);
        Mark::from_ns(us.saturating_mul(1_000))
    }
}

/// The control behind a code of EV_KEY.
pub fn control_of_key(code: u16) -> Control {
    if MICE.contains(&code) {
        mouse_button(code)
    } else if BUTTONS.iter().any(|range| range.contains(&code)) {
        Control::PadButton(code)
    } else {
        Control::Key(code)
    }
}

/// What a record says.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Told {
    /// Nothing about a control.
    Nothing,
    /// An edge.
    Edge(SourceFact),
    /// Records were lost: read the state of the device now and hand it to
    /// [`EvdevDevice::restate`]; records until then are ignored, and this is said again.
    StateLost,
}

/// One device. For every control its edges alternate.
#[derive(Debug, Clone)]
pub struct EvdevDevice {
    down: BTreeSet<u16>,
    axes: BTreeMap<u16, AnalogAxis>,
    trust: Trust,
    /// Up to here nothing was lost.
    known: Mark,
}

#[derive(Debug, Clone, Copy, PartialEq, Eq)]
enum Trust {
    Known,
    /// Lost, and still inside the packet that is to be ignored.
    Dropping,
    Lost,
}

impl EvdevDevice {
    /// A device whose keys and buttons `down` were read as down at `at`. They give no edge now;
    /// their release will be one.
    pub fn new(down: impl IntoIterator<Item = u16>, at: Mark) -> Self {
        Self {
            down: down.into_iter().collect(),
            axes: BTreeMap::new(),
            trust: Trust::Known,
            known: at,
        }
    }

    /// Follows the axis of this code of EV_ABS from now on, as [`Control::PadAxis`]. The kernel
    /// reports changes only, so the axis should have been given its present value as first sample.
    pub fn follow_axis(&mut self, code: u16, axis: AnalogAxis) {
        self.axes.insert(code, axis);
    }

    /// Takes the next record, received at `arrival`.
    pub fn read(&mut self, record: InputRecord, arrival: Mark) -> Told {
        match (self.trust, record.kind, record.code) {
            (_, EV_SYN, SYN_DROPPED) => self.trust = Trust::Dropping,
            (Trust::Dropping | Trust::Lost, EV_SYN, SYN_REPORT) => {
                self.trust = Trust::Lost;
                return Told::StateLost;
            }
            (Trust::Known, kind, code) => {
                let reading = reading_of(&record, arrival);
                let fact = match kind {
                    EV_KEY => self.key(code, record.value, reading),
                    EV_ABS => self.axis(code, record.value, reading),
                    _ => None,
                };
                self.known = self.known.max(reading.own_stamp().earliest());
                return fact.map_or(Told::Nothing, Told::Edge);
            }
            _ => {}
        }
        Told::Nothing
    }

    /// Takes the state of the device read at `at` after [`Told::StateLost`]: the keys and buttons
    /// that are down and the values of the axes. The edges it must have missed lie anywhere between
    /// the last record before the loss and `at`; a press and release both lost stay unknown.
    pub fn restate(&mut self, down: &[u16], axes: &[(u16, i32)], at: Mark) -> Vec<SourceFact> {
        let now: BTreeSet<u16> = down.iter().copied().collect();
        let lag = (at - self.known).max(Span::ZERO);
        let reading = Reading::Arrival { arrival: at, lag };
        let released = self.down.difference(&now).map(|code| (*code, EdgeKind::Up));
        let pressed = now.difference(&self.down).map(|code| (*code, EdgeKind::Down));
        let mut facts: Vec<_> = released
            .chain(pressed)
            .map(|(code, edge)| fact(control_of_key(code), edge, reading))
            .collect();
        for (code, value) in axes {
            let axis = self.axes.get_mut(code);
            let crossed = axis.and_then(|a| a.sample_after_gap((*value).into(), Stamp::exact(at)));
            facts.extend(crossed.map(|crossed| crossing(*code, crossed, at)));
        }
        self.down = now;
        self.known = self.known.max(at);
        self.trust = Trust::Known;
        facts
    }

    fn key(&mut self, code: u16, value: i32, reading: Reading) -> Option<SourceFact> {
        let (edge, moved) = match value {
            1 => (EdgeKind::Down, self.down.insert(code)),
            0 => (EdgeKind::Up, self.down.remove(&code)),
            _ => return None,
        };
        moved.then(|| fact(control_of_key(code), edge, reading))
    }

    fn axis(&mut self, code: u16, value: i32, reading: Reading) -> Option<SourceFact> {
        let crossed = self.axes.get_mut(&code)?.sample(value.into(), reading.own_stamp())?;
        Some(crossing(code, crossed, reading.arrival()))
    }
}

/// The kernel's time unless it is after the arrival: the other clocks a device may be on, wall time
/// and time since boot with suspension, are never behind ours.
fn reading_of(record: &InputRecord, arrival: Mark) -> Reading {
    let at = record.at();
    if at <= arrival {
        Reading::Kernel { at, arrival }
    } else {
        Reading::Arrival { arrival, lag: WORST_DELIVERY }
    }
}

fn fact(control: Control, edge: EdgeKind, reading: Reading) -> SourceFact {
    SourceFact { source: Origin::Kernel, control, edge, reading }
}

fn crossing(code: u16, (edge, between): (EdgeKind, Stamp), arrival: Mark) -> SourceFact {
    fact(Control::PadAxis(code), edge, Reading::Crossing { between, arrival })
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::press::ServerClock;

    fn us(us: i64) -> Mark {
        Mark::from_ns(us * 1_000)
    }

    fn key(at_us: i64, code: u16, value: i32) -> InputRecord {
        let (sec, usec) = (at_us.div_euclid(1_000_000), at_us.rem_euclid(1_000_000));
        InputRecord { sec, usec, kind: EV_KEY, code, value }
    }

    #[test]
    fn buttons_and_keys_are_told_apart_by_their_codes() {
        // BTN_0, BTN_SOUTH, BTN_GEAR_UP, BTN_DPAD_RIGHT, BTN_TRIGGER_HAPPY40 of the header.
        for button in [0x100, 0x130, 0x151, 0x223, 0x2e7] {
            assert_eq!(control_of_key(button), Control::PadButton(button));
        }
        // BTN_LEFT, BTN_RIGHT, BTN_EXTRA, BTN_TASK.
        for mouse in [0x110, 0x111, 0x114, 0x117] {
            assert_eq!(control_of_key(mouse), Control::Mouse(mouse));
        }
        assert_eq!(control_of_key(0x120), Control::PadButton(0x120), "BTN_TRIGGER");
        // KEY_SPACE, KEY_MICMUTE, KEY_OK, KEY_NUMERIC_0, KEY_MAX.
        for key in [57, 248, 0x160, 0x200, 0x2ff] {
            assert_eq!(control_of_key(key), Control::Key(key));
        }
    }

    #[test]
    fn a_device_still_on_wall_time_leaves_only_the_arrival() {
        let mut device = EvdevDevice::new([], us(0));
        let arrival = us(5_000_000);
        let record = InputRecord { sec: 1_700_000_000, ..key(0, 57, 1) };
        let expected = Reading::Arrival { arrival, lag: WORST_DELIVERY };
        let Told::Edge(fact) = device.read(record, arrival) else { panic!("a press is an edge") };
        assert_eq!(fact.reading, expected);
    }

    #[test]
    fn a_key_down_since_before_gives_no_press_but_its_release() {
        let mut device = EvdevDevice::new([57], us(0));
        assert_eq!(device.read(key(1_000, 57, 2), us(1_100)), Told::Nothing);
        let Told::Edge(fact) = device.read(key(2_000, 57, 0), us(2_100)) else {
            panic!("it was let go")
        };
        let reading = Reading::Kernel { at: us(2_000), arrival: us(2_100) };
        assert_eq!((fact.edge, fact.reading), (EdgeKind::Up, reading));
    }

    #[test]
    fn lost_records_are_told_at_the_next_report_and_again_until_the_state_was_read() {
        let mut device = EvdevDevice::new([], us(0));
        device.read(key(1_000, 57, 1), us(1_100));
        let syn = |code| InputRecord { kind: EV_SYN, ..key(9_000, code, 0) };
        assert_eq!(device.read(syn(SYN_DROPPED), us(9_100)), Told::Nothing);
        assert_eq!(device.read(key(9_000, 30, 1), us(9_100)), Told::Nothing);
        assert_eq!(device.read(syn(SYN_REPORT), us(9_100)), Told::StateLost);
        assert_eq!(device.read(key(9_500, 57, 0), us(9_600)), Told::Nothing);
        assert_eq!(device.read(syn(SYN_REPORT), us(9_600)), Told::StateLost);
        let missed = device.restate(&[30], &[], us(9_700));
        let told: Vec<_> = missed.iter().map(|f| (f.control, f.edge)).collect();
        let expected = [(Control::Key(57), EdgeKind::Up), (Control::Key(30), EdgeKind::Down)];
        assert_eq!(told, expected);
        let stamp = missed[0].stamp(&ServerClock::default());
        assert_eq!((stamp.earliest(), stamp.latest()), (us(950), us(9_700)));
        assert!(matches!(device.read(key(12_000, 30, 0), us(12_100)), Told::Edge(_)));
    }
}
