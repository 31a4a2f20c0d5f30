//! When the unaided eye may look: filter OFF after second contact, filter ON before third.
//!
//! The window only ever shrinks: its margin is a safety allowance plus the uncertainty of the prediction, and a totality
//! that leaves no room for both margins gets no window at all. Outside the path of totality, and at every annular or
//! partial eclipse, there is none. The times are predictions; the sky decides: the filter goes back on the moment any
//! bright edge shows. Filters meet ISO 12312-2; local rules, site safety officers and eye-care professionals have the
//! last word.

use super::decimals;
use chrono::SecondsFormat;
use chrono_tz::Tz;
use noonfall_ephemeris::Tt;
use serde::Serialize;

/// Allowance on top of the timing uncertainty, seconds, unless set otherwise: covers the Moon's unmodelled limb.
pub const ALLOWANCE_S: f64 = 2.0;

/// Why an allowance was refused.
#[derive(Clone, Copy, Debug, PartialEq, thiserror::Error)]
#[error("{0} s is not a filter margin; give seconds from 0 upwards (usual: 2)")]
pub struct MarginError(pub f64);

/// A checked safety allowance, seconds: never negative.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Allowance(f64);

impl Allowance {
    /// An allowance in seconds.
    ///
    /// # Errors
    /// [`MarginError`] if it is negative or not a finite number.
    pub fn new(seconds: f64) -> Result<Allowance, MarginError> {
        if seconds.is_finite() && seconds >= 0.0 { Ok(Allowance(seconds)) } else { Err(MarginError(seconds)) }
    }

    /// Seconds.
    pub fn seconds(self) -> f64 {
        self.0
    }
}

impl Default for Allowance {
    fn default() -> Allowance {
        Allowance(ALLOWANCE_S)
    }
}

/// The window for the unaided eye.
#[derive(Clone, Debug, PartialEq, Serialize)]
pub struct FilterWindow {
    /// Filter OFF, local time, RFC 3339.
    pub off: String,
    /// Filter ON, local time, RFC 3339.
    pub on: String,
    /// Margin kept after second and before third contact, seconds: allowance plus timing uncertainty.
    #[serde(serialize_with = "decimals::three")]
    pub margin_s: f64,
    /// The part of the margin that is the timing uncertainty, seconds.
    #[serde(serialize_with = "decimals::three")]
    pub timing_uncertainty_s: f64,
    /// Filter OFF as an instant.
    #[serde(skip)]
    pub off_tt: Tt,
    /// Filter ON as an instant.
    #[serde(skip)]
    pub on_tt: Tt,
}

/// Local civil time of an instant, RFC 3339 with milliseconds and offset.
pub fn local_time(tt: Tt, zone: Tz) -> String {
    tt.to_utc().with_timezone(&zone).to_rfc3339_opts(SecondsFormat::Millis, false)
}

/// The window between second and third contact **of a total eclipse**; `None` if the margins leave none, or if the timing
/// uncertainty is not a number (an unknown uncertainty gives no permission).
pub fn filter_window(
    c2: Tt,
    c3: Tt,
    allowance: Allowance,
    timing_uncertainty_s: f64,
    zone: Tz,
) -> Option<FilterWindow> {
    if ![c2.0, c3.0, timing_uncertainty_s].iter().all(|v| v.is_finite()) {
        return None;
    }
    // To the millisecond and away from the contacts: rounding in print must not widen the window. A hundredth of a
    // millisecond is the noise of the arithmetic.
    const NOISE_MS: f64 = 0.01;
    let later = |seconds: f64| (seconds * 1000.0 - NOISE_MS).ceil() / 1000.0;
    let earlier = |seconds: f64| (seconds * 1000.0 + NOISE_MS).floor() / 1000.0;
    let uncertainty = later(timing_uncertainty_s.max(0.0));
    let margin_s = allowance.seconds() + uncertainty;
    let (off_tt, on_tt) = (Tt(later(c2.0 + margin_s)), Tt(earlier(c3.0 - margin_s)));
    if on_tt.0 <= off_tt.0 {
        return None;
    }
    Some(FilterWindow {
        off: local_time(off_tt, zone),
        on: local_time(on_tt, zone),
        margin_s,
        timing_uncertainty_s: uncertainty,
        off_tt,
        on_tt,
    })
}

#[cfg(test)]
mod tests {
    use super::*;
    use proptest::prelude::*;

    #[test]
    fn the_default_leaves_two_seconds_and_the_uncertainty() {
        let c2 = Tt::from_utc("2028-07-22T02:55:00Z".parse().unwrap());
        let window =
            filter_window(c2, c2.plus(180.0), Allowance::default(), 0.2, chrono_tz::Australia::Sydney).unwrap();
        assert_eq!(window.off, "2028-07-22T12:55:02.200+10:00");
        assert_eq!(window.on, "2028-07-22T12:57:57.800+10:00");
        assert!((window.margin_s - 2.2).abs() < 1e-12);
    }

    #[test]
    fn too_short_a_totality_gets_none() {
        let zone = chrono_tz::UTC;
        assert!(filter_window(Tt(0.0), Tt(4.0), Allowance::default(), 0.0, zone).is_none());
        assert!(filter_window(Tt(0.0), Tt(5.0), Allowance::default(), 0.6, zone).is_none());
        assert!(filter_window(Tt(0.0), Tt(0.0), Allowance::new(0.0).unwrap(), 0.0, zone).is_none());
        assert!(filter_window(Tt(0.0), Tt(100.0), Allowance::default(), f64::NAN, zone).is_none());
        assert!(filter_window(Tt(100.0), Tt(0.0), Allowance::default(), 0.0, zone).is_none());
    }

    #[test]
    fn a_margin_is_never_negative() {
        for wrong in [-0.001, f64::NAN, f64::INFINITY] {
            assert!(Allowance::new(wrong).is_err());
        }
        assert_eq!(Allowance::new(3.5).map(Allowance::seconds), Ok(3.5));
    }

    proptest! {
        /// Whatever the numbers, the window lies inside totality by at least the allowance.
        #[test]
        fn the_window_never_reaches_a_contact(
            start in 0.0..1e9_f64, duration in 0.0..450.0_f64, allowance in 0.0..30.0_f64, sigma in -1.0..30.0_f64,
        ) {
            let (c2, c3) = (Tt(start), Tt(start + duration));
            if let Some(w) = filter_window(c2, c3, Allowance::new(allowance).unwrap(), sigma, chrono_tz::UTC) {
                prop_assert!(w.off_tt - c2 >= allowance + sigma.max(0.0) - 5e-5);
                prop_assert!(c3 - w.on_tt >= allowance + sigma.max(0.0) - 5e-5);
                prop_assert!(w.on_tt > w.off_tt && w.margin_s >= 0.0);
            } else {
                prop_assert!(duration <= 2.0 * (allowance + sigma.max(0.0)) + 0.01);
            }
        }
    }
}
