//! My car on a page: the car part, where its doubt comes from, what moves it, and the trade of staging
//! depth.
//!
//! Owns the words. Refuses computing: the car room has every figure.

use super::page::{Axis, Block, Form, Hue, LayerKind, Page, Plot, Table};
use super::words::{inches, ms, signed_ms};
use crate::car::{
    CarModel, DepthRow, LeverKind, PowerWeightRange, Question, Source, power_weight_range,
};
use crate::rules::TrackLength;

/// The page of a car at a track of this length.
pub fn my_car_page(name: &str, model: &CarModel, length: TrackLength) -> Page {
    let part = model.car_part();
    let filmed = model.details().filmed.as_ref();
    let by = match filmed {
        Some(film) => format!("filmed, {} launches", film.frames.len()),
        None => "worked out from tyre, launch and depth".to_owned(),
    };
    let mut page = Page::new(format!(
        "{name}: {} ± {} ms from your launch until it leaves the beam, {by}.",
        ms(part.seconds.value),
        ms(part.seconds.sd)
    ));
    page.text(format!(
        "That is its car part. The doubt shrinks as you tell or measure more; from run to run it \
         differs by ± {} ms anyway.",
        ms(part.run_sd_s)
    ));
    if model.assumed() {
        let what: Vec<&str> = model.assumed_what().iter().map(|q| question(*q)).collect();
        page.note(format!("Assumed, because you have not said: {}.", what.join(", ")));
    }
    page.push(Block::Table(doubts(model)));
    match model.levers(length) {
        Ok(levers) => {
            let mut table = Table::new("What moves it", &["", "step", "R/T, ms", "ET, ms"]);
            for lever in levers {
                table.push([
                    lever_words(lever.kind).to_owned(),
                    step(lever.kind).to_owned(),
                    signed_ms(lever.rt_s),
                    signed_ms(lever.et_s),
                ]);
            }
            page.push(Block::Table(table));
            page.note(
                "Less roll is a quicker light and a slower pass: the ET pays back what the R/T gains. Only \
                 a stronger launch betters both.",
            );
        }
        Err(error) => {
            page.caution(error.to_string());
        }
    }
    page.text(guard_words(model));
    page.heading("Staging deeper");
    match model.trap_mph(length) {
        Ok(mph) => depth_blocks(model, mph, length, &mut page),
        Err(error) => {
            page.caution(error.to_string());
        }
    }
    whole_pass(model, length, &mut page);
    page
}

fn doubts(model: &CarModel) -> Table {
    let part = model.car_part();
    let mut table = Table::new("Where the doubt comes from", &["", "value", "doubt in ms"]);
    let depth = model.depth_in();
    let sixty = model.sixty_foot_s();
    for contribution in part.contributions {
        let value = match contribution.source {
            Source::Lag => format!("{} ± {} ms", ms(model.lag_s().value), ms(model.lag_s().sd)),
            Source::Tyre => {
                let tyre = model.tyre_diameter_in();
                format!("{:.1} ± {:.1} in", tyre.value, tyre.sd)
            }
            Source::Strength => format!("60 ft in {:.2} ± {:.2} s", sixty.value, sixty.sd),
            Source::Depth => format!("{:.1} ± {:.1} in", depth.value, depth.sd),
            Source::Deflection => {
                let down = model.deflection_in();
                format!("{:.1} ± {:.1} in", down.value, down.sd)
            }
            Source::Film => format!("{} ± {} ms", ms(part.seconds.value), ms(part.seconds.sd)),
        };
        // What a film outranks, and a load nobody told of, add nothing.
        if contribution.sd_s > 0.0 {
            table.push([
                source_words(contribution.source).to_owned(),
                value,
                format!("± {}", ms(contribution.sd_s)),
            ]);
        }
    }
    table
}

/// A source of doubt in words.
pub fn source_words(source: Source) -> &'static str {
    match source {
        Source::Lag => "lag before it moves",
        Source::Tyre => "front tyre",
        Source::Strength => "strength of the launch",
        Source::Depth => "where you stop",
        Source::Deflection => "how far the load lowers it",
        Source::Film => "film of the start line",
    }
}

fn question(question: Question) -> &'static str {
    match question {
        Question::Tyre => "the front tyre",
        Question::Leave => "how you leave",
        Question::Strength => "how strong it launches",
        Question::Depth => "how deep you stage",
        Question::Press => "what you press here",
    }
}

fn lever_words(kind: LeverKind) -> &'static str {
    match kind {
        LeverKind::Tyre => "taller front tyre",
        LeverKind::Pressure => "more front pressure",
        LeverKind::Depth => "staging deeper",
        LeverKind::Lag => "more lag",
        LeverKind::SixtyFoot => "slower 60-foot time",
    }
}

