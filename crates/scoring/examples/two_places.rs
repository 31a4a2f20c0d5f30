//! Writes `reports/two-places.md`, a worked comparison of a high-Sun and a low-Sun town of the demo:
//! `cargo run --release -p noonfall-scoring --example two_places reports/two-places.md`
//!
//! Every number in the page is computed here and now; a test holds the committed page against this program.

use std::error::Error;
use std::path::{Path, PathBuf};

use noonfall_ephemeris::{GeoPoint, Kernel, Tt};
use noonfall_scoring::assess::Assessed;
use noonfall_scoring::outlook::cloud::CloudOutlook;
use noonfall_scoring::outlook::offer::Offer;
use noonfall_scoring::outlook::offer::OfferSettings;
use noonfall_scoring::outlook::totality::TotalityRules;
use noonfall_scoring::place::Place;
use noonfall_scoring::prospect::{Prospect, Sources, prospects};
use noonfall_scoring::wording::percent;
use noonfall_shadow::geodesy::compass_point;
use noonfall_shadow::{Contact, Conventions, Eclipse};

/// A value, or why the page cannot be written.
type Outcome<T> = Result<T, Box<dyn Error>>;

const DATE: &str = "2028-07-22";

#[allow(dead_code)] // The test that holds the page against this program has no use for it.
fn main() -> Result<(), Box<dyn Error>> {
    match std::env::args_os().nth(1) {
        Some(path) => Ok(std::fs::write(path, page()?)?),
        None => Ok(std::io::Write::write_all(&mut std::io::stdout(), page()?.as_bytes())?),
    }
}

/// A town of the demo: name, latitude, longitude, elevation in metres, what to call it in the head of the table.
struct Town(&'static str, f64, f64, f64, &'static str);

const TOWNS: [Town; 2] = [
    Town("Wyndham", -15.4869, 128.1243, 4.0, "Wyndham, Western Australia: high Sun"),
    Town("Dunedin", -45.8742, 170.5036, 1.0, "Dunedin, New Zealand: low Sun"),
];

/// One of the two with everything there is about it.
struct Seen {
    town: &'static Town,
    all: Assessed,
    offer: Offer,
    cloud: CloudOutlook,
}

impl Seen {
    fn contact(&self, contact: Option<Contact>) -> Outcome<Contact> {
        contact.ok_or_else(|| format!("{} misses a contact", self.town.0).into())
    }

    /// The local clock, rounded to the second or the tenth.
    fn clock(&self, tt: Tt, decimals: usize) -> String {
        let half = if decimals > 0 { 0.05 } else { 0.5 };
        self.cut(tt.plus(half), decimals)
    }

    /// The local clock without what comes after the second or the tenth.
    fn cut(&self, tt: Tt, decimals: usize) -> String {
        let time = tt.to_utc().with_timezone(&self.all.place.clock_zone()).format("%H:%M:%S%.3f").to_string();
        time[..8 + if decimals > 0 { decimals + 1 } else { 0 }].to_owned()
    }
}

/// The page.
///
/// # Errors
/// When the demo's files cannot be read or one of the towns has no totality.
pub fn page() -> Outcome<String> {
    let demo: PathBuf = Path::new(env!("CARGO_MANIFEST_DIR")).join("../../data/demo/day-records.csv");
    let eclipse = Eclipse::on_date(Kernel::embedded(), DATE.parse()?, None, &Conventions::default())?;
    let sources = Sources::read(Some(&demo), None, None)?;
    let place = |t: &Town| Place::new(t.0, GeoPoint { lat_deg: t.1, lon_deg: t.2 }, Some(t.3), None);
    let places = TOWNS.iter().map(place).collect();
    let found =
        prospects(Kernel::embedded(), &TotalityRules::usual(&eclipse), &sources, &OfferSettings::default(), places);
    let mut seen = Vec::new();
    for (town, Prospect { found: all, offer }) in TOWNS.iter().zip(found) {
        let offer = offer.ok_or("no eclipse")?;
        let cloud = all.cloud.clone().ok_or("no cloud figure")?;
        seen.push(Seen { town, all, offer, cloud });
    }
    let [high, low] = seen.as_slice() else { return Err("two towns expected".into()) };
    let mut text = head(&eclipse);
    text += &format!("| | {} | {} | by what |\n| --- | --- | --- | --- |\n", high.town.4, low.town.4);
    for (what, cells, source) in rows(high, low)? {
        text += &format!("| {what} | {} | {} | {source} |\n", cells[0], cells[1]);
    }
    text += &better_for(high, low)?;
    text += CAUTIONS;
    Ok(text)
}

