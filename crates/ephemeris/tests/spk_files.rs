//! SPK files as they come: of either byte order, of types that are read and types that are not, damaged in every way.

#![allow(clippy::unwrap_used)]

mod spk_writer;

use noonfall_ephemeris::spk::{Spk, SpkError};
use noonfall_ephemeris::vector::{norm, sub};
use proptest::prelude::*;
use spk_writer::{Segment, chebyshev_segment, spk};

/// A body that moves in a way that three coefficients follow exactly.
fn parabola(et: f64) -> ([f64; 3], [f64; 3]) {
    let t = et / 86_400.0;
    let rate = 1.0 / 86_400.0;
    ([1.0 + t, 2.0 * t - 0.5 * t * t, -3.0], [rate, (2.0 - t) * rate, 0.0])
}

fn segment(data_type: i32, target: i32) -> Segment {
    chebyshev_segment(data_type, (target, 0), (0.0, 400_000.0), 100_000.0, 4, parabola)
}

fn read(bytes: Vec<u8>) -> Result<Spk, SpkError> {
    Spk::from_static(Box::leak(bytes.into_boxed_slice()))
}

#[test]
fn types_2_and_3_are_read_in_either_byte_order() {
    for little_endian in [true, false] {
        let file = read(spk(&[segment(2, 10), segment(3, 301)], little_endian)).unwrap();
        assert_eq!(file.segments().len(), 2);
        for segment in file.segments() {
            assert!(segment.is_readable());
            for et in [0.0, 1.0, 99_999.9, 100_000.0, 250_000.0, 400_000.0] {
                let (position, velocity) = file.evaluate(segment, et).unwrap();
                let (expected, rate) = parabola(et);
                assert!(norm(sub(position, expected)) < 1e-13, "{et}: {position:?}");
                assert!(norm(sub(velocity, rate)) < 1e-16, "{et}: {velocity:?}");
            }
        }
    }
}

#[test]
fn other_types_are_listed_and_not_read() {
    for data_type in [1, 5, 9, 13, 21, -7, i32::MAX] {
        let file = read(spk(&[Segment { data_type, ..segment(2, 301) }], true)).unwrap();
        assert!(!file.segments()[0].is_readable());
        assert!(file.evaluate(&file.segments()[0], 5.0).is_err(), "type {data_type}");
    }
}

#[test]
fn what_contradicts_itself_is_refused() {
    type Change = fn(&mut [f64]);
    let whole = segment(2, 301);
    let directory = whole.words.len() - 4;
    let with = |change: Change| {
        let mut words = whole.words.clone();
        change(&mut words[directory..]);
        read(spk(&[Segment { words, ..whole.clone() }], true))
    };
    let refused: [(Change, &str); 8] = [
        (|d| d[1] = 0.0, "no time"),
        (|d| d[1] = f64::NAN, "no time"),
        (|d| d[0] = f64::INFINITY, "no time"),
        (|d| d[2] = 1e18, "impossible size"),
        (|d| d[2] = -3.0, "impossible size"),
        (|d| d[2] = 13.5, "impossible size"),
        (|d| d[3] = 1e300, "impossible size"),
        (|d| d[3] = 3.0, "do not fill"),
    ];
    for (change, message) in refused {
        let error = with(change).unwrap_err().to_string();
        assert!(error.contains(message) && error.contains("body 301"), "{error}");
    }
    let backwards = Segment { start_et: 5.0, end_et: 1.0, ..whole.clone() };
    assert!(read(spk(&[backwards], true)).unwrap_err().to_string().contains("not a span"));
    // A record that claims another span, or holds no number, is found when it is asked for.
    for (word, value) in [(0, 9e9), (1, 0.0), (1, f64::NAN), (2, f64::NAN), (3, f64::INFINITY)] {
        let mut words = whole.words.clone();
        words[word] = value;
        let file = read(spk(&[Segment { words, ..whole.clone() }], true)).unwrap();
        assert!(file.evaluate(&file.segments()[0], 5.0).is_err(), "{word}");
    }
}

#[test]
fn other_binary_kernels_are_named_for_what_they_are() {
    let mut bytes = spk(&[segment(2, 301)], true);
    bytes[0..8].copy_from_slice(b"DAF/PCK ");
    assert!(read(bytes.clone()).unwrap_err().to_string().contains("DAF/SPK"));
    bytes[0..8].copy_from_slice(b"DAF/SPK ");
    bytes[88..96].copy_from_slice(b"VAX-DFLT");
    assert!(read(bytes).unwrap_err().to_string().contains("VAX-DFLT"));
}

/// Evaluates whatever a file claims to hold.
fn exhaust(bytes: Vec<u8>) {
    if let Ok(file) = read(bytes) {
        for segment in file.segments() {
            let middle = 0.5 * (segment.start_et + segment.end_et);
            for et in [segment.start_et, middle, segment.end_et, 0.0, 50_000.0, f64::NAN, f64::INFINITY, -1e300] {
                if let Ok((position, velocity)) = file.evaluate(segment, et) {
                    assert!(position.iter().chain(&velocity).all(|x| x.is_finite()));
                }
            }
        }
    }
}

proptest! {
    #![proptest_config(ProptestConfig { failure_persistence: None, ..ProptestConfig::with_cases(1000) })]

    /// Bytes changed anywhere in a file that is otherwise whole: it is read or refused, and the reader comes back.
    #[test]
    fn changed_bytes_are_survived(
        flips in prop::collection::vec((0usize..4608, any::<u8>()), 1..20), little_endian: bool,
    ) {
        let mut bytes = spk(&[segment(2, 10), segment(3, 301), segment(2, 3)], little_endian);
        for (at, value) in flips {
            let at = at % bytes.len();
            bytes[at] = value;
        }
        exhaust(bytes);
    }

    /// Whole words of the directory replaced: the numbers that sizes and addresses are made of.
    #[test]
    fn changed_directories_are_survived(
        changes in prop::collection::vec((0usize..24, any::<f64>()), 1..6),
        addresses in prop::collection::vec((0usize..10, any::<i32>()), 0..4),
    ) {
        let mut bytes = spk(&[segment(2, 10), segment(3, 301)], true);
        for (word, value) in changes {
            let at = 1024 + 8 * word;
            bytes[at..at + 8].copy_from_slice(&value.to_le_bytes());
        }
        for (k, value) in addresses {
            let at = 1024 + 24 + 16 + 4 * k;
            bytes[at..at + 4].copy_from_slice(&value.to_le_bytes());
        }
        exhaust(bytes);
    }

    #[test]
    fn a_file_cut_anywhere_is_survived(keep in 0usize..6000) {
        let mut bytes = spk(&[segment(2, 10), segment(3, 301)], true);
        bytes.truncate(keep);
        exhaust(bytes);
    }

    /// Random bytes behind a valid beginning, so that the reader does not stop at the first eight.
    #[test]
    fn noise_behind_a_valid_head_is_survived(noise in prop::collection::vec(any::<u8>(), 0..5000)) {
        let mut bytes = spk(&[segment(2, 10)], true);
        bytes.truncate(1024);
        bytes.extend(noise);
        exhaust(bytes);
    }
}
