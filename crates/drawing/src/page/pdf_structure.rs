//! The tree of meaning of a PDF: what each part of a page is, in order of reading (ISO 32000-1 section 14.7, ISO 14289-1).

use pdf_writer::types::{ListNumbering, StructRole, TableHeaderScope};
use pdf_writer::{Chunk, Finish as _, Rect, Ref, TextStr};

use super::Tag;

/// What an element holds: another element, or a marked part of a page.
#[derive(Clone, Copy)]
enum Kid {
    Element(usize),
    Marked(i32),
}

struct Element {
    tag: Tag,
    parent: Option<usize>,
    page: usize,
    kids: Vec<Kid>,
    bounds: Option<Rect>,
}

/// The tree while it grows.
#[derive(Default)]
pub(super) struct Structure {
    elements: Vec<Element>,
    /// Of each page, the element that each marked part belongs to.
    owners: Vec<Vec<usize>>,
}

impl Structure {
    pub(super) fn begin_page(&mut self) {
        self.owners.push(Vec::new());
    }

    /// Adds an element under a parent (or at the top), on the page begun last.
    pub(super) fn add(&mut self, tag: Tag, parent: Option<usize>, bounds: Option<Rect>) -> usize {
        let number = self.elements.len();
        let page = self.owners.len().saturating_sub(1);
        self.elements.push(Element { tag, parent, page, kids: Vec::new(), bounds });
        if let Some(parent) = parent {
            self.elements[parent].kids.push(Kid::Element(number));
        }
        number
    }

    /// Whether an element may hold words and drawings itself.
    pub(super) fn holds_content(&self, element: usize) -> bool {
        !matches!(self.elements[element].tag, Tag::Section | Tag::List | Tag::ListItem | Tag::Table | Tag::Row)
    }

    pub(super) fn is_figure(&self, element: usize) -> bool {
        matches!(self.elements[element].tag, Tag::Figure { .. })
    }

    /// Name and number for the next marked part of the page, which belongs to an element.
    pub(super) fn mark(&mut self, element: usize) -> (StructRole, i32) {
        let owners = match self.owners.last_mut() {
            Some(owners) => owners,
            None => {
                self.owners.push(Vec::new());
                &mut self.owners[0]
            }
        };
        let number = i32::try_from(owners.len()).unwrap_or(i32::MAX);
        owners.push(element);
        self.elements[element].kids.push(Kid::Marked(number));
        (role(&self.elements[element].tag), number)
    }

    /// Writes the tree below its root; gives the document's element and, for each page, the array that leads back to the elements.
    pub(super) fn write(
        &self,
        root: Ref,
        pages: &[Ref],
        language: &str,
        chunk: &mut Chunk,
        next: &mut Ref,
    ) -> (Ref, Vec<Ref>) {
        let document = next.bump();
        let refs: Vec<Ref> = self.elements.iter().map(|_| next.bump()).collect();
        let mut top = chunk.struct_element(document);
        top.kind(StructRole::Document).parent(root).lang(TextStr(language));
        let mut children = top.children();
        for (element, &id) in self.elements.iter().zip(&refs) {
            if element.parent.is_none() {
                children.struct_element(id);
            }
        }
        children.finish();
        top.finish();
        for (element, &id) in self.elements.iter().zip(&refs) {
            let mut out = chunk.struct_element(id);
            out.kind(role(&element.tag));
            out.parent(element.parent.map_or(document, |parent| refs[parent]));
            out.page(pages[element.page]);
            if let Tag::Figure { alt, .. } = &element.tag {
                out.alt(TextStr(alt));
            }
            match element.tag {
                Tag::Figure { .. } => {
                    if let Some(bounds) = element.bounds {
                        out.attributes().push().layout().bbox(bounds);
                    }
                }
                Tag::ColumnHeader => {
                    out.attributes().push().table().scope(TableHeaderScope::Column);
                }
                Tag::RowHeader => {
                    out.attributes().push().table().scope(TableHeaderScope::Row);
                }
                Tag::List => {
                    out.attributes().push().list().list_numbering(ListNumbering::Square);
                }
                _ => {}
            }
            let mut children = out.children();
            for kid in &element.kids {
                match *kid {
                    Kid::Element(child) => children.struct_element(refs[child]),
                    Kid::Marked(number) => children.marked_content_id(number),
                };
            }
            children.finish();
            out.finish();
        }
        let mut back = Vec::new();
        for owners in &self.owners {
            let id = next.bump();
            chunk.indirect(id).array().items(owners.iter().map(|&owner| refs[owner]));
            back.push(id);
        }
        (document, back)
    }
}

fn role(tag: &Tag) -> StructRole {
    match tag {
        Tag::Section => StructRole::Sect,
        Tag::Heading(1) => StructRole::H1,
        Tag::Heading(_) => StructRole::H2,
        Tag::Paragraph => StructRole::P,
        Tag::List => StructRole::L,
        Tag::ListItem => StructRole::LI,
        Tag::Label => StructRole::Lbl,
        Tag::Body => StructRole::LBody,
        Tag::Table => StructRole::Table,
        Tag::Row => StructRole::TR,
        Tag::ColumnHeader | Tag::RowHeader => StructRole::TH,
        Tag::Cell => StructRole::TD,
        Tag::Figure { .. } => StructRole::Figure,
    }
}
