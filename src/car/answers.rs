//! The five questions of "My car", and what each answer is worth in numbers.
//!
//! Owns the answers and the value with doubt each stands for. Refuses to combine them: `model`
//! does. No question needs an answer: "don't know" is a value with a wider doubt.

use super::TyreSize;
use crate::units::{Inches, Measured};

/// One of the five questions.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash)]
pub enum Question {
    /// How tall is the front tyre?
    Tyre,
    /// How do you leave?
    Leave,
    /// How strong is the launch?
    Strength,
    /// How deep do you stage?
    Depth,
    /// What do you press here, and with what?
    Press,
}

/// How tall the front tyre is.
#[derive(Debug, Clone, Copy, PartialEq, Default)]
pub enum TyreAnswer {
    /// Measured, in.
    Diameter(Inches),
    /// Read from the sidewall.
    Size(TyreSize),
    /// Not known.
    #[default]
    DontKnow,
}

impl TyreAnswer {
    /// The diameter, in.
    ///
    /// All doubts chosen: ±0.25 in for a measured tyre; ±0.3 for a sidewall's nominal size (wear,
    /// pressure, makers' freedom); not known 25 ± 1.5, which holds most passenger cars' tyres,
    /// 22 to 28 in.
    pub fn diameter_in(&self) -> Measured {
        match self {
            TyreAnswer::Diameter(diameter) => Measured::new(diameter.0, 0.25),
            TyreAnswer::Size(size) => Measured::new(size.diameter().0, 0.3),
            TyreAnswer::DontKnow => Measured::new(25.0, 1.5),
        }
    }
}

/// How the driver leaves.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash, Default)]
pub enum LeaveAnswer {
    /// One foot from the brake to the gas.
    OneFoot,
    /// Left foot off the brake, right foot on the gas, from idle.
    TwoFeetIdle,
    /// Gas held against the converter, launch by letting the brake go.
    TwoFeetConverter,
    /// Engine up, launch by letting the clutch go.
    Clutch,
    /// Launch control, launch by letting brake or clutch go.
    LaunchControl,
    /// A transbrake-style button, launch by letting it go.
    Button,
    /// Not known.
    #[default]
    DontKnow,
}

impl LeaveAnswer {
    /// From the launch edge to the first movement of the car, s.
    ///
    /// Drivetrain lags of 0–0.15 s are from memory, not published; every value and doubt here is
    /// chosen within that range, the more has to be taken up after the launch edge the longer.
    pub fn lag_s(self) -> Measured {
        match self {
            LeaveAnswer::OneFoot => Measured::new(0.13, 0.04),
            LeaveAnswer::TwoFeetIdle => Measured::new(0.10, 0.03),
            LeaveAnswer::TwoFeetConverter => Measured::new(0.05, 0.02),
            LeaveAnswer::Clutch => Measured::new(0.05, 0.03),
            LeaveAnswer::LaunchControl => Measured::new(0.06, 0.03),
            LeaveAnswer::Button => Measured::new(0.03, 0.02),
            LeaveAnswer::DontKnow => Measured::new(0.08, 0.04),
        }
    }

    /// The launch edge that is natural to it: the first movement that commits the car. Chosen.
    pub const fn edge(self) -> EdgeAnswer {
        match self {
            LeaveAnswer::OneFoot | LeaveAnswer::TwoFeetIdle | LeaveAnswer::DontKnow => {
                EdgeAnswer::Press
            }
            LeaveAnswer::TwoFeetConverter
            | LeaveAnswer::Clutch
            | LeaveAnswer::LaunchControl
            | LeaveAnswer::Button => EdgeAnswer::Release,
        }
    }
}

/// Which edge of the control launches the car.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash)]
pub enum EdgeAnswer {
    /// Pressing it.
    Press,
    /// Letting it go.
    Release,
}

/// A kind of car, for drivers who have no 60-foot time yet.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash)]
pub enum CarKind {
    /// An ordinary car on ordinary tyres.
    OrdinaryStreet,
    /// A quick car on good street tyres.
    QuickStreet,
    /// Sticky road-legal tyres.
    StickyTyres,
    /// Slicks.
    Slicks,
    /// Electric or all-wheel drive.
    ElectricOrAllWheel,
}

