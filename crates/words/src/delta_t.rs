//! ΔT as it was taken, and what it moves; and UTC where no leap second is known yet.

use noonfall_scoring::rank::DeltaTNote;
use noonfall_shadow::Eclipse;

/// UTC past the table of leap seconds.
pub const UTC_HELD: &str = "UTC is held at the last known leap second.";

/// The same with what it means.
pub const UTC_HELD_MEANS: &str =
    "UTC lies beyond the table of leap seconds and is held at its last offset: clocks may come to differ by a second.";

/// At one place.
pub fn at_place(eclipse: &Eclipse, lat_deg: f64) -> String {
    let delta_t = eclipse.delta_t();
    format!(
        "ΔT {:.2} s ± {:.2} s, {}; one σ moves the path {:.2} km in longitude here.",
        delta_t.seconds,
        delta_t.sigma_s,
        delta_t.origin,
        delta_t.shift_km(lat_deg)
    )
}

/// Beside a map.
pub(crate) fn on_map(eclipse: &Eclipse) -> String {
    let delta_t = eclipse.delta_t();
    format!("ΔT {:.1} s ± {:.1} s, {}.", delta_t.seconds, delta_t.sigma_s, delta_t.origin)
}

/// Under a brief.
pub(crate) fn on_brief(dt: &DeltaTNote, origin: &str) -> String {
    format!(
        "Delta T {:.2} ± {:.2} s ({origin}); one sigma moves the path {:.2} km in longitude.",
        dt.seconds, dt.sigma_s, dt.sigma_shift_km
    )
}

/// Of a ranking: on the report page and beside maps.
pub fn of_ranking(dt: &DeltaTNote) -> String {
    format!(
        "ΔT {:.2} s ± {:.2} s (one sigma), {}; one sigma moves the path {:.2} km in longitude.",
        dt.seconds, dt.sigma_s, dt.origin, dt.sigma_shift_km
    )
}

/// In a file for other programs, which may not know the letter.
pub fn in_file(seconds: f64, sigma_s: f64) -> String {
    format!("Delta T {seconds:.2} s, one sigma {sigma_s:.2} s.")
}
