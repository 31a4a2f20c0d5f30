"""Terrain reference values, computed with NumPy, SciPy and PROJ: nothing here shares code with the program.

    python tests/reference/terrain/build.py

writes, beside itself,
- jacksboro.tif      a real elevation sample (matplotlib's Jacksboro fault DEM, SRTM data), float32, deflate, tiles of 128
- small.tif          its north-west corner of 64 x 48 samples, int16, deflate strips
- jacksboro-skyline.csv   skylines of places on it, by dense sampling along geodesics
"""

import csv
from pathlib import Path

import matplotlib.cbook
import numpy as np
import pyproj
import tifffile
from scipy.interpolate import RegularGridInterpolator

HERE = Path(__file__).resolve().parent
GEOD = pyproj.Geod(ellps="WGS84")
EYE_M, K = 1.7, 0.13


def keys(pixel_is_point):
    directory = [1, 1, 0, 3, 1024, 0, 1, 2, 1025, 0, 1, 2 if pixel_is_point else 1, 2048, 0, 1, 4326]
    return (34735, "H", len(directory), directory, True)


def write(name, samples, west, north, step, **options):
    tags = [
        (33550, "d", 3, [step, step, 0.0], True),
        (33922, "d", 6, [0.0, 0.0, 0.0, west, north, 0.0], True),
        keys(False),
    ]
    tifffile.imwrite(HERE / name, samples, photometric="minisblack", extratags=tags, metadata=None, software=False,
                     compression="zlib", compressionargs={"level": 9}, **options)


def curvature_radius(lat, azimuth):
    a, e2 = 6378137.0, 0.00669437999014
    s, t = np.sin(np.radians(lat)), np.radians(azimuth)
    across = a / np.sqrt(1 - e2 * s * s)
    along = across * (1 - e2) / (1 - e2 * s * s)
    return 1 / (np.cos(t) ** 2 / along + np.sin(t) ** 2 / across)


def skyline(height, lat, lon, azimuth, first_m):
    """Highest sight line over samples 1 m apart along the geodesic, as far as the file reaches."""
    distances = np.arange(first_m, 45_000.0, 1.0)
    lons, lats, _ = GEOD.fwd(np.full_like(distances, lon), np.full_like(distances, lat),
                             np.full_like(distances, azimuth), distances)
    heights = height(np.column_stack([lats, lons]))
    known = ~np.isnan(heights)
    d, h = distances[known], heights[known]
    eye = float(height([[lat, lon]])[0]) + EYE_M
    # Over a sphere of the optical radius, without the small-angle rule.
    r = curvature_radius(lat, azimuth) / (1 - K)
    angle = d / r
    slope = ((r + h) * np.cos(angle) - (r + eye)) / ((r + h) * np.sin(angle))
    best = int(np.argmax(slope))
    return np.degrees(np.arctan(slope[best])), d[best], float(d[-1]), eye - EYE_M


def main():
    sample = matplotlib.cbook.get_sample_data("jacksboro_fault_dem.npz")
    elevation = sample["elevation"].astype(np.float32)
    step = float(sample["dx"])
    west, north = float(sample["xmin"]), float(max(sample["ymin"], sample["ymax"]))
    rows, columns = elevation.shape
    write("jacksboro.tif", elevation, west, north, step, tile=(128, 128), predictor=True)
    write("small.tif", elevation[:48, :64].astype(np.int16), west, north, step, rowsperstrip=16, predictor=True)
    lats = north - (np.arange(rows) + 0.5) * step
    lons = west + (np.arange(columns) + 0.5) * step
    height = RegularGridInterpolator((lats[::-1], lons), elevation[::-1].astype(float), bounds_error=False)
    out = []
    row, column = np.unravel_index(np.argmax(elevation), elevation.shape)
    summit = (round(float(lats[row]), 6), round(float(lons[column]), 6))
    for lat, lon in [(36.60, -84.25), (36.52, -84.36), (36.6712, -84.1301), summit]:
        for azimuth in range(3, 360, 11):
            altitude, distance, known, ground = skyline(height, lat, lon, azimuth, step * 111_000.0)
            out.append([lat, lon, azimuth, f"{ground:.4f}", f"{altitude:.6f}", f"{distance:.0f}", f"{known:.0f}"])
    with open(HERE / "jacksboro-skyline.csv", "w", newline="") as file:
        writer = csv.writer(file, lineterminator="\n")
        writer.writerow(["lat", "lon", "azimuth_deg", "ground_m", "altitude_deg", "distance_m", "known_to_m"])
        writer.writerows(out)


main()
