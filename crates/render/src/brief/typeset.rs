//! The typesetting library as a closed room: our template, our fonts, the page's data, and nothing else.
//!
//! The library asks a [`World`] for every file it wants. This one holds a handful of named byte strings in memory and answers "not found" to
//! everything else, so a template can reach neither the disk nor the network, and gives no date, so no page depends on the clock.
//! What the user wrote reaches the page only as JSON data and is placed as text, never read as markup.

use std::collections::BTreeMap;
use std::path::PathBuf;
use std::sync::OnceLock;

use typst::diag::{FileError, FileResult, SourceDiagnostic};
use typst::foundations::{Bytes, Datetime, Duration};
use typst::syntax::{FileId, RootedPath, Source, VirtualPath, VirtualRoot};
use typst::text::{Font, FontBook};
use typst::utils::LazyHash;
use typst::{Library, LibraryExt, World};
use typst_layout::PagedDocument;

/// Why a page could not be made.
#[derive(Debug, thiserror::Error)]
pub enum TypesetError {
    /// The typesetting library refused the page, with its reasons.
    #[error("the page could not be set: {0}")]
    Refused(String),
    /// The page's data could not be written as JSON.
    #[error("the page's data could not be written: {0}")]
    Data(#[from] serde_json::Error),
    /// The content did not keep to the number of pages asked for.
    #[error("{found} pages were set where {wanted} were wanted")]
    Pages {
        /// Pages that came out.
        found: usize,
        /// Pages asked for.
        wanted: usize,
    },
    /// A picture handed in is not a readable SVG document.
    #[error("the {which} is not a readable SVG document: {reason}")]
    Picture {
        /// Which picture.
        which: String,
        /// Why.
        reason: String,
    },
    /// A raster image could not be encoded.
    #[error("the image could not be encoded: {0}")]
    Image(String),
}

impl TypesetError {
    pub(crate) fn refused(diagnostics: impl IntoIterator<Item = SourceDiagnostic>) -> TypesetError {
        let reasons: Vec<String> = diagnostics.into_iter().map(|one| one.message.to_string()).collect();
        TypesetError::Refused(reasons.join("; "))
    }
}

const FONT_FILES: [&[u8]; 7] = [
    include_bytes!("../../../../data/fonts/NotoSans-Regular.ttf"),
    include_bytes!("../../../../data/fonts/NotoSans-Bold.ttf"),
    include_bytes!("../../../../data/fonts/NotoSans-Italic.ttf"),
    include_bytes!("../../../../data/fonts/NotoSansMath-Regular.ttf"),
    include_bytes!("../../../../data/fonts/NotoSansArabic-Regular.ttf"),
    include_bytes!("../../../../data/fonts/NotoSansHebrew-Regular.ttf"),
    include_bytes!("../../../../data/fonts/DejaVuSans.ttf"),
];

struct Shelf {
    library: LazyHash<Library>,
    book: LazyHash<FontBook>,
    fonts: Vec<Font>,
}

/// Fonts and library, read once a process.
fn shelf() -> &'static Shelf {
    static SHELF: OnceLock<Shelf> = OnceLock::new();
    SHELF.get_or_init(|| {
        let fonts: Vec<Font> = FONT_FILES.into_iter().flat_map(|bytes| Font::iter(Bytes::new(bytes))).collect();
        Shelf { library: LazyHash::new(Library::default()), book: LazyHash::new(FontBook::from_fonts(&fonts)), fonts }
    })
}

/// Text with every character that none of the shipped fonts can draw replaced by a hollow box, so that a page always passes the check that
/// no letter is missing (PDF/UA-1) and nobody wonders about an empty gap. Joiners and variation selectors beside such a character go with it.
/// What is plain ASCII stays as it is, so that a drawing's markup comes through whole.
pub fn drawable(text: &str) -> String {
    let shelf = shelf();
    let covered = |c: char| shelf.fonts.iter().any(|font| font.info().coverage.contains(c as u32));
    let mut out = String::with_capacity(text.len());
    for c in text.chars() {
        match c {
            '\u{200C}' | '\u{200D}' | '\u{FE00}'..='\u{FE0F}' | '\u{1F3FB}'..='\u{1F3FF}'
                if !covered(c) || out.ends_with('□') => {}
            c if c.is_ascii() || covered(c) => out.push(c),
            _ if out.ends_with('□') => {}
            _ => out.push('□'),
        }
    }
    out
}

/// One template with its files.
pub(crate) struct Room {
    main: FileId,
    files: BTreeMap<String, Bytes>,
}

impl Room {
    /// A room with a template and the files it may read, by name.
    pub(crate) fn new(
        template: &str,
        files: impl IntoIterator<Item = (String, Vec<u8>)>,
    ) -> Result<Room, TypesetError> {
        let mut files: BTreeMap<String, Bytes> =
            files.into_iter().map(|(name, bytes)| (name, Bytes::new(bytes))).collect();
        files.insert("main.typ".into(), Bytes::from_string(template.to_owned()));
        let path = VirtualPath::new("/main.typ").map_err(|error| TypesetError::Refused(format!("{error:?}")))?;
        Ok(Room { main: RootedPath::new(VirtualRoot::Project, path).intern(), files })
    }

    /// Sets the pages.
    pub(crate) fn set(&self) -> Result<PagedDocument, TypesetError> {
        let document = typst::compile::<PagedDocument>(self).output.map_err(TypesetError::refused);
        // The library remembers what it laid out for the next call; a program that sets many pages must not grow for ever.
        typst::comemo::evict(4);
        document
    }
}

impl World for Room {
    fn library(&self) -> &LazyHash<Library> {
        &shelf().library
    }

    fn book(&self) -> &LazyHash<FontBook> {
        &shelf().book
    }

    fn main(&self) -> FileId {
        self.main
    }

    fn source(&self, id: FileId) -> FileResult<Source> {
        let bytes = self.file(id)?;
        let text = std::str::from_utf8(&bytes).map_err(|_| FileError::InvalidUtf8)?;
        Ok(Source::new(id, text.to_owned()))
    }

    fn file(&self, id: FileId) -> FileResult<Bytes> {
        let path = id.get();
        let name = path.vpath().get_without_slash();
        match path.root() {
            VirtualRoot::Project => {
                self.files.get(name).cloned().ok_or_else(|| FileError::NotFound(PathBuf::from(name)))
            }
            VirtualRoot::Package(_) => Err(FileError::AccessDenied),
        }
    }

    fn font(&self, index: usize) -> Option<Font> {
        shelf().fonts.get(index).cloned()
    }

    fn today(&self, _offset: Option<Duration>) -> Option<Datetime> {
        None
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_template_cannot_read_the_disk() {
        let room = Room::new("#read(\"/etc/hostname\")", []).expect("room");
        assert!(room.set().is_err());
    }

    #[test]
    fn a_template_cannot_tell_the_time() {
        let room = Room::new("#datetime.today().display()", []).expect("room");
        assert!(room.set().is_err());
    }

    #[test]
    fn letters_without_a_glyph_become_one_box() {
        assert_eq!(drawable("Bar 🌞🌞 \u{1F468}\u{200D}\u{1F469} 日本"), "Bar □ □ □");
        assert_eq!(drawable("אבג عربي Ωж"), "אבג عربي Ωж");
    }
}
