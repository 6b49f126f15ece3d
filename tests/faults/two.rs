//! Two programs on one folder: the second is told, and may read.
//!
//! Owns a living holder of the lock. Refuses to break one.

use super::program::{ask, text};
use super::scribe::Scribe;
use lastamber::history::WholeHistory;

#[test]
fn a_second_program_may_read_but_not_write_and_is_told_why() {
    let _alone = crate::alone();
    let place = tempfile::tempdir().unwrap();
    let data = text(place.path());
    let scribe = Scribe::start(place.path(), 0);
    let expected = format!(
        "lastamber: {data} is in use by another Last Amber.\nClose that one first, or choose another \
         folder with --data DIR."
    );
    let writing: [&[&str]; 4] = [
        &["slips", "add", "rt=.045"],
        &["history", "take-in", "last"],
        &["history", "trim-test-data"],
        &["demo", "--no-window"],
    ];
    for words in writing {
        ask(&[words, &["--data", data]].concat()).gave_up(&expected);
    }
    // While the other one writes, again and again: whole lines, and at most the newest is under way.
    for _ in 0..8 {
        let export = ask(&["history", "export", "--data", data]);
        assert_eq!(export.code, Some(0), "{}", export.error);
        let (read, _) = WholeHistory::of_export(export.out.as_bytes()).unwrap();
        assert!(read.damaged.is_empty() && read.contrary.is_empty());
        assert_eq!(ask(&["slips", "list", "--data", data]).code, Some(0));
    }
    scribe.wait_for(1);
    let told = scribe.kill();
    let last = told.lines.len();
    assert!(last > 0, "it wrote all the while");
    ask(&["slips", "add", "rt=.045", "--data", data]).well();
}
