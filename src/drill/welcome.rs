//! The guided first run: one step at a time, from what the lamps mean to reading the verdict.
//!
//! Owns the steps, what ends each of them and what happens when facts come in another order. Refuses
//! words, and to hold anybody: it can be skipped at any step and begun again at any time.

use crate::tree::{Lamp, Outcome};

/// A step of the guide.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash)]
pub enum Step {
    /// What the pre-stage lamp means.
    PreStageLamp,
    /// What the stage lamp means.
    StageLamp,
    /// What the ambers mean.
    Ambers,
    /// What green means.
    Green,
    /// What red means.
    Red,
    /// Roll until the pre-stage lamp lights.
    RollIn,
    /// Roll on until the stage lamp lights.
    RollOn,
    /// Stand still until the tree is about to run.
    Wait,
    /// Leave on the last amber.
    Leave,
    /// The launch was made; its verdict is on its way.
    Launched,
    /// Read the verdict.
    Read(Ending),
    /// Nothing is guided any more.
    Over,
}

/// How the guided run ended, as far as a newcomer has to tell it apart.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash)]
pub enum Ending {
    /// At or after green.
    Legal,
    /// Before green.
    Red,
    /// Before the tree ran.
    LeftBeforeTree,
    /// Not staged in time.
    TimedOut,
    /// Never left.
    NoLaunch,
    /// Broken off.
    BrokenOff,
    /// Not shown or timed properly.
    Void,
}

/// What happened.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash)]
pub enum Fact {
    /// The driver has read a step that waits for nothing else.
    GoOn,
    /// The driver's pre-stage lamp lit.
    PreStaged,
    /// The driver's stage lamp lit.
    Staged,
    /// The driver's tyre is out of both beams again, before any launch.
    OutOfBeams,
    /// Both lanes are ready: the tree is about to run.
    Armed,
    /// The launch edge.
    Launch,
    /// The verdict is on the screen.
    Verdict(Ending),
    /// The driver wants no guide.
    Skip,
    /// The driver wants it again.
    Replay,
}

/// The steps in order as they are met when nothing goes wrong, but for the verdict.
pub const STEPS: [Step; 10] = [
    Step::PreStageLamp,
    Step::StageLamp,
    Step::Ambers,
    Step::Green,
    Step::Red,
    Step::RollIn,
    Step::RollOn,
    Step::Wait,
    Step::Leave,
    Step::Launched,
];

impl Step {
    /// What ends it when nothing goes wrong; `None` for the last one, and where any verdict does.
    pub fn ends_on(self) -> Option<Fact> {
        match self {
            Self::PreStageLamp | Self::StageLamp | Self::Ambers | Self::Green | Self::Red => {
                Some(Fact::GoOn)
            }
            Self::RollIn => Some(Fact::PreStaged),
            Self::RollOn => Some(Fact::Staged),
            Self::Wait => Some(Fact::Armed),
            Self::Leave => Some(Fact::Launch),
            Self::Launched => None,
            Self::Read(_) => Some(Fact::GoOn),
            Self::Over => None,
        }
    }

    /// Whether it only explains: no run is under way.
    pub fn is_before_the_run(self) -> bool {
        self.ends_on() == Some(Fact::GoOn) && !matches!(self, Self::Read(_))
    }

    /// The lamps it is about, to be pointed at; `ambers` is how many the tree has.
    pub fn lamps(self, ambers: u8) -> Vec<Lamp> {
        let last = Lamp::Amber(ambers.saturating_sub(1));
        match self {
            Self::PreStageLamp | Self::RollIn => vec![Lamp::PreStage],
            Self::StageLamp | Self::RollOn => vec![Lamp::Stage],
            Self::Ambers | Self::Wait => (0..ambers).map(Lamp::Amber).collect(),
            Self::Leave => vec![last],
            Self::Green => vec![Lamp::Green],
            Self::Red => vec![Lamp::Red],
            Self::Launched | Self::Read(_) | Self::Over => Vec::new(),
        }
    }

    /// Its place among the steps.
    fn place(self) -> usize {
        STEPS.iter().position(|step| *step == self).unwrap_or(STEPS.len())
    }
}

impl Ending {
    /// The ending of an outcome.
    pub fn of(outcome: Outcome) -> Self {
        match outcome {
            Outcome::Green => Self::Legal,
            Outcome::Red => Self::Red,
            Outcome::LeftBeforeTree => Self::LeftBeforeTree,
            Outcome::TimedOut => Self::TimedOut,
            // A first run is no blank one; staying is then no launch, and leaving too soon.
            Outcome::Lapse | Outcome::Stayed => Self::NoLaunch,
            Outcome::Guessed { .. } => Self::Red,
            Outcome::Abandoned(_) => Self::BrokenOff,
            Outcome::Void(_) => Self::Void,
        }
    }

