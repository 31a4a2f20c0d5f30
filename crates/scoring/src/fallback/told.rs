//! Base and fallbacks as the outputs tell them.

use std::path::Path;

use noonfall_shadow::geodesy::distance_km;
use rayon::prelude::*;

use super::{Drives, Fallback, JointChance, MOST_PLACES, Place, best_pair, border, fallback, fallbacks};
use crate::assess::Assessed;
use crate::clocks::{Clocks, rounded};
use crate::clouds::Clouds;
use crate::fault::{Fault, Faults};
use crate::input::drive_hours::DriveHours;
use crate::plan::{FallbackKeys, MissingPair};
use crate::rank::{BaseNote, FallbackNote, FallbackPlan, RankedSite};
use crate::wording;

/// So many places across the water are named.
const MOST_ACROSS: usize = 5;

/// What fallbacks are looked for among.
pub(crate) struct Asked<'a> {
    /// The plan's keys.
    pub keys: &'a FallbackKeys,
    /// The reader's matrix.
    pub matrix: Option<&'a DriveHours>,
    /// The cloud files, for day records.
    pub clouds: &'a Clouds,
    /// How many of the candidates, the first of them, are ranked.
    pub ranked: usize,
    /// The base, where it is none of the candidates.
    pub base: Option<&'a Assessed>,
}

/// A candidate as base or fallback.
fn place(a: &Assessed, clouds: &Clouds) -> Place {
    let inside = a.rejected.is_empty();
    let contacts = a.local().c1.zip(a.local().c2).map(|(c1, c2)| (c1.tt, c2.tt));
    Place {
        name: a.place.name.clone(),
        point: a.place.site.point(),
        totality_s: if inside { a.numbers.totality_s } else { 0.0 },
        clear: if inside { a.numbers.clear_sky } else { Some(0.0) },
        contacts: contacts.filter(|_| inside),
        days: a.days(clouds),
    }
}

/// Fallbacks of the base, of every ranked site (written into it), and the best pair.
///
/// # Errors
/// Pairs that the matrix lacks, where the plan refuses that.
pub(crate) fn plan(asked: &Asked<'_>, sites: &mut [RankedSite]) -> Result<Option<FallbackPlan>, Faults> {
    let Asked { keys, matrix, ranked, .. } = *asked;
    let mut part: Vec<&Assessed> = sites[..ranked.min(MOST_PLACES)].iter().map(|site| &site.found).collect();
    let shown = part.len();
    let base = match (&keys.base, asked.base) {
        (_, Some(base)) => {
            part.push(base);
            part.len() - 1
        }
        (None, None) => 0,
        (Some(name), None) => match part.iter().position(|a| &a.place.name == name) {
            Some(index) => index,
            None => {
                // A base that is out, or far down, still wants its fallbacks.
                let Some(site) = sites.iter().find(|site| site.name() == name) else { return Ok(None) };
                part.push(&site.found);
                part.len() - 1
            }
        },
    };
    let places: Vec<Place> = part.par_iter().map(|a| place(a, asked.clouds)).collect();
    let drives = Drives::between(&places, matrix, keys);
    if keys.missing == MissingPair::Refuse && !drives.missing.is_empty() {
        let file = matrix.map(|d| d.file.clone()).unwrap_or_default();
        let fault = |&(i, j, hours): &(usize, usize, f64)| {
            let wrong = format!(
                "no hours from {} to {} (about {} by great circle and detour)",
                places[i].name,
                places[j].name,
                wording::hours(hours)
            );
            Fault::of_file(&file, wrong, "add the pair, or set fallback.missing to \"skip\" or \"estimate\"")
        };
        return Err(Faults(drives.missing.iter().map(fault).collect()));
    }
    let note = |f: &Fallback| note(f, &places, &part);
    let of_site = |i| {
        // Where the group sleeps is told apart only where the plan says it.
        let from_base = keys.base.as_ref().and_then(|_| fallback(&places, base, i, &drives, keys));
        (fallbacks(&places, i, &drives, keys).first().map(note), from_base.as_ref().map(note))
    };
    let of_sites: Vec<_> = (0..shown).into_par_iter().map(of_site).collect();
    let of_base: Vec<FallbackNote> = fallbacks(&places, base, &drives, keys).iter().take(keys.list).map(note).collect();
    let best = best_pair(&places[..shown], &drives, keys).as_ref().map(note);
    let best_single = places[..shown]
        .iter()
        .filter(|p| p.contacts.is_some())
        .filter_map(|p| Some((p.clear? * p.totality_s, &p.name)))
        .max_by(|a, b| a.0.total_cmp(&b.0).then(b.1.cmp(a.1)))
        .map(|(expected, name)| (name.clone(), rounded(expected, 1)));
    let words = words(best.as_ref(), best_single.as_ref(), &of_base, keys);
    let (at, zone) = (places[base].point, part[base].place.zone);
    for (site, told) in sites.iter_mut().zip(of_sites) {
        (site.fallback, site.from_base) = told;
    }
    Ok(Some(FallbackPlan {
        base: places[base].name.clone(),
        base_at: BaseNote {
            lat_deg: rounded(at.lat_deg, 6),
            lon_deg: rounded(at.lon_deg, 6),
            zone: zone.map(|zone| zone.name().to_string()),
            is_site: asked.base.is_none(),
            totality_s: rounded(places[base].totality_s, 1),
        },
        limit_hours: keys.limit_hours,
        traffic: keys.traffic,
        setup_minutes: [keys.setup_minutes, keys.least_setup_minutes],
        drives: drives_words(matrix, keys),
        fallbacks: of_base,
        best_pair: best,
        best_single,
        words,
        missing_pairs: drives
            .missing
            .iter()
            .map(|&(i, j, hours)| format!("{} to {} (about {})", places[i].name, places[j].name, wording::hours(hours)))
            .collect(),
        over_water: over_water(&places, &drives),
    }))
}

