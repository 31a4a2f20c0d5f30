//! Charts, one a file: each a pure function from plain data to one SVG text, so that the report, the brief and a script draw
//! the same picture. All of them read in grey-scale print: shape, hatching and words carry what colour carries.
//!
//! | file | shows |
//! | --- | --- |
//! | `comparison.rs` | sites against the Sun's altitude, and two of them side by side |
//! | `cloud_archive.rs` | odds that a cloud archive gives at a place, by hour and by day |
//! | `edge_strip.rs` | the Moon's edge at the last and the first light, with the beads |
//! | `sky.rs` | the sky in totality, zenith up |
//!
//! `axes.rs` draws axes with the plotting library, `values.rs` sites at their values.

mod axes;
pub mod cloud_archive;
pub mod comparison;
pub mod edge_strip;
pub mod sky;
mod values;

#[cfg(test)]
mod tests;

use crate::fonts::{self, Weight};
use crate::palette::{INK, PAPER, QUIET_INK};
use crate::svg::{FontEmbedding, Num, Svg, TextStyle};
use noonfall_words::invented::BANNER;

/// Why a chart could not be drawn.
#[derive(Clone, Debug, PartialEq, thiserror::Error)]
pub enum ChartError {
    /// There is nothing to draw.
    #[error("the {chart} chart has nothing to show: {wants}")]
    Empty {
        /// Which chart.
        chart: &'static str,
        /// What it would need.
        wants: &'static str,
    },
    /// A number that is drawn is not finite.
    #[error("the {chart} chart was given {what} that is not a finite number")]
    NotFinite {
        /// Which chart.
        chart: &'static str,
        /// Which quantity.
        what: String,
    },
    /// The page is too small.
    #[error("the {chart} chart needs more room than {width} by {height}")]
    NoRoom {
        /// Which chart.
        chart: &'static str,
        /// Width.
        width: f64,
        /// Height.
        height: f64,
    },
    /// The plotting library gave up.
    #[error("the axes could not be drawn: {0}")]
    Axes(String),
}

/// Size and manner of a chart.
#[derive(Clone, Debug, PartialEq)]
pub struct ChartPage {
    /// Prefix of identifiers in the drawing, unique in a page that holds several.
    pub id: String,
    /// Width, drawing units.
    pub width: f64,
    /// Height, drawing units.
    pub height: f64,
    /// Size of plain text.
    pub text: f64,
    /// Whether the drawing carries its fonts.
    pub fonts: FontEmbedding,
    /// Whether any of the data was invented: then the chart says so in capitals.
    pub invented: bool,
    /// Whether the chart's title stands in the drawing; a page that has its own caption leaves it to the screen reader.
    pub heading: bool,
}

impl ChartPage {
    /// A page of a size with plain text of 13 units, fonts embedded, data real.
    #[must_use]
    pub fn new(id: &str, width: f64, height: f64) -> Self {
        Self {
            id: id.to_owned(),
            width,
            height,
            text: 13.0,
            fonts: FontEmbedding::Embedded,
            invented: false,
            heading: true,
        }
    }

    // Begins the drawing with its ground and heading; gives the drawing and the top of the room below.
    fn begin(&self, chart: &'static str, title: &str, description: &str) -> Result<(Svg, f64), ChartError> {
        let t = self.text;
        if !(t > 0.0 && self.width >= 16.0 * t && self.height >= 7.0 * t && self.width < 1e5 && self.height < 1e5) {
            return Err(ChartError::NoRoom { chart, width: self.width, height: self.height });
        }
        let mut svg = Svg::new(self.width, self.height, &self.id, title, description);
        svg.leaf("rect", &[("width", &Num(self.width)), ("height", &Num(self.height)), ("fill", &PAPER)]);
        let mut y = t * 0.5;
        let room = self.width - 1.6 * t;
        let lines = if self.heading { 2 } else { 0 };
        for line in fonts::wrapped(title, t * 1.15, Weight::Bold, room).into_iter().take(lines) {
            y += t * 1.15;
            svg.text(t * 0.8, y, &TextStyle::new(t * 1.15, INK).strong(), &line);
            y += t * 0.3;
        }
        if self.invented {
            y += t * 0.95;
            svg.text(t * 0.8, y, &TextStyle::new(t * 0.8, INK).strong(), BANNER);
            y += t * 0.2;
        }
        Ok((svg, y + t * 0.3))
    }
}

// A quiet note at the foot, wrapped; gives the height it takes.
fn foot_note(svg: &mut Svg, page: &ChartPage, text: &str) -> f64 {
    let size = page.text * 0.8;
    let lines = fonts::wrapped(text, size, Weight::Regular, page.width - 1.6 * page.text);
    let height = lines.len() as f64 * size * 1.28;
    let mut y = page.height - height - page.text * 0.3;
    for line in lines {
        y += size * 1.28;
        svg.text(page.text * 0.8, y, &TextStyle::new(size, QUIET_INK), &line);
    }
    height + page.text * 0.6
}

fn finite(chart: &'static str, what: &str, value: f64) -> Result<f64, ChartError> {
    if value.is_finite() { Ok(value) } else { Err(ChartError::NotFinite { chart, what: what.to_owned() }) }
}
