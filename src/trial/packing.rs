//! Whole numbers in as few bytes as they need, one after the other.
//!
//! Owns the bytes: seven bits in each, the least first, the eighth says that more follow (LEB128, as in DWARF
//! 5, section 7.6); signed ones with their sign in the lowest bit. Refuses meaning. Reading never fails: what
//! is not there is zero, and [`Unpacker::is_spent`] says so.

/// Bytes that are being put together.
#[derive(Debug, Clone, Default)]
pub(crate) struct Packer(Vec<u8>);

/// Bytes that are being taken apart.
#[derive(Debug, Clone)]
pub(crate) struct Unpacker<'a> {
    rest: &'a [u8],
    spent: bool,
}

impl Packer {
    pub fn byte(&mut self, byte: u8) {
        self.0.push(byte);
    }

    pub fn bytes(&mut self, bytes: &[u8]) {
        self.0.extend_from_slice(bytes);
    }

    pub fn number(&mut self, mut number: u64) {
        while number >= 0x80 {
            self.0.push(number as u8 | 0x80);
            number >>= 7;
        }
        self.0.push(number as u8);
    }

    pub fn signed(&mut self, number: i64) {
        self.number(((number << 1) ^ (number >> 63)) as u64);
    }

    /// Bytes with their count before them.
    pub fn block(&mut self, bytes: &[u8]) {
        self.number(bytes.len() as u64);
        self.bytes(bytes);
    }

    /// How many bytes there are.
    pub fn len(&self) -> usize {
        self.0.len()
    }

    /// The bytes; what is put in from here on begins anew in the same room.
    pub fn as_bytes(&self) -> &[u8] {
        &self.0
    }

    pub fn clear(&mut self) {
        self.0.clear();
    }
}

impl<'a> Unpacker<'a> {
    pub fn new(bytes: &'a [u8]) -> Self {
        Self { rest: bytes, spent: false }
    }

    /// Something was asked for that was not there.
    pub fn is_spent(&self) -> bool {
        self.spent
    }

    /// Nothing is left, and nothing was missing.
    pub fn is_done(&self) -> bool {
        self.rest.is_empty() && !self.spent
    }

    pub fn byte(&mut self) -> u8 {
        let Some((first, rest)) = self.rest.split_first() else {
            self.spent = true;
            return 0;
        };
        self.rest = rest;
        *first
    }

    pub fn bytes(&mut self, count: usize) -> &'a [u8] {
        let Some((taken, rest)) = self.rest.split_at_checked(count) else {
            self.spent = true;
            return &[];
        };
        self.rest = rest;
        taken
    }

    /// Exactly `N` bytes, zeros where they are missing.
    pub fn array<const N: usize>(&mut self) -> [u8; N] {
        self.bytes(N).try_into().unwrap_or([0; N])
    }

    pub fn number(&mut self) -> u64 {
        let mut number = 0;
        for shift in (0..64).step_by(7) {
            let byte = self.byte();
            number |= u64::from(byte & 0x7f) << shift;
            if byte < 0x80 {
                return number;
            }
        }
        // More bytes than any number has.
        self.spent = true;
        0
    }

    pub fn signed(&mut self) -> i64 {
        let number = self.number();
        (number >> 1) as i64 ^ -((number & 1) as i64)
    }

    /// Bytes with their count before them.
    pub fn block(&mut self) -> &'a [u8] {
        let count = usize::try_from(self.number()).unwrap_or(usize::MAX);
        self.bytes(count)
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn numbers_come_back_and_small_ones_are_short() {
        let numbers = [0, 1, 127, 128, 16_383, 16_384, 6_000_000_000, u64::MAX];
        let signed = [0, -1, 1, 63, -64, 64, i64::MIN, i64::MAX, -6_000_000_000];
        let mut packer = Packer::default();
        numbers.iter().for_each(|number| packer.number(*number));
        signed.iter().for_each(|number| packer.signed(*number));
        packer.block(b"three");
        let mut from = Unpacker::new(packer.as_bytes());
        assert_eq!(numbers.map(|_| from.number()), numbers);
        assert_eq!(signed.map(|_| from.signed()), signed);
        assert_eq!((from.block(), from.is_done()), (&b"three"[..], true));
        for (number, bytes) in [(127, 1), (128, 2), (u64::MAX, 10)] {
            packer.clear();
            packer.number(number);
            assert_eq!(packer.len(), bytes);
        }
        // 624485 is E5 8E 26 (DWARF 5, section 7.6, gives the method; the value is worked out by hand).
        packer.clear();
        packer.number(624_485);
        assert_eq!(packer.as_bytes(), [0xe5, 0x8e, 0x26]);
    }

    #[test]
    fn what_is_missing_is_zero_and_said() {
        let mut from = Unpacker::new(&[0x80]);
        assert_eq!((from.number(), from.is_spent()), (0, true));
        let mut from = Unpacker::new(&[0xff; 12]);
        assert_eq!((from.number(), from.is_spent()), (0, true));
        let mut from = Unpacker::new(&[9, 1]);
        assert_eq!((from.block(), from.is_done()), (&[][..], false));
        let mut from = Unpacker::new(&[1, 2]);
        assert_eq!((from.array::<4>(), from.is_spent()), ([0; 4], true));
    }
}
