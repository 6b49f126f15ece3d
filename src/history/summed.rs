//! Bytes summed up as they are read.
//!
//! Owns that a checksum is of exactly the bytes somebody was given, whatever the file holds by now. Refuses
//! to know what they mean.

use std::io::{self, Read};

use super::digest::Block;

/// A reader that keeps count of what it gives.
#[derive(Debug)]
pub(super) struct Summed<R> {
    from: R,
    /// None if nobody wants to know.
    hasher: Option<crc32fast::Hasher>,
    bytes: u64,
    last: Option<u8>,
}

impl<R> Summed<R> {
    /// Of what is read from here on, if it is `wanted`.
    pub fn new(from: R, wanted: bool) -> Self {
        Self { from, hasher: wanted.then(crc32fast::Hasher::new), bytes: 0, last: None }
    }

    pub fn get_mut(&mut self) -> &mut R {
        &mut self.from
    }

    /// What was given, and whether its last byte was a newline.
    pub fn finish(self) -> (Block, bool) {
        let sum = self.hasher.map_or(0, crc32fast::Hasher::finalize);
        (Block { bytes: self.bytes, sum }, self.last == Some(b'\n'))
    }
}

impl<R: Read> Read for Summed<R> {
    fn read(&mut self, to: &mut [u8]) -> io::Result<usize> {
        let read = self.from.read(to)?;
        let given = &to[..read];
        if let Some(hasher) = &mut self.hasher {
            hasher.update(given);
        }
        self.bytes += read as u64;
        self.last = given.last().copied().or(self.last);
        Ok(read)
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn the_sum_is_of_what_was_given_however_it_was_asked_for() {
        let bytes = b"123456789\n";
        for wanted in [true, false] {
            for at_once in 1..12 {
                let mut from = Summed::new(&bytes[..], wanted);
                let mut some = vec![0; at_once];
                while from.read(&mut some).unwrap() > 0 {}
                let sum = if wanted { crc32fast::hash(bytes) } else { 0 };
                assert_eq!(from.finish(), (Block { bytes: 10, sum }, true));
            }
        }
        let (block, ends_in_newline) = Summed::new(&b""[..], true).finish();
        assert_eq!((block, ends_in_newline), (Block { bytes: 0, sum: 0 }, false));
        // The check value every description of CRC-32 gives.
        let mut from = Summed::new(&b"123456789"[..], true);
        io::copy(&mut from, &mut io::sink()).unwrap();
        assert_eq!(from.finish(), (Block { bytes: 9, sum: 0xcbf4_3926 }, false));
    }
}
