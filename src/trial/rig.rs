//! What ties a constant delay to the things that cause it.
//!
//! Owns a rig's fingerprint and the question whether two of them are the same rig as far as a
//! constant delay goes. Refuses the delay itself: it is measured elsewhere.

use crate::units::Measured;
use std::fmt;

/// Refresh rates this close, as a share, are the same one read twice. Chosen: a running median reads
/// 59 or 61 for 60; over the two frames between a decision and its light 3 % is 1 ms at 60 Hz.
const SAME_REFRESH: f64 = 0.03;
/// Widths and heights this close, as a share, are the same. Chosen: what a frame's border and the
/// rounding of a scale factor do; a window that lacks only a task bar (3 % and more) may well take
/// another way to the panel than one that covers the screen.
const SAME_SIZE: f64 = 0.01;
/// Thresholds this close are the same, share of travel. Chosen: below any stick's resolution.
const SAME_THRESHOLD: f64 = 0.005;

/// What ties a constant delay to the things that cause it.
#[derive(Debug, Clone, PartialEq)]
pub struct RigPrint {
    /// Kind of device: keyboard, pad.
    pub device: String,
    /// The bound control.
    pub control: String,
    /// `press` or `release`.
    pub launch_edge: String,
    /// Where an analog control counts as pressed, share of its travel from 0 to 1; none for a switch.
    pub threshold: Option<f64>,
    /// Hand or foot the driver uses here.
    pub limb: String,
    /// The best press source that ran.
    pub source: String,
    /// Display server and a size, as [`display_words`] writes them.
    pub display: String,
    /// Frames per second as presented, rounded.
    pub refresh_hz: u32,
    /// How frames are handed to the display.
    pub present_mode: String,
}

/// The rig's constant delay in force for the verdict.
#[derive(Debug, Clone, PartialEq)]
pub struct OffsetInForce {
    /// The delay, milliseconds: the recorded driver part reads late by this much.
    pub ms: Measured,
    /// Where it comes from: `assumed` (nobody measured this rig), `given` (with `--offset-ms`),
    /// `filmed` (measured by film on this very rig).
    pub from: String,
}

/// One thing that is not as it was.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct RigChange {
    /// Which: the words for a field of [`RigPrint`].
    pub what: &'static str,
    /// As it was.
    pub was: String,
    /// As it is.
    pub is: String,
}

impl fmt::Display for RigChange {
    /// `display: x11 1280x720 → x11 1920x1080`.
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        write!(f, "{}: {} → {}", self.what, self.was, self.is)
    }
}

/// The words for a display: its server, the size of the *screen*, and whether the window covers it.
///
/// The size of a window that does not cover the screen is left out on purpose: it moves lamps by
/// some rows, which is taken off with the place of the lamp, and adds no delay. Covering the screen
/// does, because the picture then may go to the panel without a compositor in between.
pub fn display_words(server: &str, screen_px: (u32, u32), covered: bool) -> String {
    let how = if covered { "full" } else { "window" };
    format!("{server} {}x{} {how}", screen_px.0, screen_px.1)
}

impl RigPrint {
    /// What is different from `was`, as far as it can change the constant delay; nothing if a delay
    /// measured there holds here.
    ///
    /// Each field counts, for a reason of its own: device, control and threshold are the travel, the
    /// scan and the bus; edge and limb are how the travel is gone through; the source's grade is what
    /// a stamp means; display, refresh and present mode are the frames between decision and light.
    /// Sizes, rates and thresholds that differ by no more than their reading does are the same.
    pub fn changes_since(&self, was: &RigPrint) -> Vec<RigChange> {
        let words = [
            ("device", &was.device, &self.device),
            ("control", &was.control, &self.control),
            ("launch edge", &was.launch_edge, &self.launch_edge),
            ("limb", &was.limb, &self.limb),
            ("press source", &was.source, &self.source),
            ("present mode", &was.present_mode, &self.present_mode),
        ];
        let change = |what, was: String, is: String| RigChange { what, was, is };
        let mut changes: Vec<RigChange> = words
            .into_iter()
            .filter(|(_, was, is)| was != is)
            .map(|(what, was, is)| change(what, was.clone(), is.clone()))
            .collect();
        if !same_threshold(was.threshold, self.threshold) {
            let [was, is] = [was.threshold, self.threshold].map(threshold_words);
            changes.push(change("threshold", was, is));
        }
        if !same_display(&was.display, &self.display) {
            changes.push(change("display", was.display.clone(), self.display.clone()));
        }
        if !is_close(was.refresh_hz.into(), self.refresh_hz.into(), SAME_REFRESH) {
            let hz = |hz: u32| format!("{hz} Hz");
            changes.push(change("refresh", hz(was.refresh_hz), hz(self.refresh_hz)));
        }
        changes
    }

