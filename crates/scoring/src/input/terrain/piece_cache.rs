//! Strips and tiles of GeoTIFFs that were unpacked lately.
//!
//! A block of samples ends one row and one column inside the pieces that follow it, so that every piece is wanted for up to four
//! blocks; a file in another system asks for overlapping rectangles. Unpacking is most of what reading costs.

use std::sync::Arc;

use super::kept::Kept;

/// Heights of a piece, m; `None` where the file leaves it out.
pub(crate) type Piece = Option<Arc<Vec<f32>>>;

/// Pieces of all files of a terrain, by the file's number and the piece's.
pub(crate) type PieceCache = Kept<(u32, usize), Piece>;

/// Bytes that a piece takes.
pub(crate) fn bytes(piece: &Piece) -> u64 {
    piece.as_ref().map_or(0, |p| (p.len() * size_of::<f32>()) as u64) + 64
}