    /// Whether the run showed what a run is; after any other the guide offers the next one.
    pub fn is_a_launch(self) -> bool {
        matches!(self, Self::Legal | Self::Red)
    }
}

/// The guide.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub struct Welcome {
    step: Step,
}

impl Default for Welcome {
    fn default() -> Self {
        Self { step: STEPS[0] }
    }
}

impl Welcome {
    /// A guide that has nothing to say: for a driver who had it.
    pub fn had() -> Self {
        Self { step: Step::Over }
    }

    /// The step that is on.
    pub fn step(&self) -> Step {
        self.step
    }

    /// Whether nothing is guided any more.
    pub fn is_over(&self) -> bool {
        self.step == Step::Over
    }

    /// Takes a fact; whether the step changed.
    ///
    /// A fact of a later step ends all before it: who launches before being staged is told so by the
    /// verdict, not held up. A fact of an earlier step changes nothing.
    pub fn take(&mut self, fact: Fact) -> bool {
        let before = self.step;
        self.step = self.after(fact);
        self.step != before
    }

    fn after(&self, fact: Fact) -> Step {
        let step = self.step;
        match (fact, step) {
            (Fact::Replay, _) => STEPS[0],
            (_, Step::Over) | (Fact::Skip, _) => Step::Over,
            (Fact::Verdict(ending), _) => Step::Read(ending),
            (Fact::GoOn, Step::Read(ending)) if ending.is_a_launch() => Step::Over,
            (Fact::GoOn, Step::Read(_)) => Step::RollIn,
            (Fact::GoOn, _) if step.is_before_the_run() => STEPS[step.place() + 1],
            // The next run has begun by itself.
            (Fact::PreStaged, Step::Read(ending)) if !ending.is_a_launch() => Step::RollOn,
            (Fact::GoOn, _) | (_, Step::Read(_)) => step,
            // Rolled through or back out: from the top of the way in.
            (Fact::OutOfBeams, Step::RollOn | Step::Wait) => Step::RollIn,
            (Fact::OutOfBeams, _) => step,
            (Fact::PreStaged, _) => later(step, Step::RollOn),
            (Fact::Staged, _) => later(step, Step::Wait),
            (Fact::Armed, _) => later(step, Step::Leave),
            (Fact::Launch, _) => later(step, Step::Launched),
        }
    }
}

