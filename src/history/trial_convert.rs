//! From a run to its line and back, losing nothing.
//!
//! Owns the field by field copy, written out so that a fact added to the record does not build
//! until it has a place in the line. Refuses checks: what was recorded is what comes back.

use super::trial_line::{
    AimLine, CarFactsLine, LampLine, LaunchLine, MeasuredLine, OffsetLine, PartsLine, PauseLine,
    RigPrintLine, SetupLine, StagingLine, TrialLine,
};
use crate::tree::{Parts, Staging};
use crate::trial::{
    Aim, CarFacts, Circumstances, CommonSetup, LampFact, LaunchFact, OffsetInForce, Pause,
    RigPrint, SeenFacts, SetupFacts, TrialRecord,
};
use crate::units::{Inches, Measured, Span};

impl From<TrialRecord> for TrialLine {
    fn from(record: TrialRecord) -> Self {
        let TrialRecord {
            id,
            began,
            with,
            setup,
            seen,
            amber_spacing_off,
            outcome,
            parts,
            colour_in_doubt,
            hitch,
            lamp_corrected,
        } = record;
        let Circumstances { program, driver, car, rig, offset, onset_grade } = with.into_inner();
        let SeenFacts { staging, lamps, amber_gaps_shown, hold, frame_period, launch } =
            seen.into();
        Self {
            id: id.into(),
            began: began.into(),
            program: program.into(),
            driver: driver.into(),
            setup: setup.into(),
            car: car.into_inner().into(),
            rig: rig.into_inner().into(),
            offset: offset.into_inner().into(),
            staging: staging.into(),
            lamps: lamps.into_iter().map(LampLine::from).collect(),
            onset_grade: onset_grade.into(),
            amber_gaps_shown_ns: amber_gaps_shown.into_iter().map(Span::ns).collect(),
            amber_spacing_off,
            hold_ns: hold.map(Span::ns),
            frame_period_ns: frame_period.ns(),
            launch: launch.map(LaunchLine::from),
            outcome,
            parts: parts.map(PartsLine::from),
            colour_in_doubt,
            hitch,
            lamp_corrected,
        }
    }
}

impl From<TrialLine> for TrialRecord {
    fn from(line: TrialLine) -> Self {
        Self {
            id: line.id.into(),
            began: line.began.into(),
            with: Circumstances {
                program: line.program.into(),
                driver: line.driver.into(),
                car: CarFacts::from(line.car).into(),
                rig: RigPrint::from(line.rig).into(),
                offset: OffsetInForce::from(line.offset).into(),
                onset_grade: line.onset_grade.into(),
            }
            .into(),
            setup: line.setup.into(),
            seen: SeenFacts {
                staging: line.staging.into(),
                lamps: line.lamps.into_iter().map(LampFact::from).collect(),
                amber_gaps_shown: line.amber_gaps_shown_ns.into_iter().map(Span::from_ns).collect(),
                hold: line.hold_ns.map(Span::from_ns),
                frame_period: Span::from_ns(line.frame_period_ns),
                launch: line.launch.map(LaunchFact::from),
            }
            .into(),
            amber_spacing_off: line.amber_spacing_off,
            outcome: line.outcome,
            parts: line.parts.map(Parts::from),
            colour_in_doubt: line.colour_in_doubt,
            hitch: line.hitch,
            lamp_corrected: line.lamp_corrected,
        }
    }
}

/// The copy both ways between a part of the record and its line: `field` is copied as it is,
/// `field: name = out, back` is copied through `out` on the way to disk and `back` on the way in.
macro_rules! copied_both_ways {
    ($fact:ident <=> $line:ident {
        $($same:ident,)*
        ;
        $($field:ident : $name:ident = $out:expr, $back:expr;)*
    }) => {
        impl From<$fact> for $line {
            fn from(fact: $fact) -> Self {
                let $fact { $($same,)* $($field,)* } = fact;
                Self { $($same,)* $($name: $out($field),)* }
            }
        }

        impl From<$line> for $fact {
            fn from(line: $line) -> Self {
                let $line { $($same,)* $($name,)* } = line;
                Self { $($same,)* $($field: $back($name),)* }
            }
        }
    };
}

copied_both_ways!(Measured <=> MeasuredLine { value, sd, ; });

