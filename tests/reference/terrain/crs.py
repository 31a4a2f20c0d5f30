"""Coordinates of national and international grids in latitude and longitude by PROJ (pyproj), for the program's own.

    python tests/reference/terrain/crs.py

writes crs.csv: EPSG code, x, y, latitude, longitude, allowed distance in metres.
"""

import csv
import warnings
from pathlib import Path

import pyproj
from pyproj.aoi import AreaOfInterest
from pyproj.transformer import TransformerGroup

warnings.filterwarnings("ignore")
# Code, latitude, longitude of a place in it, metres allowed: more where PROJ knows a transformation for that part of the datum's area
# alone, and the program has the one for all of it.
PLACES = [
    (32629, 43.4, -8.4, 0.02), (32730, -35.0, -1.5, 0.02), (25830, 42.3, -3.7, 0.5), (2154, 45.8, 6.9, 0.5), (2193, -44.7, 168.0, 0.5),
    (2056, 46.6, 8.0, 2.0), (21781, 46.6, 8.0, 2.0), (27700, 57.1, -4.7, 5.0), (31370, 50.5, 5.5, 2.0), (28992, 52.2, 5.4, 2.0),
    (31256, 47.6, 15.8, 2.0), (5514, 49.6, 18.4, 3.0), (3035, 47.0, 11.0, 0.5), (3031, -75.0, 40.0, 0.02), (3413, 72.0, -40.0, 0.02),
    (5041, 86.0, 30.0, 0.02), (5070, 39.0, -105.0, 2.0), (2232, 38.5, -105.5, 2.0), (26910, 48.0, -122.0, 2.0), (7850, -23.0, 116.5, 2.0),
    (28350, -23.0, 116.5, 2.0), (3857, 28.3, -16.6, 0.02), (2180, 49.3, 20.0, 0.5), (2100, 39.0, 22.0, 2.0), (3067, 65.0, 26.0, 0.5),
    (23030, 37.1, -3.4, 15.0), (5940, 70.0, 20.0, 0.5), (3765, 45.0, 16.0, 0.5), (22234, -28.0, 24.0, 15.0), (3006, 65.0, 17.0, 0.5),
]


def main():
    rows = []
    for code, lat, lon, allowed in PLACES:
        try:
            group = TransformerGroup("EPSG:4326", code, always_xy=True,
                                     area_of_interest=AreaOfInterest(lon - 0.1, lat - 0.1, lon + 0.1, lat + 0.1))
            # The most accurate that needs no grid: the program has none.
            plain = [t for t in group.transformers if "grids=" not in t.definition]
            x, y = plain[0].transform(lon, lat)
        except Exception as error:
            print(code, error)
            continue
        rows.append([code, f"{x:.4f}", f"{y:.4f}", lat, lon, allowed])
    with open(Path(__file__).resolve().parent / "crs.csv", "w", newline="") as file:
        writer = csv.writer(file, lineterminator="\n")
        writer.writerow(["epsg", "x", "y", "lat", "lon", "allowed_m"])
        writer.writerows(rows)
    print(len(rows), pyproj.proj_version_str)


main()
