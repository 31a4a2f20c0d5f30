//! Axes, grid and lines by the plotting library, set into our own drawing.

use plotters::coord::Shift;
use plotters::coord::types::RangedCoordf64;
use plotters::prelude::*;

use super::ChartError;
use crate::fonts;
use crate::palette::{self, HAIRLINE, INK};
use crate::projection::Window;
use crate::svg::{Anchor, Num, Svg, TextStyle};

// The plotting library places lines on whole units: its drawing is this much larger than ours, so that a line stands within a
// twentieth of a unit of its value.
const FINE: f64 = 10.0;

/// A pair of linear axes.
pub struct Axes<'a> {
    /// Range from left to right; may fall.
    pub x: [f64; 2],
    /// Range from bottom to top.
    pub y: [f64; 2],
    /// Words under the horizontal axis, with the unit.
    pub x_title: &'a str,
    /// Words above the vertical axis, with the unit.
    pub y_title: &'a str,
    /// Marks on the horizontal axis at most.
    pub x_marks: usize,
    /// Marks on the vertical axis at most.
    pub y_marks: usize,
}

/// Where the axes put a point on the page.
pub struct Plane {
    x: [f64; 2],
    y: [f64; 2],
    /// The room inside the axes.
    pub window: Window,
}

impl Plane {
    /// A point in the page's units.
    pub fn at(&self, x: f64, y: f64) -> [f64; 2] {
        let w = self.window;
        [
            w.x + (x - self.x[0]) / (self.x[1] - self.x[0]) * w.width,
            w.y + w.height - (y - self.y[0]) / (self.y[1] - self.y[0]) * w.height,
        ]
    }
}

pub(super) fn colour(hex: &str) -> RGBColor {
    let [r, g, b] = palette::parse(hex).unwrap_or([0, 0, 0]);
    RGBColor(r, g, b)
}

/// Draws axes into a window of the drawing.
pub fn draw(svg: &mut Svg, window: Window, text: f64, axes: &Axes<'_>) -> Result<Plane, ChartError> {
    let fine = |v: f64| (v.floor().max(40.0) * FINE) as u32;
    let (width, height) = (fine(window.width), fine(window.height));
    let mut inner = String::new();
    let (left, bottom) = ((text * FINE * 3.0) as u32, (text * FINE * 2.8) as u32);
    let (xs, ys);
    {
        let area = SVGBackend::with_string(&mut inner, (width, height)).into_drawing_area();
        (xs, ys) = mesh(&area, text * FINE, axes, [left, bottom]).map_err(|e| ChartError::Axes(e.to_string()))?;
        area.present().map_err(|e| ChartError::Axes(e.to_string()))?;
    }
    let body = inner.find("<svg").and_then(|s| inner[s..].find('>').map(|e| s + e + 1));
    let end = inner.rfind("</svg>");
    if let (Some(start), Some(end)) = (body, end) {
        let small = format!("translate({} {}) scale({})", Num(window.x), Num(window.y), Num(1.0 / FINE));
        svg.open("g", &[("transform", &small)]);
        svg.raw(&inner[start..end]);
        svg.close();
    }
    let pixels = Window {
        x: window.x + f64::from(xs.0) / FINE,
        y: window.y + f64::from(ys.0) / FINE,
        width: f64::from(xs.1 - xs.0) / FINE,
        height: f64::from(ys.1 - ys.0) / FINE,
    };
    // Titles by our own hand: the vertical axis's words lie level above it, where they are read without turning the head.
    let style = TextStyle::new(text * 0.84, INK);
    svg.text(window.x + text * 0.8, pixels.y - text * 0.5, &style, axes.y_title);
    let below = pixels.y + pixels.height + text * 2.4;
    svg.text(pixels.x + pixels.width / 2.0, below, &style.held(Anchor::Middle), axes.x_title);
    Ok(Plane { x: axes.x, y: axes.y, window: pixels })
}

type Span = (i32, i32);

fn mesh<'b>(
    area: &DrawingArea<SVGBackend<'b>, Shift>,
    text: f64,
    axes: &Axes<'_>,
    [left, bottom]: [u32; 2],
) -> Result<(Span, Span), DrawingAreaErrorKind<<SVGBackend<'b> as DrawingBackend>::ErrorType>> {
    let mut chart: ChartContext<'_, _, Cartesian2d<RangedCoordf64, RangedCoordf64>> = ChartBuilder::on(area)
        .margin_top((text * 1.5) as u32)
        .margin_right((text * 0.9) as u32)
        .x_label_area_size(bottom)
        .y_label_area_size(left)
        .build_cartesian_2d(axes.x[0]..axes.x[1], axes.y[0]..axes.y[1])?;
    let words = (fonts::FAMILY, text * 0.84).into_font().color(&colour(INK));
    chart
        .configure_mesh()
        .x_labels(axes.x_marks)
        .y_labels(axes.y_marks)
        .max_light_lines(1)
        .label_style(words)
        .set_all_tick_mark_size((FINE * 5.0) as u32)
        .axis_style(colour(INK).stroke_width(FINE as u32))
        .bold_line_style(colour(HAIRLINE).mix(0.55).stroke_width(FINE as u32))
        .light_line_style(colour(HAIRLINE).mix(0.0))
        .x_label_formatter(&|v| short(*v))
        .y_label_formatter(&|v| short(*v))
        .draw()?;
    let (x, y) = chart.plotting_area().get_pixel_range();
    Ok(((x.start, x.end), (y.start, y.end)))
}

// A mark's number without digits that say nothing.
fn short(value: f64) -> String {
    let text = format!("{value:.3}");
    let text = text.trim_end_matches('0').trim_end_matches('.');
    if text == "-0" { "0".to_owned() } else { text.replace('-', "−") }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn axes_are_well_formed_and_the_plane_meets_their_corners() {
        let mut svg = Svg::new(400.0, 300.0, "a", "t", "d");
        let window = Window { x: 10.0, y: 20.0, width: 380.0, height: 270.0 };
        let axes = Axes { x: [0.0, 90.0], y: [0.0, 240.0], x_title: "x <&>", y_title: "y", x_marks: 9, y_marks: 6 };
        let plane = draw(&mut svg, window, 13.0, &axes).expect("axes");
        let out = svg.finish(crate::svg::FontEmbedding::FromPage);
        let document = roxmltree::Document::parse(&out).expect("well-formed");
        assert!(document.descendants().any(|n| n.text() == Some("x <&>")));
        let w = plane.window;
        assert_eq!(plane.at(0.0, 0.0), [w.x, w.y + w.height]);
        assert_eq!(plane.at(90.0, 240.0), [w.x + w.width, w.y]);
        assert!(w.width > 250.0 && w.height > 180.0);
        assert_eq!((short(0.5), short(-20.0), short(-0.0)), ("0.5".into(), "−20".into(), "0".into()));
    }
}
