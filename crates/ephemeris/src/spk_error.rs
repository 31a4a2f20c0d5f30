//! What can be wrong with an SPK file, plain or packed.

/// Why an SPK file could not be read.
#[derive(Debug, thiserror::Error)]
pub enum SpkError {
    /// The file could not be opened or read.
    #[error("cannot be read: {0}")]
    Io(#[from] std::io::Error),
    /// Not an SPK file.
    #[error("is not an SPK kernel ({0}); give a binary .bsp file with planetary positions")]
    NotSpk(String),
    /// The file ends before what it announces, or contradicts itself.
    #[error("is damaged or truncated ({0}); fetch it again and compare its checksum")]
    Damaged(String),
}
