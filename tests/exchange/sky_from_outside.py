"""Where the Sun, the planets and some stars stand, and what clocks say, computed without the program: Skyfield and the IANA zones.

Refraction is left out: 0.6 degrees at the horizon, within the tolerances of those who ask.
"""

import sys
import zoneinfo
from datetime import datetime, timezone
from pathlib import Path

import numpy as np
from skyfield.api import Star, load, load_file, wgs84
from skyfield.vectorlib import VectorFunction

sys.path.insert(0, str(Path(__file__).resolve().parents[2] / "data" / "ephemeris"))
from packed import shipped_as_spk

zoneinfo.reset_tzpath(to=[])  # The zones of the pinned tzdata package, not this machine's.

COMPASS = ["N", "NNE", "NE", "ENE", "E", "ESE", "SE", "SSE", "S", "SSW", "SW", "WSW", "W", "WNW", "NW", "NNW"]
WORDS = {word: 45.0 * k for k, word in enumerate(["north", "north-east", "east", "south-east", "south", "south-west", "west", "north-west"])}
WORDS |= {word: 22.5 + 45.0 * k for k, word in enumerate(["north-north-east", "east-north-east", "east-south-east", "south-south-east", "south-south-west", "west-south-west", "west-north-west", "north-north-west"])}
AZIMUTHS = {name: 22.5 * k for k, name in enumerate(COMPASS)} | WORDS

# Right ascension in hours, declination in degrees, J2000, to a hundredth of a degree (Hipparcos Catalogue, ESA 1997; from memory).
STARS = {
    "Sirius": (6.7525, -16.716), "Canopus": (6.3992, -52.696), "Capella": (5.2782, 45.998), "Rigel": (5.2423, -8.202), "Procyon": (7.6550, 5.225),
    "Betelgeuse": (5.9195, 7.407), "Aldebaran": (4.5987, 16.509), "Vega": (18.6156, 38.784), "Arcturus": (14.2610, 19.182),
    "Altair": (19.8464, 8.868), "Spica": (13.4199, -11.161), "Regulus": (10.1395, 11.967), "Pollux": (7.7553, 28.026), "Castor": (7.5767, 31.888),
    "Antares": (16.4901, -26.432), "Fomalhaut": (22.9608, -29.622), "Deneb": (20.6905, 45.280), "Achernar": (1.6286, -57.237),
}
BODIES = {"Sun": "sun", "Mercury": "mercury barycenter", "Venus": "venus barycenter", "Mars": "mars barycenter", "Jupiter": "jupiter barycenter", "Saturn": "saturn barycenter"}


def instant(text):
    return datetime.fromisoformat(text.replace("Z", "+00:00"))


def zone_of(name):
    return zoneinfo.ZoneInfo(name)


def separation(a, b):
    """Degrees between two directions (altitude, azimuth)."""
    (h1, z1), (h2, z2) = np.radians(a), np.radians(b)
    cosine = np.sin(h1) * np.sin(h2) + np.cos(h1) * np.cos(h2) * np.cos(z1 - z2)
    return float(np.degrees(np.arccos(np.clip(cosine, -1, 1))))


EARTH_OVER_MOON = 81.3005682214972  # mass ratio of DE440 (Park et al. 2021)


class EarthFromMoon(VectorFunction):
    """The Earth about the Earth-Moon barycentre, from the Moon's place: the excerpt of DE440 leaves the Earth itself out."""

    center, target = 3, 399

    def __init__(self, moon):
        self.moon = moon

    def _at(self, t):
        position, velocity, _, message = self.moon._at(t)
        return -position / EARTH_OVER_MOON, -velocity / EARTH_OVER_MOON, None, message


class Sky:
    """The sky over a place, with Delta T as the program states it (its error is another check's matter)."""

    def __init__(self):
        self.spk = shipped_as_spk()
        self.kernel = load_file(self.spk.name)
        (moon,) = [segment for segment in self.kernel.segments if segment.target == 301 and segment.center == 3]
        self.earth = self.kernel["earth moon barycenter"] + EarthFromMoon(moon)
        self.scales = {}

    def where(self, body, place, at, delta_t_s):
        """Altitude and azimuth in degrees without refraction, at an instant of UTC."""
        if delta_t_s not in self.scales:
            self.scales[delta_t_s] = load.timescale(delta_t=delta_t_s, builtin=True)
        scale = self.scales[delta_t_s]
        at = at.astimezone(timezone.utc)
        second = at.second + at.microsecond / 1e6
        # Before 1972 the program's UTC is UT1 (its tables begin there).
        make = scale.utc if at.year >= 1972 else scale.ut1
        moment = make(at.year, at.month, at.day, at.hour, at.minute, second)
        lat, lon, height = place
        observer = self.earth + wgs84.latlon(lat, lon, elevation_m=height or 0.0)
        if body in STARS:
            target = Star(ra_hours=STARS[body][0], dec_degrees=STARS[body][1])
        else:
            target = self.kernel[BODIES[body]]
        altitude, azimuth, _ = observer.at(moment).observe(target).apparent().altaz()
        return altitude.degrees, azimuth.degrees
