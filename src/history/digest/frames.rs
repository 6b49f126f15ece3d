//! The bytes of a digest in frames, each with its checksum.
//!
//! Owns that a frame is handed on only if every byte of it and its place are right, and that a file that was
//! cut off is found out. Refuses to know what is in a frame.
//!
//! A frame is its length and a CRC-32 over its number and its bytes, both in four bytes, the least first,
//! then the bytes. The last frame is empty.

use std::io::{self, Read, Write};

/// A frame is closed when it is longer, bytes. Chosen: a few hundred runs.
const FULL: usize = 64 << 10;
/// No frame is longer, bytes: a line of the longest kind fits into one that is not full yet.
const LONGEST: usize = FULL + (2 << 20);

/// Writes frames.
#[derive(Debug)]
pub(super) struct FrameWriter<W> {
    to: W,
    number: u64,
}

/// Reads frames.
#[derive(Debug)]
pub(super) struct FrameReader<R> {
    from: R,
    number: u64,
    bytes: Vec<u8>,
}

/// Whether so many bytes are enough for one frame.
pub(super) fn is_full(bytes: usize) -> bool {
    bytes >= FULL
}

impl<W: Write> FrameWriter<W> {
    pub fn new(to: W) -> Self {
        Self { to, number: 0 }
    }

    /// Writes one frame.
    pub fn write(&mut self, bytes: &[u8]) -> io::Result<()> {
        let fits = u32::try_from(bytes.len()).ok().filter(|_| bytes.len() <= LONGEST);
        let length = fits.ok_or(io::ErrorKind::FileTooLarge)?;
        self.to.write_all(&length.to_le_bytes())?;
        self.to.write_all(&sum(self.number, bytes).to_le_bytes())?;
        self.to.write_all(bytes)?;
        self.number += 1;
        Ok(())
    }

    /// The last frame, and what it was written to.
    pub fn finish(mut self) -> io::Result<W> {
        self.write(&[])?;
        self.to.flush()?;
        Ok(self.to)
    }
}

impl<R: Read> FrameReader<R> {
    pub fn new(from: R) -> Self {
        Self { from, number: 0, bytes: Vec::new() }
    }

    /// The bytes of the next frame, none at the last; an error of any kind if it is not as it was written.
    pub fn next(&mut self) -> io::Result<&[u8]> {
        let length = u32::from_le_bytes(self.four()?) as usize;
        let told = u32::from_le_bytes(self.four()?);
        if length > LONGEST {
            return Err(io::ErrorKind::InvalidData.into());
        }
        self.bytes.resize(length, 0);
        self.from.read_exact(&mut self.bytes)?;
        if sum(self.number, &self.bytes) != told {
            return Err(io::ErrorKind::InvalidData.into());
        }
        self.number += 1;
        Ok(&self.bytes)
    }

    fn four(&mut self) -> io::Result<[u8; 4]> {
        let mut four = [0; 4];
        self.from.read_exact(&mut four)?;
        Ok(four)
    }
}

fn sum(number: u64, bytes: &[u8]) -> u32 {
    let mut hasher = crc32fast::Hasher::new();
    hasher.update(&number.to_le_bytes());
    hasher.update(bytes);
    hasher.finalize()
}

#[cfg(test)]
mod tests {
    use super::*;

    fn written() -> Vec<u8> {
        let mut frames = FrameWriter::new(Vec::new());
        frames.write(b"one").unwrap();
        frames.write(b"and two").unwrap();
        frames.finish().unwrap()
    }

    #[test]
    fn a_frame_is_full_from_so_many_bytes_on_and_takes_the_longest_run_beyond_them() {
        assert!(is_full(FULL) && !is_full(FULL - 1));
        let mut frames = FrameWriter::new(std::io::sink());
        frames.write(&vec![0; FULL - 1 + crate::history::MAX_LINE_BYTES]).unwrap();
        assert!(frames.write(&vec![0; LONGEST + 1]).is_err());
        let mut frames = FrameWriter::new(Vec::new());
        frames.write(&vec![0; LONGEST]).unwrap();
        assert_eq!(read(&frames.finish().unwrap()).unwrap(), [vec![0; LONGEST]]);
    }

    /// All frames, if they end as they should.
    fn read(bytes: &[u8]) -> io::Result<Vec<Vec<u8>>> {
        let (mut reader, mut frames) = (FrameReader::new(bytes), Vec::new());
        loop {
            match reader.next()? {
                [] => return Ok(frames),
                frame => frames.push(frame.to_vec()),
            }
        }
    }

    #[test]
    fn frames_come_back_and_any_damage_is_found() {
        let bytes = written();
        assert_eq!(read(&bytes).unwrap(), [&b"one"[..], b"and two"]);
        for i in 0..bytes.len() {
            assert!(read(&bytes[..i]).is_err(), "cut off at {i}");
            for bit in 0..8 {
                let mut damaged = bytes.clone();
                damaged[i] ^= 1 << bit;
                assert!(read(&damaged).is_err(), "bit {bit} of byte {i}");
            }
        }
        // A frame left out, doubled, or two in the other order.
        let (first, second) = bytes.split_at(11);
        assert!(read(second).is_err());
        assert!(read(&[first, first, second].concat()).is_err());
        let (second, last) = second.split_at(15);
        assert!(read(&[second, first, last].concat()).is_err());
    }

    #[test]
    fn a_length_without_end_takes_no_memory() {
        assert!(read(&[0xff; 64]).is_err());
    }
}
