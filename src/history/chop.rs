//! Bytes into physical lines, never holding more than one line of the longest kind.
//!
//! Owns counting of lines and bytes. Refuses to know what a line means.

use std::io::{self, BufRead, Read};

use super::envelope::MAX_LINE_BYTES;

/// One physical line. Its bytes, at most [`MAX_LINE_BYTES`] of them, stand in the chopper.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(super) struct Physical {
    /// Counted from 1.
    pub number: u64,
    /// Offset of its first byte in the file.
    pub offset: u64,
    /// Its whole length without the newline.
    pub length: u64,
    /// Whether a newline ended it.
    pub ended: bool,
}

/// Cuts a reader into physical lines.
#[derive(Debug)]
pub(super) struct Chopper<R> {
    from: R,
    bytes: Vec<u8>,
    lines: u64,
    offset: u64,
}

impl<R: BufRead> Chopper<R> {
    pub fn new(from: R) -> Self {
        Self { from, bytes: Vec::new(), lines: 0, offset: 0 }
    }

    /// The bytes of the last line, cut off at the limit.
    pub fn bytes(&self) -> &[u8] {
        &self.bytes
    }

    /// Bytes consumed so far.
    pub fn offset(&self) -> u64 {
        self.offset
    }

    /// Lines cut so far.
    pub fn lines(&self) -> u64 {
        self.lines
    }

    /// The next physical line; `None` at the end.
    pub fn next_line(&mut self) -> io::Result<Option<Physical>> {
        self.bytes.clear();
        let start = self.offset;
        let mut held = self.from.by_ref().take(MAX_LINE_BYTES as u64);
        self.offset += held.read_until(b'\n', &mut self.bytes)? as u64;
        let mut ended = self.bytes.pop_if(|last| *last == b'\n').is_some();
        if self.bytes.len() == MAX_LINE_BYTES {
            ended = self.pass_over()?;
        }
        if self.offset == start {
            return Ok(None);
        }
        self.lines += 1;
        let length = self.offset - start - u64::from(ended);
        Ok(Some(Physical { number: self.lines, offset: start, length, ended }))
    }

    /// Counts what is left of a line that is too long to be held, and says whether a newline ended it.
    fn pass_over(&mut self) -> io::Result<bool> {
        loop {
            let chunk = match self.from.fill_buf() {
                Ok([]) => return Ok(false),
                Ok(chunk) => chunk,
                Err(error) if error.kind() == io::ErrorKind::Interrupted => continue,
                Err(error) => return Err(error),
            };
            let newline = chunk.iter().position(|&byte| byte == b'\n');
            let used = newline.map_or(chunk.len(), |place| place + 1);
            self.from.consume(used);
            self.offset += used as u64;
            if newline.is_some() {
                return Ok(true);
            }
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn lines_are_counted_whatever_the_buffer() {
        for capacity in 1..12 {
            let from = io::BufReader::with_capacity(capacity, &b"one\n\nthree\nfour"[..]);
            let mut chopper = Chopper::new(from);
            let mut seen = Vec::new();
            while let Some(line) = chopper.next_line().expect("memory does not fail") {
                seen.push((line.number, line.offset, chopper.bytes().to_vec(), line.ended));
            }
            let expected = [
                (1, 0, b"one".to_vec(), true),
                (2, 4, Vec::new(), true),
                (3, 5, b"three".to_vec(), true),
                (4, 11, b"four".to_vec(), false),
            ];
            assert_eq!(seen, expected);
        }
    }

    /// Fails with this before every chunk it gives.
    struct Stutters(io::BufReader<&'static [u8]>, io::ErrorKind, bool);

    impl Read for Stutters {
        fn read(&mut self, to: &mut [u8]) -> io::Result<usize> {
            self.0.read(to)
        }
    }

    impl BufRead for Stutters {
        fn fill_buf(&mut self) -> io::Result<&[u8]> {
            self.2 = !self.2;
            if self.2 { Err(self.1.into()) } else { self.0.fill_buf() }
        }
        fn consume(&mut self, bytes: usize) {
            self.0.consume(bytes);
        }
    }

    #[test]
    fn a_call_of_the_system_that_was_interrupted_is_made_again_and_any_other_failure_is_told() {
        let chopper = |kind| {
            let from = io::BufReader::with_capacity(5, &b"passed over\nnext"[..]);
            Chopper::new(Stutters(from, kind, false))
        };
        let mut interrupted = chopper(io::ErrorKind::Interrupted);
        assert!(interrupted.pass_over().expect("it is only asked again"));
        assert_eq!(interrupted.offset(), 12);
        let mut broken = chopper(io::ErrorKind::TimedOut);
        assert_eq!(broken.pass_over().expect_err("told").kind(), io::ErrorKind::TimedOut);
    }

    #[test]
    fn a_line_of_a_hundred_megabytes_is_counted_but_not_held() {
        let long = io::repeat(b'x').take(100 << 20).chain(&b"\nafter\n"[..]);
        let mut chopper = Chopper::new(io::BufReader::new(long));
        let line = chopper.next_line().expect("no failure").expect("a line");
        assert_eq!((line.length, line.ended), (100 << 20, true));
        assert_eq!(chopper.bytes().len(), MAX_LINE_BYTES);
        assert!(chopper.bytes.capacity() <= 2 * MAX_LINE_BYTES);
        chopper.next_line().expect("no failure").expect("a line");
        assert_eq!(chopper.bytes(), b"after");
    }
}
