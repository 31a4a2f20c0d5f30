"""Finding eclipses, and places worth testing, for the reference fixtures.

Shadow cones are used here only to find eclipses, to name their kind and to choose where to
put test sites. The values in the fixtures come from `topocentric`, which knows nothing of cones,
except the columns of eclipses.csv that are defined by the shadow axis (gamma, greatest eclipse).
"""
import csv
import datetime
from pathlib import Path

import erfa
import numpy as np

import topocentric as topo

DATA = Path(__file__).resolve().parents[2] / "data"
POLAR_RATIO = 1.0 - topo.FLATTENING


def delta_t(jd):
    """Delta T in seconds, to 0.1 s, from the tables under data/time; the last value is held after they end."""
    year = 2000 + (jd - topo.J2000_JD) / 365.25
    with open(DATA / "time" / "delta-t.csv", encoding="utf-8") as file:
        rows = [(float(r["mjd"]) + 2400000.5, float(r["delta_t_s"])) for r in csv.DictReader(file)]
    if jd >= rows[0][0]:
        return round(float(np.interp(jd, *np.array(rows).T)), 1)
    with open(DATA / "time" / "delta-t-spline.csv", encoding="utf-8") as file:
        for r in csv.DictReader(file):
            if float(r["start_year"]) <= year <= float(r["end_year"]):
                x = (year - float(r["start_year"])) / (float(r["end_year"]) - float(r["start_year"]))
                return round(sum(float(r[f"a{i}"]) * x ** i for i in range(4)), 1)
    raise ValueError(jd)


def geocentric(epoch_jd, tt_s):
    """Sun and Moon from the geocentre, each retarded, km; shape (n, 3)."""
    tdb_s = tt_s + topo.tdb_minus_tt(epoch_jd, tt_s)
    earth = topo.barycentric("earth", epoch_jd, tdb_s).T
    out = []
    for body, light in (("sun", 500.0), ("moon", 1.3)):
        light_s = np.full_like(tt_s, light)
        for _ in range(4):
            vector = topo.barycentric(body, epoch_jd, tdb_s - light_s).T - earth
            light_s = np.linalg.norm(vector, axis=1) / topo.LIGHT_KM_S
        out.append(vector)
    return out


class Shadow:
    """The shadow's axis and cones about the geocentre at given instants (celestial axes, km)."""

    def __init__(self, epoch_jd, tt_s):
        self.epoch_jd, self.tt_s = epoch_jd, np.asarray(tt_s, dtype=float)
        sun, moon = geocentric(epoch_jd, self.tt_s)
        along = moon - sun
        distance = np.linalg.norm(along, axis=1)
        self.axis = along / distance[:, None]                      # away from the Sun
        depth = np.sum(moon * self.axis, axis=1)
        self.foot = moon - depth[:, None] * self.axis              # where the axis meets the fundamental plane
        height = -depth                                            # of the Moon above that plane
        sin1 = (topo.SUN_RADIUS_KM + topo.MOON_EXTERIOR_KM) / distance
        sin2 = (topo.SUN_RADIUS_KM - topo.MOON_INTERIOR_KM) / distance
        self.tan1, self.tan2 = sin1 / np.sqrt(1 - sin1 ** 2), sin2 / np.sqrt(1 - sin2 ** 2)
        self.l1 = (height + topo.MOON_EXTERIOR_KM / sin1) * self.tan1
        self.l2 = (height - topo.MOON_INTERIOR_KM / sin2) * self.tan2   # negative: total

    def north(self):
        """Celestial north of date in the fundamental plane, unit vectors; east = axis x pole."""
        pole = erfa.pnm06a(self.epoch_jd, self.tt_s / topo.DAY_S)[:, 2, :]
        east = np.cross(self.axis, pole)
        east = east / np.linalg.norm(east, axis=1)[:, None]
        return np.cross(east, self.axis), east

    def miss_km(self):
        return np.linalg.norm(self.foot, axis=1)

    def pierce(self, delta_t_s, right_km=0.0, up_km=0.0):
        """Where the line parallel to the axis, moved `right_km` east and `up_km` north, meets the sunlit ellipsoid.

        Returns latitude, longitude (degrees; NaN where it misses) and height above the fundamental plane (km).
        """
        matrix = topo.terrestrial_matrix(self.epoch_jd, self.tt_s, delta_t_s)
        start = self.foot
        if np.any(right_km) or np.any(up_km):
            north, east = self.north()
            start = start + np.asarray(right_km)[..., None] * east + np.asarray(up_km)[..., None] * north
        p = np.einsum("nij,nj->ni", matrix, start)
        d = -np.einsum("nij,nj->ni", matrix, self.axis)            # towards the Sun
        stretch = np.array([1.0, 1.0, 1.0 / POLAR_RATIO]) / topo.EARTH_RADIUS_KM
        ps, ds = p * stretch, d * stretch
        a, b, c = np.sum(ds * ds, axis=1), np.sum(ps * ds, axis=1), np.sum(ps * ps, axis=1) - 1
        with np.errstate(invalid="ignore"):
            t = (-b + np.sqrt(b * b - a * c)) / a
        hit = np.isfinite(t)
        where = p + np.where(hit, t, 0.0)[:, None] * d
        lon, lat, _ = erfa.gc2gd(1, where * 1000.0)
        return np.where(hit, np.degrees(lat), np.nan), np.where(hit, np.degrees(lon), np.nan), np.where(hit, t, np.nan)

    def clearance(self, delta_t_s):
        """How far the axis passes outside the Earth's outline as seen along it, km; negative inside."""
        matrix = topo.terrestrial_matrix(self.epoch_jd, self.tt_s, delta_t_s)
        p = np.einsum("nij,nj->ni", matrix, self.foot)
        d = np.einsum("nij,nj->ni", matrix, self.axis)
        stretch = np.array([1.0, 1.0, 1.0 / POLAR_RATIO])
        ps, ds = p * stretch, d * stretch
        closest = ps - (np.sum(ps * ds, axis=1) / np.sum(ds * ds, axis=1))[:, None] * ds
        ratio = np.linalg.norm(closest, axis=1) / topo.EARTH_RADIUS_KM
        return np.linalg.norm(self.foot, axis=1) * (1 - 1 / ratio)

    def nearest(self, delta_t_s):
        """The point of the ellipsoid's outline nearest the axis (for eclipses whose axis misses); degrees."""
        matrix = topo.terrestrial_matrix(self.epoch_jd, self.tt_s, delta_t_s)
        p = np.einsum("nij,nj->ni", matrix, self.foot)
        d = np.einsum("nij,nj->ni", matrix, self.axis)
        stretch = np.array([1.0, 1.0, 1.0 / POLAR_RATIO])
        ps, ds = p * stretch, d * stretch
        closest = ps - (np.sum(ps * ds, axis=1) / np.sum(ds * ds, axis=1))[:, None] * ds
        limb = closest / np.linalg.norm(closest, axis=1)[:, None] * topo.EARTH_RADIUS_KM / stretch
        lon, lat, _ = erfa.gc2gd(1, limb * 1000.0)
        return np.degrees(lat), np.degrees(lon)


