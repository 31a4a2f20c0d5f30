//! Where labels go: greedy placement by priority, without overlaps.
//!
//! Each label asks for room near an anchor. Candidates are tried from near to far; a candidate that meets anything placed
//! before is refused, and among the rest the one that covers least of the lines drawn beneath, and lies nearest, wins.
//! A label that finds no room is tried in its shorter forms and then dropped. Far labels get a leader line.

use crate::projection::Window;

/// A rectangle that may be turned: what a label or symbol occupies.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Footprint {
    /// Middle.
    pub centre: [f64; 2],
    /// Half the width and half the height, before turning.
    pub half: [f64; 2],
    /// Turn about the middle, degrees clockwise.
    pub turn_deg: f64,
}

impl Footprint {
    /// An upright rectangle by its edges.
    #[must_use]
    pub fn upright(left: f64, top: f64, width: f64, height: f64) -> Self {
        Self { centre: [left + width / 2.0, top + height / 2.0], half: [width / 2.0, height / 2.0], turn_deg: 0.0 }
    }

    /// The square around a circle.
    #[must_use]
    pub fn around(centre: [f64; 2], radius: f64) -> Self {
        Self { centre, half: [radius, radius], turn_deg: 0.0 }
    }

    fn axes(&self) -> [[f64; 2]; 2] {
        // Nearly all stand upright, and are asked millions of times.
        if self.turn_deg == 0.0 {
            return [[1.0, 0.0], [0.0, 1.0]];
        }
        let (s, c) = self.turn_deg.to_radians().sin_cos();
        [[c, s], [-s, c]]
    }

    /// The four corners.
    #[must_use]
    pub fn corners(&self) -> [[f64; 2]; 4] {
        let [u, v] = self.axes();
        [[-1.0, -1.0], [1.0, -1.0], [1.0, 1.0], [-1.0, 1.0]].map(|[a, b]: [f64; 2]| {
            let (p, q) = (a * self.half[0], b * self.half[1]);
            [self.centre[0] + p * u[0] + q * v[0], self.centre[1] + p * u[1] + q * v[1]]
        })
    }

    /// Whether two footprints overlap (touching edges do not). Method: separating axes of two rectangles.
    #[must_use]
    pub fn overlaps(&self, other: &Footprint) -> bool {
        let d = [other.centre[0] - self.centre[0], other.centre[1] - self.centre[1]];
        if self.turn_deg == 0.0 && other.turn_deg == 0.0 {
            let apart = |k: usize| d[k].abs() >= self.half[k] + other.half[k] - 1e-9;
            return !(apart(0) || apart(1));
        }
        let (sa, oa) = (self.axes(), other.axes());
        for axis in [sa[0], sa[1], oa[0], oa[1]] {
            let along = |v: [f64; 2]| (v[0] * axis[0] + v[1] * axis[1]).abs();
            let reach = self.half[0] * along(sa[0])
                + self.half[1] * along(sa[1])
                + other.half[0] * along(oa[0])
                + other.half[1] * along(oa[1]);
            if along(d) >= reach - 1e-9 {
                return false;
            }
        }
        true
    }

    /// Whether a point lies inside, with `spare` added on every side.
    #[must_use]
    pub fn holds(&self, p: [f64; 2], spare: f64) -> bool {
        let [u, v] = self.axes();
        let d = [p[0] - self.centre[0], p[1] - self.centre[1]];
        (d[0] * u[0] + d[1] * u[1]).abs() <= self.half[0] + spare
            && (d[0] * v[0] + d[1] * v[1]).abs() <= self.half[1] + spare
    }

