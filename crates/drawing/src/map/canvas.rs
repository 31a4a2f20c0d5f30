//! The canvas that the layers draw on.

use std::collections::BTreeSet;

use super::{MapSheet, PageSize, field_grid::FieldGrid, ramp::Ramp};
use crate::labels::{Footprint, Placer};
use crate::projection::Frame;
use crate::svg::Svg;

/// What a layer needs: where it draws, what it may cover, and the data.
pub struct Canvas<'a> {
    /// The data.
    pub sheet: &'a MapSheet<'a>,
    /// Size of the page and its text.
    pub page: PageSize,
    /// From the globe to the page.
    pub frame: Frame,
    /// The drawing.
    pub svg: Svg,
    /// Room for labels.
    pub placer: Placer,
    /// The path's rings on the page.
    pub path_rings: Vec<Vec<[f64; 2]>>,
    /// Rings of land on the page, once it is drawn.
    pub land: Vec<Vec<[f64; 2]>>,
    /// Rings of lakes, likewise.
    pub lakes: Vec<Vec<[f64; 2]>>,
    /// The shadow sampled near the path.
    pub grid: FieldGrid,
    /// The ramp's steps.
    pub ramp: Ramp,
    /// Whether this is a regional map, which shows towns and lines of equal duration.
    pub regional: bool,
    /// Whether the scale tells the limits at the Moon's measured edge from those of a smooth Moon.
    pub limits_apart: bool,
    /// Sites that insets show instead.
    pub in_insets: BTreeSet<usize>,
    /// Degrees of the graticule, waiting for their turn to be placed.
    pub degree_labels: Vec<(Footprint, String)>,
    /// Notes that layers add to the margin, such as how many sites are not numbered.
    pub notes: Vec<String>,
}

impl Canvas<'_> {
    /// Opens the group of all layers, which keeps them inside the map window: cut once, not each by itself.
    pub fn open_layers(&mut self, clip: &str) {
        self.svg.open("g", &[("class", &"layers"), ("clip-path", &clip)]);
    }
}
