//! `lastamber rig`: the newest self test of the rig, and the delay in force for it.
//!
//! Owns the sub-command's options and both shapes of its answer, JSON and text. Refuses to test
//! (the window does), to write, and to take the folder's lock: it reads beside a running program.

use super::folder::{Folder, told};
use super::{CliError, print, print_json};
use crate::history::{ClockBase, Loaded, PollLine, RigLine, load_without_lock};
use crate::report::rig::{EXAMPLE_DRIVER_S, example_red_light, run_doubt};
use crate::report::{RigReport, rig_report};
use crate::stats::offset::{Films, OffsetChoice, Reread, RereadRuns};
use crate::trial::RigPrint;
use clap::Args;
use serde::Serialize;

const KEYS: &str = "\
JSON keys: headline, meaning (list), both words; tested_at, program, ran_s; device, control,
launch_edge, threshold (share of travel or null), limb, display, present_mode, self_paced; source,
source_reason (null: the best ran), onset_grade, clock_base (holds, fails, unknown); refresh_hz;
press_half_width_ms, lamp_half_width_ms, run_sd_ms (stamps and device in one run); loop_period_ms,
loop_jitter_median_ms, loop_jitter_worst_ms; wake_up_median_ms, wake_up_p95_ms, wake_up_worst_ms;
poll_period_ms (null: none found), poll_presses, poll_why_not; load_average.
offset: from (assumed, filmed), mean_ms, sd_ms, film_id, film_presses, changes (list of what, was,
is), starts_anew.
red_light: the chance of red, 0 to 1, of a driver with normal times of mean_s and sd_s: in_force,
if_shorter and if_longer (the delay one SD shorter and longer).
reread: practice read with today's delay, counts and scripted apart, each runs, green_to_red,
red_to_green.
damaged_lines: places of the history that were set aside.";

/// What the rig's last self test found, and the constant delay in force for it.
#[derive(Debug, Clone, Args)]
#[command(after_long_help = KEYS)]
pub struct RigArgs {
    #[command(flatten)]
    folder: Folder,

    /// Prints JSON.
    #[arg(long)]
    json: bool,
}

/// The whole answer; numbers that are not finite become null.
#[derive(Debug, Serialize)]
struct Answer<'a> {
    headline: &'a str,
    meaning: &'a [String],
    tested_at: &'a str,
    program: &'a str,
    ran_s: f64,
    device: &'a str,
    control: &'a str,
    launch_edge: &'a str,
    threshold: Option<f64>,
    limb: &'a str,
    display: &'a str,
    present_mode: &'a str,
    self_paced: bool,
    source: &'a str,
    source_reason: Option<&'a str>,
    onset_grade: &'a str,
    clock_base: ClockBase,
    refresh_hz: f64,
    press_half_width_ms: f64,
    lamp_half_width_ms: f64,
    run_sd_ms: f64,
    loop_period_ms: f64,
    loop_jitter_median_ms: f64,
    loop_jitter_worst_ms: f64,
    wake_up_median_ms: f64,
    wake_up_p95_ms: f64,
    wake_up_worst_ms: f64,
    poll_period_ms: Option<f64>,
    poll_presses: u32,
    poll_why_not: Option<&'a str>,
    load_average: Option<f64>,
    offset: OffsetAnswer<'a>,
    red_light: Option<RedLightAnswer>,
    reread: RereadAnswer,
    damaged_lines: usize,
}

#[derive(Debug, Serialize)]
struct OffsetAnswer<'a> {
    from: &'a str,
    mean_ms: f64,
    sd_ms: f64,
    film_id: Option<&'a str>,
    film_presses: Option<u32>,
    changes: Vec<ChangeAnswer<'a>>,
    starts_anew: Option<String>,
}

#[derive(Debug, Serialize)]
struct ChangeAnswer<'a> {
    what: &'a str,
    was: &'a str,
    is: &'a str,
}

#[derive(Debug, Serialize)]
struct RedLightAnswer {
    mean_s: f64,
    sd_s: f64,
    in_force: f64,
    if_shorter: f64,
    if_longer: f64,
}

#[derive(Debug, Serialize)]
struct RereadAnswer {
    counts: ChangedAnswer,
    scripted: ChangedAnswer,
}

#[derive(Debug, Serialize)]
struct ChangedAnswer {
    runs: usize,
    green_to_red: usize,
    red_to_green: usize,
}

impl From<Reread> for ChangedAnswer {
    fn from(changed: Reread) -> Self {
        let Reread { runs, green_to_red, red_to_green } = changed;
        Self { runs, green_to_red, red_to_green }
    }
}

/// What the answer is made of.
struct Known<'a> {
    test: &'a RigLine,
    choice: OffsetChoice,
    report: RigReport,
    reread: RereadRuns,
    damaged_lines: usize,
}

