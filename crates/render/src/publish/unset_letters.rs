//! Names with letters that no shipped font holds.

use noonfall_drawing::fonts::drawable;

/// So many names are told one by one.
const TOLD: usize = 5;

/// How pictures and PDFs write the names whose letters they cannot set; nothing where they set all.
/// ```
/// use noonfall_render::publish::unset_letters;
/// let said = unset_letters(["Luxor", "哈密"]).unwrap();
/// assert!(said.contains("\"哈密\" is written \"HaMi\""), "{said}");
/// assert_eq!(unset_letters(["الأقصر", "Ελλάδα"]), None);
/// ```
pub fn unset_letters<'a>(names: impl IntoIterator<Item = &'a str>) -> Option<String> {
    let changed: Vec<(&str, String)> =
        names.into_iter().map(|name| (name, drawable(name))).filter(|(name, drawn)| name != drawn).collect();
    let told: Vec<String> =
        changed.iter().take(TOLD).map(|(name, drawn)| format!("\"{name}\" is written \"{drawn}\"")).collect();
    let more = changed.len().saturating_sub(TOLD);
    let more = if more > 0 { format!(", and {more} more names likewise") } else { String::new() };
    (!told.is_empty()).then(|| {
        format!(
            "Some letters of names are in none of the fonts that come with the program; in pictures and PDFs {}{more}.",
            told.join(", ")
        )
    })
}
