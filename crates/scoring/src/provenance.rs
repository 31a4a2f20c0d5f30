//! Where a result comes from: the plan, the program, the data and their dates.

use std::fs::File;
use std::io::Read;
use std::path::Path;

use sha2::{Digest, Sha256};

/// Where a result comes from.
#[derive(Clone, Debug, PartialEq)]
pub struct Provenance {
    /// Name of the program.
    pub program: &'static str,
    /// Version of the program.
    pub version: &'static str,
    /// SHA-256 of the plan's text.
    pub plan_sha256: String,
    /// The files that were read.
    pub inputs: Vec<InputFile>,
    /// Ephemeris.
    pub ephemeris: String,
    /// ΔT and the date of its data.
    pub delta_t: String,
    /// The shipped data with their versions or dates.
    pub data: Vec<String>,
    /// Whether any figure is invented: if so every output must say it.
    pub invented: bool,
    /// Credits that every output must carry.
    pub credits: Vec<String>,
}

/// A file that was read.
#[derive(Clone, Debug, PartialEq)]
pub struct InputFile {
    /// What it was read for.
    pub role: &'static str,
    /// File name without folders.
    pub file: String,
    /// SHA-256 of its bytes; `None` for a folder.
    pub sha256: Option<String>,
}

impl InputFile {
    /// The file at a path.
    pub fn of(role: &'static str, path: &Path) -> InputFile {
        let file = path.file_name().map(|n| n.to_string_lossy().into_owned()).unwrap_or_default();
        InputFile { role, file, sha256: sha256_of(path).ok() }
    }
}

/// The digest of a file, read piece by piece: a large file must not fill the memory a second time.
fn sha256_of(path: &Path) -> std::io::Result<String> {
    let mut file = File::open(path)?;
    let (mut digest, mut piece) = (Sha256::new(), vec![0; 1 << 16]);
    loop {
        match file.read(&mut piece)? {
            0 => return Ok(hex(&digest.finalize())),
            length => digest.update(&piece[..length]),
        }
    }
}

/// Bytes in hexadecimal.
pub fn hex(bytes: &[u8]) -> String {
    bytes.iter().map(|b| format!("{b:02x}")).collect()
}

#[cfg(test)]
mod tests {
    use super::*;

    /// The published example: SHA-256 of "abc" (FIPS 180-4, from memory); and of a file of more than one piece.
    #[test]
    fn digests_are_those_of_the_standard() {
        let folder = tempfile::tempdir().unwrap();
        let path = folder.path().join("abc.txt");
        std::fs::write(&path, "abc").unwrap();
        let input = InputFile::of("test", &path);
        assert_eq!(input.file, "abc.txt");
        assert_eq!(input.sha256.as_deref(), Some("ba7816bf8f01cfea414140de5dae2223b00361a396177a9cb410ff61f20015ad"));
        let long = vec![b'a'; 1_000_000];
        std::fs::write(&path, &long).unwrap();
        assert_eq!(InputFile::of("test", &path).sha256, Some(hex(&Sha256::digest(&long))));
        assert_eq!(InputFile::of("test", folder.path()).sha256, None);
    }
}
