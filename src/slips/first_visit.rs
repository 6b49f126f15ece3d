//! What a newcomer reads before and at the track: the walk through, the card for when it goes wrong,
//! the car's checklist, the night card.
//!
//! Owns the words and their standing. Refuses safety rules: `rules::ask_tech` has those, and the
//! track's word is final on all of it.

use crate::car::TyreSize;

/// The kinds of tyre the water box treats differently.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash)]
pub enum TyreKind {
    /// Ordinary road tyres.
    Street,
    /// Drag radials: soft, road-legal.
    DragRadial,
    /// Slicks.
    Slick,
}

/// A titled paragraph.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub struct Step {
    /// In a few words.
    pub title: &'static str,
    /// In sentences.
    pub text: &'static str,
}

/// The first visit in order (common practice, from tracks' pages for newcomers). The water box
/// depends on the tyres.
pub const fn walk_through(tyres: TyreKind) -> [Step; 10] {
    [
        Step {
            title: "Choose a test-and-tune",
            text: "Open evenings where everybody runs as often as the line allows, street cars \
                   too. Nobody races you and a red light costs nothing: the clock starts at the \
                   beam, not at green. Watch ten pairs before you pay.",
        },
        Step {
            title: "Bring",
            text: "Driving licence, the car's papers, long trousers, closed shoes, a shirt with \
                   sleeves, a helmet if you have one, tyre gauge, water, a torch, cash. Take loose \
                   things and the driver's floor mat out of the car.",
        },
        Step {
            title: "Tech",
            text: "An official looks at the car and writes a number on the window. Say it is your \
                   first time: here and at every station after it. Ask what your car needs; the \
                   list under Ask tech says what to ask about.",
        },
        Step {
            title: "Lanes",
            text: "Line up where you are told, belts on, windows up before the water. Stay with the \
                   car. Ahead of you is a person with hand signals: watch only them.",
        },
        Step { title: "Water box", text: water_box(tyres) },
        Step {
            title: "Stage",
            text: "Creep until the top lamps light: pre-staged. Stop. Wait for the other lane's top \
                   lamps. Then creep on a few inches until the second lamps light: staged. Your last \
                   motion is forward. Hold still.",
        },
        Step {
            title: "Your side of the tree",
            text: "Look at your own ambers only. In a handicap start the other side may begin \
                   first: that is not yours.",
        },
        Step {
            title: "Run",
            text: "Leave when your last amber lights: reaction and roll take about as long as green \
                   takes to come. Keep straight and in your lane. Hold the power to the finish; the \
                   first of the two last beams only begins the speed trap.",
        },
        Step {
            title: "Turn off",
            text: "Brake gently once past the finish. The car nearer the exit turns first; the \
                   other never cuts in front. No turning round on the strip, ever.",
        },
        Step {
            title: "Slip",
            text: "The return road passes a booth: they hand you the slip. Write depth, tyre \
                   pressures, launch rpm and how you left on it at once.",
        },
    ]
}

/// What to do at the water box (common practice).
pub const fn water_box(tyres: TyreKind) -> &'static str {
    match tyres {
        TyreKind::Street => {
            "Street tyres: drive round the water, not through it; treads carry it to the line. A \
             quick spin to clean them is enough; no burnout."
        }
        TyreKind::DragRadial => {
            "Drag radials: wet the driven tyres only, roll out of the water, then spin until they \
             begin to smoke. They need some heat. Front tyres stay dry: on a front-drive car ask how \
             it is done there."
        }
        TyreKind::Slick => {
            "Slicks: wet the driven tyres only, roll out of the water, spin until they smoke \
             steadily and let the car drive out. Ask an old hand to watch the first one."
        }
    }
}

/// The card *When it goes wrong* (common practice).
pub const WHEN_IT_GOES_WRONG: [Step; 7] = [
    Step {
        title: "Rolled too deep",
        text: "Top lamp out, second still on: you are deep; where that is allowed, leave as usual. \
               Both out: you rolled through. Wait for the starter's sign, back up, stage again, the \
               last motion forward.",
    },
    Step {
        title: "Stalled",
        text: "Foot on the brake, out of gear, start again. The other driver waits or the starter \
               clears the lanes. Nobody minds.",
    },
    Step { title: "Red", text: "Finish the run. At a test-and-tune the slip is as good as any." },
    Step {
        title: "The other lane leaves first",
        text: "It has a head start, or it jumped. Your ambers are yours: wait for your last one.",
    },
    Step {
        title: "It spins or slides",
        text: "Lift gently, straighten, go on slowly. Never cross the middle. If you did, lift and \
               stay behind the other car.",
    },
    Step {
        title: "Something leaks, smokes or breaks",
        text: "Lift, off the racing line to the outer edge, stop at once. Do not drive it to the \
               end: what drips puts the next car into the wall. Stay belted unless it burns; help \
               comes to you.",
    },
    Step {
        title: "You are not sure",
        text: "Stop at the edge, look at the nearest official, wait for a sign.",
    },
];

/// The car's checklist, to tick, save and print (common practice).
pub const CAR_CHECKLIST: [&str; 12] = [
    "Tyres: tread, no cracks, no plugs in the side",
    "Pressures set and written down, cold",
    "Wheel nuts tight to the maker's torque",
    "Battery tied down, terminals covered",
    "No oil, fuel or coolant leaks, under it and in it",
    "Coolant and oil at their marks, caps on",
    "Brakes firm, pedal does not sink",
    "Throttle returns by itself",
    "Belts latch and are not frayed",
    "Loose things out: boot, cabin, glove box",
    "Driver's floor mat out",
    "Hub caps and wheel covers off",
];

