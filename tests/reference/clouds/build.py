"""Cloud reference values, computed with SciPy alone: nothing here shares code with the program.

    python tests/reference/clouds/build.py

writes, beside itself,
- beta-quantiles.csv   quantiles of Beta distributions (scipy.stats.beta)
- expected-clear.csv   expected chance of a clear line of sight when cover is Beta-distributed about a mean (scipy.integrate)
- demo-outlooks.csv    the outlook of every demo town from the demo's day records and from its monthly grid
The models are those of Allen & Malick 1983 and Kauth & Penquite 1967, as written in ORIGIN.md beside this file.
"""

import csv
import datetime
from pathlib import Path

import numpy as np
from scipy import integrate, interpolate, special, stats

HERE = Path(__file__).resolve().parent
DEMO = HERE.parents[2] / "data" / "demo"
DAY = (7, 22)
ALTITUDES = [5.0, 12.5, 31.0, 64.0]


def allen_malick(n, altitude_deg):
    tan = np.tan(np.radians(90 - max(altitude_deg, 5.0)))
    return (1 - n * (1 + 3 * n) / 4) ** (1 + (0.55 - n / 2) * tan)


def kauth_penquite(n, altitude_deg, beta=1.0):
    tan = np.tan(np.radians(90 - max(altitude_deg, 5.0)))
    return (1 - n) ** np.sqrt(1 + (beta * tan) ** 2)


def expected(model, mean, spread, altitude_deg):
    """E[model(N)] by parts of the density that quad can take: N below and above a half, poles as algebraic weights."""
    a, b = mean * spread, (1 - mean) * spread
    low, _ = integrate.quad(
        lambda n: model(n, altitude_deg) * (1 - n) ** (b - 1), 0, 0.5, weight="alg", wvar=(a - 1, 0), epsabs=1e-12
    )
    high, _ = integrate.quad(
        lambda n: model(n, altitude_deg) * n ** (a - 1), 0.5, 1, weight="alg", wvar=(0, b - 1), epsabs=1e-12
    )
    return (low + high) / special.beta(a, b)


def write(name, header, rows):
    with open(HERE / name, "w", newline="") as out:
        writer = csv.writer(out, lineterminator="\n")
        writer.writerow(header)
        writer.writerows(rows)


def beta_quantiles():
    rows = []
    for a in [0.5, 1.0, 2.5, 7.5, 40.0, 333.3]:
        for b in [0.5, 1.5, 3.5, 25.0, 180.0]:
            for p in [0.025, 0.5, 0.975]:
                rows.append([a, b, p, f"{stats.beta.ppf(p, a, b):.12e}"])
    write("beta-quantiles.csv", ["a", "b", "p", "quantile"], rows)


def expected_clear():
    rows = []
    for name, model in [("observed", allen_malick), ("grid", kauth_penquite)]:
        for mean in [0.05, 0.3, 0.62, 0.9]:
            for spread in [0.6, 1.0, 4.0]:
                for altitude in ALTITUDES:
                    rows.append([name, mean, spread, altitude, f"{expected(model, mean, spread, altitude):.9f}"])
    write("expected-clear.csv", ["kind", "mean", "spread", "altitude_deg", "clear"], rows)


def day_number(month, day):
    return datetime.date(2001, month, day).timetuple().tm_yday


def strength(days, chance):
    """Independent days: the years' own means, pooled with the days within them as two further years would be."""
    years = np.array([d.year for d, _ in days])
    mean, n = chance.mean(), len(chance)
    next_day = [i for i in range(n - 1) if (days[i + 1][0] - days[i][0]).days == 1]
    r = np.mean([(chance[i] - mean) * (chance[i + 1] - mean) for i in next_day]) / np.var(chance)
    r = min(max(r, 0.0), 0.95)
    each = sorted(set(years))
    k = len(each)
    within = np.var(chance) / (n / k) * (1 + r) / (1 - r)
    between = sum((years == y).sum() * (chance[years == y].mean() - mean) ** 2 for y in each) / n * k / (k - 1)
    degrees = 2 + k - 1
    pooled = (2 * within + (k - 1) * between) / degrees
    wider = (stats.t.ppf(0.95, degrees) / stats.norm.ppf(0.95)) ** 2
    return min(max(mean * (1 - mean) / (pooled / k * wider) - 1, 1.0), n)


