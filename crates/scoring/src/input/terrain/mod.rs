//! Elevation models: a folder of SRTM `.hgt` tiles or GeoTIFFs, or one such file.
//!
//! - [`raster`]: what every elevation file has in common, and the block that is read from it;
//! - [`hgt`]: SRTM tiles;
//! - [`geotiff`]: GeoTIFFs in latitude and longitude;
//! - [`tiles`]: [`Terrain`], all files together behind one bounded cache.
//!
//! Heights are metres as the files give them: above mean sea level for SRTM and the usual models, not above the ellipsoid.

pub mod geotiff;
pub mod hgt;
pub mod raster;
pub mod tiles;

pub use raster::{Block, RasterShape};
pub use tiles::{Height, Terrain, TerrainError};
