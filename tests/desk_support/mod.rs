//! A made-up driver's history, and a page as text.
#![allow(dead_code, reason = "each test binary uses its part")]

use lastamber::history::{CarLine, Loaded, SlipLine};
use lastamber::press::Origin;
use lastamber::report::page::{Block, Page, Table};
use lastamber::rules::{SlipTime, TreeKind};
use lastamber::seed::generator;
use lastamber::slips::{LaneSlip, Manner, Slip, SlipTree};
use lastamber::strategy::law::RtLaw;
use lastamber::strategy::own::OwnSetup;
use lastamber::tree::{Lamp, Lane, Outcome, Parts, Staging};
use lastamber::trial::{
    CarFacts, Circumstances, CommonSetup, Drill, LampFact, LaunchFact, OffsetInForce, RigPrint,
    SeenFacts, SetupFacts, Style, TrialRecord,
};
use lastamber::units::{Inches, Measured, Span};

pub const CAR: &str = "demo car";
pub const DRIVER: &str = "demo driver";
/// Car part of the demo car as its runs had it, s.
pub const CAR_PART_S: f64 = 0.28;

pub fn rig() -> RigPrint {
    RigPrint {
        device: "keyboard".to_owned(),
        control: "Space".to_owned(),
        launch_edge: "press".to_owned(),
        threshold: None,
        limb: "right-foot".to_owned(),
        source: "server".to_owned(),
        display: "x11 1280x720 full".to_owned(),
        refresh_hz: 60,
        present_mode: "fifo".to_owned(),
    }
}

/// A run on a full tree; `light_s` is its RT with the delay assumed then, where it has one.
pub fn run(
    id: usize,
    day: u8,
    style: Style,
    outcome: Outcome,
    light_s: Option<f64>,
) -> TrialRecord {
    let tree = TreeKind::full();
    let parts = light_s.map(|light| Parts {
        driver_raw: Span::from_secs_f64(light + 0.5 - CAR_PART_S + 0.035),
        offset: Span::from_ms(35),
        car: Span::from_secs_f64(CAR_PART_S),
        interval: Span::from_ms(500),
        early_doubt: Span::from_us(500),
        late_doubt: Span::from_us(500),
    });
    let around =
        |best: i64| [Span::from_us(best - 500), Span::from_us(best), Span::from_us(best + 500)];
    TrialRecord {
        id: format!("run-{id}").into(),
        began: format!("2026-05-{day:02}T20:{:02}:00+02:00[Europe/Oslo]", id % 60).into(),
        setup: SetupFacts {
            common: CommonSetup {
                tree: tree.name().into(),
                ambers: tree.ambers(),
                amber_gap: tree.amber_gap(),
                interval: tree.green_gap(),
                procedure: "demo".into(),
                drill: Drill::TreeOnly,
                style,
                blank: matches!(outcome, Outcome::Stayed | Outcome::Guessed { .. }),
                lane: Lane::Left,
                other_lane: None,
                scripted: false,
                aim: None,
            }
            .into(),
            seed: id as u64,
            pause: None,
        },
        amber_spacing_off: false,
        outcome,
        parts,
        colour_in_doubt: false,
        hitch: false,
        lamp_corrected: false,
        with: Circumstances {
            program: "0.1.0".into(),
            driver: DRIVER.into(),
            car: CarFacts {
                name: CAR.to_owned(),
                car_part_s: Measured::new(CAR_PART_S, 0.02),
                assumed: true,
                tyre_diameter: Inches(25.0),
                lag_s: Measured::new(0.1, 0.02),
                launch_g: Measured::new(0.5, 0.05),
            }
            .into(),
            rig: rig().into(),
            offset: OffsetInForce { ms: Measured::new(35.0, 15.0), from: "assumed".to_owned() }
                .into(),
            onset_grade: "grid".into(),
        }
        .into(),
        seen: SeenFacts {
            staging: Staging::default(),
            lamps: vec![LampFact { lamp: Lamp::Amber(2), due: Span::ZERO, shown: Some(around(0)) }],
            amber_gaps_shown: Vec::new(),
            hold: None,
            frame_period: Span::from_us(16_667),
            launch: light_s.map(|light| LaunchFact {
                at: around((1e6 * (light + 0.5 - CAR_PART_S + 0.035)) as i64),
                origin: Origin::Server,
                sources_disagree: false,
                depth: Inches(0.0),
            }),
        }
        .into(),
    }
}

/// A timed run: red below 0.
pub fn timed(id: usize, day: u8, style: Style, light_s: f64) -> TrialRecord {
    let outcome = if light_s < 0.0 { Outcome::Red } else { Outcome::Green };
    run(id, day, style, outcome, Some(light_s))
}

