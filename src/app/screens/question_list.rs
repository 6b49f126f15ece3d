//! The five questions, their choices and what each choice answers.
//!
//! Owns words and the step from a choice (and a typed text) to an answer. Refuses drawing.

use crate::car::{
    Answers, CarKind, DepthAnswer, LeaveAnswer, Limb, PressAnswer, StrengthAnswer, TyreAnswer,
};
use crate::units::Inches;

/// A question as it is put.
pub struct Asked {
    /// The question.
    pub title: &'static str,
    /// Why it is asked.
    pub why: &'static str,
    /// The choices; "don't know" is the last.
    pub choices: &'static [&'static str],
    /// The choice that takes a typed text, and an example of it.
    pub typed: Option<(usize, &'static str)>,
}

/// All five, in order.
pub const ASKED: [Asked; 5] = [
    Asked {
        title: "How tall is your front tyre?",
        why: "The taller it is, the further it rolls before the clock starts. The size on the \
              sidewall will do.",
        choices: &["It is (type the size on the sidewall, or inches):", "Don't know"],
        typed: Some((0, "225/45R17 or 25.5")),
    },
    Asked {
        title: "How do you leave?",
        why: "It decides whether your launch is a press or a release, and how long the car takes to \
              answer.",
        choices: &[
            "One foot, from the brake to the gas",
            "Two feet, from idle",
            "Two feet, held against the converter",
            "Clutch",
            "Launch control",
            "A button I let go of",
            "Don't know",
        ],
        typed: None,
    },
    Asked {
        title: "How strong does it leave?",
        why: "A 60-foot time from a slip is best; a kind of car will do.",
        choices: &[
            "60-foot time, seconds:",
            "Ordinary car on ordinary tyres",
            "Quick car on good street tyres",
            "Sticky road-legal tyres",
            "Slicks",
            "Electric or all-wheel drive",
            "Don't know",
        ],
        typed: Some((0, "2.05")),
    },
    Asked {
        title: "How do you stage?",
        why: "Every inch deeper is less to roll: quicker reaction, slower pass.",
        choices: &["Just until the stage lamps light", "A few inches deeper", "Don't know"],
        typed: None,
    },
    Asked {
        title: "What do you press here, and with what?",
        why: "The launch control is Space, or the south button of a pad. A run with the foot is not \
              the same as one with the hand.",
        choices: &["Right hand", "Left hand", "Right foot", "Left foot", "Don't know"],
        typed: None,
    },
];

/// Puts the choice of one question into the answers.
///
/// # Errors
/// A sentence for the driver when the typed text is no answer.
pub fn take(question: usize, choice: usize, text: &str, into: &mut Answers) -> Result<(), String> {
    match question {
        0 => into.tyre = if choice == 0 { tyre(text)? } else { TyreAnswer::DontKnow },
        1 => {
            into.leave = [
                LeaveAnswer::OneFoot,
                LeaveAnswer::TwoFeetIdle,
                LeaveAnswer::TwoFeetConverter,
                LeaveAnswer::Clutch,
                LeaveAnswer::LaunchControl,
                LeaveAnswer::Button,
            ]
            .get(choice)
            .copied()
            .unwrap_or_default();
        }
        2 => into.strength = strength(choice, text)?,
        3 => {
            into.depth = [DepthAnswer::JustLit, DepthAnswer::Deeper]
                .get(choice)
                .copied()
                .unwrap_or_default();
        }
        _ => {
            let limbs = [Limb::RightHand, Limb::LeftHand, Limb::RightFoot, Limb::LeftFoot];
            let limb = limbs.get(choice).copied().unwrap_or_default();
            into.press = PressAnswer { limb };
        }
    }
    Ok(())
}

fn tyre(text: &str) -> Result<TyreAnswer, String> {
    let text = text.trim();
    let plain = text.trim_end_matches("in").trim().replace(',', ".");
    let answer = match plain.parse::<f64>() {
        Ok(inches) => TyreAnswer::Diameter(Inches(inches)),
        Err(_) => {
            let size = text.parse().map_err(|error| format!("{error}"))?;
            TyreAnswer::Size(size)
        }
    };
    check(Answers { tyre: answer, ..Answers::default() }).map(|()| answer)
}

fn strength(choice: usize, text: &str) -> Result<StrengthAnswer, String> {
    let kinds = [
        CarKind::OrdinaryStreet,
        CarKind::QuickStreet,
        CarKind::StickyTyres,
        CarKind::Slicks,
        CarKind::ElectricOrAllWheel,
    ];
    if choice > 0 {
        let kind = kinds.get(choice - 1).copied();
        return Ok(kind.map_or(StrengthAnswer::DontKnow, StrengthAnswer::Kind));
    }
    let seconds = text.trim().trim_end_matches('s').trim().replace(',', ".");
    let seconds: f64 = seconds
        .parse()
        .map_err(|_| format!("`{}` is not a time; write seconds like 2.05", text.trim()))?;
    let answer = StrengthAnswer::SixtyFoot { seconds };
    check(Answers { strength: answer, ..Answers::default() }).map(|()| answer)
}

/// Whether the answers make a car.
fn check(answers: Answers) -> Result<(), String> {
    let beams = crate::car::BeamLine::default();
    crate::car::CarModel::from_answers(&answers, beams)
        .map(|_| ())
        .map_err(|error| error.to_string())
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn the_last_choice_of_every_question_is_not_to_know() {
        let mut answers = Answers::default();
        for (i, asked) in ASKED.iter().enumerate() {
            assert_eq!(asked.choices.last(), Some(&"Don't know"));
            take(i, asked.choices.len() - 1, "", &mut answers).unwrap();
        }
        assert_eq!(answers, Answers::default());
    }

    #[test]
    fn a_tyre_is_a_size_or_inches_and_anything_else_is_told() {
        let mut answers = Answers::default();
        take(0, 0, "225/45R17", &mut answers).unwrap();
        assert!(matches!(answers.tyre, TyreAnswer::Size(_)));
        take(0, 0, "25,5 in", &mut answers).unwrap();
        assert_eq!(answers.tyre, TyreAnswer::Diameter(Inches(25.5)));
        for wrong in ["", "big", "500", "-3", "nan"] {
            assert!(take(0, 0, wrong, &mut answers).is_err(), "{wrong}");
        }
    }

    #[test]
    fn a_sixty_foot_time_has_to_be_possible() {
        let mut answers = Answers::default();
        take(2, 0, "2.05 s", &mut answers).unwrap();
        assert_eq!(answers.strength, StrengthAnswer::SixtyFoot { seconds: 2.05 });
        assert!(take(2, 0, "20.5", &mut answers).is_err());
        take(2, 2, "", &mut answers).unwrap();
        assert_eq!(answers.strength, StrengthAnswer::Kind(CarKind::QuickStreet));
    }
}
