"""Independent numbers for the shadow, the shadow bands' direction and the Moon's edge, by brute force.

Run: python shadow_and_limb.py   (with data/requirements.txt installed; writes shadow_and_limb.csv beside itself; minutes)

Everything rests on `topocentric.py` one folder up: the full JPL DE440, light time for each body, ERFA's IAU 2006/2000A matrix,
WGS 84. There are no outlines, no shadow axis and no Besselian elements here: whether a point of the air is in the umbra is
asked of that very point, and lines of sight are tried one by one until the edge is found.
"""

import csv
import pathlib
import sys

import numpy as np

HERE = pathlib.Path(__file__).parent
sys.path.insert(0, str(HERE.parent))
from topocentric import EARTH_RADIUS_KM, FLATTENING, View, geocentric_itrs, local_circumstances  # noqa: E402

ARCSEC = np.degrees(1.0) * 3600.0

# (date, Julian date near greatest eclipse, Delta T s, latitude, longitude, elevation m)
SITES = [
    ("2028-07-22", 2461974.5 + 3.0 / 24.0, 69.4, -16.5, 128.0, 0.0),
    ("2028-07-22", 2461974.5 + 4.25 / 24.0, 69.4, -45.6, 170.4, 0.0),
    ("2028-07-22", 2461974.5 + 3.5 / 24.0, 69.4, -24.3461, 139.46, 91.0),
    ("2024-04-08", 2460408.5 + 18.25 / 24.0, 69.2, 25.54, -103.41, 1120.0),
    ("2026-08-12", 2461264.5 + 18.5 / 24.0, 69.2, 42.34, -3.70, 860.0),
]


def axes(lat_deg, lon_deg):
    lat, lon = np.radians(lat_deg), np.radians(lon_deg)
    east = np.array([-np.sin(lon), np.cos(lon), 0.0])
    up = np.array([np.cos(lat) * np.cos(lon), np.cos(lat) * np.sin(lon), np.sin(lat)])
    return east, np.cross(up, east), up


class Place:
    def __init__(self, row):
        self.date, self.epoch, self.delta_t, self.lat, self.lon, self.elevation = row
        self.itrs = geocentric_itrs(np.array([self.lat]), np.array([self.lon]), np.array([self.elevation]))[0]
        self.east, self.north, self.up = axes(self.lat, self.lon)
        found = local_circumstances(self.epoch, [self.lat], [self.lon], [self.elevation], self.delta_t)
        assert found["phase"][0] == "total"
        self.c2, self.max, self.c3 = (float(found[k][0]) for k in ("c2", "max", "c3"))

    def view(self, tt_s):
        return View(self.epoch, np.array([tt_s]), self.delta_t, self.itrs[None, :])

    def in_umbra(self, tt_s, points):
        """Whether Earth-fixed points (n, 3), km, are in the umbra at an instant."""
        view = View(self.epoch, np.full(len(points), tt_s), self.delta_t, points)
        sun, _, moon = view.radii()
        return view.separation() < moon - sun

    def on_layer(self, azimuth_deg, altitude_deg, height_km):
        """Where lines of sight meet a layer at a height: Earth-fixed km, and the horizontal distance."""
        az, alt = np.radians(azimuth_deg), np.radians(altitude_deg)
        way = (np.cos(alt) * np.sin(az))[:, None] * self.east + (np.cos(alt) * np.cos(az))[:, None] * self.north
        way = way + np.sin(alt)[:, None] * self.up
        a, b = EARTH_RADIUS_KM + height_km, EARTH_RADIUS_KM * (1.0 - FLATTENING) + height_km
        scale = np.array([a, a, b])
        o, d = self.itrs / scale, way / scale
        p, q, r = np.sum(d * d, axis=1), d @ o, o @ o - 1.0
        length = (-q + np.sqrt(q * q - p * r)) / p
        return self.itrs + way * length[:, None], length * np.cos(alt)


def edge_altitude(place, tt_s, height_km):
    """Highest altitude of any line of sight that meets the umbra on the layer."""
    if place.in_umbra(tt_s, place.on_layer(np.array([0.0]), np.array([90.0]), height_km)[0])[0]:
        return 90.0
    az, alt = np.meshgrid(np.arange(0.0, 360.0, 3.0), np.arange(-4.0, 90.0, 0.5))
    step = (3.0, 0.5)
    best = None
    for _ in range(5):
        az, alt = az.ravel(), alt.ravel()
        inside = place.in_umbra(tt_s, place.on_layer(az, alt, height_km)[0])
        if not inside.any():
            return None
        k = np.argmax(np.where(inside, alt, -99.0))
        best = alt[k]
        az, alt = np.meshgrid(az[k] + step[0] * np.linspace(-1.2, 1.2, 33), alt[k] + step[1] * np.linspace(-0.2, 1.2, 29))
        step = (step[0] * 0.2, step[1] * 0.06)
    return best


