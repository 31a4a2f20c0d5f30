#!/usr/bin/env python3
"""Cut and pack the heights of the Moon that noonfall ships: edge-heights.bin.

The Moon shows the Earth one side, give or take its librations, so only a zone
of its surface ever stands on its edge. This recipe takes LDEM_16 (NASA LOLA),
keeps the tiles of 64 x 64 pixels that can stand on the edge, or show above it
from before or behind, at any solar eclipse from 1900 to 2100 seen from any
place inside the penumbra, rounds heights to 4 m (so no height is off by more
than 2 m) and packs the tiles one by one.

Run:    pip download --no-deps --no-build-isolation --no-binary :all: pdsimage==1.1.1
        python data/moon/build.py --archive pdsimage-1.1.1.tar.gz     (writes the file, then checks it)
        python data/moon/build.py --check [--archive ...]             (checks the committed file only)
Needs:  data/requirements.txt, and data/ephemeris beside it

Layout of the file, little-endian:
    8 bytes   NFMOON01
    u32       pixels a degree; pixels along a tile; rounding, millimetres; rows and columns of the bounds
    i16[]     bounds, metres, row by row: the highest pixel of each bin and its eight neighbours. Rows: distance from
              the mean limb (the great circle 90 degrees from 0 N 0 E), from -18 degrees, positive on the near side, half a
              degree each. Columns: angle about 0 N 0 E from north through 90 E, 360/columns degrees each.
    u32[]     for each tile, from 90 N 0 E along the rows: bytes of its code; 0 where the tile is left out
    bytes     the codes, one after the other
A tile holds one pixel more to the south and to the east than its 64, so that heights can be interpolated inside it.
A code is a string of bits, the highest bit of a byte first: for each row 4 bits k, then for each pixel a residual
folded to a natural number (0, -1, 1, -2, ... -> 0, 1, 2, 3, ...) as n >> k one-bits, a zero-bit, and the lowest k bits.
Residual: from west + north - northwest; in the first row from west, in the first column from north, at first from 0.
"""
import argparse
import hashlib
import struct
import sys
import tarfile
from pathlib import Path

import numpy as np

HERE = Path(__file__).resolve().parent
TARGET = HERE / "edge-heights.bin"
EPHEMERIS = HERE.parent / "ephemeris"
MEMBERS = {"LDEM_16.IMG": "b1b277bc81bddc33e2f7d506fb987ea7", "LDEM_16.LBL": "b2e4e30e7ab486fda2cbbbffdc62731b"}
LABEL = {                           # what the label must say for the numbers below to be right
    "TARGET_NAME": "MOON", "LINES": "2880", "LINE_SAMPLES": "5760", "SAMPLE_TYPE": "LSB_INTEGER",
    "SAMPLE_BITS": "16", "SCALING_FACTOR": "0.5", "OFFSET": "1737400.", "MAP_RESOLUTION": "16 <pix/deg>",
    "MAP_PROJECTION_TYPE": '"SIMPLE CYLINDRICAL"', "CENTER_LONGITUDE": "180 <deg>",
    "COORDINATE_SYSTEM_NAME": '"MEAN EARTH/POLAR AXIS OF DE421"',
}

PER_DEGREE = 16
LINES, SAMPLES = 180 * PER_DEGREE, 360 * PER_DEGREE
TILE = 64
ROUNDING_M = 4.0
RADIUS_KM = 1737.4
LOWEST_EDGE_KM = 1731.0             # no edge is that low (1733.1 at the 2028 eclipse): what stays below never shows
NEAR_LIMB_DEG = 0.3                 # a sphere's edge lies asin(R / distance) = 0.25 to 0.28 degrees before the limb's plane
PENUMBRA_DEG = 0.6                  # a place in the penumbra lies up to 3600 km from the axis, 350 000 km from the Moon
BOUND_ROWS, BOUND_COLUMNS, BOUND_STEP_DEG = 72, 640, 0.5
J2000_JD = 2451545.0


