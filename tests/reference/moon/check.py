#!/usr/bin/env python3
"""Hold the recipe of the Moon's edge against things outside it, and show what its sampling leaves.

Run:    python tests/reference/moon/check.py --archive pdsimage-1.1.1.tar.gz [--places N]
Prints  the grid's mean radius and centre against the published ones; Meeus's example 53.a; the mean edge of 2028-07-22;
        contacts.csv with all steps halved and doubled, and with candidates taken twice as freely; contacts.csv by rays: a
        second way that knows no edge, no position angle about the Moon and no largest radius, only whether a straight line
        from the site meets the ground of the Moon.
"""
import argparse
import csv
import sys
from pathlib import Path

import erfa
import numpy as np

HERE = Path(__file__).resolve().parent
sys.path[:0] = [str(HERE), str(HERE.parent)]

import lunar_grid
import moon_edge
import sites
import topocentric as topo

ARCSEC = moon_edge.ARCSEC


def grid_figures(grid):
    """Mean radius and centre of figure, by cells: published 1737.15 km and (-1.777, -0.730, +0.237) km (Smith et al. 2010, 2017, from memory)."""
    r = lunar_grid.SPHERE_KM + grid.heights * 0.0005
    lat = np.radians(90.0 - (np.arange(lunar_grid.ROWS) + 0.5) / lunar_grid.PER_DEGREE)[:, None]
    lon = np.radians((np.arange(lunar_grid.COLUMNS) + 0.5) / lunar_grid.PER_DEGREE)[None, :]
    area = np.cos(lat)
    volume, moment = np.sum(r ** 3 / 3 * area), r ** 4 / 4 * area
    centre = [np.sum(moment * v) / volume for v in (np.cos(lat) * np.cos(lon), np.cos(lat) * np.sin(lon), np.sin(lat))]
    print(f"grid: mean radius {np.sum(r * area) / np.sum(area) / lunar_grid.COLUMNS:.3f} km, centre of figure "
          f"{centre[0]:+.3f} {centre[1]:+.3f} {centre[2]:+.3f} km, heights {grid.heights.min() * 0.0005:.3f} to {grid.heights.max() * 0.0005:.3f} km")


def meeus():
    """Astronomical Algorithms (2nd ed.), example 53.a, 1992-04-12 0h TD: l -1.23, b +4.20, axis 15.08 degrees."""
    jd = sum(erfa.cal2jd(1992, 4, 12))
    tdb = topo.tdb_minus_tt(jd, np.zeros(1)) + np.zeros(1)
    earth, light = topo.barycentric("earth", jd, tdb).T, 1.3
    for _ in range(4):
        moon = topo.barycentric("moon", jd, tdb - light).T - earth
        light = np.linalg.norm(moon, axis=1) / topo.LIGHT_KM_S
    sky = object.__new__(moon_edge.Sky)
    sky.look, sky.body = moon / np.linalg.norm(moon, axis=1)[:, None], lunar_grid.orientation(jd, tdb - light)
    sky.axis, sky.pole = sky.body[:, 2, :], erfa.pnm06a(jd, 0.0)[None, 2, :]
    print("Meeus 53.a: l %+.3f b %+.3f axis %.3f (published -1.23 +4.20 15.08)" % sky.libration())


def mean_edge(grid):
    """Mean, lowest and highest edge at Sydney at mid eclipse of 2028; handbook's exterior k is 1738.09 km."""
    eclipse = sites.eclipses(["2028-07-22"])[0]
    place = moon_edge.Place(grid, eclipse["epoch_jd"], -33.8688, 151.2093, 20.0, 69.49)
    middle = sites.smooth(eclipse, np.array([-33.8688]), np.array([151.2093]), np.array([20.0]))["max"][0]
    edge = moon_edge.Edge(grid, place.sky(middle))
    km = edge.coarse(lambda theta: theta >= 0)[2].max(axis=1)
    print(f"edge 2028-07-22: mean {km.mean():.2f} km, lowest {km.min():.2f}, highest {km.max():.2f}")


def lit_rays(grid, place, tt_s, position_angle, width_deg, count, every_km):
    """How many of the rays from the site to the Sun's limb, about a position angle, miss the Moon's ground.

    Each ray is followed through the zone in which it could meet ground and the ground below it looked up.
    """
    sky = place.sky(tt_s)
    sun, pole = sky.sun[0], sky.pole[0]
    east = np.cross(pole, sun) / np.linalg.norm(np.cross(pole, sun))
    north = np.cross(sun, east)
    angle = np.radians(position_angle + np.linspace(-width_deg / 2, width_deg / 2, count))
    s = sky.sun_radius[0]
    rays = np.cos(s) * sun + np.sin(s) * (np.cos(angle)[:, None] * north + np.sin(angle)[:, None] * east)
    body = sky.body[0]
    rays, eye = rays @ body.T, -(body @ (sky.look[0] * sky.distance[0]))
    nearest = -(rays @ eye)
    along = np.arange(-260.0, 260.0, every_km)
    lit = 0
    for part in np.array_split(np.arange(count), 40):
        p = eye + rays[part][:, None, :] * (nearest[part][:, None] + along)[:, :, None]
        d = np.linalg.norm(p, axis=2)
        ground = grid.radius_km([p[:, :, a] / d for a in range(3)])
        lit += int(np.sum(np.all(d > ground, axis=1)))
    return lit