def clears_10_deg(place, height_km):
    """Seconds before second contact at which the umbra on the layer first stands 10 degrees high; None where it does not before it."""
    above = lambda t: (edge_altitude(place, place.c2 - t, height_km) or -99.0) > 10.0
    if not above(0.0):
        return None
    low, high = 0.0, 600.0
    while high - low > 0.05:
        middle = 0.5 * (low + high)
        low, high = (middle, high) if above(middle) else (low, middle)
    return low


def glow_distances(place, tt_s, height_km, azimuths):
    """Horizontal distance at which the umbra on the layer ends, along each azimuth from overhead outwards."""
    high, low = np.full(len(azimuths), 90.0), np.full(len(azimuths), 90.0)
    done = np.zeros(len(azimuths), bool)
    for altitude in np.arange(89.5, -4.0, -0.25):
        inside = place.in_umbra(tt_s, place.on_layer(azimuths, np.full(len(azimuths), altitude), height_km)[0])
        low = np.where(done, low, altitude)
        high = np.where(done | ~inside, high, altitude)
        done |= ~inside
        if done.all():
            break
    for _ in range(25):
        middle = 0.5 * (low + high)
        inside = place.in_umbra(tt_s, place.on_layer(azimuths, middle, height_km)[0])
        high, low = np.where(inside, middle, high), np.where(inside, low, middle)
    return place.on_layer(azimuths, 0.5 * (low + high), height_km)[1]


def motion(place, tt_s):
    """Velocity of the shadow over the ground: where, a second before and after, the Moon stands alike against the Sun."""
    target = place.view(tt_s).offset()[0]

    def seen(tt, lat, lon):
        itrs = geocentric_itrs(np.array([lat]), np.array([lon]), np.array([place.elevation]))
        return View(place.epoch, np.array([tt]), place.delta_t, itrs).offset()[0]

    ends = []
    for shift in (-1.0, 1.0):
        x = np.array([place.lat, place.lon])
        for _ in range(8):
            miss = seen(tt_s + shift, *x) - target
            h = 1e-3
            jacobian = np.stack([(seen(tt_s + shift, x[0] + h, x[1]) - target - miss) / h,
                                 (seen(tt_s + shift, x[0], x[1] + h) - target - miss) / h], axis=1)
            x = x - np.linalg.lstsq(jacobian, miss, rcond=None)[0]
        ends.append(geocentric_itrs(np.array([x[0]]), np.array([x[1]]), np.array([place.elevation]))[0])
    step = (ends[1] - ends[0]) / 2.0
    e, n = step @ place.east, step @ place.north
    return np.degrees(np.arctan2(e, n)) % 360.0, np.hypot(e, n)


def crescent_width(place, tt_s):
    view = place.view(tt_s)
    sun, _, moon = view.radii()
    return float((sun + view.separation() - moon)[0]) * ARCSEC


def band_azimuth(place, tt_s):
    """The tangent of the crescent's middle, thrown along the light onto the level ground."""
    view = place.view(tt_s)
    sun = (view.matrix[0] @ view.sun[0]) / np.linalg.norm(view.sun[0])
    away = -(view.matrix[0] @ view.offset()[0])
    tangent = np.cross(sun, away)
    ground = tangent - (tangent @ place.up) / (sun @ place.up) * sun
    return np.degrees(np.arctan2(ground @ place.east, ground @ place.north)) % 180.0


def hidden_km(place, tt_s, position_angle_deg):
    """Height above the Sun's limb that the Moon covers in a direction on the sky, flat sky."""
    view = place.view(tt_s)
    sun, _, moon = (float(r[0]) for r in view.radii())
    s = float(view.separation()[0])
    turn = np.radians(position_angle_deg - float(view.moon_position_angle()[0]))
    along = s * np.cos(turn) + np.sqrt(moon * moon - (s * np.sin(turn)) ** 2)
    return (along - sun) * view.distances()[0][0]


