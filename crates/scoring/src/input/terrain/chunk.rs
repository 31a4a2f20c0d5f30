//! A strip or tile of a TIFF, from its bytes on disk to numbers.
//!
//! # Source
//! TIFF 6.0 (sections 9, 13, 14: PackBits, LZW, differencing predictor); Adobe's technical notes 1 and 3 (deflate, floating-point
//! predictor); RFC 1950 and RFC 8878 (zlib, Zstandard). Compression 50000 is Zstandard by common practice of GDAL and libtiff.

use std::io::Read;

/// How samples are packed.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub(crate) enum Packing {
    None,
    Lzw,
    Deflate,
    PackBits,
    Zstd,
}

impl Packing {
    /// From tag 259; the name of the packing otherwise.
    pub(crate) fn of(code: u16) -> Result<Packing, String> {
        Ok(match code {
            1 => Packing::None,
            5 => Packing::Lzw,
            8 | 32946 => Packing::Deflate,
            32773 => Packing::PackBits,
            50000 => Packing::Zstd,
            2..=4 => return Err("a fax code".to_owned()),
            6 | 7 => return Err("JPEG".to_owned()),
            34712 => return Err("JPEG 2000".to_owned()),
            34887 => return Err("LERC".to_owned()),
            34925 => return Err("LZMA".to_owned()),
            50001 => return Err("WebP".to_owned()),
            50002 => return Err("JPEG XL".to_owned()),
            other => return Err(format!("compression {other}")),
        })
    }
}

/// What a sample is.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub(crate) enum Sample {
    Unsigned(u8),
    Signed(u8),
    Float(u8),
}

impl Sample {
    /// From tags 339 and 258.
    pub(crate) fn of(format: u16, bits: u16) -> Option<Sample> {
        Some(match (format, bits) {
            (1 | 4, 8 | 16 | 32 | 64) => Sample::Unsigned(bits as u8 / 8),
            (2, 8 | 16 | 32 | 64) => Sample::Signed(bits as u8 / 8),
            (3, 16 | 32 | 64) => Sample::Float(bits as u8 / 8),
            _ => return None,
        })
    }

    pub(crate) fn bytes(self) -> usize {
        match self {
            Sample::Unsigned(b) | Sample::Signed(b) | Sample::Float(b) => usize::from(b),
        }
    }
}

/// The layout of all pieces of a file.
#[derive(Clone, Copy, Debug)]
pub(crate) struct Layout {
    pub(crate) packing: Packing,
    pub(crate) sample: Sample,
    /// 1 none, 2 differences, 3 floating point.
    pub(crate) predictor: u16,
    pub(crate) big_endian: bool,
    /// Samples in a row of a piece.
    pub(crate) width: usize,
}

/// The numbers of a piece of `rows` rows, each turned into what is kept of it.
///
/// # Errors
/// The reason in words; a piece that holds less than it should.
pub(crate) fn decode<T>(
    layout: &Layout,
    packed: &[u8],
    rows: usize,
    keep: impl Fn(f64) -> T,
) -> Result<Vec<T>, String> {
    let size = layout.sample.bytes();
    let expected = layout.width * rows * size;
    let mut bytes = unpack(layout.packing, packed, expected)?;
    if bytes.len() < expected {
        return Err(format!("a piece unpacks to {} bytes instead of {expected}", bytes.len()));
    }
    bytes.truncate(expected);
    let row_bytes = layout.width * size;
    let mut big_endian = layout.big_endian;
    match layout.predictor {
        2 => bytes.chunks_exact_mut(row_bytes).for_each(|row| add_differences(row, size, big_endian)),
        3 => {
            let mut turned = vec![0; row_bytes];
            for row in bytes.chunks_exact_mut(row_bytes) {
                for i in 1..row.len() {
                    row[i] = row[i].wrapping_add(row[i - 1]);
                }
                // Byte planes, the most significant first, whatever the order of bytes of the file.
                for (i, sample) in turned.chunks_exact_mut(size).enumerate() {
                    for (plane, byte) in sample.iter_mut().enumerate() {
                        *byte = row[plane * layout.width + i];
                    }
                }
                row.copy_from_slice(&turned);
            }
            big_endian = true;
        }
        _ => {}
    }
    Ok(match (layout.sample, big_endian) {
        // What elevation models mostly hold, without asking sample by sample what it is.
        (Sample::Signed(2), false) => {
            bytes.as_chunks::<2>().0.iter().map(|b| keep(f64::from(i16::from_le_bytes(*b)))).collect()
        }
        (Sample::Float(4), false) => {
            bytes.as_chunks::<4>().0.iter().map(|b| keep(f64::from(f32::from_le_bytes(*b)))).collect()
        }
        (Sample::Float(4), true) => {
            bytes.as_chunks::<4>().0.iter().map(|b| keep(f64::from(f32::from_be_bytes(*b)))).collect()
        }
        (sample, _) => bytes.chunks_exact(size).map(|b| keep(number(sample, b, big_endian))).collect(),
    })
}

