//! Pages as a PDF: tagged for screen readers, with title and language, fonts embedded, text selectable, the same bytes for the same input.
//!
//! Kept to the rules of PDF/UA-1 (ISO 14289-1): every mark is either in the tree of meaning or an artifact, every figure has a description,
//! every glyph its letters.

use chrono::{Datelike, NaiveDate};
use pdf_writer::types::ArtifactType;
use pdf_writer::{Date, Filter, Finish as _, Name, Pdf, Rect, Ref, TextStr};
use resvg::usvg::Transform;
use sha2::{Digest as _, Sha256};

use super::pdf_canvas::{Canvas, RunCluster, Shared, compressed, short};
use super::pdf_structure::Structure;
use super::setting::TextLine;
use super::{Frame, Node, Tag, TypesetError};
use crate::fonts::drawable;
use crate::svg::escape;

/// What a document says of itself.
pub struct About<'a> {
    /// Title.
    pub title: &'a str,
    /// Language of its words, BCP 47.
    pub language: &'a str,
    /// The day that its metadata give as its making.
    pub date: NaiveDate,
}

const MAKER: &str = "noonfall";

/// The document, one page for each frame.
///
/// # Errors
/// [`TypesetError::Font`], where a shipped font cannot be cut down.
pub fn write(pages: &[Frame], about: &About<'_>) -> Result<Vec<u8>, TypesetError> {
    let title = drawable(about.title);
    let mut shared = Shared::new();
    let mut structure = Structure::default();
    let mut contents = Vec::new();
    for page in pages {
        structure.begin_page();
        contents.push(compressed(&content(page, &mut shared, &mut structure)));
    }
    shared.write_resources()?;
    let Shared { mut chunk, mut next, resources, .. } = shared;

    let [catalog, tree, root, info, metadata] = std::array::from_fn(|_| next.bump());
    let page_refs: Vec<Ref> = pages.iter().map(|_| next.bump()).collect();
    let (top, back) = structure.write(root, &page_refs, about.language, &mut chunk, &mut next);

    let mut pdf = Pdf::new();
    pdf.set_version(1, 7);
    let mut all = pdf.catalog(catalog);
    all.pages(tree).metadata(metadata).lang(TextStr(about.language));
    all.mark_info().marked(true).suspects(false);
    all.viewer_preferences().display_doc_title(true);
    all.pair(Name(b"StructTreeRoot"), root);
    all.finish();
    let mut meaning = pdf.indirect(root).start::<pdf_writer::writers::StructTreeRoot<'_>>();
    meaning.child(top).parent_tree_next_key(i32::try_from(back.len()).unwrap_or(i32::MAX));
    let mut parents = meaning.parent_tree();
    let mut numbers = parents.nums();
    for (key, &id) in (0..).zip(&back) {
        numbers.insert(key, id);
    }
    numbers.finish();
    parents.finish();
    meaning.finish();
    pdf.pages(tree).kids(page_refs.iter().copied()).count(i32::try_from(pages.len()).unwrap_or(i32::MAX));
    for ((key, (page, &id)), content) in (0..).zip(pages.iter().zip(&page_refs)).zip(&contents) {
        let content_ref = next.bump();
        let mut out = pdf.page(id);
        out.parent(tree)
            .media_box(Rect::new(0.0, 0.0, short(page.width), short(page.height)))
            .contents(content_ref)
            .struct_parents(key);
        out.pair(Name(b"Resources"), resources);
        out.finish();
        pdf.stream(content_ref, content).filter(Filter::FlateDecode);
    }
    pdf.extend(&chunk);
    let date = Date::new(u16::try_from(about.date.year()).unwrap_or(0))
        .month(about.date.month() as u8)
        .day(about.date.day() as u8)
        .hour(0)
        .minute(0)
        .second(0)
        .utc_offset_hour(0)
        .utc_offset_minute(0);
    pdf.document_info(info)
        .title(TextStr(&title))
        .author(TextStr(MAKER))
        .creator(TextStr(MAKER))
        .producer(TextStr(MAKER))
        .creation_date(date)
        .modified_date(date);
    let packet = metadata_packet(&title, about);
    pdf.metadata(metadata, packet.as_bytes());
    // The identifier is made from what is in the file, so that the same input gives the same.
    let mut digest = Sha256::new();
    digest.update(title.as_bytes());
    digest.update(chunk.as_bytes());
    contents.iter().for_each(|content| digest.update(content));
    let identifier = digest.finalize()[..16].to_vec();
    pdf.set_file_id((identifier.clone(), identifier));
    Ok(pdf.finish())
}

/// Metadata in the form of ISO 16684-1, with the mark of PDF/UA-1.
fn metadata_packet(title: &str, about: &About<'_>) -> String {
    let (title, language, date) = (escape(title), escape(about.language), about.date.format("%Y-%m-%dT00:00:00Z"));
    format!(
        "<?xpacket begin=\"\u{feff}\" id=\"W5M0MpCehiHzreSzNTczkc9d\"?>\
         <x:xmpmeta xmlns:x=\"adobe:ns:meta/\"><rdf:RDF xmlns:rdf=\"http://www.w3.org/1999/02/22-rdf-syntax-ns#\">\
         <rdf:Description rdf:about=\"\" xmlns:dc=\"http://purl.org/dc/elements/1.1/\" xmlns:xmp=\"http://ns.adobe.com/xap/1.0/\" \
         xmlns:pdf=\"http://ns.adobe.com/pdf/1.3/\" xmlns:pdfuaid=\"http://www.aiim.org/pdfua/ns/id/\">\
         <dc:format>application/pdf</dc:format>\
         <dc:title><rdf:Alt><rdf:li xml:lang=\"x-default\">{title}</rdf:li></rdf:Alt></dc:title>\
         <dc:creator><rdf:Seq><rdf:li>{MAKER}</rdf:li></rdf:Seq></dc:creator>\
         <dc:language><rdf:Bag><rdf:li>{language}</rdf:li></rdf:Bag></dc:language>\
         <xmp:CreatorTool>{MAKER}</xmp:CreatorTool><xmp:CreateDate>{date}</xmp:CreateDate><xmp:ModifyDate>{date}</xmp:ModifyDate>\
         <pdf:Producer>{MAKER}</pdf:Producer><pdfuaid:part>1</pdfuaid:part>\
         </rdf:Description></rdf:RDF></x:xmpmeta><?xpacket end=\"r\"?>"
    )
}

