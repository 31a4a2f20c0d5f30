//! Latitudes and longitudes as people write them: `36.5`, `36.5 N`, `S 15°29.2′`, `15 29 13 S`, `-15:29:13`.

/// Which of the two an angle is.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Axis {
    /// North-positive.
    Latitude,
    /// East-positive.
    Longitude,
}

impl Axis {
    /// The letters of its positive and its negative side.
    fn letters(self) -> [char; 2] {
        match self {
            Axis::Latitude => ['N', 'S'],
            Axis::Longitude => ['E', 'W'],
        }
    }

    fn name(self) -> &'static str {
        match self {
            Axis::Latitude => "latitude",
            Axis::Longitude => "longitude",
        }
    }
}

/// A longitude from −180 to 360 in (−180, 180]: from 180 on it is taken as west of Greenwich.
///
/// # Units
/// Degrees, east-positive.
pub(crate) fn signed_longitude(lon_deg: f64) -> f64 {
    match lon_deg {
        lon if lon > 180.0 => lon - 360.0,
        -180.0 => 180.0,
        lon => lon,
    }
}

/// What an angle's text is made of.
#[derive(Clone, Copy, Debug, PartialEq)]
enum Piece {
    Number { value: f64, whole: bool },
    Side(char),
    Minus,
    Plus,
}

/// An angle in degrees, from decimal degrees, degrees and minutes, or degrees, minutes and seconds, with a sign or a letter of its side.
/// The range is the caller's to check.
///
/// # Units
/// Degrees, north- or east-positive.
///
/// # Errors
/// What is wrong with the text, to follow the text itself.
/// ```
/// use noonfall_scoring::input::coordinates::{Axis, angle};
/// assert!((angle("33° 52' 12\" S", Axis::Latitude).unwrap() + 33.87).abs() < 1e-9);
/// assert!(angle("33 E", Axis::Latitude).is_err());
/// ```
pub fn angle(text: &str, axis: Axis) -> Result<f64, String> {
    let mut sign = 1.0;
    let (mut side, mut signed) = (None, false);
    let mut numbers: Vec<(f64, bool)> = Vec::new();
    for piece in pieces(text)? {
        match piece {
            Piece::Plus | Piece::Minus if signed || !numbers.is_empty() => {
                return Err("has a sign in the middle".to_owned());
            }
            Piece::Plus => signed = true,
            Piece::Minus => (signed, sign) = (true, -1.0),
            Piece::Side(letter) if side.replace(letter).is_some() => return Err("names two sides".to_owned()),
            Piece::Side(letter) if !axis.letters().contains(&letter) => {
                return Err(format!("is no {}: it says {letter}", axis.name()));
            }
            Piece::Side(_) => {}
            Piece::Number { value, whole } => numbers.push((value, whole)),
        }
    }
    if signed && side.is_some() {
        return Err("has both a sign and a letter".to_owned());
    }
    if side == Some(axis.letters()[1]) {
        sign = -1.0;
    }
    let last = numbers.len().saturating_sub(1);
    let mut degrees = 0.0;
    for (i, &(value, whole)) in numbers.iter().enumerate() {
        if i > 0 && value >= 60.0 {
            return Err(format!("has {value} {}", if i == 1 { "minutes" } else { "seconds" }));
        }
        if i < last && !whole {
            return Err("has a fraction before its last number".to_owned());
        }
        degrees += value / [1.0, 60.0, 3600.0].get(i).ok_or("has more than degrees, minutes and seconds")?;
    }
    if numbers.is_empty() {
        return Err("is not a number".to_owned());
    }
    Ok(sign * degrees)
}

fn pieces(text: &str) -> Result<Vec<Piece>, String> {
    let mut pieces = Vec::new();
    let mut rest = text.trim();
    while let Some(first) = rest.chars().next() {
        let taken = if first.is_ascii_digit() || first == '.' {
            let end = rest.find(|c: char| !(c.is_ascii_digit() || c == '.' || c == ',')).unwrap_or(rest.len());
            let number = rest[..end].trim_end_matches(',');
            let value: f64 = number.replace(',', ".").parse().map_err(|_| "is not a number".to_owned())?;
            pieces.push(Piece::Number { value, whole: !number.contains(['.', ',']) });
            number.len()
        } else if first.is_alphabetic() {
            let end = rest.find(|c: char| !c.is_alphabetic()).unwrap_or(rest.len());
            match rest[..end].to_lowercase().as_str() {
                "n" | "north" => pieces.push(Piece::Side('N')),
                "s" | "south" => pieces.push(Piece::Side('S')),
                "e" | "east" => pieces.push(Piece::Side('E')),
                "w" | "west" => pieces.push(Piece::Side('W')),
                "d" | "deg" | "degrees" | "m" | "min" | "minutes" | "sec" | "seconds" | "º" => {}
                "o" => return Err("says O, which is east in one language and west in another".to_owned()),
                _ => return Err("is not a number".to_owned()),
            }
            end
        } else {
            match first {
                '-' | '−' | '–' => pieces.push(Piece::Minus),
                '+' => pieces.push(Piece::Plus),
                '°' | '˚' | '\'' | '′' | '’' | '"' | '″' | '”' | ':' | ',' => {}
                c if c.is_whitespace() => {}
                _ => return Err("is not a number".to_owned()),
            }
            first.len_utf8()
        };
        rest = &rest[taken..];
    }
    Ok(pieces)
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn the_usual_spellings_are_read() {
        // -15 - 29/60 - 13.2/3600 = -15.487
        for text in [
            "-15.487",
            "−15,487",
            "15.487 S",
            "15.487s",
            "S15.487",
            "15°29'13.2\"S",
            "15° 29′ 13.2″ south",
            "S 15 29.22",
            "15d29m13.2sec S",
            "-15:29:13.2",
            "15º29’13,2” S",
            "15 deg 29 min 13.2 sec S",
        ] {
            let read = angle(text, Axis::Latitude).unwrap();
            assert!((read + 15.487).abs() < 1e-12, "{text}: {read}");
        }
        assert_eq!(angle("W 0 30", Axis::Longitude), Ok(-0.5));
        assert_eq!(angle("128", Axis::Longitude), Ok(128.0));
    }

    #[test]
    fn what_is_no_angle_says_why() {
        for (text, says) in [
            ("abc", "is not a number"),
            ("", "is not a number"),
            ("15°61'S", "has 61 minutes"),
            ("15 29 75", "has 75 seconds"),
            ("15.5 30", "a fraction before"),
            ("-15 S", "both a sign and a letter"),
            ("15 N S", "names two sides"),
            ("15 E", "is no latitude: it says E"),
            ("15 O", "east in one language"),
            ("1 2 3 4", "more than degrees"),
            ("15 - 3", "a sign in the middle"),
            ("1.2.3", "is not a number"),
            ("15 %", "is not a number"),
        ] {
            let wrong = angle(text, Axis::Latitude).unwrap_err();
            assert!(wrong.contains(says), "{text}: {wrong}");
        }
    }
}
