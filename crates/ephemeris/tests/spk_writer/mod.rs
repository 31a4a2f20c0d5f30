//! Writes small SPK files for tests, after the public format description (NAIF, "DAF Required Reading" and "SPK Required
//! Reading"): file record, one summary record, one name record, data.

use std::f64::consts::PI;

/// One segment to be written.
#[derive(Clone)]
pub struct Segment {
    pub target: i32,
    pub centre: i32,
    pub frame: i32,
    pub data_type: i32,
    pub start_et: f64,
    pub end_et: f64,
    /// The words of the segment, its directory at the end included.
    pub words: Vec<f64>,
}

/// Chebyshev coefficients, lowest first, through a function at the Chebyshev nodes.
fn chebyshev(f: impl Fn(f64) -> f64, n: usize) -> Vec<f64> {
    let values: Vec<f64> = (0..n).map(|k| f((PI * (k as f64 + 0.5) / n as f64).cos())).collect();
    let sum = |degree: usize| -> f64 {
        values.iter().enumerate().map(|(k, v)| v * (PI * degree as f64 * (k as f64 + 0.5) / n as f64).cos()).sum()
    };
    (0..n).map(|degree| sum(degree) * if degree == 0 { 1.0 } else { 2.0 } / n as f64).collect()
}

/// A segment of type 2 (positions) or 3 (positions and velocities) that follows a function of TDB seconds.
pub fn chebyshev_segment(
    data_type: i32,
    (target, centre): (i32, i32),
    (start_et, end_et): (f64, f64),
    interval_s: f64,
    coefficients: usize,
    state: impl Fn(f64) -> ([f64; 3], [f64; 3]),
) -> Segment {
    let records = ((end_et - start_et) / interval_s).ceil() as usize;
    let mut words = Vec::new();
    for record in 0..records {
        let (middle, radius) = (start_et + (record as f64 + 0.5) * interval_s, 0.5 * interval_s);
        words.extend([middle, radius]);
        for axis in 0..3 {
            words.extend(chebyshev(|s| state(middle + s * radius).0[axis], coefficients));
        }
        if data_type == 3 {
            for axis in 0..3 {
                words.extend(chebyshev(|s| state(middle + s * radius).1[axis], coefficients));
            }
        }
    }
    let record_words = words.len() / records;
    words.extend([start_et, interval_s, record_words as f64, records as f64]);
    Segment { target, centre, frame: 1, data_type, start_et, end_et, words }
}

/// The file.
pub fn spk(segments: &[Segment], little_endian: bool) -> Vec<u8> {
    let double = |x: f64| if little_endian { x.to_le_bytes() } else { x.to_be_bytes() };
    let int = |x: i32| if little_endian { x.to_le_bytes() } else { x.to_be_bytes() };
    let mut file = vec![0u8; 3 * 1024];
    file[0..8].copy_from_slice(b"DAF/SPK ");
    file[8..12].copy_from_slice(&int(2));
    file[12..16].copy_from_slice(&int(6));
    file[76..80].copy_from_slice(&int(2));
    file[80..84].copy_from_slice(&int(2));
    file[88..96].copy_from_slice(if little_endian { b"LTL-IEEE" } else { b"BIG-IEEE" });
    // Next and previous summary record, and how many summaries there are.
    file[1024 + 16..1024 + 24].copy_from_slice(&double(segments.len() as f64));
    let mut next_word = 3 * 128 + 1;
    for (k, segment) in segments.iter().enumerate() {
        let last_word = next_word + segment.words.len() - 1;
        let mut summary = Vec::new();
        summary.extend(double(segment.start_et));
        summary.extend(double(segment.end_et));
        let numbers = [segment.target, segment.centre, segment.frame, segment.data_type];
        for number in numbers.into_iter().chain([next_word as i32, last_word as i32]) {
            summary.extend(int(number));
        }
        let at = 1024 + 24 + 40 * k;
        file[at..at + 40].copy_from_slice(&summary);
        file.extend(segment.words.iter().flat_map(|&word| double(word)));
        next_word = last_word + 1;
    }
    file.resize(file.len().next_multiple_of(1024), 0);
    file
}
