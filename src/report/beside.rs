//! Two people side by side: what the other one did, and who won.
//!
//! Owns the sentences. Refuses the rules they follow from (the rules room).

use super::page::Form;
use crate::rules::{FoulRule, Judgement, LaneRun, Reason, RtScale, judge};
use crate::tree::Outcome;
use crate::trial::TrialRecord;

/// The driver whose machine it is, where no name was given.
pub const YOU: &str = "You";

/// What the person in the other lane did: `Second: light .034 (driver 231 ms, car 289 ms)`.
pub fn beside_sentence(name: &str, record: &TrialRecord) -> String {
    match (record.outcome, record.parts) {
        (Outcome::Green | Outcome::Red, Some(parts)) => {
            let red = if record.outcome == Outcome::Red { "red, " } else { "" };
            format!(
                "{name}: {red}light {} (driver {:.0} ms, car {:.0} ms)",
                Form::Light.words(parts.rt().as_secs_f64()),
                parts.driver().as_ms_f64(),
                parts.car.as_ms_f64()
            )
        }
        (Outcome::LeftBeforeTree, _) => format!("{name}: left before the tree"),
        (Outcome::Lapse, _) => format!("{name}: did not leave"),
        (Outcome::TimedOut, _) => format!("{name}: not staged in time"),
        (Outcome::Void(_), _) => format!("{name}: void, says nothing about anybody"),
        (Outcome::Abandoned(_), _) => format!("{name}: broke off"),
        _ => format!("{name}: no launch to judge"),
    }
}

/// Who won, and why; `names` and `lanes` in the same order. A lane that gave no launch decides nothing.
pub fn judged_sentence(names: [&str; 2], lanes: [LaneRun; 2]) -> String {
    let Ok(judgement) = judge(lanes, FoulRule::First, RtScale::Modern) else {
        return by_light_alone(names, lanes);
    };
    let Some(winner) = judgement.winner else {
        return match judgement.reason {
            Reason::LeftBeforeTree => "Both left before the tree: nobody wins.".to_owned(),
            _ => "Nobody wins: equal to the ten-thousandth.".to_owned(),
        };
    };
    let (first, second) = (names[winner], names[1 - winner]);
    let (loser, were) = if second == YOU { ("you", "were") } else { (second, "was") };
    let why = match judgement.reason {
        Reason::LeftBeforeTree => format!("{loser} left before the tree"),
        Reason::Red => format!("{loser} {were} red"),
        Reason::DoubleRed => format!("both red, {loser} first"),
        Reason::Breakout => format!("{loser} broke out"),
        Reason::DoubleBreakout => format!("both broke out, {loser} by more"),
        Reason::Package => package_words(&judgement, winner, lanes),
        Reason::Tie => "a tie".to_owned(),
    };
    let wins = if first == YOU { "win" } else { "wins" };
    format!("{first} {wins}: {why}.")
}

fn package_words(judgement: &Judgement, winner: usize, lanes: [LaneRun; 2]) -> String {
    let by = judgement.margin.map_or_else(String::new, |m| format!(" by {m}"));
    let late = |lane: usize| lanes[lane].et;
    let slower = match (late(winner), late(1 - winner)) {
        // The slower car won on the light: the trade's word for it.
        (Some(own), Some(other)) if lanes[0].dial.is_none() && own > other => " (a holeshot)",
        _ => "",
    };
    format!("first at the finish{by}{slower}, the passes computed from both cars")
}

/// Without passes only the lights can be told apart.
fn by_light_alone(names: [&str; 2], lanes: [LaneRun; 2]) -> String {
    let [Some(a), Some(b)] = lanes.map(|lane| lane.rt) else {
        return "Not judged: a lane gave no launch.".to_owned();
    };
    let (first, by) = if a <= b { (names[0], b - a) } else { (names[1], a - b) };
    if a == b {
        return "Equal lights.".to_owned();
    }
    format!(
        "{first} had the better light by {by}. Who wins takes weight and power of both cars (My car)."
    )
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::rules::SlipTime;

    fn lane(rt: f64, et: Option<f64>) -> LaneRun {
        let time = |s: f64| SlipTime::from_seconds(s).unwrap();
        LaneRun { rt: Some(time(rt)), et: et.map(time), ..LaneRun::default() }
    }

    #[test]
    fn the_smaller_sum_of_light_and_pass_wins_heads_up() {
        // .050 + 14.200 against .010 + 14.220: 14.250 against 14.230.
        let said = judged_sentence(["A", "B"], [lane(0.050, Some(14.2)), lane(0.010, Some(14.22))]);
        assert_eq!(
            said,
            "B wins: first at the finish by .020 (a holeshot), the passes computed from both cars."
        );
    }

    #[test]
    fn a_red_loses_without_any_pass_and_two_greens_need_one() {
        let red = LaneRun { red: true, ..lane(-0.004, None) };
        assert_eq!(judged_sentence(["A", "B"], [red, lane(0.3, None)]), "B wins: A was red.");
        let you = judged_sentence([YOU, "B"], [lane(0.01, Some(14.0)), red]);
        assert_eq!(you, "You win: B was red.");
        let open = judged_sentence(["A", "B"], [lane(0.02, None), lane(0.05, None)]);
        assert!(open.starts_with("A had the better light by .030."), "{open}");
        let nothing = judged_sentence(["A", "B"], [lane(0.02, None), LaneRun::default()]);
        assert!(nothing.starts_with("Not judged"), "{nothing}");
    }
}
