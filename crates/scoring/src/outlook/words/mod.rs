//! Every sentence about the window for unaided eyes and the timeline, in one room: what text page, brief, report page and
//! calendar print comes from here, whole or shortened, never worded anew.
//!
//! - [`timeline`]: what happens when, what to do, where to look;
//! - [`reasons`]: why a place is not ranked;
//! - [`limits`]: how far inside the true limit a place stands;
//! - [`window`]: why there is no window, what a window allows for.
//!
//! No sentence for a moment outside the window sends bare eyes to within 45° of the Sun. Facts of the trade that no
//! publication backs are marked "common practice, no source" where they stand.

pub mod limits;
pub mod reasons;
pub mod timeline;
pub mod window;

use noonfall_shadow::geodesy::compass_point;

use crate::wording::azimuth;

/// What an entry of the timeline says.
#[derive(Clone, Debug, PartialEq)]
pub struct Words {
    /// A few words.
    pub title: String,
    /// What to do, where to look: whole.
    pub detail: String,
    /// The same where there is room for one line.
    pub short: String,
}

impl Words {
    /// The parts; `short` is what a line of some hundred characters can hold.
    pub fn of(title: impl Into<String>, detail: impl Into<String>, short: impl Into<String>) -> Words {
        Words { title: title.into(), detail: detail.into(), short: short.into() }
    }
}

/// An hour of the dial in words: "3 o'clock", "half past 3".
///
/// ```
/// use noonfall_scoring::outlook::words::dial;
/// assert_eq!((dial(3.0).as_str(), dial(0.5).as_str()), ("3 o'clock", "half past 12"));
/// ```
pub fn dial(hour: f64) -> String {
    let whole = hour.floor();
    if hour - whole > 0.25 {
        format!("half past {:.0}", if whole == 0.0 { 12.0 } else { whole })
    } else {
        format!("{whole:.0} o'clock")
    }
}

/// A direction: "WNW (azimuth 292°)".
pub fn direction(azimuth_deg: f64) -> String {
    format!("{} (azimuth {})", compass_point(azimuth_deg), azimuth(azimuth_deg))
}