def read_grid(archive):
    """Heights in metres, after checking what they are."""
    with tarfile.open(archive) as tar:
        files = {Path(m.name).name: m for m in tar.getmembers() if "/PDS_FILE/LOLA/LDEM_16." in m.name}
        content = {name: tar.extractfile(files[name]).read() for name in MEMBERS}
    for name, md5 in MEMBERS.items():
        found = hashlib.md5(content[name]).hexdigest()
        if found != md5:
            sys.exit(f"{name} has MD5 {found}, expected {md5}")
    label = {}
    for line in content["LDEM_16.LBL"].decode("ascii").splitlines():
        key, equals, value = line.partition("=")
        if equals:
            label.setdefault(key.strip(), value.strip())
    for key, value in LABEL.items():
        if label.get(key) != value:
            sys.exit(f"the label says {key} = {label.get(key)}, expected {value}")
    return np.frombuffer(content["LDEM_16.IMG"], "<i2").reshape(LINES, SAMPLES) * 0.5


def moon_axes(days):
    """Rows of the rotation from ICRF to the Moon's mean-Earth/polar-axis frame, IAU WGCCRE 2015."""
    t = days / 36525.0
    e = [np.radians(a + r * days) for a, r in [
        (125.045, -0.0529921), (250.089, -0.1059842), (260.008, 13.0120009), (176.625, 13.3407154),
        (357.529, 0.9856003), (311.589, 26.4057084), (134.963, 13.0649930), (276.617, 0.3287146),
        (34.226, 1.7484877), (15.134, -0.1589763), (119.743, 0.0036096), (239.961, 0.1643573), (25.053, 12.9590088)]]
    s, c = [np.sin(a) for a in e], [np.cos(a) for a in e]
    ra = (269.9949 + 0.0031 * t - 3.8787 * s[0] - 0.1204 * s[1] + 0.0700 * s[2] - 0.0172 * s[3] + 0.0072 * s[5]
          - 0.0052 * s[9] + 0.0043 * s[12])
    dec = (66.5392 + 0.0130 * t + 1.5419 * c[0] + 0.0239 * c[1] - 0.0278 * c[2] + 0.0068 * c[3] - 0.0029 * c[5]
           + 0.0009 * c[6] + 0.0008 * c[9] - 0.0009 * c[12])
    w = (38.3213 + 13.17635815 * days - 1.4e-12 * days * days + 3.5610 * s[0] + 0.1208 * s[1] - 0.0642 * s[2]
         + 0.0158 * s[3] + 0.0252 * s[4] - 0.0066 * s[5] - 0.0047 * s[6] - 0.0046 * s[7] + 0.0028 * s[8]
         + 0.0052 * s[9] + 0.0040 * s[10] + 0.0019 * s[11] - 0.0044 * s[12])
    ra, dec, w = np.radians(ra), np.radians(dec), np.radians(w)
    node = np.array([-np.sin(ra), np.cos(ra), 0 * ra])
    across = np.array([-np.cos(ra) * np.sin(dec), -np.sin(ra) * np.sin(dec), np.cos(dec)])
    pole = np.array([np.cos(ra) * np.cos(dec), np.sin(ra) * np.cos(dec), np.sin(dec)])
    return np.cos(w) * node + np.sin(w) * across, -np.sin(w) * node + np.cos(w) * across, pole


def librations():
    """Largest librations in longitude and latitude, degrees, at the solar eclipses of 1900-2100 in the penumbra.

    A place in the shadow stands on the axis, so it sees the Moon from the side opposite to the Sun.
    """
    from jplephem.spk import SPK
    largest = [0.0, 0.0]
    sys.path.insert(0, str(EPHEMERIS))
    from packed import shipped_as_spk
    with shipped_as_spk() as file, SPK.open(file.name) as spk:
        def moon_and_sun(jd):
            moon = spk[3, 301].compute(jd)
            earth = -moon / 81.3005682214972154
            return moon - earth, spk[0, 10].compute(jd) - spk[0, 3].compute(jd) - earth

        def separation(jd):
            moon, sun = moon_and_sun(jd)
            cosine = (moon * sun).sum(0) / np.linalg.norm(moon, axis=0) / np.linalg.norm(sun, axis=0)
            return np.degrees(np.arccos(np.clip(cosine, -1, 1)))

        coarse = np.arange(2415020.5, 2488434.5, 0.25)
        near = coarse[separation(coarse) < 5.0]
        fine = (near[:, None] + np.arange(-0.125, 0.125, 0.01)[None, :]).ravel()
        fine = fine[separation(fine) < 1.7]            # beyond that the penumbra misses the Earth
        moon, sun = moon_and_sun(fine)
        away = moon - sun
        away /= np.linalg.norm(away, axis=0)
        x, y, z = [(axis * away).sum(0) for axis in moon_axes(fine - J2000_JD)]
        largest = [np.degrees(np.abs(np.arctan2(y, x)).max()), np.degrees(np.abs(np.arcsin(z)).max())]
    return [value + PENUMBRA_DEG for value in largest]