    /// Whether a line segment meets the rectangle.
    #[must_use]
    pub fn meets(&self, a: [f64; 2], b: [f64; 2]) -> bool {
        let [u, v] = self.axes();
        let local = |p: [f64; 2]| {
            let d = [p[0] - self.centre[0], p[1] - self.centre[1]];
            [d[0] * u[0] + d[1] * u[1], d[0] * v[0] + d[1] * v[1]]
        };
        let (p, q) = (local(a), local(b));
        let (mut t0, mut t1) = (0.0f64, 1.0f64);
        for i in 0..2 {
            let d = q[i] - p[i];
            if d.abs() < 1e-12 {
                if p[i].abs() >= self.half[i] {
                    return false;
                }
                continue;
            }
            let (x, y) = ((-self.half[i] - p[i]) / d, (self.half[i] - p[i]) / d);
            t0 = t0.max(x.min(y));
            t1 = t1.min(x.max(y));
        }
        t0 < t1
    }
}

/// A line between a symbol and its label, or between a true place and a symbol that moved.
pub type Leader = [[f64; 2]; 2];

/// What is asked for one label.
#[derive(Clone, Debug)]
pub struct Wanted {
    /// The point that the label speaks of.
    pub anchor: [f64; 2],
    /// Radius of the symbol at that point, kept free.
    pub clear: f64,
    /// Sizes of the label's forms, width and height, the fullest first.
    pub forms: Vec<[f64; 2]>,
    /// How far from the anchor the label may be moved, in drawing units.
    pub reach: f64,
}

/// Where a label went.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Placed {
    /// Room taken.
    pub footprint: Footprint,
    /// Which of the forms was placed.
    pub form: usize,
    /// Side of the anchor that the label stands on: −1 left, 0 above or below, 1 right. Text is best held on that side.
    pub side: i8,
    /// Line from the symbol to the label, when the label is not beside it.
    pub leader: Option<Leader>,
}

/// Keeps what is taken and finds room for more.
#[derive(Clone, Debug)]
pub struct Placer {
    window: Window,
    taken: Vec<Footprint>,
    leaders: Vec<Leader>,
    // Points along drawn lines, with the cost of covering one.
    ink: Vec<([f64; 2], f64)>,
}

impl Placer {
    /// A placer for a window; nothing is placed beyond its edges.
    #[must_use]
    pub fn new(window: Window) -> Self {
        Self { window, taken: Vec::new(), leaders: Vec::new(), ink: Vec::new() }
    }

    /// Reserves room, whatever else is there.
    pub fn take(&mut self, footprint: Footprint) {
        self.taken.push(footprint);
    }

    /// Everything taken so far.
    #[must_use]
    pub fn taken(&self) -> &[Footprint] {
        &self.taken
    }

    /// Notes a line beneath the labels: covering it costs `weight` for each five units of its length.
    pub fn note_line(&mut self, line: &[[f64; 2]], weight: f64) {
        let mut left = 0.0;
        for w in line.windows(2) {
            let length = (w[1][0] - w[0][0]).hypot(w[1][1] - w[0][1]);
            let mut at = left;
            while at < length {
                let t = at / length;
                self.ink.push(([w[0][0] + t * (w[1][0] - w[0][0]), w[0][1] + t * (w[1][1] - w[0][1])], weight));
                at += 5.0;
            }
            left = at - length;
        }
    }

    /// Whether a footprint lies in the window and meets nothing taken.
    #[must_use]
    pub fn is_free(&self, footprint: &Footprint) -> bool {
        footprint.corners().iter().all(|c| self.window.holds(*c, 0.0))
            && !self.taken.iter().any(|t| t.overlaps(footprint))
            && !self.leaders.iter().any(|l| footprint.meets(l[0], l[1]))
    }

    /// Takes the footprint if it is free.
    pub fn take_if_free(&mut self, footprint: Footprint) -> bool {
        let free = self.is_free(&footprint);
        if free {
            self.taken.push(footprint);
        }
        free
    }

    /// How much of the noted lines a footprint would cover.
    #[must_use]
    pub fn ink_under(&self, f: &Footprint) -> f64 {
        self.ink.iter().filter(|(p, _)| f.holds(*p, 1.0)).map(|(_, w)| w).sum()
    }

