//! Bad input: files, words and names made to harm. No panic, no hang, no wrong answer, and an error that
//! names file, place and cure.
//!
//! A short corpus and a few thousand damaged inputs run with the other tests; the long run takes half an
//! hour, ten minutes (or `LASTAMBER_MINUTES`) for each of settings, typed cars with tyre sizes, and command
//! lines: `LASTAMBER_LONG=1 cargo test --release --no-default-features --test hostile -- --nocapture
//! --test-threads 1`. Slips, exports and histories have their own (`slips_table`, `history_fuzz`,
//! `cli_history`).

mod files;
mod files_of;
mod heavy;
mod names;
mod typed;
mod words;

#[path = "../fuzz_support/mod.rs"]
mod fuzz_support;

use lastamber::seed::Generator;

/// Calls `one` a number of times, or for ten minutes of a long run.
fn again_and_again(what: &str, tries: u64, one: impl FnMut(u64, &mut Generator)) {
    fuzz_support::again_and_again(what, tries, [2028, 611], one);
}

/// Names nobody has, and what breaks where they are not taken for text.
const NAMES: [&str; 11] = [
    "<script>alert(1)</script>",
    "\" onload=\"alert(1)",
    "' onmouseover='x",
    "]]><svg/onload=alert(1)>",
    "--><!-- &amp; &lt;b&gt; &#0;",
    "right\u{202e}to\u{200f}left\u{2067}marks\u{061c}",
    "nul\0 bell\u{7} escape\u{1b}[2J",
    "two\nlines\r\nand\ta tab",
    "=cmd()|' /C x'!A0, \"quoted\"",
    "../../etc/passwd",
    "{{name}} %s $HOME `id`",
];

/// All of them, and a name of ten thousand letters.
fn hostile_names() -> Vec<String> {
    let long = "<b>\"'&\u{202e}ä".repeat(1000);
    NAMES.iter().map(|name| (*name).to_owned()).chain([long]).collect()
}
