//! How questions to the statistics are answered: on the output, or by an error's code.
//!
//! Owns text or JSON, and that nothing is written unless all of it can be. Refuses to know what was
//! asked.

use super::long::Long;
use super::risk::RiskError;
use serde::Serialize;
use std::io::{self, StdinLock, StdoutLock, Write};
use std::path::Path;
use std::process::ExitCode;

/// Asks with the program's own input and output, and tells on standard error why there is no answer.
/// Who types his times in is not shown a bar meanwhile.
pub(super) fn execute(
    command: &'static str,
    files: &[&Path],
    ask: impl FnOnce(&mut StdinLock, &mut StdoutLock) -> Result<(), RiskError>,
) -> ExitCode {
    let long = Long::harmless(command);
    if !files.contains(&Path::new("-")) {
        long.progress().begin("working out", 0);
    }
    let asked = ask(&mut io::stdin().lock(), &mut io::stdout().lock());
    drop(long);
    match asked {
        Ok(()) => ExitCode::SUCCESS,
        Err(error) => {
            eprintln!("lastamber {command}: {error}");
            ExitCode::from(error.exit_code())
        }
    }
}

/// Writes an answer as JSON or in words.
pub(super) fn write<T: Serialize>(
    answer: &T,
    json: bool,
    in_words: fn(&T) -> String,
    stdout: &mut dyn Write,
) -> Result<(), RiskError> {
    let text = if json {
        let json = serde_json::to_string_pretty(answer);
        json.map_err(|error| RiskError::Unwritable(error.into()))? + "\n"
    } else {
        in_words(answer)
    };
    stdout.write_all(text.as_bytes()).map_err(RiskError::Unwritable)
}
