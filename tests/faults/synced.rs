//! What is said to be saved is on the disk: the calls of the real program, in their order, by strace(1).
//!
//! Owns that witness. Refuses the disk's own promises.

use super::program::{PROGRAM, can, command, skipped, text};

/// Calls that write or make durable, each with the name of its file.
const TRACE: &str = "trace=write,fsync,fdatasync";

#[test]
fn saved_is_said_after_the_line_and_the_name_of_its_file_are_on_the_disk() {
    let _alone = crate::alone();
    if !can(&["strace", "-qq", "-o", "/dev/null", "true"]) {
        return skipped("the order of write, sync and answer: strace is not here or may not trace");
    }
    let place = tempfile::tempdir().unwrap();
    let (folder, calls) = (place.path().join("data"), place.path().join("calls"));
    let tool = ["strace", "-f", "-y", "-qq", "-e", TRACE, "-o", text(&calls)];
    for name_is_new in [true, false] {
        let out =
            command(&tool).args(["slips", "add", "rt=.045", "--data", text(&folder)]).output();
        assert!(out.unwrap().status.success(), "{PROGRAM} works under strace");
        let told = std::fs::read_to_string(&calls).unwrap();
        let lines: Vec<&str> = told.lines().collect();
        let history = format!("<{}>", folder.join("history.jsonl").display());
        let is = |line: &str, call: &str, file: &str| line.contains(call) && line.contains(file);
        let written = lines.iter().rposition(|line| is(line, " write(", &history)).expect(&told);
        let synced = lines.iter().rposition(|line| is(line, "sync(", &history)).expect(&told);
        let said = lines.iter().position(|line| line.contains(" write(1<")).expect(&told);
        assert!(written < synced && synced < said, "{told}");
        let folder = format!("<{}>)", folder.display());
        let name_synced = lines.iter().position(|line| is(line, "fsync(", &folder));
        assert_eq!(name_synced.is_some_and(|at| at < said), name_is_new, "{told}");
    }
}
