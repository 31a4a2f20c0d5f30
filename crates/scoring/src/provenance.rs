//! Where a result comes from: the plan, the program, the data and their dates.

use std::path::Path;

use serde::Serialize;
use sha2::{Digest, Sha256};

/// Where a result comes from.
#[derive(Clone, Debug, PartialEq, Serialize)]
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
#[derive(Clone, Debug, PartialEq, Serialize)]
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
        let sha256 = std::fs::read(path).ok().map(|bytes| hex(&Sha256::digest(&bytes)));
        InputFile { role, file, sha256 }
    }
}

/// Bytes in hexadecimal.
pub fn hex(bytes: &[u8]) -> String {
    bytes.iter().map(|b| format!("{b:02x}")).collect()
}