fn head(eclipse: &Eclipse) -> String {
    let command = |t: &Town| {
        format!(
            "noonfall at {DATE} --name {} --lat {} --lon {} --elevation {} --clouds data/demo/day-records.csv --format json\n",
            t.0, t.1, t.2, t.3
        )
    };
    format!(
        "## Two places compared\n\n\
         One eclipse, two towns of the demo: at Wyndham the Sun is eclipsed high in the north, at Dunedin low in the north-west. \
         What would a group see at each?\n\
         Towns, Sun and Moon are real; **the cloud figures are INVENTED demo data**. The numbers are those of\n\n\
         ```sh\n{}{}```\n\n\
         ΔT is {:.2} ± {:.2} s; times are by the clock of the town.\n\n",
        command(&TOWNS[0]),
        command(&TOWNS[1]),
        eclipse.delta_t().seconds,
        eclipse.delta_t().sigma_s
    )
}

/// A row: what, at both, by what.
type Row = (&'static str, [String; 2], &'static str);

fn rows(high: &Seen, low: &Seen) -> Outcome<Vec<Row>> {
    type Cell<'c> = &'c dyn Fn(&Seen) -> Outcome<String>;
    let both = |cell: Cell| -> Outcome<[String; 2]> { Ok([cell(high)?, cell(low)?]) };
    const GEOMETRY: &str = "JPL DE440, light time, IAU 2006/2000A, WGS 84";
    let contact = |pick: &'static dyn Fn(&Assessed) -> Option<Contact>, decimals: usize| {
        both(&move |s| {
            let c = s.contact(pick(&s.all))?;
            let sunk = if c.sun_apparent_altitude_deg < 0.0 { " (the Sun's centre has set)" } else { "" };
            Ok(format!("{}{sunk}", s.clock(c.tt, decimals)))
        })
    };
    let shadow = |s: &Seen| s.offer.shadow.clone().ok_or("no shadow");
    let bands = |s: &Seen| s.offer.shadow_bands.clone().ok_or("no bands");
    let limb = |s: &Seen| s.offer.limb.clone().ok_or("no limb");
    let light = |s: &Seen, t: f64| {
        let rows = s.offer.light.iter().flatten();
        rows.copied().find(|l| l.seconds_before_c2 == t).ok_or("no light")
    };
    let part = |share: f64| format!("{}", significant(100.0 * share, 2));
    Ok(vec![
        ("First contact", contact(&|p| p.local().c1, 0)?, GEOMETRY),
        ("Second contact", contact(&|p| p.local().c2, 1)?, "the same, at the Moon's measured edge"),
        ("Third contact", contact(&|p| p.local().c3, 1)?, "the same"),
        ("Fourth contact", contact(&|p| p.local().c4, 0)?, "the same"),
        ("Totality", both(&|s| Ok(format!("{:.1} s", s.all.local().duration_s)))?, "the same"),
        (
            "Window for the unaided eye",
            both(&|s| {
                let w = s.all.decision.as_ref().map_err(|_| "no window")?;
                let (off, on) = (s.cut(w.off, 0), s.cut(w.on, 0));
                Ok(format!("filter OFF {off}, ON {on}: {:.0} s", w.length_s()))
            })?,
            "whole seconds inside both contacts at the Moon's edge, by everything that could move them",
        ),
        (
            "The Sun at maximum",
            both(&|s| {
                let m = s.contact(s.all.local().max)?;
                let (h, a) = (m.sun_apparent_altitude_deg, m.sun_azimuth_deg);
                Ok(format!("{h:.1}° high in the {} ({a:.0}°)", compass_point(a)))
            })?,
            "refraction for 1010 hPa, 10 °C",
        ),
        (
            "Planets and stars to find",
            both(&|s| {
                let sky = s.offer.sky.as_ref().ok_or("no sky")?;
                let names: Vec<&str> = sky.iter().filter(|o| o.visible).map(|o| o.body).collect();
                Ok(names.join(", "))
            })?,
            "Mallama & Hilton 2018; Hipparcos; sky by Monte Carlo, eye's threshold by Schaefer 1990",
        ),
        (
            "Cloud cover, mean (INVENTED)",
            both(&|s| Ok(format!("{} of the sky", percent(s.cloud.cloud_fraction))))?,
            "620 day records of 20 Julys, made up",
        ),
        (
            "Clear line of sight to the Sun",
            both(&|s| {
                let c = &s.cloud;
                let range = format!("{} to {}", percent(c.low_95), percent(c.high_95));
                Ok(format!("**{}** (95 %: {range})", percent(c.clear_line_of_sight)))
            })?,
            "Allen & Malick 1983 under each day's sky; Beta distribution",
        ),
        (
            "The Moon's shadow",
            both(&|s| {
                let m = shadow(s)?;
                Ok(format!(
                    "comes from the {} ({:.0}°) at {:.1} km/s, {:.0} km long and {:.0} km wide",
                    compass_point(m.arrival_azimuth_deg),
                    m.arrival_azimuth_deg,
                    m.ground_speed_km_s,
                    m.major_axis_km,
                    m.minor_axis_km
                ))
            })?,
            "geometry of the cone on the ground",
        ),
        (
            "Its edge on haze at 11 km, 60, 30 and 10 s before",
            both(&|s| {
                let m = shadow(s)?;
                let edge =
                    |t: f64| m.edge_altitude_deg.iter().find(|e| e.seconds_before_c2 == t).map(|e| e.altitude_deg);
                let angle = |t| edge(t).map_or("below".to_owned(), |h| format!("{h:.0}°"));
                Ok(format!("{}, {}, {} high", angle(60.0), angle(30.0), angle(10.0)))
            })?,
            "the same",
        ),
        (
            "Nearest sunlit air at maximum",
            both(&|s| {
                let near = &s.offer.horizon_glow.as_ref().ok_or("no glow")?.nearest;
                Ok(format!("{:.0} km to the {}", near.distance_km, compass_point(near.azimuth_deg)))
            })?,
            "edge of the umbra at 5.5 km, where half the air lies below",
        ),
        (
            "Shadow bands: contrast 10 s before, calm – middle – rough ground",
            both(&|s| {
                let b = bands(s)?;
                let c = b.contrast.iter().find(|c| c.seconds_before_c2 == 10.0).ok_or("no contrast")?.bands;
                Ok(format!("{} – {} – {} %", part(c.contrast_low), part(c.contrast), part(c.contrast_high)))
            })?,
            "rms, direct light; free convection over Hufnagel–Valley 5/7, filter of a crescent as in Codona 1986",
        ),
        (
            "Shadow bands: over the eye's threshold 10 s before, on a sheet facing the Sun",
            both(&|s| {
                let b = bands(s)?;
                let c = b.contrast.iter().find(|c| c.seconds_before_c2 == 10.0).ok_or("no contrast")?.bands;
                Ok(format!(
                    "{:.2} – {:.2} – {:.2}; {:.0} % of the light is direct",
                    c.over_threshold_low,
                    c.over_threshold,
                    c.over_threshold_high,
                    100.0 * c.direct_share_sheet
                ))
            })?,
            "Kelly 1979; skylight by Monte Carlo",
        ),
        (
            "Shadow bands: outlook and direction",
            both(&|s| {
                let b = bands(s)?;
                let (a, z) = (b.band_azimuth_deg, b.band_azimuth_deg + 180.0);
                Ok(format!("{} ({:.2}); along {a:.0}°–{z:.0}° on level ground", b.class.word(), b.outlook))
            })?,
            "an ordering of places, not a probability and not shown to beat chance; along the crescent's tangent",
        ),
        (
            "Light left, 60 s and 10 s before",
            both(&|s| {
                let [a, b] = [light(s, 60.0)?, light(s, 10.0)?].map(|l| part(l.illuminance_fraction));
                Ok(format!("{a} % and {b} % of full"))
            })?,
            "limb darkening of Neckel & Labs 1994",
        ),
        (
            "Light in totality, level ground; sky overhead",
            both(&|s| {
                let l = s.offer.totality_light.as_ref().ok_or("no light")?;
                Ok(format!(
                    "{:.1} lx ({:.0} stops below daylight), {}; {:.2} cd/m²",
                    l.illuminance_lux, l.stops_below_daylight, l.like, l.zenith_cd_m2
                ))
            })?,
            "photons scattered in from outside the umbra, Monte Carlo; a factor of 1.5 either way under clear skies",
        ),
        (
            "Glow round the horizon",
            both(&|s| {
                let g = s.offer.horizon_glow.as_ref().ok_or("no glow")?;
                Ok(format!(
                    "brightest in the {}, {:.0} times the darkest, {}",
                    compass_point(g.brightest_azimuth_deg),
                    g.contrast,
                    compass_point(g.darkest_azimuth_deg)
                ))
            })?,
            "scattered sunlight 3° up, the umbra where it stands",
        ),
        (
            "Blur of a shadow 10 s before, an edge along and across the crescent",
            both(&|s| {
                let l = light(s, 10.0)?;
                Ok(format!("{:.2} and {:.1} mm per metre", l.blur_across_mm_per_m, l.blur_along_mm_per_m))
            })?,
            "geometry; 5.9 mm per metre on a usual day",
        ),
        (
            "Chromosphere shows",
            both(&|s| {
                let l = limb(s)?;
                let (a, b) = (l.chromosphere_after_c2_s, l.chromosphere_before_c3_s);
                Ok(format!("{a:.0} s after second, {b:.0} s before third contact"))
            })?,
            "2500 km deep; uncovered by the Moon's motion",
        ),
        (
            "A prominence of 30 000 km where the Sun vanished",
            both(&|s| {
                let l = limb(s)?;
                let p = l.prominences.iter().find(|p| p.height_km == 30_000.0).ok_or("no prominence")?;
                Ok(format!("{:.0} s", p.after_c2_s))
            })?,
            "the same",
        ),
        (
            "**Look-away lead**: the red rim warns of the Sun",
            both(&|s| {
                let l = limb(s)?;
                let (lead, spread) = (l.look_away_lead_s, l.look_away_spread_s);
                Ok(format!("**{lead:.0} s** ± {spread:.0} s ahead, at {}", dial(l.look_away_clock_hour)))
            })?,
            "spread: 500 km of the chromosphere's depth, and what the Moon's edge leaves",
        ),
        (
            "Colder by",
            both(&|s| {
                let t = s.offer.temperature_drop.as_ref().ok_or("no temperature")?;
                Ok(format!("{} to {} °C", t.low_c, t.high_c))
            })?,
            "4.5 °C × sin h inland, half at the coast, a fifth at sea, a factor of 1.7 either way: eight measured rows",
        ),
    ])
}

