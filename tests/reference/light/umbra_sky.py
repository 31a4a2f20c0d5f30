"""Light inside the Moon's umbra, by backward Monte Carlo in a spherical atmosphere.

Run: python umbra_sky.py          (NumPy only, seeded; some minutes; writes radiance.csv and together.csv beside itself, and
                                   the tables that the program carries, data/light/)
     python umbra_sky.py NAME …   (only the files whose names hold one of these)
     python umbra_sky.py --check  (a tenth of the paths: prints how far the committed values lie off in units of the noise)

Photons are followed from the eye backwards, by delta tracking, through air whose molecules, haze and ozone thin out with
height; at every collision with air or ground the sunlight that reaches that point is added (local estimate). The only thing
that an eclipse changes is how much of the Sun the point sees: nothing within the umbra's radius of the shadow's axis, and
outside it what the Moon leaves, limb darkened. The paths of the photons know nothing of Sun and shadow, so that one set of
them serves all altitudes of the Sun, all umbrae and all places in them, and the noise is common to all.

Constants: molecules tau(550 nm) 0.097, scale 8 km; haze tau 0.1, scale 1.5 km, Henyey-Greenstein g 0.7, single-scattering
albedo 0.92; ozone tau 0.027, a Gauss about 22 km, sigma 4.5 km; ground albedo 0.15; sunlight above the air 133 klx. All from
memory of standard atmospheres, common practice, no single source. Limb darkening: Neckel & Labs 1994, Solar Phys. 153, 91.
One wavelength (550 nm) stands for the eye's sensitivity.
"""

import csv
import pathlib
import sys

import numpy as np

HERE = pathlib.Path(__file__).parent
TABLES = HERE.parent.parent.parent / "data" / "light"
EARTH_KM, TOP_KM, E0_LX, MOON_KM = 6371.0, 60.0, 133e3, 1736.65
G, OMEGA = 0.7, 0.92
LIMB = np.array([0.26444, 1.30550, -1.43070, 1.67101, -1.12351, 0.31327])

SUN_ALTITUDES = [0.5, 1.5, 3, 5, 8, 12, 18, 25, 35, 45, 65, 85]
UMBRA_KM = [5, 10, 15, 25, 35, 50, 70, 90, 110, 130]
# Place in the umbra, from the axis: share of the radius and direction (along: towards the Sun's side; across: beside it).
PLACES = [(0, "axis"), (0.4, "towards"), (0.7, "towards"), (0.9, "towards"), (1, "towards"), (0.4, "away"), (0.7, "away"),
          (0.9, "away"), (1, "away"), (0.4, "beside"), (0.7, "beside"), (0.9, "beside"), (1, "beside")]


class Air:
    """Extinction by height, and how much sunlight gets through to a point."""

    def __init__(self, haze=0.1):
        self.haze = haze
        self.majorant = 0.097 / 8 + haze / 1.5 + 0.027 / (4.5 * np.sqrt(2 * np.pi))
        # Transmission from (height, cosine of the zenith distance) to space; the path in steps that grow with distance.
        self.z = np.linspace(0, np.sqrt(TOP_KM), 80) ** 2
        self.mu = np.concatenate([np.linspace(-0.16, 0.1, 131), np.linspace(0.11, 1, 90)])
        s = np.geomspace(0.02, 1300, 700) - 0.02
        mid, ds = 0.5 * (s[1:] + s[:-1]), np.diff(s)
        self.t = np.zeros((len(self.z), len(self.mu)))
        for i, z in enumerate(self.z):
            r = EARTH_KM + z
            height = np.sqrt(r * r + mid[None, :] ** 2 + 2 * r * mid[None, :] * self.mu[:, None]) - EARTH_KM
            tau = (sum(self.parts(height)) * ds).sum(1)
            self.t[i] = np.where(height.min(1) < -1e-6, 0, np.exp(-tau))

    def parts(self, z):
        return (0.097 / 8 * np.exp(-z / 8) * (z < 100), self.haze / 1.5 * np.exp(-z / 1.5),
                0.027 / (4.5 * np.sqrt(2 * np.pi)) * np.exp(-0.5 * ((z - 22) / 4.5) ** 2))

    def sunlit(self, z, mu):
        i = np.sqrt(np.clip(z, 0, TOP_KM) / TOP_KM) * (len(self.z) - 1)
        j = np.interp(mu, self.mu, np.arange(len(self.mu)))
        i0, j0 = np.minimum(i.astype(int), len(self.z) - 2), np.minimum(j.astype(int), len(self.mu) - 2)
        a, b = i - i0, j - j0
        t = self.t
        return ((1 - a) * ((1 - b) * t[i0, j0] + b * t[i0, j0 + 1]) + a * ((1 - b) * t[i0 + 1, j0] + b * t[i0 + 1, j0 + 1]))