def main():
    parser = argparse.ArgumentParser(description=__doc__, formatter_class=argparse.RawDescriptionHelpFormatter)
    parser.add_argument("--archive", required=True)
    parser.add_argument("--places", type=int, default=40)
    arguments = parser.parse_args()
    grid = lunar_grid.Grid(arguments.archive)
    grid_figures(grid)
    meeus()
    mean_edge(grid)
    with open(HERE / "contacts.csv", encoding="utf-8") as file:
        rows = list(csv.DictReader(file))
    rows = [rows[k] for k in np.linspace(0, len(rows) - 1, arguments.places).astype(int)]
    known = {e["date"]: e for e in sites.eclipses(sorted({r["date"] for r in rows}))}
    halved, doubled, wider, leasts, wrong, usual = [], [], [], [], 0, moon_edge.SLOPE
    for r in rows:
        epoch = known[r["date"]]["epoch_jd"]
        base = (epoch - topo.J2000_JD) * topo.DAY_S
        seconds = lambda key: float(r[key]) - base if r[key] else np.nan
        arguments_of = (grid, epoch, float(r["lat_deg"]), float(r["lon_deg"]), float(r["elevation_m"]), float(r["delta_t_s"]), float(r["sun_radius_km"]))
        depth = float(r["least_arcsec"]) if r["least_arcsec"] else -100.0
        smooth = (seconds("smooth_c2_tt"), seconds("smooth_c3_tt"), seconds("max_tt"), -depth * ARCSEC)
        for step, slope, into in ((0.5, 1.0, halved), (2.0, 1.0, doubled), (1.0, 2.0, wider)):
            moon_edge.SLOPE = usual * slope
            place = moon_edge.Place(*arguments_of, step_deg=moon_edge.STEP_DEG * step)
            second, third, least = place.contacts(*smooth)
            if r["least_arcsec"]:
                leasts.append(least / ARCSEC - depth)
            if (second is None) != (r["c2_tt"] == ""):
                print("  totality or not differs:", r["date"], r["place"], r["lat_deg"], r["lon_deg"], "least", r["least_arcsec"])
            elif second:
                into += [second["tt_s"] - seconds("c2_tt"), third["tt_s"] - seconds("c3_tt")]
        moon_edge.SLOPE = usual
        if r["c2_tt"]:
            place = moon_edge.Place(*arguments_of)
            for key, angle, rate, out in (("c2_tt", "last_light_deg", "rate_c2_arcsec_s", -1), ("c3_tt", "first_light_deg", "rate_c3_arcsec_s", 1)):
                # 0.3 degrees of the limb with a ray every 0.008 arcsecond, each followed in steps of 50 m; that resolves some 0.006 arcsecond
                slack = out * (0.01 + 0.006 / float(r[rate]))
                outside = lit_rays(grid, place, seconds(key) + slack, float(r[angle]), 0.3, 601, 0.05)
                inside = lit_rays(grid, place, seconds(key) - slack, float(r[angle]), 0.3, 601, 0.05)
                # and 60 degrees of it more coarsely, a little further inside: nothing shines elsewhere
                slack = out * (0.02 + 0.03 / float(r[rate]))
                inside += lit_rays(grid, place, seconds(key) - slack, float(r[angle]), 60.0, 721, 0.15)
                if outside == 0 or inside > 0:
                    wrong += 1
                    print(f"  rays: {r['date']} {r['place']} {r['lat_deg']} {r['lon_deg']} {key}: outside {outside}, inside {inside}, rate {r[rate]}")
    for name, values in (("steps halved", halved), ("steps doubled", doubled), ("candidates by twice the slope", wider)):
        v = np.abs(values)
        print(f"{name}: {len(v)} contacts, median {np.median(v):.5f} s, 95 % {np.percentile(v, 95):.5f}, largest {v.max():.5f} s")
    print(f"least excess, all three: largest change {np.abs(leasts).max():.4f} arcsec")
    print(f"rays: {len(halved)} contacts, {wrong} disagree")


if __name__ == "__main__":
    main()