impl From<SetupFacts> for SetupLine {
    fn from(facts: SetupFacts) -> Self {
        let SetupFacts { common, seed, pause } = facts;
        let CommonSetup {
            tree,
            ambers,
            amber_gap,
            interval,
            procedure,
            drill,
            style,
            blank,
            lane,
            other_lane,
            scripted,
            aim,
        } = common.into_inner();
        Self {
            tree: tree.into(),
            ambers,
            amber_gap_ns: amber_gap.ns(),
            interval_ns: interval.ns(),
            procedure: procedure.into(),
            drill,
            style,
            blank,
            lane,
            other_lane: maybe(other_lane),
            seed,
            scripted,
            aim: maybe(aim),
            pause: maybe(pause),
        }
    }
}

impl From<SetupLine> for SetupFacts {
    fn from(line: SetupLine) -> Self {
        let common = CommonSetup {
            tree: line.tree.into(),
            ambers: line.ambers,
            amber_gap: Span::from_ns(line.amber_gap_ns),
            interval: Span::from_ns(line.interval_ns),
            procedure: line.procedure.into(),
            drill: line.drill,
            style: line.style,
            blank: line.blank,
            lane: line.lane,
            other_lane: maybe(line.other_lane),
            scripted: line.scripted,
            aim: maybe(line.aim),
        };
        Self { common: common.into(), seed: line.seed, pause: maybe(line.pause) }
    }
}

copied_both_ways!(Aim <=> AimLine {
    of, from,
    ;
    at: at_ns = Span::ns, Span::from_ns;
});

copied_both_ways!(Pause <=> PauseLine {
    ;
    planned: planned_ns = Span::ns, Span::from_ns;
    waited: waited_ns = Span::ns, Span::from_ns;
});

copied_both_ways!(CarFacts <=> CarFactsLine {
    name, assumed,
    ;
    car_part_s: car_part_s = Into::into, Into::into;
    tyre_diameter: tyre_diameter_in = inches, Inches;
    lag_s: lag_s = Into::into, Into::into;
    launch_g: launch_g = Into::into, Into::into;
});

copied_both_ways!(RigPrint <=> RigPrintLine {
    device, control, launch_edge, threshold, limb, source, display, refresh_hz, present_mode,
    ;
});

copied_both_ways!(OffsetInForce <=> OffsetLine {
    from,
    ;
    ms: delay_ms = Into::into, Into::into;
});

copied_both_ways!(Staging <=> StagingLine {
    courtesy_broken, deep, sent_back, rolled_through,
    ;
    took: took_ns = maybe_ns, maybe_span;
});

copied_both_ways!(LampFact <=> LampLine {
    lamp,
    ;
    due: due_ns = Span::ns, Span::from_ns;
    shown: shown_ns = maybe_three_ns, maybe_three_spans;
});

copied_both_ways!(LaunchFact <=> LaunchLine {
    origin, sources_disagree,
    ;
    at: at_ns = three_ns, three_spans;
    depth: depth_in = inches, Inches;
});

copied_both_ways!(Parts <=> PartsLine {
    ;
    driver_raw: driver_raw_ns = Span::ns, Span::from_ns;
    offset: offset_ns = Span::ns, Span::from_ns;
    car: car_ns = Span::ns, Span::from_ns;
    interval: interval_ns = Span::ns, Span::from_ns;
    early_doubt: early_doubt_ns = Span::ns, Span::from_ns;
    late_doubt: late_doubt_ns = Span::ns, Span::from_ns;
});

fn maybe<A: Into<B>, B>(some: Option<A>) -> Option<B> {
    some.map(Into::into)
}

fn inches(length: Inches) -> f64 {
    length.0
}

fn maybe_ns(span: Option<Span>) -> Option<i64> {
    span.map(Span::ns)
}

fn maybe_span(ns: Option<i64>) -> Option<Span> {
    ns.map(Span::from_ns)
}

fn three_ns(spans: [Span; 3]) -> [i64; 3] {
    spans.map(Span::ns)
}

fn three_spans(ns: [i64; 3]) -> [Span; 3] {
    ns.map(Span::from_ns)
}

fn maybe_three_ns(spans: Option<[Span; 3]>) -> Option<[i64; 3]> {
    spans.map(three_ns)
}

fn maybe_three_spans(ns: Option<[i64; 3]>) -> Option<[Span; 3]> {
    ns.map(three_spans)
}