def light_left(ratio, separation):
    """Share of the Sun's light that a Moon of a radius at distances (Sun = 1) leaves, ring by ring."""
    x, w = np.polynomial.legendre.leggauss(48)
    r, total = ratio, 2 * np.pi * sum(a / (i + 2) for i, a in enumerate(LIMB))
    out = []
    for s in separation:
        if s >= 1 + r:
            out.append(1.0)
            continue
        inner, outer = np.clip(abs(r - s), 0, 1), 1.0
        # Rings inside |r - s| are wholly free (Moon's edge beyond the centre) or wholly covered.
        free = 0.0
        if s > r:
            t = 0.5 * inner * (x + 1)
            free = (2 * np.pi * t * np.polynomial.polynomial.polyval(np.sqrt(1 - t * t), LIMB) * w).sum() * 0.5 * inner
        v = 0.25 * np.pi * (x + 1)
        rho = inner + (outer - inner) * np.sin(v) ** 2
        jac = (outer - inner) * np.sin(2 * v) * 0.25 * np.pi
        cosine = np.clip((rho * rho + s * s - r * r) / (2 * rho * s), -1, 1)
        arc = 2 * (np.pi - np.arccos(cosine))
        bright = np.polynomial.polynomial.polyval(np.sqrt(np.clip(1 - rho * rho, 0, None)), LIMB)
        out.append((free + (arc * rho * bright * jac * w).sum()) / total)
    return np.array(out)


def sunlight_curve(umbra_km):
    """Light left against the distance beyond the umbra's edge, km."""
    ratio = MOON_KM / (MOON_KM - umbra_km)
    beyond = np.concatenate([[0], np.geomspace(0.05, 2.05, 200)])
    return beyond * (MOON_KM - umbra_km), light_left(ratio, ratio - 1 + beyond)


CURVES = [sunlight_curve(r) for r in UMBRA_KM]


def turn(d, cos_theta, phi):
    """Directions at an angle to others."""
    sin_theta = np.sqrt(np.clip(1 - cos_theta**2, 0, None))
    flat = np.hypot(d[:, 0], d[:, 1])
    safe = flat > 1e-9
    u = np.where(safe[:, None], np.stack([-d[:, 1], d[:, 0], 0 * flat], 1) / np.where(safe, flat, 1)[:, None], [1.0, 0, 0])
    v = np.cross(d, u)
    return d * cos_theta[:, None] + (u * np.cos(phi)[:, None] + v * np.sin(phi)[:, None]) * sin_theta[:, None]