/// A starting point for tyre pressure and what it is worth.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct PressureStart {
    /// Psi, driven tyres, cold; none where only the maker's plate says.
    pub psi: Option<f64>,
    /// In words.
    pub text: &'static str,
    /// How well founded.
    pub standing: &'static str,
}

/// Where to start with the driven tyres' pressure.
pub fn starting_pressure(tyres: TyreKind, size: Option<TyreSize>) -> PressureStart {
    let rim_in = size.map(|size| match size {
        TyreSize::Metric { rim_in, .. } | TyreSize::Inch { rim_in, .. } => rim_in,
    });
    match tyres {
        TyreKind::Street => PressureStart {
            psi: None,
            text: "Start at the figure on the car's door plate. A few psi less on the driven tyres \
                   may help, never below the maker's range.",
            standing: "common practice, no single source",
        },
        TyreKind::DragRadial => PressureStart {
            psi: rim_in,
            text: "Start near the rim's diameter in psi (15 in: 15 psi, 20 in: 20 psi), inside the \
                   maker's range, the same left and right.",
            standing: "common practice, no single source",
        },
        TyreKind::Slick => PressureStart {
            psi: None,
            text: "Start at the tyre maker's figure for your weight and rim.",
            standing: "common practice, no single source",
        },
    }
}

/// What first-timers say they fear (published: threads by first-timers), each with its answer here.
pub const FEARS: [Step; 6] = [
    Step {
        title: "Staging itself",
        text: "Practise it here, with the roll-up drill, until it is dull.",
    },
    Step {
        title: "Looking foolish",
        text: "Every car there had a first night. Say it is yours and people help.",
    },
    Step { title: "Rolling through the beams", text: "It sends you back to stage again, no more." },
    Step {
        title: "Not waiting for the other lane",
        text: "Top lamps, stop, look across, then the second lamps.",
    },
    Step {
        title: "Watching the wrong side of the tree",
        text: "Your side is the one your lane is on, in a handicap start too.",
    },
    Step {
        title: "Lifting too early",
        text: "The speed trap begins 66 ft before the finish: lift past the second beam.",
    },
];

/// The night card: blanks for six slips, 80 columns wide.
pub fn night_card() -> String {
    let mut card = String::from(
        "NIGHT CARD\n\
         Track ____________________  Date ____________  Car ____________________________\n\
         Air temperature ______  Dew point ______  Station pressure ______\n\
         Cold pressures  front ______  rear ______   Fuel ______   Tree  LED / bulb\n\n",
    );
    let titles = ["run", "1", "2", "3", "4", "5", "6"];
    let rows = [
        "time",
        "lane L/R",
        "day/dusk/night",
        "rear psi",
        "launch rpm",
        "depth in",
        "react/time/green",
        "R/T",
        "60'",
        "330'",
        "1/8",
        "MPH",
        "1000'",
        "1/4",
        "MPH",
        "note",
    ];
    let row = |cells: [&str; 7]| {
        let [title, rest @ ..] = cells;
        let rest: String = rest.iter().map(|cell| format!("|{cell:^9}")).collect();
        format!("{title:<17}{rest}\n")
    };
    card.push_str(&row(titles));
    for title in rows {
        card.push_str(&format!("{}{}\n", "-".repeat(17), "+---------".repeat(6)));
        card.push_str(&row([title, "", "", "", "", "", ""]));
    }
    card.push_str(
        "\nOne change at a time. Red or not: write it down. The first launch of the night is its own.\n",
    );
    card
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn street_tyres_go_round_the_water() {
        assert!(
            walk_through(TyreKind::Street).iter().any(|step| step.text.contains("round the water"))
        );
        assert!(water_box(TyreKind::DragRadial).contains("driven tyres only"));
    }

    #[test]
    fn drag_radials_start_near_the_rims_diameter() {
        for (size, psi) in [("275/60R15", 15.0), ("305/35R20", 20.0)] {
            let start = starting_pressure(TyreKind::DragRadial, size.parse().ok());
            assert_eq!(start.psi, Some(psi));
            assert!(start.standing.starts_with("common practice"));
        }
        assert_eq!(starting_pressure(TyreKind::Street, None).psi, None);
    }

    #[test]
    fn a_leaking_car_is_told_to_stop_and_a_red_one_to_go_on() {
        let text = |title: &str| {
            WHEN_IT_GOES_WRONG.iter().find(|step| step.title.contains(title)).unwrap().text
        };
        assert!(text("leaks").contains("off the racing line") && text("leaks").contains("stop"));
        assert!(text("Red").contains("Finish the run"));
    }

    #[test]
    fn the_night_card_has_room_for_six_slips_on_a_page() {
        let card = night_card();
        assert!(card.lines().all(|line| line.chars().count() <= 95), "{card}");
        let runs = card.lines().find(|line| line.starts_with("run")).unwrap();
        assert_eq!(runs.matches('|').count(), 6);
        for title in ["R/T", "60'", "1/4", "launch rpm", "rear psi"] {
            assert!(card.contains(title), "{title}");
        }
        assert!(card.lines().count() <= 60);
    }
}
