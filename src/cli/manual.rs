//! The manual of every sub-command, behind its options in `--help`.
//!
//! Owns what is read and written, limits of numbers, examples and exit codes. Refuses what an option means:
//! its own line says so. `tests/cli_help.rs` runs the examples.

use clap::Command;

/// Characters of a line behind its two blanks.
const WIDTH: usize = 94;

/// One sub-command's manual.
struct Page {
    /// Its words after `lastamber`.
    command: &'static str,
    /// What it reads and writes.
    files: &'static str,
    /// Within which limits numbers are taken; empty where there are none.
    limits: &'static str,
    /// Whole command lines.
    examples: &'static [&'static str],
    /// Whether Ctrl-C is told of by an exit code of its own.
    long: bool,
}

const BOOK: &str =
    "Reads history.jsonl in the data folder, beside a running window as well. Writes nothing.";
const APPENDS: &str = "Appends to history.jsonl in the data folder, which it makes on first use and holds meanwhile. Beside one of 20,000 lines and more it writes history.digest: first history.digest.new, which then takes the name.";
const REPLACES: &str = "Reads it and history.jsonl in the data folder, which it holds meanwhile. Writes history.jsonl.new there, then gives it the name history.jsonl; the old file stays as history.jsonl.old-1, -2, ….";
const COLUMN: &str = "Reads the CSV file, or standard input for -. Writes nothing.";
const RACE: &str = "Numbers: times within ±1e9 of the unit; --earlier -10000 to 10000 ms; --interval 0 or more, s; spreads 0 or more, s; --seed a whole number from 0.";

#[rustfmt::skip]
const PAGES: &[Page] = &[
    Page { command: "fit", files: COLUMN, long: true,
        limits: "Numbers: times within ±1e9 of the unit; --seed a whole number from 0.",
        examples: &["lastamber fit launches.csv --column driver", "lastamber fit launches.csv --column driver --families normal,ex-gaussian --json"] },
    Page { command: "risk", files: COLUMN, long: true,
        limits: "Numbers: times within ±1e9 of the unit; --earlier -10000 to 10000 ms; --level above 0 and below 1; --seed a whole number from 0.",
        examples: &["lastamber risk launches.csv --column driver --threshold 0.2", "lastamber risk launches.csv --column driver --car-part 0.28,0.02 --interval 0.5 \\\n    --earlier -5,0,5"] },
    Page { command: "odds", files: COLUMN, long: true, limits: RACE,
        examples: &["lastamber odds launches.csv --column driver --car-part 0.28,0.02,0.005 --interval 0.5 \\\n    --opponent rt=0.060,0.030 --et-gap 0,0.03 --rounds 3", "lastamber odds --model normal=0.245,0.025 --car-part 0.28 --interval 0.5 \\\n    --opponent weekend --et-gap -0.05,0.1 --json"] },
    Page { command: "aim", files: COLUMN, long: true, limits: RACE,
        examples: &["lastamber aim launches.csv --column driver --car-part 0.28,0.02 --interval 0.5"] },
    Page { command: "rollout", files: "Reads and writes nothing.", long: false,
        limits: "Numbers: tyre 18 to 40 in; deflection 0 to 2 in; beams 0.5 to 4 in high; guard beam 8 to 30 in; depth 0 to 30 in; launch 0.05 to 6 g; 60-foot time 0.8 to 5 s; lag 0 to 0.5 s.",
        examples: &["lastamber rollout --tyre-in 26 --sixty-foot 2.05", "lastamber rollout --tyre-size 225/45R17 --g 0.5 --depth-in 4 --json"] },
    Page { command: "pass", files: "Reads history.jsonl in the data folder for --car. Writes nothing.", long: false,
        limits: "Numbers: weight 300 to 12000 lb; power 3 to 15000 hp; 60-foot time 0.8 to 5 s; launch 0.05 to 6 g; grip 0.2 to 4; efficiency 0.3 to 1; drag area 0 to 5 m²; rolling 0 to 0.1; shifts 0 to 4 of 0 to 1 s; temperature -40 to 130 °F; dew point -148 °F to the temperature; pressure 18 to 32 inHg.",
        examples: &["lastamber pass --weight-lb 3400 --power-hp 310 --sixty-foot 2.0", "lastamber pass --weight-lb 3400 --power-hp 310 --temperature-f 85 --dew-point-f 60 \\\n    --station-inhg 29.2 --json"] },
    Page { command: "judge", files: "Reads and writes nothing.", long: false,
        limits: "Numbers: times in seconds as printed, up to 999.9999; speeds above 0, up to 400 mph.",
        examples: &["lastamber judge --left dial=13.40,rt=.045,et=13.46 --right dial=12.10,rt=-.003,et=12.15"] },
    Page { command: "rig", files: BOOK, long: false, limits: "", examples: &["lastamber rig", "lastamber rig --json"] },
    Page { command: "slips add", files: APPENDS, long: false,
        limits: "Numbers: times in seconds, speeds in mph, as printed on the slip; - where it has none.",
        examples: &["lastamber slips add track=\"Our strip\" lane=left rpm=3200 \\\n    --column \".045 1.963 5.678 8.637 83.95 - 13.464 105.04\"", "lastamber slips add rt=-.012 date=2026-05-01 --json"] },
    Page { command: "slips import", files: "Reads the table (CSV, the first line names the columns), or standard input for -. Appends to history.jsonl in the data folder, which it holds meanwhile. Beside one of 20,000 lines and more it writes history.digest: first history.digest.new, which then takes the name.", long: true,
        limits: "Numbers: times in seconds, speeds in mph, as printed on the slip.",
        examples: &["lastamber slips import slips.csv --dry-run", "lastamber slips import slips.csv --set car=\"the old one\""] },
    Page { command: "slips list", files: BOOK, long: false, limits: "", examples: &["lastamber slips list", "lastamber slips list --csv"] },
    Page { command: "slips check", files: "Reads history.jsonl in the data folder, or the table. Writes nothing.", long: false, limits: "",
        examples: &["lastamber slips check", "lastamber slips check slips.csv --json"] },
    Page { command: "demo", files: "Writes history.jsonl and the mark DEMO in its folder, which it makes and holds meanwhile.", long: true,
        limits: "Numbers: --seed a whole number from 0; --years 1 to 10.",
        examples: &["lastamber demo --no-window --data demo-folder"] },
    Page { command: "report", files: "Reads history.jsonl in the data folder. Writes --out or --card: first FILE.new, which then takes the name.", long: true,
        limits: "Days as 2026-05-01.",
        examples: &["lastamber report", "lastamber report --format html --out report.html", "lastamber report --card card.svg --dark"] },
    Page { command: "history check", files: "Reads history.jsonl in the data folder. Writes --damaged-out.", long: true, limits: "",
        examples: &["lastamber history check", "lastamber history check --damaged-out damaged.txt --json"] },
    Page { command: "history export", files: "Reads history.jsonl in the data folder. Writes --out: first FILE.new, which then takes the name.", long: true, limits: "",
        examples: &["lastamber history export --out mine.json", "lastamber history export csv --out mine.csv"] },
    Page { command: "history import", files: REPLACES, long: true, limits: "",
        examples: &["lastamber history import export.json --dry-run --data new-folder", "lastamber history import export.json --data new-folder"] },
    Page { command: "history merge", files: REPLACES, long: true, limits: "",
        examples: &["lastamber history merge other-folder --data new-folder"] },
    Page { command: "history leave-out", files: APPENDS, long: false, limits: "",
        examples: &["lastamber history leave-out last --reason \"the phone rang\""] },
    Page { command: "history take-in", files: APPENDS, long: false, limits: "", examples: &["lastamber history take-in last"] },
    Page { command: "history trim-test-data", files: REPLACES, long: true, limits: "",
        examples: &["lastamber history trim-test-data --dry-run"] },
    Page { command: "history schema", files: "Reads and writes nothing.", long: false, limits: "", examples: &["lastamber history schema"] },
    Page { command: "tech", files: "Reads and writes nothing.", long: false,
        limits: "Numbers: time at the finish 2 to 60 s; speed 10 to 400 mph; model year 1886 to 2200.",
        examples: &["lastamber tech --et 12.9", "lastamber tech --mph 103 --body convertible --json"] },
];

