"""A small made road net as an OpenStreetMap extract and as GeoJSON, and what shapely and pyproj say about it and about lakes.

Writes roads.osm.pbf, roads.geojson, distances.csv and shores.csv beside itself. Needs osmium, shapely and pyproj
(data/requirements.txt). All roads are INVENTED; the lakes are those of the shipped base map.
"""

import csv
import json
import math
import random
from pathlib import Path

import osmium
import osmium.osm.mutable as osm
import pyproj
import shapely

HERE = Path(__file__).parent
LAKES = HERE.parents[2] / "data" / "basemap" / "lakes-10m.json"
WGS84 = pyproj.Geod(ellps="WGS84")

# Near Alexandra in New Zealand: name, tags, vertices (lon, lat).
WAYS = [
    ("Invented Highway", {"highway": "primary", "ref": "99"}, [(169.20, -45.30), (169.30, -45.27), (169.42, -45.26), (169.55, -45.20)]),
    ("", {"highway": "track"}, [(169.42, -45.26), (169.43, -45.33), (169.47, -45.36)]),
    ("", {"highway": "unclassified", "ref": "X7"}, [(169.30, -45.27), (169.30, -45.12)]),
    ("Invented Walk", {"highway": "footway"}, [(169.35, -45.15), (169.50, -45.12)]),
    ("Invented Drive", {"highway": "service", "access": "private"}, [(169.52, -45.33), (169.58, -45.33)]),
    ("Invented Motorway", {"highway": "motorway"}, [(169.20, -45.38), (169.60, -45.40)]),
    ("Invented Stream", {"waterway": "stream"}, [(169.25, -45.20), (169.26, -45.24)]),
]
DRIVABLE = {"primary", "track", "unclassified"}


def write_pbf():
    path = HERE / "roads.osm.pbf"
    path.unlink(missing_ok=True)
    header = osmium.io.Header()
    header.set("generator", "tests/reference/search/build.py")
    writer = osmium.SimpleWriter(str(path), header=header)
    numbers, nodes, ways = {}, [], []
    for name, tags, line in WAYS:
        for place in line:
            if place not in numbers:
                numbers[place] = 1000 + 7 * len(numbers)
                nodes.append(osm.Node(id=numbers[place], location=place, version=1))
        tags = dict(tags, **({"name": name} if name else {}))
        ways.append(osm.Way(id=100 + len(ways), nodes=[numbers[p] for p in line], tags=tags, version=1))
    for node in nodes:
        writer.add_node(node)
    for way in ways:
        writer.add_way(way)
    writer.close()


def write_geojson():
    features = [{"type": "Feature",
                 "properties": dict(tags, **({"name": name} if name else {})),
                 "geometry": {"type": "LineString", "coordinates": [list(p) for p in line]}}
                for name, tags, line in WAYS]
    text = json.dumps({"type": "FeatureCollection", "features": features}, indent=1)
    (HERE / "roads.geojson").write_text(text + "\n")


def road_distance_m(lat, lon):
    """Least distance to a drivable road: shapely's nearest point in the plane of pyproj's azimuthal equidistant projection."""
    plane = pyproj.Transformer.from_crs("EPSG:4326", f"+proj=aeqd +lat_0={lat} +lon_0={lon} +ellps=WGS84", always_xy=True)
    best = None
    for name, tags, line in WAYS:
        if tags.get("highway") not in DRIVABLE:
            continue
        # Straight in longitude and latitude: many vertices, each projected by itself.
        dense = shapely.segmentize(shapely.LineString(line), 1e-4)
        flat = shapely.LineString([plane.transform(*p) for p in dense.coords])
        d = flat.distance(shapely.Point(0, 0))
        if best is None or d < best[0]:
            best = (d, name or tags.get("ref", ""))
    return best


def write_distances():
    places = random.Random(28)
    rows = []
    for _ in range(60):
        lat, lon = round(places.uniform(-45.42, -45.08), 5), round(places.uniform(169.15, 169.65), 5)
        metres, name = road_distance_m(lat, lon)
        rows.append([lat, lon, f"{metres:.2f}", name])
    with open(HERE / "distances.csv", "w", newline="") as out:
        writer = csv.writer(out, lineterminator="\n")
        writer.writerow(["lat", "lon", "distance_m", "road"])
        writer.writerows(rows)


def lakes():
    document = json.loads(LAKES.read_text())
    (sx, sy), (tx, ty) = document["transform"]["scale"], document["transform"]["translate"]
    arcs = []
    for arc in document["arcs"]:
        x = y = 0
        points = []
        for dx, dy in arc:
            x, y = x + dx, y + dy
            points.append((x * sx + tx, y * sy + ty))
        arcs.append(points)
    for geometry in document["objects"]["lakes"]["geometries"]:
        polygons = geometry["arcs"] if geometry["type"] == "MultiPolygon" else [geometry["arcs"]]
        for rings in polygons:
            rings = [[p for i in ring for p in arcs[i]] for ring in rings]
            yield shapely.make_valid(shapely.Polygon(rings[0], rings[1:]))


def write_shores():
    """Places about the shores of a lake in the south of New Zealand: whether shapely has them in a lake."""
    tree = shapely.STRtree(list(lakes()))
    places = random.Random(7)
    rows = []
    for _ in range(200):
        lat, lon = round(places.uniform(-45.6, -44.4), 4), round(places.uniform(167.4, 170.4), 4)
        rows.append([lat, lon, int(len(tree.query(shapely.Point(lon, lat), predicate="intersects")) > 0)])
    with open(HERE / "shores.csv", "w", newline="") as out:
        writer = csv.writer(out, lineterminator="\n")
        writer.writerow(["lat", "lon", "lake"])
        writer.writerows(rows)


if __name__ == "__main__":
    write_pbf()
    write_geojson()
    write_distances()
    write_shores()
