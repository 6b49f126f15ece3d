//! The start line against numbers printed elsewhere, through the whole machine.
//!
//! Owns outside values with their sources. Refuses the machine's own constants: a number here comes
//! from the page named beside it, or is derived from such numbers in the test.

#[allow(dead_code, reason = "the stories use the rest of the rig")]
#[path = "stories/support.rs"]
mod support;

use lastamber::beams::{BeamState, BeamZones, LaunchLaw};
use lastamber::car::{BeamLine, Tyre};
use lastamber::rules::{FoulRule, Procedure, TreeKind, head_start};
use lastamber::tree::*;
use lastamber::units::{Inches, Mark, Span};
use support::*;

const YOU: Lane = Lane::Left;
const THEY: Lane = Lane::Right;

/// From the stage lamp of the lane that staged last to the first amber.
fn wait_after_second_stage_lamp(procedure: Procedure, seed: u64) -> Span {
    let lanes = start(Some(rolling()), Some(other(Temper::Prompt, seed)));
    let mut rig = Rig::new(StartSetup { procedure, seed, ..lanes });
    rig.rolls_in(YOU, ms(300 + 40 * seed as i64));
    let first = rig.armed();
    let staged = |lane| rig.find(|e| *e == TreeEvent::Beams { lane, state: BeamState::Staged });
    let [left, right] = Lane::BOTH.map(|lane| staged(lane).expect("the tree is armed"));
    first - left.max(right)
}

#[test]
fn bracket_ambers_fall_between_1_5_and_1_7_seconds_after_the_second_stage_lamp() {
    // Published: steady .6 s (IHRA rulebook p. 55), then .9 s and up to .2 s at random (a track's
    // start-procedure page).
    let waits: Vec<Span> =
        (0..40).map(|seed| wait_after_second_stage_lamp(Procedure::bracket(), seed)).collect();
    assert!(waits.iter().all(|wait| (ms(1_500)..=ms(1_700)).contains(wait)), "{waits:?}");
    let (low, high) = (waits.iter().min().unwrap(), waits.iter().max().unwrap());
    assert!(*high - *low > ms(150), "the random part is used: {low:?} to {high:?}");
}

#[test]
fn junior_and_pro_starts_wait_as_printed() {
    // Published: steady 1.0 s and .5 s (IHRA rulebook p. 55), then .8 and .7 s, up to .2 s more (a
    // track's start-procedure page).
    for seed in 0..10 {
        let junior = wait_after_second_stage_lamp(Procedure::junior(), seed);
        assert!((ms(1_800)..=ms(2_000)).contains(&junior), "{junior:?}");
        let pro = wait_after_second_stage_lamp(Procedure::pro(), seed);
        assert!((ms(1_200)..=ms(1_400)).contains(&pro), "{pro:?}");
    }
}

#[test]
fn the_second_car_has_ten_seconds_or_fifteen_among_juniors() {
    // Published: a track's start-procedure page.
    for (procedure, allowed) in [(Procedure::bracket(), 10), (Procedure::junior(), 15)] {
        let late = StartSetup { procedure, ..start(Some(rolling()), Some(staged())) };
        let mut rig = Rig::new(late);
        rig.rolls_in(YOU, ms(60_000));
        assert_eq!(rig.settle(YOU).outcome, Outcome::TimedOut);
        let steady = rig.find(|e| *e == TreeEvent::Steady { lane: THEY }).unwrap();
        let red = rig.due(YOU, Lamp::Red).unwrap();
        assert_eq!(red - steady, ms(1_000 * allowed));
    }
}

/// First amber to green on a screen without any lag, and the reaction time of a launch at
/// `after_last_amber` with this car part.
fn tree(kind: TreeKind, driver: Span, car: Span) -> (Span, Span) {
    // With all the pull at once the car part is its lag, to within the roll at 10⁹ g (8 µs).
    let launch = LaunchLaw { g: 1e9, lag: car };
    let you = LaneSetup { launch, ..staged() };
    let setup = StartSetup { kind, ..start(Some(you), None) };
    let mut rig = Rig::with_screen(setup, |_, _, due: Mark| Some(due));
    let shown = rig.last_amber(YOU);
    rig.launch(shown + driver, YOU);
    let rt = rig.settle(YOU).parts.unwrap().rt();
    rig.run_to(shown + ms(600));
    let lit = |lamp| rig.due(YOU, lamp).expect("a green run has every lamp");
    (lit(Lamp::Green) - lit(Lamp::Amber(0)), rt)
}