/// Runs the sub-command.
///
/// # Errors
/// [`CliError`] for a folder that cannot be read or holds no self test.
pub fn run(args: &RigArgs) -> Result<(), CliError> {
    let folder = args.folder.path()?;
    let loaded = load_without_lock(&folder).map_err(told)?;
    let Some(test) = loaded.rigs.last() else {
        return Err(CliError::data(format!(
            "no self test of a rig is stored in {}.\n\
             Start lastamber, open This rig in the menu, and let the test run",
            folder.display()
        )));
    };
    let known = known(test, &loaded);
    if args.json { print_json(&answer(&known)) } else { print(&as_text(&known)) }
}

fn known<'a>(test: &'a RigLine, loaded: &Loaded) -> Known<'a> {
    let films = Films::new(&loaded.films);
    let choice = films.choose(&RigPrint::from(test.rig.clone()), None);
    let report = rig_report(Some(test), &choice.offset);
    let reread = films.reread(&loaded.trials);
    Known { test, choice, report, reread, damaged_lines: loaded.damaged_count }
}

fn answer<'a>(known: &'a Known) -> Answer<'a> {
    let Known { test, choice, report, reread, damaged_lines } = known;
    let (poll_presses, poll_why_not) = match &test.poll {
        PollLine::Found { presses, .. } => (*presses, None),
        PollLine::NotFound { presses, why } => (*presses, Some(why.as_str())),
    };
    Answer {
        headline: &report.one_line,
        meaning: &report.meaning,
        tested_at: &test.saved_at,
        program: &test.program,
        ran_s: test.ran_s,
        device: &test.rig.device,
        control: &test.rig.control,
        launch_edge: &test.rig.launch_edge,
        threshold: test.rig.threshold,
        limb: &test.rig.limb,
        display: &test.rig.display,
        present_mode: &test.rig.present_mode,
        self_paced: test.self_paced,
        source: &test.rig.source,
        source_reason: test.source_reason.as_deref(),
        onset_grade: &test.onset_grade,
        clock_base: test.clock_base,
        refresh_hz: test.refresh_hz,
        press_half_width_ms: test.press_half_width_ms,
        lamp_half_width_ms: test.lamp_half_width_ms,
        run_sd_ms: 1000.0 * run_doubt(test).sd_s(),
        loop_period_ms: test.loop_time.period_ms,
        loop_jitter_median_ms: test.loop_time.jitter_median_ms,
        loop_jitter_worst_ms: test.loop_time.jitter_worst_ms,
        wake_up_median_ms: test.wake_up.median_ms,
        wake_up_p95_ms: test.wake_up.p95_ms,
        wake_up_worst_ms: test.wake_up.worst_ms,
        poll_period_ms: test.poll.period_ms(),
        poll_presses,
        poll_why_not,
        load_average: test.load_average,
        offset: offset_answer(choice),
        red_light: example_red_light(&choice.offset).map(|red| RedLightAnswer {
            mean_s: EXAMPLE_DRIVER_S.0,
            sd_s: EXAMPLE_DRIVER_S.1,
            in_force: red.in_force,
            if_shorter: red.if_shorter,
            if_longer: red.if_longer,
        }),
        reread: RereadAnswer { counts: reread.counts.into(), scripted: reread.scripted.into() },
        damaged_lines: *damaged_lines,
    }
}

fn offset_answer(choice: &OffsetChoice) -> OffsetAnswer<'_> {
    OffsetAnswer {
        from: &choice.offset.from,
        mean_ms: choice.offset.ms.value,
        sd_ms: choice.offset.ms.sd,
        film_id: choice.film.as_ref().map(|(id, _)| id.as_str()),
        film_presses: choice.film.as_ref().map(|(_, presses)| *presses),
        changes: choice
            .changes
            .iter()
            .map(|change| ChangeAnswer { what: change.what, was: &change.was, is: &change.is })
            .collect(),
        starts_anew: choice.starts_anew(),
    }
}

/// The answer for people: what it is worth, what that means and how to improve it, then the figures.
fn as_text(known: &Known) -> String {
    let Known { test, choice, report, reread, damaged_lines } = known;
    let rig = &test.rig;
    let mut lines = vec![report.one_line.clone()];
    lines.extend(choice.starts_anew().map(|anew| format!("Since the film, {anew}.")));
    lines.push(String::new());
    lines.extend(report.meaning.iter().cloned());
    lines.push(String::new());
    lines.extend(report.figures.iter().cloned());
    let threshold = rig.threshold.map(|share| format!(" at {:.0} %", 100.0 * share));
    let threshold = threshold.unwrap_or_default();
    lines.push(format!(
        "For {} {}, {}{threshold}, {}; {}",
        rig.device, rig.control, rig.launch_edge, rig.limb, rig.display
    ));
    if reread.counts.runs > 0 {
        lines.extend([String::new(), format!("Read with the delay of today, {}.", reread.counts)]);
    }
    if *damaged_lines > 0 {
        let note = format!(
            "Places of the history set aside as damaged: {damaged_lines}; `lastamber history check` names them."
        );
        lines.extend([String::new(), note]);
    }
    lines.join("\n")
}
