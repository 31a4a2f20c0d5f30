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

/// The code of a tile, in units of the rounding: what [`decode`] reads.
pub(super) fn encode(pixels: &[i16], side: usize, code: &mut Vec<u8>) {
    let (mut held, mut count) = (0_u64, 0_u32);
    // At most 32 bits at a time.
    let mut put = |value: u32, bits: u32| {
        held = held << bits | u64::from(value);
        count += bits;
        while count >= 8 {
            code.push((held >> (count - 8)) as u8);
            count -= 8;
        }
    };
    let mut folded = vec![0_u32; side];
    for y in 0..side {
        let at = |y: usize, x: usize| i32::from(pixels[y * side + x]);
        for (x, cell) in folded.iter_mut().enumerate() {
            let west = if x > 0 { at(y, x - 1) } else { 0 };
            let north = if y > 0 { at(y - 1, x) } else { 0 };
            let north_west = if x > 0 && y > 0 { at(y - 1, x - 1) } else { 0 };
            let residual = at(y, x) - (west + north - north_west);
            *cell = ((residual << 1) ^ (residual >> 31)) as u32;
        }
        let length = |k: u32| folded.iter().map(|n| u64::from(n >> k) + u64::from(k)).sum::<u64>();
        let k = (0..14).min_by_key(|&k| length(k)).unwrap_or(0);
        put(k, 4);
        for &n in &folded {
            for _ in 0..n >> k {
                put(1, 1);
            }
            put(0, 1);
            put(n & ((1 << k) - 1), k);
        }
    }
    put(0, 7);
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
    fn what_is_coded_is_read_back() {
        let pixels: Vec<i16> = (0..65_i64 * 65).map(|i| ((i * i * 7919) % 9001 - 4500) as i16).collect();
        let flat = vec![-77_i16; 65 * 65];
        for pixels in [pixels, flat] {
            let mut code = Vec::new();
            encode(&pixels, 65, &mut code);
            assert_eq!(decode(&code, 65), pixels);
        }
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