/// What the mark that is open belongs to.
#[derive(Clone, Copy, PartialEq)]
enum Open {
    Nothing,
    Artifact,
    Element(usize),
}

struct Writer<'a> {
    canvas: Canvas<'a>,
    structure: &'a mut Structure,
    open: Open,
    page_height: f64,
}

fn content(page: &Frame, shared: &mut Shared, structure: &mut Structure) -> Vec<u8> {
    let mut canvas = Canvas::new(shared);
    // From here on y runs downwards.
    let before = canvas.save(Transform::from_row(1.0, 0.0, 0.0, -1.0, 0.0, short(page.height)));
    let mut writer = Writer { canvas, structure, open: Open::Nothing, page_height: page.height };
    writer.nodes(&page.nodes, [0.0; 2], 1.0, None);
    writer.open(Open::Nothing);
    let mut canvas = writer.canvas;
    canvas.restore(before);
    canvas.content.finish().into_vec()
}

impl Writer<'_> {
    fn nodes(&mut self, nodes: &[Node], at: [f64; 2], scale: f64, owner: Option<usize>) {
        let spot = |p: [f64; 2]| [at[0] + scale * p[0], at[1] + scale * p[1]];
        for node in nodes {
            match node {
                Node::Group { at: shift, scale: own, tag, nodes } => {
                    let (corner, scale) = (spot(*shift), scale * own);
                    let owner = match tag {
                        Some(tag) => Some(self.structure.add(tag.clone(), owner, self.bounds(tag, corner, scale))),
                        None => owner,
                    };
                    self.nodes(nodes, corner, scale, owner);
                }
                Node::Text { at, line } => {
                    self.begin(owner);
                    self.line(line, spot(*at), scale);
                }
                Node::Shape(shape) => {
                    match owner.filter(|&owner| self.structure.is_figure(owner)) {
                        Some(figure) => self.open(Open::Element(figure)),
                        None => self.open(Open::Artifact),
                    }
                    self.canvas.shape(shape, at, scale);
                }
                Node::Picture { at, size, drawing } => {
                    self.begin(owner);
                    self.canvas.drawing(&drawing.tree, spot(*at), size.map(|side| side * scale));
                }
            }
        }
    }

    /// Where a figure stands, in the coordinates of the page.
    fn bounds(&self, tag: &Tag, corner: [f64; 2], scale: f64) -> Option<Rect> {
        let Tag::Figure { size, .. } = tag else { return None };
        let (left, top) = (corner[0], self.page_height - corner[1]);
        Some(Rect::new(short(left), short(top - scale * size[1]), short(left + scale * size[0]), short(top)))
    }

    /// Opens a mark for what an element says; words that belong to none become a paragraph.
    fn begin(&mut self, owner: Option<usize>) {
        let element = match owner {
            Some(owner) if self.structure.holds_content(owner) => owner,
            other => self.structure.add(Tag::Paragraph, other, None),
        };
        self.open(Open::Element(element));
    }

    fn open(&mut self, wanted: Open) {
        if self.open == wanted {
            return;
        }
        if self.open != Open::Nothing {
            self.canvas.content.end_marked_content();
        }
        self.open = wanted;
        match wanted {
            Open::Nothing => {}
            Open::Artifact => {
                let mut mark = self.canvas.content.begin_marked_content_with_properties(Name(b"Artifact"));
                mark.properties().artifact().kind(ArtifactType::Layout);
            }
            Open::Element(element) => {
                let (role, number) = self.structure.mark(element);
                let mut mark = self.canvas.content.begin_marked_content_with_properties(role.to_name());
                mark.properties().identify(number);
            }
        }
    }

    fn line(&mut self, line: &TextLine, at: [f64; 2], scale: f64) {
        let size = line.size * scale;
        let clusters: Vec<_> = line.clusters().collect();
        let mut x = 0.0;
        for run in clusters.chunk_by(|a, b| a.face == b.face && a.colour == b.colour) {
            let (face, colour) = (run[0].face, run[0].colour);
            self.canvas.fill_colour(colour);
            let mut within = 0.0;
            let letters = run.iter().map(|cluster| {
                let here = within;
                within += cluster.advance;
                RunCluster { x: here, y: 0.0, text: &cluster.text, glyphs: &cluster.glyphs }
            });
            let letters: Vec<RunCluster<'_>> = letters.collect();
            let (size, left, baseline) = (size as f32, (at[0] + x * size) as f32, at[1] as f32);
            self.canvas.run(face, Transform::from_row(size, 0.0, 0.0, -size, left, baseline), letters);
            x += within;
        }
    }
}
