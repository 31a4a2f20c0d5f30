"""Candidates written by other programs, read by noonfall: `candidates.py NOONFALL FOLDER`.

The same places, with a column, are written by GDAL (through pyogrio: GeoJSON, KML, GPX), by gpxpy (GPX 1.0), by Python's zipfile (KMZ), and by
hand as tables with tabs, semicolons, Latin-1, UTF-16 and degrees, minutes and seconds; `noonfall at --sites` must give every one of
them the contacts that it gives the plain table.
"""

import csv
import io
import math
import subprocess
import sys
import zipfile
from pathlib import Path

import gpxpy.gpx
import numpy
import pyogrio.raw
import shapely

PLACES = [("Wyndham", -15.4869, 128.1243, 12), ("Río Negro", -16.25, 129.0, 7), ("Te Anau", -45.41, 167.72, 90), ("Ürümqi", 43.8, 87.6, 3)]


def sexagesimal(value, positive, negative):
    """Degrees, minutes and seconds to a hundredth."""
    hundredths = round(abs(value) * 360000)
    degrees, minutes, seconds = hundredths // 360000, hundredths // 6000 % 60, hundredths % 6000 / 100
    return f"{degrees}°{minutes:02}′{seconds:05.2f}″ {positive if value >= 0 else negative}"


def table(separator, angle_lat=str, angle_lon=str):
    rows = [separator.join(["Site", "Latitude", "Longitude", "beds"])]
    rows += [separator.join([name, angle_lat(lat), angle_lon(lon), str(beds)]) for name, lat, lon, beds in PLACES]
    return "\n".join(rows) + "\n"


def write_all(folder):
    folder.mkdir(parents=True, exist_ok=True)
    geometry = shapely.to_wkb(shapely.points([(lon, lat) for _, lat, lon, _ in PLACES]))
    names = numpy.array([place[0] for place in PLACES], dtype=object)
    beds = numpy.array([place[3] for place in PLACES], dtype="int64")
    for driver, suffix, fields in [("GeoJSON", "geojson", ["name", "beds"]), ("LIBKML", "kml", ["Name", "beds"]), ("KML", "kml", ["Name", "beds"]), ("GPX", "gpx", ["name"])]:
        if driver not in pyogrio.list_drivers(write=True):
            continue
        pyogrio.raw.write(folder / f"gdal-{driver}.{suffix}", geometry, [names, beds][: len(fields)], fields, geometry_type="Point", crs="EPSG:4326", driver=driver, layer="waypoints" if driver == "GPX" else "places")
    gpx = gpxpy.gpx.GPX()
    gpx.waypoints = [gpxpy.gpx.GPXWaypoint(lat, lon, name=name) for name, lat, lon, _ in PLACES]
    (folder / "gpxpy.gpx").write_text(gpx.to_xml(version="1.0"), encoding="utf-8")
    kml = next(path for path in sorted(folder.glob("*.kml")))
    with zipfile.ZipFile(folder / "places.kmz", "w", zipfile.ZIP_DEFLATED) as archive:
        archive.writestr("images/mark.png", b"\x89PNG\r\n")
        archive.writestr("doc.kml", kml.read_bytes())
    (folder / "tabs.txt").write_bytes(table("\t").encode("utf-16"))
    (folder / "decimal-comma.csv").write_bytes(table(";", lambda v: str(v).replace(".", ","), lambda v: str(v).replace(".", ",")).encode("latin-1"))
    (folder / "sexagesimal.csv").write_bytes(table(",", lambda v: sexagesimal(v, "N", "S"), lambda v: sexagesimal(v, "E", "W")).encode("utf-8-sig"))


def contacts(noonfall, path):
    out = subprocess.run([noonfall, "at", "2028-07-22", "--sites", path, "--quiet", "--format", "csv"], capture_output=True, text=True, check=False)
    if out.returncode:
        raise AssertionError(f"{path.name}: {out.stderr.strip()}")
    return {row["name"]: [row["c1_utc"], row["c2_utc"], row["c4_utc"]] for row in csv.DictReader(io.StringIO(out.stdout))}


def seconds(stamp):
    return sum(float(part) * unit for part, unit in zip(stamp[11:-1].split(":"), (3600, 60, 1))) if stamp else math.nan


def main(noonfall, folder):
    write_all(folder)
    plain = folder / "plain.csv"
    plain.write_text("name,lat,lon,beds\n" + "".join(f"{name},{lat},{lon},{beds}\n" for name, lat, lon, beds in PLACES), encoding="utf-8")
    wanted = contacts(noonfall, plain)
    assert any(c2 for _, c2, _ in wanted.values()), wanted
    files = sorted(path for path in folder.iterdir() if path != plain)
    assert len(files) >= 7, files
    for path in files:
        found = contacts(noonfall, path)
        assert list(found) == list(wanted), f"{path.name}: {list(found)}"
        for name, stamps in wanted.items():
            for a, b in zip(stamps, found[name]):
                # A hundredth of an arcsecond of a place is 0.3 m; writers keep six to seven decimals of a degree.
                assert (not a and not b) or abs(seconds(a) - seconds(b)) <= 0.002, f"{path.name}, {name}: {a} against {b}"
        print(f"{path.name}: {len(found)} places as in the plain table")


if __name__ == "__main__":
    main(sys.argv[1], Path(sys.argv[2]))