#[test]
fn a_full_tree_takes_1_500_and_a_pro_tree_0_400_from_first_amber_to_green() {
    // Published: the sanctioning body's "101" page for newcomers (NHRA). The .500 pro tree is
    // common practice.
    let slow = ms(400);
    assert_eq!(tree(TreeKind::full(), slow, slow).0, ms(1_500));
    assert_eq!(tree(TreeKind::pro(), slow, slow).0, ms(400));
    assert_eq!(tree(TreeKind::pro_500(), slow, slow).0, ms(500));
}

#[test]
fn the_same_driver_and_car_are_perfect_on_a_full_tree_and_a_tenth_late_on_a_pro_tree() {
    // Derived: .213 + .289 = .502, so +.002 on .500 and +.102 on .400.
    let (driver, car) = (ms(213), ms(289));
    for (kind, expected) in [(TreeKind::full(), 2), (TreeKind::pro(), 102)] {
        let (_, rt) = tree(kind, driver, car);
        assert!((rt - ms(expected)).abs() < Span::from_us(10), "{rt:?}");
    }
}

#[test]
fn one_who_waits_for_green_is_about_half_a_second_late() {
    // Visual simple reaction 213 ms (Woods et al. 2015, Front. Hum. Neurosci. 9:131) after green,
    // and the same car: .213 + .289 = .502.
    let (_, rt) = tree(TreeKind::full(), ms(500) + ms(213), ms(289));
    assert!((rt - ms(502)).abs() < Span::from_us(10), "{rt:?}");
}

#[test]
fn the_slower_cars_side_starts_first_by_the_difference_of_the_dial_ins() {
    // Published: NHRA sportsman pages; the last pair is the one before with its lanes changed over.
    let printed = [
        ([16.00, 14.50], 1_500),
        ([17.75, 15.25], 2_500),
        ([14.20, 13.00], 1_200),
        ([15.70, 13.60], 2_100),
        ([11.68, 9.20], 2_480),
        ([9.20, 11.68], -2_480),
    ];
    for (dials, head_ms) in printed {
        let delays = head_start(dials).unwrap();
        let [left, right] = delays.map(|tree_delay| Some(LaneSetup { tree_delay, ..staged() }));
        let mut rig = Rig::new(start(left, right));
        rig.last_amber(YOU);
        rig.last_amber(THEY);
        for lamp in [Lamp::Amber(0), Lamp::Amber(1), Lamp::Amber(2)] {
            let [left, right] = Lane::BOTH.map(|lane| rig.due(lane, lamp).unwrap());
            assert_eq!(right - left, ms(head_ms), "{dials:?}");
        }
    }
}

#[test]
fn zero_is_legal_and_a_hair_below_is_red() {
    // Published: NHRA release for the 2003 season: measured from green, .000 perfect and legal,
    // negative a red light.
    for (rt, outcome, printed) in [
        (Span::ZERO, Outcome::Green, ".000"),
        (Span::from_us(-300), Outcome::Red, "-.001"),
        (ms(-33), Outcome::Red, "-.033"),
        (ms(576), Outcome::Green, ".576"),
    ] {
        let mut rig = Rig::new(start(Some(staged()), None));
        rig.last_amber(YOU);
        rig.launch_for_rt(YOU, rt);
        let result = rig.settle(YOU);
        assert_eq!(result.outcome, outcome);
        assert_eq!(result.parts.unwrap().rt().to_string(), printed);
    }
}

