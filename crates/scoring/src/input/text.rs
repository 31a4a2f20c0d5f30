//! Text as people save it: UTF-8 with or without its mark, UTF-16 by its mark, Latin-1 otherwise.

use crate::fault::{Fault, Faults};

/// So many bytes tell whether a file is text.
const HEAD: usize = 64 << 10;

/// The bytes of a file as UTF-8.
///
/// # Errors
/// One fault for what is no text.
pub fn text_of(file: &str, bytes: Vec<u8>) -> Result<Vec<u8>, Faults> {
    let marked = bytes.starts_with(&[0xff, 0xfe]) || bytes.starts_with(&[0xfe, 0xff]);
    if !marked && bytes.iter().take(HEAD).any(|&b| b == 0) {
        return Err(Fault::of_file(file, "is binary, not text", "save the table as CSV in UTF-8").into());
    }
    if !marked && std::str::from_utf8(&bytes).is_ok() {
        return Ok(bytes);
    }
    Ok(decode(&bytes).into_bytes())
}

/// Text as UTF-8; the last character may be cut in half, as in the head of a file.
pub(crate) fn decode(bytes: &[u8]) -> String {
    let pairs = |read: fn([u8; 2]) -> u16| {
        let units = bytes[2..].chunks_exact(2).map(|c| read([c[0], c[1]]));
        char::decode_utf16(units).map(|c| c.unwrap_or('\u{fffd}')).collect()
    };
    if bytes.starts_with(&[0xff, 0xfe]) {
        return pairs(u16::from_le_bytes);
    }
    if bytes.starts_with(&[0xfe, 0xff]) {
        return pairs(u16::from_be_bytes);
    }
    match std::str::from_utf8(bytes) {
        Ok(text) => text.to_owned(),
        Err(e) if e.error_len().is_none() => String::from_utf8_lossy(&bytes[..e.valid_up_to()]).into_owned(),
        Err(_) => bytes.iter().map(|&b| char::from(b)).collect(),
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn latin_1_and_utf_16_become_text() {
        assert_eq!(text_of("f", b"Z\xfcrich".to_vec()).unwrap(), "Zürich".as_bytes());
        assert_eq!(text_of("f", vec![0xfe, 0xff, 0, b'a', 0, b'b']).unwrap(), b"ab");
        assert_eq!(text_of("f", vec![0xff, 0xfe, b'a', 0, b'b', 0]).unwrap(), b"ab");
        assert!(text_of("f", b"a\0b".to_vec()).is_err());
    }
}
