use super::*;
use crate::outlook::skyline::{HorizonSearch, SunTrack};
use noonfall_ephemeris::Kernel;
use noonfall_shadow::Conventions;

pub(super) fn eclipse(date: &str) -> Eclipse {
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

pub(super) fn part(north: f64, west: f64, columns: u32, rows: u32, step: f64) -> RasterShape {
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
    for (date, north, west) in [("2028-07-22", -45.2, 169.2), ("2027-08-02", 36.0, -5.6), ("2026-08-12", 41.0, -1.0)] {
        let terrain = rough(north, west, 900, 700);
        let shape = part(north - 0.15, west + 0.25, 160, 120, 1.0 / 1200.0);
        let (median, most, worst, count) = compared(&terrain, &eclipse(date), &shape, 29);
        println!("{date}: median {median:.4} 95% {most:.4} worst {worst:.3} of {count}");
        assert!(count > 300 && median < 0.02 && most < 0.15, "{date}: {median} {most} {worst} {count}");
    }
}

fn bits(values: &[f32]) -> Vec<u32> {
    values.iter().map(|v| v.to_bits()).collect()
}

#[test]
fn any_number_of_threads_finds_the_same_margins() {
    let (terrain, eclipse) = (rough(41.0, -1.0, 500, 400), eclipse("2026-08-12"));
    let shape = part(40.9, -0.9, 130, 110, 1.0 / 1200.0);
    let with = |threads: usize| {
        let pool = rayon::ThreadPoolBuilder::new().num_threads(threads).build().unwrap();
        let options = SunlitOptions { beyond_totality_min: Some(20.0), ..SunlitOptions::default() };
        let block = pool.install(|| sunlit_block(&terrain, &eclipse, &shape, &options).unwrap());
        (bits(&block.margin_deg), bits(&block.lost_s), bits(&block.gained_s), block.doubtful)
    };
    assert_eq!(with(1), with(3));
}

/// On a level plain the skyline is the dip of the horizon for the eye: arccos of R over R + h, as by day's refraction.
#[test]
fn over_a_level_plain_the_skyline_is_the_dip() {
    let shape = part(41.0, -1.0, 700, 500, 1.0 / 1200.0);
    let terrain = Terrain::from_grid("level", shape, vec![100.0; 700 * 500]).unwrap();
    let eclipse = eclipse("2026-08-12");
    let asked = part(40.85, -0.7, 40, 40, 1.0 / 1200.0);
    let block = sunlit_block(&terrain, &eclipse, &asked, &SunlitOptions::default()).unwrap();
    let dip = (7_323_000.0_f64 / (7_323_000.0 + 1.7)).acos().to_degrees();
    for at in [0, 777, 1599] {
        let (lat, lon) = (40.85 - (at / 40) as f64 / 1200.0, -0.7 + (at % 40) as f64 / 1200.0);
        let site = Site::new(lat, lon, 100.0).unwrap();
        let sun = eclipse.view(&site, eclipse.local(&site).c3.unwrap().tt).sun_apparent_altitude_deg;
        let skyline = sun - f64::from(block.margin_deg[at]);
        assert!((skyline + dip).abs() < 0.003, "{skyline} {dip}");
    }
}

#[test]
fn a_coarser_grid_and_a_cut_one_have_the_same_margins() {
    let (terrain, eclipse) = (rough(41.0, -1.0, 600, 500), eclipse("2026-08-12"));
    let step = 1.0 / 1200.0;
    let whole = sunlit_block(&terrain, &eclipse, &part(40.9, -0.9, 121, 91, step), &SunlitOptions::default()).unwrap();
    let coarse =
        sunlit_block(&terrain, &eclipse, &part(40.9, -0.9, 31, 23, 4.0 * step), &SunlitOptions::default()).unwrap();
    let cut =
        sunlit_block(&terrain, &eclipse, &part(40.9, -0.9 + 60.0 * step, 61, 91, step), &SunlitOptions::default())
            .unwrap();
    let mut apart: Vec<f32> = Vec::new();
    for (i, margin) in coarse.margin_deg.iter().enumerate() {
        apart.push((margin - whole.margin_deg[i / 31 * 4 * 121 + i % 31 * 4]).abs());
    }
    for (i, margin) in cut.margin_deg.iter().enumerate() {
        apart.push((margin - whole.margin_deg[i / 61 * 121 + 60 + i % 61]).abs());
    }
    assert!(apart.iter().all(|a| a.is_finite()));
    apart.sort_by(f32::total_cmp);
    assert!(apart[apart.len() / 2] < 0.01 && apart[apart.len() * 95 / 100] < 0.1, "{:?}", apart.last());
}

#[test]
fn voids_and_the_edge_of_the_files_are_counted_and_never_level() {
    let shape = part(41.0, -1.0, 400, 300, 1.0 / 1200.0);
    let height = |i: u32| {
        let (row, column) = (i / 400, i % 400);
        if (100..140).contains(&row) && (150..200).contains(&column) {
            f32::NAN
        } else {
            300.0 + (column % 7) as f32 * 20.0
        }
    };
    let terrain = Terrain::from_grid("holed", shape, (0..400 * 300).map(height).collect()).unwrap();
    let eclipse = eclipse("2026-08-12");
    // All of the terrain, its sunward edge in the west included, and a strip beyond it.
    let asked = part(41.0, -1.0 - 10.0 / 1200.0, 410, 300, 1.0 / 1200.0);
    let block = sunlit_block(&terrain, &eclipse, &asked, &SunlitOptions::default()).unwrap();
    assert_eq!(block.in_path, 410 * 300);
    assert!(block.without_height >= 40 * 50 + 9 * 300, "{}", block.without_height);
    assert!(block.without_skyline >= 300, "{}", block.without_skyline);
    // Ground as high as the highest, 120 m up, reaches a Sun at some 8° from less than a kilometre: there the edge and the void count.
    assert!((1500..20_000).contains(&block.doubtful), "{}", block.doubtful);
    assert!(block.margin_deg[120 * 410 + 180].is_nan() && block.margin_deg[120 * 410 + 2].is_nan());
    assert!(block.margin_deg[120 * 410 + 350].is_finite());
    let outside = sunlit_block(&terrain, &eclipse, &part(10.0, 100.0, 5, 5, 0.01), &SunlitOptions::default()).unwrap();
    assert_eq!((outside.in_path, outside.sweeps), (0, 0));
}

/// Totality at 5° to 10° over rough ground: behind a hill the Sun is lost before third contact or never gained.
#[test]
fn when_the_sun_is_lost_agrees_with_the_margins() {
    let (terrain, eclipse) = (rough(41.0, -1.0, 500, 400), eclipse("2026-08-12"));
    let shape = part(40.9, -0.9, 130, 110, 1.0 / 1200.0);
    let options = SunlitOptions { beyond_totality_min: Some(60.0), ..SunlitOptions::default() };
    let block = sunlit_block(&terrain, &eclipse, &shape, &options).unwrap();
    let (mut lost, mut early) = (0, 0);
    for (margin, lost_s) in block.margin_deg.iter().zip(&block.lost_s).filter(|(m, _)| m.is_finite()) {
        if lost_s.is_finite() {
            lost += 1;
            early += u32::from(*lost_s < -60.0);
            // Lost before totality: hidden in it, unless it came out again; lost long after: free in it.
            assert!(*lost_s < 3600.0 + 120.0);
            assert!(*lost_s <= 120.0 || *margin > 0.0, "{lost_s} {margin}");
        }
    }
    assert!(lost > 5000 && early < lost, "{lost} {early}");
}

/// A single cast gives margins that the least ones do not surpass, by more than what runs straight between two casts may be off, and
/// none where totality is over at that instant or has not begun.
#[test]
fn a_single_cast_bounds_the_least_margins() {
    let terrain = rough(41.1, -1.2, 600, 500);
    let eclipse = eclipse("2026-08-12");
    let shape = part(40.95, -1.05, 200, 160, 1.0 / 1200.0);
    let throughout = sunlit_block(&terrain, &eclipse, &shape, &SunlitOptions::default()).unwrap();
    let options = SunlitOptions { casts: Casts::Once, ..SunlitOptions::default() };
    let once = sunlit_block(&terrain, &eclipse, &shape, &options).unwrap();
    assert!(once.sweeps == 1 && throughout.sweeps > 1);
    let both = once.margin_deg.iter().zip(&throughout.margin_deg).filter(|(o, t)| o.is_finite() && t.is_finite());
    let mut above: Vec<f32> = both.map(|(once, least)| once - least).collect();
    assert!(above.len() > 30_000, "{}", above.len());
    above.sort_by(f32::total_cmp);
    assert!(above[0] > -0.1 && above[above.len() / 100] > -0.02, "{} {}", above[0], above[above.len() / 100]);
    assert!(above[above.len() / 2] < 1.0, "{}", above[above.len() / 2]);
    let hidden = |b: &SunlitBlock| b.margin_deg.iter().filter(|m| **m < 0.0).count();
    assert!(hidden(&once) <= hidden(&throughout) && hidden(&once) * 2 > hidden(&throughout));
}

#[test]
fn a_coarse_grid_has_what_is_found_at_the_nearest_samples() {
    const STEP: f64 = 1.0 / 1200.0;
    let terrain = rough(41.0, -1.0, 500, 400);
    let eclipse = eclipse("2026-08-12");
    let area: area::Area = "-0.9,40.8,-0.7,40.9".parse().unwrap();
    let gathered = |spacing_m: Option<f64>| {
        let options = SunlitOptions::default();
        let question = survey::Question { area: Some(area), spacing_m, options, multiple: 1 };
        let grid = survey::Grid::of(&eclipse, &terrain, &question).unwrap();
        let mut margins = vec![f32::NAN; grid.shape.columns as usize * grid.shape.rows as usize];
        survey::survey(&eclipse, &terrain, grid, &question, &crate::progress::Silent, |piece| {
            for (i, line) in piece.margin_deg.chunks(piece.columns as usize).enumerate() {
                let from = (piece.row as usize + i) * grid.shape.columns as usize + piece.column as usize;
                margins[from..from + line.len()].copy_from_slice(line);
            }
            Ok(())
        })
        .unwrap();
        (grid.shape, margins)
    };
    let (samples, fine) = gathered(None);
    for spacing_m in [130.0, 400.0] {
        let (nodes, coarse) = gathered(Some(spacing_m));
        assert!(coarse.iter().all(|m| m.is_finite()), "{spacing_m}");
        for (at, &margin) in coarse.iter().enumerate() {
            let (row, column) = (at / nodes.columns as usize, at % nodes.columns as usize);
            let y = (samples.north_deg - nodes.north_deg + row as f64 * nodes.lat_step_deg) / STEP;
            let x = (nodes.west_deg + column as f64 * nodes.lon_step_deg - samples.west_deg) / STEP;
            // Some of the samples around it, as near as a quarter of the spacing.
            let reach = spacing_m / 92.6 / 4.0 + 0.51;
            let near = |v: f64, count: u32| ((v - reach).ceil().max(0.0) as u32)..=((v + reach) as u32).min(count - 1);
            let found = near(y, samples.rows).any(|r| {
                near(x, samples.columns).any(|c| (fine[(r * samples.columns + c) as usize] - margin).abs() < 2e-3)
            });
            assert!(found, "{spacing_m} {row} {column}: {margin}");
        }
    }
}