#[test]
fn the_car_part_by_launch_strength_follows_from_the_printed_roll() {
    // A track's published guideline: 11½ in of roll with a rigid 22 in wheel over a 1 5/8 in beam.
    // Derived: t = √(2·11.5 in / a), seconds to the thousandth.
    let chord = Tyre::rigid(Inches(22.0)).unwrap().chord(Inches(1.625)).unwrap();
    assert!((chord.0 - 11.5).abs() < 0.01);
    for (g, expected_ms) in [(0.4, 386), (0.5, 345), (0.6, 315), (0.7, 292), (0.8, 273), (1.0, 244)]
    {
        let zones = BeamZones::new(chord, Inches(7.0), Inches(13.375));
        let launch = LaunchLaw { g, lag: Span::ZERO };
        let mut rig = Rig::new(start(Some(LaneSetup { zones, launch, ..staged() }), None));
        rig.last_amber(YOU);
        rig.launch_for_rt(YOU, ms(100));
        let car = rig.settle(YOU).parts.unwrap().car;
        assert!((car - ms(expected_ms)).abs() <= Span::from_us(650), "{g} g: {car:?}");
    }
}

#[test]
fn at_the_moment_the_pre_stage_lamp_goes_out_seven_inches_are_left_whatever_the_tyre() {
    // Derived from the three beams: chord − (chord − 7.0 in), unless the guard beam comes first: a
    // 28 in tyre over a 1.75 in beam has 13.375 − 13.56 + 7.0 = 6.82 in left.
    for (diameter, height, left_in) in
        [(22.0, 1.625, 7.0), (24.0, 1.625, 7.0), (26.0, 1.5, 7.0), (28.0, 1.75, 6.82)]
    {
        let line =
            BeamLine::new(Inches(7.0), Inches(13.375), Inches(height), Inches(10.0)).unwrap();
        let chord = Tyre::rigid(Inches(diameter)).unwrap().chord(line.beam_height()).unwrap();
        let zones = BeamZones::new(chord, line.prestage_to_stage(), line.stage_to_guard());
        let mut rig = Rig::new(start(Some(LaneSetup { zones, ..staged() }), Some(rolling())));
        rig.pedal(START + ms(10), YOU, lastamber::beams::Pedal::Creep, true);
        let out = rig.run_until("pre-stage lamp out", |e| {
            *e == TreeEvent::Beams { lane: YOU, state: BeamState::Deep }
        });
        let left = zones.remaining(rig.machine.depth(YOU, out).unwrap());
        assert!((left.0 - left_in).abs() < 0.005, "{diameter} in tyre: {left:?}");
    }
}

#[test]
fn deeper_staging_buys_reaction_time_as_worked_out_beforehand() {
    // Derived for a car with a 2.000 s 60-foot time at 11.508 in: a = 2.847/2² g = .712 g. With 9,
    // 7, 5 and 3 in left, reaction times −.033, −.064, −.099 and −.142 against shallow.
    let launch = LaunchLaw { g: 2.847 / 4.0, lag: Span::ZERO };
    let rt = |depth: f64| {
        let entry = Entry::Staged { depth: Inches(depth) };
        let mut rig = Rig::new(start(Some(LaneSetup { launch, entry, ..staged() }), None));
        let shown = rig.last_amber(YOU);
        rig.launch(shown + ms(230), YOU);
        rig.settle(YOU).parts.unwrap().rt()
    };
    let shallow = rt(0.0);
    for (left_in, gain_ms) in [(9.0, -33), (7.0, -64), (5.0, -99), (3.0, -142)] {
        let gain = rt(11.508 - left_in) - shallow;
        assert!((gain - ms(gain_ms)).abs() <= ms(1), "{left_in} in left: {gain:?}");
    }
}

#[test]
fn a_large_red_of_the_late_lane_can_lose_to_a_tiny_one_of_the_early_lane() {
    // The two rules in use (common practice): 15.00 and −.004 against 13.00 and −.120.
    for (foul_rule, loses) in [(FoulRule::First, YOU), (FoulRule::Worst, THEY)] {
        let delays = head_start([15.00, 13.00]).unwrap();
        let [left, right] = delays.map(|tree_delay| Some(LaneSetup { tree_delay, ..staged() }));
        let mut rig = Rig::new(StartSetup { foul_rule, ..start(left, right) });
        for (lane, rt) in [(YOU, ms(-4)), (THEY, ms(-120))] {
            rig.last_amber(lane);
            rig.launch_for_rt(lane, rt);
        }
        assert_eq!(
            (rig.settle(YOU).outcome, rig.settle(THEY).outcome),
            (Outcome::Red, Outcome::Red)
        );
        assert_eq!(rig.loser(), Some(loses));
    }
}
