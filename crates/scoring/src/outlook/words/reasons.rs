//! Why a place is not ranked. Figures come as they are printed.

/// Nothing is seen there.
pub const NO_ECLIPSE: &str = "outside the path: no eclipse is seen here";

/// A ring is seen there.
pub const ANNULAR: &str = "the eclipse is annular here, not total";

/// A part is covered there.
pub fn partial(magnitude: &str) -> String {
    format!("outside the path: the eclipse is partial here (magnitude {magnitude})")
}

/// Inside the smooth Moon's path, and no moment of totality.
pub fn edge_leaves_none(seconds: &str) -> String {
    format!(
        "the Moon's edge leaves no totality here: a smooth Moon would cover the Sun for {seconds} s, sunlight through its \
         valleys remains"
    )
}

/// The Sun is not up.
pub fn sun_down(altitude_deg: &str) -> String {
    format!("the Sun is below the horizon in totality (altitude {altitude_deg}° at maximum, level horizon)")
}

/// Less than the plan asks for: the quantity with its value, the bound, both with their unit, and the plan's key.
pub fn below(value: &str, least: &str, key: &str) -> String {
    format!("{value} is below the {least} required ({key})")
}

/// The same for more than it allows.
pub fn above(value: &str, most: &str, key: &str) -> String {
    format!("{value} is above the {most} allowed ({key})")
}

/// A criterion that has no value there.
pub fn cannot_be_scored(criterion: &str, why: &str) -> String {
    format!("{criterion} cannot be scored: {why}")
}
