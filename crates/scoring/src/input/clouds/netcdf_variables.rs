//! Which variable of a NetCDF file is cloud cover, in which unit, and seen how: by CF standard name, by the names that the
//! archives' own tables give, by long name.
//!
//! Sources: CF standard name table (`cloud_area_fraction`, canonical unit 1); ecCodes' tables for the ECMWF names (164, 186 to
//! 188; low, middle and high cloud carry the standard name `unknown` there); the MERRA-2 file specification and the CM SAF and
//! ISCCP product documents for theirs, those from memory.

use super::array_file::Variable;
use crate::outlook::line_of_sight::CoverKind;

/// What a variable is.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub(super) enum Role {
    Total,
    /// 0 low, 1 middle, 2 high.
    Layer(usize),
}

/// A variable that is cloud cover.
#[derive(Clone, Debug, PartialEq)]
pub(super) struct Cover {
    pub role: Role,
    /// How surely; the most of all is taken.
    pub certainty: u32,
    pub kind: Option<CoverKind>,
    /// What told the kind.
    pub by: String,
}

/// Archives' own names: certain where nothing else in a file has a better claim.
const TOTALS: [&str; 14] = [
    "tcc",
    "cldtot",
    "cfc",
    "cldamt",
    "cloud_area_fraction",
    "total_cloud_cover",
    "cloud_fraction_mean_mean",
    "cloud_mask_fraction/mean",
    "cloud_fraction",
    "cloud_amount",
    "clt",
    "tcdc",
    "cloud_cover",
    "cloudfraction",
];
const LAYERS: [[&str; 6]; 3] = [
    ["lcc", "cldlow", "cfc_low", "cll", "low_cloud_cover", "low_type_cloud_area_fraction"],
    ["mcc", "cldmid", "cfc_middle", "clm", "medium_cloud_cover", "medium_type_cloud_area_fraction"],
    ["hcc", "cldhgh", "cfc_high", "clh", "high_cloud_cover", "high_type_cloud_area_fraction"],
];
/// Parameter numbers of the ECMWF: total, low, middle, high.
const PARAMETERS: [f64; 4] = [164.0, 186.0, 187.0, 188.0];
/// Names that hold one of these are something else: counts, spreads, parts of the day, kinds of cloud, retrievals.
const OTHERS: [&str; 14] = [
    "nobs",
    "num_obs",
    "count",
    "uncert",
    "std",
    "stdev",
    "deviation",
    "variance",
    "retrieval",
    "types",
    "quality",
    "error",
    "bounds",
    "histogram",
];
const PARTS: [&str; 6] = ["day", "night", "_asc", "_desc", "ocean", "land"];

/// Whether a variable is cloud cover.
pub(super) fn cover(variable: &Variable) -> Option<Cover> {
    let path = variable.path.to_ascii_lowercase();
    let name = variable.name().to_ascii_lowercase();
    let standard = variable.text("standard_name").unwrap_or_default().to_ascii_lowercase();
    let long = variable.text("long_name").unwrap_or_default().to_ascii_lowercase();
    if variable.is_text || OTHERS.iter().any(|o| path.contains(o)) {
        return None;
    }
    // Standard names may carry a modifier ("cloud_area_fraction number_of_observations").
    if standard.split_whitespace().count() > 1 {
        return None;
    }
    let parameter = variable.numbers("GRIB_paramId").and_then(|n| n.first().copied());
    let parameter = parameter.and_then(|p| PARAMETERS.iter().position(|&q| q == p));
    let part = u32::from(PARTS.iter().any(|p| name.ends_with(p) || name.contains(&format!("{p}_"))));
    let layer = (0..3).find(|&i| {
        LAYERS[i].contains(&name.as_str()) || LAYERS[i].contains(&standard.as_str()) || parameter == Some(i + 1)
    });
    if let Some(layer) = layer {
        let by = format!("the name {}", variable.path);
        return Some(Cover { role: Role::Layer(layer), certainty: 10 - part, kind: Some(CoverKind::Grid), by });
    }
    let of_a_layer = ["low ", "medium ", "middle ", "high ", "low-", "mid-", "high-", "convective", "stratiform"];
    let total =
        |certainty: u32, kind, by: String| Some(Cover { role: Role::Total, certainty: certainty - part, kind, by });
    if standard == "cloud_area_fraction" && !of_a_layer.iter().any(|l| long.contains(l)) {
        // CF: "X_area_fraction" is the share of horizontal area that X occupies.
        let by = "the CF standard name cloud_area_fraction, a share of horizontal area".to_owned();
        return total(10, Some(CoverKind::Grid), by);
    }
    if parameter == Some(0) {
        return total(10, Some(CoverKind::Grid), "its GRIB parameter, 164".to_owned());
    }
    let bare = ["_day", "_night", "_asc", "_desc"].iter().find_map(|p| name.strip_suffix(p)).unwrap_or(&name);
    let place = TOTALS.iter().position(|t| *t == bare || *t == path || path.ends_with(&format!("/{t}")));
    if let Some(place) = place {
        let sure = if place < 8 { 8 } else { 6 };
        return total(sure, Some(CoverKind::Grid), format!("the name {}", variable.path));
    }
    let described = long.contains("cloud")
        && ["cover", "fraction", "amount", "cloudiness"].iter().any(|w| long.contains(w))
        && !of_a_layer.iter().any(|l| long.starts_with(l) || long.contains(l));
    if described {
        let certainty = if long.contains("total") { 5 } else { 4 };
        return total(certainty, None, format!("the long name \"{long}\""));
    }
    None
}

