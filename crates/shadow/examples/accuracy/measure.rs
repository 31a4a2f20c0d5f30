//! Differences between this crate and the independent rigorous computation of `tests/reference` (see its ORIGIN.md).
//!
//! Used by the example, which prints their distribution, and by the tests, which hold them to a tolerance.

use noonfall_ephemeris::angle::wrap_180;
use noonfall_ephemeris::{DeltaT, GeoPoint, Kernel, Tt};
use noonfall_shadow::central_line::central_point;
use noonfall_shadow::geodesy::{bearing_deg, distance_km};
use noonfall_shadow::umbral_limits::{Side, limit_point};
use noonfall_shadow::{BatchSolver, Conventions, Eclipse, Kind, Phase, Site, SiteBatch, catalogue};
use std::collections::BTreeMap;
use std::path::PathBuf;

/// Absolute differences in one quantity.
pub struct Quantity {
    /// What is compared.
    pub name: &'static str,
    /// Unit of the differences.
    pub unit: &'static str,
    /// What the project asks for; `None` where it asks nothing.
    pub target: Option<f64>,
    /// What the tests allow: a little above what is measured.
    #[allow(dead_code)]
    pub tolerance: f64,
    /// The differences, in the order of the file.
    pub errors: Vec<f64>,
}

impl Quantity {
    /// Median, 99th percentile and largest difference.
    pub fn distribution(&self) -> (f64, f64, f64) {
        let mut sorted = self.errors.clone();
        sorted.sort_by(f64::total_cmp);
        let at = |share: f64| sorted.get(((sorted.len() as f64 - 1.0) * share).round() as usize).copied();
        (at(0.5).unwrap_or(0.0), at(0.99).unwrap_or(0.0), at(1.0).unwrap_or(0.0))
    }
}

/// Rows of a reference file, by column name.
pub type Row = BTreeMap<String, String>;

/// Reads a reference file.
pub fn rows(file: &str) -> Vec<Row> {
    let path: PathBuf = [env!("CARGO_MANIFEST_DIR"), "../../tests/reference", file].iter().collect();
    let mut reader = csv::Reader::from_path(&path).unwrap_or_else(|e| panic!("{}: {e}", path.display()));
    reader.deserialize().map(|row| row.unwrap_or_else(|e| panic!("{file}: {e}"))).collect()
}

/// A number of a row; `None` where the cell is empty.
pub fn number(row: &Row, column: &str) -> Option<f64> {
    let text = &row[column];
    if text.is_empty() { None } else { Some(text.parse().unwrap_or_else(|_| panic!("{column}: {text}"))) }
}

/// A number that must be there.
pub fn value(row: &Row, column: &str) -> f64 {
    number(row, column).unwrap_or_else(|| panic!("{column} is empty"))
}

/// The eclipse of a row, with the row's ΔT.
pub fn eclipse(row: &Row) -> Eclipse {
    let delta_t = DeltaT::given(value(row, "delta_t_s")).unwrap();
    Eclipse::on_date(Kernel::embedded(), row["date"].parse().unwrap(), Some(delta_t), &Conventions::default()).unwrap()
}

/// Rows that belong to one eclipse, each with that eclipse.
pub fn by_eclipse(rows: Vec<Row>) -> Vec<(Eclipse, Vec<Row>)> {
    let mut groups: BTreeMap<(String, String), Vec<Row>> = BTreeMap::new();
    for row in rows {
        groups.entry((row["date"].clone(), row["delta_t_s"].clone())).or_default().push(row);
    }
    groups.into_values().map(|rows| (eclipse(&rows[0]), rows)).collect()
}

fn quantity(name: &'static str, unit: &'static str, target: Option<f64>, tolerance: f64) -> Quantity {
    Quantity { name, unit, target, tolerance, errors: Vec::new() }
}

fn phase_of(row: &Row) -> Phase {
    match row["phase"].as_str() {
        "total" => Phase::Total,
        "annular" => Phase::Annular,
        "partial" => Phase::Partial,
        _ => Phase::None,
    }
}

