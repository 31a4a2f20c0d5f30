//! Records of a grid in little room: twelve bytes each, so that a path's grid points and forty years fit into memory.

use chrono::{DateTime, Duration, NaiveDate, Timelike};

use super::Layers;
use crate::input::day_records::{DayCover, at_solar_hour};

/// Fractions are kept in steps of 1/65534, far finer than any archive's own rounding matters.
const FULL: f64 = 65_534.0;
const NONE: u16 = u16::MAX;

/// The cover of one instant at one grid point.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub struct PackedCover {
    /// Twice the minutes of UTC since 1970, and one more where the hour means something.
    when: i32,
    cover: u16,
    layers: [u16; 3],
}

fn pack(fraction: f64) -> u16 {
    (fraction.clamp(0.0, 1.0) * FULL).round() as u16
}

impl PackedCover {
    /// Packs a record; `None` for an instant beyond two thousand years from now.
    ///
    /// # Units
    /// Minutes of UTC since 1970; cover 0 to 1.
    pub fn new(minutes: i64, has_hour: bool, cover: f64, layers: Option<Layers>) -> Option<PackedCover> {
        let when = i32::try_from(minutes.checked_mul(2)?).ok()? | i32::from(has_hour);
        let layers = layers.map_or([NONE; 3], |l| l.each().map(pack));
        Some(PackedCover { when, cover: pack(cover), layers })
    }

    /// Minutes of UTC since 1970.
    pub fn minutes(&self) -> i64 {
        i64::from(self.when >> 1)
    }

    /// Whether the hour means something.
    pub fn has_hour(&self) -> bool {
        self.when & 1 == 1
    }

    /// Cover, 0 to 1.
    pub fn cover(&self) -> f64 {
        f64::from(self.cover) / FULL
    }

    /// Its layers.
    pub fn layers(&self) -> Option<Layers> {
        (self.layers[0] != NONE).then(|| Layers::of(self.layers.map(|l| f64::from(l) / FULL)))
    }

    /// The record at a longitude, by local solar time.
    pub fn unpack(&self, lon_deg: f64) -> Option<DayCover> {
        let (date, hour) = at_minutes(self.minutes())?;
        let solar = self.has_hour().then_some(hour + lon_deg / 15.0);
        let (date, hour) = at_solar_hour(date, solar)?;
        Some(DayCover { date, hour, cover: self.cover(), layers: self.layers() })
    }
}

/// Date and hour of UTC, from minutes since 1970.
pub fn at_minutes(minutes: i64) -> Option<(NaiveDate, f64)> {
    let at = DateTime::UNIX_EPOCH.checked_add_signed(Duration::try_minutes(minutes)?)?;
    Some((at.date_naive(), f64::from(at.num_seconds_from_midnight()) / 3600.0))
}

/// Minutes since 1970 of a date and an hour of UTC.
pub fn minutes_of(date: NaiveDate, hour: f64) -> i64 {
    let days = (date - DateTime::UNIX_EPOCH.date_naive()).num_days();
    days * 1440 + (hour * 60.0).round() as i64
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_record_comes_back_by_the_sun_of_its_place() {
        let date = NaiveDate::from_ymd_opt(2021, 12, 31).unwrap();
        let layers = Layers { low: 0.25, middle: 0.0, high: 1.0 };
        let packed = PackedCover::new(minutes_of(date, 20.5), true, 0.3, Some(layers)).unwrap();
        assert_eq!(std::mem::size_of::<PackedCover>(), 12);
        let back = packed.unpack(150.0).unwrap();
        assert_eq!((back.date, back.hour), (NaiveDate::from_ymd_opt(2022, 1, 1).unwrap(), Some(6.5)));
        assert!((back.cover - 0.3).abs() < 1e-5);
        let low = back.layers.unwrap();
        assert!((low.low - 0.25).abs() < 1e-5 && low.high == 1.0);
        let early = PackedCover::new(minutes_of(NaiveDate::from_ymd_opt(1950, 3, 1).unwrap(), 0.0), false, 1.0, None);
        let early = early.unwrap().unpack(-170.0).unwrap();
        assert_eq!((early.date.to_string().as_str(), early.hour, early.layers), ("1950-03-01", None, None));
        assert_eq!(PackedCover::new(i64::MAX / 2, true, 1.0, None), None);
    }
}
