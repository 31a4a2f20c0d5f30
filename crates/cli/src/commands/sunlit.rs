//! `noonfall sunlit`.

use crate::failure::Failure;
use crate::options::{SunlitCommand, SunlitFormat, has_extension};
use crate::output::{self, Batch};
use crate::progress::Meter;
use noonfall_drawing::raster;
use noonfall_render::sunlit_ground::{self, MULTIPLE, Rasters};
use noonfall_scoring::fault::Fault;
use noonfall_scoring::input::terrain::Terrain;
use noonfall_scoring::outlook::skyline::RayOptions;
use noonfall_scoring::outlook::sunlit::SunlitOptions;
use noonfall_scoring::outlook::sunlit::survey::Question;
use noonfall_words::sunlit::{self, WHAT};
use std::io::Write;
use std::path::{Path, PathBuf};

/// Pixels to a unit of the picture.
const PICTURE_SCALE: f64 = 2.0;

/// Looks at an area and writes its rasters and pictures.
pub fn run(options: &SunlitCommand) -> Result<(), Failure> {
    let files = names(options)?;
    let kernel = options.common.kernel()?;
    let eclipse = options.common.eclipse(kernel.get(), options.date)?;
    let terrain = Terrain::open(&options.terrain)?;
    let mut ray = RayOptions::default();
    ray.eye_height_m = options.eye_height.unwrap_or(ray.eye_height_m);
    let question = Question {
        area: options.area,
        spacing_m: options.spacing,
        options: SunlitOptions { ray, beyond_totality_min: options.around, ..SunlitOptions::default() },
        multiple: MULTIPLE,
    };
    output::writable(files.iter().map(|(path, _)| path.as_path()))?;
    let meter = Meter::new(options.common.quiet)?;
    let (survey, rasters) = sunlit_ground::rasters(&eclipse, &terrain, &question, &meter)?;
    meter.finish();
    // Its heights are no longer needed, and pictures take as much memory again.
    drop(terrain);
    let svg = sunlit_ground::picture(&eclipse, &survey)?;
    write(&files, rasters, &svg)?;
    match options.format.unwrap_or(if output::to_terminal() { SunlitFormat::Table } else { SunlitFormat::Json }) {
        SunlitFormat::Table => {
            let lines = sunlit::page(&eclipse, &survey, &files);
            output::data(&lines.iter().map(|words| output::screen().line(words)).collect::<String>())
        }
        format => {
            for warning in survey.warnings.iter().chain(&survey.terrain.warnings) {
                output::note(options.common.quiet, warning);
            }
            output::data(&sunlit_ground::json(&eclipse, &survey, &files, format == SunlitFormat::Json))
        }
    }
}

/// Writes the files; the picture becomes pixels while the rasters go to the disk.
fn write(files: &[(PathBuf, &'static str)], rasters: Rasters, svg: &str) -> Result<(), Failure> {
    let [raster_files @ .., (svg_path, _), (png_path, _)] = files else { return Ok(()) };
    std::thread::scope(|scope| {
        let png = scope.spawn(|| raster::png(svg, PICTURE_SCALE));
        let mut batch = Batch::default();
        let times = rasters.times.into_iter().flat_map(|(lost, gained)| [lost, gained]);
        for ((path, _), writer) in raster_files.iter().zip(std::iter::once(rasters.margin).chain(times)) {
            batch.write(path, move |file| writer.finish(file));
        }
        batch.add(svg_path, svg);
        batch.write(png_path, move |file| {
            let drawn = png.join().map_err(|_| std::io::Error::other("it could not be drawn"))?;
            file.write_all(&drawn.map_err(std::io::Error::other)?)
        });
        batch.commit()
    })
}

/// The files that will be written and what they are: rasters first, pictures last.
fn names(options: &SunlitCommand) -> Result<Vec<(PathBuf, &'static str)>, Failure> {
    let out = &options.out;
    let shown = out.display().to_string();
    if !["tif", "tiff"].iter().any(|e| has_extension(out, e)) {
        let right = "name a GeoTIFF that ends in .tif";
        return Err(Fault::of_file(shown, "its ending is not that of a GeoTIFF", right).into());
    }
    // Rasters of degrees among the elevation files would be read as elevation the next time.
    let real = |path: &Path| path.canonicalize().ok();
    let folder = out.parent().filter(|p| !p.as_os_str().is_empty()).unwrap_or(Path::new("."));
    if let (Some(folder), Some(terrain)) = (real(folder), real(&options.terrain))
        && (folder.starts_with(&terrain) || real(out).is_some_and(|out| out == terrain))
    {
        let wrong = "lies among the elevation files, and would be read as one of them the next time";
        return Err(Fault::of_file(shown, wrong, "name a file in another folder").into());
    }
    let stem = out.file_stem().unwrap_or_default().to_string_lossy();
    let beside = |name: String| out.with_file_name(name);
    let mut files = vec![(out.clone(), WHAT[0])];
    if options.around.is_some() {
        files.push((beside(format!("{stem}-lost.tif")), WHAT[1]));
        files.push((beside(format!("{stem}-gained.tif")), WHAT[2]));
    }
    files.push((beside(format!("{stem}.svg")), WHAT[3]));
    files.push((beside(format!("{stem}.png")), WHAT[4]));
    Ok(files)
}
