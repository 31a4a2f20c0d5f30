//! What files for other programs say of a site, a sentence each.

use chrono::{DateTime, Utc};
use chrono_tz::Tz;

use crate::numbers::local_stamp;

/// Its rank and score.
pub fn rank(rank: usize, score: Option<f64>) -> String {
    match score.filter(|score| score.is_finite()) {
        Some(score) => format!("Rank {rank}, score {score:.3}."),
        None => format!("Rank {rank}."),
    }
}

/// Why it was rejected.
pub fn rejected(reasons: &[String]) -> String {
    format!("Rejected: {}.", reasons.join("; "))
}

/// A contact by the local clock.
pub fn contact(label: &str, utc: DateTime<Utc>, zone: Tz, above_horizon: bool) -> String {
    format!("{label} {}{}.", local_stamp(utc, zone), if above_horizon { "" } else { ", Sun below the horizon" })
}