def collisions(air, start, directions, albedo, rng, orders=14):
    """Yields (order, points, directions of flight, weights, ground?) of all collisions."""
    p = np.tile(start, (len(directions), 1))
    d, w = directions, np.ones(len(directions))
    ident = np.arange(len(directions))
    for order in range(1, orders + 1):
        if not len(p):
            return
        # Delta tracking to the next real collision, the ground or space.
        done_p, done_d, done_w, done_id, done_ground = [], [], [], [], []
        while len(p):
            step = -np.log(rng.random(len(p))) / air.majorant
            b = (p * d).sum(1)
            r2 = (p * p).sum(1)
            disc = b * b - (r2 - EARTH_KM**2)
            to_ground = np.where((disc > 0) & (b < 0), -b - np.sqrt(np.clip(disc, 0, None)), np.inf)
            hit = to_ground <= step
            q = p + d * np.where(hit, to_ground, step)[:, None]
            z = np.sqrt((q * q).sum(1)) - EARTH_KM
            rising = (q * d).sum(1) > 0
            gone = (z > TOP_KM) & rising & ~hit
            rate = sum(air.parts(np.clip(z, 0, None)))
            real = hit | (rng.random(len(p)) < rate / air.majorant) & ~gone
            for kept, values in ((done_p, q), (done_d, d), (done_w, w), (done_id, ident), (done_ground, hit)):
                kept.append(values[real])
            on = ~(real | gone)
            p, d, w, ident = q[on], d[on], w[on], ident[on]
        p, d, w = np.concatenate(done_p), np.concatenate(done_d), np.concatenate(done_w)
        ident, ground = np.concatenate(done_id), np.concatenate(done_ground)
        if not len(p):
            return
        z = np.clip(np.sqrt((p * p).sum(1)) - EARTH_KM, 0, None)
        molecules, haze, ozone = air.parts(z)
        w = w * np.where(ground, albedo, (molecules + OMEGA * haze) / (molecules + haze + ozone))
        share = molecules / (molecules + OMEGA * haze)
        yield order, p, z, d, w, ident, ground, share
        # Roulette, then new directions.
        lives = (w > 0.03) | (rng.random(len(w)) < 0.2)
        w = np.where(w > 0.03, w, w / 0.2)
        p, d, w, ident, ground, share = p[lives], d[lives], w[lives], ident[lives], ground[lives], share[lives]
        xi, phi = rng.random(len(p)), 2 * np.pi * rng.random(len(p))
        s = (1 - G * G) / (1 - G + 2 * G * xi)
        hg = (1 + G * G - s * s) / (2 * G)
        # Rayleigh by the cubic's real root.
        t = 4 * xi - 2
        u = np.cbrt(t + np.sqrt(t * t + 1))
        rayleigh = u - 1 / u
        cos_theta = np.where(rng.random(len(p)) < share, rayleigh, hg)
        new = turn(d, np.clip(cos_theta, -1, 1), phi)
        up = p / np.linalg.norm(p, axis=1)[:, None]
        lambert = turn(up, np.sqrt(xi), phi)
        d = np.where(ground[:, None], lambert, new)
        p = np.where(ground[:, None], up * (EARTH_KM + 1e-4), p)


def sun_vector(altitude, azimuth):
    h, a = np.radians(altitude), np.radians(azimuth)
    return np.array([np.cos(h) * np.sin(a), np.cos(h) * np.cos(a), np.sin(h)])


def gather(air, directions, albedo, rng, suns, start_km=0.0, places=PLACES, umbrae=range(len(UMBRA_KM)), full=False):
    """Sum of the light that comes in from `directions`, batch by batch: array (sun, umbra, place); with `full`, no Moon."""
    start = np.array([0, 0, EARTH_KM + start_km])
    total = np.zeros((len(suns), len(umbrae), len(places))) if not full else np.zeros(len(suns))
    single = np.zeros_like(total)
    for order, p, z, d, w, _, ground, share in collisions(air, start, directions, albedo, rng):
        up = p / np.linalg.norm(p, axis=1)[:, None]
        for a, (altitude, azimuth) in enumerate(suns):
            s = sun_vector(altitude, azimuth)
            mu = up @ s
            cosine = d @ s
            phase = (share * 3 * (1 + cosine**2) / (16 * np.pi)
                     + (1 - share) * (1 - G * G) / (4 * np.pi * (1 + G * G - 2 * G * cosine) ** 1.5))
            light = w * air.sunlit(z, mu) * np.where(ground, np.clip(mu, 0, None) / np.pi, phase)
            if full:
                total[a] += light.sum()
                continue
            bright = light > 0
            rel, lit = p[bright] - start, light[bright]
            flat = rel - (rel @ s)[:, None] * s
            # Across the light: `beside` is level, `towards` rises on the Sun's side (lies nearer the Sun on the ground).
            beside = np.array([np.cos(np.radians(azimuth)), -np.sin(np.radians(azimuth)), 0])
            rise = np.cross(beside, s)
            rise = rise if rise[2] < 0 else -rise  # seen from the place, the ground towards the Sun lies "below" the light
            x, y = flat @ rise, flat @ beside
            for c, (part, side) in enumerate(places):
                for b, umbra in enumerate(umbrae):
                    radius = part * UMBRA_KM[umbra]
                    # The place stands off the axis on that side: the axis lies on the other.
                    ox, oy = {"axis": (0, 0), "towards": (-radius, 0), "away": (radius, 0), "beside": (0, radius)}[side]
                    beyond = np.hypot(x - ox, y - oy) - UMBRA_KM[umbra]
                    outside = beyond > 0
                    added = (lit[outside] * np.interp(beyond[outside], *CURVES[umbra])).sum()
                    total[a, b, c] += added
                    if order == 1:
                        single[a, b, c] += added
    return total * E0_LX / len(directions), single * E0_LX / len(directions)


