//! Names made fit for file names and identifiers.

use any_ascii::any_ascii_char;

/// Lower-case letters, digits and single hyphens, at most 48 characters; `site` where nothing is left. Letters other than the
/// Latin alphabet's are written in it, letter by letter and without regard to language.
pub fn slug(name: &str) -> String {
    let mut out = String::new();
    let plain = name.chars().flat_map(|c| {
        let latin = match c {
            // Alef is written with the vowel that it mostly carries.
            'ا' | 'أ' | 'إ' | 'آ' | 'ٱ' => "a",
            c if c.is_alphanumeric() => any_ascii_char(c),
            _ => "-",
        };
        // Signs for sounds that have no letter are no gaps between words.
        latin.chars().filter(|c| !matches!(c, '\'' | '`'))
    });
    for c in plain {
        if c.is_ascii_alphanumeric() {
            out.push(c.to_ascii_lowercase());
        } else if !out.is_empty() && !out.ends_with('-') {
            out.push('-');
        }
        if out.len() >= 48 {
            break;
        }
    }
    let trimmed = out.trim_end_matches('-');
    if trimmed.is_empty() { "site".into() } else { trimmed.into() }
}

/// One slug for each name, all different: repeats get `-2`, `-3` …
pub fn unique_slugs<'a>(names: impl IntoIterator<Item = &'a str>) -> Vec<String> {
    let mut taken = std::collections::BTreeSet::new();
    names
        .into_iter()
        .map(|name| {
            let base = slug(name);
            let mut candidate = base.clone();
            let mut n = 2;
            while !taken.insert(candidate.clone()) {
                candidate = format!("{base}-{n}");
                n += 1;
            }
            candidate
        })
        .collect()
}

/// A short fingerprint of a text (FNV-1a, 32 bits), to keep identifiers of like-named sites apart.
/// # Source
/// Fowler, Noll and Vo; offset basis and prime as in draft-eastlake-fnv. Check value: the empty text gives 811c9dc5.
pub(crate) fn fingerprint(text: &str) -> String {
    let hash = text.bytes().fold(0x811c_9dc5_u32, |hash, byte| (hash ^ u32::from(byte)).wrapping_mul(0x0100_0193));
    format!("{hash:08x}")
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn slugs_are_safe_file_names() {
        assert_eq!(slug("Alice Springs (east)"), "alice-springs-east");
        assert_eq!(slug("../../etc/passwd"), "etc-passwd");
        // As Unicode's names of the letters and its table of Mandarin readings have them.
        assert_eq!(slug("الأقصر"), "alaqsr");
        assert_eq!(slug("Χανιά, Москва"), "chania-moskva");
        assert_eq!(slug("São Luís"), "sao-luis");
        assert_eq!(slug("哈密"), "hami");
        assert_eq!(slug("🌞"), "site");
        assert!(slug(&"long name ".repeat(40)).len() <= 48);
    }

    #[test]
    fn like_names_get_different_slugs() {
        assert_eq!(
            unique_slugs(["Base", "base!", "日本", "中国", "base-2"]),
            ["base", "base-2", "riben", "zhongguo", "base-2-2"]
        );
    }

    #[test]
    fn fingerprint_check_values() {
        // Values from the draft-eastlake-fnv test vectors: "" and "a" (from memory).
        assert_eq!(fingerprint(""), "811c9dc5");
        assert_eq!(fingerprint("a"), "e40c292c");
    }
}