    /// Finds the best room for a label and takes it; none if every form fails. The symbol's own footprint may already be taken.
    pub fn place(&mut self, wanted: &Wanted) -> Option<Placed> {
        for (form, size) in wanted.forms.iter().enumerate() {
            let mut best: Option<(f64, Placed)> = None;
            let mut gap = wanted.clear + 2.0;
            while gap <= wanted.reach.max(wanted.clear + 2.0) {
                for (i, (direction, side)) in DIRECTIONS.iter().enumerate() {
                    let [w, h] = [size[0] / 2.0, size[1] / 2.0];
                    let a = wanted.anchor;
                    // The label's near edge lies at the gap from the anchor in this direction.
                    let centre = match side {
                        1 => [a[0] + gap * direction[0].max(0.2) + w, a[1] + (gap + h) * direction[1]],
                        -1 => [a[0] + gap * direction[0].min(-0.2) - w, a[1] + (gap + h) * direction[1]],
                        _ => [a[0] + direction[0] * w, a[1] + (gap + h) * direction[1]],
                    };
                    let footprint = Footprint { centre, half: [w, h], turn_deg: 0.0 };
                    if !self.is_free(&footprint) {
                        continue;
                    }
                    let far = gap - wanted.clear - 2.0;
                    let leader = (far > 5.0).then(|| leader_between(a, wanted.clear, &footprint)).flatten();
                    if let Some(l) = leader {
                        // A leader crosses no label, and no symbol but its own.
                        let crosses = self.taken.iter().any(|t| t.meets(l[0], l[1]) && !t.holds(a, 0.01))
                            || self.leaders.iter().any(|m| segments_cross(l, *m));
                        if crosses {
                            continue;
                        }
                    }
                    let cost = far * 0.5 + i as f64 * 0.35 + self.ink_under(&footprint);
                    if best.as_ref().is_none_or(|(c, _)| cost < *c) {
                        best = Some((cost, Placed { footprint, form, side: *side, leader }));
                    }
                }
                gap += 4.0;
            }
            if let Some((_, placed)) = best {
                self.taken.push(placed.footprint);
                self.leaders.extend(placed.leader);
                return Some(placed);
            }
        }
        None
    }

    /// As [`Placer::place`], but with every place of a grid around the anchor tried, for drawings where many anchors crowd. The cost
    /// is the way from the symbol and what is covered.
    pub fn place_around(&mut self, wanted: &Wanted) -> Option<Placed> {
        let a = wanted.anchor;
        for (form, size) in wanted.forms.iter().enumerate() {
            let half = [size[0] / 2.0, size[1] / 2.0];
            let mut best: Option<(f64, Placed)> = None;
            let steps = |reach: f64, step: f64| (reach / step).clamp(0.0, 200.0) as i32;
            let (across, along) = (steps(wanted.reach + half[0], 6.0), steps(wanted.reach + half[1], 3.0));
            for (i, j) in (-along..=along).flat_map(|j| (-across..=across).map(move |i| (i, j))) {
                let centre = [a[0] + f64::from(i) * 6.0, a[1] + f64::from(j) * 3.0];
                let away = [0, 1].map(|k| ((centre[k] - a[k]).abs() - half[k]).max(0.0));
                let gap = away[0].hypot(away[1]) - wanted.clear;
                if !(1.5..=wanted.reach).contains(&gap) {
                    continue;
                }
                // Beside comes before above and below; a name that starts far to one side reads as another's.
                let off = (centre[0] - a[0]).abs().min((centre[1] - a[1]).abs());
                let cost = gap * 0.6 + off * 0.08;
                if best.as_ref().is_some_and(|(least, _)| *least <= cost) {
                    continue;
                }
                let footprint = Footprint { centre, half, turn_deg: 0.0 };
                if !self.is_free(&footprint) {
                    continue;
                }
                let leader = (gap > 5.0).then(|| leader_between(a, wanted.clear, &footprint)).flatten();
                // Symbols that overlap its own cannot be gone round.
                let crosses = leader.is_some_and(|l| {
                    self.taken.iter().any(|t| t.meets(l[0], l[1]) && !t.holds(a, wanted.clear))
                        || self.leaders.iter().any(|m| segments_cross(l, *m))
                });
                if crosses {
                    continue;
                }
                // Nearer to another symbol than to its own, a label would be read as the other's.
                let nearer = |rival: &Footprint| {
                    let small = rival.half[0].max(rival.half[1]) <= 2.0 * wanted.clear;
                    let from = [0, 1].map(|k| ((centre[k] - rival.centre[k]).abs() - half[k] - rival.half[k]).max(0.0));
                    small && !rival.holds(a, wanted.clear) && from[0].hypot(from[1]) < gap + 3.0
                };
                let rivals = self.taken.iter().filter(|t| nearer(t)).count();
                let cost = cost + self.ink_under(&footprint) + 14.0 * rivals as f64;
                if best.as_ref().is_none_or(|(least, _)| cost < *least) {
                    let side = if away[0] <= 0.0 { 0 } else { (centre[0] - a[0]).signum() as i8 };
                    best = Some((cost, Placed { footprint, form, side, leader }));
                }
            }
            if let Some((_, placed)) = best {
                self.taken.push(placed.footprint);
                self.leaders.extend(placed.leader);
                return Some(placed);
            }
        }
        None
    }

