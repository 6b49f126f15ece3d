//! The pad library's events: pressed, released and values of each pad, to edges.
//!
//! Owns which of its events count, and the state of every pad. Refuses the library itself: kinds,
//! codes, values and times are handed in.
//!
//! Facts about the library (gilrs 0.11.2 with gilrs-core 0.6.8, read in its source): on Linux a
//! code carries the kernel's event type in its upper half and the kernel's code in the lower one; a
//! trigger or pedal that is an axis gives its values, and presses and releases at fixed high values
//! besides; after the kernel dropped records it compares the state and dates what it finds 1970.

use std::collections::{BTreeMap, BTreeSet};
use std::time::SystemTime;

use crate::press::analog::{AnalogAxis, Threshold, Travel};
use crate::press::pad_time::{ClockPair, pad_reading};
use crate::press::{Control, EdgeKind, Origin, Reading, SourceFact};
use crate::units::{Mark, Span, Stamp};

/// The kernel's event type of axes, EV_ABS of `linux/input-event-codes.h`.
const EV_ABS: u32 = 3;

/// What the library tells of a code.
#[derive(Debug, Clone, Copy, PartialEq)]
pub enum PadEvent {
    /// `ButtonPressed`.
    Pressed,
    /// `ButtonReleased`.
    Released,
    /// `ButtonChanged`: 0 to 1.
    ButtonValue(f32),
    /// `AxisChanged`: −1 to 1.
    AxisValue(f32),
}

/// How the library dates an event.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum PadDating {
    /// With the kernel's time, on the wall clock: Linux.
    Kernel,
    /// With the moment it polled, this far apart at most: elsewhere.
    Polled(Span),
}

/// All pads. For every pad and control its edges alternate, down first.
#[derive(Debug, Clone)]
pub struct PadDecoder {
    dating: PadDating,
    since: Mark,
    axes: BTreeMap<u16, AnalogAxis>,
    pads: BTreeMap<usize, Pad>,
}

#[derive(Debug, Clone)]
struct Pad {
    down: BTreeSet<u16>,
    axes: BTreeMap<u16, AnalogAxis>,
    /// Up to here nothing was lost.
    known: Mark,
}

impl PadDecoder {
    /// A decoder that begins to listen at `since`.
    pub fn new(dating: PadDating, since: Mark) -> Self {
        Self { dating, since, axes: BTreeMap::new(), pads: BTreeMap::new() }
    }

    /// Reads this code (its lower half) of every pad as an axis with a travel from now on, like
    /// `axis`, which has not been sampled; what is down stays so until it comes up. Its travel is in the library's values: 0 to 1 where those
    /// come as `ButtonChanged`, −1 to 1 where as `AxisChanged`.
    ///
    /// On Linux a trigger or pedal with `ButtonChanged` needs no such call to be read with
    /// [`Travel::SHARE`] and the usual threshold.
    pub fn follow_axis(&mut self, code: u16, axis: AnalogAxis) {
        for known in self.pads.values_mut().filter_map(|pad| pad.axes.get_mut(&code)) {
            known.read_like(&axis);
        }
        self.axes.insert(code, axis);
    }

    /// Takes an event of a pad: `code` as the library packs it, dated `time`, received at
    /// `arrival`, with both clocks read after it. The edge it makes, if any.
    pub fn read(
        &mut self,
        pad: usize,
        event: PadEvent,
        code: u32,
        (time, arrival): (SystemTime, Mark),
        clocks: &ClockPair,
    ) -> Option<SourceFact> {
        let (dating, since) = (self.dating, self.since);
        let axis = self.template(event, code);
        let new = || Pad { down: BTreeSet::new(), axes: BTreeMap::new(), known: since };
        let pad = self.pads.entry(pad).or_insert_with(new);
        let after_loss = dating == PadDating::Kernel && time == SystemTime::UNIX_EPOCH;
        let reading = match dating {
            _ if after_loss => {
                Reading::Arrival { arrival, lag: (arrival - pad.known).max(Span::ZERO) }
            }
            PadDating::Kernel => pad_reading(time, arrival, clocks),
            PadDating::Polled(lag) => Reading::Arrival { arrival, lag },
        };
        let fact = pad.moved(event, (code & 0xFFFF) as u16, axis, reading, after_loss);
        if !after_loss {
            pad.known = pad.known.max(reading.own_stamp().earliest());
        }
        fact
    }