fn later(step: Step, told: Step) -> Step {
    if told.place() > step.place() { told } else { step }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::tree::VoidReason;

    const ENDINGS: [Ending; 7] = [
        Ending::Legal,
        Ending::Red,
        Ending::LeftBeforeTree,
        Ending::TimedOut,
        Ending::NoLaunch,
        Ending::BrokenOff,
        Ending::Void,
    ];

    fn facts() -> Vec<Fact> {
        let plain = [
            Fact::GoOn,
            Fact::PreStaged,
            Fact::Staged,
            Fact::OutOfBeams,
            Fact::Armed,
            Fact::Launch,
            Fact::Skip,
            Fact::Replay,
        ];
        plain.into_iter().chain(ENDINGS.map(Fact::Verdict)).collect()
    }

    fn after(facts: &[Fact]) -> Step {
        let mut guide = Welcome::default();
        facts.iter().for_each(|fact| {
            guide.take(*fact);
        });
        guide.step()
    }

    const LAMPS_READ: [Fact; 5] = [Fact::GoOn; 5];
    const RUN: [Fact; 4] = [Fact::PreStaged, Fact::Staged, Fact::Armed, Fact::Launch];

    #[test]
    fn every_step_is_ended_by_its_own_fact_and_the_guide_comes_to_its_end() {
        let mut guide = Welcome::default();
        let mut met = Vec::new();
        while let Some(fact) = guide.step().ends_on() {
            met.push(guide.step());
            assert!(guide.take(fact), "{:?}", guide.step());
        }
        assert_eq!(met, STEPS[..9]);
        assert_eq!(guide.step(), Step::Launched);
        guide.take(Fact::Verdict(Ending::Legal));
        guide.take(Fact::GoOn);
        assert!(guide.is_over());
    }

    #[test]
    fn a_launch_before_staged_waits_for_its_verdict_and_is_made_again() {
        let too_soon = [&LAMPS_READ[..], &[Fact::PreStaged, Fact::Launch]].concat();
        assert_eq!(after(&too_soon), Step::Launched);
        // Lamps of a car that is leaving do not call it back.
        assert_eq!(
            after(&[&too_soon[..], &[Fact::Staged, Fact::OutOfBeams]].concat()),
            Step::Launched
        );
        let told = [&too_soon[..], &[Fact::Verdict(Ending::LeftBeforeTree)]].concat();
        assert_eq!(after(&told), Step::Read(Ending::LeftBeforeTree));
        assert_eq!(after(&[&told[..], &[Fact::GoOn]].concat()), Step::RollIn);
        assert_eq!(after(&[&told[..], &[Fact::PreStaged]].concat()), Step::RollOn);
    }

    #[test]
    fn a_red_ends_the_guide_and_no_launch_or_a_void_run_offers_the_next() {
        let run = [&LAMPS_READ[..], &RUN].concat();
        for ending in ENDINGS {
            let read = [&run[..], &[Fact::Verdict(ending)]].concat();
            assert_eq!(after(&read), Step::Read(ending));
            let next = if ending.is_a_launch() { Step::Over } else { Step::RollIn };
            assert_eq!(after(&[&read[..], &[Fact::GoOn]].concat()), next, "{ending:?}");
        }
        // Without a launch the verdict comes straight after the ambers.
        let no_launch = [&LAMPS_READ[..], &RUN[..3], &[Fact::Verdict(Ending::NoLaunch)]].concat();
        assert_eq!(after(&no_launch), Step::Read(Ending::NoLaunch));
    }

    #[test]
    fn rolling_back_out_begins_the_way_in_again() {
        let through =
            [&LAMPS_READ[..], &[Fact::PreStaged, Fact::Staged, Fact::OutOfBeams]].concat();
        assert_eq!(after(&through), Step::RollIn);
        let armed = [&LAMPS_READ[..], &RUN[..3], &[Fact::OutOfBeams]].concat();
        assert_eq!(after(&armed), Step::Leave);
    }

    #[test]
    fn whatever_the_order_of_facts_the_guide_never_sticks() {
        // Every order of up to four facts: 15⁴ + 15³ + 15² + 15 of them.
        let all = facts();
        let mut orders: Vec<Vec<Fact>> = vec![Vec::new()];
        for _ in 0..4 {
            let longer = orders
                .iter()
                .flat_map(|order| all.iter().map(move |fact| [&order[..], &[*fact]].concat()));
            orders = longer.collect();
            for order in &orders {
                let mut guide = Welcome::default();
                for fact in order {
                    let before = guide.step();
                    let changed = guide.take(*fact);
                    assert_eq!(changed, guide.step() != before);
                    match fact {
                        Fact::Skip => assert!(guide.is_over(), "{order:?}"),
                        Fact::Replay => assert_eq!(guide.step(), STEPS[0], "{order:?}"),
                        Fact::Verdict(ending) if before != Step::Over => {
                            assert_eq!(guide.step(), Step::Read(*ending), "{order:?}");
                        }
                        Fact::OutOfBeams => {}
                        // Nothing else goes back within a run, nor wakes a guide that is over.
                        _ if before == Step::Over => assert!(guide.is_over(), "{order:?}"),
                        _ if !matches!(before, Step::Read(_)) => {
                            assert!(guide.step().place() >= before.place(), "{order:?}");
                        }
                        _ => {}
                    }
                }
                // From anywhere an ordinary run ends it.
                RUN.into_iter().for_each(|fact| {
                    guide.take(fact);
                });
                guide.take(Fact::Verdict(Ending::Legal));
                guide.take(Fact::GoOn);
                assert!(guide.is_over(), "{order:?}");
            }
        }
    }

    #[test]
    fn who_had_it_sees_nothing_and_may_have_it_again() {
        let mut guide = Welcome::had();
        assert!(!guide.take(Fact::PreStaged) && guide.is_over());
        assert!(guide.take(Fact::Replay));
        assert_eq!(guide.step(), Step::PreStageLamp);
    }

    #[test]
    fn every_lamp_is_pointed_at_once_before_the_run_and_every_outcome_has_an_ending() {
        let before: Vec<Lamp> =
            STEPS.iter().filter(|s| s.is_before_the_run()).flat_map(|s| s.lamps(3)).collect();
        assert_eq!(before.len(), 7);
        assert_eq!(Step::Leave.lamps(3), [Lamp::Amber(2)]);
        assert_eq!(Ending::of(Outcome::Lapse), Ending::NoLaunch);
        assert_eq!(Ending::of(Outcome::Void(VoidReason::NoOnset)), Ending::Void);
    }
}