def find(first_year=1900, last_year=2100):
    """Every solar eclipse of the span, as dicts (see `describe`)."""
    start = sum(erfa.cal2jd(first_year, 1, 1))
    end = sum(erfa.cal2jd(last_year + 1, 1, 1))
    days = np.arange(start, end, 0.25)
    sun, moon = geocentric(topo.J2000_JD, (days - topo.J2000_JD) * topo.DAY_S)
    cosine = np.sum(sun * moon, axis=1) / np.linalg.norm(sun, axis=1) / np.linalg.norm(moon, axis=1)
    peak = np.flatnonzero((cosine[1:-1] > cosine[:-2]) & (cosine[1:-1] >= cosine[2:]) & (cosine[1:-1] > np.cos(np.radians(3.5)))) + 1
    found = [describe(days[i]) for i in peak]
    return [e for e in found if e]


def describe(near_jd):
    """Greatest eclipse and kind for the new Moon near a Julian date, or None if there is no eclipse.

    Keys: date, epoch_jd (Julian date near greatest), greatest_s (TT seconds from it), delta_t_s, gamma, kind,
    central, limits (0, 1 or 2), span_s (first and last instant of the penumbra), axis_s (of the axis) or None.
    """
    epoch = np.floor(near_jd * 24) / 24
    coarse = np.arange(-10, 11) * 3600.0
    miss = Shadow(epoch, coarse).miss_km()
    epoch = epoch + coarse[np.argmin(miss)] / topo.DAY_S
    if miss.min() > 1.7 * topo.EARTH_RADIUS_KM:
        return None

    def rate(t, h=20.0):
        foot = Shadow(epoch, t + h * np.array([-2.0, -1.0, 0.0, 1.0, 2.0])).foot
        speed = (foot[0] - 8 * foot[1] + 8 * foot[3] - foot[4]) / (12 * h)
        return float(np.dot(foot[2], speed)), float(np.dot(speed, speed))

    greatest = 0.0
    for _ in range(8):                       # Newton: the path is nearly straight, so this settles at once
        value, square = rate(greatest)
        greatest -= value / square
        if abs(value / square) < 1e-6:
            break
    dt = delta_t(epoch)
    at = Shadow(epoch, np.array([greatest]))
    clearance = at.clearance(dt)[0]
    if clearance > at.l1[0]:
        return None
    north = float(np.sum(at.foot * at.north()[0]))
    gamma = np.copysign(at.miss_km()[0] / topo.EARTH_RADIUS_KM, north)
    grid = np.arange(-3.75 * 3600, 3.75 * 3600, 60.0) + greatest
    track = Shadow(epoch, grid)
    gap = track.clearance(dt)
    reach = grid[gap < track.l1]
    span = (reach[0], reach[-1]) if len(reach) else (greatest, greatest)
    inside = gap < 0
    kind, central, axis, limits = "partial", False, None, 0
    if clearance < 0:
        central = True
        axis = (grid[inside][0], grid[inside][-1]) if inside.any() else (greatest, greatest)
        fine = np.linspace(axis[0], axis[1], 200)
        path = Shadow(epoch, fine)
        _, _, rise = path.pierce(dt)
        radius = path.l2 - rise * path.tan2
        radius = radius[np.isfinite(radius)]
        kind = "total" if (radius < 0).all() else "annular" if (radius > 0).all() else "hybrid"
        limits = 2 if clearance < -abs(at.l2[0]) else 1
    elif clearance < abs(at.l2[0]):
        kind = "total" if at.l2[0] < 0 else "annular"
        limits = 1
    tt_jd = epoch + greatest / topo.DAY_S
    ut = tt_jd - dt / topo.DAY_S
    year, month, day, _ = erfa.jd2cal(ut, 0.0)
    return dict(date=f"{year:04d}-{month:02d}-{day:02d}", epoch_jd=epoch, greatest_s=greatest, delta_t_s=dt, gamma=gamma,
                kind=kind, central=central, limits=limits, span_s=span, axis_s=axis, clearance_km=clearance)


def tt_past_j2000(epoch_jd, tt_s):
    return (epoch_jd - topo.J2000_JD) * topo.DAY_S + tt_s