def direction(lat, lon):
    return np.stack([np.cos(lat) * np.cos(lon), np.cos(lat) * np.sin(lon), np.sin(lat)], axis=-1)


def wanted_tiles(grid, largest):
    """The tiles, by row and column, that can show on the edge."""
    lon = np.radians(np.linspace(-largest[0], largest[0], 13))
    lat = np.radians(np.linspace(-largest[1], largest[1], 7))
    observers = direction(*[a.ravel() for a in np.meshgrid(lat, lon)])
    tiles = {}
    for row in range(LINES // TILE):
        for column in range(SAMPLES // TILE):
            lats = np.radians(90.0 - (row * TILE + np.linspace(0, TILE, 17)) / PER_DEGREE)
            lons = np.radians((column * TILE + np.linspace(0, TILE, 17)) / PER_DEGREE)
            points = direction(*[a.ravel() for a in np.meshgrid(lats, lons)])
            above = np.degrees(np.arcsin(points @ observers.T))
            nearest = 0.0 if above.min() <= 0.0 <= above.max() else np.abs(above).min()
            pixels = tile_pixels(grid, row, column)
            shown = (RADIUS_KM + pixels.max() / 1000.0) * np.cos(np.radians(max(nearest - NEAR_LIMB_DEG, 0.0)))
            if shown >= LOWEST_EDGE_KM:
                tiles[row, column] = pixels
    return tiles


def tile_pixels(grid, row, column):
    """A tile with its one pixel more to the south and to the east."""
    lines = np.minimum(row * TILE + np.arange(TILE + 1), LINES - 1)
    samples = (column * TILE + np.arange(TILE + 1)) % SAMPLES
    return grid[np.ix_(lines, samples)]


def bounds(tiles):
    """Highest pixel in each bin about the limb and its neighbours, metres, rounded up."""
    highest = np.full((BOUND_ROWS, BOUND_COLUMNS), -32768.0)
    for (row, column), pixels in tiles.items():
        lats = np.radians(90.0 - (row * TILE + np.arange(TILE + 1) + 0.5) / PER_DEGREE)
        lons = np.radians((column * TILE + np.arange(TILE + 1) + 0.5) / PER_DEGREE)
        n = direction(*np.meshgrid(np.maximum(lats, -np.pi / 2), lons, indexing="ij"))
        depth = np.floor(np.degrees(np.arcsin(n[..., 0])) / BOUND_STEP_DEG + BOUND_ROWS / 2).astype(int)
        around = np.degrees(np.arctan2(n[..., 1], n[..., 2])) % 360.0
        bin_ = np.floor(around * BOUND_COLUMNS / 360.0).astype(int) % BOUND_COLUMNS
        inside = (depth >= 0) & (depth < BOUND_ROWS)
        np.maximum.at(highest, (depth[inside], bin_[inside]), pixels[inside] + ROUNDING_M / 2)
    wide = np.maximum.reduce([np.roll(highest, k, axis=1) for k in (-1, 0, 1)])
    padded = np.pad(wide, ((1, 1), (0, 0)), constant_values=-32768.0)
    return np.ceil(np.maximum.reduce([padded[:-2], padded[1:-1], padded[2:]])).astype("<i2")


def code(pixels):
    """The code of a tile."""
    q = np.rint(pixels / ROUNDING_M).astype(int)
    predicted = np.zeros_like(q)
    predicted[0, 1:] = q[0, :-1]
    predicted[1:, 0] = q[:-1, 0]
    predicted[1:, 1:] = q[1:, :-1] + q[:-1, 1:] - q[:-1, :-1]
    residual = q - predicted
    folded = np.where(residual >= 0, 2 * residual, -2 * residual - 1)
    bits = []
    for row in folded:
        k = min(range(14), key=lambda k: int((row >> k).sum()) + k * len(row))
        bits.append(f"{k:04b}")
        for n in row:
            bits.append("1" * int(n >> k) + "0" + (f"{int(n) & ((1 << k) - 1):0{k}b}" if k else ""))
    text = "".join(bits)
    text += "0" * (-len(text) % 8)
    return int(text, 2).to_bytes(len(text) // 8, "big")


def build(grid):
    """The bytes of the file."""
    largest = librations()
    tiles = wanted_tiles(grid, largest)
    print(f"librations in longitude up to {largest[0]:.2f}, in latitude up to {largest[1]:.2f} degrees; {len(tiles)} tiles")
    out = b"NFMOON01" + struct.pack("<5I", PER_DEGREE, TILE, round(ROUNDING_M * 1000), BOUND_ROWS, BOUND_COLUMNS)
    out += bounds(tiles).tobytes()
    keys = [(row, column) for row in range(LINES // TILE) for column in range(SAMPLES // TILE)]
    codes = [code(tiles[key]) if key in tiles else b"" for key in keys]
    return out + struct.pack(f"<{len(codes)}I", *map(len, codes)) + b"".join(codes)


def decode(data):
    """The tiles of a file, metres: written apart from the coder, bit by bit."""
    per_degree, tile, rounding, rows, columns = struct.unpack_from("<5I", data, 8)
    at = 28 + 2 * rows * columns
    count = 180 * per_degree // tile * (360 * per_degree // tile)
    sizes = struct.unpack_from(f"<{count}I", data, at)
    at += 4 * count
    for number, size in enumerate(sizes):
        if not size:
            continue
        bits = "".join(f"{byte:08b}" for byte in data[at:at + size])
        at += size
        place, q = 0, np.zeros((tile + 1, tile + 1), int)
        for y in range(tile + 1):
            k = int(bits[place:place + 4], 2)
            place += 4
            for x in range(tile + 1):
                ones = bits.index("0", place) - place
                place += ones + 1
                n = (ones << k) + (int(bits[place:place + k], 2) if k else 0)
                place += k
                residual = n // 2 if n % 2 == 0 else -(n + 1) // 2
                if x and y:
                    residual += q[y, x - 1] + q[y - 1, x] - q[y - 1, x - 1]
                elif x or y:
                    residual += q[y, x - 1] if x else q[y - 1, x]
                q[y, x] = residual
        yield divmod(number, 360 * per_degree // tile), q * rounding / 1000.0


def check(path, grid):
    """Unpack the file and hold it against the grid."""
    data = path.read_bytes()
    print(f"{path.name}: {len(data)} bytes, SHA-256 {hashlib.sha256(data).hexdigest()}")
    if grid is not None:
        tiles = dict(decode(data))
        worst = max(np.abs(pixels - tile_pixels(grid, *key)).max() for key, pixels in tiles.items())
        assert worst <= ROUNDING_M / 2, worst
        print(f"{len(tiles)} tiles, no height off by more than {worst} m")


if __name__ == "__main__":
    parser = argparse.ArgumentParser(description=__doc__, formatter_class=argparse.RawDescriptionHelpFormatter)
    parser.add_argument("--archive", type=Path, help="source distribution pdsimage-1.1.1.tar.gz")
    parser.add_argument("--check", action="store_true", help="check the committed file only")
    options = parser.parse_args()
    heights = read_grid(options.archive) if options.archive else None
    if not options.check:
        if heights is None:
            parser.error("--archive is needed to write the file")
        TARGET.write_bytes(build(heights))
    check(TARGET, heights)
