"""The table of coordinate systems that elevation files name by EPSG code, from PROJ's own database by pyproj.

    python data/crs/build.py

writes epsg.csv.gz beside itself: code, definition. A definition holds what a projection library needs (`+proj`, parameters, ellipsoid,
unit) and, where the datum is not WGS 84 or a frame within a metre or two of it, the three or seven parameters of the most accurate
transformation to WGS 84 that needs no grid file. Systems whose method is not among METHODS, and datums without such a transformation,
are left out: the program names them when it meets one.
"""

import gzip
import io
import re
import warnings
from pathlib import Path

import pyproj
from pyproj.aoi import AreaOfInterest
from pyproj.enums import PJType
from pyproj.transformer import TransformerGroup

warnings.filterwarnings("ignore")
HERE = Path(__file__).resolve().parent
METHODS = {"utm", "tmerc", "lcc", "merc", "stere", "sterea", "laea", "aea", "somerc", "omerc", "cass", "krovak", "poly", "eqc", "longlat",
           "cea", "eqdc", "sinu", "moll", "mill"}
KEPT = ("proj zone south lat_0 lon_0 lat_1 lat_2 lat_ts k k_0 x_0 y_0 alpha gamma lonc no_uoff no_off czech axis ellps a b rf R pm units to_meter"
        ).split()


def to_wgs84(geodetic, cache={}):
    """`0` within metres of WGS 84, the parameters, or None."""
    key = geodetic.to_authority() or geodetic.to_wkt()
    if key not in cache:
        cache[key] = find(geodetic)
    return cache[key]


def find(geodetic):
    area = geodetic.area_of_use
    aoi = None
    if area is not None and area.west < area.east:
        aoi = AreaOfInterest(area.west, area.south, area.east, area.north)
    try:
        group = TransformerGroup(geodetic, "EPSG:4326", area_of_interest=aoi)
    except Exception:
        return None
    best = None
    for t in group.transformers:
        text = t.definition
        if "grids=" in text or "proj=vgridshift" in text:
            continue
        accuracy = t.accuracy if t.accuracy is not None and t.accuracy >= 0 else 1e3
        if text.count("helmert") > 1 or "molodensky" in text or "deformation" in text or "dx=" in text:
            continue
        if "helmert" in text:
            part = text[text.index("proj=helmert"):]
            part = part.split(" step")[0]
            value = {k: float(v) for k, v in re.findall(r"\b(x|y|z|rx|ry|rz|s)=([-+0-9.eE]+)", part)}
            if re.search(r"\bd(x|y|z|rx|ry|rz|s)=", part):
                continue
            sign = -1.0 if "coordinate_frame" in part else 1.0
            numbers = [value.get(k, 0.0) for k in "xyz"] + [sign * value.get(k, 0.0) for k in ("rx", "ry", "rz")] + [value.get("s", 0.0)]
        elif "geogoffset" in text or "affine" in text:
            continue
        else:
            numbers = [0.0] * 7
        if best is None or accuracy < best[0]:
            best = (accuracy, numbers)
    if best is None:
        return None
    # Frames that move with their plate differ by decimetres to metres; a ballpark guess says 1000 m and is no answer.
    if best[0] >= 1e3:
        return None
    return best[1]


def definition(code):
    if code == 3857:
        # Web Mercator: the sphere's formulas on the ellipsoid's latitude, which no ellipsoid and shift describe.
        return "+proj=merc +lon_0=0 +k=1 +x_0=0 +y_0=0 +a=6378137 +b=6378137 +units=m +nadgrids=@null"
    crs = pyproj.CRS.from_epsg(code)
    text = crs.to_proj4()
    words = dict((w.split("=", 1) + [""])[:2] for w in re.findall(r"\+(\S+)", text))
    if words.get("proj") not in METHODS:
        return None
    words.pop("type", None)
    if words.get("datum") == "WGS84" or words.get("ellps") == "WGS84":
        words.pop("datum", None)
        words["ellps"] = "WGS84"
    datum = words.pop("datum", None)
    if datum is not None:
        words["ellps"] = {"NAD83": "GRS80", "NAD27": "clrk66", "OSGB36": "airy", "potsdam": "bessel", "GGRS87": "GRS80",
                          "carthage": "clrk80ign", "hermannskogel": "bessel", "ire65": "mod_airy", "nzgd49": "intl"}.get(datum, datum)
    # The ellipsoid by its numbers: no library's names.
    ellipsoid = crs.ellipsoid
    for name in ("ellps", "a", "b", "rf", "R"):
        words.pop(name, None)
    words["a"] = repr(ellipsoid.semi_major_metre)
    words["b"] = repr(round(ellipsoid.semi_minor_metre, 6))
    parameters = to_wgs84(crs.geodetic_crs)
    if parameters is None:
        return None
    kept = []
    for name in KEPT:
        if name in words:
            kept.append(f"+{name}={words[name]}" if words[name] != "" else f"+{name}")
    if any(abs(p) > 1e-9 for p in parameters):
        kept.append("+towgs84=" + ",".join(f"{p:.10g}" for p in parameters))
    else:
        kept.append("+towgs84=0,0,0")
    return " ".join(kept)


def main():
    rows = []
    codes = {int(c) for kind in (PJType.PROJECTED_CRS, PJType.GEOGRAPHIC_2D_CRS)
             for c in pyproj.get_codes("EPSG", kind, allow_deprecated=True) if c.isdigit()}
    for code in sorted(c for c in codes if 1024 <= c < 32767):
        try:
            text = definition(code)
        except Exception:
            text = None
        if text is not None:
            rows.append(f"{code},{text}\n")
    buffer = io.BytesIO()
    with gzip.GzipFile(fileobj=buffer, mode="wb", compresslevel=9, mtime=0, filename="") as out:
        out.write("".join(rows).encode())
    (HERE / "epsg.csv.gz").write_bytes(buffer.getvalue())
    print(len(codes), len(rows), len(buffer.getvalue()))


main()