/// What divides a stored figure into a fraction: 1, 100, 8 or 10; `None` for a unit that is none of cloud cover.
pub(super) fn full_of(units: &str) -> Option<f64> {
    match units.trim().to_ascii_lowercase().as_str() {
        "" | "1" | "(0 - 1)" | "(0-1)" | "0-1" | "0 - 1" | "fraction" | "none" | "unitless" | "dimensionless" | "~" => {
            Some(1.0)
        }
        "%" | "percent" | "percentage" | "per cent" | "pct" => Some(100.0),
        "okta" | "oktas" | "eighths" | "1/8" => Some(8.0),
        "tenths" | "1/10" => Some(10.0),
        _ => None,
    }
}

#[cfg(test)]
mod tests {
    use super::super::array_file::Attribute;
    use super::*;

    fn variable(path: &str, attributes: &[(&str, &str)]) -> Variable {
        Variable {
            path: path.to_owned(),
            dimensions: Vec::new(),
            is_text: false,
            size: 4,
            attributes: attributes.iter().map(|(n, t)| ((*n).to_owned(), Attribute::Text((*t).to_owned()))).collect(),
        }
    }

    #[test]
    fn archives_names_are_told_from_what_is_beside_them() {
        let role = |path: &str, attributes: &[(&str, &str)]| cover(&variable(path, attributes)).map(|c| c.role);
        assert_eq!(role("x", &[("standard_name", "cloud_area_fraction")]), Some(Role::Total));
        assert_eq!(role("lcc", &[("standard_name", "unknown")]), Some(Role::Layer(0)));
        assert_eq!(role("CLDHGH", &[]), Some(Role::Layer(2)));
        assert_eq!(role("Cloud_Mask_Fraction/Mean", &[]), Some(Role::Total));
        for other in ["cfc_nobs", "cldamt_types", "Cloud_Retrieval_Fraction_Ice", "cfc_std", "t2m"] {
            assert_eq!(role(other, &[]), None, "{other}");
        }
        assert_eq!(role("n", &[("standard_name", "cloud_area_fraction number_of_observations")]), None);
        let sure = |path: &str| cover(&variable(path, &[])).unwrap().certainty;
        assert!(sure("cfc") > sure("cfc_day") && sure("tcc") > sure("cloud_cover"));
        let long = cover(&variable("n", &[("long_name", "Fraction of sky with cloud")])).unwrap();
        assert_eq!((long.role, long.kind), (Role::Total, None));
    }

    #[test]
    fn units_are_read_as_the_archives_write_them() {
        let units = ["(0 - 1)", "1", "%", "percent", "okta", "K", "kg m-2"];
        let full = [Some(1.0), Some(1.0), Some(100.0), Some(100.0), Some(8.0), None, None];
        assert_eq!(units.map(full_of), full);
    }
}
