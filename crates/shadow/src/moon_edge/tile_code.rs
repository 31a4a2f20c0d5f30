//! How a tile of heights is coded: residuals of a plane through three neighbours, in Rice codes (R. F. Rice 1979, JPL
//! Publication 79-22). The layout is written down in `data/moon/build.py`.

/// Bits, the highest of a byte first. Past the end it gives zeros.
struct Bits<'a> {
    bytes: &'a [u8],
    next: usize,
    held: u64,
    count: u32,
}

impl<'a> Bits<'a> {
    fn of(bytes: &'a [u8]) -> Bits<'a> {
        Bits { bytes, next: 0, held: 0, count: 0 }
    }

    /// At least 56 bits at the top of `held`.
    fn fill(&mut self) {
        while self.count <= 56 {
            let byte = self.bytes.get(self.next).copied().unwrap_or(0);
            self.held |= u64::from(byte) << (56 - self.count);
            self.next += 1;
            self.count += 8;
        }
    }

    fn take(&mut self, bits: u32) -> u32 {
        if bits == 0 {
            return 0;
        }
        self.fill();
        let value = (self.held >> (64 - bits)) as u32;
        self.held <<= bits;
        self.count -= bits;
        value
    }

    /// Length of the run of ones, whose closing zero is taken too. No run is longer than the residuals of 16-bit heights.
    fn ones(&mut self) -> u32 {
        let mut ones = 0;
        loop {
            self.fill();
            let run = self.held.leading_ones().min(self.count);
            if run < self.count {
                // A run may fill all but the last of the 64 bits.
                self.held = self.held.checked_shl(run + 1).unwrap_or(0);
                self.count -= run + 1;
                return ones + run;
            }
            ones += run;
            self.held = 0;
            self.count = 0;
        }
    }
}

/// The pixels of a square tile, in units of the rounding, row by row.
pub(super) fn decode(code: &[u8], side: usize) -> Vec<i16> {
    let mut bits = Bits::of(code);
    let mut pixels = vec![0_i16; side * side];
    for y in 0..side {
        let k = bits.take(4);
        let (before, row) = pixels.split_at_mut(y * side);
        let north = before.get(y.saturating_sub(1) * side..).unwrap_or(&[]);
        let (mut west, mut north_west) = (0_i32, 0_i32);
        for (x, pixel) in row[..side].iter_mut().enumerate() {
            let folded = (bits.ones() << k) | bits.take(k);
            let residual = (folded >> 1) as i32 ^ -((folded & 1) as i32);
            let north_here = north.get(x).map_or(0, |&n| i32::from(n));
            // In the first row there is no north and no northwest, in the first column no west and no northwest.
            let value = residual + west + north_here - north_west;
            *pixel = value as i16;
            (west, north_west) = (value, north_here);
        }
    }
    pixels
}

#[cfg(test)]
mod tests {
    use super::*;

    /// Worked by hand: a tile of 2 × 2 pixels 3, 5 / 2, 8. Residuals 3, 2 / −1, 8 − (2 + 5 − 3) = 4; folded 6, 4 / 1, 8.
    /// First row k = 1: `0001`, 1110 0, 110 0. Second row k = 2: `0010`, 0 01, 110 00.
    #[test]
    fn a_tile_worked_by_hand() {
        let bits = "0001".to_owned() + "11100" + "1100" + "0010" + "001" + "11000";
        let padded = format!("{bits:0<32}");
        let byte = |bits: &[u8]| bits.iter().fold(0_u8, |sum, bit| sum << 1 | (bit - b'0'));
        let bytes: Vec<u8> = padded.as_bytes().chunks(8).map(byte).collect();
        assert_eq!(decode(&bytes, 2), [3, 5, 2, 8]);
    }

    #[test]
    fn a_long_run_and_a_code_cut_short_are_survived() {
        // k = 0, then 4 + 240 + 6 ones: 250 folds back to 125.
        let mut bytes = vec![0x0F];
        bytes.extend([0xFF; 30]);
        bytes.push(0b1111_1100);
        assert_eq!(decode(&bytes, 1), [125]);
        assert_eq!(decode(&[], 3).len(), 9);
    }
}
