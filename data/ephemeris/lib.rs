//! The excerpt of JPL DE440 that noonfall ships. Nothing is read or changed here; `noonfall-ephemeris` reads it.

/// Sun, Moon, Earth–Moon barycentre, Mercury, Venus, Mars, Jupiter and Saturn from 1900 to 2100, an SPK file packed as
/// `packed.py` describes. Source: JPL DE440, Park et al. 2021, Astron. J. 161, 105 (`ORIGIN.md`).
pub static DE440_1900_2100: &[u8] = include_bytes!("de440-1900-2100.bin");
