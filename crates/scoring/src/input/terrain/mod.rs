//! Elevation models: a folder of SRTM `.hgt` tiles or GeoTIFFs, folders in it, packed or not; or one such file.
//!
//! - [`raster`]: what every elevation file has in common, and the block that is read from it;
//! - [`hgt`]: SRTM tiles, plain, in gzip or in a zip;
//! - [`geotiff`]: GeoTIFFs; `chunk`: their strips and tiles, from bytes to numbers; `piece_cache`: those unpacked lately, `kept`: the way they are kept;
//! - [`crs`]: the coordinate system that their keys describe; `warp`: a file in another system laid out anew;
//! - `georeference`: where a GeoTIFF in latitude and longitude lies, as the cloud files need it;
//! - `ground`: the block under a ray or a line of places;
//! - [`tiles`]: [`Terrain`], all files together behind one bounded cache; in `told` what outputs say of them.
//!
//! Heights are metres above what the files count from: mean sea level for SRTM and the usual models, not the ellipsoid.

pub(crate) mod chunk;
pub mod crs;
pub(crate) mod georeference;
pub mod geotiff;
pub(crate) mod ground;
pub mod hgt;
pub(crate) mod kept;
pub(crate) mod piece_cache;
pub mod raster;
pub mod tiles;
pub(crate) mod warp;

pub use raster::{Block, RasterShape};
pub use tiles::{Height, Terrain, TerrainError, Told};
