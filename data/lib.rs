//! The files that noonfall ships, each behind one name. Nothing is read or changed here.
//!
//! Where a file comes from, under which licence and how it was made stands in the `ORIGIN.md` of its folder. The ephemeris and
//! the Moon's heights are crates of their own, because of their size: `noonfall-data-ephemeris`, `noonfall-data-moon`.

/// Clocks: leap seconds and ΔT, from IERS tables and Morrison et al. 2021 (`time/ORIGIN.md`).
pub mod time {
    /// TAI − UTC by date, a step a line.
    pub static LEAP_SECONDS: &str = include_str!("time/leap-seconds.csv");
    /// ΔT month by month since 1962, observed, then predicted.
    pub static DELTA_T: &str = include_str!("time/delta-t.csv");
    /// ΔT from −720 to 2019 as cubic pieces.
    pub static DELTA_T_SPLINE: &str = include_str!("time/delta-t-spline.csv");
    /// Until when each of these tables holds.
    pub static AS_OF: &str = include_str!("time/as-of.csv");
}

/// Outlines of the Earth: Natural Earth 4.1.0, public domain, as TopoJSON packed with gzip (`basemap/ORIGIN.md`).
pub mod basemap {
    /// Countries and land, 1:10 million: objects `countries`, `land`.
    pub static COUNTRIES_10M: &[u8] = include_bytes!("basemap/countries-10m.json.gz");
    /// Countries and land, 1:50 million: objects `countries`, `land`.
    pub static COUNTRIES_50M: &[u8] = include_bytes!("basemap/countries-50m.json.gz");
    /// Lakes, 1:10 million: object `lakes`.
    pub static LAKES_10M: &[u8] = include_bytes!("basemap/lakes-10m.json.gz");
    /// Lakes for maps of 1:50 million: object `lakes`.
    pub static LAKES_50M: &[u8] = include_bytes!("basemap/lakes-50m.json.gz");
    /// Lines between states and provinces, for either scale: object `state_lines`.
    pub static STATE_LINES_50M: &[u8] = include_bytes!("basemap/state-lines-50m.json.gz");
}

/// Populated places: GeoNames, CC BY 4.0 (`places/ORIGIN.md`).
pub mod places {
    /// Name, place, inhabitants, country and zone of 170 391 places, a CSV packed with gzip.
    pub static PLACES: &[u8] = include_bytes!("places/places.csv.gz");
}

/// Coordinate systems of elevation files: the EPSG data set as PROJ has it (`crs/ORIGIN.md`).
pub mod crs {
    /// Code and definition, a line each, ascending, packed with gzip.
    pub static EPSG: &[u8] = include_bytes!("crs/epsg.csv.gz");
}

/// Stars: Hipparcos catalogue, ESA SP-1200 (`stars/ORIGIN.md`).
pub mod stars {
    /// The 25 brightest of the night sky: place, proper motion, magnitude.
    pub static BRIGHT_STARS: &str = include_str!("stars/bright-stars.csv");
}

/// Light in and out of the Moon's umbra, computed by noonfall's own recipe (`light/ORIGIN.md`).
pub mod light {
    /// Illuminance inside the umbra under a clear sky.
    pub static UMBRA_ILLUMINANCE: &str = include_str!("light/umbra-illuminance.csv");
    /// Clear daylight by the Sun's altitude.
    pub static DAYLIGHT: &str = include_str!("light/daylight.csv");
    /// The same light under other haze, over other ground, from other heights.
    pub static CONDITIONS: &str = include_str!("light/conditions.csv");
}

/// Scintillation of a crescent's light, computed by noonfall's own recipe (`shadow_bands/ORIGIN.md`).
pub mod shadow_bands {
    /// Weights of the turbulent layers.
    pub static LAYER_WEIGHTS: &str = include_str!("shadow_bands/layer-weights.csv");
    /// The same for what an eye sees of it.
    pub static SEEN_WEIGHTS: &str = include_str!("shadow_bands/seen-weights.csv");
}

/// Fonts, TrueType, subsets of Noto (SIL OFL 1.1) and DejaVu (Bitstream Vera licence) (`fonts/ORIGIN.md`).
pub mod fonts {
    /// Noto Sans, regular: Latin, Greek, Cyrillic.
    pub static NOTO_SANS: &[u8] = include_bytes!("fonts/NotoSans-Regular.ttf");
    /// Noto Sans, bold: Latin, Greek, Cyrillic.
    pub static NOTO_SANS_BOLD: &[u8] = include_bytes!("fonts/NotoSans-Bold.ttf");
    /// Noto Sans, italic: Latin, Greek, Cyrillic.
    pub static NOTO_SANS_ITALIC: &[u8] = include_bytes!("fonts/NotoSans-Italic.ttf");
    /// Noto Sans Math.
    pub static NOTO_SANS_MATH: &[u8] = include_bytes!("fonts/NotoSansMath-Regular.ttf");
    /// Noto Sans Arabic.
    pub static NOTO_SANS_ARABIC: &[u8] = include_bytes!("fonts/NotoSansArabic-Regular.ttf");
    /// Noto Sans Hebrew.
    pub static NOTO_SANS_HEBREW: &[u8] = include_bytes!("fonts/NotoSansHebrew-Regular.ttf");
    /// DejaVu Sans, for signs that the others lack.
    pub static DEJAVU_SANS: &[u8] = include_bytes!("fonts/DejaVuSans.ttf");
}
