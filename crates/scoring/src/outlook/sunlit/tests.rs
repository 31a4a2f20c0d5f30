use super::*;
use crate::outlook::skyline::{HorizonSearch, SunTrack};
use noonfall_ephemeris::Kernel;
use noonfall_shadow::Conventions;

fn eclipse(date: &str) -> Eclipse {
    Eclipse::on_date(Kernel::embedded(), date.parse().unwrap(), None, &Conventions::default()).unwrap()
}

/// Rough made-up ground on a 3″ grid.
fn rough(north: f64, west: f64, columns: u32, rows: u32) -> Terrain {
    const STEP: f64 = 1.0 / 1200.0;
    let shape = RasterShape { west_deg: west, north_deg: north, lon_step_deg: STEP, lat_step_deg: STEP, columns, rows };
    let height = |i: u32| {
        let (x, y) = (f64::from(i % columns) + west * 1200.0, f64::from(i / columns) - north * 1200.0);
        let hills = 350.0 * (x * 0.021).sin() * (y * 0.017).cos() + 90.0 * (x * 0.13 + y * 0.09).sin();
        (600.0 + hills + 25.0 * (x * 1.1).cos() * (y * 0.7).sin()) as f32
    };
    Terrain::from_grid("made", shape, (0..columns * rows).map(height).collect()).unwrap()
}

fn part(north: f64, west: f64, columns: u32, rows: u32, step: f64) -> RasterShape {
    RasterShape { west_deg: west, north_deg: north, lon_step_deg: step, lat_step_deg: step, columns, rows }
}

/// Quantiles of |block − rays from every `every`th node|.
fn compared(terrain: &Terrain, eclipse: &Eclipse, shape: &RasterShape, every: usize) -> (f64, f64, f64, usize) {
    let block = sunlit_block(terrain, eclipse, shape, &SunlitOptions::default()).unwrap();
    let search = HorizonSearch::new(terrain, RayOptions::default());
    let mut errors = Vec::new();
    for at in (0..block.margin_deg.len()).step_by(every) {
        let (row, column) = (at / shape.columns as usize, at % shape.columns as usize);
        let lat = shape.north_deg - row as f64 * shape.lat_step_deg;
        let lon = shape.west_deg + column as f64 * shape.lon_step_deg;
        let margin = f64::from(block.margin_deg[at]);
        let Ok(eye) = search.viewpoint(lat, lon) else {
            assert!(margin.is_nan());
            continue;
        };
        let site = Site::new(lat, lon, eye.ground_m()).unwrap();
        let local = eclipse.local(&site);
        let (Some(c2), Some(c3)) = (local.c2, local.c3) else {
            assert!(margin.is_nan(), "{lat} {lon}: {margin}");
            continue;
        };
        let track = SunTrack::of(eclipse, &site, &local).unwrap();
        let least = (0..=8)
            .map(|i| {
                let sun = track.at(c2.tt.plus((c3.tt - c2.tt) * f64::from(i) / 8.0));
                eye.ray(sun.azimuth_deg).map(|r| sun.apparent_altitude_deg - r.altitude_deg)
            })
            .collect::<Result<Vec<f64>, TerrainError>>();
        let Ok(least) = least else { continue };
        let least = least.into_iter().fold(f64::INFINITY, f64::min);
        errors.push((margin - least).abs());
    }
    errors.sort_by(f64::total_cmp);
    let at = |q: f64| errors[((errors.len() - 1) as f64 * q) as usize];
    (at(0.5), at(0.95), at(1.0), errors.len())
}

#[test]
fn the_sweep_agrees_with_single_rays() {
    for (date, north, west) in [("2028-07-22", -44.2, 170.0), ("2027-08-02", 36.0, -5.6), ("2026-08-12", 41.0, -1.0)] {
        let terrain = rough(north, west, 900, 700);
        let shape = part(north - 0.15, west + 0.25, 160, 120, 1.0 / 1200.0);
        let (median, most, worst, count) = compared(&terrain, &eclipse(date), &shape, 29);
        println!("{date}: median {median:.4} 95% {most:.4} worst {worst:.3} of {count}");
        assert!(count > 300 && median < 0.02 && most < 0.15, "{date}: {median} {most} {worst} {count}");
    }
}
