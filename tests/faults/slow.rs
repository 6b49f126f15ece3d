//! A slow disk: who hands a line in never waits for it, and "saved" comes after the disk, not before.

use super::support;
use lastamber::history::{Line, Log, SaveEvent, Sink, Writer};
use std::io::{self, Write};
use std::sync::Arc;
use std::sync::atomic::{AtomicUsize, Ordering};
use std::thread;
use std::time::{Duration, Instant};

const WRITE: Duration = Duration::from_millis(40);
const SYNC: Duration = Duration::from_millis(120);

/// A disk that takes its time and counts what it has synced.
struct Slow {
    synced: Arc<AtomicUsize>,
}

impl Write for Slow {
    fn write(&mut self, bytes: &[u8]) -> io::Result<usize> {
        thread::sleep(WRITE);
        Ok(bytes.len())
    }

    fn flush(&mut self) -> io::Result<()> {
        Ok(())
    }
}

impl Sink for Slow {
    fn sync(&mut self) -> io::Result<()> {
        thread::sleep(SYNC);
        self.synced.fetch_add(1, Ordering::SeqCst);
        Ok(())
    }
}

#[test]
fn nobody_waits_for_a_slow_disk_and_saved_is_said_after_it() {
    let _alone = crate::alone();
    let synced = Arc::new(AtomicUsize::new(0));
    let disk = Slow { synced: Arc::clone(&synced) };
    let mut writer = Writer::start(Log::resume(disk, true)).unwrap();
    let lines: Vec<Line> = support::some_runs(6).into_iter().map(Line::from).collect();
    let began = Instant::now();
    let ids: Vec<String> =
        lines.into_iter().map(|line| writer.submit(line).expect("it is handed in")).collect();
    let handed_in = began.elapsed();
    assert!(handed_in < SYNC, "six lines were handed in before the disk had one: {handed_in:?}");
    assert_eq!((synced.load(Ordering::SeqCst), writer.try_event()), (0, None));
    for (n, id) in ids.into_iter().enumerate() {
        let told = writer.wait_event(Duration::from_secs(20)).expect("it is saved in the end");
        assert_eq!(told, SaveEvent::Saved { id });
        assert!(synced.load(Ordering::SeqCst) > n, "said before the disk was done");
    }
    assert!(began.elapsed() >= 6 * (WRITE + SYNC));
}
