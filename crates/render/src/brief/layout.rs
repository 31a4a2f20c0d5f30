//! Where the words of a brief stand: the parts of the page from top to bottom, at a unit of type `u` (points to a nominal point).
//!
//! The words come from [`BriefModel`]; the few that belong to the page's own drawings and blocks from [`words`].

use super::drawings;
use noonfall_drawing::page::setting::{Piece, Setter};
use noonfall_drawing::page::{Colour, Drawing, Frame, Node, Pen, Shape, Tag};
use noonfall_drawing::palette;
use noonfall_words::brief::{BriefModel, Picture, headings as words};

/// One ink on white, one strong hue kept for totality (the same as on the maps); every state is also told by word and shape.
pub(super) struct Inks {
    pub(super) ink: Colour,
    pub(super) quiet: Colour,
    pub(super) rule: Colour,
    pub(super) shade: Colour,
    pub(super) totality: Colour,
}

impl Inks {
    pub(super) fn new() -> Inks {
        Inks {
            ink: Colour::hex(palette::INK),
            quiet: Colour::hex(palette::QUIET_INK),
            rule: Colour::hex(palette::COAST),
            shade: Colour::hex(palette::SHADE),
            totality: Colour::hex(palette::TOTALITY),
        }
    }
}

/// A page being laid out.
pub(super) struct Layout<'a> {
    pub(super) page: &'a BriefModel,
    pub(super) setter: &'a Setter,
    pub(super) inks: Inks,
    /// Map and sky, read.
    pub(super) map: Option<Drawing>,
    pub(super) sky: Option<Drawing>,
    /// The Moon's edge, read.
    pub(super) edge: Option<Drawing>,
    /// Width between the margins.
    pub(super) width: f64,
}

const MM: f64 = 72.0 / 25.4;

