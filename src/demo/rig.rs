//! The made-up driver's car and rig, as lines of a history.
//!
//! Owns what was answered about the car, the rig's self test and its film. Refuses to fake a result:
//! the film's delay is computed from its frame counts as any film's is.

use super::error::DemoError;
use super::person::normal;
use super::truth;
use crate::car::{
    Answers, BeamLine, DepthAnswer, DepthHabit, Details, LeaveAnswer, Limb, PressAnswer,
    StrengthAnswer, TyreAnswer,
};
use crate::history::{
    CarLine, ClockBase, FilmLine, LoopLine, PollLine, RigLine, WakeUpLine, limb_word,
};
use crate::seed::Generator;
use crate::stats::film::{Film, PRESSES_TO_FILM};
use crate::trial::{RigPrint, display_words};
use crate::units::Measured;
use rand::RngExt;

/// Frames a second of the film.
const FILM_FPS: f64 = 240.0;
/// Level the film's interval is computed with; only its standard error is kept.
const LEVEL: f64 = 0.90;

/// The car: a quick street coupe that leaves from one foot.
pub(super) fn car_line() -> Result<CarLine, DemoError> {
    let limb = Limb::RightHand;
    let answers = Answers {
        tyre: TyreAnswer::Size("225/45R17".parse()?),
        leave: LeaveAnswer::OneFoot,
        strength: StrengthAnswer::SixtyFoot { seconds: 1.88 },
        depth: DepthAnswer::JustLit,
        press: PressAnswer { limb },
    };
    let details = Details {
        deflection_in: Some(Measured::new(0.5, 0.1)),
        front_pressure_psi: Some(34.0),
        lag_s: Some(Measured::new(0.060, 0.010)),
        depth: Some(DepthHabit { mean_in: Measured::new(1.2, 0.2), spread_in: 0.5 }),
        weight_lb: Some(3250.0),
        power_hp: Some(340.0),
        dial_s: Some(12.75),
        ..Details::default()
    };
    Ok(CarLine {
        name: truth::CAR.to_owned(),
        control: "Space".to_owned(),
        launch_edge: Some("press".to_owned()),
        ..CarLine::describing(&answers, &details, BeamLine::default())
    })
}

/// The rig's fingerprint.
pub(super) fn print() -> RigPrint {
    RigPrint {
        device: "keyboard".to_owned(),
        control: "Space".to_owned(),
        launch_edge: "press".to_owned(),
        threshold: None,
        limb: limb_word(Limb::RightHand).unwrap_or_default(),
        source: "server".to_owned(),
        display: display_words("x11", (1920, 1080), true),
        refresh_hz: 60,
        present_mode: "fifo".to_owned(),
    }
}

/// A self test of the rig, without id and time.
pub(super) fn self_test(program: &str) -> RigLine {
    RigLine {
        id: String::new(),
        saved_at: String::new(),
        program: program.to_owned(),
        rig: print().into(),
        source_reason: None,
        onset_grade: "grid".to_owned(),
        loop_time: LoopLine { period_ms: 16.67, jitter_median_ms: 0.08, jitter_worst_ms: 1.4 },
        wake_up: WakeUpLine { median_ms: 0.06, p95_ms: 0.2, worst_ms: 1.1 },
        clock_base: ClockBase::Holds,
        poll: PollLine::Found { period_ms: truth::POLL_MS, presses: 40 },
        refresh_hz: 59.95,
        self_paced: false,
        press_half_width_ms: truth::PRESS_DOUBT_MS,
        lamp_half_width_ms: truth::LAMP_DOUBT_MS,
        load_average: Some(0.3),
        ran_s: 10.0,
    }
}

/// The film of the rig, counted frame by frame; without id and time.
///
/// # Errors
/// [`DemoError::Film`] never, as long as the numbers of the truth make a film.
pub(super) fn film(program: &str, random: &mut Generator) -> Result<FilmLine, DemoError> {
    let presses: Vec<(f64, f64)> = (0..PRESSES_TO_FILM)
        .map(|_| {
            let own_ms = 16.0 + 3.0 * random.random::<f64>();
            let poll_ms = truth::POLL_MS * (random.random::<f64>() - 0.5);
            let whole_ms = own_ms + truth::RIG_DELAY_MS + poll_ms + 0.3 * normal(random);
            let frames = whole_ms * FILM_FPS / 1000.0;
            // The first frame with the key down and the first with the lamp lit: either may be the
            // next one, so the count is off by less than a frame at either end.
            let start: f64 = random.random();
            ((start + frames).floor(), own_ms)
        })
        .collect();
    let (frames, own_ms): (Vec<f64>, Vec<f64>) = presses.into_iter().unzip();
    let offset = Film::new(FILM_FPS, frames.clone(), own_ms.clone())?.offset(LEVEL)?;
    Ok(FilmLine {
        id: String::new(),
        saved_at: String::new(),
        program: program.to_owned(),
        rig: print().into(),
        fps: FILM_FPS,
        n: offset.offset_ms.n as u32,
        frames,
        own_ms,
        left_out: Vec::new(),
        offset_ms: offset.offset_ms.value,
        spread_ms: offset.spread_ms.value,
        standard_error_ms: offset.standard_error_ms,
    })
}
