//! The command line from outside: what it refuses, where it says so, and how it ends.

use assert_cmd::Command;

fn lastamber() -> Command {
    let mut command = Command::cargo_bin("lastamber").unwrap();
    // No test here may open a window.
    command.env_remove("DISPLAY").env_remove("WAYLAND_DISPLAY");
    command
}

/// Refused: exit code 1–99, nothing on standard output, `says` on standard error.
fn refuses(args: &[&str], says: &str) {
    let run = lastamber().args(args).output().unwrap();
    let code = run.status.code().unwrap();
    let error = String::from_utf8(run.stderr).unwrap();
    assert!((1..=99).contains(&code), "{args:?} ended with {code}");
    assert!(run.stdout.is_empty(), "{args:?} wrote to standard output");
    assert!(error.contains(says), "{args:?} said: {error}");
}

#[test]
fn options_out_of_range_are_refused_with_the_cure() {
    refuses(&["--size", "10x10"], "from 320x240 to 7680x4320");
    refuses(&["--size", "wide"], "write it like 1280x720");
    refuses(&["--frame-cap", "0"], "from 5 to 1000");
    refuses(&["--offset-ms", "35"], "write mean and spread like 35,15");
    refuses(&["--offset-ms", "-900,5"], "mean -500 to 500");
    refuses(&["--stall", "5"], "write it like 300:5");
    refuses(&["--sources", "some"], "auto");
    refuses(&["--no-such"], "--no-such");
}

#[cfg(feature = "app")]
#[test]
fn without_a_display_it_says_so_and_ends() {
    refuses(&[], "no display");
}

#[cfg(not(feature = "app"))]
#[test]
fn a_build_without_a_window_says_so_and_ends_with_2() {
    let run = lastamber().output().unwrap();
    assert_eq!(run.status.code(), Some(2));
    assert!(run.stdout.is_empty());
    assert!(String::from_utf8(run.stderr).unwrap().contains("has no window"));
}

#[test]
fn help_and_version_go_to_standard_output() {
    let help = lastamber().arg("--help").output().unwrap();
    assert!(help.status.success());
    let text = String::from_utf8(help.stdout).unwrap();
    for option in ["--data", "--driver", "--size", "--offset-ms", "--trace", "--frame-cap"] {
        assert!(text.contains(option), "{option}");
    }
    let version = lastamber().arg("--version").output().unwrap();
    assert!(String::from_utf8(version.stdout).unwrap().contains(env!("CARGO_PKG_VERSION")));
}

/// One kind of wrong input after the other, for every sub-command that takes a number or a file.
#[test]
fn every_wrong_number_or_file_is_told_with_what_to_write() {
    let place = tempfile::tempdir().unwrap();
    let at = |name: &str| place.path().join(name).to_str().unwrap().to_owned();
    std::fs::write(at("times.csv"), "rt\n0.20\n0.21\n").unwrap();
    std::fs::write(at("utf16.csv"), b"\xff\xfer\0t\0\n\x000\0\n\0").unwrap();
    std::fs::write(at("packed.csv"), b"PK\x03\x04\0\0\0rt\n1\n").unwrap();
    let number = "write a number like 26.1";
    refuses(&["rollout", "--tyre-in", "wide", "--g", "0.5"], number);
    refuses(&["rollout", "--tyre-in", "", "--g", "0.5"], number);
    refuses(&["pass", "--weight-lb", "3,500", "--power-hp", "300"], number);
    refuses(&["report", "--from", "2026-13-01"], "write a day like 2026-05-01");
    let seed = "write a whole number, 0 or more";
    for command in ["fit", "risk", "odds", "aim"] {
        refuses(&[command, "x.csv", "--column", "rt", "--seed", "-1"], seed);
        refuses(&[command, "x.csv", "--column", "rt", "--seed", "1.5"], seed);
    }
    refuses(&["demo", "--no-window", "--seed", "99999999999999999999999"], seed);
    refuses(&["--seed", "-3"], seed);
    let fit = |file: &str, says: &str| refuses(&["fit", file, "--column", "rt"], says);
    fit(&at("none.csv"), "cannot be opened: No such file");
    fit(&at("none.csv"), "; check its name and the folder it is in");
    fit(&at(""), "; that is a folder, name a file in it");
    fit(&at("times.csv/rt"), "is no folder, check the name");
    fit(&at("utf16.csv"), "line 1: this is UTF-16; save it as UTF-8 or plain CSV");
    fit(&at("packed.csv"), "line 1: this is no text; save the table as CSV");
    let data = at("data");
    let import = |file: &str, says: &str| {
        refuses(&["history", "import", file, "--data", &data], says);
    };
    import(&at("none.json"), "; check its name and the folder it is in");
    import(&at(""), "; that is a folder, name a file in it");
}