impl CarKind {
    /// The 60-foot time to expect, s.
    ///
    /// - ordinary 2.4 ± .2: mild street radials run above 2.2 (published, magazine).
    /// - quick on good street tyres 2.05 ± .15: low 2s to high 1.9s (common practice).
    /// - sticky tyres 1.8 ± .12: a 12-second car ≈ 1.8 (published, magazine).
    /// - slicks 1.5 ± .12: a car in the mid-10s ≈ 1.45 (published, magazine), most a little slower.
    /// - electric or all-wheel drive 1.85 ± .2: chosen, no source.
    ///
    /// Every doubt is chosen.
    pub fn sixty_foot_s(self) -> Measured {
        match self {
            CarKind::OrdinaryStreet => Measured::new(2.4, 0.2),
            CarKind::QuickStreet => Measured::new(2.05, 0.15),
            CarKind::StickyTyres => Measured::new(1.8, 0.12),
            CarKind::Slicks => Measured::new(1.5, 0.12),
            CarKind::ElectricOrAllWheel => Measured::new(1.85, 0.2),
        }
    }
}

/// How strong the launch is.
#[derive(Debug, Clone, Copy, PartialEq, Default)]
pub enum StrengthAnswer {
    /// A 60-foot time from a slip.
    SixtyFoot {
        /// That time, s.
        seconds: f64,
    },
    /// A kind of car.
    Kind(CarKind),
    /// Not known.
    #[default]
    DontKnow,
}

impl StrengthAnswer {
    /// The 60-foot time, s: ± .03 for one from a slip (the next run's will differ), 2.2 ± .2 when
    /// not known. Both chosen.
    pub fn sixty_foot_s(&self) -> Measured {
        match *self {
            StrengthAnswer::SixtyFoot { seconds } => Measured::new(seconds, 0.03),
            StrengthAnswer::Kind(kind) => kind.sixty_foot_s(),
            StrengthAnswer::DontKnow => Measured::new(2.2, 0.2),
        }
    }
}

/// How far past the point where the stage lamp lights the driver stops.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash, Default)]
pub enum DepthAnswer {
    /// As soon as the stage lamp lights.
    JustLit,
    /// A few inches further.
    Deeper,
    /// Not known.
    #[default]
    DontKnow,
}

impl DepthAnswer {
    /// The staging depth, in: 0.6 ± 0.5, "a few inches" 3 ± 1, not known 1.0 ± 0.7. All chosen; no
    /// source gives what drivers do.
    pub fn depth_in(self) -> Measured {
        match self {
            DepthAnswer::JustLit => Measured::new(0.6, 0.5),
            DepthAnswer::Deeper => Measured::new(3.0, 1.0),
            DepthAnswer::DontKnow => Measured::new(1.0, 0.7),
        }
    }
}

/// The limb that works the control at home.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash, Default)]
pub enum Limb {
    /// The right hand.
    RightHand,
    /// The left hand.
    LeftHand,
    /// The right foot.
    RightFoot,
    /// The left foot.
    LeftFoot,
    /// Not said.
    #[default]
    DontKnow,
}

/// What the driver presses here. Only stored: it moves no number, but a rig pressed by another
/// limb is another rig.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash, Default)]
pub struct PressAnswer {
    /// With what.
    pub limb: Limb,
}

/// All five answers; by default none is known.
#[derive(Debug, Clone, Copy, PartialEq, Default)]
pub struct Answers {
    /// How tall is the front tyre?
    pub tyre: TyreAnswer,
    /// How do you leave?
    pub leave: LeaveAnswer,
    /// How strong is the launch?
    pub strength: StrengthAnswer,
    /// How deep do you stage?
    pub depth: DepthAnswer,
    /// What do you press here?
    pub press: PressAnswer,
}

impl Answers {
    /// The questions about the car (the first four) that are answered by "don't know".
    pub fn not_known(&self) -> Vec<Question> {
        [
            (self.tyre == TyreAnswer::DontKnow, Question::Tyre),
            (self.leave == LeaveAnswer::DontKnow, Question::Leave),
            (self.strength == StrengthAnswer::DontKnow, Question::Strength),
            (self.depth == DepthAnswer::DontKnow, Question::Depth),
        ]
        .into_iter()
        .filter_map(|(not_known, question)| not_known.then_some(question))
        .collect()
    }
}