fn step(kind: LeverKind) -> &'static str {
    match kind {
        LeverKind::Tyre | LeverKind::Depth => "1 in",
        LeverKind::Pressure => "1 psi",
        LeverKind::Lag => "1 ms",
        LeverKind::SixtyFoot => ".1 s",
    }
}

fn guard_words(model: &CarModel) -> String {
    let cap = model.guard_cap();
    let from = inches(cap.from_diameter.0);
    if cap.ends_roll {
        format!(
            "The guard beam ends your roll: it takes {} in off. A tyre taller than {from} in gains \
             nothing more.",
            inches(cap.cut.0)
        )
    } else {
        format!(
            "The stage beam ends your roll; the guard beam would only from a tyre of {from} in on."
        )
    }
}

fn depth_blocks(model: &CarModel, trap_mph: f64, length: TrackLength, page: &mut Page) {
    let rows = model.depth_trade(trap_mph);
    let here = model.depth_row(crate::units::Inches(model.depth_in().value), trap_mph);
    let deepest = rows.iter().take_while(|row| !row.deep).last().or(rows.last());
    if let Some(last) = deepest {
        page.text(format!(
            "From the first light of the stage lamp to {} in deep the R/T falls by {} ms and the {length} \
             mile takes {} ms longer. You stand {} ± {} in deep.",
            inches(last.depth.0),
            ms(-last.rt_s),
            ms(last.et_s),
            inches(model.depth_in().value),
            inches(model.depth_in().sd),
        ));
    }
    page.push(Block::Plot(depth_plot(&rows, &here, model)));
    let mut table = Table::new(
        "Depth against time",
        &["depth, in", "roll left, in", "car part, s", "R/T, ms", "60 ft, ms", "ET, ms"],
    );
    // Every inch; the plot has the halves.
    for row in rows.iter().step_by(2) {
        let deep = if row.deep { " deep" } else { "" };
        table.push([
            format!("{}{deep}", inches(row.depth.0)),
            inches(row.remaining.0),
            Form::Light.words(row.car_part_s),
            signed_ms(row.rt_s),
            signed_ms(row.sixty_foot_s),
            signed_ms(row.et_s),
        ]);
    }
    page.push(Block::Table(table));
    page.note(format!(
        "Against the shallowest place, at an unchanged launch and {trap_mph:.0} mph at the finish. deep: \
         the pre-stage lamp is out; some classes bar it. Last motion forward, always."
    ));
}

fn depth_plot(rows: &[DepthRow], here: &DepthRow, model: &CarModel) -> Plot {
    let line = |of: fn(&DepthRow) -> f64| {
        LayerKind::Line(rows.iter().map(|row| [row.depth.0, of(row)]).collect())
    };
    let depth = model.depth_in();
    let habit = LayerKind::Stripe((depth.value - depth.sd).max(0.0), depth.value + depth.sd);
    let mut plot = Plot::new(
        "What an inch of depth gains at the light and costs at the finish",
        Axis::new("depth past the stage lamp's first light, in", Form::Plain(1)),
        Axis::new("change, ms", Form::Millis),
    )
    .with("where you stop", Hue::Muted, habit)
    .with("", Hue::Muted, LayerKind::Level(0.0))
    .with("R/T", Hue::Driver, line(|row| row.rt_s))
    .with("ET", Hue::Car, line(|row| row.et_s))
    .with(
        "",
        Hue::Text,
        LayerKind::Points(vec![[here.depth.0, here.rt_s], [here.depth.0, here.et_s]]),
    );
    if let Some(deep) = rows.iter().find(|row| row.deep) {
        plot = plot.with("deep", Hue::Risk, LayerKind::Upright(deep.depth.0));
    }
    plot
}

fn whole_pass(model: &CarModel, length: TrackLength, page: &mut Page) {
    let details = model.details();
    let (Some(weight), Some(power)) = (details.weight_lb, details.power_hp) else {
        page.note("Tell weight and power, and practice runs print a whole slip.");
        return;
    };
    page.heading("The whole pass");
    match model.pass(crate::units::Inches(model.depth_in().value), length) {
        Ok(Some(pass)) => {
            page.text(format!(
                "Worked out: {:.2} s at {:.0} mph; splits within 1 %, speeds within 2.5 % where real runs \
                 were printed.",
                pass.et_s(),
                pass.mph()
            ));
        }
        Ok(None) => {}
        Err(error) => {
            page.caution(error.to_string());
        }
    }
    let PowerWeightRange { et_s, mph } = power_weight_range(weight, power);
    page.note(format!(
        "Three published formulas say {:.2} to {:.2} s and {:.0} to {:.0} mph in the quarter: a range, \
         no promise.",
        et_s.0, et_s.1, mph.0, mph.1
    ));
}