def batches(air, n, count, make, albedo, seed, suns, **more):
    """Mean and standard error over batches."""
    values = [gather(air, make(np.random.default_rng([seed, i]), n), albedo, np.random.default_rng([seed, i, 1]), suns, **more)
              for i in range(count)]
    total = np.array([v[0] for v in values])
    single = np.array([v[1] for v in values])
    return total.mean(0), total.std(0, ddof=1) / np.sqrt(count), single.mean(0)


def cosine_up(rng, n):
    xi, phi = rng.random(n), 2 * np.pi * rng.random(n)
    c = np.sqrt(xi)
    s = np.sqrt(1 - xi)
    return np.stack([s * np.cos(phi), s * np.sin(phi), c], 1)


def fixed(elevation):
    e = np.radians(elevation)
    return lambda rng, n: np.tile([0.0, np.cos(e), np.sin(e)], (n, 1))


def rows_of_illuminance(n, count):
    air = Air()
    suns = [(h, 0.0) for h in SUN_ALTITUDES]
    mean, error, _ = batches(air, n, count, cosine_up, 0.15, 1, suns)
    for a, h in enumerate(SUN_ALTITUDES):
        for b, r in enumerate(UMBRA_KM):
            for c, (part, side) in enumerate(PLACES):
                yield [h, r, side, part, np.pi * mean[a, b, c], np.pi * error[a, b, c]]


RADIANCE_UMBRAE = [4, 6, 9]
RADIANCE_PLACES = [PLACES[0], PLACES[2], PLACES[6], PLACES[10]]


def rows_of_radiance(n, count):
    air = Air()
    suns = [(h, a) for h in (8, 25, 45, 65) for a in (0, 90, 180)]
    for elevation in (2, 5, 10, 20, 45, 90):
        used = suns if elevation < 90 else [s for s in suns if s[1] == 0]
        mean, error, single = batches(air, n, count, fixed(elevation), 0.15, 100 + elevation, used, places=RADIANCE_PLACES,
                                      umbrae=RADIANCE_UMBRAE)
        for a, (h, azimuth) in enumerate(used):
            for b, umbra in enumerate(RADIANCE_UMBRAE):
                for c, (part, side) in enumerate(RADIANCE_PLACES):
                    yield [h, UMBRA_KM[umbra], side, part, elevation, azimuth, mean[a, b, c], error[a, b, c], single[a, b, c]]


# Haze, ground and height, one changed at a time; then some together, to check that their effects multiply.
CONDITIONS = [("standard", 0.1, 0.15, 0.0), ("haze", 0.03, 0.15, 0.0), ("haze", 0.3, 0.15, 0.0), ("haze", 0.6, 0.15, 0.0),
              ("ground", 0.1, 0.06, 0.0), ("ground", 0.1, 0.4, 0.0), ("ground", 0.1, 0.8, 0.0), ("height", 0.1, 0.15, 1.0),
              ("height", 0.1, 0.15, 2.5), ("height", 0.1, 0.15, 5.0)]
