//! The five questions answered again, when more is known of the car than they ask.
//!
//! Owns which of both is in force, an answer or what was told in detail, and says so. Refuses to drop
//! what no question asked.

use super::{Answers, DepthAnswer, Details, LeaveAnswer, Question, StrengthAnswer};
use std::fmt;

/// What becomes of a detail after the questions were answered again.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash)]
pub enum Standing {
    /// The detail stays in force; the answer to its question waits behind it.
    Kept(Question),
    /// The new answer is in force; the detail is gone.
    Replaced(Question),
    /// The film of the start line stays in force.
    FilmKept,
    /// It was of another tyre, way to leave, or depth, and is gone.
    FilmDropped,
}

/// What is known after the questions were answered again.
#[derive(Debug, Clone, PartialEq)]
pub struct Reanswered {
    /// What is known beyond the answers.
    pub details: Details,
    /// What became of every detail a question touches.
    pub standings: Vec<Standing>,
}

/// The details that stay when `now` takes the place of `before`.
///
/// What a question does not ask stays. What it asks stays as well while its answer is the same or
/// "don't know". A new answer replaces a detail where it says more or another thing:
///
/// - leave: another way to leave has another lag;
/// - strength: a 60-foot time replaces a launch told by g or grip or another 60-foot time, never the
///   times of several slips; a kind of car replaces nothing;
/// - depth: another habit is another depth;
/// - a film was of that tyre, that way to leave and that depth: it goes when one of them changes.
pub fn reanswer(before: &Answers, details: &Details, now: &Answers) -> Reanswered {
    let mut details = details.clone();
    let mut standings = Vec::new();
    let left = now.leave != before.leave && now.leave != LeaveAnswer::DontKnow;
    let depth = now.depth != before.depth && now.depth != DepthAnswer::DontKnow;
    let timed = now.strength != before.strength
        && matches!(now.strength, StrengthAnswer::SixtyFoot { .. })
        && !matches!(details.strength, Some(super::Strength::Slips(_)));
    let told = [
        (details.lag_s.is_some(), left, Question::Leave),
        (details.strength.is_some(), timed, Question::Strength),
        (details.depth.is_some(), depth, Question::Depth),
    ];
    for (known, replaced, question) in told {
        if known {
            standings.push(match replaced {
                true => Standing::Replaced(question),
                false => Standing::Kept(question),
            });
        }
    }
    details.lag_s = details.lag_s.filter(|_| !left);
    details.strength = details.strength.filter(|_| !timed);
    details.depth = details.depth.filter(|_| !depth);
    if details.filmed.is_some() {
        let dropped = left || depth || now.tyre != before.tyre;
        standings.push(if dropped { Standing::FilmDropped } else { Standing::FilmKept });
        details.filmed = details.filmed.filter(|_| !dropped);
    }
    Reanswered { details, standings }
}

impl fmt::Display for Standing {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        f.write_str(match self {
            Standing::Kept(Question::Leave) => {
                "The lag you gave in My car stays in force; your answer comes after it."
            }
            Standing::Kept(Question::Strength) => {
                "The launch you gave in My car stays in force; your answer comes after it."
            }
            Standing::Kept(_) => {
                "The depth you gave in My car stays in force; your answer comes after it."
            }
            Standing::Replaced(Question::Leave) => {
                "You leave another way: the lag you had given is gone."
            }
            Standing::Replaced(Question::Strength) => {
                "Your 60-foot time is in force; the launch you had given is gone."
            }
            Standing::Replaced(_) => "You stage another way: the depth you had given is gone.",
            Standing::FilmKept => "The film of your start line stays in force.",
            Standing::FilmDropped => {
                "The film of your start line showed another tyre, launch or depth: it is gone. Film \
                 again."
            }
        })
    }
}

#[cfg(test)]
mod tests {
    use super::super::{CarKind, DepthHabit, FilmedPart, Strength};
    use super::*;
    use crate::units::{Inches, Measured};

    fn known() -> Details {
        Details {
            deflection_in: Some(Measured::new(0.4, 0.1)),
            front_pressure_psi: Some(32.0),
            strength: Some(Strength::Launch(Measured::new(0.6, 0.03))),
            lag_s: Some(Measured::new(0.06, 0.01)),
            depth: Some(DepthHabit { mean_in: Measured::new(1.5, 0.3), spread_in: 0.6 }),
            weight_lb: Some(3400.0),
            power_hp: Some(310.0),
            dial_s: Some(13.4),
            filmed: Some(FilmedPart {
                seconds: Measured::new(0.31, 0.017),
                fps: 240.0,
                frames: vec![74.0],
            }),
        }
    }

    #[test]
    fn the_same_answers_leave_everything_as_it_is() {
        let answers = Answers { leave: LeaveAnswer::Clutch, ..Answers::default() };
        let got = reanswer(&answers, &known(), &answers);
        assert_eq!(got.details, known());
        assert!(got.standings.iter().all(|s| matches!(s, Standing::Kept(_) | Standing::FilmKept)));
        let words: Vec<String> = got.standings.iter().map(ToString::to_string).collect();
        assert!(words.iter().all(|words| words.contains("stay")), "{words:?}");
        // Not knowing takes nothing away.
        assert_eq!(reanswer(&answers, &known(), &Answers::default()).details, known());
    }

    #[test]
    fn a_new_answer_replaces_what_it_asks_and_nothing_else() {
        let before = Answers::default();
        let now = Answers { depth: DepthAnswer::Deeper, ..before };
        let got = reanswer(&before, &known(), &now).details;
        assert_eq!(got, Details { depth: None, filmed: None, ..known() });
        let now = Answers { leave: LeaveAnswer::Button, ..before };
        let got = reanswer(&before, &known(), &now).details;
        assert_eq!(got, Details { lag_s: None, filmed: None, ..known() });
        let now = Answers { tyre: super::super::TyreAnswer::Diameter(Inches(26.0)), ..before };
        let got = reanswer(&before, &known(), &now);
        assert_eq!(got.details, Details { filmed: None, ..known() });
        assert!(got.standings.contains(&Standing::FilmDropped));
    }

    #[test]
    fn a_vague_answer_replaces_no_launch_and_one_time_replaces_no_slips() {
        let before = Answers::default();
        let kind = Answers { strength: StrengthAnswer::Kind(CarKind::QuickStreet), ..before };
        assert_eq!(reanswer(&before, &known(), &kind).details.strength, known().strength);
        let timed = Answers { strength: StrengthAnswer::SixtyFoot { seconds: 2.0 }, ..before };
        assert_eq!(reanswer(&before, &known(), &timed).details.strength, None);
        let slips = Details { strength: Some(Strength::Slips(vec![2.0, 2.1])), ..known() };
        assert_eq!(reanswer(&before, &slips, &timed).details.strength, slips.strength);
    }
}