    /// A pad is gone: what it still held down. Nobody let go of that, so it is no edge.
    pub fn forget(&mut self, pad: usize) -> Vec<Control> {
        let Some(pad) = self.pads.remove(&pad) else { return Vec::new() };
        let axes = pad.axes.iter().filter(|(_, axis)| axis.is_down());
        let axes = axes.map(|(code, _)| Control::PadAxis(*code));
        pad.down.iter().map(|code| Control::PadButton(*code)).chain(axes).collect()
    }

    /// How the code is to be read: as which axis, or as a button.
    fn template(&self, event: PadEvent, code: u32) -> Code {
        let is_axis = self.dating == PadDating::Kernel && code >> 16 == EV_ABS;
        match (self.axes.get(&((code & 0xFFFF) as u16)), event) {
            (Some(axis), _) if is_axis || self.dating != PadDating::Kernel => {
                Code::Axis(axis.clone())
            }
            (_, PadEvent::ButtonValue(_)) if is_axis => {
                Code::Axis(AnalogAxis::new(Travel::SHARE, Threshold::default(), None))
            }
            _ if is_axis => Code::Unread,
            _ => Code::Button,
        }
    }
}

/// How a code is read.
enum Code {
    Button,
    Axis(AnalogAxis),
    Unread,
}

impl Pad {
    fn moved(
        &mut self,
        event: PadEvent,
        code: u16,
        read_as: Code,
        reading: Reading,
        after_loss: bool,
    ) -> Option<SourceFact> {
        let fact = |control, edge, reading| {
            Some(SourceFact { source: Origin::Pad, control, edge, reading })
        };
        let button = Control::PadButton(code);
        match (read_as, event) {
            (Code::Button, PadEvent::Pressed) if self.down.insert(code) => {
                fact(button, EdgeKind::Down, reading)
            }
            (Code::Button, PadEvent::Released) if self.down.remove(&code) => {
                fact(button, EdgeKind::Up, reading)
            }
            (Code::Axis(axis), PadEvent::ButtonValue(value) | PadEvent::AxisValue(value)) => {
                let axis = self.axes.entry(code).or_insert(axis);
                let arrival = reading.arrival();
                let (edge, between) = if after_loss {
                    axis.sample_after_gap(value.into(), Stamp::exact(arrival))?
                } else {
                    axis.sample(value.into(), reading.own_stamp())?
                };
                fact(Control::PadAxis(code), edge, Reading::Crossing { between, arrival })
            }
            _ => None,
        }
    }
}

#[cfg(test)]
mod tests {
    use std::time::Duration;

    use super::*;

    /// The pad's south button and its right trigger's axis as Linux packs them: EV_KEY with
    /// BTN_SOUTH, EV_ABS with ABS_RZ.
    const SOUTH: u32 = 1 << 16 | 0x130;
    const TRIGGER: u32 = 3 << 16 | 5;

    fn us(us: i64) -> Mark {
        Mark::from_ns(us * 1_000)
    }

    /// Wall time and mark of an event, and both clocks read as it arrived 80 µs later.
    fn at(at_us: i64) -> (SystemTime, Mark, ClockPair) {
        let wall = SystemTime::UNIX_EPOCH + Duration::from_secs(1_700_000_000);
        let (event, arrival) = (wall + Duration::from_micros(at_us as u64), us(at_us + 80));
        let clocks =
            ClockPair { before: arrival, wall: event + Duration::from_micros(80), after: arrival };
        (event, arrival, clocks)
    }

    fn read(
        d: &mut PadDecoder,
        pad: usize,
        event: PadEvent,
        code: u32,
        at_us: i64,
    ) -> Option<SourceFact> {
        let (time, arrival, clocks) = at(at_us);
        d.read(pad, event, code, (time, arrival), &clocks)
    }

    #[test]
    fn a_button_keeps_the_kernels_time_and_its_values_make_no_second_edge() {
        let mut d = PadDecoder::new(PadDating::Kernel, us(0));
        let pressed = read(&mut d, 0, PadEvent::Pressed, SOUTH, 5_000).expect("it went down");
        let reading = Reading::Kernel { at: us(5_000), arrival: us(5_080) };
        assert_eq!((pressed.control, pressed.reading), (Control::PadButton(0x130), reading));
        assert_eq!(read(&mut d, 0, PadEvent::ButtonValue(1.0), SOUTH, 5_000), None);
        assert_eq!(read(&mut d, 0, PadEvent::Pressed, SOUTH, 6_000), None);
        assert_eq!(read(&mut d, 1, PadEvent::Released, SOUTH, 7_000), None, "another pad");
        assert!(read(&mut d, 0, PadEvent::Released, SOUTH, 8_000).is_some());
    }

