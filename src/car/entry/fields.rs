//! What the form of a car asks, in order.
//!
//! Owns names, hints and choices. Refuses reading what was typed.

use crate::form::{Choice, Field};

/// A field of the form.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash)]
pub enum CarField {
    /// The driver's name for it.
    Name,
    /// Front tyre: size or diameter.
    Tyre,
    /// How far the load lowers the front axle.
    Deflection,
    /// Front tyre pressure.
    FrontPressure,
    /// How the driver leaves.
    Leave,
    /// The limb at home.
    Limb,
    /// Launch edge to first movement.
    Lag,
    /// How the launch is known.
    StrengthBy,
    /// A 60-foot time.
    SixtyFoot,
    /// 60-foot times of slips.
    Slips,
    /// An acceleration.
    LaunchG,
    /// Tyre grip.
    Grip,
    /// Which wheels push.
    Driven,
    /// Weight on them.
    WeightShare,
    /// Height of the centre of gravity over the wheelbase.
    Height,
    /// Where the driver stops.
    DepthBy,
    /// The average depth.
    Depth,
    /// How much it differs.
    DepthSpread,
    /// With driver.
    Weight,
    /// At the crank.
    Power,
    /// The time on the window.
    Dial,
    /// Whether the filmed car part stands.
    Film,
    /// Pre-stage to stage beam.
    Prestage,
    /// Stage to guard beam.
    Guard,
    /// Height of these beams.
    BeamHeight,
    /// Height of the 60-foot beam.
    SixtyFootHeight,
}

pub(super) const LEAVES: &[Choice] = &[
    Choice::new("", "don't know"),
    Choice::new("one-foot", "one foot, brake to gas"),
    Choice::new("two-feet-idle", "two feet, from idle"),
    Choice::new("converter", "held against the converter"),
    Choice::new("clutch", "clutch"),
    Choice::new("launch-control", "launch control"),
    Choice::new("button", "button I let go of"),
];
pub(super) const LIMBS: &[Choice] = &[
    Choice::new("", "not said"),
    Choice::new("right-hand", "right hand"),
    Choice::new("left-hand", "left hand"),
    Choice::new("right-foot", "right foot"),
    Choice::new("left-foot", "left foot"),
];
pub(super) const STRENGTHS: &[Choice] = &[
    Choice::new("", "don't know"),
    Choice::new("sixty-foot", "60-foot time"),
    Choice::new("slips", "60-foot times of slips"),
    Choice::new("g", "acceleration in g"),
    Choice::new("traction", "grip and weight"),
    Choice::new("ordinary", "ordinary car, ordinary tyres"),
    Choice::new("quick", "quick car, good street tyres"),
    Choice::new("sticky", "sticky road-legal tyres"),
    Choice::new("slicks", "on slicks"),
    Choice::new("electric", "electric or all-wheel drive"),
];
pub(super) const DRIVEN: &[Choice] =
    &[Choice::new("rear", "rear"), Choice::new("front", "front"), Choice::new("all", "all four")];
pub(super) const DEPTHS: &[Choice] = &[
    Choice::new("", "don't know"),
    Choice::new("just-lit", "just until the lamp lights"),
    Choice::new("deeper", "a few inches deeper"),
    Choice::new("measured", "measured"),
];
pub(super) const FILMS: &[Choice] =
    &[Choice::new("film", "by the film"), Choice::new("", "worked out; forget the film")];

const INCHES: &str = "in, or cm behind it; may have its ± doubt";

/// The fields, top to bottom.
pub(super) fn fields() -> Vec<Field<CarField>> {
    use CarField as F;
    vec![
        Field::typed(F::Name, "Name", "your own name for it"),
        Field::typed(F::Tyre, "Front tyre", "225/45R17, or its height: 25.5 or 64.8 cm"),
        Field::typed(F::Deflection, "Load lowers it by", INCHES),
        Field::typed(F::FrontPressure, "Front pressure", "psi, or bar"),
        Field::choice(F::Leave, "You leave by", "", LEAVES),
        Field::choice(F::Limb, "You press here with", "", LIMBS),
        Field::typed(F::Lag, "Lag", "launch edge to first movement: .06, or 60 ± 20 ms"),
        Field::choice(F::StrengthBy, "Launch known by", "", STRENGTHS),
        Field::typed(F::SixtyFoot, "60-foot time", "2.05, or 2.05 ± .02"),
        Field::typed(F::Slips, "60-foot times", "2.05 2.01 2.08"),
        Field::typed(F::LaunchG, "Launch", "0.6, or 0.6 ± 0.05; in g"),
        Field::typed(F::Grip, "Tyre grip", "friction coefficient, like 1.0"),
        Field::choice(F::Driven, "Driven wheels", "", DRIVEN),
        Field::typed(F::WeightShare, "Weight on them", "share at rest, like 48 % or .48"),
        Field::typed(F::Height, "Centre of gravity", "height over wheelbase, like .20"),
        Field::choice(F::DepthBy, "You stage", "", DEPTHS),
        Field::typed(F::Depth, "Depth", "in past the lamp's first light, or cm; ± its doubt"),
        Field::typed(F::DepthSpread, "Depth differs by", "in from start to start, or cm"),
        Field::typed(F::Weight, "Weight", "with driver and fuel: lb, or kg behind it"),
        Field::typed(F::Power, "Power", "at the crank: hp, or kW behind it"),
        Field::typed(F::Dial, "Dial-in", "s; nothing without one"),
        Field::choice(F::Film, "Car part", "", FILMS),
        Field::typed(F::Prestage, "Pre-stage to stage", "in, usual 7"),
        Field::typed(F::Guard, "Stage to guard beam", "in, usual 13.375"),
        Field::typed(F::BeamHeight, "Height of the beams", "in, usual 1.625"),
        Field::typed(F::SixtyFootHeight, "Height at 60 ft", "in, usual 10"),
    ]
}
