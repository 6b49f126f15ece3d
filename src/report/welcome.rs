//! The guided first run in words: one short sentence a step.
//!
//! Owns the sentences. Refuses the order of the steps, and words nobody has been told: a driver who has
//! never seen a tree reads them.

use crate::car::EdgeAnswer;
use crate::drill::{Ending, Step};

/// What to do keys by, as the window names them: `Space`, `the up arrow`.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub struct GuideKeys<'a> {
    /// Rolls forward while held.
    pub roll: &'a str,
    /// Launches.
    pub launch: &'a str,
    /// Whether pressing or letting go launches.
    pub edge: EdgeAnswer,
    /// Goes on to the next step.
    pub go_on: &'a str,
    /// Ends the guide.
    pub skip: &'a str,
}

/// The sentence of a step; empty once nothing is guided.
pub fn step_sentence(step: Step, keys: &GuideKeys) -> String {
    let GuideKeys { roll, launch, .. } = keys;
    match step {
        Step::PreStageLamp => "Top lamp: your front tyre is close to the start line.".to_owned(),
        Step::StageLamp => "Lamp below it: your tyre stands on the start line.".to_owned(),
        Step::Ambers => "Three ambers light one after the other: get ready, and go.".to_owned(),
        Step::Green => "Green: you may have left. Waiting for it is too late.".to_owned(),
        Step::Red => "Red: your car left the line too soon. That run is lost.".to_owned(),
        Step::RollIn => format!("Hold {roll} and roll gently until the top lamp lights."),
        Step::RollOn => format!("Now tap {roll} softly until the lamp below lights too."),
        Step::Wait => "Stand still. The ambers come in a moment.".to_owned(),
        Step::Leave => match keys.edge {
            EdgeAnswer::Press => format!("Press {launch} as the last amber lights."),
            EdgeAnswer::Release => format!("Let go of {launch} as the last amber lights."),
        },
        Step::Launched => "You have left. Your time comes at once.".to_owned(),
        Step::Read(ending) => ending_sentence(ending).to_owned(),
        Step::Over => String::new(),
    }
}

fn ending_sentence(ending: Ending) -> &'static str {
    match ending {
        Ending::Legal => "A good start. The number is seconds after green; .000 is perfect.",
        Ending::Red => "Red: too soon. The number says by how much. Next time a touch later.",
        Ending::LeftBeforeTree => "You left before the ambers. Stand still next time; try again.",
        Ending::TimedOut => "You took too long to get in place. No harm done; try again.",
        Ending::NoLaunch => "You did not leave. The last amber is the sign to go; try again.",
        Ending::BrokenOff => "The run was broken off. Try again.",
        Ending::Void => "This run did not work, and it is not your fault. Try again.",
    }
}

/// The line of keys below a step; empty once nothing is guided.
pub fn step_keys(step: Step, keys: &GuideKeys) -> String {
    let (go_on, skip) = (keys.go_on, keys.skip);
    match step {
        Step::Over => String::new(),
        Step::Read(_) => format!("{go_on}: go on"),
        step if step.is_before_the_run() => format!("{go_on}: go on   {skip}: skip this"),
        _ => format!("{skip}: skip this"),
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::drill::welcome::STEPS;

    const KEYS: GuideKeys = GuideKeys {
        roll: "the up arrow",
        launch: "Space",
        edge: EdgeAnswer::Press,
        go_on: "Enter",
        skip: "Esc",
    };

    fn all() -> Vec<Step> {
        let endings = [
            Ending::Legal,
            Ending::Red,
            Ending::LeftBeforeTree,
            Ending::TimedOut,
            Ending::NoLaunch,
            Ending::BrokenOff,
            Ending::Void,
        ];
        STEPS.into_iter().chain(endings.map(Step::Read)).collect()
    }

    #[test]
    fn every_step_is_one_short_line_in_plain_words() {
        // What a newcomer does not know yet.
        let jargon = ["stage", "rollout", "deep", "foul", "void", "R/T", "launch edge", "beam"];
        for step in all() {
            for edge in [EdgeAnswer::Press, EdgeAnswer::Release] {
                let sentence = step_sentence(step, &GuideKeys { edge, ..KEYS });
                assert!((10..=72).contains(&sentence.chars().count()), "{sentence}");
                assert!(sentence.ends_with('.'), "{sentence}");
                assert!(jargon.iter().all(|word| !sentence.contains(word)), "{sentence}");
            }
            assert!(!step_keys(step, &KEYS).is_empty());
        }
    }

    #[test]
    fn who_lets_go_to_launch_is_told_so_and_the_end_says_nothing() {
        let release = GuideKeys { edge: EdgeAnswer::Release, ..KEYS };
        assert!(step_sentence(Step::Leave, &release).starts_with("Let go of Space"));
        assert!(step_sentence(Step::Leave, &KEYS).starts_with("Press Space"));
        assert_eq!(
            (step_sentence(Step::Over, &KEYS), step_keys(Step::Over, &KEYS)),
            Default::default()
        );
    }
}