def seconds_until_hidden(place, contact, other, position_angle_deg, height_km):
    """How long after (before) a contact the top of something of a height, at an angle, is still free."""
    span = other - contact
    shares = np.linspace(0.0, 1.0, 4001)
    for share in shares[1:]:
        if hidden_km(place, contact + span * share, position_angle_deg) > height_km:
            low, high = share - shares[1], share
            for _ in range(40):
                middle = 0.5 * (low + high)
                hidden = hidden_km(place, contact + span * middle, position_angle_deg) > height_km
                low, high = (low, middle) if hidden else (middle, high)
            return abs(span) * 0.5 * (low + high)
    return abs(span)


def least_hidden(place, contact, towards, height_km):
    """Seconds from a contact until nothing of a height shows anywhere round the Moon's edge."""
    low, high = 0.0, towards - contact
    covered = lambda t: hidden_km(place, contact + t, float(place.view(contact + t).moon_position_angle()[0]) + 180.0)
    if covered(high) < height_km:
        return abs(high)
    for _ in range(50):
        middle = 0.5 * (low + high)
        low, high = (low, middle) if covered(middle) > height_km else (middle, high)
    return abs(0.5 * (low + high))


def quantities(place):
    angle_c2 = (float(place.view(place.c2).moon_position_angle()[0]) + 180.0) % 360.0
    angle_c3 = (float(place.view(place.c3).moon_position_angle()[0]) + 180.0) % 360.0
    yield "totality_s", "", place.c3 - place.c2
    for t in (60.0, 10.0):
        yield "width_before_c2_arcsec", t, crescent_width(place, place.c2 - t)
        yield "width_after_c3_arcsec", t, crescent_width(place, place.c3 + t)
    yield "band_azimuth_deg", "c2", band_azimuth(place, place.c2 - 0.001)
    yield "band_azimuth_deg", "c3", band_azimuth(place, place.c3 + 0.001)
    yield "arrival_azimuth_deg", "", (motion(place, place.c2)[0] + 180.0) % 360.0
    yield "departure_azimuth_deg", "", motion(place, place.c3)[0]
    yield "ground_speed_km_s", "", motion(place, place.max)[1]
    for t in (120.0, 60.0, 30.0, 10.0):
        before, after = edge_altitude(place, place.c2 - t, 11.0), edge_altitude(place, place.c3 + t, 11.0)
        if before is not None:
            yield "edge_before_c2_deg", t, before
        if after is not None:
            yield "edge_after_c3_deg", t, after
    # At two places, a high Sun and a low one: the search takes a minute or more.
    for height_km in (10.0, 2.0) if place.lat in (-16.5, -45.6) else ():
        clears = clears_10_deg(place, height_km)
        if clears is not None:
            yield "clears_10_deg_s", height_km, clears
    fan = np.arange(0.0, 360.0, 0.5)
    distances = glow_distances(place, place.max, 5.5, fan)
    yield "glow_nearest_km", "", distances.min()
    for azimuth in range(0, 360, 45):
        yield "glow_km", azimuth, distances[np.flatnonzero(fan == azimuth)[0]]
    yield "chromosphere_after_c2_s", "", least_hidden(place, place.c2, place.max, 2500.0)
    yield "chromosphere_before_c3_s", "", least_hidden(place, place.c3, place.max, 2500.0)
    yield "look_away_lead_s", "", seconds_until_hidden(place, place.c3, place.c2, angle_c3, 2500.0)
    for height in (10_000.0, 30_000.0):
        yield "prominence_after_c2_s", height, seconds_until_hidden(place, place.c2, place.c3, angle_c2, height)
        yield "prominence_before_c3_s", height, seconds_until_hidden(place, place.c3, place.c2, angle_c3, height)
    for name, angle in (("north", 0.0), ("east", 90.0), ("south", 180.0), ("west", 270.0)):
        yield "hidden_km", name, hidden_km(place, place.max, angle)


def main():
    rows = []
    for row in SITES:
        place = Place(row)
        lead = [place.date, place.delta_t, place.lat, place.lon, place.elevation]
        for name, argument, value in quantities(place):
            rows.append(lead + [name, argument if isinstance(argument, str) else f"{argument:g}", f"{value:.5f}"])
        print(place.date, place.lat, len(rows), flush=True)
    with open(HERE / "shadow_and_limb.csv", "w", newline="") as file:
        out = csv.writer(file, lineterminator="\n")
        out.writerow(["date", "delta_t_s", "lat_deg", "lon_deg", "elevation_m", "quantity", "argument", "value"])
        out.writerows(rows)


if __name__ == "__main__":
    main()
