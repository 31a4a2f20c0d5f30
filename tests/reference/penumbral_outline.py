"""Writes penumbral_outline.csv: points on the limits of the partial eclipse, and on the curves of the places that see it
begin, be greatest or end at sunrise or sunset. Topocentric geometry only (topocentric.py): no cones, no Besselian elements.

    python tests/reference/penumbral_outline.py      # with data/requirements.txt installed; some minutes on one core

Limits are sought along meridians: where the least value over time of "separation minus sum of the radii" is zero, the Sun
being up. The other curves are sought along parallels: where the airless apparent altitude of the Sun's centre at first
contact, least separation or fourth contact is zero. All at sea level.
"""
import numpy as np

import eclipse_geometry as geometry
import topocentric as topo
from build import number, past_j2000, write

DATES = ["1991-01-15", "2023-10-14", "2025-03-29", "2028-07-22", "2033-03-30"]


def sites(lat, lon):
    return topo.geocentric_itrs(lat, lon, np.zeros_like(lat))


def nearest(eclipse, lat, lon):
    """Least "separation minus sum of the radii" and its instant: golden section about least separation."""
    epoch, delta = eclipse["epoch_jd"], np.full_like(lat, eclipse["delta_t_s"])
    place = sites(lat, lon)
    scan = np.arange(-4, 4.01, 0.5) * 3600.0
    rough = np.array([topo.View(epoch, np.full_like(lat, t), delta, place).separation() for t in scan])
    middle = topo.least_separation(epoch, scan[np.argmin(rough, axis=0)], delta, place, 1e-3)
    value = lambda t: topo.View(epoch, t, delta, place).exterior()
    ratio = (5 ** 0.5 - 1) / 2
    low, high = middle - 90.0, middle + 90.0
    for _ in range(26):
        a, b = high - ratio * (high - low), low + ratio * (high - low)
        left = value(a) < value(b)
        low, high = np.where(left, low, a), np.where(left, b, high)
    t = 0.5 * (low + high)
    view = topo.View(epoch, t, delta, place)
    return view.exterior(), t, view


def limit_rows(eclipse):
    lat, lon = np.meshgrid(np.arange(-85.0, 86.0, 10.0), np.arange(-180.0, 180.0, 20.0), indexing="ij")
    value = nearest(eclipse, lat.ravel(), lon.ravel())[0].reshape(lat.shape)
    i, j = np.nonzero(np.sign(value[1:]) != np.sign(value[:-1]))
    if not len(i):
        return
    along = lon[i, j]
    found = topo.root(lambda la: nearest(eclipse, la, along)[0], lat[i, j], lat[i + 1, j], 1e-8, 40)
    left, t, view = nearest(eclipse, found, along)
    altitude, _ = view.sun_altitude_azimuth()
    angle = view.moon_position_angle()
    for k in np.flatnonzero((np.abs(left) < 1e-11) & (altitude > 0.01)):
        yield ("limit", "north" if np.cos(np.radians(angle[k])) < 0 else "south", found[k], along[k], t[k])


def horizon_rows(eclipse):
    epoch, dt = eclipse["epoch_jd"], eclipse["delta_t_s"]

    def altitudes(lat, lon):
        """Sun's altitude at c1, max, c4, and the instants; NaN without a partial eclipse worth the name."""
        found = topo.local_circumstances(epoch, lat, lon, np.zeros_like(lat), dt)
        out = []
        for name in ("c1", "max", "c4"):
            t = np.where(found["magnitude"] > 0.003, found[name], np.nan)
            view = topo.View(epoch, np.nan_to_num(t), np.full_like(lat, dt), sites(lat, lon))
            out.append((np.where(np.isfinite(t), view.sun_altitude_azimuth()[0], np.nan), t))
        return out

    lat, lon = np.meshgrid(np.arange(-72.0, 73.0, 24.0), np.arange(-180.0, 180.0, 5.0), indexing="ij")
    nodes = altitudes(lat.ravel(), lon.ravel())
    for which, event in enumerate(("begins", "maximum", "ends")):
        value = nodes[which][0].reshape(lat.shape)
        after = np.roll(value, -1, axis=1)
        i, j = np.nonzero(np.isfinite(value) & np.isfinite(after) & (np.sign(value) != np.sign(after)))
        if not len(i):
            continue
        along = lat[i, j]
        root = topo.root(lambda lo: altitudes(along, lo)[which][0], lon[i, j], lon[i, j] + 5.0, 1e-8, 40)
        left, t = altitudes(along, root)[which]
        for k in np.flatnonzero(np.abs(left) < 1e-6):
            step = [topo.View(epoch, np.array([t[k] + s]), np.array([dt]), sites(along[k:k + 1], root[k:k + 1]))
                    .sun_altitude_azimuth()[0][0] for s in (-30.0, 30.0)]
            yield (event, "sunrise" if step[1] > step[0] else "sunset", along[k], (root[k] + 180) % 360 - 180, t[k])


def main():
    rows = []
    for date in DATES:
        year = int(date[:4])
        eclipse = next(e for e in geometry.find(year, year) if e["date"] == date)
        found = [*limit_rows(eclipse), *horizon_rows(eclipse)]
        print(date, len(found), flush=True)
        rows += [(date, number(eclipse["delta_t_s"], 1), curve, kind, number(lat, 7), number(lon, 7), past_j2000(eclipse, t, 3))
                 for curve, kind, lat, lon, t in found]
    write("penumbral_outline.csv", ["date", "delta_t_s", "curve", "kind", "lat", "lon", "tt"], rows)


if __name__ == "__main__":
    main()