    #[test]
    fn a_trigger_is_read_from_its_values_and_not_from_the_librarys_own_threshold() {
        let mut d = PadDecoder::new(PadDating::Kernel, us(0));
        assert_eq!(read(&mut d, 0, PadEvent::ButtonValue(0.0), TRIGGER, 1_000), None);
        let down =
            read(&mut d, 0, PadEvent::ButtonValue(0.25), TRIGGER, 5_000).expect("beyond 1/8");
        let stamp = down.reading.own_stamp();
        assert_eq!((down.control, down.edge), (Control::PadAxis(5), EdgeKind::Down));
        assert_eq!(
            (stamp.earliest(), stamp.best(), stamp.latest()),
            (us(950), us(3_000), us(5_050))
        );
        assert_eq!(read(&mut d, 0, PadEvent::Pressed, TRIGGER, 9_000), None);
        assert_eq!(read(&mut d, 0, PadEvent::ButtonValue(0.8), TRIGGER, 9_000), None);
    }

    #[test]
    fn a_button_of_the_number_of_a_followed_axis_stays_a_button() {
        let mut d = PadDecoder::new(PadDating::Kernel, us(0));
        d.follow_axis(2, AnalogAxis::new(Travel::SHARE, Threshold::default(), None));
        let key = (1 << 16) | 2;
        let down = read(&mut d, 0, PadEvent::Pressed, key, 5_000).expect("it went down");
        assert_eq!((down.control, down.edge), (Control::PadButton(2), EdgeKind::Down));
    }

    #[test]
    fn what_was_found_after_a_loss_lies_anywhere_since_the_last_event_of_that_pad() {
        let mut d = PadDecoder::new(PadDating::Kernel, us(0));
        read(&mut d, 0, PadEvent::Pressed, SOUTH, 5_000);
        let (_, arrival, clocks) = at(90_000);
        let found = [(0, PadEvent::Released), (3, PadEvent::Pressed)].map(|(pad, event)| {
            let time = (SystemTime::UNIX_EPOCH, arrival);
            d.read(pad, event, SOUTH, time, &clocks).expect("it moved").reading.own_stamp()
        });
        assert_eq!((found[0].earliest(), found[0].latest()), (us(4_950), arrival));
        assert_eq!((found[1].earliest(), found[1].latest()), (us(0), arrival));
    }

    #[test]
    fn where_the_library_polls_an_edge_is_as_wide_as_its_period() {
        let mut d = PadDecoder::new(PadDating::Polled(Span::from_ms(10)), us(0));
        let down = read(&mut d, 0, PadEvent::Pressed, 7, 50_000).expect("it went down");
        assert_eq!(down.reading.own_stamp().width(), Span::from_ms(10));
        d.follow_axis(8, AnalogAxis::new(Travel::SHARE, Threshold::default(), None));
        read(&mut d, 0, PadEvent::ButtonValue(0.0), 8, 60_000);
        let down = read(&mut d, 0, PadEvent::ButtonValue(1.0), 8, 70_000).expect("it went down");
        assert_eq!(down.reading.own_stamp().width(), Span::from_ms(20), "between two polls");
    }

    #[test]
    fn a_threshold_set_while_the_trigger_is_down_still_tells_its_release() {
        let mut d = PadDecoder::new(PadDating::Kernel, us(0));
        read(&mut d, 0, PadEvent::ButtonValue(0.0), TRIGGER, 1_000);
        assert!(read(&mut d, 0, PadEvent::ButtonValue(1.0), TRIGGER, 9_000).is_some());
        let threshold = Threshold::new(0.5, 0.25).unwrap();
        d.follow_axis(5, AnalogAxis::new(Travel::SHARE, threshold, None));
        assert_eq!(read(&mut d, 0, PadEvent::ButtonValue(0.3), TRIGGER, 17_000), None);
        let up = read(&mut d, 0, PadEvent::ButtonValue(0.2), TRIGGER, 25_000).expect("below 1/4");
        assert_eq!((up.control, up.edge), (Control::PadAxis(5), EdgeKind::Up));
    }

    #[test]
    fn a_pad_that_is_gone_hands_back_what_it_held() {
        let mut d = PadDecoder::new(PadDating::Kernel, us(0));
        read(&mut d, 2, PadEvent::Pressed, SOUTH, 5_000);
        read(&mut d, 2, PadEvent::ButtonValue(0.0), TRIGGER, 5_000);
        read(&mut d, 2, PadEvent::ButtonValue(0.9), TRIGGER, 9_000);
        assert_eq!(d.forget(2), [Control::PadButton(0x130), Control::PadAxis(5)]);
        assert_eq!(d.forget(2), []);
    }
}
