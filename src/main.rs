//! Command line → window. Everything else is the library's.

use std::process::ExitCode;

fn main() -> ExitCode {
    lastamber::cli::run()
}
