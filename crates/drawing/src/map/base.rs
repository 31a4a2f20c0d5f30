//! Where the group sleeps, where that is none of the sites: an open square with its name.

use super::canvas::Canvas;
use crate::fonts::{self, Weight};
use crate::labels::{Footprint, Wanted};
use crate::palette::{INK, PAPER};
use crate::svg::{Anchor, Num, TextStyle};
use noonfall_words::map::layer;

// Half the square's side.
fn half(text: f64) -> f64 {
    text * 0.42
}

/// Takes the square's room.
pub fn place(canvas: &mut Canvas) {
    let t = canvas.page.text;
    let at = canvas.sheet.base.as_ref().and_then(|base| canvas.frame.page_inside(base.point, t * 0.5));
    if let Some(at) = at {
        canvas.placer.take(Footprint::around(at, half(t)));
    }
}

/// Draws square and name.
pub fn draw(canvas: &mut Canvas) {
    let t = canvas.page.text;
    let Some(base) = &canvas.sheet.base else { return };
    let Some(at) = canvas.frame.page_inside(base.point, t * 0.5) else { return };
    let half = half(t);
    canvas.svg.open_group(layer::BASE, &[]);
    for (stroke, width) in [(PAPER, 0.4), (INK, 0.17)] {
        canvas.svg.leaf(
            "rect",
            &[
                ("x", &Num(at[0] - half)),
                ("y", &Num(at[1] - half)),
                ("width", &Num(half * 2.0)),
                ("height", &Num(half * 2.0)),
                ("fill", &PAPER),
                ("stroke", &stroke),
                ("stroke-width", &Num(t * width)),
            ],
        );
    }
    let size = t * 0.9;
    let words = fonts::fitted(&format!("Base: {}", base.name), size, Weight::Bold, t * 14.0);
    let form = [fonts::width(&words, size, Weight::Bold) + 4.0, size * 1.2];
    let wanted = Wanted { anchor: at, clear: half * 1.4, forms: vec![form], reach: t * 6.0 };
    if let Some(placed) = canvas.placer.place_around(&wanted) {
        if let Some([a, b]) = placed.leader {
            let d = format!("M{} {}L{} {}", Num(a[0]), Num(a[1]), Num(b[0]), Num(b[1]));
            canvas.svg.leaf("path", &[("d", &d), ("stroke", &INK), ("stroke-width", &Num(t * 0.06))]);
        }
        let f = placed.footprint;
        let style = TextStyle::new(size, INK).strong().held(Anchor::Middle).haloed(PAPER);
        canvas.svg.text(f.centre[0], f.centre[1] + size * 0.36, &style, &words);
    }
    canvas.svg.close();
}
