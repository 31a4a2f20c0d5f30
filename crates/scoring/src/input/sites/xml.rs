//! XML of candidates: opened safely, lines counted, children found by name whatever the namespace.

use roxmltree::{Document, Node, ParsingOptions};

use crate::fault::Fault;

/// Elements and texts in one file at most: 100 000 placemarks with thirty fields each.
const MOST_NODES: u32 = 20_000_000;

/// Whether the outermost element of an XML text has this name.
pub(super) fn root_is(text: &str, name: &str) -> bool {
    root(text).is_some_and(|r| r.rsplit(':').next().is_some_and(|r| r.eq_ignore_ascii_case(name)))
}

/// The name of the outermost element, found without reading the whole.
fn root(text: &str) -> Option<&str> {
    let mut rest = text;
    loop {
        rest = &rest[rest.find('<')? + 1..];
        if rest.starts_with("!--") {
            rest = &rest[rest.find("-->")? + 3..];
        } else if !rest.starts_with(['?', '!']) {
            let end = rest.find(|c: char| c.is_whitespace() || c == '>' || c == '/').unwrap_or(rest.len());
            return Some(&rest[..end]);
        }
    }
}

/// The fault of an XML file that is neither KML nor GPX.
pub(super) fn unknown(file: &str, text: &str) -> Fault {
    let wrong = match root(text) {
        Some(root) => {
            format!("is XML of another kind (its outermost element is {})", root.chars().take(40).collect::<String>())
        }
        None => "is no readable XML".to_owned(),
    };
    Fault::of_file(file, wrong, "give a table, GeoJSON points, KML, KMZ or GPX")
}

/// Opens an XML text. Document types, and with them entities of their own, are refused by the library.
///
/// # Errors
/// One fault with the line.
pub(super) fn open<'t>(file: &str, text: &'t str) -> Result<Document<'t>, Fault> {
    let options = ParsingOptions { allow_dtd: false, nodes_limit: MOST_NODES, ..ParsingOptions::default() };
    Document::parse_with_options(text.trim_start_matches('\u{feff}'), options).map_err(|e| Fault {
        line: Some(u64::from(e.pos().row)),
        ..Fault::of_file(file, format!("is not readable XML ({e})"), "save it again, it may have been cut short")
    })
}

/// The first child element of a name.
pub(super) fn child<'a, 't>(node: Node<'a, 't>, name: &str) -> Option<Node<'a, 't>> {
    node.children().find(|c| c.is_element() && c.tag_name().name() == name)
}

/// The trimmed text of a child element; `None` where there is none or it is empty.
pub(super) fn text_of<'a>(node: Node<'a, '_>, name: &str) -> Option<&'a str> {
    child(node, name).and_then(|c| c.text()).map(str::trim).filter(|t| !t.is_empty())
}

/// Counts lines of nodes that come in the order of the document.
pub(super) struct LineCount<'t> {
    text: &'t str,
    at: usize,
    line: u64,
}

impl<'t> LineCount<'t> {
    pub fn of(document: &Document<'t>) -> LineCount<'t> {
        LineCount { text: document.input_text(), at: 0, line: 1 }
    }

    /// The line of a node.
    pub fn line(&mut self, node: Node<'_, '_>) -> u64 {
        let start = node.range().start;
        if let Some(passed) = self.text.as_bytes().get(self.at..start) {
            self.line += passed.iter().filter(|&&b| b == b'\n').count() as u64;
            self.at = start;
        }
        self.line
    }
}
