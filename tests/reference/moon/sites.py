"""Places worth testing at the Moon's true edge: over the paths, near their limits, at low Sun, on high ground.

Cones and the smooth Moon serve only to choose; heights of the ground are invented unless a row says otherwise.
"""
import csv
import importlib.util
from pathlib import Path

import numpy as np

import eclipse_geometry as geometry
import topocentric as topo

REFERENCE = Path(__file__).resolve().parents[1]
_spec = importlib.util.spec_from_file_location("reference_build", REFERENCE / "build.py")
reference = importlib.util.module_from_spec(_spec)            # its helpers for text: number, past_j2000
_spec.loader.exec_module(reference)


def eclipses(dates):
    """The eclipses of these dates, as `eclipse_geometry.describe` gives them."""
    with open(REFERENCE / "eclipses.csv", encoding="utf-8") as file:
        near = {r["date"]: topo.J2000_JD + float(r["greatest_tt_s"]) / topo.DAY_S for r in csv.DictReader(file)}
    return [geometry.describe(near[d]) for d in dates]


def smooth(eclipse, lat, lon, height):
    return topo.local_circumstances(eclipse["epoch_jd"], lat, lon, height, eclipse["delta_t_s"])


def wrap(lon):
    return (lon + 180.0) % 360.0 - 180.0