/// Unpacks, to no more than what is expected.
fn unpack(packing: Packing, packed: &[u8], expected: usize) -> Result<Vec<u8>, String> {
    let read = |from: &mut dyn Read| {
        let mut bytes = Vec::with_capacity(expected);
        from.take(expected as u64).read_to_end(&mut bytes).map_err(|e| e.to_string())?;
        Ok(bytes)
    };
    match packing {
        Packing::None => Ok(packed[..packed.len().min(expected)].to_vec()),
        Packing::Deflate => {
            // In one go into the whole piece, which spares a copy; what comes after it is of no interest, as to other readers.
            let mut bytes = vec![0; expected];
            let mut inflate = flate2::Decompress::new(true);
            let result = inflate.decompress(packed, &mut bytes, flate2::FlushDecompress::Finish);
            let given = (inflate.total_out() as usize).min(expected);
            if given < expected {
                result.map_err(|e| e.to_string())?;
            }
            bytes.truncate(given);
            Ok(bytes)
        }
        Packing::Zstd => {
            // A window larger than the piece is of no use to it.
            let most = (expected as u64).max(1 << 23);
            let mut decoder = ruzstd::decoding::StreamingDecoder::new_with_max_window_size(packed, most)
                .map_err(|e| e.to_string())?;
            read(&mut decoder)
        }
        Packing::Lzw => {
            let mut decoder = weezl::decode::Configuration::with_tiff_size_switch(weezl::BitOrder::Msb, 8).build();
            let mut bytes = vec![0; expected];
            let (mut taken, mut given) = (0, 0);
            while given < expected {
                let result = decoder.decode_bytes(&packed[taken..], &mut bytes[given..]);
                (taken, given) = (taken + result.consumed_in, given + result.consumed_out);
                match result.status {
                    Ok(weezl::LzwStatus::Ok) => {}
                    Ok(weezl::LzwStatus::Done | weezl::LzwStatus::NoProgress) => break,
                    Err(e) => return Err(e.to_string()),
                }
            }
            bytes.truncate(given);
            Ok(bytes)
        }
        Packing::PackBits => {
            let mut bytes = Vec::with_capacity(expected);
            let mut rest = packed.iter().copied();
            while bytes.len() < expected {
                match rest.next().map(|b| b as i8) {
                    Some(-128) => {}
                    Some(n) if n >= 0 => bytes.extend(rest.by_ref().take(n as usize + 1)),
                    Some(n) => match rest.next() {
                        Some(byte) => bytes.extend(std::iter::repeat_n(byte, 1 + n.unsigned_abs() as usize)),
                        None => break,
                    },
                    None => break,
                }
            }
            bytes.truncate(expected);
            Ok(bytes)
        }
    }
}

/// Undoes differences between neighbours of a row, in words of the sample's size.
fn add_differences(row: &mut [u8], size: usize, big_endian: bool) {
    if let (2, false) = (size, big_endian) {
        let mut sum = 0_u16;
        for b in row.as_chunks_mut::<2>().0 {
            sum = sum.wrapping_add(u16::from_le_bytes(*b));
            *b = sum.to_le_bytes();
        }
        return;
    }
    let word = |b: &[u8]| {
        let mut all = [0; 8];
        if big_endian {
            all[8 - size..].copy_from_slice(b);
            u64::from_be_bytes(all)
        } else {
            all[..size].copy_from_slice(b);
            u64::from_le_bytes(all)
        }
    };
    let mut sum = 0_u64;
    for b in row.chunks_exact_mut(size) {
        sum = sum.wrapping_add(word(b));
        if big_endian {
            b.copy_from_slice(&sum.to_be_bytes()[8 - size..]);
        } else {
            b.copy_from_slice(&sum.to_le_bytes()[..size]);
        }
    }
}

fn number(sample: Sample, b: &[u8], big_endian: bool) -> f64 {
    let mut all = [0; 8];
    let bits = if big_endian {
        all[8 - b.len()..].copy_from_slice(b);
        u64::from_be_bytes(all)
    } else {
        all[..b.len()].copy_from_slice(b);
        u64::from_le_bytes(all)
    };
    match sample {
        Sample::Unsigned(_) => bits as f64,
        Sample::Signed(1) => f64::from(bits as u8 as i8),
        Sample::Signed(2) => f64::from(bits as u16 as i16),
        Sample::Signed(4) => f64::from(bits as u32 as i32),
        Sample::Signed(_) => bits as i64 as f64,
        Sample::Float(2) => half(bits as u16),
        Sample::Float(4) => f64::from(f32::from_bits(bits as u32)),
        Sample::Float(_) => f64::from_bits(bits),
    }
}

