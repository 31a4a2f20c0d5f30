//! The fonts of a PDF: which glyphs are used, under which codes, for which letters; and the subsets that are embedded.

use std::collections::BTreeMap;

use pdf_writer::types::{CidFontType, FontFlags, SystemInfo, UnicodeCmap};
use pdf_writer::{Chunk, Filter, Finish as _, Name, Rect, Ref, Str};
use sha2::{Digest as _, Sha256};

use super::TypesetError;
use super::pdf_canvas::{compressed, name};
use crate::fonts;

/// What is used of one face. Codes are numbers in the subset; 0 is the missing glyph.
#[derive(Default)]
struct Used {
    codes: BTreeMap<u16, u16>,
    glyphs: Vec<u16>,
    letters: Vec<String>,
}

/// What is used of all faces, by their places in [`fonts::all_faces`].
#[derive(Default)]
pub(super) struct PdfFonts(BTreeMap<usize, Used>);

/// The ordering of codes that are glyph numbers.
const IDENTITY: SystemInfo<'static> = SystemInfo { registry: Str(b"Adobe"), ordering: Str(b"Identity"), supplement: 0 };

/// Advance of a glyph, thousandths of an em, as written into the file.
pub(super) fn advance(place: usize, glyph: u16) -> f32 {
    let width = fonts::face(place).and_then(|face| {
        let advance = face.glyph_hor_advance(rustybuzz::ttf_parser::GlyphId(glyph))?;
        Some(f64::from(advance) * 1000.0 / f64::from(face.units_per_em().max(1)))
    });
    (width.unwrap_or(0.0) * 100.0).round() as f32 / 100.0
}

/// Name of a face in the resources.
pub(super) fn resource(place: usize) -> Vec<u8> {
    name('F', place)
}

impl PdfFonts {
    /// The code of a glyph, and whether it stands for just these letters wherever it is used.
    pub(super) fn code(&mut self, place: usize, glyph: u16, letters: &str) -> (u16, bool) {
        let used = self.0.entry(place).or_insert_with(|| Used {
            codes: BTreeMap::from([(0, 0)]),
            glyphs: vec![0],
            letters: vec!["\u{25A1}".into()],
        });
        let code = *used.codes.entry(glyph).or_insert_with(|| {
            used.glyphs.push(glyph);
            used.letters.push(letters.to_owned());
            // A face has at most 65 535 glyphs.
            (used.glyphs.len() - 1) as u16
        });
        (code, used.letters[usize::from(code)] == letters)
    }

    /// Writes the fonts; gives the resource name and reference of each.
    pub(super) fn write(&self, chunk: &mut Chunk, next: &mut Ref) -> Result<Vec<(Vec<u8>, Ref)>, TypesetError> {
        self.0.iter().map(|(&place, used)| Ok((resource(place), used.write(place, chunk, next)?))).collect()
    }
}

impl Used {
    fn write(&self, place: usize, chunk: &mut Chunk, next: &mut Ref) -> Result<Ref, TypesetError> {
        let face = fonts::face(place).ok_or_else(|| TypesetError::Font(place.to_string()))?;
        let own_name = face
            .names()
            .into_iter()
            .find(|record| record.name_id == rustybuzz::ttf_parser::name_id::POST_SCRIPT_NAME && record.is_unicode())
            .and_then(|record| record.to_string())
            .unwrap_or_else(|| format!("Face{place}"));
        let file = fonts::subset_glyphs(place, &self.glyphs).ok_or_else(|| TypesetError::Font(own_name.clone()))?;
        // Six capitals that tell subsets apart (ISO 32000-1, section 9.6.4), from what is in the subset.
        let tag: String = Sha256::digest(&file).iter().take(6).map(|byte| char::from(b'A' + byte % 26)).collect();
        let base_name = format!("{tag}+{own_name}");
        let [font, descendant, descriptor, file_ref, to_unicode] = std::array::from_fn(|_| next.bump());

        chunk
            .type0_font(font)
            .base_font(Name(base_name.as_bytes()))
            .encoding_predefined(Name(b"Identity-H"))
            .descendant_font(descendant)
            .to_unicode(to_unicode);

        let mut cid = chunk.cid_font(descendant);
        cid.subtype(CidFontType::Type2)
            .base_font(Name(base_name.as_bytes()))
            .system_info(IDENTITY)
            .font_descriptor(descriptor)
            .default_width(0.0)
            .cid_to_gid_map_predefined(Name(b"Identity"));
        cid.widths().consecutive(0, self.glyphs.iter().map(|&glyph| advance(place, glyph)));
        cid.finish();

        let scale = 1000.0 / face.units_per_em().max(1) as f32;
        let size = |units: i16| f32::from(units) * scale;
        let bounds = face.global_bounding_box();
        let flags = FontFlags::SYMBOLIC | if face.is_italic() { FontFlags::ITALIC } else { FontFlags::empty() };
        chunk
            .font_descriptor(descriptor)
            .name(Name(base_name.as_bytes()))
            .flags(flags)
            .bbox(Rect::new(size(bounds.x_min), size(bounds.y_min), size(bounds.x_max), size(bounds.y_max)))
            .italic_angle(face.italic_angle())
            .ascent(size(face.ascender()))
            .descent(size(face.descender()))
            .cap_height(size(face.capital_height().unwrap_or(714)))
            // The file format does not know the stems; this is the usual guess from the weight.
            .stem_v(10.0 + 0.244 * (f32::from(face.weight().to_number()) - 50.0))
            .font_file2(file_ref);

        let deflated = compressed(&file);
        let mut stream = chunk.stream(file_ref, &deflated);
        stream.filter(Filter::FlateDecode);
        stream.pair(Name(b"Length1"), i32::try_from(file.len()).unwrap_or(i32::MAX));
        stream.finish();

        let mut map = UnicodeCmap::new(Name(b"Letters"), IDENTITY);
        for (code, letters) in self.letters.iter().enumerate() {
            map.pair_with_multiple(code as u16, letters.chars());
        }
        let deflated = compressed(&map.finish());
        chunk.cmap(to_unicode, &deflated).filter(Filter::FlateDecode);
        Ok(font)
    }
}
