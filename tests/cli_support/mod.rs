//! A sub-command asked from outside, with its words and a text for standard input.
#![allow(dead_code, reason = "each test binary uses its part")]

use clap::{Args, Parser};
use lastamber::cli::risk::RiskError;
use serde_json::Value;
use std::io::{Read, Write};

/// What answers a question.
pub type Run<A> = fn(&A, &mut dyn Read, &mut dyn Write) -> Result<(), RiskError>;

#[derive(Debug, Parser)]
struct Command<A: Args> {
    #[command(flatten)]
    args: A,
}

/// The options of a sub-command.
pub fn options<A: Args>(arguments: &str) -> Result<A, clap::Error> {
    let all = ["lastamber"].into_iter().chain(arguments.split_whitespace());
    Command::try_parse_from(all).map(|command| command.args)
}

pub fn ask<A: Args>(run: Run<A>, arguments: &str, input: &str) -> Result<String, RiskError> {
    let args = options(arguments).expect("the arguments are well formed");
    let mut out = Vec::new();
    run(&args, &mut input.as_bytes(), &mut out)?;
    Ok(String::from_utf8(out).unwrap())
}

pub fn json<A: Args>(run: Run<A>, arguments: &str, input: &str) -> Value {
    serde_json::from_str(&ask(run, &format!("{arguments} --json"), input).unwrap()).unwrap()
}

/// What is told of a question without an answer: a line or two, by an exit code for errors.
pub fn wrong<A: Args>(run: Run<A>, arguments: &str, input: &str) -> String {
    let error = ask(run, arguments, input).unwrap_err();
    let text = error.to_string();
    assert!(text.lines().count() <= 2 && text.len() < 400, "{text}");
    assert!((1..=99).contains(&error.exit_code()));
    text
}