/// The same command with a manual behind the options of every sub-command.
pub fn with_manual(command: Command) -> Command {
    beneath(command, "")
}

fn beneath(command: Command, path: &str) -> Command {
    let names: Vec<String> = command.get_subcommands().map(|c| c.get_name().to_owned()).collect();
    let mut command = command;
    for name in names {
        let path = format!("{path} {name}").trim_start().to_owned();
        command = command.mut_subcommand(name, |sub| beneath(sub, &path));
    }
    match PAGES.iter().find(|page| page.command == path) {
        Some(page) => {
            // What a sub-command says of its own, such as its JSON keys, comes first.
            let own =
                command.get_after_long_help().map_or_else(String::new, |own| format!("{own}\n\n"));
            command.after_long_help(own + &text(page))
        }
        None => command,
    }
}

fn text(page: &Page) -> String {
    let mut text = format!("Files:\n{}\n", prose(page.files));
    if !page.limits.is_empty() {
        text.push_str(&format!("\nLimits:\n{}\n", prose(page.limits)));
    }
    text.push_str(&format!(
        "\nExamples:\n{}\n\nExit codes:\n",
        indented(&page.examples.join("\n"))
    ));
    text.push_str("  0   done\n  1   the data, a file or a folder is not as it should be\n");
    text.push_str("  2   the command line or what it asks for makes no sense");
    if ["risk", "odds", "aim"].contains(&page.command) {
        text.push_str("\n  5   the answer cannot be written");
    }
    if page.long {
        text.push_str("\n  75  ended by Ctrl-C; a sentence says what is kept");
    }
    text
}

/// Prose behind two blanks, broken into lines a terminal has room for.
fn prose(text: &str) -> String {
    let (mut lines, mut line) = (Vec::new(), String::new());
    for word in text.split(' ') {
        if line.chars().count() + word.chars().count() + 1 > WIDTH {
            lines.push(std::mem::take(&mut line));
        }
        line.push_str(if line.is_empty() { "" } else { " " });
        line.push_str(word);
    }
    lines.push(line);
    indented(&lines.join("\n"))
}

fn indented(lines: &str) -> String {
    lines.lines().map(|line| format!("  {line}")).collect::<Vec<_>>().join("\n")
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::cli::Cli;
    use clap::CommandFactory;

    #[test]
    fn every_page_is_of_a_sub_command_and_every_sub_command_has_one() {
        fn walk(command: &Command, path: &str, found: &mut Vec<String>) {
            let subs: Vec<&Command> = command.get_subcommands().collect();
            if subs.is_empty() && !path.is_empty() {
                found.push(path.to_owned());
            }
            for sub in subs {
                walk(sub, format!("{path} {}", sub.get_name()).trim_start(), found);
            }
        }
        let mut found = Vec::new();
        walk(&Cli::command(), "", &mut found);
        let pages: Vec<&str> = PAGES.iter().map(|page| page.command).collect();
        assert_eq!(found, pages);
    }
}