    /// Finds room for a symbol at its place or, when that is taken, near by; a moved symbol gets a leader from its true
    /// place. Takes the room. None when there is none within `reach`.
    pub fn place_symbol(&mut self, at: [f64; 2], radius: f64, reach: f64) -> Option<([f64; 2], Option<Leader>)> {
        let here = Footprint::around(at, radius);
        if self.is_free(&here) {
            self.taken.push(here);
            return Some((at, None));
        }
        let mut distance = radius;
        while distance <= reach {
            for i in 0..16 {
                let (s, c) = (f64::from(i) * std::f64::consts::TAU / 16.0).sin_cos();
                let centre = [at[0] + distance * c, at[1] + distance * s];
                let footprint = Footprint::around(centre, radius);
                let edge = [centre[0] - radius * c, centre[1] - radius * s];
                let leader = [at, edge];
                if self.is_free(&footprint)
                    && !self.leaders.iter().any(|m| segments_cross(leader, *m))
                    && !self.taken.iter().any(|t| t.meets(leader[0], leader[1]) && !t.holds(at, 0.01))
                {
                    self.taken.push(footprint);
                    self.leaders.push(leader);
                    return Some((centre, Some(leader)));
                }
            }
            distance += 4.0;
        }
        None
    }
}

// Directions in order of liking (right, left, then above and below), with the side that the label stands on.
const DIRECTIONS: [([f64; 2], i8); 12] = [
    ([1.0, 0.0], 1),
    ([-1.0, 0.0], -1),
    ([0.7, -0.7], 1),
    ([0.7, 0.7], 1),
    ([-0.7, -0.7], -1),
    ([-0.7, 0.7], -1),
    ([0.0, -1.0], 0),
    ([0.0, 1.0], 0),
    ([0.92, -0.38], 1),
    ([0.92, 0.38], 1),
    ([-0.92, -0.38], -1),
    ([-0.92, 0.38], -1),
];

fn leader_between(anchor: [f64; 2], clear: f64, label: &Footprint) -> Option<[[f64; 2]; 2]> {
    // The nearest point of the label, and the point of the symbol's rim towards it.
    let near = [
        anchor[0].clamp(label.centre[0] - label.half[0], label.centre[0] + label.half[0]),
        anchor[1].clamp(label.centre[1] - label.half[1], label.centre[1] + label.half[1]),
    ];
    let d = [near[0] - anchor[0], near[1] - anchor[1]];
    let length = d[0].hypot(d[1]);
    (length > clear + 1.0).then(|| [[anchor[0] + d[0] / length * clear, anchor[1] + d[1] / length * clear], near])
}

