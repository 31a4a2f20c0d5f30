"""One ground in the forms in which elevation is handed out, made by GDAL (rasterio), for the program's readers.

    python tests/reference/terrain/inputs.py

writes the folder inputs/ from jacksboro.tif: its middle part in latitude and longitude, and warped by GDAL (bilinear, two samples to one) to projected systems, in all
packings, predictors, layouts and units; and files that are wrong in one way each, under inputs/wrong/.
"""

import shutil
from pathlib import Path

import numpy as np
import rasterio
from rasterio.crs import CRS
from rasterio.transform import Affine
from rasterio.warp import Resampling, calculate_default_transform, reproject

HERE = Path(__file__).resolve().parent
OUT = HERE / "inputs"


def save(name, samples, transform, crs, dtype="float32", nodata=-9999, unit=None, scale=None, **options):
    path = OUT / name
    path.parent.mkdir(parents=True, exist_ok=True)
    if options.get("tiled", True) and options.get("driver", "GTiff") == "GTiff":
        options.update(tiled=True, blockxsize=64, blockysize=64)
    with rasterio.open(path, "w", **({"driver": "GTiff"} | options), width=samples.shape[1], height=samples.shape[0], count=1, dtype=dtype,
                       crs=crs, transform=transform, nodata=nodata) as out:
        out.write(samples.astype(dtype), 1)
        if unit:
            out.units = [unit]
        if scale:
            out.scales = [scale]


def main():
    shutil.rmtree(OUT, ignore_errors=True)
    OUT.mkdir()
    with rasterio.open(HERE / "jacksboro.tif") as f:
        window = rasterio.windows.Window(120, 110, 140, 120)
        ground, transform, crs = f.read(1, window=window), f.window_transform(window), f.crs
    def warped(target, factor=1.0, method=Resampling.bilinear):
        bounds = rasterio.transform.array_bounds(*ground.shape, transform)
        t, w, h = calculate_default_transform(crs, target, ground.shape[1], ground.shape[0], *bounds)
        t, w, h = t * Affine.scale(factor), int(w / factor), int(h / factor)
        to = np.full((h, w), -9999, np.float32)
        reproject(ground, to, src_transform=transform, src_crs=crs, dst_transform=t, dst_crs=target, dst_nodata=-9999, resampling=method)
        return to, t
    save("plain.tif", ground, transform, crs, tiled=False)
    save("lzw-2.tif", np.round(ground), transform, crs, dtype="int16", nodata=-32768, compress="lzw", predictor=2)
    save("zstd-3.tif", ground, transform, crs, compress="zstd", predictor=3)
    save("packbits.tif", np.round(ground), transform, crs, dtype="int16", nodata=-32768, compress="packbits", tiled=False)
    save("big-deflate-2.tif", np.round(ground).astype(np.int32), transform, crs, dtype="int32", compress="deflate", predictor=2, BIGTIFF="YES")
    save("big-endian.tif", np.round(ground), transform, crs, dtype="int16", nodata=-32768, compress="deflate", predictor=2, ENDIANNESS="BIG")
    save("half.tif", ground, transform, crs, compress="deflate", NBITS=16)
    save("double.tif", ground, transform, crs, dtype="float64", compress="zstd", predictor=3, tiled=False)
    save("decimetres.tif", np.round(ground * 10), transform, crs, dtype="int16", nodata=-32768, compress="deflate", scale=0.1)
    utm, t = warped(CRS.from_epsg(32616), 0.5)
    save("nested/deeper/utm.tif", utm, t, CRS.from_epsg(32616), compress="zstd", predictor=3)
    feet, t = warped(CRS.from_epsg(2274), 0.5)
    save("feet.tif", np.where(feet > -9999, feet / 0.3048006096, -9999), t, CRS.from_epsg(2274), compress="deflate", predictor=3, unit="us-ft")
    own = CRS.from_proj4("+proj=lcc +lat_1=35.5 +lat_2=37.5 +lat_0=36 +lon_0=-84 +x_0=100000 +y_0=50000 +datum=WGS84 +units=m")
    lambert, t = warped(own, 0.5)
    save("lambert.tif", lambert, t, own, compress="deflate", predictor=3)
    albers, t = warped(CRS.from_epsg(5070), 0.5)
    save("albers-cog.tif", albers, t, CRS.from_epsg(5070), driver="COG", compress="deflate", predictor=3)
    # Turned by 20 degrees in UTM.
    origin = warped(CRS.from_epsg(32616))[1]
    turned = Affine.translation(origin.c + 500, origin.f + 500) * Affine.rotation(20) * Affine.scale(45, -45)
    to = np.full((300, 350), -9999, np.float32)
    reproject(ground, to, src_transform=transform, src_crs=crs, dst_transform=turned, dst_crs=CRS.from_epsg(32616), dst_nodata=-9999,
              resampling=Resampling.bilinear)
    save("turned.tif", to, turned, CRS.from_epsg(32616), compress="deflate", predictor=3)

    wrong = "wrong/"
    save(wrong + "jpeg.tif", np.clip(ground / 5, 0, 255), transform, crs, dtype="uint8", nodata=None, compress="jpeg")
    save(wrong + "lerc.tif", ground, transform, crs, compress="lerc")
    save(wrong + "no-data.tif", np.full_like(ground, -9999), transform, crs, compress="deflate")
    save(wrong + "void.tif", np.full_like(ground, -32768), transform, crs, dtype="int16", nodata=None, compress="deflate")
    save(wrong + "swapped.tif", ground, Affine(transform.a, 0, 36.5, 0, transform.e, -95.0), crs, compress="deflate")
    easting = warped(CRS.from_epsg(32616))[1]
    save(wrong + "swapped-utm.tif", utm, Affine(45, 0, easting.f, 0, -45, easting.c), CRS.from_epsg(32616), compress="deflate")
    save(wrong + "feet-unsaid.tif", np.where(feet > -9999, feet / 0.3048006096, -9999), warped(CRS.from_epsg(2274), 0.5)[1], CRS.from_epsg(2274),
         compress="deflate", predictor=3)
    save(wrong + "higher.tif", ground[:, 70:] + 500, transform * Affine.translation(70, 0), crs, compress="deflate", predictor=3)
    print(sum(p.stat().st_size for p in OUT.rglob("*") if p.is_file()))


main()