fn drives_words(matrix: Option<&DriveHours>, keys: &FallbackKeys) -> String {
    let estimate = format!("great-circle distance times {} at {} km/h, by land only", keys.detour, keys.speed_km_h);
    match matrix {
        Some(matrix) => {
            let file = Path::new(&matrix.file).file_name().map_or(matrix.file.clone(), |f| f.to_string_lossy().into());
            let rest = if keys.missing == MissingPair::Estimate { format!(", else {estimate}") } else { String::new() };
            format!("hours from {file}{rest}")
        }
        None => estimate,
    }
}

/// What the best pair promises against the best single site.
fn words(
    best: Option<&FallbackNote>,
    single: Option<&(String, f64)>,
    of_base: &[FallbackNote],
    keys: &FallbackKeys,
) -> String {
    let of_pair = best.and_then(|pair| Some((pair, pair.expected_clear_totality_s?)));
    match (of_pair, single) {
        (Some((pair, expected)), Some((name, seconds))) if expected > *seconds => format!(
            "Based at {} with {} to flee to, {expected:.0} s of clear totality can be expected, against {seconds:.0} s at {name} alone.",
            pair.base, pair.name
        ),
        (Some((pair, expected)), Some((name, seconds))) => format!(
            "No pair promises more than {name} alone ({seconds:.0} s of clear totality expected); the best is {} with {} ({expected:.0} s).",
            pair.base, pair.name
        ),
        _ if !of_base.is_empty() => {
            "The chance of a clear sky is not known for any two sites within reach of each other.".to_owned()
        }
        _ => format!("No two sites lie within {} of each other.", wording::hours(keys.limit_hours)),
    }
}

/// The nearest pairs that are no drive because of water, in words; how many more there are.
fn over_water(places: &[Place], drives: &Drives) -> Vec<String> {
    let mut pairs: Vec<_> = drives
        .over_water
        .iter()
        .map(|&(i, j, crossing)| (distance_km(places[i].point, places[j].point), i, j, crossing))
        .collect();
    pairs.sort_by(|a, b| a.0.total_cmp(&b.0).then((a.1, a.2).cmp(&(b.1, b.2))));
    let more = pairs.len().saturating_sub(MOST_ACROSS);
    let mut told: Vec<String> = pairs
        .iter()
        .take(MOST_ACROSS)
        .map(|(_, i, j, crossing)| {
            format!(
                "{} to {}: {:.0} km of water{}",
                places[*i].name,
                places[*j].name,
                crossing.widest_km,
                if crossing.to_other_land { ", no way round by land" } else { " on the straight way" }
            )
        })
        .collect();
    if more > 0 {
        told.push(format!("and {more} more pairs"));
    }
    told
}

fn note(f: &Fallback, places: &[Place], part: &[&Assessed]) -> FallbackNote {
    let (base, to) = (&places[f.base], &places[f.to]);
    let zone = part[f.base].place.zone;
    let (leave_by_c1, leave_by_c2) = (Clocks { instant: f.leave_by_c1, zone }, Clocks { instant: f.leave_by_c2, zone });
    let day = to.contacts.map(|(_, c2)| Clocks { instant: c2, zone }.civil().date_naive());
    let clock = |leave_by: &Clocks| {
        let local = leave_by.civil();
        // A long drive may have to begin the day before.
        local.format(if Some(local.date_naive()) == day { "%H:%M" } else { "%H:%M on %Y-%m-%d" }).to_string()
    };
    let drive_hours = rounded(f.drive_hours, 2);
    let border = border(base, to);
    let words = format!(
        "{}, {} by road on free roads{}: {}. Leave {} by {} to be set up before first contact, by {} at worst for second contact (clocks of {}; traffic allowed for).",
        to.name,
        wording::hours(drive_hours),
        border.as_ref().map_or_else(String::new, |(one, other)| format!(", over a border ({one} to {other})")),
        f.joint.map_or_else(|| "the chance of a clear sky is not known".to_owned(), |joint| joint.words()),
        base.name,
        clock(&leave_by_c1),
        clock(&leave_by_c2),
        base.name
    );
    FallbackNote {
        base: base.name.clone(),
        name: to.name.clone(),
        drive_hours,
        drive_source: f.drive_source,
        border: border.map(|(one, other)| [one, other]),
        base_clear: base.clear.map(|clear| rounded(clear, 4)),
        clear: to.clear.map(|clear| rounded(clear, 4)),
        joint: f.joint.map(JointChance::rounded),
        expected_clear_totality_s: f.expected_clear_totality_s.map(|s| rounded(s, 1)),
        leave_by_c1,
        leave_by_c2,
        words,
    }
}