impl Layout<'_> {
    pub(super) fn plain(&self, text: &str) -> Piece {
        Piece::new(text, false, self.inks.ink)
    }

    pub(super) fn strong(&self, text: &str) -> Piece {
        Piece::new(text, true, self.inks.ink)
    }

    pub(super) fn quiet(&self, text: &str) -> Piece {
        Piece::new(text, false, self.inks.quiet)
    }

    fn rule(&self, weight: f64, colour: Colour) -> Frame {
        let mut frame = Frame::empty(self.width, 0.0);
        frame.draw(Shape::polyline(&[[0.0, 0.0], [self.width, 0.0]], Pen::new(weight, colour)));
        frame
    }

    fn section(&self, title: &str, u: f64, body: Frame) -> Frame {
        let heading = self.setter.line(&[self.strong(title)], 9.2 * u).tagged(Tag::Heading(2));
        Frame::stack(5.2 * u, [heading, body])
    }

    /// The parts of the page from top to bottom, with the pictures in a row of a given height.
    pub(super) fn parts(&self, u: f64, pictures: f64) -> Vec<Frame> {
        // What forbids the place is read before its name.
        let mut parts: Vec<Frame> = self.rejection(u).into_iter().collect();
        parts.push(self.head(u));
        parts.extend([self.headline(u), self.filters(u)]);
        parts.extend(self.pictures(u, pictures));
        parts.push(self.lists(u));
        parts.push(self.advice(u));
        parts.push(self.foot(u));
        parts
    }

    /// The Moon's edge at the contacts, the width of the page.
    pub(super) fn edge(&self, u: f64) -> Option<Frame> {
        let (picture, drawing) = self.page.edge.as_ref().zip(self.edge.as_ref())?;
        let size = [self.width, self.width / aspect(drawing)];
        let mut image = Frame::empty(size[0], size[1]);
        image.nodes.push(Node::Picture { at: [0.0; 2], size, drawing: drawing.clone() });
        Some(Frame::stack(3.0 * u, [self.caption(&picture.caption, u, self.width), image.figure(&picture.alt)]))
    }

    /// The least distance between parts.
    pub(super) fn gap(u: f64) -> f64 {
        7.0 * u
    }

    /// Name and place at the left, the eclipse and its day at the right.
    fn head(&self, u: f64) -> Frame {
        let side = 62.0 * MM * u;
        let left = self.width - side - 6.0 * u;
        let place = &self.page.place;
        let where_and_when = Frame::stack(
            5.5 * u,
            [
                self.setter.paragraph(&[self.plain(&place.coordinates)], 8.6 * u, 0.4, left, 0.0),
                self.setter.paragraph(
                    &[self.plain(&format!("{} {}", words::ALL_TIMES, place.clock))],
                    8.6 * u,
                    0.4,
                    left,
                    0.0,
                ),
            ]
            .map(|line| line.tagged(Tag::Paragraph)),
        );
        let name = self.place_name(&place.name, left, u).tagged(Tag::Heading(1));
        let named = Frame::stack(9.0 * u, [name, where_and_when]);

        let right =
            |piece: Piece, size: f64| self.setter.paragraph(&[piece], size * u, 0.4, side, 1.0).tagged(Tag::Paragraph);
        let mut about = vec![right(self.strong(&self.page.eclipse), 11.5), right(self.plain(&self.page.day), 10.5)];
        about.extend(place.rank.as_ref().map(|rank| right(self.quiet(rank), 8.6)));
        about.extend(self.page.invented.as_ref().map(|words| {
            let (size, inset) = (7.6 * u, 2.6 * u);
            let piece = [self.strong(words)];
            // As wide as its longest line.
            let lines = self.setter.lines(&piece, size, side - 2.0 * inset);
            let room = lines.iter().map(|line| line.width).fold(0.0, f64::max) + 0.01;
            let text = self.setter.paragraph(&piece, size, 0.4, room, 0.5).tagged(Tag::Paragraph).inset(inset, inset);
            let pen = Pen { colour: self.inks.ink, width: 0.8, dash: Some([3.0, 2.0]) };
            let mut frame = Frame::empty(text.width, text.height);
            frame.draw(Shape::rectangle([0.0; 2], [text.width, text.height], None, Some(pen)));
            frame.place(0.0, 0.0, text);
            frame.aligned(side, 1.0)
        }));
        let about = Frame::stack(5.0 * u, about);
        let mut frame = Frame::empty(self.width, named.height.max(about.height));
        frame.place(0.0, 0.0, named);
        frame.place(self.width - side, 0.0, about);
        frame
    }

    /// The heading of a rejected place: white on dark, the width of the page.
    fn rejection(&self, u: f64) -> Option<Frame> {
        let reasons = self.page.rejected.as_ref()?;
        let inset = 7.0 * u;
        let room = self.width - 2.0 * inset;
        let set = |words: &str, size: f64| {
            let piece = [Piece::new(words, true, Colour::WHITE)];
            self.setter.paragraph(&piece, size * u, 0.4, room, 0.0).tagged(Tag::Paragraph)
        };
        let text = Frame::stack(6.0 * u, [set(words::REJECTED, 18.0), set(reasons, 11.5)]).inset(inset, inset);
        let mut frame = Frame::empty(self.width, text.height);
        frame.draw(Shape::rectangle([0.0; 2], [self.width, text.height], Some(self.inks.ink), None));
        frame.place(0.0, 0.0, text);
        Some(frame)
    }

    /// A place name: on one line at the largest size that fits, else on two lines at a smaller size, else cut.
    fn place_name(&self, name: &str, room: f64, u: f64) -> Frame {
        let piece = [self.strong(name)];
        if let Some(size) = [21.0, 18.0, 15.5].into_iter().find(|size| self.setter.width(&piece, size * u) <= room) {
            return self.setter.line(&piece, size * u);
        }
        let two_lines = |size: &f64| self.setter.lines(&piece, size * u, room).len() <= 2;
        let size = [14.0, 12.0, 10.5, 9.0].into_iter().find(two_lines);
        let piece = match size {
            Some(_) => piece,
            None => [self.setter.cut(&piece[0], 9.0 * u, room, 2)],
        };
        self.setter.paragraph(&piece, size.unwrap_or(9.0) * u, 0.35, room, 0.0)
    }

    /// Four or five facts in large type, side by side.
    fn headline(&self, u: f64) -> Frame {
        let facts = &self.page.headline;
        let cell = self.width / facts.len().max(1) as f64;
        let room = cell - 7.0 * u;
        let cells: Vec<Frame> = facts
            .iter()
            .map(|fact| {
                let sizes = |list: &[f64]| list.iter().map(|size| size * u).collect::<Vec<_>>();
                Frame::stack(
                    4.6 * u,
                    [
                        self.setter.fitting(&self.quiet(&fact.label), &sizes(&[8.0, 7.0, 6.4]), room),
                        self.setter.fitting(&self.strong(&fact.value), &sizes(&[15.0, 13.0, 11.5, 10.0, 9.0]), room),
                        self.setter.fitting(&self.quiet(&fact.note), &sizes(&[7.6, 6.8, 6.0]), room),
                    ],
                )
                .tagged(Tag::Paragraph)
                .inset(4.0 * u, 4.5 * u)
            })
            .collect();
        let height = cells.iter().map(|cell| cell.height).fold(0.0, f64::max);
        let mut frame = Frame::empty(self.width, height);
        for (i, one) in cells.into_iter().enumerate() {
            let x = i as f64 * cell;
            if i > 0 {
                frame.draw(Shape::polyline(&[[x, 0.0], [x, height]], Pen::new(0.5, self.inks.rule)));
            }
            frame.place(x, 0.0, one);
        }
        for (y, width, colour) in [(0.0, 1.6, self.inks.totality), (height, 0.6, self.inks.ink)] {
            frame.draw(Shape::polyline(&[[0.0, y], [self.width, y]], Pen::new(width, colour)));
        }
        frame
    }

    /// Frames side by side, tops in line.
    pub(super) fn row(&self, gap: f64, frames: impl IntoIterator<Item = Frame>) -> Frame {
        let mut out = Frame::empty(0.0, 0.0);
        for (i, frame) in frames.into_iter().enumerate() {
            let x = out.width + if i > 0 { gap } else { 0.0 };
            out.width = x + frame.width;
            out.height = out.height.max(frame.height);
            out.place(x, 0.0, frame);
        }
        out
    }

    pub(super) fn caption(&self, text: &str, u: f64, room: f64) -> Frame {
        self.setter.fitting(&self.strong(text), &[7.4 * u, 6.6 * u, 6.0 * u], room).tagged(Tag::Paragraph)
    }

    fn given(&self) -> Vec<(&Picture, &Drawing)> {
        let map = self.page.map.as_ref().zip(self.map.as_ref());
        map.into_iter().chain(self.page.sky.as_ref().zip(self.sky.as_ref())).collect()
    }

    fn columns(&self, drawn: bool, u: f64) -> Vec<f64> {
        // The map has the smallest letters and gets the most.
        let shares: &[f64] = match (self.given().len(), drawn) {
            (2, true) => &[0.40, 0.30, 0.30],
            (2, false) | (1, true) => &[0.55, 0.45],
            (0, true) => &[0.5, 0.5],
            _ => &[1.0],
        };
        let room = self.width - 8.0 * u * (shares.len() - 1) as f64;
        shares.iter().map(|share| share * room).collect()
    }

    /// Height of the row of pictures that the width can use.
    pub(super) fn picture_height(&self, u: f64) -> f64 {
        let heights = self.given().into_iter().zip(self.columns(true, u));
        heights.map(|((_, drawing), column)| column / aspect(drawing) + 13.0 * u).fold(185.0 * u, f64::max)
    }

    /// Map, sky and the two drawings side by side; whichever is missing leaves its room to the others.
    fn pictures(&self, u: f64, height: f64) -> Option<Frame> {
        let given = self.given();
        let drawn = self.page.sun.is_some() || !self.page.limb.is_empty();
        if given.is_empty() && !drawn {
            return None;
        }
        let columns = self.columns(drawn, u);
        let column = columns.last().copied().unwrap_or(self.width);
        let stacked = !given.is_empty();
        let mut cells: Vec<Frame> = given
            .into_iter()
            .zip(&columns)
            .map(|((picture, drawing), &room)| {
                let width = room.min((height - 13.0 * u) * aspect(drawing)).max(1.0);
                let size = [width, width / aspect(drawing)];
                let mut image = Frame::empty(size[0], size[1]);
                image.nodes.push(Node::Picture { at: [0.0; 2], size, drawing: drawing.clone() });
                let image = image.figure(&picture.alt).aligned(room, 0.5);
                Frame::stack(4.0 * u, [self.caption(&picture.caption, u, room), image])
            })
            .collect();
        if drawn {
            let half = if stacked { (height - 6.0 * u) * 0.5 } else { height };
            let sun = self.page.sun.as_ref().map(|sun| drawings::sun(self, sun, column, half, u));
            let limb = (!self.page.limb.is_empty()).then(|| drawings::limb(self, column, half, u));
            if stacked {
                let pair = Frame::stack(6.0 * u, sun.into_iter().chain(limb));
                cells.push(pair);
            } else {
                let in_column = |frame: Frame| Frame { width: column, ..frame };
                cells.extend(sun.into_iter().chain(limb).map(in_column));
            }
        }
        // A picture narrower than its column still takes it.
        for (cell, &column) in cells.iter_mut().zip(&columns) {
            cell.width = column;
        }
        Some(self.row(8.0 * u, cells))
    }

    /// What to watch for at the left; contacts, odds and fallback at the right.
    fn lists(&self, u: f64) -> Frame {
        let page = self.page;
        let gutter = 12.0 * u;
        let column = (self.width - gutter) / 2.0;
        let mut left = Vec::new();
        if !page.watch.is_empty() {
            left.push(self.section(words::WATCH, u, self.watch(column, u)));
        }
        left.extend(page.look_away.as_ref().map(|sign| self.look_away(sign, column, u)));
        let mut right = Vec::new();
        if !page.contacts.is_empty() {
            right.push(self.section(words::CONTACTS, u, self.contacts(column, u)));
        }
        for (heading, lines) in
            [(words::ODDS, &page.odds), (words::FALLBACK, &page.fallback), (words::STILL_OPEN, &page.still_open)]
        {
            if !lines.is_empty() {
                right.push(self.section(heading, u, self.items(lines, "▪", column, u)));
            }
        }
        let columns = [left, right].map(|parts| Frame { width: column, ..Frame::stack(7.5 * u, parts) });
        self.row(gutter, columns)
    }

    fn watch(&self, width: f64, u: f64) -> Frame {
        let size = 8.4 * u;
        let (x, y) = (2.6 * u, 2.1 * u);
        let times = self.page.watch.iter().map(|line| self.setter.width(&[self.strong(&line.time)], size));
        let time = times.fold(0.0, f64::max) + 2.0 * x;
        let rows = self.page.watch.iter().map(|line| {
            let label = self.setter.line(&[self.strong(&line.time)], size).tagged(Tag::Label);
            let room = width - time - 2.0 * x;
            let what = self.setter.paragraph(&[self.plain(&line.what)], size, 0.5, room, 0.0).tagged(Tag::Body);
            let mut row = Frame::empty(width, what.height + 2.0 * y);
            row.place(time - x - label.width, y, label);
            row.place(time + x, y, what);
            row.tagged(Tag::ListItem)
        });
        Frame::stack(0.0, rows).tagged(Tag::List)
    }

    fn look_away(&self, sign: &str, width: f64, u: f64) -> Frame {
        let inset = 4.0 * u;
        let pieces = [self.strong(words::LOOK_AWAY), self.plain(sign)];
        let text = self.setter.paragraph(&pieces, 8.2 * u, 0.45, width - 2.0 * inset, 0.0).tagged(Tag::Paragraph);
        let text = text.inset(inset, inset);
        let mut frame = Frame::empty(width, text.height);
        let pen = Pen::new(1.6, self.inks.totality);
        frame.draw(Shape::rectangle([0.0; 2], [width, text.height], None, Some(pen)));
        frame.place(0.0, 0.0, text);
        frame
    }

    fn contacts(&self, width: f64, u: f64) -> Frame {
        // The largest type with which no meaning takes two lines, if there is one.
        let tries = [(8.4, 2.6), (8.1, 2.0), (7.7, 1.6)].map(|(size, x)| self.contact_table(width, u, size * u, x * u));
        let least = tries.iter().map(|table| table.1).min();
        let fitting = tries.into_iter().find(|table| Some(table.1) == least);
        fitting.map(|table| table.0).unwrap_or_default()
    }

    /// The table at a size of type and room beside each cell; and the most lines that a cell takes.
    fn contact_table(&self, width: f64, u: f64, size: f64, x: f64) -> (Frame, usize) {
        let y = 2.1 * u;
        let mut most_lines = 0;
        let head = ["", "", &self.page.local_heading, &self.page.utc_heading, words::HEIGHT, words::DIRECTION];
        let head: Vec<(Piece, f64)> = head.iter().map(|text| (self.quiet(text), 7.2 * u)).collect();
        let rows: Vec<Vec<(Piece, f64)>> = self
            .page
            .contacts
            .iter()
            .map(|c| {
                let cells = [
                    self.strong(&c.label),
                    self.plain(&c.meaning),
                    self.strong(&c.local),
                    self.plain(&c.utc),
                    self.plain(&c.height),
                    self.plain(&c.direction),
                ];
                cells.into_iter().map(|piece| (piece, size)).collect()
            })
            .collect();
        // Every column as wide as its widest cell, but for the meaning, which takes what is left.
        let mut columns = [0.0f64; 6];
        for row in rows.iter().chain([&head]) {
            for (column, (piece, size)) in columns.iter_mut().zip(row) {
                *column = column.max(self.setter.width(std::slice::from_ref(piece), *size) + 2.0 * x);
            }
        }
        columns[1] = 0.0;
        columns[1] = (width - columns.iter().sum::<f64>()).max(24.0 * u);
        let mut table = Frame::empty(width, 0.0);
        for (number, row) in std::iter::once(&head).chain(&rows).enumerate() {
            let mut cells = Frame::empty(width, 0.0);
            let mut left = 0.0;
            for (i, ((piece, size), column)) in row.iter().zip(columns).enumerate() {
                let share = if (2..5).contains(&i) { 1.0 } else { 0.0 };
                let tag = match (number, i) {
                    (0, _) => Tag::ColumnHeader,
                    (_, 0) => Tag::RowHeader,
                    _ => Tag::Cell,
                };
                // A hair more than the widest cell needs.
                let room = column - 2.0 * x + 0.01;
                let cell = self.setter.paragraph(std::slice::from_ref(piece), *size, 0.4, room, share);
                most_lines = most_lines.max(cell.nodes.len());
                cells.height = cells.height.max(cell.height + 2.0 * y);
                cells.place(left + x, y, cell.tagged(tag));
                left += column;
            }
            let (top, height) = (table.height, cells.height);
            table.place(0.0, top, cells.tagged(Tag::Row));
            table.height = top + height;
            let (weight, colour) = if number == 0 { (0.6, self.inks.ink) } else { (0.3, self.inks.rule) };
            let ends = [[0.0, table.height], [width, table.height]];
            table.draw(Shape::polyline(&ends, Pen::new(weight, colour)));
        }
        (table.tagged(Tag::Table), most_lines)
    }

    fn items(&self, lines: &[String], marker: &str, width: f64, u: f64) -> Frame {
        let size = 8.0 * u;
        let rows = lines.iter().map(|line| {
            let mark = self.setter.line(&[self.plain(marker)], 6.0 * u);
            let indent = mark.width + 3.0 * u;
            let body = self.setter.paragraph(&[self.plain(line)], size, 0.48, width - indent, 0.0);
            let mut row = Frame::empty(width, body.height);
            // On the baseline of the first line.
            row.place(0.0, (size - 6.0 * u) * noonfall_drawing::page::setting::CAPITALS, mark.tagged(Tag::Label));
            row.place(indent, 0.0, body.tagged(Tag::Body));
            row.tagged(Tag::ListItem)
        });
        Frame::stack(4.2 * u, rows).tagged(Tag::List)
    }

    /// What to bring and what to beware of.
    fn advice(&self, u: f64) -> Frame {
        let gutter = 12.0 * u;
        let room = self.width - gutter;
        let bring = self.section(words::BRING, u, self.items(&self.page.bring, "▪", 0.4 * room, u));
        let cautions = self.section(words::CAUTIONS, u, self.items(&self.page.cautions, "▲", 0.6 * room, u));
        let columns = self.row(gutter, [Frame { width: 0.4 * room, ..bring }, cautions]);
        Frame::stack(5.5 * u, [self.rule(0.4, self.inks.rule), columns])
    }

    fn foot(&self, u: f64) -> Frame {
        let text = self.quiet(&self.page.foot.join(" "));
        let text = self.setter.paragraph(&[text], 6.4 * u, 0.4, self.width, 0.0).tagged(Tag::Paragraph);
        Frame::stack(3.5 * u, [self.rule(0.4, self.inks.rule), text])
    }
}

/// Width over height.
fn aspect(drawing: &Drawing) -> f64 {
    let [width, height] = drawing.size();
    width / height.max(1e-6)
}