/// `blocks` of ten launches of react or time it, each with its style and its day, lights from a law.
pub fn blocks(blocks: &[(Style, u8)], seed: u64) -> Vec<TrialRecord> {
    let rng = &mut generator(seed);
    let react = RtLaw::ex_gaussian(0.028, 0.018, 0.015).expect("numbers of a person");
    let time_it = RtLaw::normal(0.030, 0.016).expect("numbers of a person");
    let mut runs = Vec::new();
    for (style, day) in blocks {
        for _ in 0..10 {
            let law = if *style == Style::React { &react } else { &time_it };
            let mut run = timed(runs.len(), *day, *style, law.sample(rng));
            run.setup.drill = Drill::ReactOrTime;
            runs.push(run);
        }
    }
    runs
}

/// A slip of the demo car.
pub fn slip(id: usize, day: i8, rt_s: f64, manner: Option<Manner>) -> SlipLine {
    let own = LaneSlip { rt: SlipTime::from_seconds(rt_s).ok(), ..LaneSlip::default() };
    let slip = Slip {
        date: Some(jiff::civil::date(2026, 6, day)),
        driver: DRIVER.to_owned(),
        car: CAR.to_owned(),
        tree: Some(SlipTree::Full),
        own,
        manner,
        ..Slip::default()
    };
    SlipLine {
        id: format!("slip-{id}"),
        saved_at: String::new(),
        corrects: None,
        withdrawn: false,
        slip,
    }
}

/// Slips by timing on two nights.
pub fn slips(count: usize, seed: u64) -> Vec<SlipLine> {
    let law = RtLaw::normal(0.041, 0.018).expect("numbers of a person");
    let rng = &mut generator(seed);
    let round = |s: f64| (1000.0 * s).round() / 1000.0;
    (0..count)
        .map(|i| slip(i, 6 + (i % 2) as i8, round(law.sample(rng)), Some(Manner::Timed)))
        .collect()
}

/// What is known of the demo car.
pub fn car_line() -> CarLine {
    CarLine {
        id: "car".to_owned(),
        name: CAR.to_owned(),
        tyre_diameter_in: Some(25.0),
        leave: Some("one-foot".to_owned()),
        sixty_foot_s: Some(1.9),
        depth: Some("just-lit".to_owned()),
        limb: Some("right-foot".to_owned()),
        control: "Space".to_owned(),
        launch_edge: Some("press".to_owned()),
        ..CarLine::default()
    }
}

/// A full history: six days of blocks in turn, slips of two nights.
pub fn full_history() -> Loaded {
    let days = [4, 4, 6, 6, 9, 9, 11, 11, 13, 13, 15, 15];
    let style = |i: usize| if i.is_multiple_of(2) { Style::React } else { Style::TimeIt };
    let of: Vec<(Style, u8)> = days.iter().enumerate().map(|(i, day)| (style(i), *day)).collect();
    Loaded { trials: blocks(&of, 11), slips: slips(22, 5), ..Loaded::default() }
}

pub fn setup(style: Style) -> OwnSetup {
    OwnSetup::of(&run(0, 1, style, Outcome::Lapse, None))
}

/// A page as text, as a terminal would show it.
pub fn as_text(page: &Page) -> String {
    let mut out = format!("{}\n", page.headline);
    for block in &page.blocks {
        out.push_str(&match block {
            Block::Heading(text) => format!("\n## {text}\n"),
            Block::Text(text) => format!("{text}\n"),
            Block::Note(text) => format!("  ({text})\n"),
            Block::Caution(text) => format!("! {text}\n"),
            Block::Points(points) => points.iter().map(|p| format!("- {p}\n")).collect(),
            Block::Table(table) | Block::Paper(table) => table_text(table),
            Block::Plot(plot) => {
                let layers: Vec<String> =
                    plot.layers.iter().map(|l| format!("{:?} {:?}", l.name, l.hue)).collect();
                format!("[plot: {} | {}]\n", plot.title, layers.join(", "))
            }
            Block::TimeBar(bar) => format!("[{bar:?}]\n"),
            Block::Ticks(ticks) => ticks.iter().map(|t| format!("[ ] {}\n", t.text)).collect(),
        });
    }
    out
}

/// The same, printed by `LASTAMBER_SAY=1 cargo test --no-default-features --test desk_pages --test
/// car_pages -- --nocapture`.
pub fn said(page: &Page) -> String {
    let text = as_text(page);
    if std::env::var_os("LASTAMBER_SAY").is_some() {
        println!("{text}\n{}", "=".repeat(80));
    }
    text
}

fn table_text(table: &Table) -> String {
    let rows = std::iter::once(&table.columns).chain(&table.rows);
    let lines: String = rows.map(|row| format!("  | {}\n", row.join(" | "))).collect();
    format!("\n{}\n{lines}", table.title)
}