    /// Whether a constant delay measured on one holds on the other.
    pub fn is_same_rig(&self, other: &RigPrint) -> bool {
        self.changes_since(other).is_empty()
    }
}

fn same_threshold(a: Option<f64>, b: Option<f64>) -> bool {
    match (a, b) {
        (None, None) => true,
        (Some(a), Some(b)) => a == b || (a - b).abs() <= SAME_THRESHOLD,
        _ => false,
    }
}

fn threshold_words(threshold: Option<f64>) -> String {
    threshold.map_or_else(|| "a switch".to_owned(), |share| format!("{:.0} %", 100.0 * share))
}

/// The same words in the same order, sizes compared as sizes.
fn same_display(a: &str, b: &str) -> bool {
    let (mut a, mut b) = (a.split_whitespace(), b.split_whitespace());
    loop {
        match (a.next(), b.next()) {
            (None, None) => return true,
            (Some(a), Some(b)) if a == b || same_size(a, b) => {}
            _ => return false,
        }
    }
}

fn same_size(a: &str, b: &str) -> bool {
    let size = |text: &str| -> Option<[u32; 2]> {
        let (width, height) = text.split_once('x')?;
        Some([width.parse().ok()?, height.parse().ok()?])
    };
    let (Some(a), Some(b)) = (size(a), size(b)) else { return false };
    (0..2).all(|i| is_close(a[i].into(), b[i].into(), SAME_SIZE))
}

fn is_close(a: f64, b: f64, share: f64) -> bool {
    (a - b).abs() <= share * a.max(b)
}

#[cfg(test)]
mod tests {
    use super::*;

    fn rig() -> RigPrint {
        RigPrint {
            device: "keyboard".into(),
            control: "Space".into(),
            launch_edge: "press".into(),
            threshold: None,
            limb: "right-hand".into(),
            source: "server".into(),
            display: "x11 1280x720".into(),
            refresh_hz: 60,
            present_mode: "fifo".into(),
        }
    }

    #[test]
    fn every_field_that_changes_is_named() {
        let new = RigPrint {
            device: "pad".into(),
            control: "RightTrigger".into(),
            launch_edge: "release".into(),
            threshold: Some(0.3),
            limb: "right-foot".into(),
            source: "pad".into(),
            display: "x11 1920x1080".into(),
            refresh_hz: 144,
            present_mode: "mailbox".into(),
        };
        let told: Vec<String> = new.changes_since(&rig()).iter().map(ToString::to_string).collect();
        let want = [
            "device: keyboard → pad",
            "control: Space → RightTrigger",
            "launch edge: press → release",
            "limb: right-hand → right-foot",
            "press source: server → pad",
            "present mode: fifo → mailbox",
            "threshold: a switch → 30 %",
            "display: x11 1280x720 → x11 1920x1080",
            "refresh: 60 Hz → 144 Hz",
        ];
        assert_eq!(told, want);
        assert!(rig().is_same_rig(&rig()));
    }

    #[test]
    fn what_is_only_read_again_is_the_same_rig() {
        let with = |display: &str, refresh_hz, threshold| RigPrint {
            display: display.into(),
            refresh_hz,
            threshold,
            ..rig()
        };
        let was = with("x11 1280x720", 60, Some(0.5));
        for same in [("x11 1279x718", 59), ("x11 1280x720", 61), ("x11  1290x720", 60)] {
            assert!(with(same.0, same.1, Some(0.501)).is_same_rig(&was), "{same:?}");
        }
        for other in [
            ("x11 1920x1080", 60),
            ("wayland 1280x720", 60),
            ("x11 1280x720 full", 60),
            ("x11 1280x690", 60),
            ("x11 tall", 60),
            ("x11 1280x720", 63),
            ("x11 1280x720", 0),
        ] {
            let changes = with(other.0, other.1, Some(0.5)).changes_since(&was);
            assert_eq!(changes.len(), 1, "{other:?}");
        }
        let deeper = with("x11 1280x720", 60, Some(0.6));
        assert_eq!(deeper.changes_since(&was)[0].to_string(), "threshold: 50 % → 60 %");
    }

    #[test]
    fn the_size_of_a_window_is_no_part_of_the_words_for_a_display() {
        assert_eq!(display_words("x11", (1920, 1080), false), "x11 1920x1080 window");
        assert_eq!(display_words("x11", (1920, 1080), true), "x11 1920x1080 full");
    }
}
