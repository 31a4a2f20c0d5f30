//! The two small drawings of a brief: where the Sun stands, and its edge as a clock face.

use std::f64::consts::TAU;

use super::layout::Layout;
use noonfall_drawing::page::setting::Piece;
use noonfall_drawing::page::{Colour, Frame, Pen, Shape, Tag};
use noonfall_words::brief::headings as words;
use noonfall_words::brief::{LimbMark, SunStand};

/// A word with its middle at a spot. Sizes inside the drawings are points: they do not shrink with the page.
fn label(layout: &Layout<'_>, frame: &mut Frame, at: [f64; 2], piece: Piece, size: f64) {
    let line = layout.setter.line(&[piece], size);
    let corner = [at[0] - line.width / 2.0, at[1] - line.height / 2.0];
    frame.place(corner[0], corner[1], line);
}

/// A spot on a circle, by the angle clockwise from the top.
fn on_circle(centre: [f64; 2], radius: f64, degrees: f64) -> [f64; 2] {
    let (s, c) = degrees.to_radians().sin_cos();
    [centre[0] + radius * s, centre[1] - radius * c]
}

fn diamond(at: [f64; 2], half: f64, pen: Pen) -> Shape {
    let [x, y] = at;
    Shape::polygon(&[[x, y - half], [x + half, y], [x, y + half], [x - half, y]], Some(Colour::WHITE), Some(pen))
}

/// Caption, drawing and words of where the Sun stands.
pub(super) fn sun(layout: &Layout<'_>, sun: &SunStand, column: f64, room: f64, u: f64) -> Frame {
    let text = format!("{}. {}. {}", sun.height, sun.direction, sun.skyline);
    let text = layout.setter.paragraph(&[layout.plain(&text)], 7.4 * u, 0.4, column, 0.0).tagged(Tag::Paragraph);
    let height = (room - text.height - 19.0 * u).min(120.0 * u).max(24.0 * u);
    let drawing =
        sun_drawing(layout, sun, column, height).figure(&format!("The Sun: {}; {}.", sun.direction, sun.height));
    Frame::stack(4.0 * u, [layout.caption(words::SUN, u, column), drawing, text])
}

/// A compass from above, and a ladder of fists with the skyline.
fn sun_drawing(layout: &Layout<'_>, sun: &SunStand, w: f64, h: f64) -> Frame {
    let inks = &layout.inks;
    let mut frame = Frame::empty(w, h);
    let r = (w * 0.22).min(h * 0.36);
    let centre = [w * 0.26, h * 0.5];
    frame.draw(Shape::circle(centre, r, Some(Colour::WHITE), Some(Pen::new(0.6, inks.ink))));
    for (i, letter) in words::COMPASS.into_iter().enumerate() {
        label(layout, &mut frame, on_circle(centre, r + 5.5, i as f64 * 90.0), layout.plain(letter), 6.5);
    }
    for i in 0..16 {
        let (angle, inner) = (f64::from(i) * 22.5, if i % 4 == 0 { 0.82 } else { 0.91 });
        let ends = [on_circle(centre, inner * r, angle), on_circle(centre, r, angle)];
        frame.draw(Shape::polyline(&ends, Pen::new(0.5, inks.quiet)));
    }
    let towards = |radius: f64| on_circle(centre, radius, sun.azimuth_deg);
    frame.draw(Shape::polyline(&[centre, towards(r * 0.7)], Pen::new(1.6, inks.ink)));
    frame.draw(Shape::circle(towards(r * 0.72), 3.6, Some(inks.totality), Some(Pen::new(0.8, Colour::WHITE))));
    frame.draw(Shape::circle(centre, 1.5, Some(inks.ink), None));

    // The ladder: one rung a fist.
    let top_deg = (((sun.altitude_deg / 10.0).ceil() + 1.0) * 10.0).clamp(20.0, 90.0);
    let (x0, x1) = (w * 0.60, w * 0.97);
    let base = h - 11.0;
    let span = base - 6.0;
    let y = |degrees: f64| base - span * degrees / top_deg;
    let fists = (top_deg / 10.0) as u32;
    let mut numbered = y(0.0);
    for i in 1..=fists {
        let degrees = f64::from(i) * 10.0;
        let used = degrees <= (sun.altitude_deg / 5.0).round() * 5.0;
        let ground = if used { inks.shade } else { Colour::WHITE };
        let size = [9.0, (span * 10.0 / top_deg - 1.2).max(0.5)];
        let pen = Pen::new(0.5, inks.quiet);
        frame.draw(Shape::rounded([x0, y(degrees) + 0.6], size, 2.0, Some(ground), Some(pen)));
        // A number where it stands clear of the one below it.
        if numbered - y(degrees) >= 8.0 {
            numbered = y(degrees);
            label(layout, &mut frame, [x0 - 10.0, numbered], layout.plain(&format!("{degrees:.0}°")), 5.8);
        }
    }
    label(layout, &mut frame, [x0 - 10.0, y(0.0)], layout.plain("0°"), 5.8);
    if let Some(skyline) = sun.skyline_deg.filter(|degrees| *degrees > 0.0) {
        let top = y(skyline.min(top_deg));
        let corner = [x0 + 12.0, top];
        frame.draw(Shape::rectangle(corner, [x1 - x0 - 12.0, base - top], Some(inks.rule.lighter(0.45)), None));
        frame.draw(Shape::polyline(&[corner, [x1, top]], Pen::new(0.8, inks.ink)));
        // On the side away from the Sun's disc where both stand at one height, and below the line where the disc stands on it.
        let word = layout.setter.width(&[layout.plain(words::SKYLINE)], 5.8);
        let room = x1 - ((x0 + x1) / 2.0 + 2.0 + 5.5);
        let close = ((top - 5.0) - y(sun.altitude_deg)).abs() < 8.0;
        let at =
            if close && room < word { [x1 - word / 2.0, top + 5.0] } else { [x1 - word / 2.0, (top - 5.0).max(5.0)] };
        if at[1] + 3.0 < base {
            label(layout, &mut frame, at, layout.plain(words::SKYLINE), 5.8);
        }
    }
    frame.draw(Shape::polyline(&[[x0 - 2.0, base], [x1, base]], Pen::new(1.0, inks.ink)));
    // A Sun below the horizon stands on the lower edge.
    let disc = [(x0 + x1) / 2.0 + 2.0, y(sun.altitude_deg.clamp(-10.0 * top_deg / span.max(1.0), top_deg))];
    frame.draw(Shape::circle(disc, 4.0, Some(inks.totality), Some(Pen::new(0.8, Colour::WHITE))));
    label(layout, &mut frame, [(x0 + x1) / 2.0, base + 6.0], layout.plain(words::HORIZON), 5.8);
    frame
}

