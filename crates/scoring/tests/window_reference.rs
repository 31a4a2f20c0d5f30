//! The printed window against an independent program: `tests/reference/windows/` (full DE440, ERFA, the lunar heights
//! themselves, no code shared with the engine).

// Helpers of tests may fail by panicking, like the tests themselves.
#![allow(clippy::unwrap_used, clippy::panic)]

use std::collections::BTreeMap;

use noonfall_ephemeris::{Kernel, Tt};
use noonfall_scoring::outlook::totality::TotalityRules;
use noonfall_scoring::outlook::window::{Decision, NoWindow};
use noonfall_shadow::{Conventions, Eclipse, Site};
use rayon::prelude::*;

const PLACES: &str = include_str!("../../../tests/reference/windows/places.csv");

/// Until then civil time followed the Earth's rotation: clocks are compared as TT − ΔT.
const UNIVERSAL_TIME_UNTIL: &str = "1961-01-01";

/// One place of the reference.
struct Place {
    cells: BTreeMap<&'static str, &'static str>,
}

impl Place {
    fn number(&self, name: &str) -> Option<f64> {
        let text = self.cells[name];
        (!text.is_empty()).then(|| text.parse().unwrap_or_else(|_| panic!("{name}: {text}")))
    }

    /// An instant, given in seconds of TT past J2000.
    fn instant(&self, name: &str) -> Option<Tt> {
        self.number(name).map(Tt)
    }

    /// What has to be taken from an instant of TT so that clocks can be compared: the ΔT by which it was found, where
    /// clocks followed the Earth.
    fn clock_s(&self, delta_t_s: f64) -> f64 {
        if self.cells["date"] < UNIVERSAL_TIME_UNTIL { delta_t_s } else { 0.0 }
    }
}

fn places() -> Vec<Place> {
    let mut lines = PLACES.lines();
    let header: Vec<&'static str> = lines.next().unwrap().split(',').collect();
    lines.map(|line| Place { cells: header.iter().copied().zip(line.split(',')).collect() }).collect()
}

/// The place, the decision, and the ΔT that the program took.
fn decided(place: &Place, rules: &TotalityRules) -> Decision {
    let number = |name: &str| place.number(name).unwrap();
    let site = Site::new(number("lat_deg"), number("lon_deg"), number("elevation_m")).unwrap();
    let mut solver = rules.solver();
    let totality = rules.totality(&mut solver, &site);
    rules.decide(&mut solver, &site, true, &totality, None)
}

/// **No window reaches outside true totality**, nor outside what true totality becomes under disturbances that the
/// reference has drawn. Counted, so that no place is left out.
#[test]
fn no_window_reaches_outside_true_totality() {
    let places = places();
    let dates: std::collections::BTreeSet<&str> = places.iter().map(|p| p.cells["date"]).collect();
    assert!(places.len() >= 300 && dates.len() >= 25, "{} places of {} eclipses", places.len(), dates.len());
    let rules: BTreeMap<&str, TotalityRules> = dates
        .into_iter()
        .map(|date| {
            let day = date.parse().unwrap();
            let eclipse = Eclipse::on_date(Kernel::embedded(), day, None, &Conventions::default()).unwrap();
            (date, TotalityRules::usual(&eclipse))
        })
        .collect();
    let found: Vec<(&Place, Decision)> =
        places.par_iter().map(|place| (place, decided(place, &rules[place.cells["date"]]))).collect();
    let (mut outside, mut given_away, mut disturbed, mut kinds) = (Vec::new(), Vec::new(), 0, BTreeMap::new());
    for (place, decision) in &found {
        let kind = kinds.entry(place.cells["place"]).or_insert([0, 0]);
        let window = match decision {
            Ok(window) => window,
            Err(reason) => {
                kind[1] += 1;
                // Where nothing is lost but for a cause that may lose it, the place lies inside the path.
                assert!(!matches!(reason, NoWindow::NoEclipse | NoWindow::Annular), "{:?}", place.cells);
                continue;
            }
        };
        kind[0] += 1;
        let own = place.clock_s(rules[place.cells["date"]].eclipse().delta_t().seconds);
        let mut hold = |names: [&str; 2], draw_s: f64| {
            let theirs = place.clock_s(place.number("delta_t_s").unwrap() + draw_s);
            let (Some(c2), Some(c3)) = (place.instant(names[0]), place.instant(names[1])) else {
                outside.push(format!("a window without totality ({names:?}): {:?} {window:?}", place.cells));
                return None;
            };
            let early_s = (window.off - c2) - own + theirs;
            let late_s = (c3 - window.on) + own - theirs;
            if early_s < 0.0 || late_s < 0.0 {
                outside.push(format!("{names:?} {early_s:.2} {late_s:.2}: {:?} {window:?}", place.cells));
            }
            Some(early_s + late_s)
        };
        given_away.extend(hold(["c2_tt", "c3_tt"], 0.0));
        if let Some(draw_s) = place.number("delta_t_draw_s") {
            disturbed += 1;
            hold(["disturbed_c2_tt", "disturbed_c3_tt"], draw_s);
        }
    }
    given_away.sort_by(f64::total_cmp);
    let at = |share: f64| given_away[((given_away.len() - 1) as f64 * share) as usize];
    println!("{} windows; of every kind of place with and without: {kinds:?}; {disturbed} disturbed", given_away.len());
    println!(
        "seconds of true totality given away: median {:.1}, 5 to 95 % {:.1} to {:.1}",
        at(0.5),
        at(0.05),
        at(0.95)
    );
    assert!(outside.is_empty(), "{} windows reach outside:\n{}", outside.len(), outside.join("\n"));
    assert!(given_away.len() >= 200 && disturbed >= 70, "{} windows, {disturbed} disturbed", given_away.len());
    // All that is given away is what the README says: a little over the floor at both ends for dates whose ΔT is known.
    assert!(at(0.5) < 6.5, "{}", at(0.5));
}
