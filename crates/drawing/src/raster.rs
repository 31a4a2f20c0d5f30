//! From SVG to PNG, with the shipped fonts only, so that a picture is the same on every machine.

use std::sync::{Arc, OnceLock};

use resvg::{tiny_skia, usvg};

use crate::fonts;

/// Why a drawing could not be turned into a picture.
#[derive(Clone, Debug, PartialEq, Eq, thiserror::Error)]
pub enum RasterError {
    /// The drawing does not parse.
    #[error("the drawing is not valid SVG: {0}")]
    Svg(String),
    /// The picture would have no or too many pixels.
    #[error(
        "a picture of {width} by {height} pixels cannot be made; choose a scale that gives 1 to 20000 on each side"
    )]
    Size {
        /// Width asked for.
        width: u64,
        /// Height asked for.
        height: u64,
    },
    /// The PNG encoder failed.
    #[error("the picture could not be encoded as PNG: {0}")]
    Encode(String),
}

/// The shipped faces for reading drawings, and the identifier of each in the order of [`fonts::all_faces`].
fn database() -> &'static (Arc<usvg::fontdb::Database>, Vec<usvg::fontdb::ID>) {
    static FONTS: OnceLock<(Arc<usvg::fontdb::Database>, Vec<usvg::fontdb::ID>)> = OnceLock::new();
    FONTS.get_or_init(|| {
        let mut database = usvg::fontdb::Database::new();
        let load = |face: &'static [u8]| database.load_font_source(usvg::fontdb::Source::Binary(Arc::new(face)));
        let identifiers = fonts::all_faces().into_iter().flat_map(load).collect();
        database.set_sans_serif_family(fonts::FAMILY);
        (Arc::new(database), identifiers)
    })
}

/// How drawings are read: with the shipped fonts only.
pub(crate) fn options() -> usvg::Options<'static> {
    let (fontdb, _) = database();
    usvg::Options { fontdb: Arc::clone(fontdb), font_family: fonts::FAMILY.to_owned(), ..usvg::Options::default() }
}

/// The place in [`fonts::all_faces`] of a face of a drawing that was read with [`options`].
pub(crate) fn face_place(identifier: usvg::fontdb::ID) -> Option<usize> {
    database().1.iter().position(|known| *known == identifier)
}

/// Renders a drawing to PNG; `scale` is pixels to one drawing unit.
///
/// # Errors
/// [`RasterError`] if the drawing does not parse or the picture's size is out of range.
pub fn png(svg: &str, scale: f64) -> Result<Vec<u8>, RasterError> {
    let tree = usvg::Tree::from_str(svg, &options()).map_err(|e| RasterError::Svg(e.to_string()))?;
    let size = |v: f32| (f64::from(v) * scale).round().max(0.0) as u64;
    let (width, height) = (size(tree.size().width()), size(tree.size().height()));
    let refused = RasterError::Size { width, height };
    if !(1..=20_000).contains(&width) || !(1..=20_000).contains(&height) {
        return Err(refused);
    }
    let mut pixels = tiny_skia::Pixmap::new(width as u32, height as u32).ok_or(refused)?;
    pixels.fill(tiny_skia::Color::WHITE);
    let scale = scale as f32;
    resvg::render(&tree, tiny_skia::Transform::from_scale(scale, scale), &mut pixels.as_mut());
    encoded(&pixels).map_err(|e| RasterError::Encode(e.to_string()))
}

/// A picture as PNG. On the white it was drawn on it is opaque: three bytes a pixel.
fn encoded(pixels: &tiny_skia::Pixmap) -> Result<Vec<u8>, png::EncodingError> {
    let mut bytes = Vec::new();
    let mut encoder = png::Encoder::new(&mut bytes, pixels.width(), pixels.height());
    encoder.set_color(png::ColorType::Rgb);
    encoder.set_depth(png::BitDepth::Eight);
    // Drawings have more in common with what stands far away in them than with the next pixel: without filters the demo's
    // maps are a fifth smaller, and level 4 takes a third of the time of level 6 for a twentieth more.
    encoder.set_filter(png::Filter::NoFilter);
    encoder.set_deflate_compression(png::DeflateCompression::Level(4));
    let colours: Vec<u8> = pixels.pixels().iter().flat_map(|p| [p.red(), p.green(), p.blue()]).collect();
    let mut writer = encoder.write_header()?;
    writer.write_image_data(&colours)?;
    writer.finish()?;
    Ok(bytes)
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn text_is_drawn_with_the_shipped_fonts() {
        let svg = "<svg xmlns='http://www.w3.org/2000/svg' width='60' height='20'><text x='2' y='15' font-size='14'>Sun</text></svg>";
        let picture = png(svg, 2.0).expect("a picture");
        let decoded = tiny_skia::Pixmap::decode_png(&picture).expect("a PNG");
        assert_eq!((decoded.width(), decoded.height()), (120, 40));
        assert!(decoded.pixels().iter().filter(|p| p.red() < 100).count() > 60);
    }

    #[test]
    fn bad_drawings_and_sizes_are_refused() {
        assert!(matches!(png("<svg", 1.0), Err(RasterError::Svg(_))));
        let svg = "<svg xmlns='http://www.w3.org/2000/svg' width='60' height='20'/>";
        for scale in [0.0, -1.0, f64::NAN, 1e9] {
            assert!(matches!(png(svg, scale), Err(RasterError::Size { .. })), "{scale}");
        }
    }
}