/// Local circumstances, one place at a time.
pub fn local_circumstances() -> Vec<Quantity> {
    let mut exterior = quantity("C1, C4", "s", Some(0.05), 0.001);
    let mut exterior_grazing = quantity("C1, C4 where the magnitude stays below 0.01", "s", None, 0.002);
    let mut interior = quantity("C2, C3 (20 s of central phase or more)", "s", Some(0.05), 0.002);
    let mut interior_grazing = quantity("C2, C3 (less than 20 s)", "s", None, 0.01);
    let mut duration = quantity("duration (20 s or more)", "s", Some(0.05), 0.003);
    let mut max = quantity("least separation", "s", None, 0.005);
    // The reference has the aberration of the turning Earth, 0.3″ or 9e-5°; this crate leaves it out.
    let mut altitude = quantity("Sun's altitude at maximum", "°", Some(0.005), 1e-4);
    let mut azimuth = quantity("Sun's azimuth at maximum, on the sky", "°", Some(0.005), 1e-4);
    // Taken about the shadow axis instead of the Sun's topocentric place, 9″ away.
    let mut angle = quantity("position angle of C1, C4", "°", Some(0.02), 0.004);
    let mut angle_interior = quantity("position angle of C2, C3 (20 s or more)", "°", Some(0.02), 0.004);
    let mut magnitude = quantity("magnitude", "", None, 2e-5);
    let mut obscuration = quantity("obscuration", "", None, 1e-6);
    let mut ratio = quantity("size ratio", "", None, 1e-6);
    let mut phase = quantity("phase (1 where it differs)", "", Some(0.0), 0.0);
    for (eclipse, rows) in by_eclipse(rows("local_circumstances.csv")) {
        for row in &rows {
            let site = Site::new(value(row, "lat_deg"), value(row, "lon_deg"), value(row, "elevation_m")).unwrap();
            let found = eclipse.local(&site);
            phase.errors.push(if found.phase == phase_of(row) { 0.0 } else { 1.0 });
            if found.phase != phase_of(row) || found.phase == Phase::None {
                continue;
            }
            let late = |contact: Option<noonfall_shadow::Contact>, column: &str| {
                Some((contact?.tt.0 - number(row, column)?).abs())
            };
            let turned = |contact: Option<noonfall_shadow::Contact>, column: &str| {
                Some(wrap_180(contact?.position_angle_deg - number(row, column)?).abs())
            };
            let grazing = value(row, "magnitude") < 0.01;
            let outer = if grazing { &mut exterior_grazing } else { &mut exterior };
            outer.errors.extend([late(found.c1, "c1_tt"), late(found.c4, "c4_tt")].into_iter().flatten());
            max.errors.extend(late(found.max, "max_tt"));
            if let (Some(c2), Some(c3)) = (number(row, "c2_tt"), number(row, "c3_tt")) {
                let times = [late(found.c2, "c2_tt"), late(found.c3, "c3_tt")].into_iter().flatten();
                if c3 - c2 >= 20.0 {
                    interior.errors.extend(times);
                    duration.errors.push((found.duration_s - (c3 - c2)).abs());
                    let angles = [turned(found.c2, "pa_c2_deg"), turned(found.c3, "pa_c3_deg")];
                    angle_interior.errors.extend(angles.into_iter().flatten());
                } else {
                    interior_grazing.errors.extend(times);
                }
            }
            angle.errors.extend([turned(found.c1, "pa_c1_deg"), turned(found.c4, "pa_c4_deg")].into_iter().flatten());
            if let Some(at) = found.max {
                altitude.errors.push((at.sun_altitude_deg - value(row, "sun_alt_max_deg")).abs());
                let turn = wrap_180(at.sun_azimuth_deg - value(row, "sun_az_max_deg")).abs();
                azimuth.errors.push(turn * at.sun_altitude_deg.to_radians().cos());
            }
            magnitude.errors.push((found.magnitude - value(row, "magnitude")).abs());
            obscuration.errors.push((found.obscuration - value(row, "obscuration")).abs());
            ratio.errors.push((found.size_ratio - value(row, "size_ratio")).abs());
        }
    }
    vec![
        phase,
        exterior,
        exterior_grazing,
        interior,
        interior_grazing,
        duration,
        max,
        altitude,
        azimuth,
        angle,
        angle_interior,
        magnitude,
        obscuration,
        ratio,
    ]
}

/// The same places through the batch.
pub fn batch() -> Vec<Quantity> {
    let mut exterior = quantity("batch: C1, C4", "s", Some(0.05), 0.001);
    let mut interior = quantity("batch: C2, C3 (20 s of central phase or more)", "s", Some(0.05), 0.002);
    let mut phase = quantity("batch: phase (1 where it differs)", "", Some(0.0), 0.0);
    for (eclipse, rows) in by_eclipse(rows("local_circumstances.csv")) {
        let column = |name: &str| -> Vec<f64> { rows.iter().map(|row| value(row, name)).collect() };
        let (lat_deg, lon_deg, elevation_m) = (column("lat_deg"), column("lon_deg"), column("elevation_m"));
        let sites = SiteBatch { lat_deg: &lat_deg, lon_deg: &lon_deg, elevation_m: &elevation_m };
        let found = BatchSolver::new(&eclipse).local(sites).unwrap();
        for (i, row) in rows.iter().enumerate() {
            phase.errors.push(if found.phase[i] == phase_of(row) { 0.0 } else { 1.0 });
            let late = |after_s: f64, column: &str| Some((found.epoch.plus(after_s).0 - number(row, column)?).abs());
            if value(row, "magnitude") >= 0.01 {
                let times = [late(found.c1.after_epoch_s[i], "c1_tt"), late(found.c4.after_epoch_s[i], "c4_tt")];
                exterior.errors.extend(times.into_iter().flatten());
            }
            if found.duration_s[i] >= 20.0 {
                let times = [late(found.c2.after_epoch_s[i], "c2_tt"), late(found.c3.after_epoch_s[i], "c3_tt")];
                interior.errors.extend(times.into_iter().flatten());
            }
        }
    }
    vec![phase, exterior, interior]
}

