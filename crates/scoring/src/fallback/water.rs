//! Water on the straight way between two places.
//!
//! # Source
//! Coasts and lakes as in [`crate::land`], 1:10m: good to about a kilometre. That narrow water is bridged: common practice, no
//! source.

use noonfall_ephemeris::GeoPoint;
use noonfall_shadow::geodesy::destination;

use crate::land::Land;

/// Water narrower than this is taken for bridged, or for the coast's own error, km.
const BRIDGED_KM: f64 = 3.0;

/// Water on a straight way.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Crossing {
    /// The widest stretch of it, km.
    pub widest_km: f64,
    /// Whether the ends lie on different land, so that no way round exists.
    pub to_other_land: bool,
}

impl Crossing {
    /// Whether a detour of that factor over `straight_km` has room for the way round.
    /// ```
    /// use noonfall_scoring::fallback::Crossing;
    /// // A bay of 12 km on a way of 50 km: a detour of a third has room for it, unless other land lies beyond.
    /// assert!(Crossing { widest_km: 12.0, to_other_land: false }.can_be_gone_round(50.0, 1.3));
    /// assert!(!Crossing { widest_km: 12.0, to_other_land: true }.can_be_gone_round(50.0, 1.3));
    /// ```
    pub fn can_be_gone_round(&self, straight_km: f64, detour: f64) -> bool {
        let room_km = if self.to_other_land { 0.0 } else { (detour - 1.0) * straight_km };
        self.widest_km <= room_km.max(BRIDGED_KM)
    }
}

/// The water between two places so far apart, on those lands ([`mass_near`]); `None` on dry land all the way.
pub fn between(from: GeoPoint, to: GeoPoint, straight_km: f64, masses: [Option<u32>; 2]) -> Option<Crossing> {
    let widest_km = Land::shipped().widest_water(from, to) * straight_km;
    let to_other_land = matches!(masses, [Some(one), Some(other)] if one != other);
    (widest_km > 0.0).then_some(Crossing { widest_km, to_other_land })
}

/// The land that a place lies on, or nearest to where the coarse coast puts it into the sea.
pub fn mass_near(point: GeoPoint) -> Option<u32> {
    let land = Land::shipped();
    let ring = |km: f64| (0..8).map(move |k| destination(point, f64::from(k) * 45.0, km));
    land.mass(point).or_else(|| [1.0, 3.0].into_iter().flat_map(ring).find_map(|near| land.mass(near)))
}

#[cfg(test)]
mod tests {
    use super::*;
    use noonfall_shadow::geodesy::distance_km;

    fn crossing(from: (f64, f64), to: (f64, f64)) -> (f64, Option<Crossing>) {
        let [from, to] = [from, to].map(|(lat_deg, lon_deg)| GeoPoint { lat_deg, lon_deg });
        let straight_km = distance_km(from, to);
        (straight_km, between(from, to, straight_km, [from, to].map(mass_near)))
    }

    /// Widths from the coasts' coordinates in any atlas: the Menorca Channel is 37 km wide, the Strait of Gibraltar 14 km
    /// at its narrowest, the Cook Strait 23 km (from memory; the straight ways meet them wider or at a slant).
    #[test]
    fn islands_and_straits_are_not_driven_to() {
        for (from, to, widest_km, to_other_land) in [
            ((39.57, 2.65), (39.89, 4.26), 35.0..60.0, true),
            // Europe and Africa hang together, the long way round.
            ((36.01, -5.60), (35.78, -5.81), 14.0..32.0, false),
            ((-41.29, 174.78), (-41.52, 173.96), 23.0..60.0, true),
        ] {
            let (straight_km, crossing) = crossing(from, to);
            let crossing = crossing.unwrap();
            assert_eq!(crossing.to_other_land, to_other_land);
            assert!(widest_km.contains(&crossing.widest_km), "{crossing:?}");
            assert!(!crossing.can_be_gone_round(straight_km, 1.3));
        }
    }

    #[test]
    fn a_bay_is_gone_round_only_as_far_as_the_detour_allows() {
        // Across the Gulf of Carpentaria's head no detour of a third goes round; along the coast of the Kimberley it does.
        let (straight_km, gulf) = crossing((-12.2, 136.8), (-12.6, 141.9));
        let gulf = gulf.unwrap();
        assert!(
            !gulf.to_other_land
                && !gulf.can_be_gone_round(straight_km, 1.3)
                && gulf.can_be_gone_round(straight_km, 3.0)
        );
        let (straight_km, inland) = crossing((-15.49, 128.12), (-15.78, 128.74));
        assert!(inland.is_none_or(|c| c.can_be_gone_round(straight_km, 1.3)), "{inland:?}");
        assert_eq!(crossing((-25.0, 130.0), (-26.0, 135.0)).1, None);
    }

    /// A road on the dry side of the meridian of 180° goes on across it: no other land lies beyond.
    #[test]
    fn the_date_line_is_no_strait() {
        for (from, to) in
            [((68.4, 178.5), (68.2, -178.8)), ((71.15, 179.3), (71.2, -179.4)), ((-16.88, 179.95), (-16.88, -179.96))]
        {
            let (straight_km, crossing) = crossing(from, to);
            assert!(
                crossing.is_none_or(|c| !c.to_other_land && c.can_be_gone_round(straight_km, 1.3)),
                "{from:?} {to:?}: {crossing:?}"
            );
        }
    }
}
