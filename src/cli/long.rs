//! Long work on the command line: how far it is, and Ctrl-C.
//!
//! Owns the bar on standard error (only on a terminal, only after a second, with the time that is
//! left), what Ctrl-C does, and the exit code of work that was cancelled. Refuses standard output, and
//! to stop work that writes anywhere but where it says it may.

use crate::progress::Progress;
use indicatif::{ProgressBar, ProgressDrawTarget, ProgressStyle};
use signal_hook::consts::SIGINT;
use signal_hook::{flag, low_level};
use std::io::{self, IsTerminal};
use std::sync::Arc;
use std::sync::atomic::{AtomicBool, Ordering};
use std::thread::{self, JoinHandle};
use std::time::Duration;

/// Exit code of cancelled work: `EX_TEMPFAIL` of BSD's sysexits.h, "the user is invited to retry".
pub const CANCELLED: u8 = 75;
/// No bar for work that is over sooner.
const SHOWN_AFTER: Duration = Duration::from_secs(1);
/// From one look to the next.
const LOOK: Duration = Duration::from_millis(50);

/// Work that may be long. While it lives, Ctrl-C is a wish its token tells of; a second one ends the
/// program at once. After it Ctrl-C does what it always does.
#[derive(Debug)]
pub struct Long {
    progress: Progress,
    over: Arc<AtomicBool>,
    watcher: Option<JoinHandle<()>>,
}

impl Long {
    /// Work that ends itself when its token says so, and then says what is kept.
    pub fn begin() -> Self {
        Self::watched(None)
    }

    /// Work that changes nothing before it is over: Ctrl-C ends the program at once, even where no part
    /// of the work asks its token.
    pub fn harmless(command: &'static str) -> Self {
        Self::watched(Some(command))
    }

    /// What the work is handed.
    pub fn progress(&self) -> &Progress {
        &self.progress
    }

    fn watched(harmless: Option<&'static str>) -> Self {
        let (progress, over) = (Progress::default(), Arc::new(AtomicBool::new(false)));
        // Without a handler Ctrl-C ends the program as it always did: no reason not to work.
        let _ = listen(&progress, &over);
        let (seen, ended) = (progress.clone(), Arc::clone(&over));
        let watch = move || watch(&seen, &ended, harmless);
        let watcher = thread::Builder::new().name("progress".to_owned()).spawn(watch).ok();
        Self { progress, over, watcher }
    }
}

impl Drop for Long {
    fn drop(&mut self) {
        self.over.store(true, Ordering::Relaxed);
        if let Some(watcher) = self.watcher.take() {
            watcher.thread().unpark();
            // It only draws: if it failed, nothing is lost.
            let _ = watcher.join();
        }
    }
}

fn listen(progress: &Progress, over: &Arc<AtomicBool>) -> io::Result<()> {
    // In the order in which they are asked: the second Ctrl-C, one after the work, the first.
    flag::register_conditional_shutdown(SIGINT, i32::from(CANCELLED), progress.wish())?;
    flag::register_conditional_default(SIGINT, Arc::clone(over))?;
    flag::register(SIGINT, progress.wish()).map(drop)
}

/// Draws until the work is over.
fn watch(progress: &Progress, over: &AtomicBool, harmless: Option<&'static str>) {
    let bar = ProgressBar::with_draw_target(None, ProgressDrawTarget::hidden());
    let is_terminal = io::stderr().is_terminal();
    let mut stretch = "";
    while !over.load(Ordering::Relaxed) {
        if let Some(command) = harmless
            && progress.go_on().is_err()
        {
            bar.finish_and_clear();
            eprintln!(
                "lastamber {command}: cancelled; nothing was changed. Run it again to go on."
            );
            low_level::exit(i32::from(CANCELLED));
        }
        let seen = progress.seen();
        // Before the first stretch nobody knows what to say.
        if is_terminal && !seen.what.is_empty() && bar.is_hidden() && bar.elapsed() >= SHOWN_AFTER {
            bar.set_draw_target(ProgressDrawTarget::stderr());
        }
        if stretch != seen.what {
            stretch = seen.what;
            bar.set_style(style(seen.total));
            bar.set_message(stretch);
            bar.reset_eta();
        }
        match seen.total {
            0 => bar.tick(),
            total => {
                bar.set_length(total);
                bar.set_position(seen.done.min(total));
            }
        }
        thread::park_timeout(LOOK);
    }
    bar.finish_and_clear();
}

fn style(total: u64) -> ProgressStyle {
    let words = match total {
        0 => "{msg} {spinner} {elapsed}",
        _ => "{msg} [{bar:24}] {percent} %, {eta} left",
    };
    ProgressStyle::with_template(words).unwrap_or_else(|_| ProgressStyle::default_bar())
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn both_shapes_of_the_bar_are_well_formed() {
        for words in [style(0), style(9)] {
            let bar = ProgressBar::hidden().with_style(words);
            bar.set_message("reading");
            bar.tick();
        }
        assert!(ProgressStyle::with_template("{msg} {spinner} {elapsed}").is_ok());
        assert!(ProgressStyle::with_template("{msg} [{bar:24}] {percent} %, {eta} left").is_ok());
    }
}