/// Caption, clock face and key of the contacts on the Sun's edge.
pub(super) fn limb(layout: &Layout<'_>, column: f64, room: f64, u: f64) -> Frame {
    let marks = &layout.page.limb;
    let side = (room - 15.0 * u).min(column * 0.56).min(135.0 * u).max(40.0 * u);
    let said: Vec<String> = marks.iter().map(|m| format!("{} {} at {}", m.label, m.meaning, m.hour)).collect();
    let alt = format!("{} {}", words::LIMB_ALT, said.join("; "));
    let clock = limb_drawing(layout, marks, side).figure(&alt);
    let indent = 11.0;
    let key_room = column - side - 4.0 * u - indent;
    let rows = marks.iter().map(|mark| {
        let head = layout.strong(&format!("{} {}", mark.label, mark.hour));
        let parts = [
            layout.setter.paragraph(&[head], 7.4 * u, 0.4, key_room, 0.0),
            layout.setter.paragraph(&[layout.plain(&mark.meaning)], 7.4 * u, 0.4, key_room, 0.0),
        ];
        let text = Frame::stack(0.4 * 7.4 * u, parts).tagged(Tag::Body);
        let mut row = Frame::empty(indent + key_room, text.height);
        let sign = [4.0, 7.4 * u * 0.36];
        match mark.label.as_str() {
            "C2" => row.draw(diamond(sign, 3.5, Pen::new(1.2, layout.inks.totality))),
            "C3" => row.draw(Shape::circle(sign, 3.0, Some(layout.inks.totality), None)),
            _ => {}
        }
        row.place(indent, 0.0, text);
        row.tagged(Tag::ListItem)
    });
    let key = Frame::stack(4.2 * u, rows).tagged(Tag::List);
    let height = side.max(key.height);
    let mut pair = Frame::empty(column, height);
    pair.place(0.0, (height - side) / 2.0, clock);
    pair.place(side + 4.0 * u, (height - key.height) / 2.0, key);
    Frame::stack(4.0 * u, [layout.caption(words::LIMB, u, column), pair])
}

/// The Sun's disc as a clock face, zenith up. Last and first light each have their own shape of mark on the limb; the bites at the
/// beginning and the end, which often fall at the same hours, stand in the key beside it.
fn limb_drawing(layout: &Layout<'_>, marks: &[LimbMark], side: f64) -> Frame {
    let inks = &layout.inks;
    let mut frame = Frame::empty(side, side);
    let r = side * 0.5 - 11.0;
    let centre = [side * 0.5; 2];
    frame.draw(Shape::circle(centre, r, Some(inks.shade), Some(Pen::new(1.0, inks.ink))));
    for hour in 1..=12 {
        let angle = f64::from(hour) * 30.0;
        let main = hour % 3 == 0;
        let ends = [on_circle(centre, r * if main { 0.88 } else { 0.94 }, angle), on_circle(centre, r, angle)];
        frame.draw(Shape::polyline(&ends, Pen::new(0.6, inks.quiet)));
        if main {
            label(layout, &mut frame, on_circle(centre, r + 6.5, angle), layout.quiet(&hour.to_string()), 6.5);
        }
    }
    for mark in marks {
        let spot = on_circle(centre, r, mark.clockwise_deg);
        match mark.label.as_str() {
            // Half the diagonal of a square of 7.2 points.
            "C2" => frame.draw(diamond(spot, 7.2 / (TAU / 8.0).cos() / 2.0, Pen::new(1.4, inks.totality))),
            "C3" => frame.draw(Shape::circle(spot, 4.2, Some(inks.totality), Some(Pen::new(0.8, Colour::WHITE)))),
            _ => continue,
        }
        label(layout, &mut frame, on_circle(centre, r - 12.0, mark.clockwise_deg), layout.strong(&mark.label), 7.5);
    }
    frame
}