/// A float of 16 bits (IEEE 754 binary16).
fn half(bits: u16) -> f64 {
    let sign = if bits >> 15 == 1 { -1.0 } else { 1.0 };
    let (exponent, fraction) = (i32::from(bits >> 10 & 31), f64::from(bits & 1023));
    sign * match exponent {
        0 => fraction * 2.0_f64.powi(-24),
        31 if fraction == 0.0 => f64::INFINITY,
        31 => f64::NAN,
        e => (1.0 + fraction / 1024.0) * 2.0_f64.powi(e - 15),
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    /// Check values of IEEE 754 binary16: 1, −2, the largest, the smallest above 0.
    #[test]
    fn halves_are_numbers() {
        assert_eq!((half(0x3c00), half(0xc000), half(0x7bff), half(1)), (1.0, -2.0, 65504.0, 2.0_f64.powi(-24)));
        assert!(half(0x7e00).is_nan() && half(0x7c00).is_infinite());
    }

    /// The example of TIFF 6.0, section 9 (Apple's PackBits note).
    #[test]
    fn packbits_unpacks_the_published_example() {
        let packed = [0xfe, 0xaa, 0x02, 0x80, 0x00, 0x2a, 0xfd, 0xaa, 0x03, 0x80, 0x00, 0x2a, 0x22, 0xf7, 0xaa];
        let plain = [
            0xaa, 0xaa, 0xaa, 0x80, 0x00, 0x2a, 0xaa, 0xaa, 0xaa, 0xaa, 0x80, 0x00, 0x2a, 0x22, 0xaa, 0xaa, 0xaa, 0xaa,
            0xaa, 0xaa, 0xaa, 0xaa, 0xaa, 0xaa,
        ];
        assert_eq!(unpack(Packing::PackBits, &packed, 24).unwrap(), plain);
        assert_eq!(unpack(Packing::PackBits, &packed[..7], 24).unwrap().len(), 6);
    }

    /// The short ways for common samples give what the long way gives.
    #[test]
    fn common_samples_read_as_any_others_do() {
        let bytes: Vec<u8> = (0..64_u32).map(|i| (i * 37 + i * i) as u8).collect();
        for (sample, big_endian) in
            [(Sample::Signed(2), false), (Sample::Signed(2), true), (Sample::Float(4), false), (Sample::Float(4), true)]
        {
            for predictor in [1, 2] {
                let layout = Layout { packing: Packing::None, sample, predictor, big_endian, width: 4 };
                let rows = 64 / 4 / sample.bytes();
                let mut plain = bytes.clone();
                if predictor == 2 {
                    for row in plain.chunks_exact_mut(4 * sample.bytes()) {
                        for i in sample.bytes()..row.len() {
                            // Differences by hand: each word is the sum of itself and the one before.
                            if i % sample.bytes() == 0 {
                                let word = |b: &[u8]| {
                                    let mut all = [0_u8; 4];
                                    if big_endian {
                                        all[4 - b.len()..].copy_from_slice(b);
                                        u32::from_be_bytes(all)
                                    } else {
                                        all[..b.len()].copy_from_slice(b);
                                        u32::from_le_bytes(all)
                                    }
                                };
                                let size = sample.bytes();
                                let sum = word(&row[i - size..i]).wrapping_add(word(&row[i..i + size]));
                                let stored = if big_endian {
                                    sum.to_be_bytes()[4 - size..].to_vec()
                                } else {
                                    sum.to_le_bytes()[..size].to_vec()
                                };
                                row[i..i + size].copy_from_slice(&stored);
                            }
                        }
                    }
                }
                let expected: Vec<u64> =
                    plain.chunks_exact(sample.bytes()).map(|b| number(sample, b, big_endian).to_bits()).collect();
                assert_eq!(decode(&layout, &bytes, rows, f64::to_bits).unwrap(), expected, "{layout:?}");
            }
        }
    }

    #[test]
    fn a_bomb_unpacks_to_no_more_than_a_piece_holds() {
        let mut encoder = flate2::write::ZlibEncoder::new(Vec::new(), flate2::Compression::best());
        std::io::Write::write_all(&mut encoder, &vec![0; 10_000_000]).unwrap();
        let packed = encoder.finish().unwrap();
        assert_eq!(unpack(Packing::Deflate, &packed, 1000).unwrap().len(), 1000);
        let layout = Layout {
            packing: Packing::Deflate,
            sample: Sample::Signed(2),
            predictor: 1,
            big_endian: false,
            width: 100,
        };
        assert_eq!(decode(&layout, &packed, 5, |n| n).unwrap().len(), 500);
        assert!(decode(&layout, &packed[..20], 50_000, |n| n).is_err());
    }
}