fn segments_cross(a: [[f64; 2]; 2], b: [[f64; 2]; 2]) -> bool {
    let side = |p: [f64; 2], q: [f64; 2], r: [f64; 2]| (q[0] - p[0]) * (r[1] - p[1]) - (q[1] - p[1]) * (r[0] - p[0]);
    side(a[0], a[1], b[0]) * side(a[0], a[1], b[1]) < 0.0 && side(b[0], b[1], a[0]) * side(b[0], b[1], a[1]) < 0.0
}

#[cfg(test)]
mod tests {
    use super::*;
    use proptest::prelude::*;

    const WINDOW: Window = Window { x: 0.0, y: 0.0, width: 400.0, height: 300.0 };

    proptest! {
        #[test]
        fn nothing_placed_overlaps(points in prop::collection::vec((0.0..400.0f64, 0.0..300.0f64, 20.0..160.0f64), 1..60)) {
            let mut placer = Placer::new(WINDOW);
            let mut boxes = Vec::new();
            let mut symbols = Vec::new();
            for (x, y, _) in &points {
                if let Some((at, _)) = placer.place_symbol([*x, *y], 8.0, 60.0) {
                    boxes.push(Footprint::around(at, 8.0));
                    symbols.push(at);
                }
            }
            for (at, (_, _, width)) in symbols.iter().zip(&points) {
                let wanted = Wanted { anchor: *at, clear: 8.0, forms: vec![[*width, 26.0], [*width * 0.6, 13.0]], reach: 50.0 };
                if let Some(p) = placer.place(&wanted) {
                    boxes.push(p.footprint);
                    if let Some(l) = p.leader {
                        prop_assert!(!boxes.iter().take(boxes.len() - 1).any(|b| b.meets(l[0], l[1]) && !b.holds(*at, 0.01)));
                    }
                }
            }
            for (i, a) in boxes.iter().enumerate() {
                prop_assert!(a.corners().iter().all(|c| WINDOW.holds(*c, -1e-6)));
                for b in &boxes[..i] {
                    // Independent of `overlaps`: upright rectangles, by their edges.
                    let apart = (a.centre[0] - b.centre[0]).abs() >= a.half[0] + b.half[0] - 1e-6
                        || (a.centre[1] - b.centre[1]).abs() >= a.half[1] + b.half[1] - 1e-6;
                    prop_assert!(apart, "{a:?} {b:?}");
                }
            }
        }
    }

    #[test]
    fn turned_rectangles_are_told_apart() {
        let flat = Footprint::upright(0.0, 0.0, 10.0, 2.0);
        // A square of half-diagonal 2 turned by 45°: its tip at (5, 2.0) touches the edge, at (5, 1.9) it enters.
        let tip = |y: f64| Footprint { centre: [5.0, y + 2f64.sqrt()], half: [1.0, 1.0], turn_deg: 45.0 };
        assert!(!flat.overlaps(&tip(2.0)));
        assert!(flat.overlaps(&tip(1.9)));
        assert!(flat.meets([-1.0, 1.0], [11.0, 1.5]));
        assert!(!flat.meets([-1.0, 3.0], [11.0, 2.5]));
    }

    #[test]
    fn a_label_with_no_room_takes_its_shorter_form_or_is_dropped() {
        let mut placer = Placer::new(Window { x: 0.0, y: 0.0, width: 60.0, height: 30.0 });
        let wanted = Wanted { anchor: [10.0, 15.0], clear: 5.0, forms: vec![[80.0, 12.0], [30.0, 12.0]], reach: 40.0 };
        assert_eq!(placer.place(&wanted).map(|p| p.form), Some(1));
        let hopeless = Wanted { forms: vec![[80.0, 12.0]], ..wanted };
        assert!(placer.place(&hopeless).is_none());
    }
}