TOGETHER = [("together", 0.3, 0.8, 0.0), ("together", 0.05, 0.8, 2.0), ("together", 0.3, 0.06, 0.0), ("together", 0.2, 0.3, 1.0)]
CONDITION_SUNS = [1, 5, 12, 25, 45, 85]


def rows_of_conditions(n, count, cases=None):
    suns = [(h, 0.0) for h in CONDITION_SUNS]
    umbrae = [4, 6, 9]
    for name, haze, albedo, start in cases or CONDITIONS:
        # The same seed for all, so that most of the noise cancels in their ratios.
        air = Air(haze)
        mean, error, _ = batches(air, n, count, cosine_up, albedo, 7, suns, places=[PLACES[0]], umbrae=umbrae, start_km=start)
        day, day_error, _ = batches(air, n, count, cosine_up, albedo, 8, suns, full=True, start_km=start)
        for a, (h, _) in enumerate(suns):
            through = air.sunlit(np.array([start]), np.array([np.sin(np.radians(h))]))[0]
            for b, umbra in enumerate(umbrae):
                yield [name, haze, albedo, start, h, UMBRA_KM[umbra], np.pi * mean[a, b, 0], np.pi * error[a, b, 0]]
            yield [name, haze, albedo, start, h, "diffuse", np.pi * day[a], np.pi * day_error[a]]
            yield [name, haze, albedo, start, h, "direct", E0_LX * through, 0]


def rows_of_conditions_together(n, count):
    yield from rows_of_conditions(n, count, TOGETHER)


def rows_of_daylight(n, count):
    """Diffuse and direct daylight without the Moon."""
    air = Air()
    suns = [(h, 0.0) for h in SUN_ALTITUDES]
    mean, error, _ = batches(air, n, count, cosine_up, 0.15, 3, suns, full=True)
    for a, h in enumerate(SUN_ALTITUDES):
        through = air.sunlit(np.array([0.0]), np.array([np.sin(np.radians(h))]))[0]
        yield [h, np.pi * mean[a], np.pi * error[a], E0_LX * through]


FILES = {
    TABLES / "umbra-illuminance.csv": (rows_of_illuminance, ["sun_altitude_deg", "umbra_km", "side", "part", "lux", "error"], (40000, 24)),
    TABLES / "daylight.csv": (rows_of_daylight, ["sun_altitude_deg", "diffuse_lux", "error", "direct_normal_lux"], (40000, 12)),
    TABLES / "conditions.csv": (rows_of_conditions, ["case", "haze", "albedo", "height_km", "sun_altitude_deg", "umbra_km", "lux", "error"], (12000, 12)),
    HERE / "together.csv": (rows_of_conditions_together, ["case", "haze", "albedo", "height_km", "sun_altitude_deg", "umbra_km", "lux", "error"], (6000, 12)),
    HERE / "radiance.csv": (rows_of_radiance, ["sun_altitude_deg", "umbra_km", "side", "part", "elevation_deg", "from_sun_azimuth_deg",
                                        "cd_m2", "error", "single_cd_m2"], (15000, 12)),
}


def main():
    check = "--check" in sys.argv
    only = [a for a in sys.argv[1:] if not a.startswith("--")]
    for name, (rows, header, (n, count)) in FILES.items():
        if only and not any(o in name.name for o in only):
            continue
        made = list(rows(n // 10 if check else n, count))
        if check:
            with open(name) as f:
                old = list(csv.reader(f))[1:]
            value = header.index("error") - 1
            apart = [abs(float(o[value]) - m[value]) / max(float(o[value + 1]) * 1.1 + m[value + 1], 1e-9) for o, m in zip(old, made)]
            print(f"{name.name}: {len(apart)} values, worst {max(apart):.1f}, median {np.median(apart):.2f} standard errors")
            continue
        with open(name, "w", newline="") as f:
            out = csv.writer(f, lineterminator="\n")
            out.writerow(header)
            out.writerows([v if isinstance(v, (str, int)) else float(f"{v:.4g}") for v in row] for row in made)
        print(name.name, len(made), flush=True)


if __name__ == "__main__":
    main()
