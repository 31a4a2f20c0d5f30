//! Prints what a place offers as JSON: `cargo run -p noonfall-scoring --example offer_json 2028-07-22 -33.87 151.21`

use noonfall_ephemeris::Kernel;
use noonfall_scoring::outlook::offer::{OfferSettings, offer};
use noonfall_shadow::{Conventions, Eclipse, Site};
use std::io::Write;

fn main() -> Result<(), Box<dyn std::error::Error>> {
    let arguments: Vec<String> = std::env::args().skip(1).collect();
    let [date, lat, lon] = arguments.as_slice() else { return Err("give DATE LAT LON".into()) };
    let eclipse = Eclipse::on_date(Kernel::embedded(), date.parse()?, None, &Conventions::default())?;
    let site = Site::new(lat.parse()?, lon.parse()?, 0.0)?;
    let local = eclipse.local(&site);
    let start = std::time::Instant::now();
    let found = offer(Kernel::embedded(), &eclipse, &site, chrono_tz::UTC, &local, &OfferSettings::default());
    let first = start.elapsed();
    let start = std::time::Instant::now();
    for _ in 0..20 {
        offer(Kernel::embedded(), &eclipse, &site, chrono_tz::UTC, &local, &OfferSettings::default());
    }
    let mut out = std::io::stdout().lock();
    serde_json::to_writer_pretty(&mut out, &found)?;
    writeln!(out, "\nfirst {first:?}, then {:?} each", start.elapsed() / 20)?;
    Ok(())
}