def coarseness(lat, lat_step, lon_step):
    """Variance by the mean distance of a place from the middle of its cell, taken as a square of the same area."""
    side = np.radians(np.sqrt(lat_step * lon_step * np.cos(np.radians(lat)))) * 6371.0088
    away = side * (np.sqrt(2) + np.log(1 + np.sqrt(2))) / 6
    return 0.10**2 * (1 - np.exp(-2 * away / 300))


def widened(a, b, added):
    mean = a / (a + b)
    total = min(max(mean * (1 - mean) / (mean * (1 - mean) / (a + b + 1) + added) - 1, 1.0), a + b)
    return mean * total, (1 - mean) * total


def demo_outlooks():
    records = {}
    for row in csv.DictReader(open(DEMO / "day-records.csv", encoding="utf-8")):
        date = datetime.date.fromisoformat(row["date"])
        records.setdefault(row["name"], []).append((date, int(row["cloud_oktas"]) / 8))
    grid = {}
    for row in csv.DictReader(open(DEMO / "clouds.csv", encoding="utf-8")):
        grid[float(row["lat"]), float(row["lon"]), int(row["month"])] = float(row["cloud_percent"]) / 100
    lats, lons = (sorted({k[i] for k in grid}) for i in (0, 1))
    table = {m: np.array([[grid[a, o, m] for o in lons] for a in lats]) for m in (7, 8)}
    # Noon of 22 July between the middles of July and August (both of 31 days).
    t = (DAY[1] - 0.5 - 15.5) / 31.0
    field = interpolate.RegularGridInterpolator((lats, lons), table[7] * (1 - t) + table[8] * t)

    rows = []
    for i, site in enumerate(csv.DictReader(open(DEMO / "sites.csv", encoding="utf-8"))):
        name, lat, lon = site["name"], float(site["lat"]), float(site["lon"])
        altitude = ALTITUDES[i % len(ALTITUDES)]
        centre = {y: datetime.date(y, *DAY) for y in range(1990, 2030)}
        days = sorted((d, n) for d, n in records[name] if abs((d - centre[d.year]).days) <= 15)
        cover = np.array([n for _, n in days])
        clear = float(np.mean(allen_malick(cover, altitude)))
        years = len({d.year for d, _ in days})
        n = strength(days, allen_malick(cover, altitude))
        a, b = clear * n + 0.5, (1 - clear) * n + 0.5
        # The demo's records stand at the towns themselves: no distance widens them.
        rows.append(["day-records.csv", name, lat, lon, altitude, f"{cover.mean():.9f}", f"{a / (a + b):.9f}",
                     f"{stats.beta.ppf(0.025, a, b):.9f}", f"{stats.beta.ppf(0.975, a, b):.9f}", years])
        mean = float(field((lat, lon)))
        clear = expected(kauth_penquite, mean, 1.0, altitude)
        a, b = clear * 20, (1 - clear) * 20
        a, b = max(a, 0.5), max(b, 0.5)
        a, b = widened(a, b, coarseness(lat, lats[1] - lats[0], lons[1] - lons[0]))
        rows.append(["clouds.csv", name, lat, lon, altitude, f"{mean:.9f}", f"{a / (a + b):.9f}",
                     f"{stats.beta.ppf(0.025, a, b):.9f}", f"{stats.beta.ppf(0.975, a, b):.9f}", ""])
    write("demo-outlooks.csv",
          ["file", "name", "lat", "lon", "altitude_deg", "cloud_fraction", "clear", "low_95", "high_95", "years"], rows)


beta_quantiles()
expected_clear()
demo_outlooks()