/// Central line and umbral limits.
pub fn curves() -> Vec<Quantity> {
    let mut central = quantity("central line, on the ground", "m", Some(30.0), 1.0);
    let mut central_low = quantity("central line, Sun below 10°, across the line", "m", None, 1.0);
    let mut limits = quantity("umbral limits, across the path", "m", Some(30.0), 3.0);
    let place = |row: &Row| GeoPoint { lat_deg: value(row, "lat"), lon_deg: value(row, "lon") };
    for (eclipse, rows) in by_eclipse(rows("central_line.csv")) {
        for row in &rows {
            let (tt, place) = (Tt(value(row, "tt")), place(row));
            let along = |seconds: f64| central_point(&eclipse, tt.plus(seconds));
            let low = eclipse.view(&Site::at_sea_level(place), tt).sun_altitude_deg < 10.0;
            if low {
                central_low.errors.push(across_m(place, along(-0.5), along(0.5)));
            } else {
                central.errors.push(along(0.0).map_or(f64::INFINITY, |p| 1000.0 * distance_km(p, place)));
            }
        }
    }
    for (eclipse, rows) in by_eclipse(rows("umbral_limits.csv")) {
        for row in &rows {
            let side = if row["side"] == "north" { Side::North } else { Side::South };
            let along = |seconds: f64| limit_point(&eclipse, side, Tt(value(row, "max_tt")).plus(seconds));
            limits.errors.push(across_m(place(row), along(-1.0), along(1.0)));
        }
    }
    vec![central, central_low, limits]
}

/// Distance of a place from the line through two near-by places, metres; infinite where one of them is missing.
fn across_m(place: GeoPoint, before: Option<GeoPoint>, after: Option<GeoPoint>) -> f64 {
    let (Some(before), Some(after)) = (before, after) else { return f64::INFINITY };
    let turn = (bearing_deg(before, place) - bearing_deg(before, after)).to_radians();
    (1000.0 * distance_km(before, place) * turn.sin()).abs()
}

/// The catalogue of all eclipses 1900–2100.
///
/// The reference takes both bodies as seen from the geocentre for the place of greatest eclipse too. That place sees the
/// Moon up to 21 ms, and the Sun through the lever of the axis, further on its way: the place, and what is seen there,
/// differ by definition, by 0.6 km; `central_line.csv` checks the place where the discs really are concentric.
pub fn all_eclipses() -> Vec<Quantity> {
    let mut kind = quantity("kind, central or not (1 where it differs)", "", Some(0.0), 0.0);
    let mut instant = quantity("instant of greatest eclipse", "s", Some(0.5), 0.02);
    let mut gamma = quantity("gamma", "", None, 1e-6);
    let mut magnitude = quantity("magnitude", "", None, 2e-5);
    let mut place = quantity("place of greatest eclipse (axis on the Earth)", "km", None, 0.7);
    let mut altitude = quantity("Sun's altitude there", "°", None, 0.01);
    let mut duration = quantity("central duration there", "s", None, 0.2);
    let found = catalogue::list(Kernel::embedded(), 1900, 2100, None, &Conventions::default()).unwrap();
    let rows = rows("eclipses.csv");
    assert_eq!(found.len(), rows.len(), "number of eclipses 1900-2100");
    for (row, eclipse) in rows.iter().zip(found) {
        let eclipse = eclipse.with_delta_t(DeltaT::given(value(row, "delta_t_s")).unwrap());
        let greatest = eclipse.greatest();
        let same = eclipse.date().to_string() == row["date"]
            && eclipse.kind().to_string() == row["kind"]
            && (eclipse.kind() == Kind::Partial || eclipse.is_central() == (row["central"] == "yes"));
        kind.errors.push(if same { 0.0 } else { 1.0 });
        instant.errors.push((greatest.tt.0 - value(row, "greatest_tt_s")).abs());
        gamma.errors.push((greatest.gamma - value(row, "gamma")).abs());
        if row["central"] != "yes" {
            continue;
        }
        magnitude.errors.push((greatest.magnitude - value(row, "magnitude")).abs());
        let there = GeoPoint { lat_deg: value(row, "greatest_lat_deg"), lon_deg: value(row, "greatest_lon_deg") };
        place.errors.push(distance_km(greatest.point, there));
        altitude.errors.push((greatest.sun_altitude_deg - value(row, "sun_altitude_deg")).abs());
        if let (Some(a), Some(b)) = (greatest.central_duration_s, number(row, "central_duration_s")) {
            duration.errors.push((a - b).abs());
        }
    }
    vec![kind, instant, gamma, magnitude, place, altitude, duration]
}
