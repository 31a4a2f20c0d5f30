//! Places near the line beyond which there is no totality, in words.

use super::direction;
use crate::outlook::true_limit::TrueLimitNear;

/// The warning of a place near the true limit, one sentence.
pub fn near_true_limit(near: &TrueLimitNear) -> String {
    // Rounded down: never further inside than it is.
    let km = (near.km * 10.0).floor() / 10.0;
    format!(
        "Only {km:.1} km inside the line beyond which the Moon's measured edge leaves no totality: it lies towards {}. \
         Further inside totality lasts longer and is surer.",
        direction(near.outwards_deg)
    )
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn never_further_inside_than_it_is() {
        let said = near_true_limit(&TrueLimitNear { km: 1.99, outwards_deg: 22.5 });
        assert!(said.starts_with("Only 1.9 km inside") && said.contains("NNE (azimuth 23°)"), "{said}");
    }
}
