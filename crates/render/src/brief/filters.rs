//! Filter ON and OFF on the page: the run of the eclipse as blocks, with the times under their edges. Safety words: see [`words`].

use super::layout::Layout;
use noonfall_drawing::page::setting::Piece;
use noonfall_drawing::page::{Colour, Frame, Pen, Shape, Tag};
use noonfall_words::brief::Filters;
use noonfall_words::brief::headings as words;

impl Layout<'_> {
    /// The run of the eclipse as blocks (not to scale).
    pub(super) fn filters(&self, u: f64) -> Frame {
        match &self.page.filters {
            Filters::Window { off, on, length, margin, from, to } => {
                let gutter = 2.5 * u;
                let share = (self.width - 2.0 * gutter) / 3.15;
                let blocks = self.row(
                    gutter,
                    [
                        self.state(false, words::FILTER_ON, words::ON_BEFORE, share, u),
                        self.state(true, words::FILTER_OFF, &words::off_for(length), 1.15 * share, u),
                        self.state(false, words::FILTER_ON, words::ON_AFTER, share, u),
                    ],
                );
                // The two inner times stand under the edges of the middle block.
                let share = self.width / 3.15;
                let times = self.row(
                    0.0,
                    [
                        self.moment(words::FIRST_BITE, from, 0.5 * share, 0.0, u),
                        self.moment(words::OFF_MOMENT, off, share, 0.5, u),
                        Frame::empty(0.15 * share, 0.0),
                        self.moment(words::ON_MOMENT, on, share, 0.5, u),
                        self.moment(words::LAST_BITE, to, 0.5 * share, 1.0, u),
                    ],
                );
                let note = self
                    .setter
                    .paragraph(&[self.quiet(&words::margin(margin))], 7.2 * u, 0.4, self.width, 0.5)
                    .tagged(Tag::Paragraph);
                Frame::stack(4.0 * u, [blocks, times, note])
            }
            Filters::AlwaysOn { reason, from, to } => {
                let mut parts = vec![self.state(false, words::ON_THROUGHOUT, reason, self.width, u)];
                if !from.is_empty() || !to.is_empty() {
                    let half = self.width / 2.0;
                    parts.push(self.row(
                        0.0,
                        [
                            self.moment(words::FIRST_BITE, from, half, 0.0, u),
                            self.moment(words::LAST_BITE, to, half, 1.0, u),
                        ],
                    ));
                }
                Frame::stack(4.0 * u, parts)
            }
        }
    }

    /// A block of the run of the eclipse: ON dark and square, OFF white with a heavy round frame.
    fn state(&self, off: bool, state: &str, detail: &str, width: f64, u: f64) -> Frame {
        let inks = &self.inks;
        let (ground, pen, strong, quiet) = if off {
            (Colour::WHITE, Some(Pen::new(2.4, inks.totality)), inks.totality, inks.ink)
        } else {
            (inks.ink, None, Colour::WHITE, Colour::WHITE)
        };
        let room = width - 8.0 * u;
        let text = Frame::stack(
            4.2 * u,
            [
                self.setter.paragraph(&[Piece::new(state, true, strong)], 11.5 * u, 0.4, room, 0.5),
                self.setter.paragraph(&[Piece::new(detail, false, quiet)], 7.4 * u, 0.4, room, 0.5),
            ],
        )
        .tagged(Tag::Paragraph);
        let height = (29.0 * u).max(text.height + 9.0 * u);
        let mut frame = Frame::empty(width, height);
        let radius = if off { 14.0 * u } else { 0.0 };
        frame.draw(Shape::rounded([0.0; 2], [width, height], radius, Some(ground), pen));
        frame.place(4.0 * u, (height - text.height) / 2.0, text);
        frame
    }

    fn moment(&self, label: &str, time: &str, width: f64, share: f64, u: f64) -> Frame {
        let parts = [
            self.setter.paragraph(&[self.strong(time)], 11.0 * u, 0.4, width, share),
            self.setter.paragraph(&[self.quiet(label)], 7.2 * u, 0.4, width, share),
        ];
        Frame::stack(2.6 * u, parts).tagged(Tag::Paragraph)
    }
}
