//! The virtual server's screen, read from its mirror file by positioned reads.
//!
//! Owns the X window dump header and the way from a pixel's place to its colour. Refuses X protocol
//! traffic: looking at a lamp must not load the server that draws it.

use std::fs::File;
use std::io::{BufWriter, Write};
use std::os::unix::fs::FileExt;
use std::path::Path;

use crate::xserver::Outcome;

/// Words of the header that matter here, all big-endian 32-bit.
const HEADER_WORDS: usize = 25;
/// Bytes of one colour table entry, which follow the header.
const COLOUR_BYTES: u64 = 12;

/// A rectangle of physical pixels.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub struct Rect {
    pub x: i32,
    pub y: i32,
    pub width: i32,
    pub height: i32,
}

impl Rect {
    /// The pixel at the centre.
    pub fn centre(&self) -> (i32, i32) {
        (self.x + self.width / 2, self.y + self.height / 2)
    }

    /// The same rectangle, moved.
    pub fn moved(&self, by: (i32, i32)) -> Self {
        Self { x: self.x + by.0, y: self.y + by.1, ..*self }
    }
}

/// An open mirror file.
pub struct Framebuffer {
    file: File,
    pixels_at: u64,
    bytes_per_line: u64,
    width: u32,
    height: u32,
    channel_shifts: [u32; 3],
    little_endian: bool,
}

impl Framebuffer {
    /// Opens the mirror file at `path` and reads its header.
    pub fn open(path: &Path) -> Outcome<Self> {
        let file = File::open(path).map_err(|e| format!("{}: {e}", path.display()))?;
        let mut bytes = [0_u8; HEADER_WORDS * 4];
        file.read_exact_at(&mut bytes, 0)
            .map_err(|e| format!("{}: no X window dump header: {e}", path.display()))?;
        let word = |i: usize| {
            u32::from_be_bytes([bytes[4 * i], bytes[4 * i + 1], bytes[4 * i + 2], bytes[4 * i + 3]])
        };
        if word(1) != 7 || word(11) != 32 {
            return Err(format!(
                "{}: expected dump version 7 with 32 bits per pixel, found {} with {}",
                path.display(),
                word(1),
                word(11)
            ));
        }
        Ok(Self {
            file,
            pixels_at: u64::from(word(0)) + COLOUR_BYTES * u64::from(word(19)),
            bytes_per_line: u64::from(word(12)),
            width: word(4),
            height: word(5),
            channel_shifts: [word(14), word(15), word(16)].map(u32::trailing_zeros),
            little_endian: word(7) == 0,
        })
    }

    /// Red, green and blue of one pixel of the screen.
    pub fn pixel(&self, (x, y): (i32, i32)) -> Outcome<[u8; 3]> {
        let inside = |v: i32, end: u32| u32::try_from(v).ok().filter(|v| *v < end);
        let (Some(column), Some(row)) = (inside(x, self.width), inside(y, self.height)) else {
            return Err(format!(
                "pixel {x},{y} is outside the {}x{} screen",
                self.width, self.height
            ));
        };
        let mut bytes = [0_u8; 4];
        let at = self.pixels_at + u64::from(row) * self.bytes_per_line + u64::from(column) * 4;
        self.file.read_exact_at(&mut bytes, at).map_err(|e| format!("frame buffer: {e}"))?;
        Ok(self.colour(bytes))
    }

    /// Red + green + blue of one pixel, 0 … 765.
    pub fn brightness(&self, place: (i32, i32)) -> Outcome<u16> {
        Ok(self.pixel(place)?.into_iter().map(u16::from).sum())
    }

    /// Writes the whole screen as a portable pixmap.
    pub fn write_ppm(&self, path: &Path) -> Outcome<()> {
        let side = |v: u32| i32::try_from(v).expect("a screen's side fits 15 bits");
        let all = Rect { x: 0, y: 0, width: side(self.width), height: side(self.height) };
        self.write_part_ppm(path, all)
    }

    /// Writes the part of the screen inside `part` as a portable pixmap.
    pub fn write_part_ppm(&self, path: &Path, part: Rect) -> Outcome<()> {
        let clip = |from: i32, length: i32, end: u32| {
            let end = i64::from(end);
            let first = i64::from(from).clamp(0, end);
            (first as u64, (i64::from(from) + i64::from(length)).clamp(first, end) as u64)
        };
        let (left, right) = clip(part.x, part.width, self.width);
        let (top, bottom) = clip(part.y, part.height, self.height);
        let told = |e: std::io::Error| format!("{}: {e}", path.display());
        let mut out = BufWriter::new(File::create(path).map_err(told)?);
        write!(out, "P6\n{} {}\n255\n", right - left, bottom - top).map_err(told)?;
        let mut line = vec![0_u8; (right - left) as usize * 4];
        for row in top..bottom {
            let at = self.pixels_at + row * self.bytes_per_line + left * 4;
            self.file.read_exact_at(&mut line, at).map_err(told)?;
            for pixel in line.as_chunks::<4>().0 {
                out.write_all(&self.colour(*pixel)).map_err(told)?;
            }
        }
        out.flush().map_err(told)
    }

    fn colour(&self, bytes: [u8; 4]) -> [u8; 3] {
        let value =
            if self.little_endian { u32::from_le_bytes(bytes) } else { u32::from_be_bytes(bytes) };
        self.channel_shifts.map(|shift| (value >> shift) as u8)
    }
}