class Path:
    """Draws places of one eclipse."""

    def __init__(self, eclipse, chance):
        self.eclipse, self.chance = eclipse, chance
        self.epoch, self.dt = eclipse["epoch_jd"], eclipse["delta_t_s"]
        if eclipse["axis_s"]:
            self.first, self.last = eclipse["axis_s"]
        else:                                                # the axis misses the Earth: the while that the cone does not
            t = np.arange(-1800.0, 1800.0, 5.0) + eclipse["greatest_s"]
            shadow = geometry.Shadow(self.epoch, t)
            t = t[shadow.clearance(self.dt) < np.abs(shadow.l2)]
            self.first, self.last = t[0], t[-1]

    def ground(self, t, reach, angle):
        """Where the point of the cone at `reach` (1 = its edge) and `angle` from celestial north meets the ellipsoid; heading of its track."""
        shadow = geometry.Shadow(self.epoch, t)
        right, up = reach * np.abs(shadow.l2) * np.sin(angle), reach * np.abs(shadow.l2) * np.cos(angle)
        lat, lon, _ = shadow.pierce(self.dt, right, up)
        lat1, lon1, _ = geometry.Shadow(self.epoch, t + 2.0).pierce(self.dt, right, up)
        return lat, lon, np.arctan2(wrap(lon1 - lon) * np.cos(np.radians(lat)), lat1 - lat)

    def draw(self, count, reach=0.95, height=None, altitude=None, start=None, finish=None):
        """`count` places with smooth totality: dicts lat, lon, height, heading. `altitude`: wanted altitude of the Sun, degrees.

        Where a hybrid's path is too narrow to be hit, it is tried again nearer the middle.
        """
        out = []
        for _ in range(5):
            out += self._draw_once(count - len(out), reach, height, altitude, start, finish)
            if len(out) >= count:
                break
            reach *= 0.4
        return out

    def _draw_once(self, count, reach, height, altitude, start, finish):
        spare = 3 * count + 3 if altitude is None else 240
        first, last = (self.first if start is None else start), (self.last if finish is None else finish)
        t = self.chance.uniform(first, last, spare)
        lat, lon, heading = self.ground(t, reach * np.sqrt(self.chance.uniform(0, 1, spare)), self.chance.uniform(0, 2 * np.pi, spare))
        h = np.round(self.chance.choice([0.0, 20.0, 150.0, 400.0, 900.0, 1800.0], spare) if height is None else self.chance.uniform(*height, spare))
        good = np.isfinite(lat) & np.isfinite(heading) & (np.abs(np.where(np.isfinite(lat), lat, 90.0)) < 89.5)
        lat, lon, heading, h, t = (a[good] for a in (lat, lon, heading, h, t))
        if not len(lat):
            return []
        lat, lon = np.round(lat, 5), np.round(wrap(lon), 5)
        if altitude is not None:                             # the few that come nearest to the wanted altitude
            up = topo.View(self.epoch, t, np.full(len(t), self.dt), topo.geocentric_itrs(lat, lon, h)).sun_altitude_azimuth()[0]
            near = np.argsort(np.abs(up - altitude), kind="stable")[:count + 3]
            lat, lon, heading, h = (a[near] for a in (lat, lon, heading, h))
            t = t[near]
        at = self.middle(lat, lon, h, t)
        fine = np.flatnonzero(self.total(at) & (at.sun_altitude_azimuth()[0] > (0.5 if altitude is None else -0.9)))
        return [dict(lat=lat[k], lon=lon[k], height=h[k], heading=heading[k], t=at.tt_s[k]) for k in fine[:count]]

    def middle(self, lat, lon, height, t):
        """The view at the instant of least separation near `t` (good to milliseconds: enough to choose by)."""
        delta, site = np.full(len(lat), self.dt), topo.geocentric_itrs(lat, lon, height)
        return topo.View(self.epoch, topo.least_separation(self.epoch, t, delta, site, 0.02), delta, site)

    @staticmethod
    def total(view):
        sun, _, moon = view.radii()
        return (view.interior() < 0) & (moon > sun)

    def ends(self, count, low, high):
        """Places near where the shadow comes and goes, the Sun between `low` and `high` degrees at maximum."""
        span, out = self.last - self.first, []
        for n in range(count):
            early = self.chance.random() < 0.5
            start, finish = (self.first, self.first + 0.04 * span) if early else (self.last - 0.04 * span, self.last)
            out += self.draw(1, altitude=self.chance.uniform(low, high), start=start, finish=finish)
        return out

    def horizon(self, count, low, high):
        """Places past an end of the path: moved straight away from the Sun until its centre stands between `low` and `high`."""
        out = []
        for _ in range(8 * count):
            if len(out) >= count:
                break
            want = self.chance.uniform(low, high)
            for p in self.ends(1, 1.0, 4.0):
                lat, lon, height, t = (np.array([p[k]]) for k in ("lat", "lon", "height", "t"))
                for _ in range(3):
                    up, azimuth = (np.radians(a) for a in self.middle(lat, lon, height, t).sun_altitude_azimuth())
                    away, phi = up - np.radians(want), np.radians(lat)
                    new = np.arcsin(np.sin(phi) * np.cos(away) - np.cos(phi) * np.sin(away) * np.cos(azimuth))
                    lon = lon + np.degrees(np.arctan2(-np.sin(azimuth) * np.sin(away) * np.cos(phi), np.cos(away) - np.sin(phi) * np.sin(new)))
                    lat = np.degrees(new)
                lat, lon = np.round(lat, 5), np.round(wrap(lon), 5)
                at = self.middle(lat, lon, height, t)
                if self.total(at)[0] and abs(at.sun_altitude_azimuth()[0][0] - want) < 0.3 and abs(lat[0]) < 89.5:
                    out.append(dict(p, lat=lat[0], lon=lon[0], t=at.tt_s[0]))
        return out

    def limits(self, places, sides, rough=False):
        """From each place along its meridian, or its parallel where the path runs north-south or near a pole, to the smooth limit.

        `sides`: +1 north or east, -1 south or west. Adds to each: `line`, `along_km` (to the limit, per km across the path 1/`slant`);
        `rough`: to some ten metres, enough to choose by.
        """
        count = len(places)
        lat, lon, height, heading, start = (np.array([p[k] for p in places]) for k in ("lat", "lon", "height", "heading", "t"))
        meridian = (np.abs(np.sin(heading)) > 0.7) & (np.abs(lat) < 80)
        slant = np.where(meridian, np.abs(np.sin(heading)), np.abs(np.cos(heading)))
        state = {"t": start.copy()}
        delta = np.full(count, self.dt)

        def outside(km):
            la, lo = step(lat, lon, meridian, np.asarray(sides) * km)
            site = topo.geocentric_itrs(la, lo, height)
            state["t"] = topo.least_separation(self.epoch, state["t"], delta, site, 0.02 if rough else 1e-3)
            if rough:
                return topo.View(self.epoch, state["t"], delta, site).interior()
            return topo.least_interior(self.epoch, state["t"], delta, site, 6.0, 16)[1]

        near, far = np.zeros(count), np.full(count, 15.0)
        for _ in range(12):
            inside = outside(far) < 0
            if not inside.any():
                break
            near, far = np.where(inside, far, near), np.where(inside, np.minimum(far * 1.6, 1500.0), far)
        good = (outside(far) > 0) & (slant > 0.5)
        km = topo.root(outside, near, far, 1e-2 if rough else 1e-4, 40)
        good &= np.abs(outside(km)) < (3e-8 if rough else 1e-9)
        return [dict(p, meridian=bool(meridian[k]), side=int(sides[k]), slant=float(slant[k]), along_km=float(km[k]))
                for k, p in enumerate(places) if good[k]]

    def near_limits(self, count, low_km, high_km):
        """Places between `low_km` and `high_km` outside (negative: inside) a smooth limit, measured across the path."""
        out = []
        for _ in range(6):
            if len(out) >= count:
                break
            places = self.draw(count - len(out))
            if not places:
                break
            for p in self.limits(places, self.chance.choice([-1, 1], len(places)), rough=True):
                away = self.chance.uniform(low_km, high_km)
                la, lo = step(p["lat"], p["lon"], p["meridian"], p["side"] * (p["along_km"] + away / p["slant"]))
                p.update(lat=round(float(la), 5), lon=round(float(wrap(lo)), 5))
                out.append(p)
        return out


def step(lat, lon, meridian, km):
    """A step along the meridian or the parallel (north and east positive), on the ellipsoid."""
    phi = np.radians(lat)
    square = 1.0 - topo.FLATTENING * (2.0 - topo.FLATTENING) * np.sin(phi) ** 2
    along_meridian = topo.EARTH_RADIUS_KM * (1.0 - topo.FLATTENING * (2.0 - topo.FLATTENING)) / square ** 1.5
    along_parallel = topo.EARTH_RADIUS_KM * np.cos(phi) / np.sqrt(square)
    return (np.where(meridian, lat + np.degrees(km / along_meridian), lat),
            np.where(meridian, lon, lon + np.degrees(km / along_parallel)))
