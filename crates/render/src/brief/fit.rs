//! One page a site, always.
//!
//! The size of type and pictures is lowered step by step until the page holds (and, should even the smallest step not do, the whole is shrunk
//! as a picture is shrunk); the texts were cut to length before.

use super::layout::{Inks, Layout};
use noonfall_drawing::page::setting::Setter;
use noonfall_drawing::page::{Drawing, Frame, Tag, TypesetError};
use noonfall_words::brief::BriefModel;

/// Paper.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq)]
pub enum Paper {
    /// ISO A4, 210 by 297 mm.
    #[default]
    A4,
    /// US Letter, 8.5 by 11 inches.
    Letter,
}

const MM: f64 = 72.0 / 25.4;

/// Margins at the sides, above and below.
const SIDE: f64 = 11.0 * MM;
const ABOVE: f64 = 9.0 * MM;
const BELOW: f64 = 8.0 * MM;

impl Paper {
    /// Width and height, points.
    fn size(self) -> [f64; 2] {
        match self {
            Paper::A4 => [210.0 * MM, 297.0 * MM],
            Paper::Letter => [612.0, 792.0],
        }
    }
}

/// Steps of the size of type, largest first.
const STEPS: [f64; 11] = [1.1, 1.05, 1.0, 0.95, 0.9, 0.85, 0.8, 0.75, 0.7, 0.65, 0.6];
/// Height of the row of pictures, in units of type, below which the two drawings that share a column can no longer be read.
const LEAST_PICTURES: f64 = 172.0;

/// Sets the page of one site.
pub(super) fn set(model: &BriefModel, paper: Paper) -> Result<Frame, TypesetError> {
    let read = |which: &str, picture: &Option<noonfall_words::brief::Picture>| {
        picture.as_ref().map(|picture| Drawing::read(which, &picture.svg)).transpose()
    };
    let [page_width, page_height] = paper.size();
    let (width, height) = (page_width - 2.0 * SIDE, page_height - ABOVE - BELOW);
    let setter = Setter::default();
    let layout = Layout {
        page: model,
        setter: &setter,
        inks: Inks::new(),
        map: read("regional map", &model.map)?,
        sky: read("sky chart", &model.sky)?,
        edge: read("Moon's edge", &model.edge)?,
        width,
    };
    let body = fitted(&layout, height);
    if !(body.height.is_finite() && body.height <= height + 1e-6) {
        return Err(TypesetError::Overfull(model.title.clone()));
    }
    let mut page = Frame::empty(page_width, page_height);
    page.place(SIDE, ABOVE, body.tagged(Tag::Section));
    Ok(page)
}

/// The picture of the Moon's edge may cost so many steps of the size of type, and none below [`LEAST_WITH_EDGE`].
const EDGE_COSTS: usize = 2;
const LEAST_WITH_EDGE: f64 = 0.85;

/// The largest type, then the largest pictures, with which the page holds; with the Moon's edge where it costs little.
fn fitted(layout: &Layout<'_>, height: f64) -> Frame {
    let plain = |(step, u): (usize, f64)| Some((step, at_size(layout, height, u, false)?));
    if let Some((step, page)) = STEPS.into_iter().enumerate().find_map(plain) {
        let with = |&u: &f64| at_size(layout, height, u, true).filter(|_| u >= LEAST_WITH_EDGE);
        let tried = layout.edge.as_ref().and_then(|_| STEPS.iter().skip(step).take(1 + EDGE_COSTS).find_map(with));
        return tried.unwrap_or(page);
    }
    // Nothing fitted even at the smallest type.
    let u = STEPS[STEPS.len() - 1];
    let whole = Frame::stack(Layout::gap(u), layout.parts(u, LEAST_PICTURES * u));
    let scale = (height / whole.height.max(1e-6)).min(1.0);
    whole.scaled(scale)
}

/// The page at a size of type with the largest pictures that it holds, or nothing.
fn at_size(layout: &Layout<'_>, height: f64, u: f64, edge: bool) -> Option<Frame> {
    let least = LEAST_PICTURES * u;
    let most = layout.picture_height(u).max(least);
    for share in [1.0, 0.5, 0.0] {
        let mut parts = layout.parts(u, least + share * (most - least));
        if edge {
            // Above the lists, which come before advice and foot.
            let place = parts.len().saturating_sub(3);
            parts.splice(place..place, layout.edge(u));
        }
        let gaps = parts.len().saturating_sub(1).max(1) as f64;
        let used: f64 = parts.iter().map(|part| part.height).sum();
        // What room is left over is shared out between the parts.
        let gap = (height - used) / gaps;
        if gap >= Layout::gap(u) {
            return Some(Frame { height, ..Frame::stack(gap, parts) });
        }
    }
    None
}