/// What each is better for. Every claim is checked against the numbers before it is written.
fn better_for(high: &Seen, low: &Seen) -> Outcome<String> {
    let claim = |holds: bool, what: &str| if holds { Ok(()) } else { Err(format!("no longer true: {what}")) };
    let bands = |s: &Seen| s.offer.shadow_bands.clone().ok_or("no bands");
    let shadow = |s: &Seen| s.offer.shadow.clone().ok_or("no shadow");
    let limb = |s: &Seen| s.offer.limb.clone().ok_or("no limb");
    let (high_bands, low_bands) = (bands(high)?, bands(low)?);
    let (high_limb, low_limb) = (limb(high)?, limb(low)?);
    claim(high.cloud.low_95 > low.cloud.high_95, "the clear odds differ beyond doubt")?;
    claim(high.all.local().duration_s > low.all.local().duration_s, "totality is longer under the high Sun")?;
    claim(high_limb.look_away_lead_s > low_limb.look_away_lead_s, "the high Sun warns longer")?;
    claim(low_bands.outlook > high_bands.outlook, "bands are better under the low Sun")?;
    claim(shadow(low)?.elongation > 3.0 * shadow(high)?.elongation, "the low Sun's shadow is far longer")?;
    let expected = |s: &Seen| s.cloud.clear_line_of_sight * s.all.local().duration_s;
    let times = shadow(low)?.ground_speed_km_s / shadow(high)?.ground_speed_km_s;
    Ok(format!(
        "\n**Wyndham is the place to see the corona**: {} of clear sky against {}, {:.0} s of clear totality to be expected against \
         {:.0} s, and light that comes through little air. For binoculars it is the place too: chromosphere and low prominences stay \
         for long, since Wyndham lies well off the middle of the path and the Moon's edge grazes along the Sun's, and the red rim warns \
         {:.0} s before the Sun is back. First-timers and families should stand there.\n\n\
         **Dunedin is the place to see the shadow**: it rushes in from below the Sun {times:.0} times as fast, a dark band that climbs the \
         sky in the last half minute, and totality hangs {:.0}° over the land, for photographers who want both in one picture. Shadow \
         bands: {} against {}.",
        percent(high.cloud.clear_line_of_sight),
        percent(low.cloud.clear_line_of_sight),
        expected(high),
        expected(low),
        high_limb.look_away_lead_s,
        low.contact(low.all.local().max)?.sun_apparent_altitude_deg,
        low_bands.class.word(),
        high_bands.class.word(),
    ) + &high_bands.exception.map_or(String::new(), |why| format!(" (At Wyndham {why})"))
        + &format!(
            " But it would be clouded out in {} of all years, as far as invented figures can say: look at the fallback before you book.\n\n",
            percent(1.0 - low.cloud.clear_line_of_sight)
        ))
}

const CAUTIONS: &str = "> **Cautions.** Filters that meet ISO 12312-2 on all eyes, and over the front of every instrument, at every moment \
    outside totality; the window above is a prediction, and the sky decides. Never look towards the coming shadow where it comes from below \
    the Sun without hiding the Sun. The red rim is a sign to lower binoculars, not a timer. Local rules, site safety officers and eye-care \
    professionals have the last word.\n>\n\
    > Mountains and valleys of the Moon move second and third contact by up to a few seconds. UTC in 2028 counts on no new leap second. \
    Contrast of shadow bands is uncalibrated: nobody knows the air near the ground beforehand. No terrain was given, so the horizon is taken as \
    level: at Dunedin a hill of 8° hides everything.\n";

/// A clock face's hour in words.
fn dial(hour: f64) -> String {
    if hour.fract() > 0.25 { format!("half past {:.0}", hour.floor()) } else { format!("{hour:.0} o'clock") }
}

/// A number to so many significant figures, without an exponent.
fn significant(value: f64, figures: i32) -> f64 {
    if value == 0.0 {
        return 0.0;
    }
    let scale = 10_f64.powi(figures - 1 - value.abs().log10().floor() as i32);
    (value * scale).round() / scale
}
