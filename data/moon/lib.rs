//! The heights of the Moon that noonfall ships. Nothing is read or changed here; `noonfall-shadow` reads them.

/// Heights of the Moon's surface in the zone that can stand on its edge at an eclipse 1900–2100, 16 a degree, within 2 m, coded
/// as `build.py` describes. Source: NASA LOLA, LDEM_16 V2.0 (`ORIGIN.md`).
pub static EDGE_HEIGHTS: &[u8] = include_bytes!("edge-heights.bin");
